"""Raw maps as other programs read them: NPY by NumPy, the grey picture from its own chunks alone.

SPDX-License-Identifier: GPL-3.0-or-later

Usage: read_maps.py WRITER, where WRITER writes map.npy and map.png (see write_maps.c) into a folder.
"""
import os
import struct
import subprocess
import sys
import tempfile
import zlib

NX, NY = 4, 3


def value(ix, iy):
    return 1e-12 * (10 * iy + ix)


def check(condition, message):
    if not condition:
        sys.exit("failed: " + message)


def read_chunks(path):
    with open(path, "rb") as stream:
        data = stream.read()
    at, chunks = 8, {}
    while at < len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        chunks[name] = chunks.get(name, b"") + data[at + 8 : at + 8 + size]
        at += size + 12
    return chunks


def unfilter(raw, stride, height, pixel):
    """The five filters of the PNG specification, undone."""
    rows, above = [], bytearray(stride)
    for y in range(height):
        kind, row = raw[y * (stride + 1)], bytearray(raw[y * (stride + 1) + 1 : (y + 1) * (stride + 1)])
        for i in range(stride):
            a = row[i - pixel] if i >= pixel else 0
            b = above[i]
            c = above[i - pixel] if i >= pixel else 0
            nearest = min((abs(b - c), 0, a), (abs(a - c), 1, b), (abs(a + b - 2 * c), 2, c))[2]
            row[i] = (row[i] + [0, a, b, (a + b) // 2, nearest][kind]) & 255
        rows.append(row)
        above = row
    return rows


with tempfile.TemporaryDirectory() as folder:
    subprocess.run([sys.argv[1], folder], check=True)

    chunks = read_chunks(os.path.join(folder, "map.png"))
    width, height, depth, kind = struct.unpack(">IIBB", chunks[b"IHDR"][:10])
    check((width, height, depth, kind) == (NX, NY, 16, 0), "size or kind of the picture")
    check(chunks[b"sCAL"][:1] == b"\1", "sCAL is not in metres")
    pixel = [float(text) for text in chunks[b"sCAL"][1:].split(b"\0")]
    check(abs(pixel[0] - 25e-6) < 1e-12 and abs(pixel[1] - 50e-6) < 1e-12, "size of a pixel")
    name, rest = chunks[b"pCAL"].split(b"\0", 1)
    low, high, equation, count = struct.unpack(">iiBB", rest[:10])
    unit, *parameter = rest[10:].split(b"\0")
    check((name, unit, low, high, equation, count) == (b"skew", b"s", 0, 65535, 0, 2), "pCAL")
    p0, p1 = float(parameter[0]), float(parameter[1])
    for row, samples in enumerate(unfilter(zlib.decompress(chunks[b"IDAT"]), 2 * NX, NY, 2)):
        for ix, sample in enumerate(struct.unpack(">%dH" % NX, samples)):
            got, want = p0 + p1 * sample / (high - low), value(ix, NY - 1 - row)
            check(abs(got - want) <= p1 / 65535, "sample %d of row %d is worth %g, not %g" % (ix, row, got, want))

    try:
        import numpy
    except ImportError:
        print("NumPy is not installed: the NPY file is read by test_maps alone")
    else:
        array = numpy.load(os.path.join(folder, "map.npy"))
        check(array.shape == (NY, NX) and array.dtype == numpy.dtype("<f4"), "shape or type of the array")
        for iy in range(NY):
            for ix in range(NX):
                check(abs(array[iy, ix] - value(ix, iy)) <= 1e-7 * value(ix, iy), "sample of the array")
    print("read back")
