"""The fuzzers, for a minute or for days: each target in turn, some side by side, and the count of what they did.

usage: hours.py BUILD_FOLDER [--seconds S] [--rounds N] [--at-once N] [--seed K] [--only TARGET...]

BUILD_FOLDER was set up with clang and -Dfuzzer=true. Every target runs S seconds (60) in each of N rounds (1; 0: until it is
stopped), with random numbers of its own or those of seed K, starting from tests/fuzz/corpus and from what earlier rounds found,
which is kept in BUILD_FOLDER/fuzz/. A line for each run is added to BUILD_FOLDER/fuzz/hours.csv, and their sum is printed.
Exits with 1 where a target broke; the input that broke it is in BUILD_FOLDER/fuzz/broken/: mend the fault, and keep the input
in the corpus.

SPDX-License-Identifier: GPL-3.0-or-later
"""

import argparse
import collections
import concurrent.futures
import csv
import os
import pathlib
import re
import subprocess
import sys
import time

HERE = pathlib.Path(__file__).resolve().parent
LIMITS = ["-rss_limit_mb=3000", "-timeout=600", "-close_fd_mask=1", "-print_final_stats=1", "-verbosity=1", "-reload=0"]
LARGEST = {"number": 200, "layer": 2000, "route": 2000, "set": 1000}
KEYS = ("when", "target", "cpu_seconds", "inputs", "edges", "status")


def run(build, target, seconds, seed):
    """One run; its line of the table."""
    kept, broken, log = build / "fuzz/corpus" / target, build / "fuzz/broken", build / f"fuzz/{target}.log"
    for folder in (kept, broken):
        folder.mkdir(parents=True, exist_ok=True)
    surroundings = dict(os.environ, LSAN_OPTIONS=f"suppressions={HERE.parent}/support/leaks.supp:print_suppressions=0",
                        UBSAN_OPTIONS="print_stacktrace=1", ASAN_OPTIONS="allocator_may_return_null=1")
    with log.open("wb") as out:
        child = subprocess.Popen([build / f"tests/fuzz/fuzz-{target}", *LIMITS, f"-max_total_time={seconds}", f"-seed={seed}", f"-artifact_prefix={broken}/{target}-",
                                  f"-max_len={LARGEST.get(target, 16000)}", f"-dict={HERE}/words.dict", kept, HERE / "corpus" / target],
                                 stdout=out, stderr=subprocess.STDOUT, env=surroundings, preexec_fn=lambda: os.nice(19))
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    text = log.read_text(errors="replace")
    inputs = re.findall(r"(?m)^(?:stat::number_of_executed_units: |#)(\d+)", text)
    edges = re.findall(r" cov: (\d+)", text)
    return {"when": time.strftime("%Y-%m-%d %H:%M:%S"), "target": target, "cpu_seconds": f"{used.ru_utime + used.ru_stime:.1f}",
            "inputs": inputs[-1] if inputs else 0, "edges": edges[-1] if edges else 0, "status": child.returncode}


def keep(build, line):
    table = build / "fuzz/hours.csv"
    new = not table.exists()
    with table.open("a", newline="") as out:
        writer = csv.DictWriter(out, KEYS)
        if new:
            writer.writeheader()
        writer.writerow(line)
    print(f"fuzz {line['target']}: {line['inputs']} inputs in {line['cpu_seconds']} s of CPU, " +
          ("held" if line["status"] == 0 else f"BROKEN, see {build}/fuzz/{line['target']}.log and broken/"), flush=True)


def tell(build):
    """What all runs did together."""
    sums = collections.defaultdict(lambda: [0.0, 0, 0, 0])
    with (build / "fuzz/hours.csv").open() as table:
        for line in csv.DictReader(table):
            row = sums[line["target"]]
            row[0] += float(line["cpu_seconds"]) / 3600
            row[1] += int(line["inputs"])
            row[2] = max(row[2], int(line["edges"]))
            row[3] += line["status"] != "0"
    print("target      CPU hours      inputs   edges  broken")
    for target, (hours, inputs, edges, broken) in sums.items():
        print(f"{target:10} {hours:10.2f} {inputs:11} {edges:7} {broken:7}")
    print(f"{'all':10} {sum(row[0] for row in sums.values()):10.2f}")


def main():
    options = argparse.ArgumentParser()
    options.add_argument("build", type=pathlib.Path)
    options.add_argument("--seconds", type=int, default=60)
    options.add_argument("--rounds", type=int, default=1)
    options.add_argument("--at-once", type=int, default=1)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--only", nargs="+")
    given = options.parse_args()
    build = given.build.resolve()
    targets = given.only or sorted(path.name for path in (HERE / "corpus").iterdir())
    (build / "fuzz").mkdir(exist_ok=True)
    broken, rounds = False, 0
    while given.rounds == 0 or rounds < given.rounds:
        rounds += 1
        with concurrent.futures.ThreadPoolExecutor(given.at_once) as pool:
            for line in pool.map(lambda target: run(build, target, given.seconds, given.seed), targets):
                keep(build, line)
                broken = broken or line["status"] != 0
    tell(build)
    return int(broken)


if __name__ == "__main__":
    sys.exit(main())
