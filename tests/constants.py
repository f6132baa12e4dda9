#!/usr/bin/python3
"""Hold the page of constants in DEVELOPERS.md against the code.

SPDX-License-Identifier: GPL-3.0-or-later

Each row names constants and the files they stand in, and says their values. Each name must be in its file, and where the
code gives it as a number, that number must be in the row's second column, in whatever unit.

    constants.py ROOT        check the tree
    constants.py --self-test check that this script can fail
"""
import math
import re
import sys
from pathlib import Path

PAGE = ("## Constants of the physics", "## How to add")
NAME_OR_FILE = re.compile(r"`([\w.]+)`|\b([a-z_]+\.[ch])\b")
DEFINED = [
    re.compile(r"^[ \t]*#define (\w+) +([^\n]+)", re.M),
    re.compile(r"\bconst (?:double|int|size_t) (\w+) = ([^;]+);"),
    re.compile(r"[{,]\s*(\w+) = ([^,}]+)(?=[,}])"),
]
NUMBER = re.compile(r"(?<![\w.])(\d+\.?\d*(?:e[-+]?\d+)?)(?:/(\d+))?")
WORDS = {"half": 0.5, "third": 1 / 3, "quarter": 0.25, "tenth": 0.1, "one": 1, "two": 2, "twice": 2, "three": 3, "four": 4, "five": 5,
         "six": 6, "eight": 8, "ten": 10}
UNITS = [1, 1e-2, 1e-3, 1e-6, 1e-9, 1e-12, 1e3, 1e6, 1e9, 1e12, math.pi / 180]


def number_of(text):
    """The value of a constant expression of numbers; None where it is anything else."""
    text = text.split("/*")[0].replace("WW_PI", "math.pi").strip()
    if re.search(r"[A-Za-z_]", re.sub(r"math\.pi|\d[eE]", "", text)):
        return None
    try:
        return float(eval(text, {"__builtins__": {}, "math": math}))  # our own sources
    except (SyntaxError, TypeError, NameError, ZeroDivisionError):
        return None


def definitions(text):
    found = {}
    for pattern in DEFINED:
        for name, value in pattern.findall(text):
            found.setdefault(name, number_of(value))
    return found


def is_told(value, cell):
    said = [float(a) / float(b or 1) for a, b in NUMBER.findall(cell)]
    said += [WORDS[word] for word in re.findall(r"[a-z]+", cell.lower()) if word in WORDS]
    said += [float(a) + float(b) / float(c) for a, b, c in re.findall(r"(\d+) (\d+)/(\d+)", cell)]
    return any(math.isclose(abs(value), s * unit, rel_tol=1e-6, abs_tol=0) for s in said for unit in UNITS)


def check_row(row, files):
    cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", row)[1:-1]]
    if len(cells) < 2:
        return []
    complaints, waiting = [], []
    for match in NAME_OR_FILE.finditer(cells[0]):
        name, file = match.groups()
        if name and cells[0][:match.start()].endswith(" of "):  # members of a table, which is what is looked for
            waiting = []
        if name:
            waiting.append(name)
            continue
        texts = files.get(file)
        if not texts:
            complaints.append(f"{file} of {', '.join(waiting)} is not there")
        for one in waiting if texts else []:
            word = one.join(["" if one[0] == "_" else r"\b", "" if one[-1] == "_" else r"\b"])  # of COMMON_, _MOST a part is enough
            if not any(re.search(word, text) for text in texts):
                complaints.append(f"{one} is not in {file}")
                continue
            values = [d[one] for d in map(definitions, texts) if d.get(one) is not None]
            if values and not any(is_told(value, cells[1]) for value in values):
                complaints.append(f"{one} of {file} is {values[0]:g}, and the page says '{cells[1]}'")
        waiting = []
    return complaints


def check(page, files):
    return [complaint for row in page.splitlines() if row.startswith("|") for complaint in check_row(row, files)]


def self_test():
    files = {"a.c": ["#define SHARE 0.25 /* of all */\nenum { COUNT = 12 };\n"]}
    assert not check("| `SHARE`, `COUNT`, a.c | a quarter of 12 |", files)
    assert not check("| `SHARE`, a.c | 25 % |", files)
    assert check("| `SHARE`, a.c | a third |", files)
    assert check("| `COUNT`, a.c | 25 % of 13 |", files)
    assert check("| `GONE`, a.c | 12 |", files)
    assert check("| `COUNT`, b.c | 12 |", files)


def main():
    if sys.argv[1:] == ["--self-test"]:
        self_test()
        return 0
    root = Path(sys.argv[1])
    files = {}
    for path in sorted([*root.glob("src/**/*.[ch]"), *root.glob("include/**/*.h")]):
        files.setdefault(path.name, []).append(path.read_text(encoding="utf-8"))
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    page = text[text.index(PAGE[0]):text.index(PAGE[1])]
    complaints = check(page, files)
    for complaint in complaints:
        print(complaint)
    print(f"{sum(row.startswith('|') for row in page.splitlines())} rows")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())
