"""While a person waits: no phase of any command is silent on a terminal, and Ctrl-C is answered at any moment.

usage: test_waiting.py PROGRAM SOURCE_ROOT [--moments N] [unittest options]

Both are measured by the clock, on machines that are busy with other tests, so the bounds are wide; with --moments 20 on a quiet
machine the printed times are those to judge by (aim: 1 s and 0.5 s).

SPDX-License-Identifier: GPL-3.0-or-later
"""

import argparse
import os
import pathlib
import pty
import random
import re
import shutil
import signal
import subprocess
import tempfile
import time
import unittest

PARSER = argparse.ArgumentParser()
PARSER.add_argument("program", type=lambda name: pathlib.Path(name).resolve())
PARSER.add_argument("root", type=lambda name: pathlib.Path(name).resolve())
PARSER.add_argument("--moments", type=int, default=3)
GIVEN, REST = PARSER.parse_known_args()

LINK, FEED = GIVEN.root / "weaves/studies/mezzanine-link.ini", GIVEN.root / "weaves/studies/feed-network.ini"
HALF = ("--set", "study.fineness=0.5")
COMMANDS = (  # each takes some seconds
    ("map", LINK, "--width", "10000"),
    ("skew", LINK),
    ("angles", LINK, "--step", "0.5 deg"),
    ("compare", LINK, "1078", "2116"),
    ("pitch", LINK, "--pitch", "200 um..300 um", *HALF),
    ("frequency", LINK, *HALF),
    ("verify", LINK, *HALF),
    ("budget", FEED, *HALF),
    ("cloth", LINK, "--set", "fabric.wander=40 um", *HALF),
    ("report", FEED, *HALF),
)
SILENT_MOST, STOPPING_MOST = 8.0, 10.0  # [s], while other tests take the processors


class Waiting(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-waiting-"))
        self.addCleanup(shutil.rmtree, self.folder)

    def watch(self, command):
        """Its status, and when something was shown, from the start to the end."""
        master, slave = pty.openpty()
        shown = [time.monotonic()]
        with subprocess.Popen([GIVEN.program, *command, "-o", "out"], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=slave) as process:
            os.close(slave)
            text = b""
            try:
                while segment := os.read(master, 65536):
                    shown.append(time.monotonic())
                    text += segment
            except OSError:  # the other end is closed
                pass
            os.close(master)
        shown.append(time.monotonic())
        return process.returncode, shown, text.decode()

    def test_no_phase_is_silent_on_a_terminal(self):
        for command in COMMANDS:
            with self.subTest(command=command[0]):
                status, shown, text = self.watch(command)
                self.assertEqual(status, 0, text)
                silent = max(after - before for before, after in zip(shown, shown[1:]))
                print(f"{command[0]}: {shown[-1] - shown[0]:.1f} s, silent for {silent:.2f} s at most")
                self.assertLess(silent, SILENT_MOST)
                if shown[-1] - shown[0] > 2 * SILENT_MOST:
                    self.assertRegex(text, r"\x1b\[Kweftwise: [a-z].*")
                self.assertNotIn("\n", re.sub(r"weftwise: note: [^\r\n]*\r\n", "", text))

    def test_stopped_at_any_moment(self):
        """One line, status 130, no file that is not whole, and soon."""
        draw = random.Random(1)
        for command in COMMANDS:
            slowest, stopped = 0.0, 0
            for _ in range(GIVEN.moments):
                after = draw.uniform(0.1, 1.5)
                with self.subTest(command=command[0], after=after), subprocess.Popen(
                        [GIVEN.program, *command, "-o", "out"], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)) as process:
                    try:
                        process.wait(after)
                    except subprocess.TimeoutExpired:
                        process.send_signal(signal.SIGINT)
                    sent = time.monotonic()
                    error = process.stderr.read().decode()
                    process.wait()
                    slowest = max(slowest, time.monotonic() - sent)
                    if process.returncode in (0, -signal.SIGINT):  # it was done, or had not begun
                        continue
                    stopped += 1
                    self.assertEqual(process.returncode, 130, error)
                    self.assertRegex(error, r"\A(weftwise: (note|caution): [^\n]*\n)*weftwise: stopped; [^\n]*\n\Z")
                    self.assertEqual([path for path in self.folder.rglob("*") if re.match(r"\.weftwise-", path.name)], [])
            print(f"{command[0]}: stopped {stopped} times, in {slowest:.2f} s at most")
            self.assertGreater(stopped, 0, command)
            self.assertLess(slowest, STOPPING_MOST)


if __name__ == "__main__":
    unittest.main(argv=["test_waiting.py", *REST])
