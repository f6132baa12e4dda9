"""Hostile text, as title, as every name, as the name of a file and of a folder: it is text wherever it comes out, in HTML, SVG,
PDF, JSON, PNG, CSV, Touchstone and on the terminal; no more.

usage: test_hostile.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import csv
import html.parser
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
import xml.dom.minidom

from small_study import TINY

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
TITLE = "</title>]]>--><script>alert(1)</script>,\"q\" 'a' \\ &amp; =1+1 \u05e9\u6f22"
NAME = "X<b>&\"',"  # of a style, a resin, an arm: what a line of a study can hold
FILE = b"a\n1.0 0 0 <b>\"x,\x9b\xe2\x80\xae\x1b[31m.ini"  # of a study: any bytes at all
OWN = (TINY.replace("title = Test link", f"title = {TITLE}").replace("resin = low-loss", f"resin = R{NAME}")
       .replace("[resin low-loss]", f"[resin R{NAME}]").replace("thickness = 0 um", "thickness = 15 um")
       .replace("ply 1080", f"ply {NAME}").replace("[signal]", "[signal]\nfrequency = 28 GHz") +
       f"source = S{NAME}\n[style {NAME}]\nwarp_count = 60 /in\nfill_count = 47 /in\nwarp_yarn = 11.2 tex\nfill_yarn = 11.2 tex\n"
       f"thickness = 52 um\nglass = G{NAME}\nsource = S{NAME}\nnote = N{NAME}\n"
       f"[glass G{NAME}]\ndk = 5\ndf = 0.001\nfrequency = 10 GHz\ndensity = 2.4 g/cm3\n")
ARMS = OWN.replace("pitch = 200 um\nlength = 5 mm\n", "") + f"[route]\nsegment = 5 mm 3 deg\n[route A{NAME}]\nfrom = 1 mm, 0 mm\nsegment = 5 mm 3 deg\n"
COMMANDS = {"map": [], "skew": [], "compare": ["1078"], "budget": [], "frequency": ["--points", "20"], "angles": ["--step", "5 deg"],
            "verify": ["--no-volume"]}
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


class Tags(html.parser.HTMLParser):
    """Every tag and every text of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.text = [], ""

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)

    def handle_data(self, data):
        self.text += data


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-hostile-"))
        self.addCleanup(shutil.rmtree, self.folder)

    def run_program(self, *arguments):
        done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, timeout=300, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, b""), arguments)
        shown = done.stdout.decode()
        self.assertIsNone(UNSEEN.search(shown), shown)
        return shown

    def study(self, text, name="study.ini"):
        with open(os.path.join(os.fsencode(self.folder), os.fsencode(name)), "w", encoding="utf-8") as stream:
            stream.write(text)
        return name

    def check_files(self, folder):
        """Each is what its ending says, and nothing in it has left its text."""
        paths = [path for path in (self.folder / folder).rglob("*") if path.is_file()]
        self.assertGreater(len(paths), 0, folder)
        for path in paths:
            with self.subTest(file=path.name, folder=folder):
                content = path.read_bytes()
                if path.suffix in (".json", ".csv", ".svg", ".html", ".s2p", ".s4p"):
                    self.assertIsNone(UNSEEN.search(content.decode()))
                if path.suffix == ".json":
                    json.loads(content)
                elif path.suffix == ".svg":
                    page = xml.dom.minidom.parseString(content)
                    self.assertEqual([page.getElementsByTagName(tag).length for tag in ("script", "b")], [0, 0])
                elif path.suffix == ".csv":
                    rows = list(csv.reader(content.decode().splitlines()))
                    self.assertEqual({len(rows[0])}, {len(row) for row in rows if row})
                elif path.suffix in (".s2p", ".s4p"):
                    for line in content.decode().splitlines():
                        self.assertRegex(line, r"\A(?:[!#].*|[-+0-9.eE \t]*)\Z")
                elif path.suffix == ".html":
                    page = Tags()
                    page.feed(content.decode())
                    self.assertEqual([tag for tag in page.tags if tag in ("script", "b", "i")], [])

    def check_all(self, name, commands, *options):
        for command, more in commands.items():
            self.run_program(command, name, *more, "-o", command, *options)
            self.check_files(command)


class Hostile(Case):
    def test_names_of_arms(self):
        study = self.study(ARMS)
        shown = self.run_program("skew", study, "-o", "skew", "--format", "svg")
        self.assertIn(f"A{NAME}", shown)
        self.check_files("skew")

    def test_a_title_from_a_long_name_is_cut_between_characters(self):
        for length in (78, 79, 80, 81):
            name = length * "\u00b5" + ".ini"
            self.run_program("map", self.study(re.sub("title = .*\n", "", TINY), name), "-q", "-o", "out")

    def test_a_long_title_is_whole_or_refused(self):
        for length in (78, 79):
            self.run_program("map", self.study(TINY.replace("Test link", length * "\u00b5")), "-q", "-o", "out", "--format", "svg")
            self.check_files("out")
        for length in (80, 300):
            done = subprocess.run([PROGRAM, "map", self.study(TINY.replace("Test link", length * "\u00b5"))], cwd=self.folder,
                                  capture_output=True, timeout=60, check=False)
            self.assertEqual(done.returncode, 2)
            self.assertRegex(done.stderr.decode(), r"\Aweftwise: study.ini:2: [^\n]+\n\Z")

    def test_a_pipe_in_the_way_is_not_waited_for(self):
        (self.folder / "out").mkdir()
        os.mkfifo(self.folder / "out/dk-ply1.png")
        done = subprocess.run([PROGRAM, "map", self.study(TINY), "-o", "out"], cwd=self.folder, capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 3)
        self.assertIn(b"is a pipe that nobody reads", done.stderr)

    def test_private_files_stay_private(self):
        """A run removes what the last one left: the new files are as closed as the strictest of these."""
        study = self.study(TINY)
        self.run_program("map", study, "-q", "-o", "out")
        (self.folder / "out/dk-ply1.npy").chmod(0o600)
        self.run_program("map", study, "-q", "-o", "out")
        for path in (self.folder / "out").iterdir():
            self.assertEqual(path.stat().st_mode & 0o077, 0, path.name)

    def test_output_folder_that_is_a_link(self):
        """To a folder: followed, as a folder is meant. A file in it that is a link: replaced, what it points to stays."""
        (self.folder / "real").mkdir()
        (self.folder / "link").symlink_to("real")
        (self.folder / "victim").write_text("mine")
        (self.folder / "real/dk-ply1.png").symlink_to("../victim")
        self.run_program("map", self.study(TINY), "-q", "-o", "link")
        self.assertFalse((self.folder / "real/dk-ply1.png").is_symlink())
        self.assertEqual((self.folder / "victim").read_text(), "mine")
        (self.folder / "nowhere").symlink_to("not-there")
        done = subprocess.run([PROGRAM, "map", "study.ini", "-o", "nowhere"], cwd=self.folder, capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 3)
        self.assertFalse((self.folder / "not-there").exists())

    def test_names_that_climb(self):
        for name in ("../x", "/etc/passwd", "a/b", ".."):
            for kind in ("style", "glass", "resin", "foil"):
                study = self.study(TINY.replace("ply 1080", f"ply {name}") if kind == "style" else
                                   TINY.replace("ply 1080", f"ply 1080/{name}") if kind == "glass" else
                                   TINY.replace("resin = low-loss", f"resin = {name}") if kind == "resin" else
                                   TINY.replace("resin = low-loss", f"resin = low-loss\ncopper = {name}"))
                done = subprocess.run([PROGRAM, "map", study, "-o", "out"], cwd=self.folder, capture_output=True, timeout=60, check=False)
                self.assertEqual(done.returncode, 2, (kind, name, done.stderr))
                self.assertRegex(done.stderr.decode(), r"\Aweftwise: [^\n]+\n\Z")

    def test_a_hundred_kilobytes(self):
        long = 100000 * "x"
        for study in (TINY.replace("Test link", long), TINY.replace("1080", long), TINY.replace("low-loss", long), long, f"[{long}]\n",
                      TINY + f"[resin {long}]\ndk = 3\n", TINY + 1000 * "; " + long):
            done = subprocess.run([PROGRAM, "map", self.study(study), "-o", "out"], cwd=self.folder, capture_output=True, timeout=60, check=False)
            self.assertEqual(done.returncode, 2)
            self.assertLess(len(done.stderr), 1500)
        for arguments in (["map", long], ["map", "study.ini", "-o", long], ["skew", "study.ini", "--set", f"study.title={long}"], [long],
                          ["help", long], ["styles", long], ["compare", "study.ini", long], ["new", long], ["recall", long], ["map", f"--{long}"]):
            done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, timeout=60, check=False)
            self.assertIn(done.returncode, (2, 3), arguments[0])
            self.assertRegex(done.stderr.decode(), r"\Aweftwise: [^\n]+\n\Z")
            self.assertLess(len(done.stderr), 1500)


class Everywhere(Case):
    """Every command, which takes longer."""

    def test_title_and_names(self):
        study = self.study(OWN)
        self.check_all(study, COMMANDS, "--format", "svg")
        self.assertEqual(json.loads((self.folder / "skew/skew.json").read_text())["study"], TITLE)
        rows = csv.DictReader((self.folder / "compare/compare.csv").read_text().splitlines())
        self.assertIn(NAME, [row["style"] for row in rows])
        for ending in ("png", "svg", "pdf"):
            self.run_program("map", study, "-o", "map", "--format", ending)
            recalled = self.run_program("recall", f"map/dk-ply1.{ending}")
            self.assertIn(f"title = {TITLE}\n", recalled)
            self.assertIn(f"[style {NAME}]\n", recalled)

    def test_names_of_files(self):
        """A study without a title has its file's name; what is no text is shown as ?, wherever it comes out."""
        name = self.study(re.sub("title = .*\n", "", OWN), FILE)
        self.check_all(name, COMMANDS, "--format", "svg")
        title = json.loads((self.folder / "skew/skew.json").read_text())["study"]
        self.assertEqual(title, "a?1.0 0 0 <b>\"x,???[31m")
        self.assertEqual(json.loads(self.run_program("map", name, "-o", "out", "--json"))["file"], f"{title}.ini")
        for made in (b"new\n\x9b\x1b[31m.ini", b"again\xff.ini"):
            self.run_program("new", made)
        self.run_program("new", b"third\xff.ini", "--json")
        os.rename(self.folder / "map/dk-ply1.svg", os.path.join(os.fsencode(self.folder), b"figure\n\xff.svg"))
        self.assertEqual(json.loads(self.run_program("recall", b"figure\n\xff.svg", "--json"))["figure"], "figure??.svg")

    def test_report(self):
        self.run_program("report", self.study(OWN), "-o", "out", "--format", "svg")
        self.check_files("out")
        page = Tags()
        page.feed((self.folder / "out/report/report.html").read_text())
        self.assertIn(TITLE, page.text)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
