// Keeps the edits that could not be sent, in this browser, until the server is back.
//
// Filled by `candidate`, offered again by `notices`. One edit for each value and each curve: the last.

let name = null;
let shelf = [];

/** Opens what was kept for the board file at this place; what another board's page left is not offered here. */
export function open_shelf(place) {
  name = `homestretch-workbench-kept ${place}`;
  try {
    const found = JSON.parse(localStorage.getItem(name) ?? "[]");
    shelf = Array.isArray(found) ? found : [];
  } catch {
    // A browser may forbid storage, or hold something else there: the page then keeps them itself.
    shelf = [];
  }
}

function store() {
  if (name === null) return;
  try {
    if (shelf.length > 0) localStorage.setItem(name, JSON.stringify(shelf));
    else localStorage.removeItem(name);
  } catch {
    // Without storage they live as long as the page.
  }
}

const target = (change) => change.key ?? change.curve ?? "whole";

/** Keeps `changes`; each one replaces what was kept for the same value. */
export function keep(changes) {
  for (const change of changes) {
    if (change.whole) shelf = [];
    shelf = shelf.filter((other) => target(other) !== target(change));
    shelf.push(change);
  }
  store();
}

/** All that is kept, in the order in which it was made. */
export function kept() {
  return [...shelf];
}

/** Forgets what is kept. */
export function forget() {
  shelf = [];
  store();
}

/** What a kept or a foreign change says, in words. */
export function in_words(change) {
  if (change.whole) return "all as on the board";
  if (change.curve) {
    const handles = change.handles?.map(([thumb, value]) => `${thumb}: ${value} m/s²`).join(", ");
    return `${change.curve} curve ${handles ? `through ${handles}` : "in the usual shape"}`;
  }
  return `${change.key} ${change.text ?? change.value ?? "back to usual"}`;
}
