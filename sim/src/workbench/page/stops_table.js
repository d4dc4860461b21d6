// Stopping distances by speed and slope: numbers with a bar each, against the stated limit.
//
// Shows the `stops` part of an answer of `feel`. The bar is the candidate, the hollow one behind it
// what is on the board, the upright stroke the limit.

import { draw, make, say, scroller, set } from "./elements.js";
import { number, quantity, slope } from "./words.js";

const HEADS = ["from", "slope", "on the board", "candidate", "limit", ""];
const BAR = 100;

export class StopsTable {
  #body = make("tbody");
  #rows = [];

  constructor(host) {
    host.append(
      scroller(
        "ways to a stand",
        make(
          "table",
          { class: "stops", test: "stops" },
          make("caption", { class: "hidden-words" }, "Distance to stand with a full brake"),
          make(
            "thead",
            {},
            make("tr", {}, ...HEADS.map((head) => (head ? make("th", { scope: "col" }, head) : make("td")))),
          ),
          this.#body,
        ),
      ),
    );
  }

  #row(index) {
    while (this.#rows.length <= index) {
      const cells = [
        make("th", { scope: "row" }),
        make("td"),
        make("td"),
        make("td", { class: "strong" }),
        make("td"),
        make("td", { class: "stop-bar" }),
      ];
      const bar = {
        candidate: draw("rect", { x: 0, y: 5, height: 8, class: "bar-candidate" }),
        board: draw("rect", { x: 0.5, y: 2, height: 14, class: "bar-board" }),
        limit: draw("line", { y1: 0, y2: 18, class: "bar-limit" }),
      };
      cells[5].append(
        draw(
          "svg",
          { viewBox: `0 0 ${BAR + 2} 18`, preserveAspectRatio: "none", "aria-hidden": "true" },
          bar.candidate,
          bar.board,
          bar.limit,
        ),
      );
      this.#body.append(make("tr", {}, ...cells));
      this.#rows.push({ cells, bar });
    }
    return this.#rows[index];
  }

  draw({ on_board, candidate }) {
    const all = [...on_board.stops, ...candidate.stops];
    const longest = Math.max(...all.flatMap((stop) => [stop.distance_m ?? 0, stop.limit_m ?? 0]), 1);
    candidate.stops.forEach((stop, index) => {
      const was = on_board.stops.find(
        (other) => other.speed_m_s === stop.speed_m_s && other.grade === stop.grade,
      );
      const { cells, bar } = this.#row(index);
      const over = stop.limit_m !== null && (stop.distance_m > stop.limit_m || !stop.stopped);
      say(cells[0], quantity(stop.speed_m_s, "m/s", 1));
      say(cells[1], slope(stop.grade));
      say(cells[2], this.#in_words(was));
      say(cells[3], `${over ? "too long: " : ""}${this.#in_words(stop)}`);
      say(cells[4], stop.limit_m === null ? "–" : quantity(stop.limit_m, "m", 1));
      set(cells[3], "class", over ? "strong over" : "strong");
      const width = (metres) => ((metres ?? 0) / longest) * BAR;
      set(bar.candidate, "width", width(stop.distance_m).toFixed(1));
      set(bar.candidate, "class", over ? "bar-candidate over" : "bar-candidate");
      set(bar.board, "width", width(was?.distance_m).toFixed(1));
      set(bar.limit, "visibility", stop.limit_m === null ? "hidden" : "visible");
      set(bar.limit, "x1", width(stop.limit_m).toFixed(1));
      set(bar.limit, "x2", width(stop.limit_m).toFixed(1));
    });
    this.#rows.forEach(({ cells }, index) => {
      cells[0].parentElement.hidden = index >= candidate.stops.length;
    });
  }

  #in_words(stop) {
    if (!stop) return "–";
    return stop.stopped
      ? `${number(stop.distance_m, 1)}\u00a0m in ${number(stop.time_s, 1)}\u00a0s`
      : "does not stand";
  }
}
