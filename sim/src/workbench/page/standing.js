// How page and server stand to each other: gone and back, changed by another page, a changed board file.
//
// Hears `server` and `candidate`, shows `notices`. Whatever was edited here is offered again, never lost.

import { make } from "./elements.js";
import { page_id, Unanswered } from "./server.js";
import { changes_towards } from "./candidate.js";
import { differences_table } from "./differences_table.js";
import { forget, in_words, kept, open_shelf } from "./kept.js";
import { faults_in_words } from "./words.js";

export class Standing {
  #server;
  #candidate;
  #notices;
  #parts;
  #opened = false;
  // What this page wanted, while another one changed it.
  #mine = null;

  constructor(server, candidate, notices, parts) {
    this.#server = server;
    this.#candidate = candidate;
    this.#notices = notices;
    this.#parts = parts;
  }

  /** Begins to listen; `take_board` gets every whole board. */
  watch(take_board) {
    const told = (name, hear) => this.#server.addEventListener(name, (event) => hear(event.detail));
    told("gone", () => this.#gone());
    told("back", (board) => this.#back(board, take_board));
    told("candidate", (word) => this.#changed_elsewhere(word, take_board));
    told("board_file", (word) => this.#board_file(word, take_board));
    told("kept", (word) => this.#not_kept(word));
    told("stopping", () =>
      this.#notices.show("stopping", "The server is stopping", [
        "It was asked to end. What you edit from now on is kept in this page.",
      ]),
    );
    this.#candidate.addEventListener("kept", () => this.#gone());
    this.#candidate.addEventListener("conflict", (event) => this.#conflict(event.detail));
  }

  #kept_list() {
    return make("ul", { test: "kept" }, ...kept().map((change) => make("li", {}, in_words(change))));
  }

  #gone() {
    this.#notices.drop("stopping");
    this.#notices.drop("back");
    const words = [
      "The page can't reach it and tries again by itself. Start it again in its terminal. The pictures show what it said last.",
    ];
    if (kept().length > 0)
      words.push("Your edits are kept here and offered again when it is back:", this.#kept_list());
    this.#notices.show("gone", "The workbench's server is gone", words, [
      { name: "look again now", test: "look-again", run: () => this.#server.look_again() },
    ]);
    this.#parts.riding.stop("The server is gone, so the ride is over.");
  }

  #back(board, take_board) {
    this.#notices.drop("gone");
    this.#notices.drop("stopping");
    if (!this.#opened) open_shelf(board.place ?? board.file);
    const before = this.#opened ? this.#candidate.values : null;
    this.#opened = true;
    take_board(board);
    this.#not_kept(board);
    if (board.set_aside && !before) this.#tell_aside(board.set_aside);
    if (kept().length > 0) this.#offer_kept();
    else if (before) this.#differ(before);
  }

  #offer_kept() {
    this.#notices.show(
      "back",
      "The server is here, and edits are kept",
      ["They were made while it was gone:", this.#kept_list()],
      [
        { name: "apply them", test: "kept-apply", run: () => this.#apply_kept() },
        { name: "forget them", test: "kept-forget", run: () => this.#forget_kept() },
      ],
    );
  }

  #forget_kept() {
    forget();
    this.#notices.drop("back");
    this.#parts.curve_picture.forget_wish();
  }

  /** One after the other, so that one that is refused does not take the others with it. */
  async #apply_kept() {
    const refused = [];
    const edits = kept();
    forget();
    for (const edit of edits) {
      const result = await this.#candidate.change([edit], { at: performance.now() });
      if (!result.accepted && result.faults.length > 0)
        refused.push(`${in_words(edit)} was refused: ${faults_in_words(result.faults)}`);
    }
    this.#parts.curve_picture.forget_wish();
    this.#notices.drop("back");
    if (refused.length > 0) {
      this.#notices.show("back", "Not every kept edit was taken", refused, [
        { name: "close", test: "close-back", run: () => this.#notices.drop("back") },
      ]);
    }
  }

  async #changed_elsewhere({ revision, page }, take_board) {
    if (page === page_id || revision <= this.#candidate.revision) return;
    const before = this.#candidate.values;
    const board = await this.#ask("/api/board");
    if (!board) return;
    take_board(board);
    this.#differ(before);
  }

  #conflict({ mine, changes }) {
    this.#differ(mine, changes);
  }

  /** Another page's values are shown now; mine are offered. */
  #differ(before, changes = []) {
    this.#mine ??= { values: before, changes: [] };
    this.#mine.changes.push(...changes);
    const { values, changes: wanted } = this.#mine;
    const table = differences_table(
      values,
      this.#candidate.values,
      this.#candidate.board.keys,
      ["here before", "theirs, shown now"],
      "mine and theirs",
    );
    if (!table && wanted.length === 0) {
      this.#settle();
      return;
    }
    const body = [];
    if (table) body.push(table);
    if (wanted.length > 0)
      body.push(
        "Your own change that was not taken:",
        make("ul", {}, ...wanted.map((change) => make("li", {}, in_words(change)))),
      );
    this.#notices.show("changed", "Another page changed the candidate", body, [
      { name: "apply mine again", test: "apply-mine", run: () => this.#apply_mine() },
      { name: "take theirs", test: "take-theirs", run: () => this.#settle() },
    ]);
  }

  async #apply_mine() {
    const { values, changes } = this.#mine;
    this.#settle();
    const touched = new Set(changes.map((change) => change.key ?? change.curve));
    // Whole values of mine first, then the change that was under way, in one step to undo.
    const back = changes_towards(values, this.#candidate.values).filter(
      (change) => !touched.has(change.key ?? change.curve),
    );
    const result = await this.#candidate.change([...back, ...changes], { at: performance.now() });
    if (result.faults.length > 0)
      this.#tell_trouble("Yours do not go together with theirs", faults_in_words(result.faults));
  }

  #settle() {
    this.#mine = null;
    this.#notices.drop("changed");
  }

  /** The candidate's file cannot be written, or can be again. */
  #not_kept({ not_kept }) {
    if (!not_kept) return this.#notices.drop("not-kept");
    this.#notices.show("not-kept", "The candidate is not kept on disk", [
      `${not_kept}. It lives on in the server: take it away as a board file before you end that.`,
    ]);
  }

  #tell_aside(words) {
    this.#notices.show(
      "aside",
      "An earlier candidate could not be used",
      [`${words}.`],
      [{ name: "close", test: "close-aside", run: () => this.#notices.drop("aside") }],
    );
  }

  #board_file({ what }, take_board) {
    if (what === "as it was") return this.#notices.drop("board-file");
    const close = { name: "leave it", test: "leave-board-file", run: () => this.#notices.drop("board-file") };
    if (what !== "changed on disk") {
      this.#notices.show(
        "board-file",
        "The board file can't be used",
        [`${this.#candidate.board?.file ?? "It"}: ${what}. The workbench goes on with what it read before.`],
        [close],
      );
      return;
    }
    this.#notices.show(
      "board-file",
      "The board file changed on disk",
      ["What is called “on the board” here is what it said before."],
      [
        { name: "compare with the new file", test: "compare-new-file", run: () => this.#reread(take_board) },
        close,
      ],
    );
  }

  async #reread(take_board) {
    const board = await this.#ask("/api/reread", { page: page_id });
    if (!board) return;
    this.#notices.drop("board-file");
    take_board(board);
  }

  /** An answer, or nothing where the server is gone or refuses; what it said is shown. */
  async #ask(path, body) {
    try {
      return (await this.#server.ask(path, body)).answer;
    } catch (problem) {
      if (!(problem instanceof Unanswered)) throw problem;
      if (this.#server.there) this.#tell_trouble("The server could not do that", problem.message);
      return null;
    }
  }

  #tell_trouble(title, words) {
    this.#notices.show(
      "trouble",
      title,
      [words],
      [{ name: "close", test: "close-trouble", run: () => this.#notices.drop("trouble") }],
    );
  }
}
