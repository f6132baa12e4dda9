#!/usr/bin/python3
"""Fail on an #include that runs back up the house.

SPDX-License-Identifier: GPL-3.0-or-later

A stage includes only stages above it in STAGES; result and figure do not know each other; cli sees the
public headers only; each public header meets only those of stages above its own; fftw3.h, ini.h, png.h and
cairo's headers are each met in one place. Within the stages of ACYCLIC, files use each other's functions and tables one
way only: none leads back to itself.

    layering.py ROOT        check the tree
    layering.py --self-test check that this script can fail
"""
import re
import sys
from pathlib import Path

STAGES = ["core", "fabric", "laminate", "line", "scan", "correct", "chance", "patch", "study", "sweep", "verify", "budget", "frequency",
          "picture", "figure", "result", "report", "cli"]
STRANGERS = {("result", "figure"), ("figure", "result")}
ACYCLIC = ["report", "cli"]
DOORWAY = {  # library header -> the only folders or files under src/ that may include it
    "fftw3.h": ["core/transform.c"],
    "ini.h": ["core/settings.c"],
    "png.h": ["core/png.c", "core/png_read.c"],
    "zlib.h": ["figure/carried.c"],
    "jpeglib.h": ["core/jpeg_read.c"],
    "cairo": ["figure/"],
    "jansson.h": ["result/"],
}
INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]', re.M)


def owner(name, own_stage, is_header):
    """(stage, is public) of an included file of ours; None for a library's."""
    parts = name.split("/")
    if parts[0] == "weftwise":
        return Path(parts[-1]).stem, True
    if len(parts) == 2 and parts[0] in STAGES:
        return parts[0], False
    if len(parts) == 1 and not is_header:
        return own_stage, False
    return None


def check_file(path, stage, text, public=False):
    """Complaints about one file; path is relative to the root, stage the room it stands in."""
    complaints = []
    for match in INCLUDE.finditer(text):
        quote, name = match.groups()
        line = text.count("\n", 0, match.start()) + 1
        where = f"{path}:{line}"
        for library, places in DOORWAY.items():
            met = quote == "<" and (name == library or name.startswith(library + "/") or name.startswith(library + "-")
                                    or name == library + ".h")
            if met and not any(str(path).startswith("src/" + place) for place in places):
                complaints.append(f"{where}: {name} is met in {', '.join(places)} only")
        if quote == "<" and not name.startswith("weftwise/"):
            continue
        found = owner(name, stage, public)
        if found is None or found[0] not in STAGES:
            complaints.append(f"{where}: \"{name}\" belongs to no stage")
            continue
        other, is_public = found
        if STAGES.index(other) > STAGES.index(stage):
            complaints.append(f"{where}: {stage} includes {other}, which stands below it")
        if (stage, other) in STRANGERS:
            complaints.append(f"{where}: {stage} and {other} do not know each other")
        if stage == "cli" and other != "cli" and not is_public:
            complaints.append(f"{where}: cli includes the internal header {name}; public headers only")
        if public and not is_public:
            complaints.append(f"{where}: a public header includes the internal header {name}")
    return complaints


GLOBAL = re.compile(r"^(?!static\b|typedef\b|extern\b|#|[ \t}{/*])[\w *]*?\b(\w+)(?:\(|(?:\[\])? = )", re.M)
STATIC = re.compile(r"^static\b[^;=({]*?\b(\w+)(?:[(;\[]| =)", re.M)
NO_CODE = re.compile(r'/\*.*?\*/|"(?:\\.|[^"\\])*"', re.S)


def find_circle(sources):
    """A chain of .c files, each of which uses a global of the next, that ends where it began; None if there is none."""
    code = {name: NO_CODE.sub(" ", text) for name, text in sources.items()}
    owner_of = {found: name for name, text in code.items() for found in GLOBAL.findall(text)}
    uses = {name: {owner_of[word] for word in set(re.findall(r"\w+", text)) - set(STATIC.findall(text))
                   if owner_of.get(word, name) != name} for name, text in code.items()}
    cleared = set()

    def follow(name, chain):
        if name in chain:
            return chain[chain.index(name):] + [name]
        if name in cleared:
            return None
        for other in sorted(uses[name]):
            circle = follow(other, chain + [name])
            if circle:
                return circle
        cleared.add(name)
        return None

    return next(filter(None, (follow(name, []) for name in sorted(code))), None)


def check_tree(root):
    complaints = []
    files = 0
    for path in sorted((root / "src").rglob("*.[ch]")):
        relative = path.relative_to(root)
        stage = relative.parts[1]
        files += 1
        if stage not in STAGES:
            complaints.append(f"{relative}: src/{stage} is no stage of the house")
            continue
        complaints += check_file(relative, stage, path.read_text(encoding="utf-8"))
    for path in sorted((root / "include" / "weftwise").glob("*.h")):
        relative = path.relative_to(root)
        files += 1
        if path.stem not in STAGES:
            complaints.append(f"{relative}: there is no stage of that name")
            continue
        complaints += check_file(relative, path.stem, path.read_text(encoding="utf-8"), public=True)
    for stage in ACYCLIC:
        circle = find_circle({path.name: path.read_text(encoding="utf-8")
                              for path in (root / "src" / stage).glob("*.c")})
        if circle:
            complaints.append(f"src/{stage}: a circle of files: {' uses '.join(circle)}")
    if files == 0:
        complaints.append(f"{root}: no source files found")
    return complaints


def self_test():
    bad = [
        ("src/core/a.c", "core", '#include "weftwise/line.h"', False),
        ("src/core/a.c", "core", '#include <weftwise/line.h>', False),
        ("src/line/a.c", "line", '#include "scan/slowness.h"', False),
        ("src/result/a.c", "result", '#include "weftwise/figure.h"', False),
        ("src/figure/a.c", "figure", '#include "result/json.h"', False),
        ("src/cli/a.c", "cli", '#include "core/transform.h"', False),
        ("src/line/a.c", "line", "#include <fftw3.h>", False),
        ("src/study/a.c", "study", "#  include <ini.h>", False),
        ("src/result/a.c", "result", "#include <cairo/cairo.h>", False),
        ("src/result/a.c", "result", "#include <cairo.h>", False),
        ("src/figure/a.c", "figure", "#include <png.h>", False),
        ("src/core/a.c", "core", '#include "utils/common.h"', False),
        ("include/weftwise/fabric.h", "fabric", '#include "weftwise/line.h"', True),
        ("include/weftwise/fabric.h", "fabric", '#include "fabric/style.h"', True),
    ]
    good = [
        ("src/core/transform.c", "core", '#include "core/transform.h"\n#include <fftw3.h>', False),
        ("src/line/a.c", "line", '#include "weftwise/core.h"\n#include "core/transform.h"\n#include "mesh.h"', False),
        ("src/cli/a.c", "cli", '#include "weftwise/result.h"\n#include "cli/command.h"', False),
        ("src/figure/canvas.c", "figure", "#include <cairo/cairo.h>\n#include <cairo-svg.h>", False),
        ("include/weftwise/line.h", "line", '#include "weftwise/core.h"', True),
    ]
    one_way = {"a.c": "void a(void)\n{\n    b(); /* c(), \"c\" */\n}\n", "b.c": "int b(void)\n{\n    return c[0];\n}\n",
               "c.c": "static int a;\nconst int c[] = {1};\n"}
    circle = dict(one_way, **{"c.c": "const int c[] = {1};\nstatic void own(void)\n{\n    a();\n}\n"})
    wrong = [f"not refused: {c[0]}: {c[2]}" for c in bad if not check_file(*c)]
    wrong += ["not refused: a circle of files"] if find_circle(circle) != ["a.c", "b.c", "c.c", "a.c"] else []
    wrong += [f"refused: {find_circle(one_way)}"] if find_circle(one_way) else []
    wrong += [complaint for c in good for complaint in check_file(*c)]
    return wrong


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: layering.py ROOT | --self-test")
    complaints = self_test() if sys.argv[1] == "--self-test" else check_tree(Path(sys.argv[1]))
    print("\n".join(complaints) if complaints else "all arrows run down")
    sys.exit(1 if complaints else 0)


if __name__ == "__main__":
    main()
