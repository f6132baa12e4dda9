#!/usr/bin/python3
"""Real cloth against NumPy: paths against their covariance, walks against a slow integral, figures against cloth drawn otherwise.

SPDX-License-Identifier: GPL-3.0-or-later

    cloth.py PROGRAM

1. The covariance matrix of twelve points on two yarns over 400 patches against the stated one: each entry within five standard
   errors, and the likelihood of the whole: the sum of x C^-1 x is chi-squared.
2. Where all warp yarns wander together by xi(s), the skew of a trace along the warp from (x0, y0) is
       sum over k of c_k integral of exp(i (kx (x0 - xi(s)) + ky (y0 + s))) ds,
   summed here by the midpoint rule in steps of 5 um. The program's walk, in steps of 200 um over splines of single yarns, must give
   the same within 3e-4 of its largest (the step's own error; the harmonics come from the program's scan, the cloth is its own).
3. Paths drawn here by a Cholesky factor of the covariance, not wrapped around anything, and the same integral, with the harmonics
   that are constant along the trace alone: median and 99 of 100 within twice the program's own 95 % interval, and this one's.
"""
import json
import subprocess
import sys

import numpy as np

DRAWS, PLACES = 600, 8  # of the third check


def check_paths(dump, wrong):
    x = np.array(dump["paths"])
    s = 2e-3 * (np.arange(12) % 6)
    apart = np.where(np.add.outer(np.arange(12) // 6, -(np.arange(12) // 6)) == 0, 0, 2)
    stated = (30e-6) ** 2 * 0.8 ** apart * np.exp(-(np.subtract.outer(s, s) / dump["wander_length"]) ** 2)
    found = x.T @ x / len(x)
    error = np.sqrt((stated ** 2 + np.outer(np.diag(stated), np.diag(stated))) / len(x))
    worst = np.abs((found - stated) / error).max()
    chi = np.einsum("ni,ij,nj->", x, np.linalg.inv(stated), x)
    off = (chi - x.size) / np.sqrt(2 * x.size)
    print(f"covariance: largest deviation {worst:.2f} standard errors, chi-squared off by {off:.2f}")
    if not worst < 5 or not abs(off) < 5:
        wrong.append("the paths' covariance")


def integrate(dump, x0, y0, path, length, orders):
    """The running integral of the skew along the warp at the ends of equal parts, [parts]."""
    parts = len(path)
    s = (np.arange(parts) + 0.5) * length / parts
    skew = np.zeros(parts)
    for m, l, re, im in orders:
        phase = 2 * np.pi * (m / dump["lx"] * (x0 - path) + l / dump["ly"] * (y0 + s))
        skew += (2 if m > 0 else 1) * (re * np.cos(phase) - im * np.sin(phase))
    return np.cumsum(skew) * length / parts


def check_walks(dump, wrong):
    length = dump["step"] * dump["steps"]
    largest, off = 0, 0
    for walk in dump["walks"]:
        every = len(walk["path"]) // dump["steps"]
        want = integrate(dump, *walk["start"], np.array(walk["path"]), length, dump["harmonics"])[every - 1::every]
        largest = max(largest, np.abs(want).max())
        off = max(off, np.abs(want - walk["running"]).max())
    print(f"walks: off by {off / largest:.2g} of the largest, {largest * 1e12:.3f} ps")
    if not off < 3e-4 * largest:
        wrong.append("the walks")


def check_figures(dump, wrong):
    rng = np.random.default_rng(5)
    length, parts = 30e-3, 600
    s = (np.arange(parts) + 0.5) * length / parts
    covariance = np.exp(-(np.subtract.outer(s, s) / dump["wander_length"]) ** 2) + 1e-10 * np.eye(parts)
    factor = np.linalg.cholesky(covariance)
    constant = [h for h in dump["harmonics"] if h[1] == 0]
    running = []
    for _ in range(DRAWS):
        path = dump["wander"] * (factor @ rng.standard_normal(parts))
        running.append([integrate(dump, x0, 0, path, length, constant)
                        for x0 in rng.uniform(0, dump["lx"], PLACES)])
    running = np.abs(np.array(running))  # [draw, place, part]
    for end, median, low, high, p99, p99_low, p99_high in dump["lengths"]:
        if end < 5e-3:
            continue
        at = running[:, :, round(end / length * parts) - 1]
        drawn = [at[rng.integers(0, DRAWS, DRAWS)].ravel() for _ in range(100)]
        for name, share, ours, least, most in (("median", 0.5, median, low, high), ("99 %", 0.99, p99, p99_low, p99_high)):
            here = np.quantile(at, share)
            spread = np.quantile([np.quantile(d, share) for d in drawn], (0.025, 0.975))
            allowed = (most - least) + (spread[1] - spread[0])
            print(f"{end * 1e3:6.2f} mm {name:7} {ours * 1e12:7.4f} ps, here {here * 1e12:7.4f}, allowed {allowed * 1e12:.4f}")
            if not abs(ours - here) < allowed:
                wrong.append(f"{name} at {end * 1e3:.1f} mm")


def main():
    dump = json.loads(subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout)
    wrong = []
    check_paths(dump, wrong)
    check_walks(dump, wrong)
    check_figures(dump, wrong)
    sys.exit("wrong: " + ", ".join(wrong) if wrong else 0)


if __name__ == "__main__":
    main()
