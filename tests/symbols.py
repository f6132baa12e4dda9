#!/usr/bin/python3
"""Fail on a global symbol of the library without the prefix ww_: it could meet a name of the host program.

usage: symbols.py NM STATIC_LIBRARY SHARED_LIBRARY
       symbols.py --self-test    check that this script can fail

Names that the language reserves for compilers (two underscores, or a dot, which no C name has) and those of the linker
are not ours; the name of a critical section is, behind what GCC puts before it.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import re
import subprocess
import sys

PREFIX = "ww_"
LINKER = {"_init", "_fini", "_edata", "_end", "__bss_start"}
CRITICAL = re.compile(r"^\.gomp_critical_user_")


def foreign(listing):
    """Names without the prefix, of the lines "VALUE TYPE NAME" that nm prints; other lines name the members."""
    names = []
    for line in listing.splitlines():
        fields = line.split()
        if len(fields) != 3:
            continue
        name = CRITICAL.sub("", fields[2])
        if not name.startswith((PREFIX, "__", ".")) and name not in LINKER:
            names.append(fields[2])
    return names


def symbols(nm, option, library):
    listing = subprocess.run([nm, option, "--defined-only", library], check=True, stdout=subprocess.PIPE,
                             encoding="utf-8").stdout
    if " ww_version" not in listing:
        sys.exit(f"{library}: nm shows no ww_version, so nothing was checked")
    return listing


def self_test():
    listing = ("\nkeys.c.o:\n0000000000000570 T keys_read\n0000000000000080 D ww_study_row\n0000000000000080 D row\n"
               "0000000000000008 C .gomp_critical_user_ww_x\n0000000000000008 C .gomp_critical_user_y\n"
               "0000000000000001 R __odr_asan.ww_x\n0000000000000000 T _init\n0000000000000000 T _own\n")
    if foreign(listing) != ["keys_read", "row", ".gomp_critical_user_y", "_own"]:
        sys.exit(f"judged wrongly: {foreign(listing)}")
    print("the script can fail")


def main():
    if sys.argv[1:] == ["--self-test"]:
        self_test()
        return
    if len(sys.argv) != 4:
        sys.exit("usage: symbols.py NM STATIC_LIBRARY SHARED_LIBRARY | --self-test")
    nm, static, shared = sys.argv[1:]
    complaints = [f"{library}: the global symbol {name} lacks the prefix {PREFIX}"
                  for option, library in (("--extern-only", static), ("--dynamic", shared))
                  for name in foreign(symbols(nm, option, library))]
    print("\n".join(complaints) if complaints else "every global symbol has the prefix")
    sys.exit(1 if complaints else 0)


main()
