#!/bin/sh
# header_alone.sh ROOT HEADER COMPILER LANGUAGE STANDARD - the public header compiles with nothing before it,
# twice, and without warnings.
#
# SPDX-License-Identifier: GPL-3.0-or-later
printf '#include "weftwise/%s"\n#include "weftwise/%s"\n' "$2" "$2" |
    "$3" -x "$4" "-std=$5" -Wall -Wextra -Wpedantic -Werror -fsyntax-only -I "$1/include" -
