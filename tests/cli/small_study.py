"""Studies for tests that run the program many times: one of every section, as quick as may be with sections solved; and the
smallest, of one ply and thin copper, for every single fault.

SPDX-License-Identifier: GPL-3.0-or-later
"""

STUDY = """[study]
title = Test link
positions = 32
fineness = 0.25
sections = 6
[stackup]
resin = low-loss
copper = rolled
layer = plane
layer = ply 1080 100 um
layer = trace
layer = ply 1080 100 um
layer = plane
[trace]
width = 100 um
thickness = 15 um
pitch = 220 um
length = 20 mm
angle = 3 deg
[fabric]
turn = 1 deg
[signal]
rate = 56 Gb/s
frequency = 28 GHz
budget = 2 ps
[tolerance]
resin.dk = 0.05 normal boards
[via]
diameter = 100 um
[resin low-loss]
dk = 3.2
df = 0.004
frequency = 10 GHz
density = 1.4 g/cm3
"""

TINY = """[study]
title = Test link
positions = 16
fineness = 0.25
sections = 2
[stackup]
resin = low-loss
layer = plane
layer = resin 100 um
layer = trace
layer = ply 1080 100 um
layer = plane
[trace]
width = 100 um
thickness = 0 um
pitch = 200 um
length = 5 mm
angle = 3 deg
[fabric]
turn = 0 deg
[signal]
rate = 56 Gb/s
budget = 2 ps
[tolerance]
resin.dk = 0.05 normal boards
[resin low-loss]
dk = 3.2
df = 0.004
frequency = 10 GHz
density = 1.4 g/cm3
"""
