// Turns quantities into places on a picture: round ends, round ticks, paths.
//
// Asked by `chart`, `curve_picture` and `stops`.

/** A step of 1, 2 or 5 times a power of ten, so that about `count` of them fill `span`. */
export function round_step(span, count) {
  const rough = span / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const share = rough / power;
  return power * (share > 5 ? 10 : share > 2 ? 5 : share > 1 ? 2 : 1);
}

/** Ends around all `values`, on round steps, so that a small change does not move the axis. */
export function round_ends(values, count = 4, at_least = [0, 0]) {
  let [lowest, highest] = at_least;
  for (const value of values) {
    if (value === null || !Number.isFinite(value)) continue;
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  if (highest - lowest < 1e-6) highest = lowest + 1;
  const step = round_step(highest - lowest, count);
  return [Math.floor(lowest / step + 1e-9) * step, Math.ceil(highest / step - 1e-9) * step];
}

/** The ticks between two ends. */
export function ticks([lowest, highest], count) {
  const step = round_step(highest - lowest, count);
  const found = [];
  for (let n = Math.ceil(lowest / step - 1e-9); n * step <= highest + step * 1e-6; n += 1) {
    found.push(Number((n * step).toPrecision(10)));
  }
  return found;
}

/** A function from a quantity to its place. */
export function to_place([lowest, highest], [from, to]) {
  const per_unit = (to - from) / (highest - lowest);
  return (value) => from + (value - lowest) * per_unit;
}

/** The `d` of a line; it breaks where a value is missing. */
export function path(xs, ys, x_place, y_place) {
  let text = "";
  let pen_down = false;
  for (let i = 0; i < xs.length; i += 1) {
    const y = ys[i];
    if (y === null || y === undefined || !Number.isFinite(y)) {
      pen_down = false;
      continue;
    }
    text += `${pen_down ? "L" : "M"}${x_place(xs[i]).toFixed(1)} ${y_place(y).toFixed(1)}`;
    pen_down = true;
  }
  return text;
}
