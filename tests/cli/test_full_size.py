"""The program on studies of full size and with its own ranges: too slow for every day.

usage: test_full_size.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import sys
import unittest

from test_cli import GOOD, OVER_BUDGET, STUDIES, Case


class FullSize(Case):
    def test_demo_studies(self):
        for name in ("mezzanine-link", "antenna-feed", "display-bridge"):
            result = json.loads(self.good("skew", STUDIES / f"{name}.ini", "--json"))
            self.assertGreater(result["delay"]["spread_deg_at_frequency"], 0)
            self.assertIn(f"out/{name}/skew.json", self.files())

    def test_pitch_in_its_own_ranges(self):
        study = self.study(GOOD.replace("positions = 64", "positions = 32\nsections = 2"))
        self.good("pitch", study, "--quiet", "--width", "800", "-o", "first", "--gate", "--set", "signal.budget=0.001 ps",
                  status=OVER_BUDGET)
        result = json.loads((self.folder / "first/pitch.json").read_text())
        self.assertLess(result["pitch_um"][0], 220)
        self.assertGreater(result["pitch_um"][-1], 220)
        self.study(self.good("recall", "first/pitch.png"), "again.ini")
        self.good("pitch", "again.ini", "--quiet", "--width", "800", "-o", "second")
        for name in ("pitch.png", "null.png"):
            self.assertEqual((self.folder / "first" / name).read_bytes(), (self.folder / "second" / name).read_bytes(), name)

    def test_verify_with_its_volume_prints_its_file(self):
        text = self.good("verify", self.study(), "--json")
        self.assertEqual(text, (self.folder / "out/test/verify.json").read_text())


if __name__ == "__main__":
    unittest.main(argv=["test_full_size.py", *sys.argv[3:]])
