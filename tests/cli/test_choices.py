"""weftwise compare and weftwise pitch as people and scripts meet them: files, JSON, tables, the gate, bad input.

usage: test_choices.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import csv
import json
import unittest

from test_angles import npy
from test_cli import DONE, GOOD, OVER_BUDGET, BAD_INPUT, SINGLE, Case

FAST = GOOD.replace("fineness = 0.5", "fineness = 0.5\nsections = 0").replace("length = 50 mm", "length = 20 mm")
OWN = FAST + """[style own]
warp_count = 60 /in
fill_count = 60 /in
warp_yarn = 11.2 tex
fill_yarn = 11.2 tex
thickness = 60 um
glass = clear
[glass clear]
dk = 3.2
df = 0.004
density = 2.5 g/cm3
[style unwoven]
warp_count = 60 /in
fill_count = 60 /in
warp_yarn = 5 tex
fill_yarn = 5 tex
thickness = 50 um
glass = E
"""
CURVES = ("--to", "20 deg", "--step", "5 deg")
CAUTION = "Predictions guide a design; they do not qualify a board."


def table(path):
    with path.open() as stream:
        return list(csv.DictReader(stream))


class Compare(Case):
    def compare(self, *styles, text=FAST, status=DONE):
        return json.loads(self.good("compare", self.study(text), *styles, *CURVES, "--json", status=status))

    def by_name(self, *styles, **options):
        return {s["style"]: s for s in self.compare(*styles, **options)["styles"]}

    def test_the_glass_that_a_via_meets_stands_beside_each_style(self):
        study = self.study(FAST + "[via]\ndiameter = 60 um\n")
        shown = self.good("compare", study, "1x106", "2x106", "7628", *CURVES, "-o", "out")
        styles = json.loads((self.folder / "out/compare.json").read_text())["styles"]
        own, one, two, thick = ({s["label"]: s for s in styles}[label] for label in ("1080", "1x106", "2x106", "7628"))
        via = json.loads(self.good("map", study, "--json"))["via"]
        self.assertEqual(own["via"], {"diameter_um": 60, **{k: v for k, v in via["glass"][0].items() if k != "ply"}})
        self.assertGreater(one["via"]["without_glass"], 0)
        for key in ("least_um", "mean_um", "most_um"): # each cloth anywhere: heights add, chances of none multiply
            self.assertAlmostEqual(two["via"][key], 2 * one["via"][key], places=6)
        self.assertAlmostEqual(two["via"]["without_glass"], one["via"]["without_glass"] ** 2, places=9)
        self.assertFalse(thick["usable"])
        rows = {row["label"]: row for row in table(self.folder / "out/compare.csv")}
        for s in (own, two):
            row, glass = rows[s["label"]], s["via"]
            self.assertEqual([float(row[f"glass_{key}"]) for key in ("least_um", "mean_um", "most_um")],
                             [glass[key] for key in ("least_um", "mean_um", "most_um")])
            self.assertEqual(float(row["without_glass"]), glass["without_glass"])
            self.assertRegex(shown, rf"{glass['least_um']:8.1f} {glass['mean_um']:8.1f} {glass['most_um']:8.1f} "
                                    rf"{100 * glass['without_glass']:8.1f}\n")
        self.assertEqual(rows["7628"]["glass_mean_um"], "")
        self.assertIn("what a laser beam of 60 um meets", shown)

    def test_without_a_via_no_glass_is_told(self):
        shown = self.good("compare", self.study(FAST), "1080", *CURVES, "-o", "out")
        self.assertIsNone(json.loads((self.folder / "out/compare.json").read_text())["styles"][0]["via"])
        self.assertEqual({table(self.folder / "out/compare.csv")[0][key] for key in ("glass_least_um", "without_glass")}, {""})
        self.assertNotIn("laser", shown)

    def test_files_json_and_tables_tell_the_same(self):
        shown = self.good("compare", self.study(FAST), "2116", "7628", "1080", *CURVES, "-o", "out")
        self.assertEqual(self.files(), [f"out/compare{name}" for name in (
            "-angles.csv", "-angles.png", "-dk.png", ".csv", ".json", ".png")])
        result = json.loads((self.folder / "out/compare.json").read_text())
        self.assertEqual((result["command"], result["changed_ply"], result["same_dk"]), ("compare", None, False))
        styles, rows = result["styles"], table(self.folder / "out/compare.csv")
        self.assertEqual([s["style"] for s in styles], ["1080", "2116", "7628"])
        self.assertEqual([r["style"] for r in rows], ["1080", "2116", "7628"])
        self.assertEqual([s["own"] for s in styles], [True, False, False])
        for s, r in zip(styles[:2], rows):
            for key in ("worst_ps", "p99_ps", "median_ps", "over_budget", "dk_bulk", "dk_resin", "resin_content",
                        "glass_fraction", "safe_from_warp_deg"):
                self.assertEqual(float(r[key]), s[key], key)
            self.assertEqual(float(r["impedance_ohm"]), s["line"]["z_diff_ohm"])
            self.assertEqual(r["not_usable_because"], "")
            low, high = s["range"]["low_ps"], s["range"]["high_ps"]
            self.assertTrue(low < s["worst_ps_with_turn"] < high)
            self.assertEqual((float(r["worst_low_ps"]), float(r["worst_high_ps"])), (low, high))
            self.assertRegex(shown, rf"{s['worst_ps']:8.3f} +[0-9.]+ to [0-9.]+ +{s['with_tolerances']['p99_ps']:.3f} +{s['with_tolerances']['median_ps']:.3f}")
            self.assertEqual([a["angle_deg"] for a in s["angles"]], sorted(a["angle_deg"] for a in s["angles"]))
        alike = styles[0]["not_told_apart_from"] == ["2116"]
        self.assertEqual(styles[1]["not_told_apart_from"] == ["1080"], alike)
        self.assertEqual("1080 cannot be told apart from 2116" in shown, alike)
        self.assertEqual((styles[2]["usable"], "worst_ps" in styles[2], rows[2]["worst_ps"]), (False, False, ""))
        for text in (styles[2]["reason"], rows[2]["not_usable_because"], shown):
            self.assertIn("cannot hold its 7628 fabric", text)
        curves = table(self.folder / "out/compare-angles.csv")
        self.assertEqual([float(c["design_ps"]) for c in curves],
                         [a["design_ps"] for s in styles[:2] for a in s["angles"]])
        self.assertIn(CAUTION, shown)

    def test_own_style_has_the_numbers_of_skew(self):
        skew = json.loads(self.good("skew", self.study(FAST), "--json"))["skew"]
        own = self.by_name("1080")["1080"]
        for key in ("worst_ps", "p99_ps", "median_ps", "over_budget", "worst_ps_with_turn"):
            self.assertAlmostEqual(own[key], skew[key], delta=1e-9 * skew["worst_ps"], msg=key)

    def test_glass_typed_back_is_not_what_was_told(self):
        text = FAST.replace("turn = 1 deg", "turn = 1 deg\ncount_tolerance = 1 %")
        told = self.by_name("1035", text=text)["1035"]
        sets = [f"stackup.layer.{layer}=ply {opening['cloths']}x1035 100 um"
                for layer, opening in zip((2, 4), told["openings"])]
        typed = json.loads(self.good("skew", self.study(text), "--json", "--set", sets[0], "--set", sets[1]))["skew"]
        for key in ("worst_ps", "worst_ps_with_turn"):
            self.assertAlmostEqual(told[key], typed[key], delta=1e-9 * typed[key], msg=key)

    def test_all_are_those_that_styles_lists(self):
        text = FAST.replace("positions = 64", "positions = 32").replace("length = 20 mm", "length = 5 mm")
        shown = self.by_name("all", "1080", text=text)
        listed = {s["style"] for s in json.loads(self.good("styles", "--json"))["styles"]}
        self.assertEqual(set(shown), listed)
        self.assertGreater(len(listed), 30)
        worst = [s["worst_ps"] for s in shown.values() if s["usable"]]
        self.assertTrue(list(shown.values())[0]["own"])
        within = [s["worst_ps"] for s in list(shown.values())[1:] if s["usable"] and
                  not any(o["resin_flag"] for o in s["openings"])]
        self.assertEqual(within, sorted(within))
        self.assertEqual([s["usable"] for s in shown.values()], [True] * len(worst) + [False] * (len(listed) - len(worst)))

    def test_one_ply_and_the_mean_kept(self):
        fabric = json.loads(self.good("map", self.study(FAST), "--json"))["fabric"]
        kept = self.by_name("2116", "1x106")
        self.assertGreater(kept["2116"]["dk_bulk"], fabric[0]["dk_bulk"] + 0.1)
        self.assertEqual(kept["2116"]["dk_resin"], 3.2)
        self.assertLess(kept["2116"]["resin_content"], fabric[0]["resin_content"])
        study = self.study(FAST)
        result = json.loads(self.good("compare", study, "2116", "1x106", "--ply", "2", "--same-dk", *CURVES, "--json"))
        self.assertEqual((result["changed_ply"], result["same_dk"]), (2, True))
        for s in result["styles"]:
            self.assertAlmostEqual(s["dk_bulk"] / fabric[1]["dk_bulk"], 1, delta=1e-6)
            if not s["own"]:
                self.assertNotAlmostEqual(s["dk_resin"], 3.2, delta=0.05)

    def test_an_opening_keeps_its_resin_content(self):
        study = self.study(FAST.replace("ply 1080 100 um", "ply 2x1035 110 um"))
        shown = self.good("compare", study, "1035", "1x1017", "2x1035", "2113", *CURVES, "-o", "out")
        styles = json.loads((self.folder / "out/compare.json").read_text())["styles"]
        self.assertEqual([s["label"] for s in styles if s["label"] == "2x1035"], ["2x1035"])  # the study's own, once
        own, rich = styles[0], styles[-1]
        self.assertEqual((own["style"], own["own"], own["openings"][0]["cloths"]), ("2x1035", True, 2))
        skew = json.loads(self.good("skew", study, "--json"))
        self.assertEqual(own["resin_content"], skew["fabric"][0]["resin_content"])
        self.assertAlmostEqual(own["worst_ps"], skew["skew"]["worst_ps"], delta=1e-9)
        self.assertEqual((rich["style"], rich["openings"][0]["resin_flag"]), ("1x1017", "resin-rich"))
        self.assertRegex(shown, r"1x1017 +spread +1/1 +9\d\.\d rich")
        row = table(self.folder / "out/compare.csv")[-1]
        self.assertEqual((row["style"], row["resin"], row["weave"]), ("1x1017", "resin-rich", "spread"))
        self.bad(BAD_INPUT, "give at most 8", "compare", study, "9x1035")

    def test_glass_of_a_style(self):
        styles = self.by_name("2116", "2116/NE", "2116/E")
        self.assertLess(styles["2116/NE"]["worst_ps"], 0.7 * styles["2116"]["worst_ps"])
        for key in ("worst_ps", "dk_bulk", "resin_content"):
            self.assertEqual(styles["2116/E"][key], styles["2116"][key])
        # the same filaments: the same glass by volume, less of it by weight
        self.assertEqual(styles["2116/NE"]["glass_fraction"], styles["2116"]["glass_fraction"])
        self.assertGreater(styles["2116/NE"]["resin_content"], styles["2116"]["resin_content"])

    def test_styles_and_glasses_of_the_study(self):
        styles = self.by_name("own", "1080/clear", "unwoven", "1080", text=OWN)
        self.assertIn("unwoven", styles)
        self.assertLess(styles["own"]["worst_ps"], 1e-6)
        self.assertLess(styles["1080/clear"]["worst_ps"], 1e-6)
        self.assertGreater(styles["1080"]["worst_ps"], 1)
        denser = ("--set", "style own.glass=E")
        result = json.loads(self.good("compare", self.study(OWN), "own", *CURVES, *denser, "--json"))
        self.assertGreater(result["styles"][1]["worst_ps"], 1)

    def test_unknown_names_are_all_listed_and_nothing_is_computed(self):
        text = self.bad(BAD_INPUT, 'there is no style "9999", style "21166" (did you mean 2116?), glass "X"', "compare",
                        self.study(FAST), "1080", "9999", "21166", "1080/X", "21166", "-o", "out")
        self.assertEqual(text.count("21166"), 1)
        self.assertIn("'weftwise styles' lists", text)
        self.assertEqual(self.files(), [])
        self.bad(BAD_INPUT, ", ...;", "compare", self.study(FAST), *[f"none-{i}-{'x' * 20}" for i in range(100)])
        for name in ("../styles/1080", "", "/", "2116/", "/NE", "x" * 500, "all/NE"):
            self.bad(BAD_INPUT, "there is no ", "compare", self.study(FAST), name)

    def test_bad_input(self):
        study = self.study(FAST)
        self.bad(BAD_INPUT, "lacks its", "compare", study)
        self.bad(BAD_INPUT, "there is no ply 3", "compare", study, "1080", "--ply", "3")
        self.bad(BAD_INPUT, "give --to an angle above --from", "compare", study, "1080", "--from", "20 deg", "--to", "10 deg")
        self.bad(BAD_INPUT, "at most 20000", "compare", study, "1080", "--step", "0.00009 deg")
        self.bad(BAD_INPUT, "no ply", "compare", self.study(FAST.replace("ply 1080 100 um", "resin 100 um")), "1080")
        text = self.bad(BAD_INPUT, "no glass", "compare", self.study(OWN.replace("glass = clear", "glass = no")), "own")
        self.assertIn("test.ini:", text)

    def test_where_no_other_style_can_be_used_the_studys_own_is_the_answer(self):
        shown = self.good("compare", self.study(FAST), "7628", *CURVES, "-o", "out")
        self.assertIn("cannot hold its 7628 fabric", shown)
        result = json.loads((self.folder / "out/compare.json").read_text())
        self.assertEqual([(s["own"], s["usable"]) for s in result["styles"]], [(True, True), (False, False)])

    def test_gate_judges_the_best(self):
        for budget, styles, status in (("50 ps", ("1080", "2116"), DONE), ("0.001 ps", ("1080",), OVER_BUDGET),
                                       ("50 ps", ("7628",), DONE), ("0.001 ps", ("7628",), OVER_BUDGET)):
            self.good("compare", self.study(FAST.replace("2 ps", budget)), *styles, *CURVES, "--gate", "-q", status=status)
        self.bad(BAD_INPUT, "needs a budget", "compare", self.study(FAST.replace("budget = 2 ps\n", "")), "1080", "--gate")

    def test_without_a_budget_what_lacks_one_is_left_open(self):
        study = self.study(FAST.replace("budget = 2 ps\n", ""))
        style = json.loads(self.good("compare", study, "1080", *CURVES, "--json", "-o", "out"))["styles"][0]
        self.assertEqual((style["over_budget"], style["safe_from_warp_deg"]), (None, None))
        row = table(self.folder / "out/compare.csv")[0]
        self.assertEqual((row["over_budget"], row["safe_from_warp_deg"]), ("", ""))

    def test_a_single_trace_has_spreads(self):
        single = SINGLE.replace("fineness = 0.5", "fineness = 0.5\nsections = 0")
        result = json.loads(self.good("compare", self.study(single), "1080", "106", *CURVES, "--json"))
        self.assertEqual(result["value"], "delay difference")
        self.assertNotIn("z_diff_ohm", result["styles"][0]["line"])
        self.assertIn("Z0", self.good("compare", self.study(single), "1080", *CURVES))


class Pitch(Case):
    AROUND = ("--pitch", "300 um..1000 um", "--trace-width", "80 um..120 um")

    def pitch(self, *arguments, text=FAST, status=DONE):
        return json.loads(self.good("pitch", self.study(text), *(arguments or self.AROUND), "--json", status=status))

    def test_files_json_and_tables_tell_the_same(self):
        shown = self.good("pitch", self.study(FAST), *self.AROUND, "-o", "out")
        self.assertEqual(self.files(), [f"out/{name}" for name in (
            "null.csv", "null.png", "pitch.csv", "pitch.json", "pitch.npy", "pitch.png")])
        result = json.loads((self.folder / "out/pitch.json").read_text())
        pitches, widths = result["pitch_um"], result["width_um"]
        rows = table(self.folder / "out/pitch.csv")
        self.assertEqual([(float(r["width_um"]), float(r["pitch_um"])) for r in rows],
                         [(w, p) for w in widths for p in pitches])
        self.assertEqual([float(r["worst_ps"]) for r in rows], [v for row in result["worst_ps"] for v in row])
        self.assertEqual([float(r["impedance_ohm"]) for r in rows], [v for row in result["impedance_ohm"] for v in row])
        shape, samples = npy(self.folder / "out/pitch.npy")
        self.assertEqual(shape, (len(widths), len(pitches)))
        for sample, row in zip(samples, rows):
            self.assertAlmostEqual(sample * 1e12, float(row["worst_ps"]), delta=1e-6 * max(map(max, result["worst_ps"])))
        loss = table(self.folder / "out/null.csv")
        self.assertEqual([float(r["worst_at_stretch_ps"]) for r in loss], result["loss"]["worst_at_stretch_ps"])
        warp = result["fabric"][0]["warp_pitch_um"]
        self.assertEqual([round(n["pitch_um"] / warp, 2) for n in result["nulls"] if n["least_in"] == "pitch"], [1, 2])
        for null in result["nulls"]:
            self.assertIn(f"{null['worst_ps']:10.4f}", shown)
            self.assertLess(null["worst_ps"], 0.05 * max(map(max, result["worst_ps"])))
        null = result["nulls"][0]  # issue 13: three ways gave three pitches; typed back it is the one of skew
        skew = json.loads(self.good("skew", self.study(FAST), "--json", "--set", f"trace.pitch={null['pitch_um']} um"))
        for key in ("worst_ps", "worst_ps_with_turn"):
            self.assertAlmostEqual(skew["skew"][key], null[key], delta=1e-9 * null[key])
        self.assertIn("the map is interpolated between cross-sections", shown)
        self.assertIn(CAUTION, shown)

    def test_the_choice_of_the_study_is_what_skew_says(self):
        skew = json.loads(self.good("skew", self.study(FAST), "--json"))["skew"]
        result = self.pitch("--pitch", "200 um..250 um", "--trace-width", "99 um..101 um")
        self.assertEqual(result["own"]["worst_ps"], skew["worst_ps"])
        self.assertEqual(result["own"]["worst_ps_with_turn"], skew["worst_ps_with_turn"])
        worst = result["worst_ps"][result["width_um"].index(100)][result["pitch_um"].index(220)]
        self.assertAlmostEqual(worst / skew["worst_ps"], 1, delta=0.005)  # interpolated
        self.assertGreaterEqual(len(result["pitch_um"]), 200)  # issue 13: too coarse for its marks
        self.assertGreaterEqual(len(result["width_um"]), 100)

    def test_legs_that_touch_are_no_choice(self):
        result = self.pitch("--pitch", "150 um..300 um", "--trace-width", "100 um..250 um", text=FAST.replace("0.5", "0.25"))
        for width, worst, impedance in zip(result["width_um"], result["worst_ps"], result["impedance_ohm"]):
            for pitch, at, ohm in zip(result["pitch_um"], worst, impedance):
                near = pitch - width < result["gap_um"] * (1 - 1e-6)
                self.assertEqual((at is None, ohm is None), (near, near), (pitch, width))
        _, samples = npy(self.folder / "out/test/pitch.npy")
        self.assertEqual(min(samples), -1)
        self.assertIn("", {r["worst_ps"] for r in table(self.folder / "out/test/pitch.csv")})

    def test_a_single_trace_varies_its_width(self):
        single = SINGLE.replace("fineness = 0.5", "fineness = 0.25\nsections = 0")
        result = self.pitch("--trace-width", "100 um..600 um", text=single)
        self.assertEqual((result["value"], result["pitch_um"], len(result["worst_ps"][0])), ("delay difference", None, 1))
        self.assertEqual([n["least_in"] for n in result["nulls"]], ["width"])
        self.bad(BAD_INPUT, "has a single trace, of which only the width can vary", "pitch", self.study(single), "--pitch",
                 "200 um..300 um")

    def test_bad_input(self):
        study = self.study(FAST)
        self.bad(BAD_INPUT, "no pair can be built", "pitch", study, "--pitch", "50 um..60 um", "--trace-width",
                 "70 um..80 um")
        self.bad(BAD_INPUT, "no ply", "pitch", self.study(FAST.replace("ply 1080 100 um", "resin 100 um")))
        self.bad(BAD_INPUT, "needs a budget", "pitch", self.study(FAST.replace("budget = 2 ps\n", "")), "--gate")
        self.bad(BAD_INPUT, "one operand too many", "pitch", study, "1080")
        self.assertEqual(self.files(), [])

    def test_gate_judges_the_deepest_null(self):
        for budget, status in (("50 ps", DONE), ("0.01 ps", OVER_BUDGET)):
            self.pitch("--pitch", "180 um..260 um", "--trace-width", "99 um..101 um", "--gate",
                       text=FAST.replace("2 ps", budget), status=status)


if __name__ == "__main__":
    unittest.main(argv=["test_choices.py", *__import__("sys").argv[3:]])
