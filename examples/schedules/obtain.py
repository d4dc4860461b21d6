#!/usr/bin/env python3
"""Fetches the published schedules of this folder from the packages that ship them.

Needs Python 3.9 or later with pip, and nothing else. Run it with no argument: it writes the tables
and the licence texts beside itself, byte for byte the same each time. With --check it writes
nothing and ends with 1 if a file here differs from what the packages say.
"""

import ast
import csv
import hashlib
import io
import subprocess
import sys
import tempfile
import zipfile
from decimal import Decimal
from pathlib import Path

HERE = Path(__file__).resolve().parent

# Package, version, SHA-256 of the wheel. The wheel's platform doesn't matter: only texts are read.
WLTP = ("wltp", "0.1.2a0", "2687f9ba7c97fd2ad7b883b1a40422ba7fd3c77ab21b4464dc4a96d1809485eb")
FASTSIM = ("fastsim", "2.1.5", "420c98878f29bc48bf7ac94402bc6ecaa312146a6df49c12c8906a94fe68a543")

# Four decimals of a km/h are 0.03 mm/s: what the packages' rounded m/s say, and no more.
DECIMALS = Decimal("0.0001")


def wheel(package, folder):
    """The wheel of a package, its checksum verified."""
    name, version, checksum = package
    target = ["--only-binary", ":all:", "--python-version", "3.11", "--implementation", "cp"]
    for platform in ("manylinux2014_x86_64", "manylinux_2_17_x86_64"):
        target += ["--platform", platform]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", folder]
    subprocess.run(command + target + [f"{name}=={version}"], check=True)
    (path,) = Path(folder).glob(f"{name}-{version}-*.whl")
    found = hashlib.sha256(path.read_bytes()).hexdigest()
    if found != checksum:
        sys.exit(f"{path.name} has SHA-256 {found}, not {checksum}")
    return zipfile.ZipFile(path)


def table(rows):
    """Our own columns: seconds, and km/h with no more digits than needed."""
    lines = ["time_s,speed_km_h"]
    for seconds, speed in rows:
        text = format(speed.quantize(DECIMALS), "f").rstrip("0").rstrip(".")
        lines.append(f"{seconds},{text}")
    return ("\n".join(lines) + "\n").encode()


def class_1(package):
    """WLTC class 1: a list of km/h, one a second, within the source of the package."""
    tree = ast.parse(package.read("wltp/cycles/class1.py"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and node.targets[0].id == "data":
            speeds = ast.literal_eval(node.value)["cycle"]
            return table((second, Decimal(str(speed))) for second, speed in enumerate(speeds))
    sys.exit("class1.py: no table of speeds found")


def from_metres(package, name):
    """A schedule of `fastsim`: seconds and m/s."""
    text = package.read(f"fastsim/resources/cycles/{name}.csv").decode("utf-8-sig")
    rows = csv.DictReader(io.StringIO(text))
    speed = Decimal("3.6")
    return table((row["cycSecs"], Decimal(row["cycMps"]) * speed) for row in rows)


def licence(package, ending):
    """The one file of the package's metadata that ends so."""
    (name,) = (name for name in package.namelist() if name.endswith(ending))
    return package.read(name)


def files(folder):
    """Every file of this folder that comes from a package."""
    wltp, fastsim = wheel(WLTP, folder), wheel(FASTSIM, folder)
    return {
        "wltc_class1.csv": class_1(wltp),
        "wmtc_part1.csv": from_metres(fastsim, "wmtc_part1"),
        "udds.csv": from_metres(fastsim, "udds"),
        "wltp-LICENSE-EUPL-1.1.txt": licence(wltp, ".dist-info/LICENSE.txt"),
        "fastsim-LICENSE-APACHE-2.0.txt": licence(fastsim, "license_files/LICENSE"),
        "fastsim-NOTICE.txt": licence(fastsim, "license_files/NOTICE"),
    }


def main():
    check = sys.argv[1:] == ["--check"]
    if sys.argv[1:] and not check:
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        for name, content in files(folder).items():
            path = HERE / name
            if not check:
                path.write_bytes(content)
            elif not path.exists() or path.read_bytes() != content:
                sys.exit(f"{name} differs from its package")


if __name__ == "__main__":
    main()
