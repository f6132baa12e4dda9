#!/usr/bin/python3
"""Dispersion of bare microstrip against a full-wave solution, and against another library's formulas.

SPDX-License-Identifier: GPL-3.0-or-later

    dispersion.py WEFTWISE

Full wave: the modes of the cross-section in a metal box from Maxwell's equations on a staggered grid (Z. Zhu and
T. G. Brown, Optics Express 10, 853, 2002; here for the transverse electric field, edges in copper left out). A trace 220 um
by 18 um on 100 um of Dk 3.28, and one without thickness, at 77 GHz over 0.5 GHz on one grid, so that what the grid is off by
cancels. Measured on the same grid: doubling its fineness moves the factors by 0.03 %, a box of half the size by 0.2 %.
Kirschning and Jansen state 0.6 % for the permittivity of a trace and 1.4 % for that of a pair's mode, 0.3 and 0.7 % of a
delay; their derivative has no stated accuracy.

One bundle in the substrate is not the whole of it: a block of Dk +0.3 under the trace, at its edge and beside it, shows by
how much the one factor for all is off.

Formulas: scikit-rf's microstrip with this dispersion, where it is installed (python3-scikit-rf); it evaluates them at eps_r
and static permittivity of its own, which are put into ours.
"""
import json
import subprocess
import sys
import tempfile

import numpy as np
import scipy.sparse as sparse
import scipy.sparse.linalg

um = 1e-6
c0 = 299792458.0
width, height, thickness, dk = 220 * um, 100 * um, 18 * um, 3.28


def lines(points, step, low, high):
    """Grid lines through the points, `step` apart between them, growing by a tenth each outside."""
    at = [points[0]]
    for a, b in zip(points, points[1:]):
        count = max(1, int(np.ceil((b - a) / step - 1e-9)))
        at += list(a + (b - a) * np.arange(1, count + 1) / count)
    grow = step
    while at[0] > low:
        grow *= 1.1
        at.insert(0, max(low, at[0] - grow))
    grow = step
    while at[-1] < high:
        grow *= 1.1
        at.append(min(high, at[-1] + grow))
    return np.array(at)


def permittivity(x, y, eps, foil, copper, frequency):
    """eps_eff of the slowest mode. eps, copper: of each cell; foil: (level, first node, last node) of a strip without thickness."""
    nx, ny = len(x) - 1, len(y) - 1
    dx, dy = np.diff(x), np.diff(y)
    dual = [np.r_[d[0], d[:-1] + d[1:], d[-1]] / 2 for d in (dx, dy)]
    wx, wy = np.r_[0, dx, 0], np.r_[0, dy, 0]
    around = np.pad(eps, 1, mode="edge")
    metal = np.pad(copper, 1, constant_values=True)
    eps_x = (around[1:-1, :-1] * wy[:-1] + around[1:-1, 1:] * wy[1:]) / (wy[:-1] + wy[1:])
    eps_y = ((around[:-1, 1:-1].T * wx[:-1] + around[1:, 1:-1].T * wx[1:]) / (wx[:-1] + wx[1:])).T
    corner = [around[i:nx + 1 + i, j:ny + 1 + j] * np.outer(wx[i:nx + 1 + i], wy[j:ny + 1 + j])
              for i in (0, 1) for j in (0, 1)]
    eps_z = sum(corner) / np.outer(wx[:-1] + wx[1:], wy[:-1] + wy[1:])
    in_x = metal[1:-1, :-1] | metal[1:-1, 1:]
    in_y = metal[:-1, 1:-1] | metal[1:, 1:-1]
    in_z = metal[:-1, :-1] | metal[1:, :-1] | metal[:-1, 1:] | metal[1:, 1:]
    if foil:
        level, first, last = foil
        in_x[first:last, level] = True
        in_z[first:last + 1, level] = True

    def forward(d):
        return sparse.diags([-1 / d, 1 / d], [0, 1], shape=(len(d), len(d) + 1))

    def backward(d):
        return sparse.diags([1 / d[:-1], -1 / d[1:]], [0, -1], shape=(len(d), len(d) - 1))

    def kron(a, b):
        return sparse.kron(a, b, format="csr")

    one = sparse.identity
    curl = [-kron(one(nx), forward(dy)), kron(forward(dx), one(ny))]  # of Ex and Ey, along z
    back = [-kron(one(nx), backward(dual[1])), kron(backward(dual[0]), one(ny))]
    gradient = [kron(forward(dx), one(ny + 1)), kron(one(nx + 1), forward(dy))]
    divergence = [kron(backward(dual[0]), one(ny + 1)), kron(one(nx + 1), backward(dual[1]))]
    along = sparse.diags((~in_z).ravel() / eps_z.ravel())
    k0 = 2 * np.pi * frequency / c0
    transverse = [sparse.diags(eps_x.ravel()), sparse.diags(eps_y.ravel())]
    live = [np.flatnonzero(~in_x.ravel()), np.flatnonzero(~in_y.ravel())]
    block = [[(back[i] @ curl[j] + gradient[i] @ along @ divergence[j] @ transverse[j]
               + (k0 ** 2 * transverse[i] if i == j else 0 * (back[i] @ curl[j])))[live[i]][:, live[j]]
              for j in (0, 1)] for i in (0, 1)]
    value = sparse.linalg.eigs(sparse.bmat(block, format="csc"), k=2, sigma=eps.max() * k0 ** 2,
                               return_eigenvectors=False, v0=np.ones(len(live[0]) + len(live[1])))
    return max(value.real) / k0 ** 2


def microstrip(t, eps_r, frequency, block=None, pair=None):
    """pair: width and gap; its odd mode has an electric wall between the legs, at x = 0."""
    half, middle, box = width / 2, 0.0, (48 * height, 40 * height)
    if pair:
        half, middle = pair[0] / 2, (pair[0] + pair[1]) / 2
    left, right = middle - half, middle + half
    x = lines([left, middle, right], 5 * um, 0.0 if pair else left - box[0], right + box[0])
    y = lines(sorted({0.0, height, height + t}), 5 * um, 0.0, height + box[1])
    at_x, at_y = (x[:-1] + x[1:]) / 2, (y[:-1] + y[1:]) / 2
    eps = np.where(at_y < height, eps_r, 1.0) * np.ones((len(at_x), 1))
    if block:
        eps[np.ix_((at_x > block[0]) & (at_x < block[1]), (at_y > 30 * um) & (at_y < 70 * um))] += block[2]
    copper = np.zeros(eps.shape, dtype=bool)
    copper[np.ix_((at_x > left) & (at_x < right), (at_y > height) & (at_y < height + t))] = True
    foil = tuple(int(np.argmin(np.abs(line - at))) for line, at in ((y, height), (x, left), (x, right)))
    return permittivity(x, y, eps, foil, copper, frequency)


def ours(program, t, eps_r=dk, frequency="77 GHz", w=width, h=height, gap=None):
    pitch = f"pitch = {(w + gap) / um} um\n" if gap else ""
    with tempfile.TemporaryDirectory() as folder:
        study = folder + "/strip.ini"
        with open(study, "w", encoding="utf-8") as out:
            out.write(f"[stackup]\nlayer = air\nlayer = trace\nlayer = solid {h / um} um dk={eps_r} df=0\n"
                      f"layer = plane\n[trace]\nwidth = {w / um} um\nthickness = {t / um} um\nlength = 24 mm\n{pitch}"
                      f"[signal]\nfrequency = {frequency}\n")
        run = subprocess.run([program, "skew", study, "-o", folder, "--json", "--quiet"], check=True,
                             stdout=subprocess.PIPE)
    line = json.loads(run.stdout)["line"]
    return line["dk_eff"], line["dispersion"]


failures = 0


def compare(what, got, want, tolerance):
    global failures
    good = abs(got / want - 1) <= tolerance
    failures += not good
    print(f"{what:48s} {got:.6f} {want:.6f} {100 * (got / want - 1):+.4f} %{'' if good else '  FAILED'}")


def against_full_wave(program):
    low, high, step = 0.5e9, 77e9, 0.05
    for t in (0.0, thickness):
        ratio = np.sqrt(microstrip(t, dk, high) / microstrip(t, dk, low))
        rise = [microstrip(t, dk + step, f) - microstrip(t, dk - step, f) for f in (high, low)]
        _, at = ours(program, t)
        name = f"{t / um:.0f} um thick, 77 GHz: "
        compare(name + "mean", at["mean_factor"], ratio, 0.003)
        compare(name + "change with all of the substrate", at["change_factor"], rise[0] / rise[1] / ratio, 0.01)
        for place, where in (("under", (-60 * um, 60 * um)), ("edge", (60 * um, 180 * um)),
                             ("beside", (120 * um, 240 * um))):
            moved = [microstrip(t, dk, f, where + (0.3,)) - microstrip(t, dk, f, where + (-0.3,)) for f in (high, low)]
            compare(name + "block " + place, at["change_factor"], moved[0] / moved[1] / ratio, 0.02)


def pair_against_full_wave(program):
    low, high, step, t = 0.5e9, 77e9, 0.05, thickness
    for w, gap in ((120 * um, 120 * um), (140 * um, 60 * um)):
        def mode(eps_r, f):
            return microstrip(t, eps_r, f, pair=(w, gap))
        ratio = np.sqrt(mode(dk, high) / mode(dk, low))
        rise = [mode(dk + step, f) - mode(dk - step, f) for f in (high, low)]
        _, at = ours(program, t, w=w, gap=gap)
        name = f"pair, {w / um:.0f} um wide, {gap / um:.0f} um gap, odd: "
        compare(name + "mean", at["mean_factor"], ratio, 0.007)
        compare(name + "change", at["change_factor"], rise[0] / rise[1] / ratio, 0.02)


def against_scikit_rf(program):
    try:
        import skrf
        from skrf.media.mline import MLine
    except ImportError:
        print("scikit-rf is not installed (python3-scikit-rf): its formulas are not compared")
        return
    for w, h, eps_r, ghz in ((220, 100, 3.28, 77), (100, 100, 3.6, 28), (600, 600, 9.8, 20), (250, 127, 2.2, 110)):
        at = skrf.Frequency(ghz, ghz, 1, "ghz")
        line = MLine(at, w=w * um, h=h * um, t=0, ep_r=eps_r, tand=0, rho=0, rough=0,
                     disp="kirschningjansen", diel="frequencyinvariant")
        still, there = (float(np.real(v).ravel()[0]) for v in (line.ep_reff, line.ep_reff_f))
        got, dispersion = ours(program, 0, eps_r, f"{ghz} GHz", w * um, h * um)
        # 1/(1 + P) is free of the static permittivity, which differs by up to 0.2 %
        compare(f"scikit-rf, {w} um on {h} um of {eps_r}, {ghz} GHz", (eps_r - got) / (eps_r - dispersion["dk_eff_static"]),
                (eps_r - there) / (eps_r - still), 1e-6)


if __name__ == "__main__":
    against_scikit_rf(sys.argv[1])
    against_full_wave(sys.argv[1])
    pair_against_full_wave(sys.argv[1])
    sys.exit(failures > 0)
