// Says plainly whether the candidate holds every law, or which one breaks, where and by how much.
//
// Shows the `verdict` part of an answer of `feel`. The headline is read out when it changes; the
// numbers below are not, because they change with every move of a handle.

import { make, say, scroller, set } from "./elements.js";
import { number, quantity } from "./words.js";

// The strip stays at the head of the window: it must not fill it.
const IN_SIGHT = 3;

export class Verdict {
  #headline;
  #list;
  #board;
  #all;
  #shown = "";

  constructor(host) {
    this.#headline = make(
      "p",
      { class: "headline", "aria-live": "polite", test: "verdict" },
      make("span", {}, "Not judged yet."),
      make("span", { class: "hidden-words" }),
    );
    this.#list = make("ul", { class: "broken", test: "verdict-broken" });
    this.#board = make("p", { class: "quiet", test: "verdict-board" });
    this.#all = make("tbody");
    host.append(
      this.#headline,
      this.#list,
      this.#board,
      make(
        "details",
        { class: "laws" },
        make("summary", {}, "every law, with its number"),
        scroller(
          "every law",
          make(
            "table",
            { test: "laws" },
            make(
              "thead",
              {},
              make(
                "tr",
                {},
                ...["law", "holds", "found", "limit", "where"].map((head) =>
                  make("th", { scope: "col" }, head),
                ),
              ),
            ),
            this.#all,
          ),
        ),
      ),
    );
    this.host = host;
  }

  draw({ on_board, candidate }) {
    const { laws, passes } = candidate.verdict;
    const broken = laws.filter((law) => !law.holds);
    set(this.host, "class", passes ? "verdict holds" : "verdict breaks");
    say(
      this.#headline.firstChild,
      passes
        ? `The candidate holds every law (${laws.length} looked at).`
        : `The candidate breaks ${broken.length} of ${laws.length} laws`,
    );
    // To be heard only: in sight they stand below, with their numbers.
    say(this.#headline.lastChild, passes ? "" : `: ${broken.map((law) => law.law).join("; ")}.`);
    const was = on_board.verdict.laws.filter((law) => !law.holds);
    say(
      this.#board,
      on_board.verdict.passes
        ? "What is on the board holds every law."
        : `What is on the board breaks: ${was.map((law) => law.law).join("; ")}.`,
    );
    const shown = JSON.stringify(laws);
    if (shown === this.#shown) return;
    this.#shown = shown;
    this.#list.replaceChildren(
      ...broken
        .slice(0, IN_SIGHT)
        .map((law) =>
          make(
            "li",
            {},
            `${law.law}: ${quantity(law.found, law.unit)}, the limit is ${quantity(law.limit, law.unit)} (${law.where})`,
          ),
        ),
    );
    if (broken.length > IN_SIGHT)
      this.#list.append(make("li", {}, `and ${broken.length - IN_SIGHT} more, among all laws below`));
    this.#all.replaceChildren(
      ...laws.map((law) =>
        make(
          "tr",
          {},
          make("th", { scope: "row" }, law.law),
          make("td", {}, law.holds ? "holds" : "breaks"),
          make("td", {}, quantity(law.found, law.unit)),
          make("td", {}, `${number(law.limit)}`),
          make("td", {}, law.where ?? "–"),
        ),
      ),
    );
  }

  /** Says that the server had nothing to say. */
  unknown(why) {
    set(this.host, "class", "verdict");
    say(this.#headline.firstChild, `Not judged: ${why}`);
    say(this.#headline.lastChild, "");
  }
}
