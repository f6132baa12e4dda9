"""What figures say in words, read back from their PDF; each test by the symptom it was written for.

usage: test_figures.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import shutil
import subprocess
import unittest

from test_cli import COARSE, COARSE_SINGLE, Case


@unittest.skipUnless(shutil.which("pdftotext"), "pdftotext reads the figures")
class Words(Case):
    def words(self, name):
        done = subprocess.run(["pdftotext", "-layout", self.folder / f"out/{name}.pdf", "-"], check=True, capture_output=True,
                              text=True)
        return " ".join(done.stdout.split())

    def test_the_title_of_lengths_tells_a_reviewer_nothing(self):
        self.good("angles", self.study(COARSE), "--step", "10 deg", "-o", "out", "-q", "--format", "pdf")
        self.assertRegex(self.words("lengths"), r"^Above [\d.]+° a trace longer than 75 mm is no worse")
        self.assertIn("this study, 0°", self.words("angles"))

    def test_labels_of_a_section_are_cut_beside_free_space(self):
        name = "mine-of-twenty-five-chars"
        text = COARSE_SINGLE.replace("ply 1080 100 um", f"ply {name} 900 um") + f"""[style {name}]
warp_count = 60 /in
fill_count = 47 /in
warp_yarn = 11.2 tex
fill_yarn = 11.2 tex
thickness = 60 um
glass = E
"""
        self.good("verify", self.study(text), "--no-volume", "-o", "out", "-q", "--format", "pdf")
        self.assertIn(f"ply 1, {name}, 0.9 mm", self.words("section"))
        self.assertIn(f"ply 2, {name}, 0.9 mm", self.words("section"))

    def test_the_figure_of_a_via_tells_what_map_tells(self):
        result = json.loads(self.good("map", self.study(COARSE), "--set", "via.diameter=120 um", "-o", "out", "--json",
                                      "--format", "pdf"))
        for ply, one in enumerate(result["via"]["glass"], 1):
            words = self.words(f"via-ply{ply}")
            self.assertIn(f"least {one['least_um']:.1f}, mean {one['mean_um']:.1f}, most {one['most_um']:.1f} µm; "
                          f"none at {100 * one['without_glass']:.1f} %", words)
            self.assertIn(f"Laser via through ply {ply}, 1080: beam of 120 µm", words)


if __name__ == "__main__":
    unittest.main(argv=[__file__] + __import__("sys").argv[3:])
