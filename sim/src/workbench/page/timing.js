// Measures how long a change takes from the hand to the painted picture.
//
// Told by `workbench.js` after each redraw. Tests and curious builders read `window.workbenchTimings`
// and `<html data-painted>`.

const KEPT = 2000;

window.workbenchTimings = [];

/** Runs `done` once what was drawn up to now is on the screen: a frame, and a task behind it. */
export function after_paint(done) {
  requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = () => done(performance.now());
    channel.port2.postMessage(0);
  });
}

/** Notes that `revision` has been painted, and how long after the input at `input_at` (ms). */
export function note_painted(revision, input_at) {
  after_paint((now) => {
    document.documentElement.dataset.painted = String(revision);
    if (input_at === undefined) return;
    window.workbenchTimings.push({ revision, input_to_paint_ms: now - input_at });
    if (window.workbenchTimings.length > KEPT) window.workbenchTimings.shift();
  });
}
