// Says plainly whether the candidate holds every law, or which one breaks, where and by how much.
//
// Shows the `verdict` part of an answer of `feel`. The headline is read out when it changes; the
// numbers below are not, because they change with every move of a handle.

import { make, say, scroller, set } from "./elements.js";
import { number, quantity } from "./words.js";

export class Verdict {
  #headline;
  #list;
  #board;
  #all;
  #shown = "";

  constructor(host) {
    this.#headline = make("p", { class: "headline", "aria-live": "polite", test: "verdict" }, "Not judged yet.");
    this.#list = make("ul", { class: "broken", test: "verdict-broken" });
    this.#board = make("p", { class: "quiet", test: "verdict-board" });
    this.#all = make("tbody");
    host.append(this.#headline, this.#list, this.#board,
      make("details", { class: "laws" }, make("summary", {}, "every law, with its number"),
        scroller("every law", make("table", { test: "laws" }, make("thead", {}, make("tr", {},
          ...["law", "holds", "found", "limit", "where"].map((head) => make("th", { scope: "col" }, head)))), this.#all))));
    this.host = host;
  }

  draw({ on_board, candidate }) {
    const { laws, passes } = candidate.verdict;
    const broken = laws.filter((law) => !law.holds);
    set(this.host, "class", passes ? "verdict holds" : "verdict breaks");
    say(this.#headline, passes
      ? `The candidate holds every law (${laws.length} looked at).`
      : `The candidate breaks ${broken.length} of ${laws.length} laws: ${broken.map((law) => law.law).join("; ")}.`);
    const was = on_board.verdict.laws.filter((law) => !law.holds);
    say(this.#board, on_board.verdict.passes ? "What is on the board holds every law." : `What is on the board breaks: ${was.map((law) => law.law).join("; ")}.`);
    const shown = JSON.stringify(laws);
    if (shown === this.#shown) return;
    this.#shown = shown;
    this.#list.replaceChildren(...broken.map((law) => make("li", {},
      `${law.law}: ${quantity(law.found, law.unit)}, the limit is ${quantity(law.limit, law.unit)} (${law.where})`)));
    this.#all.replaceChildren(...laws.map((law) => make("tr", {}, make("th", { scope: "row" }, law.law), make("td", {}, law.holds ? "holds" : "breaks"),
      make("td", {}, quantity(law.found, law.unit)), make("td", {}, `${number(law.limit)}`), make("td", {}, law.where ?? "–"))));
  }

  /** Says that the server had nothing to say. */
  unknown(why) {
    set(this.host, "class", "verdict");
    say(this.#headline, `Not judged: ${why}`);
  }
}
