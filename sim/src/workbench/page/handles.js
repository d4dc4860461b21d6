// What can be said of a curve's handles without drawing them.
//
// Asked by `curve_picture`. What is legal is not decided here: the server's refusal names the ends.

/** A handle's place on the picture: the brake's half is drawn to the left and down. */
export const sign = (curve) => (curve === "drive" ? 1 : -1);
/** A number with so many places: a hand is no finer. */
export const rounded = (value, places) => Number(value.toFixed(places));

/** What the refusal itself names as the nearest place, or `null` where it names none for this handle. */
function named_by_refusal(handle, faults) {
  const next = [...handle];
  for (const { given, lowest, highest } of faults) {
    if (given === null || given === undefined) continue;
    const which = Math.abs(given - handle[1]) < 2e-3 ? 1 : Math.abs(given - handle[0]) < 2e-3 ? 0 : null;
    if (which === null) continue;
    next[which] = Math.min(Math.max(handle[which], lowest ?? -Infinity), highest ?? Infinity);
  }
  return differs(next, handle) ? next : null;
}

const differs = (one, other) => one[0] !== other[0] || one[1] !== other[1];

/**
 * Where to try next after `wished` was refused: at the ends that the server stated for this handle, at
 * those that the refusal names, or half way back to where it `stands`. `null` where that leads nowhere.
 */
export function next_try({ wished, stands, allowed, faults }) {
  if (allowed) {
    const held = [allowed.thumb, allowed.m_s2].map(([low, high], i) =>
      Math.min(Math.max(wished[i], low), high),
    );
    if (differs(held, wished)) return held;
  }
  const named = named_by_refusal(wished, faults);
  if (named) return named;
  const half_way = [rounded((wished[0] + stands[0]) / 2, 4), rounded((wished[1] + stands[1]) / 2, 3)];
  return differs(half_way, stands) && differs(half_way, wished) ? half_way : null;
}

/** The handles with one more, in the middle of the widest gap, on the curve as it is. */
export function with_one_more({ handles, points }) {
  const thumbs = [0, ...handles.map((handle) => handle[0])];
  let widest = 1;
  for (let i = 2; i < thumbs.length; i += 1) {
    if (thumbs[i] - thumbs[i - 1] > thumbs[widest] - thumbs[widest - 1] + 1e-9) widest = i;
  }
  const middle = (thumbs[widest] + thumbs[widest - 1]) / 2;
  const near = points.reduce((best, point) =>
    Math.abs(point[0] - middle) < Math.abs(best[0] - middle) ? point : best,
  );
  const more = [...handles];
  more.splice(widest - 1, 0, [rounded(near[0], 4), rounded(near[1], 3)]);
  return more;
}
