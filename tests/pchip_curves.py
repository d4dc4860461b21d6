"""Monotone cubics by a general-purpose numeric library, for the check of throttle curves.

Needs scipy (any recent one; 1.17.1 made the file). Writes data/pchip_curves.csv: a few invented
sets of handles, and what scipy.interpolate.PchipInterpolator says at 64ths of the thumb's way and
between them.

    python3 pchip_curves.py > data/pchip_curves.csv
"""

from scipy.interpolate import PchipInterpolator

# Invented handles: thumb, acceleration in m/s². Each begins at the origin, as a curve does.
CURVES = {
    "soft": [(0, 0), (0.5, 0.5), (1, 1.6)],
    "early": [(0, 0), (0.125, 0.6), (0.5, 1.2), (1, 1.4)],
    "shelf": [(0, 0), (0.25, 0.8), (0.625, 0.8), (1, 2.4)],
    "late": [(0, 0), (0.75, 0.1), (0.875, 0.9), (1, 3.0)],
    "many": [(0, 0), (0.125, 0.05), (0.25, 0.2), (0.375, 0.25), (0.5, 0.9),
             (0.625, 1.3), (0.75, 1.35), (0.875, 1.9), (1, 2.0)],
    "line": [(0, 0), (1, 2.0)],
}

print("curve,kind,thumb,acceleration_m_s2")
for name, handles in CURVES.items():
    for thumb, acceleration in handles[1:]:
        print(f"{name},handle,{thumb},{acceleration}")
    curve = PchipInterpolator(*zip(*handles))
    for step in range(0, 129):
        thumb = step / 128
        print(f"{name},value,{thumb},{float(curve(thumb)):.9f}")
