"""The sums of `weftwise budget` against circuits drawn by NumPy from the exact delay of a line in one material.

    budget.py PROGRAM WEAVES

In a stripline all around in one resin the delay is L (1 + a (T - 23)) sqrt(Dk0 (1 + t (T - 23)) + x)/c0, exact. NumPy draws x, T
and the others by their laws, two circuits at a time, as they share or not; no parabola, no convolution. A quantile q of n draws is
off by sqrt(p (1 - p)/n)/f(q); four times that are allowed, and 0.1 % for what the parabolas leave. SciPy gives the exact density of
one case, a difference of two uniform values, for a check of the draws themselves.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy import stats

C0 = 299792458.0
N = 400000
STUDY = """[stackup]
layer = plane
layer = resin 100 um dk=3.4 df=0.003
layer = trace
layer = resin 100 um dk=3.4 df=0.003
layer = plane
[trace]
width = 100 um
thickness = 0 um
length = 50 mm
[signal]
frequency = 28 GHz
[tolerance]
resin.dk = 0.06 normal boards
temperature = -40 degC to 125 degC uniform life
resin.tcdk = 150 ppm/degC
expansion = 16 ppm/degC
moisture = 0.3 % uniform board
moisture.dk = 0.04
"""


def law(rng, name):
    if name == "uniform":
        return rng.uniform(-1, 1, N)
    drawn = rng.standard_normal(2 * N)
    return (drawn[np.abs(drawn) <= 3] / 3)[:N]


def delay(x, temperature, water):
    off = temperature - 23
    return 0.05 * (1 + 16e-6 * off) * np.sqrt((3.4 + x) * (1 + 150e-6 * off) + water) / C0


def two(rng, level):
    """Difference of two circuits: what has a scope beyond the level is the same for both."""
    def draw(scope, values):
        first = values()
        return first, values() if scope <= level else first
    x = draw(1, lambda: 0.06 * law(rng, "normal"))
    temperature = draw(2, lambda: 42.5 + 82.5 * law(rng, "uniform"))
    water = draw(0, lambda: 0.02 + 0.02 * law(rng, "uniform"))
    return delay(x[0], temperature[0], water[0]) - delay(x[1], temperature[1], water[1])


def quantile(values, p=0.99):
    ordered = np.sort(np.abs(values))
    at, wide = np.quantile(ordered, p), np.quantile(ordered, p + 0.002) - np.quantile(ordered, p - 0.002)
    return at, np.sqrt(p * (1 - p) / N) * wide / 0.004


def main():
    program, weaves = sys.argv[1:]
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder, "line.ini")
        study.write_text(STUDY)
        result = json.loads(subprocess.run([program, "budget", study, "--json", "--weaves", weaves, "-o", folder], check=True,
                                           capture_output=True, text=True).stdout)
    wrong = []
    # the draws themselves: of two uniform values on -1 .. 1 the difference is triangular
    at, error = quantile(law(rng, "uniform") - law(rng, "uniform"))
    exact = stats.triang(0.5, loc=-2, scale=4).ppf(0.995)
    if not abs(at - exact) <= 4 * error:
        wrong.append(f"draws: {at} for {exact}")
    for level, name in enumerate(("board", "boards", "life")):
        at, error = quantile(two(rng, level))
        told = result["levels"][name]["p99_ps"] * 1e-12
        print(f"{name:7} told {told * 1e12:.4f} ps, drawn {at * 1e12:.4f} +- {error * 1e12:.4f} ps")
        if not abs(told - at) <= 4 * error + 1e-3 * at:
            wrong.append(f"{name}: {told} for {at} +- {error}")
    print("\n".join(wrong) if wrong else "sums agree with draws")
    sys.exit(1 if wrong else 0)


main()
