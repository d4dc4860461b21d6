// The strip of notices at the head of the page: the server is gone, another page changed it, the board
// file changed.
//
// Told by `workbench.js`; each notice has a name, so that a second one of the same kind takes the
// place of the first.

import { make } from "./elements.js";

export class Notices {
  #host;
  #shown = new Map();

  constructor(host) {
    this.#host = host;
  }

  /** Shows a notice: `title` and `body` (texts or nodes), `actions` as `{ name, test, run }`. */
  show(id, title, body = [], actions = []) {
    const buttons = actions.map(({ name, test, run }) =>
      make("button", { type: "button", test, onclick: () => run() }, name),
    );
    const node = make(
      "section",
      { class: `notice ${id}`, test: `notice-${id}`, "aria-label": title },
      make("h2", {}, title),
      ...body.map((part) => (typeof part === "string" ? make("p", {}, part) : part)),
      buttons.length > 0 ? make("div", { class: "buttons" }, ...buttons) : null,
    );
    const before = this.#shown.get(id);
    if (before) before.replaceWith(node);
    else this.#host.append(node);
    this.#shown.set(id, node);
  }

  /** Takes a notice away. */
  drop(id) {
    this.#shown.get(id)?.remove();
    this.#shown.delete(id);
  }

  /** Whether it is shown. */
  shows(id) {
    return this.#shown.has(id);
  }
}
