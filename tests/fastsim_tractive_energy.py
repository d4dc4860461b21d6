#!/usr/bin/env python3
"""Tractive energy of a light vehicle, by a general-purpose vehicle simulation package.

Needs Python 3.9 to 3.12, the package `fastsim` 2.1.5 (pip install fastsim==2.1.5), and the tables
in ../examples/schedules (or the folder given as argument). Writes data/fastsim/*.csv beside this file.

What the package does, from its `simdrive.py` (`set_power_calcs`) and `parameters.py`:
each step i lasts from time i-1 to time i; m is the mass, v0 and v1 the speeds at its ends,
v = (v0 + v1) / 2 and dt its length:
    drag      1/2 * 1.2 kg/m3 * (drag coefficient * area) * v**3
    rolling   m * 9.81 m/s2 * coefficient * cos(atan(grade)) * v
    ascent    m * 9.81 m/s2 * sin(atan(grade)) * v
    speeding  m / 2 * (v1**2 - v0**2) / dt
    wheels    the same for the wheels' inertia, here none
    power     the sum of them; energy = power * dt
So drag takes the cube of the mean speed, not the mean of the cube; the mass has no share for
rotating parts; and work at the wheel is what the sum of a step is where it is positive.
"""

import csv
import sys
from importlib.metadata import version
from pathlib import Path

import fastsim
import numpy
from fastsim.cycle import Cycle
from fastsim.simdrive import SimDrive
from fastsim.vehicle import Vehicle

HERE = Path(__file__).resolve().parent
OUT = HERE / "data" / "fastsim"
VEHICLES = Path(fastsim.__file__).resolve().parent / "resources" / "vehdb"

MASS_KG = 90.0
DRAG_AREA_M2 = 0.60
ROLLING = 0.02
TOP_SPEED_KM_H = 25.0
# A road that climbs, so that the ascent is checked as well: 2 % all the way.
GRADES = {"flat": 0.0, "climb": 0.02}


def vehicle():
    """The first battery vehicle of the package with everything that the road feels replaced by ours.

    Its motor and battery are left far too strong, so that the trace is kept.
    """
    made = next(
        made
        for made in (Vehicle.from_file(path.name) for path in sorted(VEHICLES.glob("*.csv")))
        if made.veh_pt_type == "BEV"
    )
    made.drag_coef, made.frontal_area_m2 = 1.0, DRAG_AREA_M2
    made.wheel_rr_coef, made.wheel_inertia_kg_m2 = ROLLING, 0.0
    made.veh_override_kg = MASS_KG
    made.set_derived()
    assert made.veh_kg == MASS_KG and made.drag_coef * made.frontal_area_m2 == DRAG_AREA_M2
    assert made.wheel_rr_coef == ROLLING and made.wheel_inertia_kg_m2 == 0.0
    return made


def schedule(path, grade):
    """A table of ours, scaled so that its greatest speed is the wished one."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = [(float(row["time_s"]), float(row["speed_km_h"])) for row in csv.DictReader(file)]
    times, speeds = (numpy.array(column) for column in zip(*rows))
    speeds = speeds * (TOP_SPEED_KM_H / speeds.max()) / 3.6
    return Cycle.from_dict(
        {"time_s": times, "mps": speeds, "grade": numpy.full(len(times), grade), "name": path.stem}
    )


def run(path, grade):
    """Energies in joules, and the settings that made them."""
    drive = SimDrive(schedule(path, grade), vehicle())
    drive.sim_drive()
    missed = float(numpy.max(numpy.abs(drive.mps_ach - drive.cyc.mps)))
    assert missed < 1e-6 and all(drive.cyc_met[1:]), f"{path.stem}: trace missed by {missed} m/s"
    dt_s = numpy.diff(drive.cyc.time_s)
    total = (drive.drag_kw + drive.rr_kw + drive.ascent_kw + drive.accel_kw)[1:]
    assert numpy.allclose(total, drive.cyc_whl_kw_req[1:], atol=1e-12)
    mean_speed = (drive.mps_ach[1:] + drive.mps_ach[:-1]) / 2

    def joules(power_kw):
        return float((power_kw * dt_s).sum()) * 1000

    return {
        "schedule": path.stem,
        "grade": grade,
        "top_speed_km_h": TOP_SPEED_KM_H,
        "mass_kg": MASS_KG,
        "drag_area_m2": DRAG_AREA_M2,
        "rolling_resistance": ROLLING,
        "air_density_kg_m3": drive.props.air_density_kg_per_m3,
        "gravity_m_s2": drive.props.a_grav_mps2,
        "steps": len(dt_s),
        "distance_m": float((mean_speed * dt_s).sum()),
        "positive_wheel_work_J": joules(numpy.maximum(total, 0)),
        "negative_wheel_work_J": joules(numpy.minimum(total, 0)),
        "drag_J": joules(drive.drag_kw[1:]),
        "rolling_J": joules(drive.rr_kw[1:]),
        "ascent_J": joules(drive.ascent_kw[1:]),
        "speeding_up_J": joules(numpy.maximum(drive.accel_kw[1:], 0)),
        "package": f"fastsim {version('fastsim')}",
    }


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "examples" / "schedules"
    OUT.mkdir(parents=True, exist_ok=True)
    for name in ("udds", "wmtc_part1"):
        for road, grade in GRADES.items():
            row = run(folder / f"{name}.csv", grade)
            with open(OUT / f"{name}_{road}.csv", "w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file, lineterminator="\n")
                writer.writerow(row)
                writer.writerow(
                    f"{value:.10g}" if isinstance(value, float) else value for value in row.values()
                )


if __name__ == "__main__":
    main()
