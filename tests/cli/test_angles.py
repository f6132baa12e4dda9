"""weftwise angles as people and scripts meet it: files, JSON, the sentence, the gate.

usage: test_angles.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import csv
import json
import re
import struct
import unittest

from test_cli import DONE, GOOD, OVER_BUDGET, BAD_INPUT, SINGLE, Case

FAST = GOOD.replace("fineness = 0.5", "fineness = 0.5\nsections = 0").replace("length = 50 mm", "length = 20 mm")
RANGE = ("--step", "5 deg")


def npy(path):
    """Shape and samples of a float32 array in C order."""
    data = path.read_bytes()
    header = data[10:10 + struct.unpack("<H", data[8:10])[0]].decode()
    shape = tuple(int(n) for n in header.split("'shape': (")[1].split(")")[0].split(","))
    samples = data[10 + len(header):]
    return shape, struct.unpack(f"<{len(samples) // 4}f", samples)


class Angles(Case):
    def angles(self, *arguments, text=FAST, status=DONE):
        return json.loads(self.good("angles", self.study(text), *RANGE, "--json", *arguments, status=status))

    def sentence(self, *arguments, **options):
        return self.angles(*arguments, **options)["sentence"]

    def test_conversion_has_its_curve_windows_and_matches(self):
        result = self.angles("--set", "signal.conversion=-25 dB", "--to", "45 deg")
        conversion = result["conversion"]
        at = {round(a["angle_deg"], 9): a for a in result["angles"]}
        for a in at.values():
            self.assertLessEqual(a["conversion_db"], a["conversion_design_db"] + 1e-9)
            self.assertLessEqual(a["conversion_median_db"], a["conversion_p99_db"])
        self.assertTrue(conversion["windows"])
        for match in conversion["phase_matched"]:
            self.assertIn(round(match["angle_deg"], 9), at)
            self.assertEqual(match["conversion_db"], at[round(match["angle_deg"], 9)]["conversion_db"])
        own = max(at.values(), key=lambda a: a["conversion_db"])
        self.assertLess(own["angle_deg"], 5)
        self.angles("--gate", "--set", "signal.conversion=-25 dB", "--set", "signal.budget=1 ns", status=OVER_BUDGET)

    def test_files_json_and_table_tell_the_same(self):
        shown = self.good("angles", self.study(FAST), *RANGE, "-o", "out")
        self.assertEqual(self.files(), [f"out/{name}" for name in (
            "angles.csv", "angles.json", "angles.png", "conversion.png", "lengths-angle.csv", "lengths-length.csv", "lengths.npy",
            "lengths.png")])
        result = json.loads((self.folder / "out/angles.json").read_text())
        self.assertEqual(result["command"], "angles")
        self.assertIn(result["sentence"], shown)
        self.assertIn("Predictions guide a design; they do not qualify a board.", shown)
        at = result["angles"]
        self.assertGreaterEqual(len(at), 19)
        self.assertEqual([a["angle_deg"] for a in at], sorted(a["angle_deg"] for a in at))
        for a in at:
            self.assertTrue(0 < a["median_ps"] <= a["p99_ps"] <= a["worst_ps"] <= a["design_ps"], a)
        with (self.folder / "out/angles.csv").open() as table:
            rows = list(csv.DictReader(table))
        self.assertEqual([{k: float(v) for k, v in row.items()} for row in rows], at)
        for low, high in result["windows"]:
            self.assertIn(f"{low:.2f} to {high:.2f} deg", shown)
            inside = [a["design_ps"] for a in at if low < a["angle_deg"] < high]
            self.assertTrue(inside and max(inside) <= 2 * 1.005)
        self.assertEqual({(r["m"], r["l"]) for r in result["revivals"]} & {(1, 0), (0, 1)}, {(1, 0), (0, 1)})
        self.assertEqual([r["ply"] for r in result["revivals"] if r["l"] == 0], [1, 2])
        axes = []
        for name in ("length", "angle"):
            with (self.folder / f"out/lengths-{name}.csv").open() as table:
                axes.append([float(row[0]) for row in list(csv.reader(table))[1:]])
        shape, samples = npy(self.folder / "out/lengths.npy")
        self.assertEqual(shape, (len(axes[0]), len(axes[1])))
        self.assertEqual(len(axes[0]), 100)
        self.assertGreaterEqual(len(axes[1]), 181)
        self.assertAlmostEqual(axes[0][-1], 60)  # three times the study's length
        self.assertAlmostEqual(samples[-len(axes[1])] * 1e12 / 3, at[0]["worst_ps"], delta=0.02 * at[0]["worst_ps"])

    def test_skew_at_one_angle_is_that_of_the_sweep(self):
        sweep = {a["angle_deg"]: a for a in self.angles()["angles"]}
        for angle in (0, 5, 45):
            one = json.loads(self.good("skew", self.study(FAST), "--json", "--set", f"trace.angle={angle} deg",
                                       "--set", "fabric.turn=0 deg"))["skew"]
            self.assertAlmostEqual(sweep[angle]["worst_ps"], one["worst_ps"], delta=1e-6 * one["worst_ps"])
            self.assertAlmostEqual(sweep[angle]["p99_ps"], one["p99_ps"], delta=1e-6 * one["p99_ps"])

    def test_sections_scale_the_sweep_as_they_do_skew(self):
        text = FAST.replace("sections = 0", "sections = 4")
        sweep = self.angles("--to", "5 deg", text=text)["angles"][0]
        one = json.loads(self.good("skew", self.study(text), "--json"))["skew"]
        self.assertAlmostEqual(sweep["worst_ps"], one["worst_ps"], delta=1e-6 * one["worst_ps"])

    def test_advice_typed_back_passes_the_gate(self):
        """Issue 13: 'turn the route to 3.3 deg', and skew --gate failed there, for windows left out the count."""
        limits = ("--set", "signal.budget=1 ps", "--set", "fabric.turn=2 deg", "--set", "fabric.count_tolerance=1 %",
                  "--set", "study.sections=6")
        result = self.angles(*limits, "--to", "20 deg")
        window, angle = re.search(r"Use ([\d.]+) to [\d.]+ deg from the warp; at ([\d.]+) deg", result["sentence"]).groups()
        for typed in (window, angle):
            self.good("skew", self.study(FAST), *limits, "--gate", "--set", f"trace.angle={typed} deg")
        self.assertAlmostEqual(result["advice"]["angle_deg"], float(angle), places=9)
        self.good("skew", self.study(FAST), *limits, "--gate", status=OVER_BUDGET)

    def test_a_turn_left_out_is_assumed_and_said(self):
        """Issue 13: turn left out meant 0 in silence, and isolated points were called safe."""
        text = re.sub(r"turn = .*\n", "", FAST)
        printed = self.good("skew", self.study(text), "-o", "out")
        self.assertIn("cloth up to 1 deg off square, assumed", printed)
        result = self.angles("--set", "signal.budget=1 ps", "--to", "20 deg", text=text)
        self.assertTrue(result["turn_is_assumed"])
        self.assertEqual(result["turn_deg"], 1)
        for first, last in result["windows"]:
            self.assertGreaterEqual(last - first, 5 - 1e-6)
        self.assertFalse(self.angles("--set", "fabric.turn=0 deg", "--to", "5 deg")["turn_is_assumed"])

    def test_sentence(self):
        turned = self.sentence("--set", "signal.budget=1 ps")
        self.assertRegex(turned, r"^Turn at least \d+\.\d deg away from the warp and \d+\.\d deg from the fill; "
                                 r"45 deg is safe\. Use \d+\.\d to \d+\.\d deg from the warp; at \d+\.\d deg the worst is "
                                 r"[\d.]+ ps, [\d.]+ times within 1 ps\. Traces across it, turned as much from the fill, "
                                 r"have [\d.]+ ps and hold, too\.$")
        self.assertRegex(self.sentence("--set", "signal.budget=1 ns"), r"^Every angle from 0 to 90 deg meets the budget")
        self.assertRegex(self.sentence("--set", "signal.budget=1 fs"), r"^No angle from 0 to 90 deg meets the budget")
        self.assertRegex(self.sentence(text=FAST.replace("budget = 2 ps\n", "")), r"^There is no budget to judge by")
        self.assertRegex(self.sentence("--from", "-30 deg", "--to", "30 deg", "--set", "signal.budget=1 ps"),
                         r"^Turn at least \d+\.\d deg away from the warp; in all, safe are -30\.0 to -\d+\.\d deg and "
                         r"\d+\.\d to 30\.0 deg\. Use ")
        self.assertRegex(self.sentence("--from", "10 deg", "--to", "30 deg", "--set", "signal.budget=1 ps"),
                         r"^Every angle from 10 to 30 deg meets the budget")

    def test_the_turn_of_the_sentence_is_safe(self):
        result = self.angles("--set", "signal.budget=1 ps")
        away = result["safe_from_warp_deg"]
        shown = float(result["sentence"].split("least ")[1].split(" deg")[0])
        self.assertTrue(away <= shown < away + 0.1 + 1e-9)
        design = [a["design_ps"] for a in result["angles"] if a["angle_deg"] >= away - 1e-6 and a["angle_deg"] <= 45]
        self.assertTrue(design and design[0] <= 1.005)

    def test_without_a_budget_there_are_curves_and_no_windows(self):
        result = self.angles(text=FAST.replace("budget = 2 ps\n", ""))
        self.assertEqual(result["windows"], [])
        for key in ("safe_from_warp_deg", "safe_from_fill_deg", "safe_from_45_deg"):
            self.assertIsNone(result[key])
        self.bad(BAD_INPUT, "--gate needs a budget", "angles", self.study(FAST.replace("budget = 2 ps\n", "")), "--gate")

    def test_gate_judges_the_angle_of_the_study(self):
        self.angles("--gate", "--set", "signal.budget=1 ps", status=OVER_BUDGET)
        self.angles("--gate", "--set", "signal.budget=1 ps", "--set", "trace.angle=30 deg")
        self.angles("--gate", "--set", "signal.budget=1 ps", "--set", "trace.angle=-150 deg")  # 30 deg, travelled back
        self.bad(BAD_INPUT, "--gate judges the study's own angle, 0 deg", "angles", self.study(FAST), "--gate",
                 "--from", "10 deg")

    def test_single_trace_and_other_formats(self):
        text = SINGLE.replace("fineness = 0.5", "fineness = 0.5\nsections = 0")
        for form in ("svg", "pdf"):
            shown = self.good("angles", self.study(text), *RANGE, "-o", form, "--format", form)
            self.assertIn("difference revives along", shown)
            self.assertIn(f"{form}/angles.{form}", self.files(form))
        result = json.loads((self.folder / "pdf/angles.json").read_text())
        self.assertEqual(result["value"], "delay difference")
        self.assertTrue(all(a["worst_ps"] > 0 for a in result["angles"]))

    def test_quiet_says_nothing(self):
        self.assertEqual(self.good("angles", self.study(FAST), *RANGE, "-q"), "")


if __name__ == "__main__":
    unittest.main(argv=["test_angles.py", *__import__("sys").argv[3:]])
