"""Both ends of every key's range, read from `weftwise help study` itself, so that a new key is tried the day it is there:
a finite and plausible answer, or one clear line; never NaN, never infinity, in no file.

usage: test_limits.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import json
import math
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

from small_study import STUDY

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
MOST_SECONDS = 100
NUMBER = re.compile(r"[-+]?[0-9.]+(?:e[-+]?[0-9]+)?")
NOT_FINITE = re.compile(rb"(?<![a-z])(?:nan|inf|infinity)(?![a-z])", re.IGNORECASE)


# One cloth, glass and foil of the study's own, so that each of their figures can be set alone.
OWN = """[style own]
kind = plain
warp_count = 60 /in
fill_count = 47 /in
warp_yarn = 11.2 tex
fill_yarn = 11.2 tex
thickness = 53 um
glass = own
[glass own]
dk = 6.3
df = 0.004
density = 2.58 g/cm3
frequency = 10 GHz
[foil own]
model = huray
rz = 3 um
"""


def keys():
    """(section.key, least, most) of each key that has a range, as help tells it."""
    text = subprocess.run([PROGRAM, "help", "study"], capture_output=True, text=True, check=True).stdout
    section, key, words, found = "", "", {}, []
    for line in text.splitlines():
        if match := re.fullmatch(r"  \[([a-z]+)( NAME)?\]", line):
            section = match[1] + (" own" if match[2] else "")
        elif match := re.match(r"    ([a-z_.]+) = (.*)", line):
            key = f"{section}.{match[1]}"
            words[key] = match[2]
        elif key:
            words[key] += " " + line.strip()
    for key, explained in words.items():
        for match in re.finditer(r"\(([^()]+?) to ([^();]+)(?:; [^()]*)?\)", explained):
            least, most = match[1], match[2]
            if NUMBER.match(least) and NUMBER.match(most):
                unit = NUMBER.sub("", most, count=1)
                found.append((key, least if NUMBER.sub("", least, count=1) else least + unit, most))
    return found


def numbers_of(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from numbers_of(item)
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield value


def no_constant(name):
    raise ValueError(f"{name} in JSON")


class Limits(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-limits-"))
        self.addCleanup(shutil.rmtree, self.folder)
        study = STUDY.replace("sections = 6", "sections = 0").replace("ply 1080", "ply own").replace("copper = rolled", "copper = own")
        (self.folder / "study.ini").write_text(study.replace("low-loss", "own") + OWN)

    def run_program(self, command, *arguments):
        return subprocess.run([PROGRAM, command, "study.ini", "-o", "out", "--json", "--format", "svg", *arguments], cwd=self.folder,
                              capture_output=True, text=True, timeout=MOST_SECONDS, check=False,
                              env={k: v for k, v in os.environ.items() if k != "WEFTWISE_WEAVES"})

    def check(self, command, key, value):
        shutil.rmtree(self.folder / "out", ignore_errors=True)
        done = self.run_program(command, "--set", f"{key}={value}")
        label = f"{command} --set {key}={value}: {done.returncode} {done.stderr}"
        self.assertIn(done.returncode, (0, 2), label)
        if done.returncode == 2:
            self.assertRegex(done.stderr, r"\Aweftwise: [^\n]+\n\Z", label)
            return False
        answer = json.loads(done.stdout, parse_constant=no_constant)
        self.assertTrue(all(math.isfinite(number) for number in numbers_of(answer)), label)
        for path in (self.folder / "out").rglob("*"):
            if path.suffix in (".json", ".csv", ".svg", ".html", ".s2p", ".s4p"):
                content = re.sub(rb"<metadata>.*?</metadata>|base64,[A-Za-z0-9+/=]*", b"", path.read_bytes(), flags=re.DOTALL)
                self.assertIsNone(NOT_FINITE.search(content), f"{label}: {path.name}")
        return answer

    def check_plausible(self, answer, label):
        """What no study can break: light takes its time, and the worst is the largest."""
        skew = answer["skew"]
        self.assertGreaterEqual(skew["worst_ps"], 0, label)
        for less in ("p99_ps", "p95_ps", "median_ps"):
            self.assertLessEqual(skew[less], skew["worst_ps"] * (1 + 1e-9), label)
        self.assertGreaterEqual(skew["worst_ps_with_turn"], skew["worst_ps"] * (1 - 1e-9), label)
        self.assertGreater(answer["line"]["delay_ps_per_mm"], 1 / 0.299792458, label)

    def test_both_ends_of_every_range(self):
        found = keys()
        self.assertGreater(len(found), 70)
        self.assertLessEqual({"style own.warp_width", "glass own.dk", "resin own.dk", "foil own.rz"}, {key for key, *_ in found})
        answered = 0
        for key, *ends in found:
            command = ("budget" if key.startswith(("tolerance.", "signal.elements")) else "map" if key.startswith("via.") else
                       "frequency" if key.startswith("foil ") or key.endswith((".df", "own.frequency")) else "skew")
            for value in ends:
                with self.subTest(key=key, value=value):
                    answer = self.check(command, key, value)
                    answered += bool(answer)
                    if answer and command == "skew":
                        self.check_plausible(answer, f"{key}={value}")
        self.assertGreater(answered, len(found))  # refusals are the fewer
        print(f"{len(found)} keys, {answered} of {2 * len(found)} ends answered")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
