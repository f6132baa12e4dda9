"""angles.py - the worst skew from all positions at one angle, the straightforward way.

SPDX-License-Identifier: GPL-3.0-or-later

    angles.py MAP.npy LX LY ANGLE LENGTH POSITIONS

MAP holds what the legs differ by at each place of the cell [s/m]. The trace is walked in steps from every start, the map
read by cubic splines, and the readings are added. Prints the seconds that took and the largest |sum| [ps].
"""
import sys
import time

import numpy
from scipy import ndimage

STEPS_PER_CELL = 32


def walk(values, lx, ly, angle, length, positions):
    """Skew [s] from positions x positions starts, by the midpoint rule along the way."""
    ny, nx = values.shape
    spline = ndimage.spline_filter(values, order=3, mode="grid-wrap")
    x0, y0 = numpy.meshgrid((numpy.arange(positions) + 0.5) * lx / positions,
                            (numpy.arange(positions) + 0.5) * ly / positions)
    steps = int(numpy.ceil(length / min(lx, ly) * STEPS_PER_CELL))
    total = numpy.zeros((positions, positions))
    for s in (numpy.arange(steps) + 0.5) * length / steps:
        column = (x0 + s * numpy.sin(angle)) / lx * nx - 0.5  # samples lie at the middle of their boxes
        row = (y0 + s * numpy.cos(angle)) / ly * ny - 0.5
        total += ndimage.map_coordinates(spline, [row, column], order=3, mode="grid-wrap", prefilter=False)
    return total * length / steps


def main():
    values = numpy.load(sys.argv[1]).astype(float)
    lx, ly, angle, length = (float(word) for word in sys.argv[2:6])
    start = time.perf_counter()
    skew = walk(values, lx, ly, angle, length, int(sys.argv[6]))
    seconds = time.perf_counter() - start
    print(f"{seconds:.6f} {1e12 * numpy.abs(skew).max():.9f}")


if __name__ == "__main__":
    main()
