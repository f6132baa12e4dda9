"""sampling.py - the worst at a few angles against a walk along the trace by splines, in other people's arithmetic.

SPDX-License-Identifier: GPL-3.0-or-later

    sampling.py BENCH_ANGLES SOURCE_ROOT

BENCH_ANGLES hands out what the legs differ by over the cell at one angle; tests/bench/angles.py walks over it. Both must
find the same worst within 1 %.
"""
import importlib.util
import os
import subprocess
import sys
import tempfile

import numpy

ANGLES = [0, 0.2, 5, 20, 38.07, 60, 89.9]  # along the warp, beside it, away from all, along the diagonal of 1080
POSITIONS = 64
ALLOWED = 0.01


def load_walk(root):
    spec = importlib.util.spec_from_file_location("angles", os.path.join(root, "tests/bench/angles.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.walk


def main():
    program, root = sys.argv[1:3]
    walk = load_walk(root)
    study = os.path.join(root, "weaves/studies/mezzanine-link.ini")
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "map.npy")
        for angle in ANGLES:
            told = subprocess.run([program, study, os.path.join(root, "weaves"), "map", str(angle), path], check=True,
                                  capture_output=True, text=True).stdout
            lx, ly, theta, length, worst = (float(word) for word in told.split())
            sampled = numpy.abs(walk(numpy.load(path).astype(float), lx, ly, theta, length, POSITIONS)).max()
            good = abs(worst - sampled) <= ALLOWED * sampled  # NaN is not good
            bad += not good
            print(f"{angle:6.2f} deg: {1e12 * worst:9.5f} ps, sampled {1e12 * sampled:9.5f} ps {'' if good else 'BAD'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
