#!/usr/bin/python3
"""Cloth measured in a photograph: the scan of burlap in gimp-data, a general-purpose package of textures (GPL-3 or later).

SPDX-License-Identifier: GPL-3.0-or-later

    photograph.py PROGRAM

The texture is 96 by 96 pixels of plain-woven cloth, made to repeat without a seam: 7 yarns across and 6 down, counted by eye. So the mean
pitch of any number of repeats is 96/7 and 96/6 pixels exactly, whatever its yarns do in between, and square to the sides. Turned by
SciPy's splines, it is turned by so much.
Ends with code 77 (skipped) where gimp-data is not installed.
"""
import json
import pathlib
import struct
import subprocess
import sys
import tempfile
import zlib

import numpy as np
import scipy.ndimage

TEXTURE = pathlib.Path("/usr/share/gimp/2.0/patterns/Fabric/burlap.pat")
SIDE, ACROSS, DOWN = 96, 7, 6
PIXEL = 20.0  # [um], of our choosing: the texture has no scale
PITCH_MOST, TURN_MOST = 2e-3, 0.05  # [1], [deg]


def texture():
    """Of GIMP's pattern format: the header's size, version, width, height, bytes a pixel and a mark, each four bytes; a name; pixels."""
    data = TEXTURE.read_bytes()
    header, _, width, height, channels, mark = struct.unpack(">5I4s", data[:24])
    assert (width, height, channels, mark) == (SIDE, SIDE, 3, b"GPAT"), f"{TEXTURE} is another texture now"
    return np.frombuffer(data[header:], np.uint8).reshape(height, width, channels)


def write_png(path, picture):
    height, width, _ = picture.shape
    rows = b"".join(b"\0" + picture[i].tobytes() for i in range(height))

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
                     + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def measure(program, picture):
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "burlap.png"
        write_png(path, np.ascontiguousarray(picture))
        done = subprocess.run([program, "measure", path, "--scale", f"{PIXEL} um", "--json", "-q", "-o", pathlib.Path(folder) / "out"],
                              capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)


def turned(picture, degrees, side):
    """Turned to the left about its middle, and the middle of that."""
    whole = scipy.ndimage.rotate(picture.astype(float), degrees, axes=(1, 0), reshape=False, order=3, mode="wrap")
    first = (len(whole) - side) // 2
    return np.clip(np.round(whole[first:first + side, first:first + side]), 0, 255).astype(np.uint8)


def compare(what, value, wanted, allowed):
    held = abs(value - wanted) <= allowed
    print(f"{what:40} {value:10.4f}  {wanted:10.4f}  {value - wanted:+.4f} (allowed {allowed:.4f}){'' if held else '  NOT HELD'}")
    return held


def main():
    program, held = sys.argv[1], True
    if not TEXTURE.exists():
        print("gimp-data is not installed")
        sys.exit(77)
    tile = texture()
    square = measure(program, np.tile(tile, (4, 4, 1)))
    for degrees in (0, 1.5, -4):
        told = measure(program, turned(np.tile(tile, (6, 6, 1)), degrees, 4 * SIDE)) if degrees else square
        for family, yarns in (("warp", ACROSS), ("fill", DOWN)):
            pitch = PIXEL * SIDE / yarns
            held &= compare(f"turned by {degrees} deg: pitch of {family}, um", told[family]["pitch_um"], pitch, PITCH_MOST * pitch)
            held &= compare(f"turned by {degrees} deg: turn of {family}, deg", told[family]["turn_deg"], degrees, TURN_MOST)
        held &= compare(f"turned by {degrees} deg: warp to fill, deg", told["warp_to_fill_deg"], 90, TURN_MOST)
    sys.exit(not held)


main()
