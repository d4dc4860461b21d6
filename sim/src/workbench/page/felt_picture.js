// What is felt at each thumb, at several speeds: a picture, and a line of it read out as numbers.
//
// Shows the `thumb` part of an answer of `feel`. Candidate bold, what is on the board dashed, in the
// same colour for the same speed.

import { make, say, scroller } from "./elements.js";
import { Chart } from "./chart.js";
import { round_ends } from "./scale.js";
import { number, quantity } from "./words.js";

const LOOKS = 6;

export class FeltPicture {
  #host;
  #chart = null;
  #speeds = 0;
  #reader;
  #read_at;
  #rows = [];
  #answer = null;
  #names = new Map();

  constructor(host) {
    this.#host = host;
    this.picture = make("div", { class: "picture" });
    this.#read_at = make("output", { for: "read-thumb" });
    this.#reader = make("input", {
      type: "range",
      id: "read-thumb",
      min: -1,
      max: 1,
      step: 0.05,
      value: 1,
      test: "read-thumb",
      oninput: () => this.#read(),
    });
    this.body = make("tbody");
    const heads = ["at speed", "on the board", "candidate", "held back by"];
    host.append(
      this.picture,
      make(
        "div",
        { class: "reader" },
        make("label", { for: "read-thumb" }, "Read at thumb "),
        this.#read_at,
        this.#reader,
      ),
      scroller(
        "numbers felt",
        make(
          "table",
          { test: "felt-numbers" },
          make("caption", { class: "hidden-words" }, "Acceleration felt at the chosen thumb, by speed"),
          make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
          this.body,
        ),
      ),
    );
  }

  #begin(speeds) {
    this.#speeds = speeds.length;
    this.picture.replaceChildren();
    // The dashes lie above the bold lines: where both are one they are still seen.
    const series = [
      ...speeds.map((_, i) => ({
        id: `candidate ${i}`,
        look: `speed-${i % LOOKS} bold`,
        test: `felt-candidate-${i}`,
      })),
      ...speeds.map((_, i) => ({ id: `board ${i}`, look: "on-board-thin", test: `felt-board-${i}` })),
    ];
    this.#chart = new Chart(this.picture, {
      height: 340,
      margin: [24, 62, 40, 46],
      y_title: "m/s²",
      x_titles: ["← full brake", "thumb: full drive →"],
      x_count: 8,
      y_count: 8,
      test: "picture-felt",
      series,
      x_number: (value) => number(value, 2),
      y_number: (value) => number(value, 1),
    });
    this.#rows = speeds.map(() => {
      const cells = [make("th", { scope: "row" }), make("td"), make("td", { class: "strong" }), make("td")];
      this.body.append(make("tr", {}, ...cells));
      return cells;
    });
  }

  draw({ on_board, candidate }) {
    const { speeds_m_s: speeds, thumbs } = candidate.thumb;
    if (speeds.length !== this.#speeds) {
      this.body.replaceChildren();
      this.#begin(speeds);
    }
    this.#answer = { on_board, candidate };
    for (const reason of [...candidate.reasons, ...on_board.reasons]) this.#names.set(reason.id, reason.name);
    const [now, was] = [candidate.thumb.acceleration_m_s2, on_board.thumb.acceleration_m_s2];
    const lines = {};
    speeds.forEach((_, i) => {
      lines[`candidate ${i}`] = [thumbs, now[i]];
      lines[`board ${i}`] = [on_board.thumb.thumbs, was[i]];
    });
    this.#chart.draw({
      x: [-1, 1],
      y: round_ends([...now.flat(), ...was.flat()], 6, [-1, 1]),
      lines,
      labels: speeds.map((speed, i) => ({
        at: now[i].at(-1),
        text: quantity(speed, "m/s", speed % 1 ? 1 : 0),
        look: `label-${i % LOOKS}`,
      })),
      says:
        `Acceleration felt over thumb. Candidate at full thumb: ${speeds.map((speed, i) => `${number(now[i].at(-1))} m/s² at ${speed} m/s`).join(", ")}. ` +
        `At full brake: ${speeds.map((speed, i) => `${number(now[i][0])} at ${speed} m/s`).join(", ")}.`,
    });
    this.#read();
  }

  #read() {
    if (!this.#answer) return;
    const { on_board, candidate } = this.#answer;
    const wanted = Number(this.#reader.value);
    const thumbs = candidate.thumb.thumbs;
    const nearest = thumbs.reduce(
      (best, thumb, i) => (Math.abs(thumb - wanted) < Math.abs(thumbs[best] - wanted) ? i : best),
      0,
    );
    say(this.#read_at, number(thumbs[nearest], 2));
    this.#rows.forEach((cells, i) => {
      const limits = candidate.thumb.limits?.[i]?.[nearest] ?? [];
      say(cells[0], quantity(candidate.thumb.speeds_m_s[i], "m/s", 1));
      say(cells[1], quantity(on_board.thumb.acceleration_m_s2[i]?.[nearest], "m/s²"));
      say(cells[2], quantity(candidate.thumb.acceleration_m_s2[i][nearest], "m/s²"));
      say(
        cells[3],
        limits.map((id) => this.#names.get(id) ?? id.replaceAll("-", " ")).join(", ") || "nothing",
      );
    });
  }
}
