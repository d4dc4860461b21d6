"""Finds the slow constants of the truth model of a cell from the cell's own tables.

Used: resting voltage over charge, resistance after 1 s and 10 s, charge left when a steady 1C
discharge meets the cutoff, and the table of relaxation after a minute at 2C. Ride traces are not read.

    python fit_cells.py FOLDER [CELL..] FOLDER holds ocv_*.csv, resistance_*.csv, cell_*.json, README.md

Model (the same as in `cell/`): V = P(s - d_slow) + N(s - d_quick) - R0 I - R1 i1 - R2 i2 - R3 i3.
P is the plateau of the resting curve, carried on straight below `knee_soc`; N is the rest of it.
d are the charge deficits at the surface of two spheres (J. Crank, The Mathematics of Diffusion,
1975, section 6.3; four first-order lags fitted to its step response), i1 to i3 the lagged current.
The third stands for the salt gradient of the electrolyte: it is `branch3_share` of the 10 s resistance.
"""
import csv, json, re, sys
import numpy as np
from scipy.optimize import least_squares

GAS, FARADAY = 8.314462618, 96485.33212
# Four lags for the surface of a sphere under constant flux: within 1.2 % from 1e-4 to 2 diffusion times.
GAIN = np.array([0.040404, 0.017039, 0.00611, 0.002996]); GAIN = GAIN / GAIN.sum() / 15
LAG = np.array([0.0430158, 0.0059192, 0.0006804, 6.06e-05])
FAST_SHARE, FAST_S = 0.1, 1.5        # the tables begin at 1 s: they say nothing of these two
KINETIC_E = 30e3                     # J/mol, charge transfer in the middle of the published 20 to 40 kJ/mol
CELLS = {"nmc811_21700_chen": 0.0, "nmc811_21700_oregan": 0.0, "nmc811_21700_okane": 0.0,
         "nca_pouch_kim": 0.0, "lco_pouch_ai": 0.0, "lfp_26650_prada": 1.0}   # quick_share by kind


def warmth(E, T):
    return np.exp(E / GAS * (1 / (T + 273.15) - 1 / 298.15))


def load(folder, name):
    rows = list(csv.DictReader(open(f"{folder}/ocv_{name}.csv")))
    col = lambda key: np.array([float(r[key]) for r in rows])
    s, v = col("soc"), col("ocv_25degC_V")
    keep = np.append(True, np.diff(s) > 0)       # one row stands twice
    k = np.zeros_like(s)
    if "ocv_0degC_V" in rows[0]:
        k = ((col("ocv_0degC_V") - v) * -25 + (col("ocv_40degC_V") - v) * 15) / (25**2 + 15**2)
    pulses = {(float(r["soc"]), float(r["temperature_degC"])): (float(r["r_dc_1s_1C_ohm"]), float(r["r_dc_10s_1C_ohm"]))
              for r in csv.DictReader(open(f"{folder}/resistance_{name}.csv"))}
    relax = []
    for line in open(f"{folder}/README.md"):
        m = re.match(r"\| `(\w+)` \| (\d+) % \| (\d+) \| (.*) \|$", line)
        if m and m[1] == name:
            relax.append((int(m[2]) / 100, float(m[3]), [float(re.search(r"\((.*?)\)", c)[1]) for c in m[4].split("|")]))
    facts = json.load(open(f"{folder}/cell_{name}.json"))
    return dict(s=s[keep], v=v[keep], k=k[keep], pulses=pulses, relax=relax, facts=facts)


class Cell:
    def __init__(self, data, tail):
        self.d, self.p = data, tail
        self.Q, self.I = data["facts"]["capacity_Ah"] * 3600, data["facts"]["nominal_1C_A"]
        self.unfit = 0.0
        self.solve()

    def U(self, x, T=25.0):
        s, v = self.d["s"], self.d["v"]
        low, high = (v[1] - v[0]) / (s[1] - s[0]), (v[-1] - v[-2]) / (s[-1] - s[-2])
        return (np.interp(x, s, v) + low * np.minimum(x, 0) + high * np.maximum(x - 1, 0)
                + (T - 25) * np.interp(x, s, self.d["k"]))

    def P(self, x):
        knee = self.p["knee_soc"]
        a, b = np.interp([knee, knee + 0.2], self.d["s"], self.d["v"])
        return np.where(x >= knee, self.U(x), a + (x - knee) * (b - a) / 0.2)

    def deficits(self, t, T, pulse=None):
        out = []
        for Td in (self.p["quick_s"], self.p["slow_s"]):
            Td = Td * warmth(self.p["diffusion_J_mol"], T)
            grown = 1 - np.exp(-np.multiply.outer(t, 1 / (LAG * Td)))
            if pulse is not None:
                grown = (1 - np.exp(-pulse / (LAG * Td))) * (1 - grown)
            out.append((GAIN * Td * grown).sum(-1))
        return out

    def loaded(self, soc, T, I, deficits):
        quick, slow = (I * x / self.Q for x in deficits)
        share = 1 - self.p["quick_share"]
        return share * (self.P(soc - slow) - self.P(soc - quick)) + self.U(soc - quick) + self.U(soc, T) - self.U(soc)

    def lag2(self, T):
        return self.p["branch2_s"] * warmth(self.p["branch2_J_mol"], T)

    def lag3(self, T):
        return self.p["branch3_s"] * warmth(self.p["branch2_J_mol"], T)

    def solve(self):
        e = lambda t, tau: 1 - np.exp(-t / tau)
        self.rows = {}
        for (soc, T), (r1, r10) in self.d["pulses"].items():
            drop = [(self.U(soc, T) - self.loaded(soc - self.I * t / self.Q, T, self.I, self.deficits(t, T))) / self.I for t in (1.0, 10.0)]
            t2, t3 = self.lag2(T), self.lag3(T)
            R3 = self.p["branch3_share"] * r10
            drop = [d + R3 * e(t, t3) for d, t in zip(drop, (1.0, 10.0))]
            growth = (r10 - drop[1]) - (r1 - drop[0])
            R1 = FAST_SHARE * r1
            R2 = (growth - R1 * (e(10, FAST_S) - e(1, FAST_S))) / (e(10, t2) - e(1, t2))
            if R2 < 0:
                R2, R1 = 0.0, max(growth / (e(10, FAST_S) - e(1, FAST_S)), 0.0)
                self.unfit += (min(growth, 0.0) / r10) ** 2
            R0 = 0.5 * (r1 - drop[0] - R1 * e(1, FAST_S) - R2 * e(1, t2) + r10 - drop[1] - R1 * e(10, FAST_S) - R2 * e(10, t2))
            self.rows[(soc, T)] = (R0, R1, R2, R3)

    def R(self, soc, T):
        socs, temps = (sorted({k[i] for k in self.rows}) for i in (0, 1))
        u, at = -1 / (np.array(temps) + 273.15), -1 / (T + 273.15)
        i = min(max(np.searchsorted(u, at) - 1, 0), len(u) - 2)
        w = (at - u[i]) / (u[i + 1] - u[i])
        a, b = (np.array([self.rows[(x, temps[j])] for x in socs]) for j in (i, i + 1))
        r = np.where((a > 0) & (b > 0), np.maximum(a, 1e-12) ** (1 - w) * np.maximum(b, 1e-12) ** w, np.maximum(a + w * (b - a), 0))
        return [np.interp(soc, socs, r[:, k]) for k in range(4)]

    def relaxation(self, soc, T, after=(10, 30, 60, 300, 1800, 7200), pulse=60.0):
        I, t, t2 = 2 * self.I, np.array(after, float), self.lag2(T)
        _, R1, R2, R3 = self.R(soc, T)
        left = lambda tau: I * (1 - np.exp(-pulse / tau)) * np.exp(-t / tau)
        return 1e3 * (self.loaded(soc, T, I, self.deficits(t, T, pulse)) - self.U(soc, T) - R1 * left(FAST_S) - R2 * left(t2) - R3 * left(self.lag3(T)))

    def steady(self, soc, T):
        t = (1 - soc) * self.Q / self.I
        R0, R1, R2, R3 = self.R(soc, T)
        late = R2 * (1 - np.exp(-t / self.lag2(T))) + R3 * (1 - np.exp(-t / self.lag3(T)))
        return self.loaded(soc, T, self.I, self.deficits(t, T)) - self.I * (R0 + R1 + late)

    def left_at_cutoff(self, T):
        soc = np.arange(1, 0, -0.0011)
        over = self.steady(soc, T) - self.d["facts"]["controller_cutoff_V"]
        if not (over < 0).any():
            return 0.0
        at = max(np.argmax(over < 0), 1)      # straight between the two, or the search sees steps
        return soc[at - 1] + (soc[at] - soc[at - 1]) * over[at - 1] / (over[at - 1] - over[at])


NAMES = ["quick_s", "slow_s", "diffusion_J_mol", "branch2_s", "branch2_J_mol", "knee_soc", "branch3_s", "branch3_share"]
# mV by time after the load: what counts is 60 s and later (10 mV are promised, so 3 there); earlier, the tables' one current cannot tell
# diffusion from the steps of the graphite curve, which one resting curve does not hold apart.
WEIGHT_mV = np.array([20, 12, 3, 1.5, 1, 1])


def unpack(x, share):
    values = [np.exp(x[0]), np.exp(x[1]), x[2] * 1e4, np.exp(x[3]), x[4] * 1e4, x[5], np.exp(x[6]), x[7]]
    return dict(zip(NAMES, map(float, values)), quick_share=share)


def misfit(x, data, share):
    cell = Cell(data, unpack(x, share))
    out = [(cell.relaxation(soc, T) - np.array(mV)) / WEIGHT_mV for soc, T, mV in data["relax"]]
    for T in (10, 25, 40):
        left = data["facts"]["soc_left_when_1C_discharge_reaches_cutoff"][f"{T}degC"]
        out.append([(cell.left_at_cutoff(T) - left) / 0.005, (cell.steady(left, T) - data["facts"]["controller_cutoff_V"]) / 0.04])
    # 10 kJ/mol is a guess that counts only where the tables are silent on warmth.
    return np.concatenate(out + [[0.05 * (x[2] - 1), 0.05 * (x[4] - 1), 20 * np.sqrt(cell.unfit)]])


def kinetic_share(data):
    """Share of the 1 s resistance at 25 degC that is charge transfer, told by how it falls with warmth."""
    T, I = np.array([0, 10, 25, 40.0]), data["facts"]["nominal_1C_A"]
    K = T + 273.15
    r = np.array([[data["pulses"][(s, t)][0] for t in T] for s in (0.3, 0.5, 0.7)])
    at = lambda x, k: x[0] ** 2 + 4 * GAS * K / FARADAY / I * np.arcsinh(I / (np.exp(x[1 + k]) / warmth(KINETIC_E, T)))
    fit = least_squares(lambda x: np.concatenate([at(x, k) / r[k] - 1 for k in range(3)]), [0.05] + [np.log(I)] * 3)
    return float(1 - fit.x[0] ** 2 / r[1][2])


STARTS = [[np.log(a), np.log(b), 1, np.log(c), 1, 0.2, np.log(80), d]
          for a, b, c in ((800, 6000, 15), (300, 3000, 30), (3000, 800, 12), (200, 200, 30), (8000, 500, 20),
                          (1500, 100, 30), (4000, 100, 25), (1200, 2500, 35)) for d in (0.05, 0.15, 0.3)]

if __name__ == "__main__":
    folder = sys.argv[1]
    found = {}
    for name, share in CELLS.items():
        if sys.argv[2:] and name not in sys.argv[2:]:
            continue
        data = load(folder, name)
        fits = [least_squares(misfit, x, args=(data, share), loss="soft_l1", diff_step=1e-3,
                              bounds=([3.4, 3.4, -1, np.log(10), -1, 0.1, np.log(30), 0.0], [9.6, 9.6, 8, np.log(40), 8, 0.35, np.log(200), 0.6])) for x in STARTS]
        best = min(fits, key=lambda f: f.cost)
        tail = unpack(best.x, share)
        cell = Cell(data, tail)
        tail["kinetic_share"] = kinetic_share(data)
        found[name] = tail
        print(f"\n{name}  cost {best.cost:.2f} of", [round(float(f.cost), 2) for f in fits])
        print("  ", {k: round(v, 3) for k, v in tail.items()})
        for soc, T, mV in data["relax"]:
            print("   relaxation", soc, T, np.round(cell.relaxation(soc, T), 1).tolist(), "table", mV)
        for T in (0, 10, 25, 40):
            print("   left at cutoff", T, round(float(cell.left_at_cutoff(T)), 4), "table", data["facts"]["soc_left_when_1C_discharge_reaches_cutoff"][f"{T}degC"])
        print("   mohm at 25 degC", {k[0]: np.round(1e3 * np.array(v), 2).tolist() for k, v in sorted(cell.rows.items()) if k[1] == 25})
    json.dump(found, open("found.json", "w"), indent=1)
