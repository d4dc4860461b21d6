// Asks what candidate and board feel like where the rider stands, and keeps the choice of that stand.
//
// Two questions at most are out at a time, so that the second need not wait for the first; beyond
// those only the newest wish waits. An answer that comes after a newer one is dropped.

import { Unanswered } from "./server.js";

const MOST_OUT = 2;

export class Feel extends EventTarget {
  #server;
  #candidate;
  #out = 0;
  #asked = 0;
  #shown = 0;
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
    if (this.#out >= MOST_OUT) {
      this.#again = { at };
      return;
    }
    this.#out += 1;
    this.#asked += 1;
    const mine = this.#asked;
    try {
      const { answer } = await this.#server.ask("/api/feel", {
        stand: this.stand,
        ride: this.ride,
        revision: this.#candidate.revision,
      });
      if (answer.candidate && answer.on_board && mine > this.#shown) {
        this.#shown = mine;
        this.answer = answer;
        this.dispatchEvent(new CustomEvent("answered", { detail: { at } }));
      }
    } catch (problem) {
      if (!(problem instanceof Unanswered)) throw problem;
      this.dispatchEvent(new CustomEvent("unanswered", { detail: { why: problem.message } }));
    }
    this.#out -= 1;
    if (this.#again) {
      const next = this.#again;
      this.#again = null;
      this.ask(next.at);
    }
  }
}
