// What the candidate does differently from what is on the board, as numbers.
//
// Shows what `candidate` finds; used by `notices` too, for what another page changed.

import { make, row, scroller } from "./elements.js";
import { differences_between } from "./candidate.js";
import { difference, key_name, number, quantity } from "./words.js";

function curve_in_words(curve) {
  if (curve.kind === "usual") return `usual shape to ${quantity(curve.greatest_m_s2, "m/s²")}`;
  return curve.handles.map(([thumb, value]) => `${number(thumb, 2)}: ${number(value)}`).join(", ");
}

/** A table of what differs between two sets of values, or `null` where nothing does. */
export function differences_table(before, after, keys, heads, label) {
  const found = differences_between(before, after);
  if (found.length === 0) return null;
  const rows = found.map((one) => {
    if (one.curve) {
      return row(
        one.id,
        curve_in_words(one.before),
        curve_in_words(one.after),
        difference(one.after.greatest_m_s2 - one.before.greatest_m_s2),
      );
    }
    const unit = keys.find((key) => key.key === one.key)?.unit ?? "";
    const name = `${key_name(one.key)} (${one.key.slice(0, one.key.lastIndexOf("."))})`;
    return row(
      name,
      quantity(one.before, unit),
      quantity(one.after, unit),
      difference(one.after - one.before),
    );
  });
  return scroller(
    label,
    make(
      "table",
      { class: "differences" },
      make(
        "thead",
        {},
        make("tr", {}, ...["what", ...heads, "difference"].map((head) => make("th", { scope: "col" }, head))),
      ),
      make("tbody", {}, ...rows),
    ),
  );
}
