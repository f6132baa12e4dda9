"""Every fault ends in one clear line and nothing lost: the n-th allocation has no memory, the n-th system call on a file
fails, the program is killed.

Whatever fails, exit status 0 means that every byte is as without the fault. Otherwise the status is 3 and one line tells why,
and each file in the output folder is the old one or the new one, whole. A temporary file stays only where the program was
killed, and the next run removes it.

usage: test_faults.py PROGRAM SOURCE_ROOT SHIM [--each N] [--seed S] [--tiny] [--only COMMAND...] [--from N] [unittest options]
N faults of each kind and command, drawn with the seed; 0: all of them. --tiny: of the smallest study, for which all of them
take minutes for skew and hours for the slower commands. Every call path to an allocation is tried in minutes, of any command;
with fewer than 8 faults of each kind every 20th path. --from: paths from the N-th allocation on, where an earlier run ended.

SPDX-License-Identifier: GPL-3.0-or-later
"""

import argparse
import collections
import os
import pathlib
import random
import re
import select
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
import unittest
import zlib

parser = argparse.ArgumentParser()
parser.add_argument("program", type=lambda name: pathlib.Path(name).resolve())
parser.add_argument("root", type=lambda name: pathlib.Path(name).resolve())
parser.add_argument("shim", type=lambda name: pathlib.Path(name).resolve())
parser.add_argument("--each", type=int, default=8)
parser.add_argument("--seed", type=int, default=1)
parser.add_argument("--tiny", action="store_true")
parser.add_argument("--only", nargs="*", metavar="COMMAND")
parser.add_argument("--from", type=int, default=1, dest="first")
given, rest = parser.parse_known_args()
sys.path.insert(0, str(given.root / "tests/cli"))

from small_study import STUDY, TINY  # noqa: E402

DONE, FAILED = 0, 3
STRACE = shutil.which("strace")
OUT = ["--width", "400", "-o", "out"]
THICK = ["--set", "trace.thickness=10 um"] if given.tiny else []  # without it loss has no end
# Sanitizers bring an allocator of their own: these tests are not for them.
COMMANDS = {
    "styles": ["styles"],
    "new": ["new", "new.ini"],
    "map": ["map", "study.ini", *OUT],
    "skew": ["skew", "study.ini", *OUT],
    "skew --json": ["skew", "study.ini", "--json", *OUT],
    "angles": ["angles", "study.ini", *OUT],
    "compare": ["compare", "study.ini", "1078", *OUT],
    "pitch": ["pitch", "study.ini", *OUT],
    "frequency": ["frequency", "study.ini", "--points", "50", *THICK, *OUT],
    "budget": ["budget", "study.ini", *OUT],
    "verify": ["verify", "study.ini", *OUT],
    "cloth": ["cloth", "study.ini", "--boards", "4", "--set", "fabric.wander=40 um", "--to-length", "40 mm", *OUT],
    "measure": ["measure", "cloth.png", "--scale", "10 um", "--like", "2116", *OUT],
    "report": ["report", "study.ini", *THICK, *OUT],
    "recall": ["recall", "figure.png"],
    "recall of PDF": ["recall", "figure.pdf"],
}
SLOW = {"pitch", "report"}  # a tenth as many faults
Outcome = collections.namedtuple("Outcome", "status out err files")


def files_of(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def picture():
    """A plain cloth from above, yarns 24 pixels apart and 16 wide, lit from the front: a grey PNG."""
    size, pitch, width = 240, 24, 16

    def seen(x, y):
        i, j = x // pitch, y // pitch
        across = [1 - ((position % pitch - (width - 1) / 2) / (width / 2)) ** 2 for position in (x, y)]
        on = [x % pitch < width, y % pitch < width]
        if not any(on):
            return 40
        top = 0 if on[0] and (not on[1] or (i + j) % 2 == 0) else 1
        return int(130 + 100 * max(0, across[top]))

    rows = b"".join(b"\0" + bytes(seen(x, y) for x in range(size)) for y in range(size))

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", size, size, 8, 0, 0, 0, 0)) +
            chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


class Bench:
    """A folder with a study and old results in it, made anew for each run."""

    def __init__(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="weftwise-fault-"))
        self.start = self.folder / "start"
        self.start.mkdir()
        (self.start / "study.ini").write_text(TINY if given.tiny else STUDY)
        (self.start / "cloth.png").write_bytes(picture())
        self.sound = {}
        self.run(["map", "study.ini", *OUT])
        shutil.copy(next((self.folder / "run/out").glob("dk*.png")), self.start / "figure.png")
        self.run(["map", "study.ini", "--format", "pdf", *OUT])
        shutil.copy(next((self.folder / "run/out").glob("dk*.pdf")), self.start / "figure.pdf")
        self.inputs = files_of(self.start)

    def run(self, arguments, before=(), old=None, killed_after=None, program=True, **environment):
        """The program in a fresh folder, with `old` files there already."""
        place = self.folder / "run"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(self.start, place)
        for name, content in (old or {}).items():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            (place / name).write_bytes(content)
        surroundings = {k: v for k, v in os.environ.items() if k not in ("WEFTWISE_WEAVES", "OMP_NUM_THREADS")}
        surroundings.update(environment, OMP_NUM_THREADS="1")
        child = subprocess.Popen([*before, *([given.program] if program else []), *arguments], cwd=place, env=surroundings, stdin=subprocess.DEVNULL,
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True)
        try:
            out, err = child.communicate(timeout=killed_after or 300)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            out, err = child.communicate()
            if not killed_after:
                raise
        return Outcome(child.returncode, out, err.decode(errors="replace"), files_of(place))

    def split(self, arguments, old, **environment):
        """The program once, split in two at each call path to an allocation (allocations.c): number and Outcome of every half
        that has no memory there."""
        place = self.folder / "run"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(self.start, place)
        for name, content in old.items():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            (place / name).write_bytes(content)
        tell, answer = os.pipe(), os.pipe()
        surroundings = {k: v for k, v in os.environ.items() if k not in ("WEFTWISE_WEAVES", "OMP_NUM_THREADS")}
        surroundings.update(environment, OMP_NUM_THREADS="1", LD_PRELOAD=str(given.shim), FAULT_FORK=f"{tell[1]},{answer[0]}",
                            FAULT_EVERY="20" if 0 < given.each < 8 else "1", FAULT_FROM=str(given.first))
        with open(place / "stdout", "wb") as out, open(place / "stderr", "wb") as err:
            child = subprocess.Popen([given.program, *arguments], cwd=place, env=surroundings, stdin=subprocess.DEVNULL, stdout=out, stderr=err,
                                     pass_fds=(tell[1], answer[0]), start_new_session=True)
        os.close(tell[1])
        os.close(answer[0])
        try:
            while select.select([tell[0]], [], [], 600)[0] and (line := os.read(tell[0], 100)):
                n, status = line.split()
                folder = place.with_name(f"run-{int(n)}")
                files = files_of(folder)
                out, err = (files.pop(name) for name in ("stdout", "stderr"))
                yield int(n), Outcome(os.waitstatus_to_exitcode(int(status)), out, err.decode(errors="replace"), files)
                shutil.rmtree(folder)
                os.write(answer[1], b".")
            assert child.wait(60) == DONE, child.returncode
        finally:
            os.close(tell[0])
            os.close(answer[1])
            if child.poll() is None:
                os.killpg(child.pid, signal.SIGKILL)
                child.wait()

    def soundly(self, name):
        """What a command gives without a fault."""
        if name not in self.sound:
            outcome = self.run(COMMANDS[name])
            assert outcome.status == DONE, f"{name}: {outcome.status} {outcome.err}"
            self.sound[name] = outcome
        return self.sound[name]

    def written(self, name):
        return [file for file in self.soundly(name).files if file not in self.inputs]

    def old_files(self, name):
        """Old results under the names that the command will write."""
        return {file: b"old\n" for file in self.written(name) if file != "new.ini"}


class Faults(unittest.TestCase):
    bench = None
    trials = collections.Counter()

    @classmethod
    def setUpClass(cls):
        cls.bench = Bench()

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.bench.folder)
        print("tried:", ", ".join(f"{count} {kind}" for kind, count in sorted(cls.trials.items())))

    def drawn(self, name, count):
        """Which of 1..count are tried: a seeded sample, or all."""
        wanted = given.each if name not in SLOW else (given.each + 7) // 8
        numbers = range(1, count + 1)
        if given.each == 0 or count <= wanted:
            return list(numbers)
        return sorted(random.Random(f"{given.seed} {name} {count}").sample(numbers, wanted))

    def check(self, name, outcome, old, what, noisy=False):
        """noisy: a library may have said something first."""
        sound = self.bench.soundly(name)
        label = f"{name}, {what}: status {outcome.status}, {outcome.err!r}"
        if outcome.status == DONE:
            if name != "verify":  # which tells how long it took
                self.assertEqual(sound.out, outcome.out, label)
            self.assertEqual(set(sound.files), set(outcome.files), label)
            for file, content in sound.files.items():
                self.assertEqual(content, outcome.files[file], f"{label}: {file}")
            return
        killed = outcome.status == -signal.SIGKILL
        if not killed:
            self.assertEqual(FAILED, outcome.status, label)
            self.assertRegex(outcome.err, (r"" if noisy else r"\A") + r"weftwise: [^\n]+\n\Z", label)
        for file, content in outcome.files.items():
            if re.search(r"(^|/)\.weftwise-\d+-\d+$", file):
                self.assertTrue(killed, f"{label}: a temporary is left, {file}")
            else:
                self.assertIn(content, (old.get(file), sound.files.get(file)), f"{label}: {file} is not whole")
        for file in self.bench.inputs:
            self.assertIn(file, outcome.files, label)

    # Allocations

    def allocations(self, name, **environment):
        count = self.bench.folder / "count"
        self.bench.run(COMMANDS[name], old=self.bench.old_files(name), LD_PRELOAD=str(given.shim), FAULT_AT="0",
                       FAULT_COUNT=str(count), **environment)
        counted = int(count.read_text())
        self.assertGreater(counted, 0, name)  # the shim is in place
        return counted

    @staticmethod
    def commands():
        return [name for name in COMMANDS if not given.only or name in given.only]

    def fail_allocations(self, kind, noisy=False, **environment):
        for name in self.commands():
            with self.subTest(command=name):
                self.bench.soundly(name)
                old = self.bench.old_files(name)
                for n in self.drawn(name, self.allocations(name, **environment)):
                    with self.subTest(command=name, allocation=n):
                        outcome = self.bench.run(COMMANDS[name], old=old, LD_PRELOAD=str(given.shim), FAULT_AT=str(n), **environment)
                        self.trials[kind] += 1
                        self.check(name, outcome, old, f"{kind} {n}", noisy)

    def split_allocations(self, kind, **environment):
        for name in self.commands():
            with self.subTest(command=name):
                self.bench.soundly(name)
                old, tried = self.bench.old_files(name), 0
                for n, outcome in self.bench.split(COMMANDS[name], old, **environment):
                    with self.subTest(command=name, allocation=n):
                        tried += 1
                        self.trials[kind] += 1
                        self.check(name, outcome, old, f"{kind} {n}")
                    if tried % 500 == 0:
                        print(f"{name}: {tried} tried, at allocation {n}", flush=True)
                print(f"{name}: {tried} {kind}", flush=True)
                self.assertGreater(tried, 0)

    def test_every_path_to_an_allocation_of_ours(self):
        self.split_allocations("path to an allocation of ours")

    def test_every_path_to_an_allocation_of_ours_and_all_after(self):
        self.split_allocations("path to an allocation of ours and all after", FAULT_ON="1")

    def test_one_allocation_of_ours(self):
        self.fail_allocations("allocation of ours")

    def test_all_allocations_of_ours_from_one_on(self):
        self.fail_allocations("allocation of ours and all after", FAULT_ON="1")

    def test_one_allocation_of_a_library(self):
        """FFTW ends the program itself, fontconfig crashes: contained, nothing half-written left."""
        self.fail_allocations("allocation of anybody's", noisy=True, FAULT_ANY="1")

    # Files: strace counts the system calls that touch the study, the weaves or the results, and makes one of them fail.

    def calls(self, name, call):
        """Which of the calls, from 1, are on our files."""
        log = self.bench.folder / "calls"
        self.bench.run(COMMANDS[name], [STRACE, "-qq", "-y", "-o", log, "-e", f"trace={call}"], self.bench.old_files(name))
        ours = (str(self.bench.folder), str(given.root / "weaves"), "1<pipe")
        lines = [re.sub(r"AT_FDCWD<[^>]*>", "", line) for line in log.read_text(errors="replace").splitlines()
                 if line.startswith(call + "(")]
        return [n + 1 for n, line in enumerate(lines) if any(place in line for place in ours) or re.search(r'^(openat|mkdir|rename)\(([^"]*, )?"[^/]', line)]

    def fail_calls(self, call, *codes):
        if not STRACE or subprocess.run([STRACE, "-o", "/dev/null", "true"], stderr=subprocess.DEVNULL).returncode:
            self.skipTest("no program can be traced here")
        for name in self.commands():
            self.bench.soundly(name)
            old = self.bench.old_files(name)
            ours = self.calls(name, call)
            for n in self.drawn(name, len(ours)):
                for code in codes:
                    with self.subTest(command=name, call=call, number=ours[n - 1], error=code):
                        inject = f"inject={call}:error={code}:when={ours[n - 1]}"
                        outcome = self.bench.run(COMMANDS[name], [STRACE, "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", inject], old)
                        self.trials[f"{call} with {code}"] += 1
                        self.check(name, outcome, old, f"{call} {ours[n - 1]} with {code}")

    def test_open(self):
        self.fail_calls("openat", "EMFILE", "EIO")

    def test_read(self):
        self.fail_calls("read", "EIO")

    def test_list(self):
        self.fail_calls("getdents64", "EIO")

    def test_write(self):
        self.fail_calls("write", "ENOSPC", "EIO", "EINTR")

    def test_to_disk(self):
        self.fail_calls("fsync", "EIO", "ENOSPC", "EINTR")

    def test_close(self):
        self.fail_calls("close", "EIO")

    def test_rename(self):
        self.fail_calls("rename", "EACCES", "ENOSPC")

    def test_folder(self):
        self.fail_calls("mkdir", "ENOSPC", "EACCES")

    def test_full_file_system(self):
        """A small one, full before all files are there."""
        mount = "mkdir -p out && mount -t tmpfs -o size=%dk tmpfs out && { %s; s=$?; rm -rf saved; cp -a out saved; exit $s; }"
        if not shutil.which("unshare") or subprocess.run(["unshare", "-rm", "true"], stderr=subprocess.DEVNULL).returncode:
            self.skipTest("no file system can be mounted here")
        for name in self.commands():
            sound = self.bench.soundly(name)
            sizes = [len(sound.files[file]) for file in self.bench.written(name) if file.startswith("out/")]
            for share in (0.2, 0.5, 0.8) if sizes else ():
                with self.subTest(command=name, share=share):
                    size = max(4, int(share * sum(sizes) / 1024))
                    outcome = self.bench.run(["-c", mount % (size, '"$0" "$@"'), str(given.program), *COMMANDS[name]],
                                             ["unshare", "-rm", "sh"], program=False)
                    self.trials["full file system"] += 1
                    files = {re.sub("^saved/", "out/", file): content for file, content in outcome.files.items()}
                    self.check(name, outcome._replace(files=files), {}, f"{size} kB")

    # The end at any moment

    def test_killed(self):
        """The old file or the new one, each whole; the next run removes what is half done."""
        for name in self.commands():
            sound = self.bench.soundly(name)
            old = self.bench.old_files(name)
            begun = time.monotonic()
            self.bench.run(COMMANDS[name], old=old)
            duration = time.monotonic() - begun
            draw = random.Random(f"{given.seed} {name}")
            for _ in range(given.each if name not in SLOW else (given.each + 7) // 8):
                after = draw.uniform(0.02, 1.05) * duration
                with self.subTest(command=name, after=after):
                    outcome = self.bench.run(COMMANDS[name], old=old, killed_after=after)
                    self.trials["killed"] += 1
                    self.check(name, outcome, old, f"killed after {after:.2f} s")
                    if not any(".weftwise-" in file for file in outcome.files):
                        continue
                    self.trials["killed with something half done"] += 1
                    again = self.bench.run(COMMANDS[name], old={f: c for f, c in outcome.files.items() if f not in self.bench.inputs})
                    self.assertEqual((DONE, set(sound.files)), (again.status, set(again.files)))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *rest])
