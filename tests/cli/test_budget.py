"""weftwise budget as people and scripts meet it: table, JSON, files, the gate, bad input.

usage: test_budget.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import csv
import json
import unittest

from test_cli import BAD_INPUT, DONE, GOOD, OVER_BUDGET, SINGLE, Case

FAST = "fineness = 0.25\nsections = 0"
TOLERANCE = """[tolerance]
resin.dk = 0.05 normal boards
thickness = 5 % uniform boards
trace.width = 5 um
temperature = 0 degC to 85 degC
expansion = 16 ppm/degC
"""


def fast(text):
    one_ply = text.replace("ply 1080 100 um\nlayer = trace", "resin 100 um\nlayer = trace")
    return one_ply.replace("fineness = 0.5", FAST).replace("turn = 1 deg", "turn = 0.2 deg") + TOLERANCE


class BudgetCase(Case):
    def budget(self, *options, text=fast(SINGLE), status=DONE):
        return json.loads(self.good("budget", self.study(text), *options, "--json", status=status))


class Budget(BudgetCase):
    def test_files_json_and_table_tell_the_same(self):
        shown = self.good("budget", self.study(fast(SINGLE)), "--halve", "-o", "out")
        self.assertEqual(self.files(), ["out/budget-distribution.png", "out/budget-temperature.png", "out/budget.csv",
                                        "out/budget.json", "out/budget.png"])
        result = json.loads((self.folder / "out/budget.json").read_text())
        self.assertEqual([c["scope"] for c in result["causes"]], ["board", "boards", "boards", "board", "life"])
        for cause in result["causes"]:
            self.assertRegex(shown, rf"(?m)^  {cause['name']} +{cause['delay_ps']:.3f} ".replace("(", r"\(").replace(
                ")", r"\)").replace(r"\(?m\)", "(?m)"))
        self.assertIn("copper foil", {c["name"] for c in result["left_out"]})
        self.assertRegex(shown, r"copper foil: tolerance\.foil\.rz is not given")
        self.assertRegex(shown, rf"(?m)^\* two over life +{result['total']['worst_ps']:.3f} ")
        self.assertIn(result["sentence"].split(".")[0], " ".join(shown.split()))
        self.assertAlmostEqual(sum(c["share"] for c in result["causes"]), 1, places=9)
        self.assertIsNone(result["elements"])
        self.assertIsNone(result["arms"])
        self.assertIsNone(result["check"])

    def test_csv_has_causes_and_wholes_with_all_observables(self):
        for text, pair in ((fast(SINGLE), False), (fast(GOOD), True)):
            result = self.budget("-o", "out", text=text)
            with open(self.folder / "out/budget.csv", encoding="utf-8", newline="") as stream:
                rows = list(csv.DictReader(stream))
            self.assertEqual([row["name"] for row in rows[-3:]], ["two of one board", "two of two boards", "two over life"])
            for row, cause in zip(rows, result["causes"]):
                for key in ("delay_ps", "delay_ps_per_in", "phase_deg", "filter_shift_percent", "filter_shift_mhz", "dk_eff",
                            "impedance_ohm", "loss_db_per_mm", "skew_ps", "most_ps", "share", "halved_ps"):
                    if cause[key] is None:
                        self.assertEqual(row[key], "", key)
                    else:
                        self.assertAlmostEqual(float(row[key]), cause[key], places=9)
                self.assertEqual(bool(row["skew_ps"]), pair)
            for row, level in zip(rows[-3:], result["levels"].values()):
                for key in ("ps", "ps_per_in", "phase_deg", "dk_eff", "impedance_ohm", "loss_db_per_mm"):
                    self.assertGreaterEqual(level["p99_" + key], 0)
                self.assertAlmostEqual(float(row["dk_eff"]), level["p99_dk_eff"], places=9)
                self.assertAlmostEqual(float(row["filter_shift_mhz"]), level["filter_shift_mhz"], places=9)

    def test_a_filter_moves_by_half_of_what_dk_does(self):
        """A resonator's frequency goes as 1/sqrt(Dk), so by -dDk/(2 Dk) to first order (any textbook of microwaves)."""
        result = self.budget("--set", "signal.frequency=28 GHz", text=fast(SINGLE).replace("expansion = 16 ppm/degC\n", ""))
        dk, nominal = result["causes"][1]["upper_end"]["dk_eff"], result["line"]["dk_eff"]
        shift = result["causes"][1]["upper_end"]["filter_shift_percent"]
        self.assertLess(shift, 0)
        self.assertAlmostEqual(shift / (-50 * dk / nominal), 1, delta=0.01)
        self.assertAlmostEqual(result["causes"][1]["upper_end"]["filter_shift_mhz"], shift * 280, places=6)

    def test_moisture_is_dry_saturated_or_a_share(self):
        wet = ("--set", "tolerance.moisture=0.3 %", "--set", "tolerance.moisture.dk=0.02")
        moved = {state: next(c for c in self.budget(*wet, "--set", f"tolerance.moisture.state={state}")["causes"]
                             if c["key"] == "moisture")["upper_end"]["delay_ps"] for state in ("dry", "50 %", "saturated")}
        self.assertAlmostEqual(moved["dry"], 0, places=9)
        self.assertAlmostEqual(moved["50 %"] / moved["saturated"], 0.5, delta=0.01)

    def test_scope_decides_what_counts(self):
        whole = self.budget()
        board = self.budget("--set", "tolerance.between=board")
        self.assertEqual(board["total"], whole["levels"]["board"])
        self.assertEqual([c["share"] > 0 for c in board["causes"]], [True, False, False, True, False])
        within = self.budget("--set", "tolerance.resin.dk=0.05 normal board")
        self.assertGreater(within["levels"]["board"]["deviation_ps"], whole["levels"]["board"]["deviation_ps"])

    def test_foil_needs_copper_with_roughness(self):
        tolerance = ("--set", "tolerance.foil.rz=0.5 um normal", "--set", "signal.frequency=28 GHz")
        without = {c["name"]: c["why"] for c in self.budget(*tolerance)["left_out"]}
        self.assertIn("[stackup] copper", without["copper foil"])
        copper = self.budget(*tolerance, "--set", "stackup.copper=hvlp")
        foil = next(c for c in copper["causes"] if c["name"] == "copper foil")
        self.assertEqual(foil["scope"], "boards")
        self.assertGreater(foil["delay_ps"], 0)
        self.assertGreater(foil["loss_db_per_mm"], 0)
        text = self.bad(BAD_INPUT, "the foil's rz would be -1 um, below 0", "budget", self.study(fast(SINGLE)),
                        *tolerance[2:], "--set", "stackup.copper=hvlp", "--set", "tolerance.foil.rz=3 um")
        self.assertIn("tolerance.foil.rz: give a smaller one; at its lower end, -3 um", text)

    def test_a_pair_is_judged_by_its_skew(self):
        result = self.budget(text=fast(GOOD))
        self.assertEqual((result["judged"]["of"], result["judged"]["between"]), ("skew", None))
        self.assertEqual(result["judged"]["p99_ps"], result["skew"]["p99_ps"])
        self.assertGreater(result["causes"][0]["skew_ps"], 2 * result["causes"][1]["skew_ps"])

    def test_elements_and_corners(self):
        result = self.budget("--set", "signal.elements=4", "--set", "signal.frequency=28 GHz")
        self.assertEqual(result["elements"]["count"], 4)
        self.assertGreater(result["elements"]["peak_deg"], result["elements"]["rms_deg"])

    def test_gate_and_what_one_cause_would_do(self):
        low = self.budget("--gate", "--set", "signal.budget=0.001 ps", status=OVER_BUDGET)
        self.assertIn("Besides the weave, no single cause halved", low["sentence"])
        self.assertIn("Another angle, glass or pitch is not counted here; 'weftwise budget --halve' solves", low["sentence"])
        high = self.budget("--gate", "--set", "signal.budget=900 ps")
        self.assertIn("within the budget", high["sentence"])
        self.assertNotIn("counted", high["sentence"])
        best = min(c["halved_ps"] for c in high["causes"] if c["key"])  # nobody can halve the weave
        between = (best + high["judged"]["p99_ps"]) / 2
        one = self.budget("--set", f"signal.budget={between:.6f} ps")
        self.assertIn("One change alone brings that within the budget: halving", one["sentence"])
        self.assertNotIn("halving weave", one["sentence"])

    def test_bad_ends_have_their_line(self):
        study = self.study(fast(SINGLE))
        for key, value, says in (("thickness", "60 %", "cannot hold its 1080 fabric"),
                                 ("resin.dk", "3", "below 1"),
                                 ("trace.width", "200 um", "nothing is left of it")):
            text = self.bad(BAD_INPUT, says, "budget", study, "--set", f"tolerance.{key}={value}")
            self.assertIn(f"tolerance.{key}: give a smaller one; at its lower end", text)
            self.assertIn("weftwise: --set: ", text)
        line = [i for i, row in enumerate(fast(SINGLE).splitlines(), 1) if row.startswith("thickness = 5 %")][0]
        broken = self.study(fast(SINGLE).replace("thickness = 5 %", "thickness = 60 %"), "broken.ini")
        self.assertIn(f"broken.ini:{line}: tolerance.thickness", self.bad(BAD_INPUT, "cannot hold", "budget", broken))
        self.bad(BAD_INPUT, "neither a law (uniform, normal) nor a scope", "budget", study, "--set",
                 "tolerance.resin.dk=0.05 panel")
        self.bad(BAD_INPUT, "--halve changes nothing in 'skew'", "skew", study, "--halve")

    def test_pictures_are_made_again(self):
        study = self.study(fast(SINGLE))
        self.good("budget", study, "--quiet", "--width", "800", "-o", "one")
        self.study(self.good("recall", "one/budget.png"), "again.ini")
        self.good("budget", "again.ini", "--quiet", "--width", "800", "-o", "two")
        for name in ("budget", "budget-distribution", "budget-temperature"):
            self.assertEqual((self.folder / f"one/{name}.png").read_bytes(), (self.folder / f"two/{name}.png").read_bytes())


class Levers(BudgetCase):
    def test_levers_are_the_study_changed_and_solved(self):
        text = fast(GOOD)
        result = self.budget("--halve", text=text)
        levers = {lever["name"]: lever for lever in result["levers"]}
        layer = next(line for line in text.splitlines() if line.startswith("layer = ply "))
        changed = {"another angle": ("--set", f"trace.angle={levers['another angle']['to']}"),
                   "another pitch": ("--set", f"trace.pitch={levers['another pitch']['to']}")}
        for name, setting in changed.items():
            self.assertAlmostEqual(self.budget(*setting, text=text)["judged"]["p99_ps"] / levers[name]["p99_ps"], 1, places=6)
        glass = text.replace(layer, layer.replace(layer.split()[3], levers["another glass"]["to"]))
        self.assertAlmostEqual(self.budget(text=glass)["judged"]["p99_ps"] / levers["another glass"]["p99_ps"], 1, places=6)
        self.assertIn("fabric.count_tolerance", levers["another pitch"]["caution"])
        self.assertNotIn("not counted", result["sentence"])
        self.assertIsNone(self.budget(text=text)["levers"])


if __name__ == "__main__":
    unittest.main(argv=["test_budget.py", *__import__("sys").argv[3:]])
