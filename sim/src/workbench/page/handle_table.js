// The same handles as numbers in a table: typed, added, removed.
//
// Beside `curve_picture`, which it asks to add and remove. What was typed and refused stays as it was
// typed, with the server's words below.

import { make, say, set } from "./elements.js";
import { faults_in_words, range, read, typed } from "./words.js";

const MOST_HANDLES = 8;

export class HandleTable {
  #candidate;
  #picture;
  #host;
  #rows = new Map();
  #parts = {};

  constructor(candidate, picture, host) {
    this.#candidate = candidate;
    this.#picture = picture;
    this.#host = host;
    for (const curve of ["drive", "brake"]) this.#begin(curve);
  }

  #begin(curve) {
    const body = make("tbody");
    const add = make(
      "button",
      {
        type: "button",
        test: `add-handle-${curve}`,
        onclick: (event) => this.#picture.add(curve, event.timeStamp),
      },
      `add a ${curve} handle`,
    );
    const usual = make(
      "button",
      {
        type: "button",
        test: `usual-curve-${curve}`,
        onclick: (event) => this.#picture.usual(curve, event.timeStamp),
      },
      "back to the usual shape",
    );
    const kind = make("p", { class: "quiet", id: `kind-${curve}` });
    const table = make(
      "table",
      { class: "handles" },
      make("caption", {}, `${curve === "drive" ? "Drive" : "Brake"} handles`),
      make(
        "thead",
        {},
        make(
          "tr",
          {},
          make("th", { scope: "col" }, "no."),
          make("th", { scope: "col" }, "thumb, 0 to 1"),
          make("th", { scope: "col" }, `${curve === "drive" ? "push" : "slowing"}, m/s²`),
          make("td"),
        ),
      ),
      body,
    );
    this.#host.append(
      make("div", { class: "handle-block" }, table, kind, make("div", { class: "buttons" }, add, usual)),
    );
    this.#parts[curve] = { body, add, usual, kind };
  }

  draw() {
    for (const curve of ["drive", "brake"])
      this.#draw_curve(curve, this.#candidate.values.curves[curve], this.#parts[curve]);
  }

  #draw_curve(curve, { handles, kind, allowed }, parts) {
    handles.forEach((handle, index) => {
      const id = `${curve} ${index}`;
      if (!this.#rows.has(id)) this.#rows.set(id, this.#new_row(curve, index));
      const row = this.#rows.get(id);
      if (!row.node.isConnected) parts.body.append(row.node, row.says_row);
      this.#show(row.thumb, handle[0], allowed?.[index]?.thumb, "");
      this.#show(row.value, handle[1], allowed?.[index]?.m_s2, "m/s²");
      row.thumb.input.readOnly = index === handles.length - 1;
      row.remove.disabled = index === handles.length - 1;
    });
    for (let index = handles.length; this.#rows.has(`${curve} ${index}`); index += 1) {
      const row = this.#rows.get(`${curve} ${index}`);
      row.node.remove();
      row.says_row.remove();
      this.#rows.delete(`${curve} ${index}`);
    }
    parts.add.disabled = handles.length >= MOST_HANDLES;
    parts.usual.disabled = kind === "usual";
    say(
      parts.kind,
      kind === "usual"
        ? "The usual shape, by its full value and softness. Moving a handle makes it a shape of your own."
        : "A shape of your own: full value and softness of this curve do not act.",
    );
  }

  #show(cell, value, allowed, unit) {
    const untouched = cell.input !== document.activeElement || cell.shown === cell.input.value;
    cell.shown = typed(value);
    if (cell.refused === null && untouched) cell.input.value = cell.input.defaultValue = cell.shown;
    say(cell.range, allowed ? range(allowed[0], allowed[1], unit) : "");
  }

  #new_row(curve, index) {
    const says = make("p", {
      class: "fault",
      role: "alert",
      id: `fault-${curve}-${index}`,
      "data-test": `fault-handle-${curve}-${index}`,
    });
    const says_row = make("tr", { class: "fault-row", hidden: true }, make("td", { colspan: 4 }, says));
    const cell = (axis, name, test) => {
      const limits = make("span", { class: "range", id: `range-${curve}-${index}-${axis}` });
      const input = make("input", {
        type: "text",
        inputmode: "decimal",
        autocomplete: "off",
        size: 6,
        "aria-label": `${curve} handle ${index + 1}, ${name}`,
        "aria-describedby": limits.id,
        test,
      });
      const made = { input, range: limits, refused: null, shown: "" };
      input.addEventListener("change", (event) =>
        this.#typed(curve, index, axis, made, says, says_row, event.timeStamp),
      );
      input.addEventListener("keydown", (event) => {
        if (event.key === "Enter") input.dispatchEvent(new Event("change"));
        if (event.key === "Escape") this.#settle(made, says, says_row, "");
      });
      return made;
    };
    const thumb = cell(0, "thumb", `number-${curve}-${index}-thumb`);
    const value = cell(1, "m/s²", `number-${curve}-${index}-m_s2`);
    const remove = make(
      "button",
      {
        type: "button",
        class: "small cross",
        title: "remove",
        test: `remove-handle-${curve}-${index}`,
        "aria-label": `remove ${curve} handle ${index + 1}`,
        onclick: (event) => this.#remove(curve, index, event.timeStamp),
      },
      "×",
    );
    const node = make(
      "tr",
      {},
      make("th", { scope: "row" }, String(index + 1)),
      make("td", {}, thumb.input, thumb.range),
      make("td", {}, value.input, value.range),
      make("td", {}, remove),
    );
    return { node, says_row, says, thumb, value, remove };
  }

  async #remove(curve, index, at) {
    await this.#picture.remove(curve, index, at);
    // The button may be gone: the next one takes the focus, so that the keyboard is not lost.
    const left = this.#rows.get(`${curve} ${index}`) ?? this.#rows.get(`${curve} 0`);
    (left.remove.disabled ? left.value.input : left.remove).focus();
  }

  async #typed(curve, index, axis, cell, says, says_row, at) {
    if (cell.input.value === cell.shown) return this.#settle(cell, says, says_row, "");
    const value = read(cell.input.value);
    if (value === null) return this.#settle(cell, says, says_row, `“${cell.input.value}” is not a number.`);
    const handles = this.#candidate.values.curves[curve].handles.map((handle, i) =>
      i === index ? handle.map((old, which) => (which === axis ? value : old)) : handle,
    );
    const result = await this.#candidate.change([{ curve, handles }], { at });
    if (result.kept) return;
    this.#settle(cell, says, says_row, result.conflict ? "" : faults_in_words(result.faults));
  }

  /** Shows why an entry was refused, or that it was not. */
  #settle(cell, says, says_row, reason) {
    cell.refused = reason === "" ? null : reason;
    if (cell.refused === null) cell.input.value = cell.input.defaultValue = cell.shown;
    set(cell.input, "aria-invalid", reason === "" ? null : "true");
    set(cell.input, "aria-describedby", reason === "" ? cell.range.id : `${says.id} ${cell.range.id}`);
    say(says, reason);
    says_row.hidden = reason === "";
  }
}
