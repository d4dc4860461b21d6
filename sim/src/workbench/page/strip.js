// The last seconds of a ride as running lines.
//
// Fed by `riding` with what the server tells; draws with `chart`.

import { make } from "./elements.js";
import { Chart } from "./chart.js";
import { round_ends } from "./scale.js";
import { number } from "./words.js";

const SHOWN_S = 20;
const PANELS = [
  {
    name: "asked (dashed) and felt, m/s²",
    test: "strip-acceleration",
    least: [-2, 2],
    lines: [
      ["demand_m_s2", "asked"],
      ["acceleration_m_s2", "candidate"],
    ],
  },
  { name: "speed, m/s", test: "strip-speed", least: [0, 4], lines: [["speed_m_s", "candidate"]] },
  { name: "thumb", test: "strip-thumb", least: [-1, 1], lines: [["thumb", "candidate"]] },
];

export class Strip {
  #rows = [];
  #charts;

  constructor(host) {
    this.#charts = PANELS.map((panel) => {
      const frame = make("div", { class: "picture" });
      host.append(make("p", { class: "panel-name" }, panel.name), frame);
      return new Chart(frame, {
        height: panel.test === "strip-thumb" ? 100 : 136,
        margin: [6, 8, 22, 34],
        y_count: 3,
        test: panel.test,
        x_number: (value) => `${number(value, 0)}\u00a0s`,
        y_number: (value) => number(value, Math.abs(value) % 1 ? 1 : 0),
        series: panel.lines.map(([id, look]) => ({ id, look })),
      });
    });
    this.draw();
  }

  /** One word of the server more. */
  add(row) {
    // A ride that begins anew begins its strip anew.
    if (this.#rows.length > 0 && row.time_s < this.#rows.at(-1).time_s) this.#rows = [];
    this.#rows.push(row);
    while (row.time_s - this.#rows[0].time_s > SHOWN_S) this.#rows.shift();
  }

  clear() {
    this.#rows = [];
  }

  draw() {
    const now = this.#rows.at(-1)?.time_s ?? 0;
    const times = this.#rows.map((row) => row.time_s - now);
    PANELS.forEach((panel, i) => {
      const lines = Object.fromEntries(
        panel.lines.map(([id]) => [id, [times, this.#rows.map((row) => row[id])]]),
      );
      const values = Object.values(lines).flatMap((line) => line[1]);
      this.#charts[i].draw({
        x: [-SHOWN_S, 0],
        y: round_ends(values, 3, panel.least),
        lines,
        says: `The last ${SHOWN_S} seconds: ${panel.name}${values.length > 0 ? `, now ${number(values.at(-1))}` : ", nothing ridden yet"}`,
      });
    });
  }
}
