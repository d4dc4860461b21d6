// Undo and redo, by button and by key.
//
// Asks `candidate`. In a field where something has been typed and not yet taken, the keys stay the
// field's own.

import { place } from "./elements.js";

function is_typing(node) {
  return (
    node instanceof HTMLInputElement &&
    node.type === "text" &&
    (node.value !== node.defaultValue || node.getAttribute("aria-invalid") === "true")
  );
}

export function start_steps(candidate) {
  place("undo").addEventListener("click", (event) => candidate.undo(event.timeStamp));
  place("redo").addEventListener("click", (event) => candidate.redo(event.timeStamp));
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || is_typing(event.target)) return;
    const key = event.key.toLowerCase();
    const back = key === "z" && !event.shiftKey;
    const forth = (key === "z" && event.shiftKey) || key === "y";
    if (!back && !forth) return;
    event.preventDefault();
    if (back && candidate.can_undo) candidate.undo(event.timeStamp);
    if (forth && candidate.can_redo) candidate.redo(event.timeStamp);
  });
}
