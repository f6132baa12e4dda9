#!/usr/bin/python3
"""Cross-sections over woven cloth against a sparse direct solver (SciPy's SuperLU).

SPDX-License-Identifier: GPL-3.0-or-later

    sparse_direct.py PROGRAM

Twice. First on our own grid with our own conductances: the same linear system, so that nothing but the residual of our
iteration, 1e-8 of what the cloth changes, may differ; 1e-7 is allowed. Then from the geometry alone, written down a
second time in weave.py, on a grid of its own, 1.25 um square, 5 by 5 points per cell averaged in series and the two
cells beside an edge in parallel: what differs then is the grid, of either side. Halving their step moves their answer by
up to 2e-4, which is what is allowed. C itself is not compared there, for copper corners keep it several 0.1 %
away on any grid; the ratio to vacuum is, and so is how far it moves from one place of the cloth to another.
"""
import sys

import numpy as np
import scipy.sparse
import scipy.sparse.linalg

import weave


def laplacian(up, across):
    """Matrix of the edges between interior nodes and to the walls; up[rows, nodes], across[levels, nodes + 1]."""
    levels, nodes = across.shape[0], up.shape[1]
    diagonal = up[:-1] + up[1:] + across[:, :-1] + across[:, 1:]
    between = across.copy()
    between[:, -1] = 0  # no neighbour to the right of the last: the next row starts there
    return scipy.sparse.diags(
        [diagonal.ravel(), -between[:, 1:].ravel()[:-1], -between[:, 1:].ravel()[:-1],
         -up[1:-1].ravel(), -up[1:-1].ravel()],
        [0, 1, -1, nodes, -nodes], shape=(levels * nodes, levels * nodes), format="csr")


def capacitances(matrix, legs):
    """Maxwell matrix in units of eps0: charges on the legs with each in turn at 1 V."""
    size = matrix.shape[0]
    fixed = np.zeros(size, dtype=bool)
    for leg in legs:
        fixed[leg] = True
    free = np.flatnonzero(~fixed)
    solve = scipy.sparse.linalg.splu(matrix[free][:, free].tocsc()).solve
    c = np.zeros((len(legs), len(legs)))
    for i, leg in enumerate(legs):
        u = np.zeros(size)
        u[leg] = 1
        u[free] = -solve((matrix @ u)[free])
        charge = matrix @ u
        c[i] = [charge[other].sum() for other in legs]
    return c


def legs_on_nodes(first, span, bottom, top, columns, pair):
    """Indices of the interior nodes (column 1, level 1 first) that leg 1 and leg 2 cover."""
    nodes = columns - 1
    starts = [first, columns - first - span] if pair else [first]
    return [np.concatenate([(k - 1) * nodes + np.arange(s, s + span + 1) - 1 for k in range(bottom, top + 1)])
            for s in starts]


def same_system(said, up, across, what):
    g = said["grid"]
    c = capacitances(laplacian(up, across),
                     legs_on_nodes(g["first"], g["span"], g["bottom"], g["top"], g["columns"], said["pair"]))
    for i in range(len(c)):
        for j in range(len(c)):
            weave.compare(f"{what}, same grid: C{i + 1}{j + 1}/eps0", said["c"][j][i] / weave.EPS0, c[i][j], 1e-7)


def own_grid(said, step):
    """Permittivity that each leg sees, from the geometry alone on square cells."""
    legs = weave.copper(said)
    height = sum(layer["thickness"] for layer in said["layers"])
    half = np.ceil(3 * height / step) * step + max(leg[1] for leg in legs)
    edges_n = np.arange(0, round(2 * half / step) + 1) * step - half
    cuts = np.cumsum([0.0] + [layer["thickness"] for layer in said["layers"] if layer["thickness"] > 0])
    edges_z = np.unique(np.concatenate(
        [np.linspace(a, b, max(1, round((b - a) / step)) + 1)[:-1] for a, b in zip(cuts, cuts[1:])] + [cuts[-1:]]))
    dz, columns = np.diff(edges_z), len(edges_n) - 1
    eps_n, eps_z = np.zeros((len(dz), columns)), np.zeros((len(dz), columns))
    points = (np.arange(5) + 0.5) / 5
    for a in points:
        for b in points:
            n, z = edges_n[:-1] + a * step, (edges_z[:-1] + b * dz)[:, None]
            one_n, one_z = weave.permittivity(said, n[None, :], z)
            eps_n += 1 / one_n / 25
            eps_z += 1 / one_z / 25
    eps_n, eps_z = 1 / eps_n, 1 / eps_z
    bottom, top = (int(np.argmin(np.abs(edges_z - v))) for v in legs[0][2:])
    first = int(np.argmin(np.abs(edges_n - legs[0][0])))
    assert abs(edges_n[first] - legs[0][0]) < 1e-9 and abs(edges_z[top] - legs[0][3]) < 1e-9
    on = legs_on_nodes(first, round(said["width"] / step), bottom, top, columns, said["pair"])
    result = []
    for en, ez in ((eps_n, eps_z), (np.ones_like(eps_n), np.ones_like(eps_z))):
        up = 0.5 * (ez[:, :-1] + ez[:, 1:]) * step / dz[:, None]
        across = 0.5 * (en[:-1] * dz[:-1, None] + en[1:] * dz[1:, None]) / step
        result.append(capacitances(laplacian(up, across), on))
    return weave.leg_dk(*result, said["pair"])


def main():
    program = sys.argv[1]
    for kind, style, pitch, angle in (("stripline", "1080", 0, 0), ("sandwich", "1080", 220, 20),
                                      ("stripline", "2116", 0, 90), ("microstrip", "1080", 220, 70),
                                      ("covered", "106", 0, 35)):
        said, up, across = weave.dump(program, kind, style, pitch, 0.5, angle, 70, 45)
        same_system(said, up, across, f"{kind} {style} at {angle} deg")
    # Our answer against theirs from the geometry: 2e-4 of dk, and 1 % of what dk moves by from place to place.
    for kind, style, pitch, angle in (("stripline", "1080", 0, 0), ("stripline", "1080", 220, 20),
                                      ("sandwich", "1080-spread", 220, 0), ("stripline", "2116", 0, 75)):
        pairs = []
        for x, y in ((10, 45), (190, 160)):
            said, _, _ = weave.dump(program, kind, style, pitch, 1, angle, x, y)
            theirs = own_grid(said, 1.25e-6)
            pairs.append((said["dk"], theirs))
            for leg, want in enumerate(theirs):
                weave.compare(f"{kind} {style} at {angle} deg, own grid: dk of leg {leg + 1}", said["dk"][leg], want, 2e-4)
        for leg in range(len(theirs)):
            weave.compare(f"{kind} {style} at {angle} deg: move of leg {leg + 1} from place to place",
                          pairs[1][0][leg] - pairs[0][0][leg], pairs[1][1][leg] - pairs[0][1][leg], 1e-2)


main()
