// Holds what the server knows of board and candidate, and sends changes one after the other.
//
// Asked by everything that draws; asks `server`, and gives to `kept` what could not be sent. Events:
// `changed` (with the time of the input), `conflict` (with what I saw and wanted), `kept`.

import { page_id, Unanswered } from "./server.js";
import { keep } from "./kept.js";

export class Candidate extends EventTarget {
  #server;
  #waiting = [];
  #sending = false;
  board = null;
  values = null;
  on_board = null;
  revision = 0;
  can_undo = false;
  can_redo = false;

  constructor(server) {
    super();
    this.#server = server;
  }

  /** Takes the whole of GET /api/board. */
  take_board(board, at) {
    this.board = board;
    this.on_board = board.on_board;
    this.#take(board, at);
  }

  #take(answer, at) {
    this.revision = answer.revision;
    this.values = answer.candidate ?? this.values;
    this.can_undo = answer.can_undo ?? this.can_undo;
    this.can_redo = answer.can_redo ?? this.can_redo;
    this.dispatchEvent(new CustomEvent("changed", { detail: { at } }));
  }

  /**
   * Sends `changes`; the promise says `{ accepted, faults }`, or `{ superseded: true }` where a newer
   * change with the same `merge` word took the place before it was sent, or `{ kept: true }` where
   * the server is gone. Changes with one `gesture` are one step to undo.
   */
  change(changes, { at, merge, gesture } = {}) {
    return new Promise((resolve) => {
      const last = this.#waiting.at(-1);
      if (merge && last?.merge === merge) {
        last.resolve({ accepted: false, faults: [], superseded: true });
        this.#waiting.pop();
      }
      this.#waiting.push({ path: "/api/change", changes, at, merge, gesture, resolve });
      this.#send();
    });
  }

  undo(at) {
    return this.#step("/api/undo", at);
  }

  redo(at) {
    return this.#step("/api/redo", at);
  }

  #step(path, at) {
    return new Promise((resolve) => {
      this.#waiting.push({ path, changes: [], at, resolve });
      this.#send();
    });
  }

  /** One at a time, because each one needs the revision that the one before made. */
  async #send() {
    if (this.#sending) return;
    this.#sending = true;
    while (this.#waiting.length > 0) {
      const next = this.#waiting.shift();
      next.resolve(await this.#ask(next));
    }
    this.#sending = false;
  }

  async #ask({ path, changes, at, gesture }) {
    const body =
      path === "/api/change"
        ? { revision: this.revision, changes, page: page_id, gesture }
        : { page: page_id };
    try {
      const { status, answer } = await this.#server.ask(path, body);
      if (status === 409) return this.#differ(answer, changes);
      if (answer.accepted === false) return { accepted: false, faults: answer.faults };
      this.#take(answer, at);
      return { accepted: true, faults: [] };
    } catch (problem) {
      if (!(problem instanceof Unanswered)) throw problem;
      if (this.#server.there) return { accepted: false, faults: [{ key: null, what: problem.message }] };
      keep(changes);
      this.dispatchEvent(new CustomEvent("kept"));
      return { accepted: false, faults: [], kept: true };
    }
  }

  #differ(answer, changes) {
    const mine = this.values;
    this.#take(answer);
    this.dispatchEvent(new CustomEvent("conflict", { detail: { mine, changes } }));
    return { accepted: false, faults: [], conflict: true };
  }

  /** Takes what an import or another page made of it. */
  take_answer(answer, at) {
    this.#take(answer, at);
  }

  /** What the file says of a key: unit, ends, meaning. */
  key(name) {
    return this.board.keys.find((key) => key.key === name);
  }
}

/** What differs between two sets of values, as `{ id, key | curve, before, after }`. */
export function differences_between(before, after) {
  const found = [];
  for (const curve of ["drive", "brake"]) {
    const [one, other] = [before.curves[curve], after.curves[curve]];
    if (JSON.stringify(one.points) !== JSON.stringify(other.points) || one.kind !== other.kind) {
      found.push({ id: `${curve} curve`, curve, before: one, after: other });
    }
  }
  for (const key of Object.keys(after.values)) {
    const [one, other] = [before.values[key], after.values[key]];
    if (one !== other) found.push({ id: key, key, before: one, after: other });
  }
  return found;
}

/** The changes that lead from `now` to what `wanted` states. */
export function changes_towards(wanted, now) {
  return differences_between(now, wanted).map((found) => {
    if (found.curve) {
      return { curve: found.curve, handles: found.after.kind === "handles" ? found.after.handles : null };
    }
    return { key: found.key, value: wanted.given.includes(found.key) ? found.after : null };
  });
}
