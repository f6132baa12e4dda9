#!/usr/bin/python3
"""The man page and --help speak of the same commands, options and study keys.

SPDX-License-Identifier: GPL-3.0-or-later

    manual.py PROGRAM MANPAGE
"""
import re
import subprocess
import sys
from pathlib import Path


def help_of(program, *command):
    return subprocess.run([program, *command, "--help"], check=True, capture_output=True, text=True).stdout


def plain(roff):
    text = re.sub(r"\\f[A-Z]", "", roff.replace("\\-", "-"))
    return re.sub(r'^\.(?:BR|IR|RI|RB|B|I|TP|SS|SH) ?', "", text, flags=re.M).replace('"', "").replace("  ", " ")


def main():
    program, page = sys.argv[1:]
    manual = plain(Path(page).read_text(encoding="utf-8"))
    overview = help_of(program)
    commands = re.findall(r"^  ([a-z]+) ", overview.split("commands:")[1].split("options:")[0], re.M)
    told = {option for name in commands for option in re.findall(r"(--[a-z]+(?:-[a-z]+)*)", help_of(program, name))}
    told |= set(re.findall(r"(--[a-z]+(?:-[a-z]+)*)", overview))
    written = set(re.findall(r"(--[a-z]+(?:-[a-z]+)*)", manual))
    wrong = [f"the man page lacks the command {name}" for name in commands
             if not re.search(rf"^weftwise {name}\b", manual, re.M)]
    wrong += [f"the man page lacks {option}" for option in sorted(told - written)]
    wrong += [f"--help lacks {option}" for option in sorted(written - told)]

    study = help_of(program, "skew").split("A study is")[1].split("Styles, glasses")[0]
    keys = re.findall(r"^  \[(\w+)\]|^    ([\w.]+) = ", study, re.M)
    section = ""
    part = ""
    for header, key in keys:
        if header:
            section = header
            part = manual.split(f"\n[{section}]\n")[-1] if f"\n[{section}]\n" in manual else ""
            if not part:
                wrong.append(f"the man page lacks the section [{section}]")
        elif not re.search(rf"^{re.escape(key)}$", part, re.M):
            wrong.append(f"the man page lacks the key {key} of [{section}]")
    for form in re.findall(r"^    layer = (\w+)", study, re.M):
        if not re.search(rf"^{form}\b", manual, re.M):
            wrong.append(f"the man page lacks the layer {form}")
    if len(commands) < 4 or len(told) < 5 or len(keys) < 10:
        wrong.append(f"--help was not understood: {len(commands)} commands, {len(told)} options, {len(keys)} keys")
    print("\n".join(wrong) if wrong else f"{len(commands)} commands, {len(told)} options, {len(keys)} keys agree")
    sys.exit(1 if wrong else 0)


main()
