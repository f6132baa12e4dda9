"""The program as people and scripts meet it: exit status, messages, files, JSON, help.

usage: test_cli.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import math
import os
import pathlib
import pty
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest
import xml.dom.minidom

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
STUDIES = ROOT / "weaves" / "studies"
DONE, OVER_BUDGET, BAD_INPUT, FAILED = 0, 1, 2, 3

GOOD = """[study]
title = Test link
positions = 64
fineness = 0.5
[stackup]
resin = low-loss
layer = plane
layer = ply 1080 100 um
layer = trace
layer = ply 1080 100 um
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
[resin low-loss]
dk = 3.2
df = 0.004
density = 1.4 g/cm3
"""
SINGLE = GOOD.replace("pitch = 220 um\n", "").replace("rate = 56 Gb/s\n", "")
# On cross-sections as coarse as they may be and without full ones: for checks of files, words and statuses.
COARSE = GOOD.replace("positions = 64", "positions = 32").replace("fineness = 0.5", "fineness = 0.25\nsections = 0")
COARSE_SINGLE = SINGLE.replace("fineness = 0.5", "fineness = 0.25")


def limit_file_size():
    """As a full disk does: writing behind the first 8 kB fails."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192))


class Case(unittest.TestCase):
    maxDiff = None

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-test-"))
        self.addCleanup(shutil.rmtree, self.folder)

    def run_program(self, *arguments, **options):
        environment = {k: v for k, v in os.environ.items() if k != "WEFTWISE_WEAVES"}
        environment.update(options.pop("environment", {}))
        return subprocess.run([str(PROGRAM), *map(str, arguments)], cwd=self.folder, env=environment,
                              stdout=options.pop("stdout", subprocess.PIPE), stderr=subprocess.PIPE,
                              stdin=subprocess.DEVNULL, timeout=120, check=False, **options)

    def good(self, *arguments, status=DONE, **options):
        done = self.run_program(*arguments, **options)
        self.assertEqual((done.returncode, done.stderr.decode()), (status, ""), arguments)
        return done.stdout.decode() if done.stdout is not None else None

    def bad(self, status, part, *arguments, **options):
        """It ends with that status and one line on standard error that says `part`, and nothing else."""
        done = self.run_program(*arguments, **options)
        text = done.stderr.decode()
        self.assertEqual(done.returncode, status, text)
        self.assertEqual(text.count("\n"), 1, text)
        self.assertTrue(text.startswith("weftwise: ") and text.endswith("\n"), text)
        self.assertIn(part, text)
        self.assertFalse(any(ord(c) < 32 for c in text[:-1]), repr(text))
        if done.stdout is not None:
            self.assertEqual(done.stdout, b"")
        return text

    def study(self, text=GOOD, name="test.ini"):
        path = self.folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def files(self, folder="out"):
        return sorted(str(p.relative_to(self.folder)) for p in (self.folder / folder).rglob("*") if p.is_file())


class Usage(Case):
    def test_version(self):
        self.assertRegex(self.good("--version"), r"^weftwise \d+\.\d+\.\d+\n$")

    def test_help_names_every_command(self):
        text = self.good("--help")
        for word in ("styles", "new", "map", "skew", "verify", "angles", "recall", "--set", "--json", "--gate"):
            self.assertIn(word, text)

    def test_help_study_explains_every_key_of_a_study(self):
        text = self.good("help", "study")
        for key in ("title", "fineness", "resin", "layer", "width", "thickness", "pitch", "length", "angle", "turn",
                    "rate", "frequency", "budget", "warp_count", "fill_width", "density"):
            self.assertRegex(text, rf"(?m)^    {key} = ")
        self.assertLess(max(map(len, text.splitlines())), 110)

    def test_help_of_a_command_is_one_screen(self):
        for command in re.findall(r"(?m)^  ([a-z]+) ", self.good("--help").split("options:")[0]):
            text = self.good(command, "--help")
            self.assertIn(f"usage: weftwise {command} ", text)
            self.assertLessEqual(len(text.splitlines()), 48, command)
            self.assertEqual(text, self.good("help", command))
        self.assertIn("weftwise help study", self.good("skew", "--help"))
        self.bad(BAD_INPUT, "did you mean 'skew'", "help", "skwe")

    def test_help_of_a_study_has_each_section_once(self):
        sections = re.findall(r"(?m)^  (\[.*\])$", self.good("help", "study"))
        self.assertIn("[route]", sections)
        self.assertEqual(len(sections), len(set(sections)))

    def test_help_lists_what_the_command_takes(self):
        gate = r"(?m)^ +--gate "
        self.assertRegex(self.good("skew", "--help"), gate)
        self.assertNotRegex(self.good("map", "--help"), gate)

    def test_nothing_asked(self):
        self.bad(BAD_INPUT, "which command", )

    def test_unknown_words_name_the_nearest(self):
        self.bad(BAD_INPUT, "did you mean 'skew'", "skwe", "x.ini")
        self.bad(BAD_INPUT, "did you mean --format", "skew", "--formta", "svg", "x.ini")
        self.bad(BAD_INPUT, "is not a command", "frobnicate")
        self.bad(BAD_INPUT, "option '-z'", "skew", "-z")

    def test_operands_are_counted(self):
        self.bad(BAD_INPUT, "lacks its STUDY", "skew")
        self.bad(BAD_INPUT, "one operand too many", "skew", "a.ini", "b.ini")
        self.bad(BAD_INPUT, "lacks its FILE", "new")

    def test_values_of_options_are_judged(self):
        self.bad(BAD_INPUT, "--format", "skew", "x.ini", "--format", "gif")
        self.bad(BAD_INPUT, "lacks its DIR", "skew", "x.ini", "-o")
        self.bad(BAD_INPUT, "takes no value", "skew", "x.ini", "--json=yes")
        self.bad(BAD_INPUT, "from 1 to 256", "skew", "x.ini", "--threads=0")
        for value in ("1e9", "-1", "nan", "0x10", "12px", "800.5", ""):
            self.bad(BAD_INPUT, "--width", "skew", "x.ini", "--width", value)
        self.bad(BAD_INPUT, "changes nothing", "styles", "--gate")

    def test_every_command_is_named_where_one_is_missing(self):
        names = re.findall(r"(?m)^  ([a-z]+) ", self.good("--help").split("options:")[0])
        for text in (self.bad(BAD_INPUT, "which command"), self.bad(BAD_INPUT, "not a command", "frobnicate")):
            for name in names:
                self.assertIn(name, text)

    def test_angles_and_ranges_are_judged_before_anything_is_read(self):
        def angles(part, *options):
            self.bad(BAD_INPUT, part, "angles", "x.ini", *options)
        angles('--from: "5" lacks its unit', "--from", "5")
        angles("--to", "--to", "nan deg")
        angles("outside -180 deg to 180 deg", "--to", "181 deg")
        angles("lacks its ANGLE", "--from")
        angles("angles from 40 deg to 30 deg are none", "--from", "40 deg", "--to", "30 deg")
        angles("angles from 90 deg to 90 deg are none", "--from", "90 deg")
        angles("--step", "--step", "0 deg")
        angles("--step", "--step=-1 deg")
        angles("1000001 angles from 0 deg to 90 deg", "--step", "0.00009 deg")
        angles("at most 20000 are taken; give a step of 0.0045 deg or more", "--step", "0.00009 deg")
        angles("--to-length", "--to-length", "50")
        angles("outside 10 um to 10 m", "--to-length", "11 m")
        self.bad(FAILED, "x.ini", "angles", "x.ini", "--step", "0.0046 deg")  # the file is looked for at last

    def test_options_of_other_commands_are_refused(self):
        for option in (("--from", "1 deg"), ("--from", "0 deg"), ("--to", "90 deg"), ("--step", "1 deg"),
                       ("--to-length", "1 m"), ("--ply", "1"), ("--same-dk",), ("--pitch", "1 mm..2 mm"),
                       ("--trace-width", "100 um..200 um")):
            self.bad(BAD_INPUT, f"{option[0]} changes nothing in 'skew'", "skew", "x.ini", *option)
        self.bad(BAD_INPUT, "--gate changes nothing in 'recall'", "recall", "x.png", "--gate")
        self.bad(BAD_INPUT, "--same-dk changes nothing in 'angles'", "angles", "x.ini", "--same-dk")
        for value in ("0", "257", "1.5", "top"):
            self.bad(BAD_INPUT, "--ply", "skew", "x.ini", "--ply", value)
        for value in ("100 um", "100..200 um", "100 um..200", "300 um..200 um", "1 mm..1 mm", "1 mm..1 m", "..", "",
                      "9" * 90 + " um..1 mm"):
            self.bad(BAD_INPUT, "--pitch", "skew", "x.ini", "--pitch", value)
            self.bad(BAD_INPUT, "--trace-width", "skew", "x.ini", "--trace-width", value)


class Styles(Case):
    def test_table_is_aligned_and_has_the_cloths_of_the_trade(self):
        lines = self.good("styles").splitlines()
        rows = [line for line in lines if line[:1].isdigit()]
        self.assertGreater(len(rows), 30)
        self.assertEqual(len({len(row) for row in rows}), 1)
        self.assertTrue(any(row.startswith("1080 ") for row in rows))

    def test_one_style_with_its_sources(self):
        text = self.good("styles", "1080")
        for word in ("warp count", "60 /in", "memory", "closed", "packing", "glass E"):
            self.assertIn(word, text)

    def test_json(self):
        everything = json.loads(self.good("styles", "--json"))["styles"]
        one = json.loads(self.good("styles", "1080", "--json"))["styles"]
        self.assertIn(one[0], everything)
        self.assertEqual(one[0]["warp"]["width_um"]["origin"], "closed")
        self.assertEqual(one[0]["warp_count_per_inch"]["value"], 60.0)

    def test_unknown_style_names_the_close_ones(self):
        self.bad(BAD_INPUT, "1080", "styles", "1081")

    def test_the_weaves_folder_can_be_named(self):
        self.good("styles", "--weaves", ROOT / "weaves")
        self.good("styles", environment={"WEFTWISE_WEAVES": str(ROOT / "weaves")})
        self.bad(FAILED, "--weaves", "styles", "--weaves", "/nonexistent")
        self.bad(FAILED, "WEFTWISE_WEAVES", "styles", environment={"WEFTWISE_WEAVES": "/nonexistent"})


class New(Case):
    def test_runs_as_it_is(self):
        self.good("new", "mine.ini")
        self.good("map", "mine.ini", "--quiet", "--set", "study.fineness=0.5")
        self.assertIn("out/mine/dk-ply1.png", self.files())

    def test_json(self):
        result = json.loads(self.good("new", "mine.ini", "--json"))
        self.assertEqual((result["command"], result["file"]), ("new", "mine.ini"))
        self.assertTrue((self.folder / "mine.ini").exists())

    def test_overwrites_nothing(self):
        path = self.study("precious", "mine.ini")
        self.bad(BAD_INPUT, "there already", "new", "mine.ini")
        self.assertEqual(path.read_text(), "precious")

    def test_where_it_cannot_write(self):
        self.bad(FAILED, "no-such-folder", "new", "no-such-folder/mine.ini")
        self.study("a file", "file")
        self.bad(FAILED, "file/mine.ini", "new", "file/mine.ini")


class Typed(Case):
    """What people type, by the symptom it used to have."""

    def budget(self, *sets, text=COARSE):
        arguments = [a for s in sets for a in ("--set", s)]
        self.good("map", self.study(text), "-q", "-o", "typed", *arguments)
        found = re.search(r"(?m)^budget = ([\d.]+) (fs|ps)$", self.good("recall", "typed/dk-ply1.png"))
        return float(found.group(1)) * (1e-3 if found.group(2) == "fs" else 1.0)

    def test_new_writes_112_gbps_with_two_levels(self):
        self.good("new", "mine.ini")
        text = (self.folder / "mine.ini").read_text()
        self.assertRegex(text, r"(?m)^rate = 112 Gb/s$")
        self.assertRegex(text, r"(?m)^; .*Usual: 2 up to 56 Gb/s, 4 for 112 Gb/s.*\nlevels = 4$")

    def test_a_budget_in_degrees_or_unit_intervals_is_no_time(self):
        self.assertAlmostEqual(self.budget("signal.budget=36 deg"), 0.1 / 28e9 * 1e12, places=9)  # 28 GHz
        self.assertAlmostEqual(self.budget("signal.budget=36 \u00b0"), 0.1 / 28e9 * 1e12, places=9)
        self.assertAlmostEqual(self.budget("signal.budget=0.1 UI"), 0.1 / 56e9 * 1e12, places=9)  # 2 levels, 56 Gb/s
        self.assertAlmostEqual(self.budget("signal.budget=0.1 UI", "signal.levels=4"), 0.2 / 56e9 * 1e12, places=9)
        self.bad(BAD_INPUT, "needs a frequency", "map", self.study(COARSE.replace("frequency = 28 GHz\n", "")), "--set",
                 "signal.budget=3 deg")
        self.bad(BAD_INPUT, "needs a rate", "map", self.study(COARSE.replace("rate = 56 Gb/s\n", "")), "--set",
                 "signal.budget=0.1 UI")
        self.bad(BAD_INPUT, "9999 UI is", "map", self.study(COARSE), "--set", "signal.budget=9999 UI")

    def test_a_decimal_comma_lacks_its_unit(self):
        text = self.bad(BAD_INPUT, "decimal comma", "map", self.study(COARSE.replace("100 um\nthickness", "0,1 mm\nthickness")))
        self.assertIn("test.ini:", text)
        self.bad(BAD_INPUT, "decimal comma", "map", self.study(), "--set", "resin low-loss.dk=3,2")

    def test_units_of_the_trade_are_no_units(self):
        text = COARSE.replace("width = 100 um", "width = 4 mils").replace("thickness = 15 um", "thickness = 0.5 oz")
        text = text.replace("56 Gb/s", "56 Gbps").replace("angle = 0 deg", "angle = 5 degrees").replace("1 deg", "1\u00b0")
        self.good("map", self.study(text), "-q", "-o", "typed")
        back = self.good("recall", "typed/dk-ply1.png")
        for line in ("width = 101.6 um", "thickness = 17.5 um", "rate = 56 Gb/s", "angle = 5 deg", "turn = 1 deg"):
            self.assertIn(line + "\n", back)
        self.bad(BAD_INPUT, '"oz" is not a unit for a length', "map", self.study(), "--set", "trace.width=1 oz")

    def test_a_coplanar_line_is_a_misspelt_layer(self):
        for text in (COARSE.replace("layer = trace", "layer = coplanar"), COARSE.replace("angle = 0", "ground = 100 um\nangle = 0"),
                     COARSE.replace("angle = 0", "type = coplanar\nangle = 0"), COARSE + "[coplanar]\ngap = 100 um\n"):
            self.bad(BAD_INPUT, "this kind of line is not modelled; there are stripline, microstrip", "map", self.study(text))


class Map(Case):
    def test_files_and_table(self):
        text = self.good("map", self.study())
        names = ["dk-ply1-data.png", "dk-ply1.npy", "dk-ply1.png", "dk-ply2-data.png", "dk-ply2.npy", "dk-ply2.png"]
        self.assertEqual(self.files(), ["out/test/" + name for name in names])
        for name in names:
            self.assertIn(name, text)
        self.assertIn("do not qualify", text)

    def test_json(self):
        result = json.loads(self.good("map", self.study(), "--json"))
        self.assertEqual(result["command"], "map")
        self.assertEqual([ply["style"] for ply in result["fabric"]], ["1080", "1080"])


class Skew(Case):
    KEYS = {
        "skew": "worst_ps worst_ps_upper worst_ps_lower worst_at_um median_ps p95_ps p99_ps over_budget "
                "worst_ps_with_turn worst_deg_at_frequency unit_interval_share in_signal_terms with_tolerances lanes "
                "bend_mismatch_ps",
        "delay": "fastest_ps slowest_ps spread_ps spread_deg_at_frequency",
        "line": "dk_eff z0_ohm z_odd_ohm delay_ps_per_mm dispersion",
    }

    def test_map_tells_the_glass_that_a_via_meets(self):
        study = self.study()
        self.assertIsNone(json.loads(self.good("map", study, "--json"))["via"])
        result = json.loads(self.good("map", study, "--set", "via.diameter=50 um", "--json"))
        narrow = result["via"]
        wide = json.loads(self.good("map", study, "--set", "via.diameter=200 um", "--json"))["via"]
        self.assertEqual(narrow["diameter_um"], 50)
        for one, other, ply in zip(narrow["glass"], wide["glass"], result["fabric"]):
            self.assertAlmostEqual(one["mean_um"] / (ply["glass_fraction"] * ply["thickness_um"]), 1, places=9)
            self.assertAlmostEqual(one["mean_um"], other["mean_um"], places=6)
            self.assertLess(other["most_um"], one["most_um"])
            self.assertGreater(other["least_um"], one["least_um"] - 1e-9)
        text = self.good("map", study, "--set", "via.diameter=50 um", "-o", "out")
        self.assertIn(f"mean {narrow['glass'][0]['mean_um']:5.1f} um", text)
        for name in ("via-ply1.png", "via-ply2.png", "via-ply1.npy", "via-ply1-data.png"):
            self.assertIn(f"out/{name}", self.files())
        self.good("map", study, "-o", "out")
        self.assertFalse([name for name in self.files() if name.startswith("out/via")])

    def test_pair(self):
        text = self.good("skew", self.study())
        names = {"skew.json", "profile.png", "distribution.png"}
        for ply in (1, 2):
            names |= {f"dk-ply{ply}{end}" for end in (".png", ".npy", "-data.png")}
            names |= {f"skew-ply{ply}{end}" for end in (".png", ".npy", "-data.png")}
        self.assertEqual(self.files(), sorted("out/test/" + name for name in names))
        for word in (*names, "worst", "median", "over budget", "unit interval", "worst within", "do not qualify", "Z odd"):
            self.assertIn(word, text)
        for name in names:
            data = (self.folder / "out/test" / name).read_bytes()
            start = {".png": b"\x89PNG\r\n\x1a\n", ".npy": b"\x93NUMPY\x01\x00", ".json": b"{"}
            self.assertTrue(data.startswith(start[pathlib.Path(name).suffix]), name)

    def test_json_of_a_pair(self):
        text = self.good("skew", self.study(), "--json")
        self.assertEqual(text, (self.folder / "out/test/skew.json").read_text())
        for word in ("NaN", "Infinity", "nan", "inf,"):
            self.assertNotIn(word, text)
        result = json.loads(text)
        self.assertEqual((result["command"], result["study"]), ("skew", "Test link"))
        for part, keys in self.KEYS.items():
            self.assertLessEqual(set(keys.split()), set(result[part]), part)
        for ply in result["fabric"]:
            self.assertLessEqual(set("ply style glass_fraction resin_content dk_low dk_high dk_series dk_parallel".split()),
                                 set(ply))
        skew = result["skew"]
        known = result["range"]
        self.assertTrue(0 < known["low_ps"] < skew["worst_ps"] < known["high_ps"])
        self.assertEqual([(s["figure"], s["of"]) for s in known["hangs_on"]],
                         [("warp width", "1080"), ("fill width", "1080"), ("thickness", "1080"), ("glass Dk", "E"),
                          ("cloth height", "1080"), ("cloth height", "1080")])
        up = sum(max(0, max(s["at_low_ps"], s["at_high_ps"]) - skew["worst_ps"]) ** 2 for s in known["hangs_on"]) ** 0.5
        self.assertAlmostEqual(known["high_ps"], skew["worst_ps"] + up, places=6)
        self.assertLessEqual(skew["median_ps"], skew["p95_ps"])
        self.assertLessEqual(skew["p95_ps"], skew["p99_ps"])
        self.assertLessEqual(skew["p99_ps"], skew["worst_ps"])
        self.assertLessEqual(skew["worst_ps"], skew["worst_ps_with_turn"] * (1 + 1e-9))
        self.assertAlmostEqual(skew["worst_deg_at_frequency"], 360 * 28e9 * skew["worst_ps"] * 1e-12, places=6)
        self.assertAlmostEqual(skew["unit_interval_share"], 56e9 * skew["worst_ps"] * 1e-12, places=9)

    def test_microstrip_at_a_frequency_shows_the_static_figure(self):
        bare = COARSE_SINGLE.replace("plane\nlayer = ply 1080 100 um\nlayer = trace", "air\nlayer = trace", 1)
        shown = {}
        for switch in ("yes", "no"):
            shown[switch] = self.good("skew", self.study(bare), "--set", "signal.frequency=77 GHz", "--set",
                                      f"signal.dispersion={switch}")
            result = json.loads((self.folder / "out/test/skew.json").read_text())
            if switch == "yes":
                at, delay = result["line"]["dispersion"], result["line"]["delay_ps_per_mm"]
        self.assertTrue(at["applied"] and at["why_not"] is None)
        self.assertIsNone(result["line"]["dispersion"])
        still = result["line"]["delay_ps_per_mm"]
        self.assertAlmostEqual(at["delay_ps_per_mm_static"], still, delta=1e-9)
        self.assertAlmostEqual(delay, still * at["mean_factor"], delta=1e-9)
        self.assertIn(f"{still:.3f} ps/mm", shown["yes"])
        self.assertIn("at 77 GHz: delay +", shown["yes"])
        self.assertNotIn("at 77 GHz: delay", shown["no"])

    def test_delay_of_the_line_is_the_mean_of_all_positions(self):
        for text in (GOOD, SINGLE):
            shown = self.good("skew", self.study(text))
            result = json.loads((self.folder / "out/test/skew.json").read_text())
            line, mean = result["line"], result["delay"]["mean_ps"]
            self.assertAlmostEqual(50 * line["delay_ps_per_mm"], mean, delta=1e-9 * mean)
            self.assertAlmostEqual(line["dk_eff"], (line["delay_ps_per_mm"] * 0.299792458) ** 2, places=9)
            self.assertIn(f"delay {line['delay_ps_per_mm']:.3f} ps/mm", shown)

    def test_pitch_moved_to_the_grid_is_told(self):
        study = self.study(GOOD.replace("width = 100 um", "width = 105.07 um"))
        note = "pitch solved on the grid: "
        text = self.good("skew", study, "--set", "trace.pitch=255.003 um")
        self.assertRegex(text, note + r"25[45]\.\d+ um, [\d.]+ nm from the one given")
        self.assertIn("105.07 um wide, 255.003 um pitch", text)
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        self.assertGreater(abs(result["line"]["pitch_solved_um"] - 255.003), 1e-3)
        self.assertLess(abs(result["line"]["pitch_solved_um"] - 255.003), 0.06)
        self.assertIn(note.encode(), (self.folder / "out/test/profile.png").read_bytes())
        self.assertNotIn(note, self.good("skew", self.study()))
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        self.assertAlmostEqual(result["line"]["pitch_solved_um"], 220, places=6)

    def test_figures_are_set_in_signs(self):
        self.good("skew", self.study(SINGLE), "--quiet", "--set", "trace.angle=7.5 deg")
        data = (self.folder / "out/test/profile.png").read_bytes()
        self.assertIn("1080 100 \N{MICRO SIGN}m; trace 100 \N{MICRO SIGN}m wide; 50 mm at 7.5\N{DEGREE SIGN} from".encode(),
                      data)
        self.assertIn(b"width = 100 um", data)  # the study stays as it is typed

    def test_trace_wide_against_the_cloth(self):
        wide = ("--set", "trace.width=9 mm", "--set", "trace.pitch=19 mm")
        result = json.loads(self.good("skew", self.study(), "--json", "--set=fabric.turn=0 deg", *wide))
        self.assertLess(result["skew"]["worst_ps"], 1)  # it averages over 20 yarns

    def test_single_trace_has_no_skew(self):
        self.assertIn("difference of two equal traces, places independent", self.good("skew", self.study(SINGLE)))
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        self.assertNotIn("skew", result)
        delay = result["delay"]
        self.assertGreater(delay["spread_ps"], 0)
        self.assertEqual((delay["worst_ps"], delay["places"]), (delay["spread_ps"], "independent"))
        self.assertIsNone(delay["unit_interval_share"])

    def test_two_feeds_on_one_cloth(self):
        study = self.study(SINGLE)
        text = self.good("skew", study)
        self.assertIn("how far apart?  Two feeds on one cloth differ least", " ".join(text.split()).replace(
            "apart? Two", "apart?  Two"))
        self.assertTrue((self.folder / "out/test/spacing.png").exists())
        told = json.loads((self.folder / "out/test/skew.json").read_text())["spacing"]
        self.assertIsNone(told["lanes"])
        least = told["feeds"]["least"][0]
        spacing = f"--set=signal.spacing={least['spacing_mm']} mm"
        text = self.good("skew", study, spacing)
        self.assertRegex(text, r"difference of two equal traces, \d\S+ [mu]m apart on one cloth")
        delay = json.loads((self.folder / "out/test/skew.json").read_text())["delay"]
        self.assertEqual(delay["places"], "one cloth")
        self.assertLess(delay["worst_ps"], 0.5 * delay["spread_ps"])
        self.assertLess(abs(delay["worst_ps_with_turn"] - least["worst_ps_with_turn"]), 1e-3 * delay["spread_ps"])
        self.assertLess(delay["p99_ps"], delay["worst_ps"] * (1 + 1e-9))

    def test_lanes_on_one_cloth(self):
        study = self.study()
        set = ("--set=signal.lanes=4", "--set=signal.budget=0.5 ps", "--set=fabric.turn=1 deg")
        self.assertIn("lanes, places independent", " ".join(self.good("skew", study, *set).split()))
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        best = result["spacing"]["lanes"]["best"]
        self.assertEqual(result["skew"]["lanes"]["places"], "independent")
        self.assertTrue((self.folder / "out/test/lanes.png").exists())
        text = self.good("skew", study, *set, f"--set=signal.lane_pitch={best['lane_pitch_mm']} mm",
                         "--set=signal.spacing=1 mm")
        self.assertIn("mm apart on one cloth", text)
        self.assertIn("pair to pair", text)
        skew = json.loads((self.folder / "out/test/skew.json").read_text())["skew"]
        self.assertEqual(skew["lanes"]["places"], "one cloth")
        self.assertLess(abs(skew["lanes"]["yield"] - best["yield"]), 0.01)
        self.assertGreater(skew["pair_to_pair"]["worst_ps"], 0)

    def test_arms_on_one_cloth(self):
        arm = "[route far]\nfrom = 2.3 mm, -0.4 mm\nsegment = 30 mm 1 deg\nsegment = 20 mm 30 deg\n"
        study = self.study(SINGLE.replace("positions = 64", "positions = 64\nsections = 0") + arm)
        text = " ".join(self.good("skew", study).split())
        self.assertIn("The 2 arms lie on one cloth: route and far differ most, by", text)
        self.assertIn("between the mean delays: the layout's to match", text)
        self.assertTrue((self.folder / "out/test/arms.png").exists())
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        arms = result["on_one_cloth"]
        self.assertEqual([member["name"] for member in arms["members"]], ["route", "far"])
        self.assertEqual(result["trace"]["arms"][0]["from_mm"], [2.3, -0.4])
        self.assertEqual(arms["worst_between"], ["route", "far"])
        self.assertEqual(arms["correlation"][0][1], arms["correlation"][1][0])
        self.assertEqual(arms["correlation"][0][0], 1)
        self.assertLessEqual(arms["worst_ps"], arms["worst_ps_with_turn"])
        self.assertLess(arms["median_ps"], arms["p99_ps"])
        self.assertEqual(arms["worst_of_each_two_ps_with_turn"][0][1], arms["worst_ps_with_turn"])
        alone = result["delay"]["worst_ps_with_turn"]
        self.assertNotAlmostEqual(alone, arms["worst_ps_with_turn"], delta=0.01 * alone)
        for share, status in ((0.995, OVER_BUDGET), (1.005, DONE)):
            budget = f"--set=signal.budget={share * arms['worst_ps_with_turn']} ps"
            self.good("skew", study, "--gate", "--quiet", budget, status=status)

    def test_same_digits_on_any_number_of_threads(self):
        study = self.study()
        one = self.good("skew", study, "--json", "--threads", "1", "-o", "one")
        two = self.good("skew", study, "--json", "--threads", "2", "-o", "two")
        self.assertEqual(one, two)
        for name in os.listdir(self.folder / "one"):
            same = (self.folder / "one" / name).read_bytes() == (self.folder / "two" / name).read_bytes()
            self.assertTrue(same, name)

    def test_set_is_a_setting_of_the_study(self):
        turned = json.loads(self.good("skew", self.study(), "--json", "--set", "trace.angle=10 deg",
                                      "--set=fabric.turn=0 deg"))
        straight = json.loads(self.good("skew", "test.ini", "--json", "--set=fabric.turn=0 deg"))
        self.assertEqual(turned["trace"]["angle_deg"], 10)
        # turning by 10 deg on 1080 cuts the worst of 50 mm at least five-fold (common practice, no source)
        self.assertGreater(straight["skew"]["worst_ps"], 5 * turned["skew"]["worst_ps"])

    def test_in_the_terms_of_the_signal_and_of_all_lanes(self):
        study = self.study(GOOD.replace("budget = 2 ps", "budget = 8 ps\nlevels = 4\nlanes = 16"))
        text = self.good("skew", study)
        for word in ("of a symbol", "null at", "conversion", "half the symbol rate", "weak-coupling limit", "termination", "loosely coupled", "all 16 within the budget", "any cloth",
                     "turned by up to 1 deg (uniform)"):
            self.assertIn(word, text)
        result = json.loads((self.folder / "out/test/skew.json").read_text())
        skew, terms = result["skew"], result["skew"]["in_signal_terms"]
        self.assertEqual(result["signal"]["symbol_rate_gbaud"], 28)
        self.assertEqual(terms["nyquist_ghz"], 14)
        for name in ("worst", "p99"):
            tau = skew[f"{name}_ps"] * 1e-12
            self.assertAlmostEqual(terms[name]["unit_interval_share"], 28e9 * tau, places=9)
            self.assertAlmostEqual(terms[name]["first_null_ghz"], 1e-9 / (2 * tau), places=5)
            self.assertAlmostEqual(terms[name]["weak_coupling_conversion_at_nyquist"], abs(math.sin(math.pi * 14e9 * tau)), places=9)
        # lanes of one board share the cloth's turn: all are within more often than if each had a turn of its own
        over = skew["with_tolerances"]["over_budget"]
        self.assertTrue(0 < over < 1)
        self.assertGreater(skew["lanes"]["yield"], (1 - over) ** 16)
        self.assertLess(skew["lanes"]["yield"], 1 - over)
        self.assertGreater(skew["lanes"]["expected_worst_ps"], skew["with_tolerances"]["median_ps"])

    def test_conversion_and_its_budget(self):
        study = self.study(GOOD.replace("budget = 2 ps", "conversion = -20 dB"))
        result = json.loads(self.good("skew", study, "--json"))
        conversion = result["skew"]["conversion"]
        self.assertEqual(result["signal"]["conversion_budget_db"], -20)
        self.assertTrue(conversion["median_db"] < conversion["p99_db"] <= conversion["worst_db"] + 1e-9)
        self.assertTrue(-20 < conversion["worst_db"] <= conversion["worst_db_with_turn"] + 1e-9 <= 1e-9)
        self.assertGreater(conversion["beat_length_mm"], 0)
        self.assertIn("misses the budget of -20 dB", self.good("skew", study))
        self.good("skew", study, "--gate", "--quiet", status=OVER_BUDGET)
        self.good("skew", study, "--gate", "--quiet", "--set=signal.conversion=-0.1 dB", "--set=trace.angle=10 deg")
        self.bad(BAD_INPUT, "give signal.rate or signal.frequency", "skew",
                 self.study("".join(line for line in GOOD.splitlines(True)
                                    if not line.startswith(("rate", "frequency", "levels"))) .replace(
                                        "budget = 2 ps", "conversion = -20 dB")))
        self.bad(BAD_INPUT, "-100 dB to -0.1 dB", "skew", study, "--set=signal.conversion=20 dB")
        self.bad(BAD_INPUT, "lacks its unit", "skew", study, "--set=signal.conversion=-20")

    def test_gate(self):
        study = self.study()
        quiet = ("skew", study, "--gate", "--quiet")
        self.assertEqual(self.good(*quiet, status=OVER_BUDGET), "")
        self.good(*quiet, "--set", "signal.budget=900 ps")
        self.study(GOOD.replace("budget = 2 ps\n", ""))
        self.bad(BAD_INPUT, "budget", *quiet)

    def test_gate_counts_the_turn(self):
        study = self.study(GOOD.replace("angle = 0 deg", "angle = 1 deg"))
        skew = json.loads(self.good("skew", study, "--json"))["skew"]
        self.assertLess(skew["worst_ps"] * 1.1, skew["worst_ps_with_turn"])
        between = 0.5 * (skew["worst_ps"] + skew["worst_ps_with_turn"])
        self.good("skew", study, "--gate", "--quiet", "--set", f"signal.budget={between} ps", status=OVER_BUDGET)

    def test_other_formats(self):
        study = self.study(SINGLE)
        for ending, start in (("svg", b"<?xml"), ("pdf", b"%PDF-")):
            self.good("skew", study, "--quiet", "--format", ending, "-o", ending)
            for name in ("profile", "distribution", "skew-ply1", "dk-ply1"):
                self.assertTrue((self.folder / ending / f"{name}.{ending}").read_bytes().startswith(start))

    def test_picture_carries_the_whole_study(self):
        study = self.study(SINGLE)
        self.good("skew", study, "--quiet", "--set", "trace.length=31.7 mm", "--width", "800", "--dpi", "75")
        data = (self.folder / "out/test/profile.png").read_bytes()
        for word in (b"length = 31.7 mm", b"[style 1080]", b"[glass E]", b"Test link"):
            self.assertIn(word, data)
        self.assertEqual(int.from_bytes(data[16:20], "big"), 800)


class Route(Case):
    ROUTED = GOOD.replace("length = 50 mm\n", "").replace("[fabric]", "[route]\nsegment = 25 mm 0 deg\n"
                                                          "segment = 25 mm 0 deg\n[fabric]")

    def test_a_route_that_does_not_bend_is_a_straight_trace(self):
        straight = json.loads(self.good("skew", self.study(), "--json"))["skew"]
        routed = json.loads(self.good("skew", self.study(self.ROUTED), "--json"))["skew"]
        for key in ("worst_ps", "median_ps", "p99_ps", "worst_ps_with_turn"):
            self.assertAlmostEqual(routed[key], straight[key], delta=1e-6 * straight[key], msg=key)

    def test_a_zigzag_helps(self):
        zigzag = self.study(self.ROUTED.replace("25 mm 0 deg", "25 mm 12 deg", 1).replace("25 mm 0 deg", "25 mm -12 deg"))
        text = self.good("skew", zigzag, "--set", "fabric.turn=0 deg")
        self.assertIn("route of 2 segments, 50 mm", text)
        worst = json.loads((self.folder / "out/test/skew.json").read_text())["skew"]["worst_ps"]
        straight = json.loads(self.good("skew", self.study(), "--json", "--set", "fabric.turn=0 deg"))["skew"]["worst_ps"]
        # a route at 12 deg on 1080 behaves as a trace turned by 10 deg does: five-fold (common practice, no source)
        self.assertGreater(straight, 5 * worst)

    def test_one_that_cannot_be_laid(self):
        study = self.study(self.ROUTED.replace("25 mm 0 deg\n[fabric]", "25 mm 180 deg\n[fabric]"))
        text = self.bad(BAD_INPUT, "folds back", "skew", study)
        self.assertIn("test.ini:19: route.segment: segment 2", text)
        self.bad(BAD_INPUT, "beside a [route]", "skew", self.study(self.ROUTED), "--set", "trace.length=50 mm")

    def test_levels_lengthen_the_unit_interval(self):
        two = json.loads(self.good("skew", self.study(), "--json"))["skew"]["unit_interval_share"]
        four = json.loads(self.good("skew", "test.ini", "--json", "--set", "signal.levels=4"))["skew"]["unit_interval_share"]
        self.assertAlmostEqual(four, two / 2, places=12)


class Scripts(Case):
    """What a script counts on, of every command that answers."""

    ASKED = {"map": (), "skew": (), "verify": ("--no-volume",), "angles": ("--step", "5 deg"),
             "compare": ("1080", "3313", "--step", "10 deg"),
             "pitch": ("--pitch", "400 um..450 um", "--trace-width", "95 um..105 um"), "budget": ()}
    JUDGING = ("skew", "angles", "compare", "pitch", "budget", "report")

    def test_json_is_one_document_and_the_file(self):
        study = self.study(COARSE)
        for command, options in self.ASKED.items():
            text = self.good(command, study, *options, "--json", "-o", command)
            self.assertEqual(json.loads(text)["command"], command)
            self.assertNotRegex(text, r"NaN|Infinity")
            if command != "map":
                self.assertEqual(text, (self.folder / command / f"{command}.json").read_text())

    def test_gate_needs_a_budget(self):
        study = self.study(COARSE.replace("budget = 2 ps\n", ""))
        for command in self.JUDGING:
            operands = ("1080",) if command == "compare" else ()
            text = self.bad(BAD_INPUT, "add 'budget = 2 ps' to [signal]", command, study, *operands, "--gate")
            self.assertIn("test.ini: --gate needs a budget", text)
            self.assertFalse((self.folder / "out").exists())

    def test_gate_opens_and_shuts(self):
        study = self.study(COARSE)
        for command, options in self.ASKED.items():
            if command in self.JUDGING:
                for budget, status in (("0.001 ps", OVER_BUDGET), ("900 ps", DONE)):
                    self.good(command, study, *options, "--gate", "--quiet", "--set", f"signal.budget={budget}", status=status)

    def test_pictures_of_all_commands_are_made_again(self):
        study = self.study(COARSE)
        for command in ("angles", "compare", "pitch"):
            options = [*self.ASKED[command], "--quiet", "--width", "800"]
            self.good(command, study, *options, "-o", f"{command}-1")
            pictures = sorted((self.folder / f"{command}-1").glob("*.png"))
            self.assertGreater(len(pictures), 1)
            self.study(self.good("recall", pictures[0]), "again.ini")
            self.good(command, "again.ini", *options, "-o", f"{command}-2")
            for picture in pictures:
                self.assertEqual(picture.read_bytes(), (self.folder / f"{command}-2" / picture.name).read_bytes(), picture)


class Folders(Case):
    """One run does not spoil another's: each command owns its files in a folder."""

    def contents(self, folder):
        return {p.relative_to(self.folder / folder): p.read_bytes() for p in (self.folder / folder).rglob("*") if p.is_file()}

    def test_a_second_run_leaves_figures_of_the_first_beside_its_own_tables(self):
        study = self.study(COARSE)
        mine = ("notes.txt", "skew-ply.png", "skew-plyX.npy", "compare.png.bak", "xcompare.csv", "compare.docx")
        compare = ("compare", study, "1080", "3313", "--to", "10 deg", "--step", "10 deg", "-o", "out", "-q")
        self.good("skew", study, "-o", "out", "-q", "--format", "svg")
        self.good(*compare, "--format", "svg")
        for name in mine:
            (self.folder / "out" / name).write_text("mine")
        others = {path: data for path, data in self.contents("out").items() if not path.name.startswith("compare")}
        first = {path.name for path in self.contents("out") if path.name.startswith("compare")} - set(mine)
        self.assertIn("compare.svg", first)
        self.good(*compare)
        now = self.contents("out")
        second = {path.name for path in now if path.name.startswith("compare")} - set(mine)
        self.assertEqual(second, {name.replace(".svg", ".png") for name in first})
        self.assertEqual({path: now.get(path) for path in others}, others)
        for name in mine:
            self.assertEqual((self.folder / "out" / name).read_text(), "mine")

    def test_a_study_with_fewer_plies_leaves_the_maps_of_the_others(self):
        self.good("skew", self.study(COARSE), "-o", "out", "-q")
        self.assertIn("out/skew-ply2.npy", self.files())
        one_ply = COARSE.replace("layer = ply 1080 100 um\nlayer = plane", "layer = resin 100 um\nlayer = plane")
        self.good("skew", self.study(one_ply), "-o", "out", "-q")
        self.assertFalse([name for name in self.files() if "ply2" in name])
        self.assertIn("out/skew-ply1.npy", self.files())

    def test_an_unwritable_folder_is_told_after_minutes_of_work(self):
        self.study("a file", "file")
        study = self.study(COARSE.replace("budget = 2 ps\n", ""))
        for command, options in (*Scripts.ASKED.items(), ("report", ())):
            # a budget that is missing is told before anything is solved; the folder is told before that
            gate = ("--gate",) if command in Scripts.JUDGING else ()
            for folder in ("file/out", "/proc/out"):
                self.bad(FAILED, "no file can be written there", command, study, *options, *gate, "-o", folder)
        self.assertEqual(self.files("."), ["file", "test.ini"])

    def test_looking_at_the_folder_leaves_nothing_where_the_study_fails(self):
        self.bad(BAD_INPUT, "add 'budget", "skew", self.study(COARSE.replace("budget = 2 ps\n", "")), "--gate", "-o", "a/b")
        self.assertEqual(os.listdir(self.folder), ["test.ini"])


class Recall(Case):
    def test_every_picture_is_made_again_to_the_same_bytes(self):
        """Whatever was set on the command line, and however many digits it had."""
        study = self.study(Route.ROUTED)
        sets = ("--set", "trace.width=101.23456789012345 um", "--set", "resin low-loss.dk=3.1415926535897932",
                "--set", "trace.angle=3.3333333333333333 deg", "--set", "fabric.turn=1.7 deg normal", "--width", "800")
        self.good("skew", study, "--quiet", "-o", "first", *sets)
        pictures = [path for path in (self.folder / "first").iterdir() if path.suffix == ".png"]
        self.assertGreater(len(pictures), 8)
        texts = {self.good("recall", path) for path in pictures}
        self.assertEqual(len(texts), 1)
        text = texts.pop()
        for word in ("positions = 64", "fineness = 0.5", "segment = 25 mm 0 deg", "turn = 1.7 deg normal",
                     "[style 1080]"):
            self.assertIn(word + "\n", text)
        self.study(text, "again.ini")
        self.good("skew", "again.ini", "--quiet", "-o", "second", "--width", "800")
        for path in (self.folder / "first").iterdir():
            if path.suffix in (".png", ".npy"):
                self.assertEqual(path.read_bytes(), (self.folder / "second" / path.name).read_bytes(), path.name)

    def test_other_formats_and_json(self):
        study = self.study()
        texts = set()
        for ending in ("png", "svg", "pdf"):
            self.good("map", study, "--quiet", "--format", ending, "-o", ending)
            texts.add(self.good("recall", f"{ending}/dk-ply1.{ending}"))
        self.assertEqual(len(texts), 1)
        result = json.loads(self.good("recall", "png/dk-ply1.png", "--json"))
        self.assertEqual({result["study"]}, texts)

    def test_what_is_no_figure(self):
        self.bad(FAILED, "nowhere.png", "recall", "nowhere.png")
        self.bad(BAD_INPUT, "is no figure", "recall", self.study())
        self.bad(BAD_INPUT, "is no figure", "recall", self.study(os.urandom(4096), "noise.png"))
        self.bad(FAILED, "could not be read", "recall", self.folder)
        self.good("map", self.study(), "--quiet")
        data = (self.folder / "out/test/dk-ply1.png").read_bytes()
        self.bad(BAD_INPUT, "ends in the middle", "recall", self.study(data[:500], "cut.png"))
        start = data.index(b"[study]")
        self.bad(BAD_INPUT, "carries no study", "recall",
                 self.study(data[:start] + b"(study)" + data[start + 7:], "other.png"))
        self.bad(BAD_INPUT, "lacks its FIGURE", "recall")


class Stopped(Case):
    """By Ctrl-C or SIGTERM, at work and in the middle of a file."""

    def start(self, *arguments, **options):
        def wanted():
            signal.signal(signal.SIGINT, signal.SIG_DFL)
        return subprocess.Popen([str(PROGRAM), *map(str, arguments)], cwd=self.folder, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, preexec_fn=wanted, **options)

    def stop(self, number, ready):
        """Send the signal once ready() is true; what the program printed."""
        process = self.start("verify", self.study(), "--set", "study.fineness=2", "--width", "4000", "-o", "out")
        end = time.monotonic() + 100
        while not ready() and process.poll() is None and time.monotonic() < end:
            time.sleep(0)
        process.send_signal(number)
        out, err = process.communicate(timeout=60)
        self.assertEqual((process.returncode, out), (128 + number, b""))
        self.assertRegex(err.decode(), r"^(weftwise: note: this takes .*\n)?weftwise: stopped; .*\n$")
        self.assertEqual([name for name in self.files() if ".weftwise-" in name], [])

    def test_at_work(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            begun = time.monotonic()
            self.stop(number, lambda: time.monotonic() > begun + 0.5)
            self.assertLess(time.monotonic() - begun, 30)
            self.assertEqual(self.files(), [])

    def test_in_the_middle_of_a_file(self):
        """A figure of the largest size takes long enough to be caught half way."""
        for number in (signal.SIGINT, signal.SIGTERM):
            process = self.start("map", self.study(), "--width", "10000", "-o", "out")
            caught = False
            while not caught and process.poll() is None:
                caught = any(".weftwise-" in name for name in self.listing())
            process.send_signal(number)
            process.communicate(timeout=60)
            self.assertTrue(caught)
            self.assertEqual(process.returncode, 128 + number)
            self.assertEqual(self.listing(), [])

    def test_a_crash_is_one_line_and_leaves_nothing_half_written(self):
        """As fontconfig's where it has no memory. A sanitizer keeps such faults for itself."""
        process = self.start("map", self.study(), "--width", "10000", "-o", "out")
        while not self.listing() and process.poll() is None:
            time.sleep(0)
        process.send_signal(signal.SIGSEGV)
        _, err = process.communicate(timeout=60)
        if b"Sanitizer" in err:
            self.skipTest("a sanitizer handles faults")
        self.assertEqual(process.returncode, FAILED)
        self.assertRegex(err.decode(), r"^weftwise: ended by a fault in memory; .*\n$")
        self.assertEqual(self.listing(), [])

    def listing(self):
        try:
            return os.listdir(self.folder / "out")
        except FileNotFoundError:
            return []

    def test_ignored_where_the_caller_ignores_it(self):
        process = subprocess.Popen(["sh", "-c", 'trap "" INT; exec "$@"', "sh", str(PROGRAM), "map", str(self.study()), "-q"],
                                   cwd=self.folder)
        time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        self.assertEqual(process.wait(timeout=60), DONE)


class Progress(Case):
    def test_on_a_terminal_only(self):
        """What takes longer than a second shows what it is at; on a pipe nothing is shown (in every other test)."""
        master, slave = pty.openpty()
        process = subprocess.Popen([str(PROGRAM), "angles", str(self.study()), "--step", "0.05 deg", "--threads", "1"],
                                   cwd=self.folder, stdout=subprocess.DEVNULL, stderr=slave)
        os.close(slave)
        shown = b""
        try:
            while segment := os.read(master, 4096):
                shown += segment
        except OSError:  # the other end is closed
            pass
        os.close(master)
        self.assertEqual(process.wait(timeout=100), DONE)
        text = shown.decode()
        self.assertRegex(text, r"\rweftwise: |\r\x1b\[Kweftwise: ")
        shares = [int(share) for share in re.findall(r"turning the trace, (\d+) % done, \d+ (?:s|min|h) left", text)]
        self.assertGreater(len(shares), 1)
        self.assertEqual(shares, sorted(shares))
        self.assertNotIn("\n", text)
        self.assertTrue(text.endswith("\r\x1b[K"), repr(text[-80:]))


class Verify(Case):
    """At half the fineness, as everything here, and with a period that both plies share."""

    HARD = (GOOD.replace("ply 1080 100 um", "ply T1 60 um").replace("dk = 3.2", "dk = 1") +
            "[glass hard]\ndk = 100\ndf = 0\ndensity = 2.5 g/cm3\n"
            "[style T1]\nwarp_count = 60 /in\nfill_count = 47 /in\nwarp_yarn = 11.2 tex\nfill_yarn = 11.2 tex\n"
            "thickness = 52 um\nglass = hard\n")

    def test_table_ends_in_the_error_bar_and_json_agrees_with_skew(self):
        study = self.study()
        text = self.good("verify", study)
        self.assertEqual(self.files(), [f"out/test/{name}" for name in ("along.png", "section.png", "verify.json")])
        for word in ("the answer", "kernel", "full cross-sections", "volume of one period", "residual", "half the resolution",
                     "double the resolution", "limit", "Z odd", "verify.json", "do not qualify"):
            self.assertIn(word, text)
        bar = " ".join(text.split())
        self.assertRegex(bar, r"The error bar on the worst skew of [\d.]+ ps is [\d.]+ ps, [\d.]+ %: the largest difference "
                              r"found, against .*; it does not cover the shape of the yarns .*memory: 1080.*press.*quasi-TEM")
        self.assertNotIn("nan", text)
        self.assertLess(max(map(len, text.splitlines())), 150)
        result = json.loads((self.folder / "out/test/verify.json").read_text())
        skew = json.loads(self.good("skew", study, "--json"))
        self.assertEqual(result["command"], "verify")
        worst = result["worst"]
        self.assertAlmostEqual(worst["worst_ps"], skew["skew"]["worst_ps"], places=9)
        self.assertEqual(result["line"], skew["line"])
        at = [place["high_at_um"] for place in skew["skew"]["by_ply"]]
        self.assertEqual([place["place"] for place in result["places"]][:4],
                         ["worst, leg 1 late", "worst, leg 2 late", "slowest", "fastest"])
        self.assertEqual(result["places"][0]["start_um"], at)
        # 50 mm is no whole number of periods of 1.08 mm: what is left of one is 0.3 % of the length
        self.assertAlmostEqual(worst["kernel_ps_per_mm"] * 50 / worst["worst_ps"], 1, delta=0.01)
        # kernel within 5 %, section within 1 % of the volume, at half the fineness
        self.assertAlmostEqual(worst["kernel_ps_per_mm"] / worst["volume_ps_per_mm"], 1, delta=0.05)
        self.assertAlmostEqual(worst["section_ps_per_mm"] / worst["volume_ps_per_mm"], 1, delta=0.01)
        error = result["error"]
        self.assertAlmostEqual(error["largest_ps"], max(error[k] for k in ("section_ps", "volume_ps", "resolution_ps")))
        self.assertEqual([r["factor"] for r in result["resolution"]], [0.5, 1, 2])
        for place in result["places"]:
            solution = place["at_start"]["solution"]
            self.assertLessEqual(solution["residual"], 1e-8)
            self.assertLess(solution["iterations"], 30)
        self.assertIsNone(result["no_volume"])

    def test_too_large_a_period_is_refused_beforehand_and_sections_are_shown(self):
        study = self.study(COARSE_SINGLE)
        text = self.good("verify", study, "--memory", "1 MB")
        self.assertRegex(" ".join(text.split()), r"no volume: the volume of one period \(1080.85 um\) has .* unknowns and would "
                                                 r"need [\d.e-]+ GB of memory; the limit is 0.001 GB")
        result = json.loads((self.folder / "out/test/verify.json").read_text())
        self.assertIn("GB of memory", result["no_volume"])
        self.assertIsNone(result["worst"]["volume_ps_per_mm"])
        self.assertGreater(result["worst"]["section_ps_per_mm"], 0)

    def test_without_volume(self):
        result = json.loads(self.good("verify", self.study(COARSE_SINGLE), "--no-volume", "--json"))
        self.assertIsNone(result["places"][0]["means"][0]["volume_ps_per_mm"])
        self.assertEqual(len(result["places"][0]["at_start"]["kernel_ps_per_mm"]), 1)

    def test_verify_prints_four_tables(self):
        text = self.good("verify", self.study(COARSE), "--no-volume", "-o", "out")
        lines = text.splitlines()
        self.assertLess(len(lines), 40)
        heads = [line for line in lines if re.search(r" ps  .* %$", line)]
        self.assertEqual(len(heads), 1, text)
        result = json.loads((self.folder / "out/verify.json").read_text())
        rows = re.findall(r"(?m)^  (.*?) {2,}(-?[\d.]+) +([-+][\d.]+) +([-+][\d.]+)(?:  |$)", text)
        self.assertEqual([row[0].split(",")[0] for row in rows], ["the answer", "full cross-sections", "double the resolution",
                                                                  "limit of ever finer grids"])
        answer, double = float(rows[0][1]), result["resolution"][-1]["worst_ps"]
        self.assertAlmostEqual(float(rows[2][1]), double, places=3)
        printed = 0.0006 / answer * 100  # what the last digit of the answer may hide, in %
        self.assertAlmostEqual(float(rows[2][3]), 100 * (double / answer - 1), delta=0.005 + printed)
        self.assertAlmostEqual(float(rows[1][2]), (result["worst"]["section_ps_per_mm"] - result["worst"]["kernel_ps_per_mm"])
                               * 50, places=3)

    def test_angle_without_a_period(self):
        text = self.good("verify", self.study(COARSE), "--set", "trace.angle=10 deg")
        self.assertIn("the cloth does not repeat", text)
        self.assertIn("does not grow along the trace", text)

    def test_field_that_does_not_converge(self):
        text = self.bad(FAILED, "did not converge: residual", "verify", self.study(self.HARD))
        self.assertRegex(text, r"'worst, leg 1 late'.* after 60 iterations, tolerance 1e-08")
        self.assertFalse((self.folder / "out").exists())
        self.bad(FAILED, "did not converge", "verify", "test.ini", "--json")

    def test_without_cloth(self):
        text = self.good("verify", self.study(GOOD.replace("ply 1080 100 um", "resin 100 um")))
        self.assertIn("there is no cloth", text)
        self.assertNotIn("nan", text)

    def test_options_are_judged(self):
        for value in ("1", "1 Gb", "-1 GB", "0 GB", "nan GB", ""):
            self.bad(BAD_INPUT, "--memory", "verify", "x.ini", "--memory", value)
        self.bad(BAD_INPUT, "changes nothing", "skew", "x.ini", "--no-volume")
        self.bad(BAD_INPUT, "changes nothing", "map", "x.ini", "--memory", "1 GB")
        self.bad(BAD_INPUT, "changes nothing", "verify", "x.ini", "--gate")

    def test_other_formats(self):
        study = self.study(COARSE_SINGLE)
        for ending, start in (("svg", b"<?xml"), ("pdf", b"%PDF-")):
            self.assertEqual(self.good("verify", study, "--quiet", "--no-volume", "--format", ending, "-o", ending), "")
            for name in ("section", "along"):
                self.assertTrue((self.folder / ending / f"{name}.{ending}").read_bytes().startswith(start))

    def test_same_digits_on_any_number_of_threads(self):
        study = self.study(COARSE_SINGLE)
        pictures = []
        for threads in ("1", "2"):
            text = self.good("verify", study, "--json", "--threads", threads, "-o", threads)
            self.assertEqual(text, (self.folder / threads / "verify.json").read_text())
            pictures.append([(self.folder / threads / name).read_bytes() for name in ("section.png", "along.png")])
        self.assertEqual(*pictures)


class BadInput(Case):
    def refuse(self, old, new, part, line=None, command="skew"):
        self.assertIn(old, GOOD)
        study = self.study(GOOD.replace(old, new, 1))
        text = self.bad(BAD_INPUT, part, command, study.name)
        if line:
            self.assertIn(f"test.ini:{line}: ", text)
        self.assertFalse((self.folder / "out").exists())

    def test_key_that_does_not_exist(self):
        self.refuse("width = ", "widht = ", "did you mean 'width'", 13)
        self.refuse("[trace]", "[traces]", "did you mean [trace]", 12)
        self.refuse("[fabric]\nturn", "[fabirc]\n; turn", "did you mean [fabric]", 18)
        self.refuse("dk = 3.2", "dkk = 3.2", "did you mean", 25)

    def test_unit(self):
        self.refuse("width = 100 um", "width = 100", "unit", 13)
        self.refuse("width = 100 um", "width = 100 deg", "unit", 13)
        self.refuse("angle = 0 deg", "angle = 0", "unit", 17)

    def test_numbers_that_are_none(self):
        for number in ("nan um", "inf um", "-inf um", "0x64 um", "1e999 um", "um", "", "1,5 um"):
            self.refuse("width = 100 um", f"width = {number}", "trace.width", 13)

    def test_very_long_line(self):
        self.refuse("title = Test link", "title = " + "x" * 10240, "at most 4096", 2)

    def test_style_that_does_not_exist(self):
        self.refuse("ply 1080", "ply 1081", "1080", 8)

    def test_yarn_wider_than_its_pitch(self):
        own = ("[style T1]\nwarp_count = 60 /in\nfill_count = 47 /in\nwarp_yarn = D450\nfill_yarn = D450\nglass = E\n"
               "warp_width = 610 um\nthickness = 53 um\n[resin low-loss]")
        self.refuse("[resin low-loss]", own, "wider", None)

    def test_glass_that_does_not_fit_its_ply(self):
        self.refuse("ply 1080 100 um", "ply 7628 100 um", "7628", 8)

    def test_sizes(self):
        self.refuse("ply 1080 100 um", "ply 1080 -100 um", "thickness", 8)
        self.refuse("ply 1080 100 um", "ply 1080 100 m", "10 mm", 8)
        self.refuse("width = 100 um", "width = 100 mm", "10 mm", 13)
        self.refuse("length = 50 mm", "length = 50000 mm", "10 m", 16)

    def test_legs_that_overlap(self):
        self.refuse("pitch = 220 um", "pitch = 90 um", "overlap", 15)

    def test_sections_and_keys_that_are_missing(self):
        self.refuse("length = 50 mm\n", "", "'length' is missing in [trace]")
        text = GOOD[:GOOD.index("[trace]")] + GOOD[GOOD.index("[fabric]"):]
        self.bad(BAD_INPUT, "section [trace] is missing", "skew", self.study(text).name)

    def test_no_trace_layer(self):
        self.refuse("layer = trace\n", "", "trace")

    def test_repeated(self):
        self.refuse("width = 100 um", "width = 100 um\nwidth = 110 um", "twice", 14)
        self.refuse("[fabric]", "[trace]", "twice", 18)

    def test_bytes_that_are_no_text(self):
        for byte, part in ((b"\0", "NUL"), (b"\xff", "UTF-8"), (b"\x1b", "control")):
            study = self.study(GOOD.encode().replace(b"Test", b"Te" + byte + b"st"))
            self.bad(BAD_INPUT, part, "skew", study.name)
        self.bad(BAD_INPUT, "", "skew", self.study(os.urandom(4096)).name)
        self.bad(BAD_INPUT, "missing", "skew", self.study("").name)

    def test_what_editors_do_to_a_file(self):
        for text in (b"\xef\xbb\xbf" + GOOD.encode(), GOOD.replace("\n", "\r\n").encode(), GOOD.rstrip().encode()):
            self.good("map", self.study(text), "--quiet")

    def test_sizes_no_grid_can_hold(self):
        text = self.bad(BAD_INPUT, "give a wider trace or gap", "skew", self.study(), "--set", "trace.pitch=100.0001 um")
        self.assertIn("test.ini:13: ", text)
        self.bad(BAD_INPUT, "--set: the cross-section", "skew", "test.ini", "--set", "trace.width=100 um", "--set",
                 "trace.pitch=100.001 um")

    def test_trace_between_two_planes(self):
        self.refuse("layer = ply 1080 100 um\nlayer = trace\nlayer = ply 1080 100 um\n", "layer = trace\n",
                    "the trace lies on a plane; put a ply", 8)

    def test_path_too_long(self):
        self.bad(BAD_INPUT, "5001 bytes long", "skew", self.study(), "-o", "y" + 2500 * "/x")
        self.assertFalse((self.folder / "y").exists())
        self.bad(FAILED, "too long", "skew", "test.ini", "-o", 300 * "y")

    def test_assignments(self):
        study = self.study()
        for assignment in ("trace.width=9 furlong", "trace.wdth=1 um", "nonsense", "=", "trace.width", ""):
            self.bad(BAD_INPUT, "--set", "skew", study, "--set", assignment)

    def test_control_characters_do_not_reach_the_terminal(self):
        self.bad(FAILED, "?[31m", "skew", "\x1b[31m\nstudy.ini")
        self.bad(BAD_INPUT, "?[31m", "skew", self.study(), "--set", "trace.\x1b[31m=1")

    def test_text_that_a_terminal_or_a_page_acts_on(self):
        """Escape sequences of one byte (U+009B), marks of direction and separators of lines are refused by line or shown as ?."""
        for mark in "\x9b\u061c\u200e\u202e\u2028\u2066":
            self.bad(BAD_INPUT, ":2: the line holds a character that cannot be seen", "map", self.study(GOOD.replace("Test", "Te" + mark + "st")).name)
            self.bad(BAD_INPUT, "cannot be seen", "map", self.study(), "--set", f"study.title=Te{mark}st")
            self.bad(FAILED, "no?where", "map", f"no{mark}where.ini")
        out = self.good("map", self.study(COARSE), "-o", "a\x9bb\nc")
        self.assertIn("files in a?b?c\n", out)
        self.assertTrue((self.folder / "a\x9bb\nc" / "dk-ply1.png").exists())

    def test_markup_in_a_title_is_text(self):
        title = "</title><script>alert(1)</script> & \"quoted\" 'so' \\ ]]> \u05e9\u05dc\u05d5\u05dd \u6f22"
        study = self.study(COARSE.replace("Test link", title))
        for command in ("map", "skew"):
            self.good(command, study, "-o", "out", "--format", "svg")
        pages = [path for path in (self.folder / "out").rglob("*") if path.suffix in (".svg", ".html")]
        self.assertGreater(len(pages), 5)
        for path in pages:
            self.assertNotIn("<script>alert", path.read_text(), path.name)
            if path.suffix == ".svg":
                xml.dom.minidom.parse(str(path))
        self.assertEqual(title, json.loads(self.good("map", study, "-o", "out", "--json"))["study"])
        self.good("map", study, "-o", "png")
        self.assertIn(title, self.good("recall", "png/dk-ply1.png"))

    def test_a_long_title_is_refused(self):
        self.bad(BAD_INPUT, "at most 4096", "map", self.study(GOOD.replace("Test link", 100000 * "x")))

    def test_names_do_not_climb_out_of_the_weaves(self):
        for name in ("../studies/mezzanine-link", "/etc/passwd", "..", "1080/../1080", "./1080"):
            self.bad(BAD_INPUT, "", "map", self.study(GOOD.replace("ply 1080", "ply " + name)))
            self.bad(BAD_INPUT, "", "compare", self.study(), name)

    def test_a_study_of_dots_does_not_write_beside_itself(self):
        (self.folder / "...ini").write_text(COARSE)
        self.good("map", "...ini")
        self.assertEqual({"...ini", "out"}, {path.name for path in self.folder.iterdir()})
        self.assertEqual([], [path.name for path in (self.folder / "out").iterdir() if path.is_file()])

    def test_a_resin_dk_that_the_sheet_overrides_is_said_to_be_idle(self):
        sheet = GOOD.replace("ply 1080 100 um", "ply 1080 100 um dk=3.6")
        setting = ("--set", "resin low-loss.dk = 3.0")
        for text, idle in ((sheet, True), (GOOD, False), (sheet.replace(" dk=3.6", "", 1), False)):
            done = self.run_program("map", self.study(text), *setting, "-o", "out")
            self.assertEqual(done.returncode, DONE, done.stderr)
            self.assertEqual(b"has no effect on the cloth: ply 1080 has the sheet's dk=" in done.stderr, idle)
        self.good("map", self.study(sheet), *setting, "-o", "out", "--quiet")
        self.bad(BAD_INPUT, "(resin as the glass, Dk", "map", self.study(sheet.replace("dk=3.6", "dk=7.5")), "-o", "out")

    def work_said(self, command, text, *options):
        """What is said first of the work; then the command ends, for there is no budget that it could judge by."""
        text = re.sub(r"(?m)^(budget|conversion) = .*\n", "", text)
        done = self.run_program(command, self.study(text), "--gate", "--threads", "2", "-o", "out", *options)
        self.assertEqual(done.returncode, BAD_INPUT, done.stderr)
        lines = done.stderr.decode().splitlines()
        self.assertRegex(lines[-1], "--gate needs a budget")
        return "\n".join(lines[:-1])

    def test_work_over_a_minute_or_a_gigabyte_is_said_first(self):
        link, bridge, feed = ((ROOT / f"weaves/studies/{name}.ini").read_text() for name in ("mezzanine-link", "display-bridge", "feed-network"))
        zigzag = re.sub(r"(?m)^(segment = .*\n)+", "".join(f"segment = 2 mm {11 - 22 * (i % 2)} deg\n" for i in range(998)), bridge)
        arms = feed.replace("segment = 14 mm 65 deg", "".join(f"segment = 2 mm {angle} deg\n" for angle in (30, 40, 50, 60, 65)), 1)
        narrow = ("--set", "trace.width=1 um", "--set", "study.fineness=1")
        wanders = ("--set", "fabric.wander=40 um", "--set", "fabric.wander_length=1 mm")
        for command, text, options, cause, cut in (
                ("skew", COARSE, narrow, r"about 1\.\d GB and 1 minute on 2 threads: the cross-section has \d\d\.\d million nodes", "a lower fineness"),
                ("report", bridge, (), r"about \d minutes? .* lobes .* 10 segments, 9 yarn counts and 2 plies", "fewer segments"),
                ("report", feed, (), r"about \d minutes? .* lobes .* 12 segments, 9 yarn counts and 2 plies", "a shorter trace"),
                ("skew", zigzag, (), r"about \d\d minutes .* lobes .* 998 segments", "no count_tolerance"),
                ("report", link, ("--set", "trace.length=10 m"), r"about \d+ minutes .* \d{6} sections, ", "a shorter trace"),
                ("compare", bridge, (), r"about \d+ minutes? .* 10 segments", "fewer segments"),
                ("cloth", arms, (*wanders, "--boards", "100"), "about 1 minute .* walks have tables in 12 directions at 9 pairs of yarn counts", "fewer arms"),
                ("cloth", link, (*wanders, "--boards", "400"), "about 2 minutes .* 400 boards of real cloth carry traces of 0.25 m", "fewer --boards"),
                ("cloth", link, (*wanders, "--set", "trace.angle=15 deg", "--to-length", "2 m"), r"about 3\.\d GB and 2 minutes .* boards .* at once",
                 "a longer wander_length"),
                ("skew", link, ("--set", "signal.lane_pitch=0.8 mm", "--set", "signal.lanes=1024"), "about 1 minute .* 1024 lanes lie side by side", "fewer lanes")):
            with self.subTest(command=command, cause=cause):
                said = self.work_said(command, text, *(("all",) if command == "compare" else ()), *options)
                self.assertRegex(said, rf"\Aweftwise: note: this takes {cause}[^\n]*; [^\n]*{cut}[^\n]* takes less\Z")
        for text in (link, bridge, feed):
            self.assertEqual(self.work_said("skew", text), "")
        self.assertEqual(self.work_said("report", bridge, "--quiet"), "")

    def test_many_frequencies_are_said_first(self):
        for points, said in (("1000000", True), ("2", False)):  # of two the phase would be lost: refused before anything is solved
            with subprocess.Popen([str(PROGRAM), "frequency", str(ROOT / "weaves/studies/mezzanine-link.ini"), "--points", points, "--threads", "2"],
                                  cwd=self.folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
                line = child.stderr.readline().decode()
                child.kill()
            self.assertEqual(bool(re.match(r"weftwise: note: this takes about \d minutes? on 2 threads: the line has \d+ sections, each solved at 1\d{6} ", line)), said, line)

    def check_advice(self, style):
        """What a refused ply is told to be at least, typed in as printed, is taken, beside a plane and a thin trace."""
        thin = COARSE.replace("ply 1080 100 um", f"ply {style} 1 um").replace("sections = 0", "sections = 2")
        done = self.run_program("skew", self.study(thin), "-o", "out")
        self.assertEqual(done.returncode, BAD_INPUT, done.stderr)
        least = re.search(r"which is ([\d.]+ um) thick; give the ply at least that", done.stderr.decode())
        self.assertIsNotNone(least, done.stderr)
        again = self.run_program("skew", self.study(thin.replace("1 um", least[1])), "-o", "out", "-q")
        self.assertEqual((again.returncode, again.stderr), (DONE, b""), (style, least[1]))

    def test_a_ply_as_thin_as_its_cloth_beside_a_plane(self):
        for style in ("1080", "7628", "1027"):
            self.check_advice(style)

    def test_expected_worst_of_many_lanes_is_below_the_worst(self):
        skew = json.loads(self.good("skew", self.study(COARSE.replace("[signal]", "[signal]\nlanes = 100000")), "--json"))["skew"]
        self.assertLessEqual(skew["lanes"]["expected_worst_ps"], skew["worst_ps_with_turn"])

    def test_a_material_set_wrongly_is_not_blamed_on_the_file(self):
        self.bad(BAD_INPUT, "--set: dk 0.5 is out of range", "skew", self.study(), "--set", "resin low-loss.dk=0.5")


class Threads(Case):
    """As many as the system grants, and the same answer."""

    def threads(self, **options):
        """The most that the program had at once."""
        most = 0
        with subprocess.Popen([str(PROGRAM), "skew", str(self.study(COARSE)), "-q", "-o", "out"], cwd=self.folder, stderr=subprocess.PIPE,
                              **options) as process:
            while process.poll() is None:
                try:
                    most = max(most, len(os.listdir(f"/proc/{process.pid}/task")))
                except OSError:
                    pass
                time.sleep(0.005)
            self.assertEqual((process.returncode, process.stderr.read()), (DONE, b""))
        return most

    @unittest.skipUnless(os.path.isdir("/proc/self/task"), "no threads are listed here")
    def test_environment_and_affinity_count(self):
        open_to_all = {k: v for k, v in os.environ.items() if k not in ("OMP_NUM_THREADS", "WEFTWISE_WEAVES")}
        self.assertEqual(self.threads(env={**open_to_all, "OMP_NUM_THREADS": "1"}), 1)
        one = {min(os.sched_getaffinity(0))}
        self.assertEqual(self.threads(env=open_to_all, preexec_fn=lambda: os.sched_setaffinity(0, one)), 1)

    def test_where_threads_cannot_be_made_fewer_do_the_work(self):
        """Exit 1 would mean over budget. For root there is no limit on processes."""
        nobody = CannotReadOrWrite.as_nobody(self)

        def limit():
            resource.setrlimit(resource.RLIMIT_NPROC, (1, 1))
        study = self.study(COARSE)
        for threads in ("4", "64"):
            self.good("skew", study, "-q", "--threads", threads, "-o", "out", preexec_fn=limit,
                      environment={"ASAN_OPTIONS": "detect_leaks=0"}, **nobody)  # a thread, too


class CannotReadOrWrite(Case):
    def test_study_that_is_not_there(self):
        self.bad(FAILED, "nowhere.ini", "skew", "nowhere.ini")
        self.bad(FAILED, "folder", "skew", self.folder)

    def as_nobody(self):
        """Options for subprocess that make permissions count where root runs the tests."""
        if os.geteuid() != 0:
            return {}
        self.folder.chmod(0o777)
        nobody = {"user": 65534, "group": 65534, "extra_groups": []}
        try:
            self.good("styles", "1080", **nobody)
        except OSError:
            self.skipTest("the program's folder is for root alone")
        return nobody

    def test_study_without_permission(self):
        study = self.study()
        study.chmod(0)
        self.bad(FAILED, "test.ini", "skew", study, **self.as_nobody())

    def test_output_under_a_file(self):
        self.study("a file", "file")
        self.bad(FAILED, "file", "skew", self.study(), "-o", "file/out")
        self.bad(FAILED, "file", "map", self.study(), "-o", "file")

    def test_output_without_permission(self):
        (self.folder / "locked").mkdir()
        (self.folder / "locked").chmod(0o555)
        self.bad(FAILED, "locked", "skew", self.study(), "-o", "locked", **self.as_nobody())
        self.assertEqual(self.files("locked"), [])

    def test_no_part_of_a_file_is_left_when_the_disk_is_full(self):
        self.bad(FAILED, "disk full", "skew", self.study(), preexec_fn=limit_file_size)
        # what is there was finished before: the result, whole
        self.assertEqual(self.files(), ["out/test/skew.json"])
        json.loads((self.folder / "out/test/skew.json").read_text())

    def test_a_limit_on_file_size_does_not_kill(self):
        def limit():
            resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
        self.bad(FAILED, "out/test/skew.json: ", "skew", self.study(), preexec_fn=limit)
        self.assertEqual(self.files(), [])
        self.bad(FAILED, "mine.ini: ", "new", "mine.ini", preexec_fn=limit)
        self.assertEqual(self.files("."), ["test.ini"])

    def test_no_weaves_anywhere(self):
        lone = self.folder / "weftwise"
        shutil.copy(PROGRAM, lone)
        done = subprocess.run([str(lone), "styles"], capture_output=True, cwd=self.folder, timeout=60, check=False,
                              env={k: v for k, v in os.environ.items() if k != "WEFTWISE_WEAVES"})
        if done.returncode == DONE:
            self.skipTest("weaves are installed on this machine")
        self.assertEqual(done.returncode, FAILED)
        self.assertRegex(done.stderr.decode(), r"^weftwise: no folder of weaves .*--weaves DIR.*\n$")

    def test_without_a_font_no_figure_has_boxes_for_its_signs(self):
        """Cairo's own strokes, taken where no font can be opened, know no minus, micro and degree."""
        fonts = self.study("<?xml version='1.0'?><!DOCTYPE fontconfig SYSTEM 'fonts.dtd'><fontconfig></fontconfig>", "fonts.conf")
        surroundings = {"FONTCONFIG_FILE": str(fonts)}
        for ending in ("png", "svg", "pdf"):
            self.bad(FAILED, "no sans-serif font", "map", self.study(), "--format", ending, "-o", "out", environment=surroundings)
            self.assertEqual(self.files(), [])

    def test_what_stands_in_the_way_stays(self):
        (self.folder / "out/test/skew.json").mkdir(parents=True)
        self.bad(FAILED, "skew.json", "skew", self.study())
        self.assertEqual(os.listdir(self.folder / "out/test"), ["skew.json"])

    def test_standard_output_is_full(self):
        for arguments in (("styles",), ("--help",), ("--version",), ("map", self.study(), "--json"), ("map", "test.ini")):
            with open("/dev/full", "wb") as full:
                self.bad(FAILED, "", *arguments, stdout=full)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
