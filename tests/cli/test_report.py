"""The report: the page stands alone and is in order, its figures are those beside it, its JSON is whole.

usage: test_report.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import base64
import html.parser
import json
import pathlib
import re
import struct
import subprocess
import sys
import tempfile
import unittest
import zlib

import report_study

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
VOID = {"meta", "link", "img", "br", "hr"}
KNOWN = VOID | set("html head title style body main h1 h2 h3 p nav ol ul li a dl dt dd div figure figcaption table "
                   "thead tbody tr th td strong pre".split())


class Page(html.parser.HTMLParser):
    """Elements in order, what is open when, and everything that names another thing."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.elements, self.ids, self.text = [], [], [], [], {}
        self.feed(text)
        self.close()
        if self.open:
            self.faults.append(f"never closed: {self.open}")

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.elements.append((tag, attributes, list(self.open)))
        if tag not in KNOWN:
            self.faults.append(f"an element nobody meant: {tag}")
        if any(name.startswith("on") for name in attributes):
            self.faults.append(f"an event handler: {attributes}")
        if "id" in attributes:
            self.ids.append(attributes["id"])
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> while open: {self.open[-3:]}")
        else:
            self.open.pop()

    def handle_data(self, data):
        if self.open:
            self.text.setdefault(self.open[-1], []).append(data)

    def all(self, tag):
        return [attributes for name, attributes, _ in self.elements if name == tag]

    def words(self):
        return " ".join(" ".join("".join(v) for k, v in self.text.items() if k not in ("style", "pre")).split())


def decode_png(data):
    """Chunks with right checksums and pixels that inflate to the stated size."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n", data[:8]
    at, pixels, header = 8, b"", None
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + length]
        assert struct.unpack(">I", data[at + 8 + length:at + 12 + length])[0] == zlib.crc32(kind + body)
        header = body if kind == b"IHDR" else header
        pixels += body if kind == b"IDAT" else b""
        at += 12 + length
    width, height = struct.unpack(">II", header[:8])
    assert len(zlib.decompress(pixels)) == height * (1 + 3 * width)
    return width, height


class Report(unittest.TestCase):
    study, name, own_parts = report_study.PAIR, "pair", {"pitch.json", "pitch.csv", "pitch.png", "dk-ply2.png"}

    @classmethod
    def setUpClass(cls):
        cls.temporary = tempfile.TemporaryDirectory(prefix="weftwise-report-")
        cls.addClassCleanup(cls.temporary.cleanup)
        cls.out, cls.printed = report_study.write_report(PROGRAM, cls.temporary.name, cls.study, cls.name)
        cls.source = (cls.out / "report.html").read_text(encoding="utf-8")
        cls.page = Page(cls.source)

    def test_tags_are_balanced_and_ids_unique(self):
        self.assertEqual(self.page.faults, [])
        self.assertEqual(len(self.page.ids), len(set(self.page.ids)))

    def test_head(self):
        self.assertTrue(self.source.startswith("<!DOCTYPE html>\n"))
        self.assertEqual(self.page.all("html"), [{"lang": "en"}])
        self.assertIn({"charset": "utf-8"}, self.page.all("meta"))
        self.assertIn("width=device-width", [m.get("content", "") for m in self.page.all("meta")][1])
        self.assertEqual(len(self.page.all("h1")), 1)

    def test_nothing_outside_is_needed(self):
        for tag, attributes, _ in self.page.elements:
            for name in ("src", "href", "srcset", "data", "action"):
                value = attributes.get(name)
                if value is not None:
                    self.assertRegex(value[:40], r"^(data:|#part-\d+$)", tag)
        style = "".join(self.page.text["style"])
        self.assertNotIn("url(", style)
        self.assertNotIn("@import", style)
        self.assertEqual(self.page.all("script"), [])

    def test_links_lead_to_headings(self):
        for link in self.page.all("a"):
            self.assertIn(link["href"][1:], self.page.ids)

    def test_headings_are_in_order(self):
        last = 0
        for tag, _, _ in self.page.elements:
            if re.fullmatch(r"h[1-6]", tag):
                self.assertLessEqual(int(tag[1]), last + 1)
                last = int(tag[1])

    def test_tables_say_what_heads_what(self):
        for tag, attributes, above in self.page.elements:
            if tag == "th":
                self.assertEqual(attributes.get("scope"), "col" if "thead" in above else "row")
        captions = {p["id"] for p in self.page.all("p") if p.get("class") == "caption"}
        self.assertEqual(captions, {table["aria-labelledby"] for table in self.page.all("table")})
        self.assertGreater(len(captions), 5)

    def test_figures_are_the_files_beside_the_page(self):
        files = {p.read_bytes() for p in self.out.glob("*.png")}
        images = self.page.all("img")
        self.assertGreaterEqual(len(images), 7)
        for image in images:
            self.assertGreater(len(image["alt"]), 20)
            kind, data = image["src"].split(",", 1)
            self.assertEqual(kind, "data:image/png;base64")
            data = base64.b64decode(data, validate=True)
            self.assertIn(data, files)
            self.assertEqual(decode_png(data), (int(image["width"]), int(image["height"])))
        self.assertEqual(len(self.page.all("figcaption")), len(images))

    def test_every_figure_and_table_of_the_parts_is_there(self):
        written = {p.name for p in self.out.iterdir()}
        parts = {"skew.json", "verify.json", "angles.json", "angles.csv", "distribution.png", "profile.png", "angles.png",
                 "lengths.png", "section.png", "report.html", "report.json", "compare.json", "compare.csv", "compare.png",
                 "compare-angles.png", "compare-dk.png"}
        self.assertLessEqual(parts | self.own_parts, written)
        for name in written - {"report.html"}:
            self.assertIn(name, "".join(self.page.text["li"]))

    def test_title_is_text(self):
        title = re.search(r"(?m)^title = (.*)$", self.study).group(1)
        self.assertEqual("".join(self.page.text["title"]), title)
        self.assertEqual("".join(self.page.text["h1"]), title)

    def test_study_is_whole_and_runs_again(self):
        text = "".join(self.page.text["pre"]).lstrip("\n")
        again, _ = report_study.write_report(PROGRAM, self.temporary.name, text, self.name + "-again", "--quiet")
        for name in ("skew.json", "distribution.png"):
            if name.endswith("json"):
                one, two = (json.loads((folder / name).read_text()) for folder in (self.out, again))
                for document in (one, two):
                    del document["file"]
                self.assertEqual(one, two)
            else:
                self.assertEqual((self.out / name).read_bytes(), (again / name).read_bytes())

    def test_question_answer_sources_error_bar_and_caution_are_said(self):
        words = self.page.words()
        for part in ("How bad?", "How likely?", "What to do?", "they do not qualify a board",
                     "from memory", "closed: computed, not measured", "The error bar on the worst"):
            self.assertIn(part, words)

    def test_json_is_collected(self):
        document = json.loads((self.out / "report.json").read_text())
        self.assertEqual(document["command"], "report")
        self.assertEqual(document["skew"], json.loads((self.out / "skew.json").read_text()))
        self.assertEqual(document["verify"], json.loads((self.out / "verify.json").read_text()))
        self.assertEqual(document["angles"], json.loads((self.out / "angles.json").read_text()))
        self.assertEqual(document["compare"], json.loads((self.out / "compare.json").read_text()))
        self.assertEqual("pitch" in document, self.name == "pair")
        self.assertEqual("frequency" in document, self.name == "single")
        self.assertLessEqual({"question", "verdict", "how_bad", "how_likely", "what_to_do"}, set(document["answer"]))
        self.assertTrue(all(document["answer"].values()))

    def test_worst_is_that_of_skew_alone(self):
        """Each value of the report's skew is the one that the command of that name tells."""
        done = subprocess.run([PROGRAM, "skew", f"{self.out.parent.parent / self.name}.ini", "-o", self.out.parent / "alone", "--json"],
                              capture_output=True, timeout=200, check=True)
        alone, document = json.loads(done.stdout), json.loads((self.out / "report.json").read_text())
        value = "skew" if self.name == "pair" else "delay"
        self.assertEqual(document["skew"][value], alone[value])
        self.assertAlmostEqual(document["verify"]["worst"]["worst_ps"] / alone[value]["worst_ps"], 1, places=9)  # a stripline: static

    def test_what_is_missing_for_the_loss_is_told_in_one_line(self):
        self.assertIn("Not solved: the loss of resin low-loss has no frequency; add", self.page.words())

    def test_page_says_the_numbers_of_the_json(self):
        skew = json.loads((self.out / "skew.json").read_text())["skew"]
        judged = max(skew["worst_ps"], skew["worst_ps_with_turn"])
        shown = f"{judged:.{1 if judged >= 9.95 else 2}f} ps"
        verdict = "Misses" if judged > 2.0 else "Meets"
        self.assertIn(f"{verdict} the budget: {shown} at worst, 2.00 ps allowed", self.page.words())
        self.assertIn(f"{verdict} the budget: {shown} at worst", self.printed)


    def test_one_null_is_spoken_of(self):
        pitch = json.loads((self.out / "pitch.json").read_text())
        null = min((n for n in pitch["nulls"] if n["least_in"] == "pitch" and n["worst_ps"] < 0.1),
                   key=lambda n: abs(n["pitch_um"] - pitch["trace"]["pitch_um"]))
        apart = f"legs {null['pitch_um']:.5g} µm apart"
        paragraphs = [text for text in self.page.text["p"] if apart in text]
        self.assertEqual(len(paragraphs), 1)
        self.assertIn("yarn count is 1 % off", paragraphs[0])
        self.assertIn(apart, "".join(self.page.text["dd"]))
        off = re.search(r"yarn count is 1 % off, ([0-9.]+) ps", "".join(self.page.text["dd"])).group(1)
        self.assertIn(off + " ps", paragraphs[0])
        # a null is worth little once the count is off: several times what it leaves on paper
        self.assertGreater(float(off), 5 * null["worst_ps"])

    def test_the_usual_remedies_are_tried(self):
        styles = [style["style"] for style in json.loads((self.out / "compare.json").read_text())["styles"]]
        self.assertLessEqual({"1080", "2113", "1080-spread", "1078", "1086"}, set(styles))
        self.assertIn(f"of the {len(styles)} glasses tried", self.page.words().lower())

    def test_only_what_may_vary_is_named(self):
        heads = self.page.text["th"]
        self.assertIn("Its turn varies too", heads)
        self.assertIn("The medians differ: where the cloth's turn varies too", self.page.words())
        self.assertNotIn("yarn counts vary", " ".join(heads))
        self.assertIn("levels of the signal", heads)
        self.assertIn("lanes", heads)


class Single(Report):
    study, name, own_parts = report_study.SINGLE, "single", {"budget.json", "budget.csv", "budget.png", "budget-distribution.png",
                                                            "via-ply1.png", "via-ply2.png",
                                                            "frequency.json", "frequency.png", "phase.png", "notch.png", "line.s2p"}

    def test_page_says_the_numbers_of_the_json(self):
        delay = json.loads((self.out / "skew.json").read_text())["delay"]
        judged = max(delay["worst_ps"], delay["worst_ps_with_turn"])
        shown = f"{judged:.{1 if judged >= 9.95 else 2 if judged >= 0.995 else 3}f} ps"
        self.assertIn(f"No budget is given, so nothing is judged: at worst {shown}", self.page.words())

    def test_causes_and_glass_under_a_beam_are_on_the_page(self):
        words = self.page.words()
        budget = json.loads((self.out / "budget.json").read_text())
        self.assertIn(f"The leading cause is {max(budget['causes'], key=lambda c: -c['halved_ps'])['name']}", words)
        for cause in budget["causes"]:
            self.assertIn(cause["name"], words)
        for whole in ("two of one board", "two of two boards", "two over life"):
            self.assertIn(whole, words)
        self.assertIn("Glass that a laser beam of 60 \u00b5m meets in ply 1, 1080", words)

    def test_what_is_missing_for_the_loss_is_told_in_one_line(self):
        loss = json.loads((self.out / "frequency.json").read_text())["loss_at"]
        for cause in ("dielectric", "conductor", "roughness"):
            self.assertIn(f"{loss[cause + '_db_per_in']:.3f}", self.page.words())
        self.assertIn("What is lost at 28 GHz, and over 50 mm.", self.page.words())
        self.assertNotIn("Not solved", self.page.words())

    test_one_null_is_spoken_of = None
    test_only_what_may_vary_is_named = None

    def test_the_usual_remedies_are_tried(self):
        styles = [style["style"] for style in json.loads((self.out / "compare.json").read_text())["styles"]]
        self.assertLessEqual({"1080", "2113", "1080-spread", "1078", "1086"}, set(styles))

    def test_words_are_those_of_a_single_trace(self):
        words = self.page.words()
        self.assertIn("two equal traces", words)
        self.assertNotIn("each leg", words)
        self.assertNotIn("Which pitch", words)
        self.assertIn("places independent", words)
        self.assertIn("How far apart?", words)
        self.assertTrue((self.out / "spacing.png").exists())


class Command(unittest.TestCase):
    def setUp(self):
        temporary = tempfile.TemporaryDirectory(prefix="weftwise-report-")
        self.addCleanup(temporary.cleanup)
        self.folder = temporary.name

    def test_a_report_replaces_a_full_verify_json_and_finer_pitch_data(self):
        out = pathlib.Path(self.folder) / "beside"
        out.mkdir()
        names = ("verify.json", "pitch.npy", "skew.json", "section.png", "report.html")
        for name in names:
            (out / name).write_text("of a full run")
        written, _ = report_study.write_report(PROGRAM, self.folder, report_study.coarse(report_study.SINGLE), "beside", "-q")
        self.assertEqual({name: (out / name).read_text() for name in names}, dict.fromkeys(names, "of a full run"))
        self.assertEqual(sorted(p.name for p in out.iterdir()), sorted((*names, "report")))
        json.loads((written / "verify.json").read_text())

    def test_gate_and_json(self):
        study = report_study.coarse(report_study.PAIR).replace("length = 50 mm", "length = 30 mm")
        _, printed = report_study.write_report(PROGRAM, self.folder, study, "gate", "--json", "--gate", status=1)
        self.assertTrue(json.loads(printed)["answer"]["verdict"].endswith("2.00 ps allowed"))
        _, printed = report_study.write_report(PROGRAM, self.folder, study.replace("budget = 2 ps", "budget = 90 ps"),
                                               "wide", "--gate", "--quiet")
        self.assertEqual(printed, "")

    def test_drawings_are_embedded_too(self):
        out, _ = report_study.write_report(PROGRAM, self.folder, report_study.coarse(report_study.SINGLE), "svg", "--format=svg", "-q")
        page = Page((out / "report.html").read_text(encoding="utf-8"))
        self.assertEqual(page.faults, [])
        files = {p.read_bytes() for p in out.glob("*.svg")}
        for image in page.all("img"):
            kind, data = image["src"].split(",", 1)
            self.assertEqual(kind, "data:image/svg+xml;base64")
            self.assertIn(base64.b64decode(data, validate=True), files)

    def test_a_board_without_cloth(self):
        study = report_study.PAIR.replace("layer = ply 1080 100 um", "layer = resin 100 um").replace(
            "layer = ply 2113 110 um", "layer = solid 100 um dk=3.0 df=0.001")
        out, printed = report_study.write_report(PROGRAM, self.folder, study, "resin")
        page = Page((out / "report.html").read_text(encoding="utf-8"))
        self.assertEqual(page.faults, [])
        self.assertIn("Meets the budget: 0.000 ps at worst", printed)
        self.assertNotIn("Which glass?", page.words())

    def test_a_route(self):
        study = report_study.coarse(report_study.SINGLE) + "[route]\nsegment = 10 mm 0 deg\nsegment = 12 mm 45 deg\n"
        study = "\n".join(line for line in study.splitlines() if not line.startswith(("length", "angle", "frequency"))) + "\n"
        out, _ = report_study.write_report(PROGRAM, self.folder, study, "route", "-q")
        page = Page((out / "report.html").read_text(encoding="utf-8"))
        self.assertEqual(page.faults, [])
        self.assertIn("segment 2 of the route", "".join(page.text["th"]))
        self.assertNotIn("angle from the warp", "".join(page.text["th"]))
        self.assertIn("Not solved: the study has no frequency and no rate", page.words())

    def test_levels_and_a_count_that_is_off(self):
        study = report_study.coarse(report_study.PAIR).replace("turn = 1 deg", "turn = 2 deg\ncount_tolerance = 1 %").replace(
            "lanes = 8", "lanes = 8\nlevels = 4")
        out, printed = report_study.write_report(PROGRAM, self.folder, study, "count")
        page = Page((out / "report.html").read_text(encoding="utf-8"))
        self.assertEqual(page.faults, [])
        printed = " ".join(printed.split())
        self.assertIn("at 28 GBd, 56 Gb/s with 4 levels", printed)
        self.assertIn("with the cloth up to 2° off square and its yarn counts up to 1 % off", printed)
        for head in ("Its turn and yarn counts vary too", "With turn and yarn counts", "yarn counts off, up to"):
            self.assertIn(head, page.text["th"])

    def test_documents_cannot_be_embedded(self):
        done = subprocess.run([PROGRAM, "report", "x.ini", "--format", "pdf"], cwd=self.folder, capture_output=True,
                              check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"give --format png or svg", done.stderr)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0]] + sys.argv[3:])
