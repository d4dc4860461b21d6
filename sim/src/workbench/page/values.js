// The numbers of the board file in groups, each with its unit, its ends and a way back to usual.
//
// Built from the keys that the server names; sends what was typed as it was typed, because reading it
// is the server's job. A refused entry keeps its text, with the reason below it.

import { make, say, set } from "./elements.js";
import { faults_in_words, key_name, range, typed } from "./words.js";

const GROUPS = {
  curves: "What the thumb asks",
  rates: "How fast it comes and goes",
  speed: "How fast it may go",
  brake: "What a brake is worth",
  heat: "When it is hot",
  reserve: "When charge runs out",
  hand: "The hand's own battery",
  riders: "Who rides",
};
// On a phone the groups would push the pictures out of sight.
const OPEN = new Set(matchMedia("(min-width: 1000px)").matches ? ["curves", "rates", "speed"] : []);

export class ValueFields {
  #candidate;
  #fields = new Map();
  #groups = new Map();
  #host;

  constructor(candidate, host) {
    this.#candidate = candidate;
    this.#host = host;
  }

  draw() {
    for (const key of this.#candidate.board.keys) {
      if (!this.#fields.has(key.key)) this.#fields.set(key.key, this.#new_field(key));
      this.#show(key, this.#fields.get(key.key));
    }
    this.#count_changes();
  }

  #group(id) {
    if (!this.#groups.has(id)) {
      const count = make("span", { class: "count" });
      const list = make("div", { class: "fields" });
      const block = make(
        "details",
        { class: "group", open: OPEN.has(id), test: `group-${id}` },
        make("summary", {}, make("h3", {}, GROUPS[id] ?? id), count),
        list,
      );
      this.#host.append(block);
      this.#groups.set(id, { list, count, keys: [] });
    }
    return this.#groups.get(id);
  }

  #new_field(key) {
    const id = key.key.replaceAll(/[^\w]/g, "-");
    const group = this.#group(key.group);
    const describes = `meaning-${id} range-${id}`;
    const input = make("input", {
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      id: `value-${id}`,
      test: `value-${key.key}`,
      "aria-describedby": describes,
      size: 7,
    });
    const fault = make("p", { class: "fault", role: "alert", id: `fault-${id}`, test: `fault-${key.key}` });
    const usual = make("button", { type: "button", class: "small", test: `usual-${key.key}` });
    const board = make("span", { class: "was" });
    const field = { key, input, fault, usual, board, describes, shown: "", refused: false };
    group.keys.push(field);
    group.list.append(
      make(
        "div",
        { class: "field" },
        make("label", { for: input.id }, key_name(key.key)),
        make("span", { class: "entry" }, input, make("span", { class: "unit" }, key.unit ?? "")),
        usual,
        make(
          "p",
          { class: "meaning" },
          make("span", { id: `meaning-${id}` }, key.meaning),
          " ",
          make("span", { class: "range", id: `range-${id}` }, range(key.lowest, key.highest, key.unit)),
          board,
        ),
        fault,
      ),
    );
    input.addEventListener("change", (event) => this.#typed(field, event.timeStamp));
    input.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.#typed(field, event.timeStamp);
      if (event.key === "Escape") this.#settle(field, "");
    });
    usual.addEventListener("click", (event) => this.#to_usual(field, event.timeStamp));
    return field;
  }

  #show(key, field) {
    const { values, on_board } = this.#candidate;
    const text = typed(values.values[key.key]);
    const untouched = field.input.value === field.shown || field.input !== document.activeElement;
    if (!field.refused && untouched) field.input.value = field.input.defaultValue = text;
    field.shown = text;
    const stated = values.given.includes(key.key);
    const usual = key.usual === null || key.usual === undefined ? "" : ` ${typed(key.usual)}`;
    field.usual.disabled = !stated;
    say(field.usual, stated ? `back to usual${usual}` : "usual");
    set(field.usual, "aria-label", `${key_name(key.key)}: back to usual${usual}`);
    const differs = values.values[key.key] !== on_board.values[key.key];
    say(field.board, differs ? ` On the board: ${typed(on_board.values[key.key])}.` : "");
  }

  #count_changes() {
    for (const { count, keys } of this.#groups.values()) {
      const changed = keys.filter(
        (field) =>
          this.#candidate.values.values[field.key.key] !== this.#candidate.on_board.values[field.key.key],
      );
      say(count, changed.length > 0 ? `${changed.length} changed` : "");
    }
  }

  async #typed(field, at) {
    const text = field.input.value;
    if (text === field.asked) return;
    if (text === field.shown) return this.#settle(field, "");
    field.asked = text;
    const result = await this.#candidate.change([{ key: field.key.key, text }], { at });
    field.asked = null;
    if (result.kept) return;
    this.#settle(field, result.conflict ? "" : faults_in_words(result.faults));
  }

  async #to_usual(field, at) {
    const result = await this.#candidate.change([{ key: field.key.key, value: null }], { at });
    if (result.kept) return;
    this.#settle(field, faults_in_words(result.faults));
    // A button that went grey under the hand would lose the keyboard.
    if (field.usual.disabled) field.input.focus();
  }

  #settle(field, reason) {
    field.refused = reason !== "";
    if (!field.refused) field.input.value = field.input.defaultValue = field.shown;
    set(field.input, "aria-invalid", field.refused ? "true" : null);
    set(
      field.input,
      "aria-describedby",
      field.refused ? `${field.fault.id} ${field.describes}` : field.describes,
    );
    say(field.fault, reason);
  }
}
