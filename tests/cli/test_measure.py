"""weftwise measure as people and scripts meet it: files, JSON, the style in a study, bad pictures.

usage: test_measure.py PROGRAM SOURCE_ROOT [unittest options]; WEFTWISE_DRAW_CLOTH is the program that draws cloth

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import os
import re
import subprocess
import unittest
import zlib

from test_cli import BAD_INPUT, FAILED, SINGLE, Case

DRAW = os.environ["WEFTWISE_DRAW_CLOTH"]


def chunk(name, data):
    return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")


def png(width, height, rows=b""):
    header = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes((8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


class Measure(Case):
    def draw(self, pixel="12", what="cloth", name="photo 1.png"):
        path = self.folder / name
        subprocess.run([DRAW, path, pixel, what], check=True)
        return path

    def test_files_json_and_table_tell_the_same(self):
        picture = self.draw()
        shown = self.good("measure", picture, "--like", "2116", "-o", "out")
        self.assertEqual(self.files(), ["out/measure.json", "out/paths.ini", "out/spectrum.png", "out/style.ini", "out/yarns.png"])
        result = json.loads((self.folder / "out/measure.json").read_text())
        self.assertEqual((result["command"], result["style"], result["like"]), ("measure", "photo1", "2116"))
        self.assertEqual((result["pixel_um"], result["scale_from"]), (12, "sCAL of the file"))
        for name, pitch, width, turn in (("warp", 423.3, 340, 1.5), ("fill", 437.9, 370, 2.0)):
            yarns = result[name]
            self.assertLess(abs(yarns["pitch_um"] / pitch - 1), 2e-3)
            self.assertLess(abs(yarns["width_um"] / width - 1), 0.05)
            self.assertLess(abs(yarns["turn_deg"] - turn), 0.1)  # wander of 6 um over 5 mm turns the drawn cloth, too
            self.assertAlmostEqual(yarns["count_per_inch"] * yarns["pitch_um"], 25400, places=6)
            self.assertAlmostEqual(yarns["count_per_cm"] * 2.54, yarns["count_per_inch"], places=9)
            self.assertIn(f"{yarns['count_per_inch']:.2f} /in, {yarns['count_per_cm']:.2f} /cm", shown)
            self.assertIn(f"{yarns['width_um']:.1f} um", shown)
            self.assertIn(f"{yarns['wander_um']:.1f} um (1 sigma) beyond", shown)
        self.assertIn(f"{result['warp_to_fill_deg']:.3f} deg", shown)
        self.assertIn("not told", shown)  # the picture is short
        self.assertIsNone(result["fill"]["correlation_length_mm"])
        again = json.loads(self.good("measure", picture, "--like", "2116", "-o", "out", "--json"))
        self.assertEqual(again, result)

    def test_style_reads_back(self):
        self.good("measure", self.draw(), "--like", "2116", "--name", "mine", "-o", "out", "-q")
        style = (self.folder / "out/style.ini").read_text()
        self.assertIn("warp_count.source = measured from photo 1.png: pitch 42", style)
        self.assertRegex(style, r"(?m)^fill_width\.uncertainty = [0-9.]+ %$")
        self.assertIn("thickness.source = that of 2116: ", style)
        study = self.study(SINGLE.replace("ply 1080", "ply mine") + "\n" + style)
        shown = json.loads(self.good("map", study, "--json"))
        self.assertEqual(shown["fabric"][0]["style"], "mine")
        width = float(re.search(r"(?m)^warp_width = (.*) um$", style)[1])
        self.assertTrue(320 < width < 357)
        # without a style to go by, what is missing stands as comments, and in a study the first of it is asked for
        text = self.good("measure", self.draw(), "--name", "mine", "-o", "out")
        self.assertIn("fill in its yarns", " ".join(text.split()))
        style = (self.folder / "out/style.ini").read_text()
        self.assertRegex(style, r"(?m)^; thickness = ")
        self.bad(BAD_INPUT, "lacks warp_yarn", "map", self.study(SINGLE.replace("ply 1080", "ply mine") + style))

    def test_a_name_that_is_no_text(self):
        picture = self.draw().rename(self.folder / os.fsdecode(b"caf\xe9.png"))
        self.good("measure", picture, "--like", "2116", "-o", "out", "-q")
        self.assertEqual(self.files(), ["out/measure.json", "out/paths.ini", "out/spectrum.png", "out/style.ini", "out/yarns.png"])

    def test_a_ply_of_the_very_cloth(self):
        shown = self.good("measure", self.draw(pixel="24", what="large"), "--like", "2116", "--name", "mine", "-o", ".")
        yarns = re.search(r"paths\.ini +(\d+) warp by (\d+) fill yarns", shown)
        self.assertTrue(yarns and int(yarns[1]) > 30 and int(yarns[2]) > 30, shown)
        written = (self.folder / "paths.ini").read_text()
        self.assertIn("[paths]\nformat = 1\npicture = photo 1.png\nwarp_pitch = 423", written)
        study = self.study(SINGLE.replace("ply 1080", "ply mine").replace("[fabric]", "[fabric]\npaths = paths.ini")
                           + (self.folder / "style.ini").read_text())
        # the cloth is laid, which takes the style to be that of the paths; then there is no room for the trace
        self.bad(BAD_INPUT, "a trace of 50 mm does not fit on the cloth of photo 1.png, which takes one of up to 1", "cloth", study,
                 "--set", "study.fineness=0.25", "--set", "study.sections=0")

    def test_a_picture_too_small_for_a_ply(self):
        """Good for figures of its cloth; the paths it leaves out, and says why."""
        shown = self.good("measure", self.draw(what="small"), "-o", "out")
        self.assertIn("paths.ini not written: paths of ", " ".join(shown.split()))
        self.assertEqual(self.files(), ["out/measure.json", "out/spectrum.png", "out/style.ini", "out/yarns.png"])

    def test_options(self):
        picture = self.draw(pixel="0")
        self.bad(BAD_INPUT, "has no scale; give the side of a pixel, as in --scale '10 um'", "measure", picture)
        upright = json.loads(self.good("measure", picture, "--scale", "12 um", "--json"))
        lying = json.loads(self.good("measure", picture, "--scale", "24 um", "--warp", "horizontal", "--json"))
        self.assertEqual(upright["scale_from"], "given")
        self.assertAlmostEqual(lying["warp"]["pitch_um"], 2 * upright["fill"]["pitch_um"], places=6)
        self.assertEqual(lying["warp"]["turn_deg"], upright["fill"]["turn_deg"])
        self.bad(BAD_INPUT, "give vertical or horizontal", "measure", picture, "--warp", "aslant")
        self.bad(BAD_INPUT, "give front or behind", "measure", picture, "--light", "above")
        self.bad(BAD_INPUT, "2117", "measure", picture, "--like", "2117")
        self.bad(BAD_INPUT, "no name of a style", "measure", picture, "--scale", "12 um", "--name", "../mine")
        self.bad(BAD_INPUT, "give up to 31 letters", "measure", picture, "--scale", "12 um", "--name", "m" * 40)
        self.bad(BAD_INPUT, "--scale", "measure", picture, "--scale", "12")

    def test_what_is_no_cloth(self):
        picture = self.draw(what="stripes", name="stripes.png")
        self.bad(BAD_INPUT, "one family of lines, 23 pixels apart", "measure", picture)
        self.assertEqual(self.files(), [])
        cases = {"one.png": (png(1, 1, b"\0\x80"), "1 by 1 pixels"), "wide.png": (png(100000, 1), "100000 by 1"),
                 "bomb.png": (png(30000, 30000), "50 million"), "text.png": (b"[study]\n", "neither PNG nor JPEG"),
                 "plain.png": (png(64, 64, (b"\0" + b"\x80" * 64) * 64), "one grey")}
        for name, (data, why) in cases.items():
            (self.folder / name).write_bytes(data)
            self.bad(BAD_INPUT, why, "measure", self.folder / name, "--scale", "10 um")
        whole = self.draw().read_bytes()
        (self.folder / "short.png").write_bytes(whole[:len(whole) // 2])
        self.bad(BAD_INPUT, "get the whole file", "measure", self.folder / "short.png")
        self.bad(FAILED, "cannot be opened", "measure", self.folder / "none.png")
        self.bad(FAILED, "folder", "measure", self.folder)


if __name__ == "__main__":
    unittest.main(argv=["test_measure.py"] + __import__("sys").argv[3:])
