"""Bash completion: it offers what --help says, studies, styles and figures.

usage: test_completion.py PROGRAM SCRIPT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SCRIPT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()

# compopt works inside a completion only
ASK = 'compopt() { :; }; source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _weftwise; printf "%s\\n" "${COMPREPLY[@]}"'


def help_of(*command):
    return subprocess.run([PROGRAM, *command, "--help"], check=True, capture_output=True, text=True).stdout


def options_in(text):
    """The options of a help, and those of them that take a value."""
    rows = re.findall(r"^  (?:-\w, |    )(--[a-z-]+)( \S+)?(?= {2,}|$)", text, re.M)
    return {name for name, _ in rows}, {name for name, value in rows if value}


COMMANDS = re.findall(r"^  ([a-z]+) ", help_of().split("commands:")[1].split("options:")[0], re.M)


class Completion(unittest.TestCase):
    def setUp(self):
        holder = tempfile.TemporaryDirectory(prefix="weftwise-test-")
        self.addCleanup(holder.cleanup)
        self.folder = pathlib.Path(holder.name)
        for name in ("link.ini", "my feed.ini", "fig.png", "fig.svg", "fig.pdf", "notes.txt"):
            (self.folder / name).write_text("")
        (self.folder / "out").mkdir()

    def offered(self, *words):
        done = subprocess.run(["bash", "--norc", "-c", ASK, "ask", str(SCRIPT), str(PROGRAM), *words], cwd=self.folder,
                              check=False, capture_output=True, text=True, timeout=60)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        return set(done.stdout.splitlines()) - {""}

    def test_commands(self):
        self.assertGreater(len(COMMANDS), 4)
        self.assertEqual(self.offered(""), set(COMMANDS))
        self.assertEqual(self.offered("-q", "sk"), {"skew"})
        self.assertEqual(self.offered("--set", "trace.angle=1 deg", "ver"), {"verify"})

    def test_options_of_each_command(self):
        for command in COMMANDS:
            told, valued = options_in(help_of(command))
            self.assertGreater(len(told), 1)
            self.assertEqual(self.offered(command, "--"), told, command)
            for option in told - valued:
                self.assertIn("link.ini" if command not in ("styles", "measure", "recall", "help") else "",
                              self.offered(command, option, "") | {""}, option)
            for option in valued - {"--output", "--weaves", "--format", "--placement", "--set", "--warp", "--light", "--like"}:
                self.assertEqual(self.offered(command, option, ""), set(), option)

    def test_values(self):
        self.assertEqual(self.offered("skew", "--format", ""), {"png", "svg", "pdf"})
        self.assertEqual(self.offered("skew", "--format", "=", "s"), {"svg"})
        self.assertEqual(self.offered("frequency", "--placement", ""), {"worst", "median", "fastest"})
        self.assertEqual(self.offered("skew", "--format", "="), {"png", "svg", "pdf"})
        self.assertEqual(self.offered("skew", "-o", ""), {"out"})

    def test_keys_of_a_study_are_offered_behind_set(self):
        keys = self.offered("skew", "--set", "")
        self.assertGreater(len(keys), 20)
        self.assertLessEqual({"trace.width=", "signal.budget=", "fabric.count_tolerance="}, keys)
        self.assertIn("route.segment=", keys)
        self.assertFalse({"route.from=", "NAME.from=", "from=", ".from="} & keys)  # an arm's name is not known
        self.assertEqual(self.offered("skew", "--set", "trace.wi"), {"trace.width="})
        self.assertEqual(self.offered("help", "stu"), {"study"})

    def test_files(self):
        self.assertEqual(self.offered("skew", ""), {"out", "link.ini", "my feed.ini"})
        self.assertEqual(self.offered("skew", "-o", "out", "l"), {"link.ini"})
        self.assertEqual(self.offered("recall", ""), {"out", "fig.png", "fig.svg", "fig.pdf"})

    def test_styles(self):
        styles = self.offered("styles", "")
        self.assertGreater(len(styles), 30)
        self.assertIn("1080", styles)
        self.assertEqual(self.offered("styles", "108"), {s for s in styles if s.startswith("108")})
        self.assertEqual(self.offered("compare", "link.ini", ""), styles | {"all"})
        self.assertEqual(self.offered("compare", "--format=svg", ""), {"out", "link.ini", "my feed.ini"})
        self.assertEqual(self.offered("compare", "--format", "=", "svg", "link.ini", "1080", "al"), {"all"})


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
