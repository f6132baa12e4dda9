#!/bin/sh
# setup_alone.sh ROOT - .ci/setup by a user who may not install, on a machine without the packages and without sudo: one
# line says what root has to install, and nothing else is tried. Such a machine is a PATH of three stand-ins.
set -eu
root=$1
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT

mkdir "$made/bin"
printf '#!/bin/sh\nexit 1\n' >"$made/bin/dpkg"
printf '#!/bin/sh\necho 1000\n' >"$made/bin/id"
printf '#!/bin/sh\necho "$0 was called" >&2\n' >"$made/bin/apt-get"
chmod +x "$made/bin"/*
for program in dirname grep; do
    ln -s "$(command -v "$program")" "$made/bin/$program"
done
shell=$(command -v sh)

status=0
PATH=$made/bin "$shell" "$root/.ci/setup" >"$made/out" 2>"$made/err" || status=$?
cat "$made/err"
[ "$status" -eq 1 ]
[ ! -s "$made/out" ]
[ "$(wc -l <"$made/err")" -eq 1 ]
grep -q 'As root: apt-get install gcc .*libfftw3-dev' "$made/err"
