// How it comes and goes: full thumb from a slow roll, a thumb let go in panic, a full brake from speed.
//
// Shows three parts of an answer of `feel`, each as four small pictures over one time, with what the
// rider bears drawn across.

import { make, say } from "./elements.js";
import { Chart } from "./chart.js";
import { round_ends } from "./scale.js";
import { number, quantity } from "./words.js";

const RESPONSES = [
  { id: "step", name: "Full thumb at a slow roll" },
  { id: "release", name: "Let go in a fright" },
  { id: "brake", name: "Full brake at speed" },
];
const PANELS = [
  { id: "demand_m_s2", name: "asked", unit: "m/s²", bears: "acceleration_m_s2" },
  { id: "acceleration_m_s2", name: "felt", unit: "m/s²", bears: "acceleration_m_s2" },
  { id: "jerk_m_s3", name: "jerk", unit: "m/s³", bears: "jerk_m_s3" },
  { id: "speed_m_s", name: "speed", unit: "m/s" },
];
const ends = (values) =>
  values.reduce(
    ([low, high], value) => (value === null ? [low, high] : [Math.min(low, value), Math.max(high, value)]),
    [Infinity, -Infinity],
  );

export class ResponsePictures {
  #parts = [];

  constructor(host) {
    for (const { id, name } of RESPONSES) {
      const charts = {};
      const column = make("div", { class: "response", test: `response-${id}` }, make("h3", {}, name));
      for (const panel of PANELS) {
        const last = panel.id === "speed_m_s";
        const frame = make("div", { class: "picture" });
        column.append(make("p", { class: "panel-name" }, `${panel.name}, ${panel.unit}`), frame);
        charts[panel.id] = new Chart(frame, {
          height: last ? 100 : 82,
          margin: [6, 6, last ? 22 : 6, 34],
          x_count: 4,
          y_count: 3,
          bare: !last,
          test: `picture-${id}-${panel.id}`,
          x_number: (value) => `${number(value, value % 1 ? 1 : 0)}${value === 0 ? "\u00a0s" : ""}`,
          y_number: (value) => number(value, Math.abs(value) % 1 ? 1 : 0),
          series: [
            { id: "candidate", look: "candidate", test: `line-${id}-${panel.id}` },
            { id: "board", look: "on-board" },
          ],
        });
      }
      const says = make("p", { class: "quiet", test: `says-${id}` });
      column.append(says);
      host.append(column);
      this.#parts.push({ id, name, charts, says });
    }
  }

  draw({ on_board, candidate }) {
    for (const part of this.#parts) this.#draw_one(part, candidate[part.id], on_board[part.id]);
  }

  #draw_one({ name, charts, says }, now, was) {
    const until = Math.max(now.time_s.at(-1), was.time_s.at(-1));
    for (const panel of PANELS) {
      const bears = panel.bears ? now.bears?.[panel.bears] : null;
      const [lowest, highest] = ends(now[panel.id]);
      const bounds = bears ? bears.map((at) => ({ at, look: "bears" })) : [];
      charts[panel.id].draw({
        // What the rider bears is in sight, so that a line that keeps to it is seen to keep to it.
        x: [0, until],
        y: round_ends([...now[panel.id], ...was[panel.id], ...(bears ?? [])], 3),
        lines: { candidate: [now.time_s, now[panel.id]], board: [was.time_s, was[panel.id]] },
        bounds,
        bands: now.reasons.map((reason) => ({ from: reason.from_s, to: reason.to_s, look: "held-back" })),
        says:
          `${name}, ${panel.name}: candidate ${number(lowest)} to ${number(highest)} ${panel.unit}, ` +
          `on the board ${ends(was[panel.id])
            .map((value) => number(value))
            .join(" to ")} ${panel.unit}` +
          `${bears ? `, the rider bears ${number(bears[0])} to ${number(bears[1])}` : ""}.`,
      });
    }
    const [, jerk] = ends(now.jerk_m_s3);
    const [least_jerk] = ends(now.jerk_m_s3);
    const [least, most] = ends(now.acceleration_m_s2);
    const held = now.reasons.map(
      (reason) => `${reason.name} (${number(reason.from_s, 1)} to ${number(reason.to_s, 1)}\u00a0s)`,
    );
    say(
      says,
      `Felt ${number(least)} to ${quantity(most, "m/s²")}, jerk ${number(least_jerk)} to ${quantity(jerk, "m/s³")}. ` +
        (held.length > 0 ? `Held back by ${held.join(", ")}.` : "Nothing holds it back."),
    );
  }
}
