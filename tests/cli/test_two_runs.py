"""Two runs at once that write to one folder: one waits for the other, and what is there is of one run alone.

usage: test_two_runs.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import fcntl
import os
import pathlib
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import unittest

from small_study import TINY

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
ENVIRONMENT = {k: v for k, v in os.environ.items() if k != "WEFTWISE_WEAVES"}
NOTE = "weftwise: note: waits for another run that writes to out/both\n"


class TwoRuns(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-two-"))
        self.addCleanup(shutil.rmtree, self.folder)
        (self.folder / "a.ini").write_text(TINY)
        (self.folder / "b.ini").write_text(TINY.replace("Test link", "Other link").replace("angle = 3 deg", "angle = 7 deg"))

    def start(self, command, study, out):
        return subprocess.Popen([PROGRAM, command, study, "-o", out, "-q"], cwd=self.folder, env=ENVIRONMENT, text=True,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def contents(self, out):
        return {p.relative_to(self.folder / out): p.read_bytes() for p in sorted((self.folder / out).rglob("*")) if p.is_file()}

    def test_reports_of_two_studies_are_not_mixed(self):
        alone = {}
        for study in ("a", "b"):
            run = self.start("report", f"{study}.ini", "out/both")
            self.assertEqual((run.communicate(timeout=100)[1], run.returncode), ("", 0))
            alone[study] = self.contents("out/both")
            shutil.rmtree(self.folder / "out")
        self.assertGreater(len(alone["a"]), 10)
        self.assertNotEqual(alone["a"], alone["b"])
        for _ in range(3):
            runs = [self.start("report", f"{study}.ini", "out/both") for study in ("a", "b")]
            for run in runs:
                said = run.communicate(timeout=200)[1]
                self.assertEqual(run.returncode, 0, said)
                self.assertIn(said, ("", NOTE.replace("both", "both/report")))
            self.assertIn(self.contents("out/both"), list(alone.values()))

    def hold(self):
        (self.folder / "out/both").mkdir(parents=True)
        held = os.open(self.folder / "out/both", os.O_RDONLY)
        self.addCleanup(os.close, held)
        fcntl.flock(held, fcntl.LOCK_EX)
        return held

    def wait_for_note(self, run):
        self.assertTrue(select.select([run.stderr], [], [], 60)[0], "no note in a minute")
        self.assertEqual(run.stderr.readline(), NOTE)
        self.assertEqual(list((self.folder / "out/both").iterdir()), [])

    def test_a_run_waits_says_so_and_goes_on(self):
        held = self.hold()
        run = self.start("map", "a.ini", "out/both")
        self.wait_for_note(run)
        self.assertIsNone(run.poll())
        fcntl.flock(held, fcntl.LOCK_UN)
        self.assertEqual((run.communicate(timeout=60)[1], run.returncode), ("", 0))
        self.assertTrue(self.contents("out/both"))

    def test_a_run_that_waits_can_be_ended(self):
        self.hold()
        run = self.start("map", "a.ini", "out/both")
        self.wait_for_note(run)
        run.send_signal(signal.SIGINT)
        run.communicate(timeout=5)
        self.assertEqual(run.returncode, 128 + signal.SIGINT)
        self.assertEqual(self.contents("out/both"), {})


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
