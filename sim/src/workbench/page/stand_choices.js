// The rows of choices for where the rider stands: who, how full, how warm, on what, how steep.
//
// Built from what the server offers; tells `feel`.

import { choices, selection } from "./elements.js";
import { number, slope } from "./words.js";

/** Fills `host` with a group of choices for each thing that makes the board feel different. */
export function fill_stand_choices(host, board, feel) {
  const { stands, rides } = board;
  const named = (list, behind) =>
    list.map((one) => ({ id: one.id, name: behind ? `${one.name}, ${behind(one)}` : one.name }));
  const group = (name, legend, options, key) => {
    host.append(choices(name, legend, options, feel.stand[key], (id, at) => feel.choose({ [key]: id }, at)));
  };
  host.replaceChildren();
  group(
    "rider",
    "Rider",
    named(stands.riders, (one) => `${number(one.mass_kg, 0)}\u00a0kg`),
    "rider",
  );
  group(
    "charge",
    "Pack",
    named(stands.charges, (one) => `${number(one.charge * 100, 0)}\u00a0%`),
    "charge",
  );
  group(
    "air",
    "Weather",
    named(stands.airs, (one) => `${number(one.temperature_degC, 0)}\u00a0°C`),
    "air",
  );
  host.append(
    selection("surface", "Ground", named(stands.surfaces), feel.stand.surface, (id, at) =>
      feel.choose({ surface: id }, at),
    ),
    choices(
      "grade",
      "Slope",
      stands.grades.map((grade) => ({ id: String(grade), name: slope(grade) })),
      String(feel.stand.grade),
      (id, at) => feel.choose({ grade: Number(id) }, at),
    ),
  );
  if (rides.length > 0)
    host.append(
      choices("ride", "Way ridden", named(rides), feel.ride, (id, at) => feel.choose({ ride: id }, at)),
    );
}
