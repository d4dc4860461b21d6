// The thumb on the page: dragged with a pointer, held with keys, or moved by a gamepad.
//
// Tells `riding` where it is, -1 (full brake) to 1 (full drive). Whatever is let go, lost or out of
// sight is a neutral thumb.

import { make, place, say, set } from "./elements.js";
import { number } from "./words.js";

const KEY_RATE_PER_S = 2.5;
const PAD_DEADBAND = 0.06;
const UP = new Set(["ArrowUp", "w", "W"]);
const DOWN = new Set(["ArrowDown", "s", "S"]);

export class ThumbStick {
  #node;
  #knob;
  #tell;
  #held = new Set();
  #pointer = null;
  #last_ms = null;
  #pad_moved = false;
  value = 0;

  constructor(tell) {
    this.#tell = tell;
    this.#node = place("thumb");
    this.#knob = place("thumb-knob");
    this.#node.addEventListener("pointerdown", (event) => this.#grab(event));
    this.#node.addEventListener("pointermove", (event) => this.#drag(event));
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
      this.#node.addEventListener(end, () => {
        if (this.#pointer !== null) this.release();
      });
    }
    this.#node.addEventListener("keydown", (event) => this.#press(event));
    this.#node.addEventListener("keyup", (event) => this.#lift(event));
    this.#node.addEventListener("blur", () => this.release());
    window.addEventListener("blur", () => this.release());
    window.addEventListener("pagehide", () => this.release());
    document.addEventListener("visibilitychange", () => {
      if (document.hidden) this.release();
    });
    for (const change of ["gamepadconnected", "gamepaddisconnected"]) {
      window.addEventListener(change, () => {
        this.release();
        this.#list_pads();
      });
    }
    this.#list_pads();
    this.#show();
  }

  /** Neutral, at once. */
  release() {
    this.#held.clear();
    this.#pointer = null;
    this.#last_ms = null;
    this.#move(0);
  }

  #grab(event) {
    if (event.button !== 0) return;
    this.#pointer = event.pointerId;
    this.#node.setPointerCapture(event.pointerId);
    this.#drag(event);
  }

  #drag(event) {
    if (this.#pointer !== event.pointerId) return;
    const box = this.#node.getBoundingClientRect();
    const travel = box.height / 2 - 24;
    this.#move((box.top + box.height / 2 - event.clientY) / travel);
  }

  #press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === " ") {
      event.preventDefault();
      this.release();
    } else if (UP.has(event.key) || DOWN.has(event.key)) {
      event.preventDefault();
      this.#held.add(UP.has(event.key) ? "up" : "down");
      if (this.#last_ms === null) {
        this.#last_ms = performance.now();
        requestAnimationFrame((now) => this.#step(now));
      }
    }
  }

  #lift(event) {
    if (UP.has(event.key)) this.#held.delete("up");
    else if (DOWN.has(event.key)) this.#held.delete("down");
    else return;
    if (this.#held.size > 0) return;
    this.#last_ms = null;
    if (!place("thumb-stays").checked) this.#move(0);
  }

  /** A held key moves the thumb, as a thumb moves: not at once. */
  #step(now) {
    if (this.#last_ms === null) return;
    const moved = (Math.max(0, now - this.#last_ms) / 1000) * KEY_RATE_PER_S;
    this.#last_ms = now;
    const way = (this.#held.has("up") ? 1 : 0) - (this.#held.has("down") ? 1 : 0);
    this.#move(this.value + way * moved);
    requestAnimationFrame((next) => this.#step(next));
  }

  #list_pads() {
    const pads = navigator.getGamepads?.().filter(Boolean) ?? [];
    place("pad-choices").hidden = pads.length === 0;
    const axes = pads.flatMap((pad) =>
      pad.axes.map((_, axis) => [`${pad.index} ${axis}`, `${pad.id.slice(0, 24)}, axis ${axis}`]),
    );
    place("pad-axis").replaceChildren(
      make("option", { value: "" }, "none"),
      ...axes.map(([value, name]) => make("option", { value }, name)),
    );
    const upright = axes.find(([value]) => value.endsWith(" 1"));
    if (upright) place("pad-axis").value = upright[0];
  }

  /** Reads the gamepad; asked on every frame of a ride. */
  look_at_pad() {
    const chosen = place("pad-axis").value;
    if (chosen === "" || !document.hasFocus()) return;
    const [index, axis] = chosen.split(" ").map(Number);
    const read = navigator.getGamepads()[index]?.axes[axis] ?? 0;
    // The stick's own up is negative.
    const value = (place("pad-turned").checked ? 1 : -1) * read;
    if (Math.abs(value) > PAD_DEADBAND) {
      this.#pad_moved = true;
      this.#move(value);
    } else if (this.#pad_moved) {
      this.#pad_moved = false;
      this.#move(0);
    }
  }

  #move(wanted) {
    const value = Math.max(-1, Math.min(1, wanted));
    if (value === this.value) return;
    this.value = value;
    this.#show();
    this.#tell(value);
  }

  #show() {
    set(this.#node, "aria-valuenow", this.value.toFixed(2));
    set(
      this.#node,
      "aria-valuetext",
      this.value === 0
        ? "neutral"
        : `${this.value > 0 ? "drive" : "brake"} ${number(Math.abs(this.value), 2)}`,
    );
    this.#knob.style.setProperty("--thumb", String(-this.value));
    say(place("thumb-says"), number(this.value, 2));
  }
}
