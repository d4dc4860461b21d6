// Asks what candidate and board feel like where the rider stands, and keeps the choice of that stand.
//
// One question at a time; while one is out, only the newest wish waits. So no answer overtakes
// another, and the pictures are never more than one answer behind the hand.

import { Unanswered } from "./server.js";

export class Feel extends EventTarget {
  #server;
  #candidate;
  #out = false;
  #again = null;
  stand = null;
  ride = null;
  answer = null;

  constructor(server, candidate) {
    super();
    this.#server = server;
    this.#candidate = candidate;
  }

  /** The stand to begin with: the usual rider, half a pack, a warm day, level ground. */
  begin({ stands, rides }) {
    const prefer = (list, id) => (list.find((one) => one.id === id) ?? list[0])?.id;
    this.stand ??= {
      rider: prefer(stands.riders, "usual"),
      charge: prefer(stands.charges, "half"),
      air: prefer(stands.airs, "warm"),
      surface: prefer(stands.surfaces, "asphalt"),
      grade: stands.grades.includes(0) ? 0 : stands.grades[0],
    };
    this.ride ??= rides[0]?.id ?? null;
  }

  /** Another stand or another ride. */
  choose(change, at) {
    if ("ride" in change) this.ride = change.ride;
    else this.stand = { ...this.stand, ...change };
    this.dispatchEvent(new CustomEvent("chosen"));
    this.ask(at);
  }

  /** Asks; `at` is when the hand did what makes it necessary. */
  async ask(at) {
    if (this.#out) {
      this.#again = { at };
      return;
    }
    this.#out = true;
    try {
      const { answer } = await this.#server.ask("/api/feel", {
        stand: this.stand,
        ride: this.ride,
        revision: this.#candidate.revision,
      });
      if (answer.candidate && answer.on_board) {
        this.answer = answer;
        this.dispatchEvent(new CustomEvent("answered", { detail: { at } }));
      }
    } catch (problem) {
      if (!(problem instanceof Unanswered)) throw problem;
      this.dispatchEvent(new CustomEvent("unanswered", { detail: { why: problem.message } }));
    }
    this.#out = false;
    if (this.#again) {
      const next = this.#again;
      this.#again = null;
      this.ask(next.at);
    }
  }
}
