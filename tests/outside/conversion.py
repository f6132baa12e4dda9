#!/usr/bin/python3
"""Mode conversion of pairs over woven glass against the telegrapher's equations, chained over full cross-sections.

SPDX-License-Identifier: GPL-3.0-or-later

    conversion.py PROGRAM WEAVES [PAIR ANGLE ..]

Along the path of one start the program gives the capacitance matrix C of full cross-sections, and that without dielectric,
Ca. With L = mu0 eps0 Ca^-1 the telegrapher's equations of two coupled lines, 4 by 4,
    d/ds (V, I) = -i omega [[0, L], [C, 0]] (V, I),
are chained step by step with SciPy's matrix exponential: all orders, both directions of travel, no modes assumed. The ports
are matched to the even and the odd mode of the mean line. |Scd21| is what arrives as even mode of a unit odd wave.

Ours at the same start: coupled modes, first order in the cloth, on the fast answer's harmonics. 0.5 dB is allowed, from -43 to
-0.5 dB; the largest difference met is 0.28 dB. The first pair at 0 deg lies near a null of the beat, where
0.5 % of it is worth 1 dB. The sections are 44 um apart, a tenth of the yarn pitch.
"""
import json
import subprocess
import sys

import numpy as np
from scipy.linalg import expm

MU0, EPS0 = 1.25663706127e-6, 8.8541878188e-12
CASES = [("microstrip", a) for a in (0.0, 0.2, 0.4, 1.0, 3.0)] + \
        [("tight", a) for a in (0.0, 0.4, 1.0)] + [("loose", a) for a in (0.0, 0.4, 1.0)]
LENGTH, STEP = 50.0, 44.0  # mm, um
ALLOWED = 0.5  # dB


def scd21(dump):
    """|Scd21| of the chained sections."""
    omega = 2 * np.pi * dump["frequency"]
    step = dump["length"] / len(dump["c"])
    even, odd = dump["ca"]
    ca = 0.5 * np.array([[even + odd, even - odd], [even - odd, even + odd]])
    inductance = MU0 * EPS0 * np.linalg.inv(ca)
    chain = np.eye(4, dtype=complex)
    for c11, c12, c22 in dump["c"]:
        generator = np.zeros((4, 4), dtype=complex)
        generator[:2, 2:] = inductance
        generator[2:, :2] = [[c11, c12], [c12, c22]]
        chain = expm(-1j * omega * step * generator) @ chain
    c = np.mean(dump["c"], axis=0)
    own, mutual = 0.5 * (c[0] + c[2]), c[1]
    modal = np.array([[1, 1], [1, -1]]) / np.sqrt(2)  # even, odd
    z = np.sqrt(MU0 * EPS0 / (np.array([even, odd]) * np.array([own + mutual, own - mutual])))
    # (V, I) of the ports from incident and emitted waves, even and odd: V = sqrt(z) (a + b), I = (a - b)/sqrt(z)
    root = np.diag(np.sqrt(z))
    to_lines = np.block([[modal @ root, modal @ root],
                         [modal @ np.linalg.inv(root), -modal @ np.linalg.inv(root)]])
    waves = np.linalg.solve(to_lines, chain @ to_lines)  # (forward, backward) at the end from those at the beginning
    # nothing comes back from the far end: backward there is 0
    incident = np.array([0, 1])
    reflected = -np.linalg.solve(waves[2:, 2:], waves[2:, :2] @ incident)
    through = waves[:2, :2] @ incident + waves[:2, 2:] @ reflected
    beat = omega * (np.sqrt((own + mutual) * MU0 * EPS0 / even) - np.sqrt((own - mutual) * MU0 * EPS0 / odd))
    return abs(through[0]), beat


def decibels(amplitude):
    return 20 * np.log10(amplitude)


def main():
    cases = [(sys.argv[3], float(a)) for a in sys.argv[4:]] or CASES
    wrong = 0
    for pair, angle in cases:
        dump = json.loads(subprocess.run([sys.argv[1], pair, str(angle), str(LENGTH), str(STEP), sys.argv[2]],
                                         check=True, capture_output=True, text=True).stdout)
        true, beat = scd21(dump)
        ours = dump["here"]
        bad = not abs(decibels(ours) - decibels(true)) <= ALLOWED
        wrong += bad
        legs = abs(np.sin(np.pi * dump["frequency"] * dump["skew_ps"] * 1e-12))
        print(f"{pair:10} {angle:4} deg  Ze {dump['z'][0]:.1f} Zo {dump['z'][1]:.1f} ohm, beat {dump['beat']:.2f}, of the "
              f"sections {beat:.2f} rad/m; by skew alone {decibels(legs):6.2f}, sections {decibels(true):6.2f}, coupled modes "
              f"{decibels(ours):6.2f} dB; over all positions {decibels(dump['median']):.2f} median, "
              f"{decibels(dump['worst']):.2f} worst{'  WRONG' if bad else ''}", flush=True)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
