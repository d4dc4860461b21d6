// Which limits act in this stand and why, and what the chosen way costs.
//
// Shows the `reasons` and `ride` parts of an answer of `feel`, candidate beside board.

import { make, row } from "./elements.js";
import { difference, percent, quantity } from "./words.js";

const COSTS = [
  ["energy_Wh_km", "energy", "Wh/km"],
  ["energy_low_Wh_km", "energy, lower end", "Wh/km"],
  ["range_km", "range", "km"],
  ["mean_speed_m_s", "mean speed", "m/s"],
  ["peak_current_A", "greatest current", "A"],
];

function left(reason) {
  const parts = [];
  if (reason.drive_left !== null && reason.drive_left !== undefined)
    parts.push(`${percent(reason.drive_left)} of drive left`);
  if (reason.brake_left !== null && reason.brake_left !== undefined)
    parts.push(`${percent(reason.brake_left)} of the brake left`);
  return parts.join(", ") || "–";
}

/** Rows for every limit that acts on the candidate or on the board. */
export function draw_reasons(body, { on_board, candidate }) {
  const was = new Map(on_board.reasons.map((reason) => [reason.id, reason]));
  const rows = candidate.reasons.map((reason) => {
    const before = was.get(reason.id);
    was.delete(reason.id);
    const same = before && left(before) === left(reason) && before.where === reason.where;
    return row(
      reason.name,
      reason.what,
      left(reason),
      reason.where ?? "–",
      same ? "the same" : before ? `${left(before)}, ${before.where}` : "does not act",
    );
  });
  for (const gone of was.values())
    rows.push(row(gone.name, gone.what, "does not act", "–", `${left(gone)}, ${gone.where}`));
  if (rows.length === 0) rows.push(make("tr", {}, make("td", { colspan: 5 }, "Nothing is held back here.")));
  // Written anew only where it differs: a table that is rebuilt loses a reader's place in it.
  const text = rows.map((one) => one.textContent).join("\n");
  if (body.dataset.shows !== text) {
    body.dataset.shows = text;
    body.replaceChildren(...rows);
  }
}

/** Rows for what the way costs. */
export function draw_costs(body, { on_board, candidate }) {
  const [was, now] = [on_board.ride, candidate.ride];
  if (!now) {
    body.replaceChildren(make("tr", {}, make("td", { colspan: 4 }, "This way can't be ridden here.")));
    return;
  }
  body.replaceChildren(
    ...COSTS.filter(([key]) => now[key] !== null && now[key] !== undefined).map(([key, name, unit]) =>
      row(
        name,
        quantity(was?.[key], unit),
        make("strong", {}, quantity(now[key], unit)),
        difference(was ? now[key] - was[key] : null),
      ),
    ),
  );
}
