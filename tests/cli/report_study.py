"""Reports for the tests of the page: of a pair with a hostile title, and of a single trace.

SPDX-License-Identifier: GPL-3.0-or-later
"""

import os
import pathlib
import subprocess

TITLE = """<script>alert("x")</script> & 'Ünï' 50 µm </style>"""

PAIR = f"""[study]
title = {TITLE}
positions = 64
fineness = 0.5
sections = 4
[stackup]
resin = low-loss
layer = plane
layer = ply 1080 100 um
layer = trace
layer = ply 2113 110 um
layer = plane
[trace]
width = 100 um
thickness = 15 um
pitch = 220 um
length = 50 mm
angle = 0 deg
[fabric]
turn = 1 deg
[signal]
rate = 56 Gb/s
frequency = 28 GHz
budget = 2 ps
lanes = 8
[resin low-loss]
dk = 3.2
df = 0.004
density = 1.4 g/cm3
source = <b>invented</b> for "this" test
"""
SINGLE = "\n".join(line for line in PAIR.replace(TITLE, "One feed").replace("df = 0.004", "df = 0.004\nfrequency = 10 GHz").splitlines()
                   if not line.startswith(("pitch", "rate", "lanes", "budget"))) + """
[tolerance]
resin.dk = 0.05 normal boards
trace.width = 5 um uniform board
temperature = -40 degC to 105 degC life
expansion = 16 ppm/degC
[via]
diameter = 60 um
"""


def coarse(text):
    """As quick as a report can be: for checks of words and statuses."""
    return text.replace("positions = 64", "positions = 32").replace("fineness = 0.5", "fineness = 0.25").replace(
        "sections = 4", "sections = 0")


def write_report(program, folder, text, name, *arguments, status=0):
    """Run it; the folder that the report made in its own, and what was printed."""
    study = pathlib.Path(folder) / f"{name}.ini"
    study.write_text(text, encoding="utf-8")
    out = pathlib.Path(folder) / name
    environment = {k: v for k, v in os.environ.items() if k != "WEFTWISE_WEAVES"}
    done = subprocess.run([str(program), "report", str(study), "-o", str(out), *arguments], env=environment,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=200, check=False)
    if (done.returncode, done.stderr) != (status, b""):
        raise AssertionError(f"status {done.returncode}: {done.stderr.decode()}")
    return out / "report", done.stdout.decode()
