// Rides the board in real time: sends the thumb, shows what the server tells 25 times a second.
//
// Speaks with /api/ride; `thumb_stick` moves the thumb, `strip` draws the last seconds.

import { choices, make, place, say } from "./elements.js";
import { ThumbStick } from "./thumb_stick.js";
import { Strip } from "./strip.js";
import { number, quantity } from "./words.js";

// Half a second without a word is a hand that is gone; this is well below.
const REPEAT_MS = 100;

export class Riding {
  #candidate;
  #feel;
  #socket = null;
  #stick;
  #strip;
  #which = "candidate";
  #sent_ms = 0;
  #latest = null;
  #shows = {};

  constructor(candidate, feel) {
    this.#candidate = candidate;
    this.#feel = feel;
    this.#stick = new ThumbStick(() => this.#send_thumb());
    this.#strip = new Strip(place("strip"));
    place("which").append(
      choices(
        "which",
        "Ridden",
        [
          { id: "candidate", name: "the candidate" },
          { id: "on_board", name: "what is on the board" },
        ],
        this.#which,
        (id) => {
          this.#which = id;
          this.#begin_anew();
        },
      ),
    );
    place("ride-start").addEventListener("click", () =>
      this.#socket ? this.stop("Stopped.") : this.#start(),
    );
    place("ride-again").addEventListener("click", () => {
      this.#send({ again: true });
      this.#settle_in();
      this.#strip.clear();
      this.#stick.release();
      place("thumb").focus();
    });
    place("foot").addEventListener("input", () => {
      this.#send({ foot: Number(place("foot").value) });
      say(place("foot-says"), number(Number(place("foot").value), 2));
    });
    place("pace").addEventListener("change", () => this.#send({ pace: Number(place("pace").value) }));
    this.#feel.addEventListener("chosen", () => this.#begin_anew());
    this.#begin_figures();
  }

  /** The paces of the board, where the server tells them. */
  offer_paces(paces) {
    place("pace-choice").hidden = !paces || paces.length < 2;
    const shown = [...place("pace").options].map((option) => option.textContent);
    // What was chosen stays while the paces do.
    if (JSON.stringify(shown) === JSON.stringify((paces ?? []).map((pace) => pace.name))) return;
    place("pace").replaceChildren(
      ...(paces ?? []).map((pace) => make("option", { value: pace.number }, pace.name)),
    );
  }

  #begin_figures() {
    const names = [
      ["speed", "speed"],
      ["acceleration", "felt"],
      ["demand", "asked"],
      ["charge", "charge"],
      ["range", "range left"],
      ["distance", "ridden"],
      ["pack", "pack"],
      ["armed", "thumb"],
      ["reasons", "held back by"],
    ];
    for (const [id, name] of names) {
      this.#shows[id] = make("dd", { test: `riding-${id}` }, "–");
      place("ride-figures").append(make("div", {}, make("dt", {}, name), this.#shows[id]));
    }
  }

  #start() {
    say(place("ride-says"), "Getting on …");
    const socket = new WebSocket(
      `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/api/ride`,
    );
    this.#socket = socket;
    socket.addEventListener("open", () => {
      this.#begin_anew();
      say(place("ride-says"), "Riding. Drag the thumb, or hold the arrow keys or W and S; Space lets go.");
      place("thumb").focus();
      requestAnimationFrame(() => this.#frame());
    });
    socket.addEventListener("message", (event) => {
      this.#latest = JSON.parse(event.data);
      this.#strip.add(this.#latest);
    });
    socket.addEventListener("close", () => {
      if (this.#socket === socket) this.stop("The ride ended: the server closed it.");
    });
    place("ride-start").textContent = "get off";
    place("ride-again").disabled = false;
  }

  /** Ends the ride; `why` is said. */
  stop(why) {
    if (!this.#socket) return;
    const socket = this.#socket;
    this.#socket = null;
    this.#stick.release();
    socket?.close();
    place("ride-start").textContent = "get on and ride";
    place("ride-again").disabled = true;
    say(place("ride-says"), why);
  }

  #begin_anew() {
    this.#stick.release();
    this.#strip.clear();
    this.#send({ stand: this.#feel.stand, which: this.#which });
    this.#settle_in();
  }

  /** A ride begins in the first pace with no foot on the brake: it is told what the page shows. */
  #settle_in() {
    if (place("pace").value !== "") this.#send({ pace: Number(place("pace").value) });
    this.#send({ foot: Number(place("foot").value) });
  }

  #send(word) {
    if (this.#socket?.readyState === WebSocket.OPEN) this.#socket.send(JSON.stringify(word));
  }

  #send_thumb() {
    this.#sent_ms = performance.now();
    this.#send({ thumb: this.#stick.value });
  }

  #frame() {
    if (!this.#socket) return;
    this.#stick.look_at_pad();
    if (performance.now() - this.#sent_ms > REPEAT_MS) this.#send_thumb();
    if (this.#latest) {
      this.#show(this.#latest);
      this.#strip.draw();
      this.#latest = null;
    }
    requestAnimationFrame(() => this.#frame());
  }

  #show(now) {
    const reasons = now.reasons?.length > 0 ? now.reasons.join(", ") : "nothing";
    const shown = {
      speed: `${quantity(now.speed_m_s, "m/s", 1)} (${number(now.speed_m_s * 3.6, 0)}\u00a0km/h)`,
      acceleration: quantity(now.acceleration_m_s2, "m/s²"),
      demand: quantity(now.demand_m_s2, "m/s²"),
      charge: quantity(now.soc === null ? null : now.soc * 100, "%", 1),
      range: `${quantity(now.range_km, "km", 1)}, nine times in ten ${quantity(now.range_low_km, "km", 1)}`,
      distance: quantity(now.distance_m, "m", 0),
      pack: `${quantity(now.pack_voltage_V, "V", 1)}, ${quantity(now.pack_current_A, "A", 1)}`,
      armed: now.armed,
      reasons,
    };
    for (const [id, text] of Object.entries(shown)) say(this.#shows[id], text);
    say(
      place("hand-screen"),
      [now.armed, now.word, reasons === "nothing" ? null : reasons].filter(Boolean).join("\n"),
    );
    const ridden = this.#which === "candidate" && now.checksum !== this.#candidate.values?.checksum;
    say(
      place("ride-checksum"),
      `Ridden are the settings ${now.checksum ?? "–"}.${ridden ? " The candidate has changed since: ride again from the start to feel it." : ""}`,
    );
  }
}
