#!/usr/bin/python3
"""Fail unless all internal headers, those under src/, can be included in one file.

SPDX-License-Identifier: GPL-3.0-or-later

In the order of the stages (layering.py), backwards, and each twice: no two define the same name, none waits for what
another includes before it.

    headers_together.py ROOT COMPILER [FLAG...]          check the tree
    headers_together.py --self-test COMPILER [FLAG...]   check that this script can fail
"""
import subprocess
import sys
import tempfile
from pathlib import Path

from layering import STAGES


def headers_of(root):
    """Paths from src/ on, by stage, then by name."""
    source = root / "src"
    found = [path.relative_to(source).as_posix() for path in source.glob("*/*.h")]
    return sorted(found, key=lambda name: (STAGES.index(name.split("/")[0]), name))


def complaint(root, compiler, names):
    """What the compiler says of a file that includes these headers; empty if nothing."""
    text = "".join(f'#include "{name}"\n' for name in names)
    command = [*compiler, "-x", "c", "-std=c11", "-Wall", "-Wextra", "-Werror", "-fsyntax-only",
               "-I", str(root / "include"), "-I", str(root / "src"), "-"]
    run = subprocess.run(command, input=text, capture_output=True, text=True)
    return (run.stderr or "the compiler failed\n") if run.returncode else ""


def check(root, compiler):
    names = headers_of(root)
    orders = {"in order": names, "backwards": names[::-1], "twice": names + names}
    found = [f"{name}: {said}" for name, order in orders.items() if (said := complaint(root, compiler, order))]
    if not names:
        found.append("there are no headers under src/\n")
    return len(names), found


def self_test(compiler):
    """Two headers that define one struct, one that waits for another, and one without a guard are found."""
    cases = {
        "one name twice": {"core/a.h": "struct ww_a { int a; };", "line/b.h": "struct ww_a { int b; };"},
        "waits for another": {"core/a.h": "#ifndef A\n#define A\ntypedef int a;\n#endif", "line/b.h": "a b(void);"},
        "no guard": {"core/a.h": "enum { A };"},
    }
    good = {"core/a.h": "#ifndef A\n#define A\nenum { A_ONE };\n#endif", "line/b.h": "int b(void);"}
    for name, files in {**cases, "good": good}.items():
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            for path, text in files.items():
                (root / "src" / path).parent.mkdir(parents=True, exist_ok=True)
                (root / "src" / path).write_text(text + "\n")
            if bool(check(root, compiler)[1]) == (name == "good"):
                sys.exit(f"{name}: judged wrongly")


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    if sys.argv[1] == "--self-test":
        self_test(sys.argv[2:])
        return
    count, found = check(Path(sys.argv[1]), sys.argv[2:])
    if found:
        sys.exit("".join(found))
    print(f"{count} headers")


main()
