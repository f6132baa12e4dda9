"""weftwise frequency as people and scripts meet it.

usage: test_frequency.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import cmath
import csv
import json
import math
import struct
import sys
import unittest

from test_cli import BAD_INPUT, COARSE, COARSE_SINGLE, Case

PAIR = COARSE.replace("length = 50 mm", "length = 8 mm").replace("df = 0.004\n", "df = 0.004\nfrequency = 10 GHz\n")
SINGLE = COARSE_SINGLE.replace("fineness = 0.25", "fineness = 0.25\nsections = 0").replace(
    "length = 50 mm", "length = 20 mm").replace("df = 0.004\n", "df = 0.004\nfrequency = 10 GHz\n")
FEW = ["--band", "100 MHz..60 GHz", "--points", "61"]


def touchstone(path):
    """Option line, names of the ports, and [(frequency, matrix)]."""
    option, ports, numbers = "", [], []
    for line in path.read_text(encoding="ascii").splitlines():
        if line.startswith("#"):
            option = line
        elif line.startswith("! Port["):
            ports.append(line.split("= ")[1])
        elif not line.startswith("!"):
            numbers += map(float, line.split())
    n = len(ports)
    each = 1 + 2 * n * n
    points = []
    for i in range(0, len(numbers), each):
        s = [complex(*numbers[i + k:i + k + 2]) for k in range(1, each, 2)]
        rows = [s[r * n:(r + 1) * n] for r in range(n)]
        points.append((numbers[i], [list(c) for c in zip(*rows)] if n == 2 else rows))
    return option, ports, points


def decibels(s):
    return 20 * math.log10(abs(s))


class Frequency(Case):
    def solve(self, text, *arguments):
        result = json.loads(self.good("frequency", self.study(text), "--json", *(arguments or FEW)))
        return result, self.folder / "out" / "test"

    def test_pair(self):
        result, out = self.solve(PAIR)
        self.assertEqual(sorted(p.name for p in out.iterdir()),
                         ["frequency.csv", "frequency.json", "frequency.png", "line.s4p", "notch-angle.csv",
                          "notch-frequency.csv", "notch.npy", "notch.png", "phase.png"])
        self.assertEqual((result["points"], len(result["loss_db"]), result["files"]), (61, 61, ["line.s4p"]))
        option, ports, points = touchstone(out / "line.s4p")
        self.assertEqual(option, "# Hz S RI R 50")
        self.assertEqual(ports, ["leg1_near", "leg2_near", "leg1_far", "leg2_far"])
        self.assertEqual(len(points), 61)
        for i, (f, s) in enumerate(points):
            self.assertAlmostEqual(f * 1e-9, result["frequency_ghz"][i], places=9)
            for a in range(4):
                for b in range(4):
                    self.assertLess(abs(s[a][b] - s[b][a]), 1e-12)
            dd21 = (s[2][0] - s[2][1] - s[3][0] + s[3][1]) / 2
            cd21 = (s[2][0] - s[2][1] + s[3][0] - s[3][1]) / 2
            dd11 = (s[0][0] - s[0][1] - s[1][0] + s[1][1]) / 2
            self.assertAlmostEqual(decibels(dd21), result["loss_db"][i], places=6)
            self.assertAlmostEqual(decibels(cd21), result["conversion_db"][i], places=6)
            self.assertAlmostEqual(decibels(dd11), result["reflection_db"][i], places=6)
        self.assertGreater(abs(points[0][1][2][0]), 0.9)  # from 1 to 3 is through
        loss = result["loss_at"]
        self.assertEqual(loss["frequency_ghz"], 28)
        self.assertGreater(loss["conductor_db_per_in"], 0.1)
        self.assertEqual(loss["roughness_db_per_in"], 0)
        self.assertLess(loss["dielectric_least_db_per_in"], loss["dielectric_most_db_per_in"])
        with open(out / "frequency.csv", encoding="utf-8") as stream:
            rows = list(csv.DictReader(stream))
        self.assertEqual([float(r["loss_db"]) for r in rows], result["loss_db"])

    def test_the_penalty_of_skew_stands_beside_the_solved_loss(self):
        loss = self.solve(PAIR)[0]["loss_at"]
        skew = json.loads(self.good("skew", self.study(PAIR), "--json"))["skew"]
        self.assertAlmostEqual(abs(loss["skew_ps"]), skew["worst_ps"], delta=0.005 * skew["worst_ps"])
        weak = -decibels(math.cos(math.pi * 28e9 * loss["skew_ps"] * 1e-12))
        self.assertAlmostEqual(loss["skew_penalty_uncoupled_db"], weak, places=6)
        self.assertLess(abs(loss["skew_penalty_db"]), 1)
        self.assertNotIn("skew_ps", self.solve(SINGLE)[0]["loss_at"])

    def test_the_notch_over_angle(self):
        text = PAIR.replace("length = 8 mm", "length = 30 mm").replace("frequency = 28 GHz", "frequency = 28 GHz\nconversion = -20 dB")
        result, out = self.solve(text, "--from", "0 deg", "--to", "30 deg", *FEW)
        over = result["over_angle"]
        windows = json.loads(self.good("angles", self.study(text), "--json", "--from", "0 deg", "--to", "30 deg"))
        self.assertEqual([[w["from_deg"], w["to_deg"]] for w in over["windows"] if w["by"] == "skew"], windows["windows"])
        self.assertEqual([[w["from_deg"], w["to_deg"]] for w in over["windows"] if w["by"] == "conversion"],
                         windows["conversion"]["windows"])
        self.assertEqual((over["up_to_ghz"], over["own"]["angle_deg"]), (28, 0))
        rows = {name: [float(line) for line in (out / f"notch-{name}.csv").read_text().split()[1:]]
                for name in ("angle", "frequency")}
        self.assertEqual((len(rows["angle"]), len(rows["frequency"])), (over["angles"], over["frequencies"]))
        data = (out / "notch.npy").read_bytes()
        count = over["angles"] * over["frequencies"]
        amplitude = struct.unpack(f"<{count}f", data[-4 * count:])
        self.assertIn(f"({over['frequencies']}, {over['angles']})", data[:128].decode("latin-1"))
        most = {}
        for i, f in enumerate(rows["frequency"]):
            for angle, value in zip(rows["angle"], amplitude[i * over["angles"]:(i + 1) * over["angles"]]):
                if f <= 28:
                    most[angle] = max(most.get(angle, 0), value)
        self.assertAlmostEqual(decibels(most[0]), over["own"]["reflection_db"], places=3)
        self.assertTrue(over["windows"])
        for window in over["windows"]:
            within = max(v for a, v in most.items() if window["from_deg"] - 0.05 < a < window["to_deg"] + 0.05)
            self.assertAlmostEqual(decibels(within), window["reflection_db"], places=3)
        away = self.solve(PAIR, "--from", "5 deg", "--to", "9 deg", *FEW)[0]
        self.assertIsNone(away["over_angle"]["own"])

    def test_above_the_range_of_the_model_there_is_a_caution(self):
        study = self.study(SINGLE)
        limits = json.loads(self.good("frequency", study, "--json", *FEW))["limits_ghz"]
        self.assertIsNone(limits["surface_wave"])  # a stripline
        self.assertGreater(limits["higher_mode"], limits["cell"])
        part = f"Above {limits['cell']:.3g} GHz the yarn period of"
        for command, at in (("frequency", ("--band", "1 GHz..150 GHz", "--points", "61")),
                            ("skew", ("--set", "signal.frequency=150 GHz"))):
            self.assertIn(part, " ".join(self.good(command, study, *at).split()))
        self.assertNotIn("caution", self.good("skew", study))

    def test_without_cloth_there_is_no_notch(self):
        board = PAIR.replace("layer = ply 1080 100 um", "layer = solid 100 um dk=3.5 df=0.003 frequency=10 GHz")
        result, out = self.solve(board)
        self.assertIsNone(result["over_angle"])
        self.assertFalse((out / "notch.png").exists())

    def test_single_trace_and_its_rough_copper(self):
        smooth, _ = self.solve(SINGLE)
        rough, out = self.solve(SINGLE, "--set", "stackup.copper=standard", *FEW)
        self.assertIsNone(smooth["conversion_db"])
        self.assertEqual((smooth["copper"], rough["copper"]), ("smooth", "standard"))
        self.assertGreater(rough["loss_at"]["roughness_db_per_in"], 0.1)
        self.assertLess(rough["loss_db"][-1], smooth["loss_db"][-1])
        self.assertGreater(rough["loss_at"]["delay_ps_per_mm"], smooth["loss_at"]["delay_ps_per_mm"])
        option, ports, points = touchstone(out / "line.s2p")
        self.assertEqual((option, ports, len(points)), ("# Hz S RI R 50", ["near", "far"], 61))
        self.assertAlmostEqual(decibels(points[30][1][1][0]), rough["loss_db"][30], places=6)

    def test_delay_from_the_phase_is_that_of_skew(self):
        study = self.study(SINGLE)
        delay = json.loads(self.good("skew", study, "--json"))["delay"]
        times = []
        for where in ("fastest", "median"):
            result = json.loads(self.good("frequency", study, "--json", "--placement", where, "--band",
                                          "1000 MHz..1001 MHz", "--points", "2", "--set", "resin low-loss.df=0",
                                          "--set", "stackup.copper=ideal", "--set", "foil ideal.model=smooth", "--set",
                                          "foil ideal.rz=0 um", "--set", "foil ideal.conductivity=1000 MS/m"))
            self.assertEqual(result["placement"], where)
            _, _, points = touchstone(self.folder / "out/test/line.s2p")
            turn = cmath.phase(points[1][1][1][0] / points[0][1][1][0])
            times.append(-turn / (2 * math.pi * (points[1][0] - points[0][0])) * 1e12)
        # copper of 17 times the conductivity still adds a little
        self.assertLess(abs(times[0] / delay["fastest_ps"] - 1), 0.005)
        self.assertLess(times[0], times[1])

    def test_loss_at_77_ghz_is_that_of_the_trade(self):
        """Common practice, no source: 5 mil of low-loss laminate, microstrip of 50 ohm at 77 GHz, about 0.9 dB/in with smooth
        rolled copper and 2.2 dB/in with rough electrodeposited; 15 % are allowed."""
        board = """[stackup]
layer = air
layer = trace
layer = solid 127 um dk=3.0 df=0.0015 frequency=10 GHz
layer = plane
[trace]
width = 300 um
thickness = 18 um
length = 25.4 mm
[signal]
frequency = 77 GHz
"""
        for copper, loss in (("rolled", 0.9), ("vlp", 2.2)):
            at = self.solve(board, "--set", f"stackup.copper={copper}", "--points", "200")[0]["loss_at"]
            told = sum(at[f"{cause}_db_per_in"] for cause in ("dielectric", "conductor", "roughness"))
            self.assertAlmostEqual(told / loss, 1, delta=0.15, msg=copper)

    def test_a_family(self):
        result, out = self.solve(PAIR, "--count", "3", *FEW)
        self.assertEqual(result["files"], ["line.s4p", "line-001.s4p", "line-002.s4p", "line-003.s4p"])
        texts = {(out / name).read_text(encoding="ascii") for name in result["files"]}
        self.assertEqual(len(texts), 4)
        again, _ = self.solve(PAIR, "--count", "1", *FEW)
        self.assertIn((out / "line-001.s4p").read_text(encoding="ascii"), texts)
        self.assertEqual(again["loss_db"], result["loss_db"])

    def test_lossless_loses_nothing(self):
        """Sums of power over all ports from the file, though copper and materials of the study have losses, or lack what these
        need."""
        for text in (PAIR.replace("df = 0.004\nfrequency = 10 GHz\n", "df = 0.004\n"), SINGLE):
            result, out = self.solve(text, "--lossless", *FEW)
            self.assertTrue(result["lossless"])
            _, ports, points = touchstone(out / f"line.s{4 if text is not SINGLE else 2}p")
            for _, s in points:
                for column in range(len(ports)):
                    self.assertLess(abs(sum(abs(row[column]) ** 2 for row in s) - 1), 1e-10)
            self.assertEqual(result["loss_at"]["conductor_db_per_in"], 0)
            self.assertEqual(result["loss_at"]["dielectric_most_db_per_in"], 0)
        self.assertFalse(self.solve(SINGLE)[0]["lossless"])
        shown = self.good("frequency", self.study(PAIR), "--lossless", *FEW)
        self.assertIn("lossless: no loss of dielectric or copper", shown)
        self.assertNotIn("copper smooth", shown)

    def test_a_place_by_its_start(self):
        result, _ = self.solve(SINGLE, "--placement", "100 um,50 um", *FEW)
        self.assertEqual(result["start_um"], [[100, 50], [100, 50]])

    def test_what_cannot_be_is_refused(self):
        for text, arguments, part in [
                (PAIR, ["--points", "5"], "at least"),
                (PAIR, ["--band", "1 Hz..1 GHz"], "outside"),
                (PAIR, ["--band", "1 GHz..2 THz"], "1 THz"),
                (PAIR, ["--placement", "nowhere"], "give worst, median, fastest"),
                (PAIR, ["--placement", "1,2"], "unit"),
                (PAIR, ["--placement", "2 m,0 um"], "outside -1 m to 1 m"),
                (PAIR.replace("layer = ply 1080 100 um", "layer = solid 100 um dk=3.5 df=0"), ["--count", "2"], "no cloth"),
                (COARSE, [], "the loss of resin low-loss has no frequency"),
                (PAIR.replace("thickness = 15 um", "thickness = 0 um"), [], "give [trace] thickness"),
                (PAIR.replace("resin = low-loss", "resin = low-loss\ncopper = hvpl"), [], "hvlp"),
        ]:
            self.bad(BAD_INPUT, part, "frequency", self.study(text), *arguments)

    def test_table(self):
        shown = self.good("frequency", self.study(PAIR), *FEW)
        for part in ("loss      at 28 GHz", "Sdd21 dB", "Scd21 dB", "no period of it reflects"):
            self.assertIn(part, shown)
        shown = self.good("frequency", self.study(SINGLE), "--set", "trace.angle=10 deg", "--set", "trace.length=50 mm",
                          *FEW)
        for part in ("period mm", "of ply 1", " S21 dB"):
            self.assertIn(part, shown)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
