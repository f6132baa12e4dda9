"""weftwise cloth as people and scripts meet it: table, JSON, files, the gate, bad input.

usage: test_cloth.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import unittest

from test_cli import BAD_INPUT, DONE, FAILED, GOOD, OVER_BUDGET, SINGLE, STUDIES, Case

FAST = "fineness = 0.25\nsections = 0"


def fast(text):
    one_ply = text.replace("ply 1080 100 um\nlayer = trace", "resin 100 um\nlayer = trace")
    return one_ply.replace("fineness = 0.5", FAST).replace("length = 50 mm", "length = 5 mm")


WANDER = ("--set", "fabric.wander=20 um", "--boards", "4", "--to-length", "10 mm")


PITCH = {"warp": 25400 / 60, "fill": 25400 / 47}  # um, of 1080


def paths(warp=30, fill=28, off=lambda system, yarn, place: 0):
    """Where yarns of 1080 lie, as 'weftwise measure' writes it."""
    text = "[paths]\nformat = 1\npicture = photo.png\n" + "".join(f"{s}_pitch = {p:.4f} um\n" for s, p in PITCH.items())
    for system, yarns, places in (("warp", warp, fill), ("fill", fill, warp)):
        for yarn in range(yarns):
            text += f"[{system} {yarn + 1}]\n"
            for first in range(0, places, 16):
                numbers = " ".join(f"{off(system, yarn, place):.2f}" for place in range(first, min(places, first + 16)))
                text += f"off = {numbers} um\n"
    return text


class Cloth(Case):
    def test_files_json_and_table_tell_the_same(self):
        lanes = ("--set", "signal.lanes=4", "--set", "signal.lane_pitch=1 mm")
        shown = self.good("cloth", self.study(fast(GOOD)), *WANDER, *lanes, "-o", "out")
        self.assertEqual(self.files(), ["out/cloth-lanes.png", "out/cloth-place.png", "out/cloth-ply1.png", "out/cloth.csv",
                                        "out/cloth.json", "out/cloth.png"])
        result = json.loads((self.folder / "out/cloth.json").read_text())
        self.assertEqual(result["value"], "skew")
        self.assertEqual(result["boards"], 4)
        own = result["own"]
        self.assertEqual(own["length_mm"], 5)
        self.assertLessEqual(own["square"]["p99_ps"]["low"], own["square"]["p99_ps"]["value"])
        self.assertRegex(shown, rf"(?m)^\* +5\.00 +{own['perfect_worst_ps']:.3f} \| +{own['square']['median_ps']['value']:.3f} ")
        self.assertIn(result["sentence"].split(";")[0], " ".join(shown.split()))
        self.assertEqual(len(result["lanes"]["correlation"]), 4)
        self.assertAlmostEqual(result["lanes"]["correlation"][0], 1)
        self.assertEqual([round(a["angle_deg"], 3) for a in result["angles"]], [0, 0.5, 1, 2, 4, 8])
        self.assertEqual(result["scatter"]["fill"]["wander_um"], 20)
        table = (self.folder / "out/cloth.csv").read_text().splitlines()
        self.assertEqual(len(table), 1 + len(result["lengths"]))
        again = json.loads(self.good("cloth", self.study(fast(GOOD)), *WANDER, *lanes, "--json"))
        self.assertEqual(again["lengths"], result["lengths"])  # the same seed, the same cloth
        other = json.loads(self.good("cloth", self.study(fast(GOOD)), *WANDER, "--set", "fabric.seed=2", "--json"))
        self.assertNotEqual(other["lengths"], result["lengths"])

    def test_the_worst_of_a_panel_s_nets(self):
        study, lanes = self.study(fast(GOOD)), ("--set", "signal.lanes=4")
        shown = self.good("cloth", study, *WANDER, "--nets", "3", "-o", "out")
        self.assertIn("out/cloth-panel.png", self.files())
        panel = json.loads((self.folder / "out/cloth.json").read_text())["panel"]
        self.assertEqual((panel["nets"], panel["panels"], len(panel["worst_ps"])), (3, 8, 8))
        self.assertEqual(panel["worst_ps"], sorted(panel["worst_ps"]))
        self.assertIn(f"half of the panels have up to {panel['median_ps']['value']:.3f} ({panel['median_ps']['low']:.3f}-", shown)
        self.assertIn(f"within the budget on {100 * panel['yield']['value']:.1f} % of panels", shown)
        self.assertLessEqual(panel["yield"]["low"], panel["yield"]["value"])
        for set, nets in ((lanes, 4), ((*lanes, "--set", "signal.lane_pitch=1 mm"), None)):
            result = json.loads(self.good("cloth", study, *WANDER, *set, "--json"))
            self.assertEqual(result["panel"] and result["panel"]["nets"], nets)
        self.assertAlmostEqual(result["side_by_side"][0]["correlation"], 1)
        self.bad(BAD_INPUT, "--nets", "cloth", study, *WANDER, "--nets", "1")

    def test_a_single_trace_has_its_difference(self):
        result = json.loads(self.good("cloth", self.study(fast(SINGLE)), *WANDER, "--json"))
        self.assertEqual(result["value"], "delay difference")
        self.assertIsNone(result["lanes"])

    def test_a_route_has_its_own_length(self):
        """The bound is the worst that skew tells of the same route; the footer says of the lanes what their joint figure takes."""
        route = GOOD.replace("length = 50 mm\n", "").replace("[fabric]", "[route]\nsegment = 4 mm 11 deg\nsegment = 4 mm -11 deg\n[fabric]")
        study = self.study(fast(route))
        shown = self.good("cloth", study, "--set", "fabric.wander=20 um", "--boards", "4", "--set", "signal.lanes=4", "-o", "out")
        result = json.loads((self.folder / "out/cloth.json").read_text())
        self.assertTrue(result["lengths_along_route"])
        self.assertEqual(result["own"], result["lengths"][-1])
        self.assertAlmostEqual(result["own"]["length_mm"], 8, 9)
        self.assertIn(4, [round(at["length_mm"], 9) for at in result["lengths"]])
        self.assertIsNone(result["parts_at_mm"])
        skew = json.loads(self.good("skew", study, "--json"))
        self.assertAlmostEqual(result["own"]["perfect_worst_ps"], skew["skew"]["worst_ps"], 9)
        self.assertIn("length along the route", " ".join(shown.split()))
        self.assertIn("4 lanes, anywhere on one board", shown)
        self.bad(BAD_INPUT, "--to-length: the study has a [route]", "cloth", study, *WANDER)

    def test_what_is_left_out_is_said(self):
        study, few = self.study(fast(GOOD)), ("--set", "fabric.wander=20 um", "--boards", "4")
        for keys, said in ((("signal.lanes=2000",), "2000 lanes anywhere on a panel: they may be up to 1000"),
                           (("signal.lanes=80", "signal.lane_pitch=1 mm"), "80 lanes side by side: they may be up to 64")):
            shown = self.good("cloth", study, *few, *[word for key in keys for word in ("--set", key)])
            self.assertIn("nothing is told of " + said, shown)

    def test_the_arms_of_a_feed(self):
        """The set on one board is told in text and JSON, its worst over perfect cloth is skew's, and the gate judges it."""
        study = self.study(fast(SINGLE.replace("[fabric]", "[route second]\nfrom = 1.3 mm, 0 mm\nsegment = 5 mm 11 deg\n[fabric]")))
        few = ("--set", "fabric.wander=20 um", "--boards", "4")
        shown = self.good("cloth", study, *few, "--gate", "--set", "signal.budget=100 ps", "-o", "out")
        result = json.loads((self.folder / "out/cloth.json").read_text())
        arms = result["arms"]
        self.assertEqual((arms["names"], arms["judged"], result["told_of_arm"]), (["route", "second"], "spread of delays", "route"))
        skew = json.loads(self.good("skew", study, "--json"))["on_one_cloth"]
        self.assertAlmostEqual(arms["perfect_worst_ps"], skew["worst_ps"], 9)
        self.assertAlmostEqual(arms["perfect_design_worst_ps"], skew["worst_ps_with_turn"], 9)
        self.assertEqual([len(row) for row in arms["correlation"]], [2, 2])
        p99 = arms["turned"]["p99_ps"]["value"]
        self.assertLessEqual(arms["turned"]["median_ps"]["value"], p99)
        self.assertIn("2 arms on one board, the spread of their delays", shown)
        self.assertIn("of the first, 'route', alone", shown)
        self.assertRegex(shown, rf"(?m)^  second +{arms['deviation_ps'][1]:.3f} ps +{arms['correlation'][1][0]:.2f}  1.00$")
        self.assertEqual(arms["yield"], 1)
        self.good("cloth", study, *few, "--gate", "--set", f"signal.budget={0.9 * p99} ps", status=OVER_BUDGET)

    def test_counts_are_taken_where_the_cloth_is_turned(self):
        count = ("--set", "fabric.count_tolerance.warp=1 %")
        study = self.study(fast(GOOD))
        shown = self.good("cloth", study, *WANDER, *count, "-o", "out")
        self.assertIn("turned within 1 deg, counts within 1 % (warp)", shown)
        self.assertIn("turn and counts included", shown)
        result = json.loads((self.folder / "out/cloth.json").read_text())
        self.assertTrue(result["with_counts"])
        skew = json.loads(self.good("skew", study, *count, "--json"))["skew"]
        self.assertAlmostEqual(result["perfect_design_worst_ps"], skew["worst_ps_with_turn"], 9)
        shown = self.good("cloth", study, *WANDER, "-o", "woven")
        self.assertNotIn("nothing is told of", shown)
        without = json.loads((self.folder / "woven/cloth.json").read_text())
        self.assertFalse(without["with_counts"])
        self.assertEqual(without["own"]["square"], result["own"]["square"])
        self.assertNotEqual(without["own"]["turned"], result["own"]["turned"])

    def test_gate(self):
        for budget, status in (("0.001 ps", OVER_BUDGET), ("100 ps", DONE)):
            self.good("cloth", self.study(fast(GOOD)), *WANDER, "--gate", "--set", f"signal.budget={budget}", status=status)

    def measured(self, text=None, name="paths.ini"):
        (self.folder / name).parent.mkdir(exist_ok=True)
        (self.folder / name).write_text(text or paths())
        return self.study(fast(GOOD).replace("[fabric]", f"[fabric]\npaths = {name}"))

    def test_the_cloth_of_a_picture(self):
        shown = self.good("cloth", self.measured(name="photos/paths.ini"), "--set", "fabric.count_tolerance.warp=1 %", "--boards", "4", "-o", "out", "--format", "svg")
        self.assertEqual(self.files(), ["out/cloth-lanes.svg", "out/cloth-place.svg", "out/cloth-ply1.svg", "out/cloth.csv",
                                        "out/cloth.json", "out/cloth.svg"])
        result = json.loads((self.folder / "out/cloth.json").read_text())
        self.assertIsNone(result["scatter"])
        self.assertEqual(result["measured"]["picture"], "photo.png")
        self.assertEqual((result["measured"]["warp"]["yarns"], result["measured"]["fill"]["yarns"]), (30, 28))
        self.assertAlmostEqual(result["measured"]["warp"]["pitch_um"], PITCH["warp"], places=3)
        self.assertIsNone(result["panel"])
        self.assertFalse(result["with_counts"])
        self.assertIn("counts are those of the picture here", shown)
        self.assertNotIn("counts within", shown)
        self.assertIsNone(result["arms"])
        self.assertLess(result["lengths"][-1]["length_mm"], 28 * PITCH["fill"] / 1000)
        # even paths are perfect cloth: nothing is above its bound, and the worst seen is near to it
        own = result["own"]
        self.assertTrue(0.9 * own["perfect_worst_ps"] < own["square"]["worst_seen_ps"] < 1.001 * own["perfect_worst_ps"])
        self.assertIn("yarns as measured from photo.png", shown)
        self.assertIn("over places on it alone", " ".join(shown.split()))
        for figure in ("cloth", "cloth-lanes", "cloth-place", "cloth-ply1"):
            self.assertIn("cloth measured from photo.png", (self.folder / f"out/{figure}.svg").read_text())
        recalled = self.good("recall", self.folder / "out/cloth.svg")
        self.assertIn("paths = photos/paths.ini\nseed = 1\n", recalled)
        self.assertIn("weftwise cloth", " ".join(self.good("skew", self.measured()).split()))  # which is the bound

    def test_bad_paths(self):
        def wide(system, yarn, place):
            return 320 if system == "warp" and yarn % 2 and yarn < 29 else 0  # the pitch of all stays
        def steep(system, yarn, place):
            return 200 * place if system == "fill" else 0
        whole = paths()
        cases = {"holds no paths": "[study]\n", "get the whole file": whole[:whole.rindex("[fill")],
                 "has 3 warp yarns": paths(warp=3), "is not a number": whole.replace("0.00", "nan", 1),
                 "overlap with their neighbours": paths(off=wide), "bends by 200 um": paths(off=steep),
                 "its warp pitch, 500.0 um, is not that of style 1080, 423.3 um": whole.replace(f"{PITCH['warp']:.4f}", "500"),
                 "over 4 MB": "off = 1 um\n" * 400000}
        for why, text in cases.items():
            self.bad(BAD_INPUT, why, "cloth", self.measured(text), "--boards", "4")
        self.bad(FAILED, "paths.ini", "cloth", self.study(fast(GOOD)), "--set", "fabric.paths=none/paths.ini")
        for name in ("/etc/paths.ini", "../paths.ini", "a/../../paths.ini", "..", "a/..", "a//../.."):
            self.bad(BAD_INPUT, "study's folder", "cloth", self.study(fast(GOOD)), "--set", f"fabric.paths={name}")
        self.bad(BAD_INPUT, "a trace of 50 mm does not fit on the cloth of photo.png, which takes one of up to", "cloth", self.measured(),
                 "--set", "trace.length=50 mm")
        self.bad(BAD_INPUT, "does not fit", "cloth", self.measured(), "--to-length", "80 mm")
        self.bad(BAD_INPUT, "leave wander", "cloth", self.measured(), "--set", "fabric.wander=20 um")
        self.bad(BAD_INPUT, "--nets is of whole panels", "cloth", self.measured(), "--nets", "4")
        route = GOOD.replace("length = 50 mm\n", "").replace("[fabric]", "[route]\nsegment = 4 mm 11 deg\n[fabric]\npaths = paths.ini")
        self.bad(BAD_INPUT, "over a picture's cloth a trace is straight", "cloth", self.study(fast(route)))
        self.assertEqual(self.files(), [])

    def test_bad_input(self):
        self.bad(BAD_INPUT, "'wander = 40 um' in [fabric]", "cloth", self.study(fast(GOOD)))
        self.bad(BAD_INPUT, "a wander of up to", "cloth", self.study(fast(GOOD)), *WANDER, "--set", "fabric.wander=400 um",
                 "--set", "fabric.together=0.1")
        self.bad(BAD_INPUT, "shorter than the trace", "cloth", self.study(fast(GOOD)), *WANDER[:4], "--to-length", "1 mm")

    def test_skew_and_angles_say_that_they_are_the_bound(self):
        for command in ("skew", "angles", "pitch"):
            with_wander = self.good(command, self.study(fast(GOOD)), "--set", "fabric.wander=20 um")
            self.assertIn("weftwise cloth", " ".join(with_wander.split()))
            self.assertNotIn("weftwise cloth", self.good(command, self.study(fast(GOOD))))


    def test_skew_points_to_lanes_on_one_cloth(self):
        lanes = ("--set", "signal.lanes=4")
        self.assertIn("lanes side by side are not independent: 'lane_pitch'", self.good("skew", self.study(fast(GOOD)), *lanes))
        self.assertNotIn("not independent", self.good("skew", self.study(fast(GOOD)), *lanes, "--set", "signal.lane_pitch=1 mm"))


class FullSize(Case):
    def test_the_readme_s_figures_of_the_link(self):
        """250 mm: 70 ps of perfect cloth; 99 of 100 have 62 ps laid square and 32 ps with the cloth's turn."""
        link = json.loads(self.good("cloth", STUDIES / "mezzanine-link.ini", "--set", "fabric.wander=40 um", "--json"))
        last = link["lengths"][-1]
        told = (last["length_mm"], last["perfect_worst_ps"], last["square"]["p99_ps"]["value"], last["turned"]["p99_ps"]["value"])
        self.assertEqual([round(value) for value in told], [250, 70, 62, 32])


if __name__ == "__main__":
    unittest.main(argv=["test_cloth.py", *__import__("sys").argv[3:]])
