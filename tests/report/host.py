"""A host program makes a page: it holds the answer of its study and the four figures that lie beside it.

usage: host.py HOST SOURCE_ROOT

SPDX-License-Identifier: GPL-3.0-or-later
"""

import base64
import pathlib
import re
import subprocess
import sys
import tempfile

STUDY = """[study]
title = A host's board
positions = 32
fineness = 0.5
sections = 0
[stackup]
resin = plain
layer = plane
layer = ply 1080 100 um
layer = trace
layer = solid 100 um dk=3.4 df=0.004
layer = plane
[resin plain]
dk = 3.2
df = 0.004
[trace]
width = 100 um
thickness = 15 um
pitch = 220 um
length = 50 mm
[signal]
budget = 2 ps
"""

with tempfile.TemporaryDirectory(prefix="weftwise-host-") as folder:
    study = pathlib.Path(folder) / "board.ini"
    study.write_text(STUDY, encoding="utf-8")
    prefix = f"{folder}/part-"
    subprocess.run([sys.argv[1], f"{sys.argv[2]}/weaves", study, prefix], check=True)
    page = pathlib.Path(prefix + "report.html").read_text(encoding="utf-8")
    assert "<h1>A host&#39;s board</h1>" in page or "<h1>A host's board</h1>" in page, page[:4000]
    assert re.search(r"(Misses|Meets) the budget: [0-9.]+ ps at worst, 2\.00 ps allowed", page)
    shown = [base64.b64decode(data) for data in re.findall(r'src="data:image/png;base64,([^"]*)"', page)]
    drawn = [path.read_bytes() for path in pathlib.Path(folder).glob("part-*.png")]
    assert len(shown) == 4 and sorted(shown) == sorted(drawn), (len(shown), len(drawn))
    assert "Which glass?" not in page
