// Draws the curves of drive and brake in one picture, with handles that are dragged or moved by keys.
//
// Shows what `candidate` holds and sends what a hand does to it. What is legal is the server's to say:
// a wish that it refuses is tried again at the nearest end that it names, and stays where it last was.

import { draw, place, say, set } from "./elements.js";
import { Chart } from "./chart.js";
import { next_try, rounded, sign, with_one_more } from "./handles.js";
import { round_ends } from "./scale.js";
import { faults_in_words, number, quantity } from "./words.js";

const STEPS = { thumb: 0.02, m_s2: 0.05, fine_thumb: 0.005, fine_m_s2: 0.01 };
const SAME_GESTURE_MS = 900;
const TRIES = 6;

export class CurvePicture {
  #candidate;
  #chart;
  #handles = new Map();
  // A place that could not be sent, because the server is gone.
  #wish = null;
  // What is on its way to the server: keys that come faster than its answers add up.
  #asked = null;
  #count = 0;
  #drag = null;
  #gesture = { id: null, until: 0 };

  constructor(candidate, host) {
    this.#candidate = candidate;
    this.#chart = new Chart(host, {
      height: 350,
      margin: [24, 16, 40, 46],
      role: "group",
      fitted: () => this.draw(),
      y_title: "m/s²",
      x_titles: ["← full brake", "thumb: full drive →"],
      test: "curve-picture",
      x_count: 8,
      y_count: 8,
      x_number: (value) => number(value, 2),
      y_number: (value) => number(value, 1),
      series: [
        { id: "drive", look: "candidate", test: "curve-candidate-drive" },
        { id: "brake", look: "candidate", test: "curve-candidate-brake" },
        { id: "board drive", look: "on-board", test: "curve-board-drive" },
        { id: "board brake", look: "on-board", test: "curve-board-brake" },
      ],
    });
    this.#chart.svg.addEventListener("pointermove", (event) => this.#dragged(event));
    for (const end of ["pointerup", "pointercancel"]) {
      this.#chart.svg.addEventListener(end, () => {
        this.#drag = null;
      });
    }
  }

  draw() {
    const { values, on_board } = this.#candidate;
    if (!values) return;
    const line = (curve) => [curve.points.map((point) => point[0]), curve.points.map((point) => point[1])];
    const mirrored = ([xs, ys]) => [xs.map((x) => -x), ys.map((y) => -y)];
    const highest = Math.max(values.curves.drive.greatest_m_s2, on_board.curves.drive.greatest_m_s2);
    const lowest = -Math.max(values.curves.brake.greatest_m_s2, on_board.curves.brake.greatest_m_s2);
    // While a handle is held the axis stands still under the hand.
    const ends = this.#drag?.ends ?? round_ends([highest * 1.15, lowest * 1.15], 6);
    this.#chart.draw({
      x: [-1, 1],
      y: ends,
      lines: {
        drive: line(values.curves.drive),
        brake: mirrored(line(values.curves.brake)),
        "board drive": line(on_board.curves.drive),
        "board brake": mirrored(line(on_board.curves.brake)),
      },
      says:
        `Acceleration in m/s² over the thumb's travel. Full drive asks ${quantity(values.curves.drive.greatest_m_s2, "m/s²")}, ` +
        `full brake ${quantity(values.curves.brake.greatest_m_s2, "m/s²")}. The handles can be moved with the arrow keys.`,
    });
    this.#draw_handles();
  }

  #draw_handles() {
    const seen = new Set();
    for (const curve of ["brake", "drive"]) {
      const handles =
        this.#wish?.curve === curve ? this.#wish.handles : this.#candidate.values.curves[curve].handles;
      handles.forEach((handle, index) => {
        const id = `${curve}-${index}`;
        seen.add(id);
        if (!this.#handles.has(id)) this.#handles.set(id, this.#new_handle(curve, index));
        const node = this.#handles.get(id);
        const [x, y] = [
          this.#chart.x_place(sign(curve) * handle[0]),
          this.#chart.y_place(sign(curve) * handle[1]),
        ];
        set(node, "transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
        set(node, "aria-label", `${curve} handle ${index + 1} of ${handles.length}`);
        set(node, "aria-valuenow", rounded(handle[1], 3));
        const allowed = this.#candidate.values.curves[curve].allowed?.[index];
        set(node, "aria-valuemin", allowed?.m_s2[0] ?? 0);
        set(node, "aria-valuemax", allowed?.m_s2[1] ?? 10);
        set(
          node,
          "aria-valuetext",
          `${quantity(handle[1], "m/s²")} at thumb ${number(sign(curve) * handle[0], 2)}`,
        );
      });
    }
    for (const [id, node] of this.#handles) {
      if (seen.has(id)) continue;
      const had_focus = node === document.activeElement;
      node.remove();
      this.#handles.delete(id);
      if (had_focus) this.#handles.get(id.replace(/\d+$/, "0"))?.focus();
    }
  }

  #new_handle(curve, index) {
    const node = draw(
      "g",
      {
        class: `handle ${curve}`,
        tabindex: 0,
        role: "slider",
        "aria-orientation": "vertical",
        "data-test": `handle-${curve}-${index}`,
      },
      draw("circle", { r: 22, class: "reach" }),
      draw("circle", { r: 13, class: "ring" }),
      curve === "drive"
        ? draw("circle", { r: 7, class: "knob" })
        : draw("rect", { x: -6, y: -6, width: 12, height: 12, class: "knob" }),
    );
    node.addEventListener("pointerdown", (event) => this.#grab(event, curve, index, node));
    // A finger on a handle moves it, and not the page.
    node.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
    node.addEventListener("keydown", (event) => this.#pressed(event, curve, index));
    this.#chart.front.append(node);
    return node;
  }

  #grab(event, curve, index, node) {
    if (event.button !== 0) return;
    event.preventDefault();
    node.focus({ preventScroll: true });
    this.#chart.svg.setPointerCapture(event.pointerId);
    this.#drag = { curve, index, id: `drag ${event.timeStamp}`, ends: this.#ends_now() };
  }

  /** The ends of the upright axis as it is drawn. */
  #ends_now() {
    const { area, y_place } = this.#chart;
    const per_px = 1 / (y_place(1) - y_place(0));
    const at = (px) => (px - y_place(0)) * per_px;
    return [at(area.bottom), at(area.top)];
  }

  #dragged(event) {
    if (!this.#drag) return;
    const { curve, index, id } = this.#drag;
    const box = this.#chart.svg.getBoundingClientRect();
    const { x_place, y_place } = this.#chart;
    const thumb = (event.clientX - box.left - x_place(0)) / (x_place(1) - x_place(0));
    const value = (event.clientY - box.top - y_place(0)) / (y_place(1) - y_place(0));
    this.#move(curve, index, [sign(curve) * thumb, sign(curve) * value], {
      at: event.timeStamp,
      gesture: id,
    });
  }

  #pressed(event, curve, index) {
    const fine = event.shiftKey ? "fine_" : "";
    const [thumb, value] = [STEPS[`${fine}thumb`], STEPS[`${fine}m_s2`]];
    const moves = {
      ArrowRight: [thumb, 0],
      ArrowLeft: [-thumb, 0],
      ArrowUp: [0, value],
      ArrowDown: [0, -value],
    };
    const handles = this.#candidate.values.curves[curve].handles;
    if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.remove(curve, index, event.timeStamp);
    } else if (moves[event.key] && !event.ctrlKey && !event.metaKey && !event.altKey) {
      event.preventDefault();
      const from =
        this.#asked?.curve === curve && this.#asked.index === index ? this.#asked.handle : handles[index];
      const to = from.map((old, axis) => old + sign(curve) * moves[event.key][axis]);
      if (event.timeStamp > this.#gesture.until || this.#gesture.of !== `${curve}${index}`) {
        this.#gesture = { id: `keys ${event.timeStamp}`, of: `${curve}${index}` };
      }
      this.#gesture.until = event.timeStamp + SAME_GESTURE_MS;
      this.#move(curve, index, to, { at: event.timeStamp, gesture: this.#gesture.id });
    }
  }

  /** Asks for the handle to be at `to`; where that is refused, for the nearest place that is not. */
  async #move(curve, index, to, { at, gesture }) {
    const last = this.#candidate.values.curves[curve].handles.length - 1;
    // The last handle stands at full thumb, whatever a hand does sideways.
    let wished = [index === last ? 1 : rounded(to[0], 4), rounded(to[1], 3)];
    let refusal = "";
    this.#count += 1;
    const mine = this.#count;
    for (let attempt = 0; attempt < TRIES; attempt += 1) {
      const handles = this.#candidate.values.curves[curve].handles.map((handle, i) =>
        i === index ? wished : handle,
      );
      this.#asked = { curve, index, handle: wished };
      const result = await this.#candidate.change([{ curve, handles }], {
        at,
        gesture,
        merge: `${curve} ${index}`,
      });
      // A newer wish is on its way: what became of this one no longer matters.
      if (mine !== this.#count) return;
      if (result.kept) return this.#keep_in_sight(curve, handles);
      if (result.accepted || result.conflict) break;
      // What is wrong with the wish is said, not what is wrong with a second try.
      refusal ||= faults_in_words(result.faults);
      const { handles: stand, allowed } = this.#candidate.values.curves[curve];
      const next = next_try({
        wished,
        stands: stand[index],
        allowed: allowed?.[index],
        faults: result.faults,
      });
      if (!next) break;
      wished = next;
    }
    this.#asked = null;
    this.#wish = null;
    say(place("curve-says"), refusal);
    this.#draw_handles();
  }

  #keep_in_sight(curve, handles) {
    this.#wish = { curve, handles };
    this.#draw_handles();
    say(
      place("curve-says"),
      "The server is gone: the handle's place is kept, and its curve is drawn once the server is back.",
    );
  }

  /** A handle more, in the middle of the widest gap, on the curve as it is. */
  async add(curve, at) {
    await this.#send(curve, with_one_more(this.#candidate.values.curves[curve]), at);
  }

  /** A handle less; the last one, at full thumb, stays. */
  async remove(curve, index, at) {
    const { handles } = this.#candidate.values.curves[curve];
    if (index === handles.length - 1) {
      say(place("curve-says"), "The last handle stands at full thumb and stays.");
      return;
    }
    await this.#send(
      curve,
      handles.filter((_, i) => i !== index),
      at,
    );
  }

  /** Back to the usual shape. */
  async usual(curve, at) {
    await this.#send(curve, null, at);
  }

  async #send(curve, handles, at) {
    const result = await this.#candidate.change([{ curve, handles }], { at });
    say(place("curve-says"), faults_in_words(result.faults));
  }

  /** Forgets a place that was kept for a server that was gone. */
  forget_wish() {
    this.#wish = null;
    this.#asked = null;
    say(place("curve-says"), "");
    this.draw();
  }
}
