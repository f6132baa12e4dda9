"""The geometry of a plain weave and what it is worth, written down a second time, from the formulas.

SPDX-License-Identifier: GPL-3.0-or-later

A yarn of width a, height b and shape p fills |2v/a|^p + |2w/b|^p <= 1 about its axis. Warp i runs along y at
x = (i + 1/2) px, fill j along x at y = (j + 1/2) py; their axes wave as
    z_warp = z0 + (-1)^i (b_fill/2) cos(pi (y - py/2)/py),   z_fill = z0 - (-1)^j (b_warp/2) cos(pi (x - px/2)/px).
Where two yarns overlap, the one in which the point lies deeper has it. Across the fibres a bundle is worth the 2-D
rule of Maxwell Garnett, along them the arithmetic mean.
"""
import json
import subprocess
import tempfile

import numpy as np

EPS0 = 8.8541878128e-12


def dump(program, kind, style, pitch, fineness, angle, x, y):
    """What outside-section-dump says: its JSON, and the conductances up and across."""
    with tempfile.NamedTemporaryFile() as file:
        words = [program, kind, style] + [str(v) for v in (pitch, fineness, angle, x, y)] + [file.name]
        said = json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
        raw = np.fromfile(file.name)
    rows, columns = said["grid"]["rows"], said["grid"]["columns"]
    up = raw[: rows * (columns - 1)].reshape(rows, columns - 1)
    across = raw[rows * (columns - 1):].reshape(rows - 1, columns)
    return said, up, across


def depth(yarn, p, beside, above):
    """Normalised radius to the power p: below 1 inside."""
    return np.abs(2 * beside / yarn["width"]) ** p + np.abs(2 * above / yarn["height"]) ** p


def bundle(cloth, yarn):
    """Permittivity of a bundle across and along its fibres."""
    glass, resin, v = cloth["glass"], cloth["resin"], yarn["packing"]
    across = resin * ((glass + resin) + v * (glass - resin)) / ((glass + resin) - v * (glass - resin))
    return across, v * glass + (1 - v) * resin


def permittivity(said, n, z):
    """(eps_nn, eps_zz) at points of the cross-section: n across from the middle of the trace or pair, z up from the
    lower plane."""
    cloth, theta = said["cloth"], said["angle"]
    warp, fill, p = cloth["warp"], cloth["fill"], cloth["shape"]
    eps_n = np.ones(np.broadcast(n, z).shape)
    eps_z = eps_n.copy()
    n, z = np.broadcast_arrays(n, z)
    beside_copper = [layer for layer in said["layers"] if layer["kind"] == "trace"][0]["dk"]
    order = [layer["kind"] for layer in said["layers"]]
    over = order[order.index("trace") + 1]  # air, and mask, also fill the space beside a trace they lie on
    if over == "air":
        beside_copper = 1.0
    if over == "mask":
        beside_copper = said["layers"][order.index("mask")]["dk"]
    bottom = 0.0
    for layer in said["layers"]:
        top = bottom + layer["thickness"]
        here = (z >= bottom) & (z < top)
        dk = {"trace": beside_copper, "ply": cloth["resin"], "air": 1.0}.get(layer["kind"], layer["dk"])
        eps_n[here] = eps_z[here] = dk
        if layer["kind"] == "ply":
            nn, up = n[here], z[here] - 0.5 * (bottom + top)
            x, y = said["x"] - nn * np.cos(theta), said["y"] + nn * np.sin(theta)
            i, j = np.floor(x / warp["pitch"]), np.floor(y / fill["pitch"])
            rise = 0.5 * fill["height"] * (-1) ** i * np.cos(np.pi * (y / fill["pitch"] - 0.5))
            fall = -0.5 * warp["height"] * (-1) ** j * np.cos(np.pi * (x / warp["pitch"] - 0.5))
            in_warp = depth(warp, p, x - (i + 0.5) * warp["pitch"], up - rise)
            in_fill = depth(fill, p, y - (j + 0.5) * fill["pitch"], up - fall)
            is_warp = (in_warp <= 1) & (in_warp <= in_fill)
            is_fill = (in_fill <= 1) & ~is_warp
            # the warp's axis lies at an angle theta to the trace, so at 90 deg - theta to n; the fill's at theta to n
            for yarn, inside, to_n in ((warp, is_warp, np.pi / 2 - theta), (fill, is_fill, theta)):
                t, a = bundle(cloth, yarn)
                value_n, value_z = eps_n[here], eps_z[here]
                value_n[inside] = t * np.sin(to_n) ** 2 + a * np.cos(to_n) ** 2
                value_z[inside] = t
                eps_n[here], eps_z[here] = value_n, value_z
        bottom = top
    return eps_n, eps_z


def copper(said):
    """Rectangles (n0, n1, z0, z1) of the legs, leg 1 (at +n) first; and the height of the lid or None when open."""
    bottom = 0.0
    for layer in said["layers"]:
        if layer["kind"] == "trace":
            break
        bottom += layer["thickness"]
    w, t = said["width"], said["thickness"]
    middles = [0.5 * said["pitch"], -0.5 * said["pitch"]] if said["pair"] else [0.0]
    return [(m - 0.5 * w, m + 0.5 * w, bottom, bottom + t) for m in middles]


def leg_dk(c, ca, pair):
    """Permittivity that each leg sees, from Maxwell matrices with the dielectric and in vacuum."""
    if not pair:
        return [c[0][0] / ca[0][0]]
    mutual, mutual_a = 0.5 * (c[0][1] + c[1][0]), 0.5 * (ca[0][1] + ca[1][0])
    return [(c[k][k] - mutual) / (ca[k][k] - mutual_a) for k in (0, 1)]


def compare(what, got, want, tolerance):
    """Print both and fail beyond the tolerance; a NaN fails."""
    off = got / want - 1
    print(f"{what:58s} {got:14.8f}  theirs {want:14.8f}  {off:+.2e}  (allowed {tolerance:.0e})")
    if not abs(off) <= tolerance:
        raise SystemExit(f"{what}: off by {off:+.2e}, allowed are {tolerance:.0e}")
