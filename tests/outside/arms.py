"""Several traces on one cloth against NumPy, which draws the places of the cloth and adds up each delay step by step.

    arms.py PROGRAM WEAVES

Of a straight trace a few um long `weftwise skew` maps the local slowness, each ply's over its cell. SciPy interpolates these maps, and
the delay of an arm is their sum over steps of some um along it: no harmonics, no map per arm. All arms share the places, the
turn and the stretch that are drawn. Of n draws a quantile q is off by sqrt(p (1 - p)/n)/f(q), a correlation r by
(1 - r^2)/sqrt(n), a standard deviation by a share sqrt((k - 1)/4n), k its kurtosis: four times that are allowed, and the
shares below for steps, maps and the slowness of a direction that is taken for a turned one, too.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy import ndimage

N = 4000
STEP = 25e-6
SHORT = 10e-6  # [m], of the trace whose delay tells the slowness
ANGLE = 3.0  # trace.angle [deg]
BUDGET = 0.55e-12
SHARE = 0.005  # square cloth
TURNED_SHARE = 0.03  # slowness of the nominal direction, turned by up to 1 deg
BOARD = """[study]
fineness = 0.5
sections = 0
[stackup]
resin = low-loss
layer = air
layer = trace
layer = ply 2116 110 um
layer = ply 1080 75 um
layer = plane
[trace]
width = 200 um
thickness = 18 um
angle = {angle} deg
{length}
[fabric]
turn = {turn} deg
count_tolerance = {counts} %
[signal]
budget = 0.55 ps
dispersion = no
[resin low-loss]
dk = 3.0
df = 0.0025
density = 1.4 g/cm3
"""
# name: start [mm], segments [mm, deg]
ARMS = {
    "route": ((0.0, 0.0), ((18.0, -3.0), (8.0, 30.0))),
    "b": ((-3.1, 0.7), ((14.0, -3.0), (9.0, -40.0))),
    "c": ((2.3, -0.4), ((25.0, -1.0),)),
}


def solve(program, weaves, folder, text):
    study = folder / "study.ini"
    study.write_text(text)
    out = subprocess.run(
        [program, "skew", study, "-o", folder / "out", "--weaves", weaves, "--json", "--quiet"],
        check=True,
        stdout=subprocess.PIPE,
    ).stdout
    return json.loads(out)


def sections():
    text = ""
    for name, (start, segments) in ARMS.items():
        if name == "route":
            text += "[route]\n"
        else:
            text += f"[route {name}]\nfrom = {start[0]} mm, {start[1]} mm\n"
        text += "".join(f"segment = {length} mm {angle} deg\n" for length, angle in segments)
    return text


def slowness_maps(program, weaves, folder):
    """For each direction [deg] the local slowness of both plies less its mean [s/m], as spline coefficients; and the cells."""
    maps = {}
    for _, segments in ARMS.values():
        for _, angle in segments:
            if angle in maps:
                continue
            text = BOARD.format(angle=ANGLE + angle, length=f"length = {SHORT * 1e6:g} um", turn=0, counts=0)
            answer = solve(program, weaves, folder, text)
            cells = [(2e-6 * ply["warp_pitch_um"], 2e-6 * ply["fill_pitch_um"]) for ply in answer["fabric"]]
            maps[angle] = [
                ndimage.spline_filter(np.load(folder / "out" / f"skew-ply{p + 1}.npy").astype(float) / SHORT, mode="grid-wrap")
                for p in range(2)
            ]
    return maps, cells


def delays(maps, cells, places, turn, stretch):
    """[arm][draw]: delay less its mean."""
    sums = np.zeros((len(ARMS), len(turn)))
    for row, (start, segments) in enumerate(ARMS.values()):
        x0, y0 = start[0] * 1e-3, start[1] * 1e-3
        for length, angle in segments:
            length *= 1e-3
            steps = math.ceil(length / STEP)
            along = (np.arange(steps) + 0.5) * length / steps - SHORT / 2  # a map's trace starts there
            theta = math.radians(angle)
            x, y = x0 + along * math.sin(theta), y0 + along * math.cos(theta)
            for p, (lx, ly) in enumerate(cells):
                by = math.radians(ANGLE) + turn[:, None]
                cloth_x = places[p, 0][:, None] + (x * np.cos(by) + y * np.sin(by)) / (lx * (1 + stretch[0][:, None]))
                cloth_y = places[p, 1][:, None] + (y * np.cos(by) - x * np.sin(by)) / (ly * (1 + stretch[1][:, None]))
                n = maps[angle][p].shape[0]
                at = [cloth_y % 1 * n - 0.5, cloth_x % 1 * n - 0.5]
                local = ndimage.map_coordinates(maps[angle][p], at, mode="grid-wrap", prefilter=False)
                sums[row] += local.sum(axis=1) * length / steps
            x0 += length * math.sin(theta)
            y0 += length * math.cos(theta)
    return sums


def close(name, got, want, allowed):
    print(f"{name}: {got:.6g}, drawn {want:.6g}, allowed {allowed:.2g}")
    if not abs(got - want) <= allowed:
        sys.exit(f"{name} is off by {got - want:.3g}")


def quantile(name, got, values, share, more):
    low, want, high = np.quantile(values, [max(share - 0.02, 0), share, min(share + 0.005, 1)])
    density = (min(share + 0.005, 1) - max(share - 0.02, 0)) / (high - low)
    close(name, got * 1e-12, want, 4 * math.sqrt(share * (1 - share) / N) / density + more * want)


def compare(answer, values, more):
    joint = answer["on_one_cloth"]
    spread = values.max(axis=0) - values.min(axis=0)
    correlation = np.corrcoef(values)
    for i, member in enumerate(joint["members"]):
        centred = values[i] / values[i].std()
        kurtosis = (centred**4).mean()
        close(
            f"deviation of {member['name']}",
            member["deviation_ps"] * 1e-12,
            values[i].std(),
            values[i].std() * (4 * math.sqrt((kurtosis - 1) / (4 * N)) + more),
        )
        for j in range(i):
            r = correlation[i, j]
            close(f"correlation {i} {j}", joint["correlation"][i][j], r, 4 * (1 - r * r + 0.1) / math.sqrt(N) + more)
    quantile("median", joint["median_ps"], spread, 0.5, more)
    quantile("99 of 100", joint["p99_ps"], spread, 0.99, more)
    square = values.var(axis=0)
    rms = math.sqrt(square.mean())
    close("rms", joint["rms_ps"] * 1e-12, rms, 4 * square.std() / math.sqrt(N) / (2 * rms) + more * rms)
    share = (spread <= BUDGET).mean()
    if not 0.02 < share < 0.98:
        sys.exit(f"the budget tells nothing: {share}")
    close("yield", joint["yield"], share, 4 * math.sqrt(share * (1 - share) / N) + more)
    worst = joint["worst_ps_with_turn"] * 1e-12
    print(f"worst {worst:.6g}, of the draws {spread.max():.6g}")
    if not (1 - more) * spread.max() <= worst:
        sys.exit("a drawn placement exceeds the worst")


def main():
    program, weaves = sys.argv[1:3]
    rng = np.random.default_rng(13)
    places = rng.random((2, 2, N))
    none = np.zeros(N)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        maps, cells = slowness_maps(program, weaves, folder)
        answer = solve(program, weaves, folder, BOARD.format(angle=ANGLE, length=sections(), turn=0, counts=0))
        compare(answer, delays(maps, cells, places, none, (none, none)), SHARE)
        print("with turn and counts")
        answer = solve(program, weaves, folder, BOARD.format(angle=ANGLE, length=sections(), turn=1, counts=1))
        turn = np.radians(rng.uniform(-1, 1, N))
        stretch = rng.uniform(-0.01, 0.01, (2, N))
        compare(answer, delays(maps, cells, places, turn, stretch), TURNED_SHARE)


main()
