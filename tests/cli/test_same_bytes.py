"""A report is the same to the byte on any number of threads, in any locale, time zone, folder and umask, at any time.

usage: test_same_bytes.py PROGRAM SOURCE_ROOT [unittest options]

SPDX-License-Identifier: GPL-3.0-or-later
"""

import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

from small_study import STUDY

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
PLACES = (
    ("a", ("--threads", "1"), {"LC_ALL": "C", "TZ": "UTC"}, 0o022),
    ("much/deeper/and with blanks", ("--threads", "2"), {"LC_ALL": "de_DE.UTF-8", "TZ": "Asia/Tokyo", "HOME": "/nowhere"}, 0o077),
    ("c", ("--threads", "4"), {"LC_ALL": "C.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "America/New_York"}, 0o000),
)


class SameBytes(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-same-"))
        self.addCleanup(shutil.rmtree, self.folder)

    def run_in(self, place, options, surroundings, mask, command):
        folder = self.folder / place
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "same.ini").write_text(STUDY)
        environment = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG", "OMP_", "WEFTWISE"))} | surroundings
        done = subprocess.run([PROGRAM, *command, "same.ini", "-o", "out", *options], cwd=folder, env=environment, umask=mask,
                              capture_output=True, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, b""), place)
        return done.stdout, {str(path.relative_to(folder)): path.read_bytes() for path in (folder / "out").rglob("*") if path.is_file()}

    def test_every_file(self):
        for command in (["report"], ["frequency", "--points", "50"], ["budget"], ["verify", "--json"]):
            with self.subTest(command=command[0]):
                first, *others = (self.run_in(*place, command) for place in PLACES)
                self.assertGreater(len(first[1]), 1)
                for place, (said, files) in zip(PLACES[1:], others):
                    self.assertEqual(first[0], said, place)
                    self.assertEqual(set(first[1]), set(files), place)
                    for name, content in files.items():
                        self.assertTrue(first[1][name] == content, f"{name} in {place}")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
