#!/bin/sh
# installed.sh BUILD PREFIX COMPILER - what meson installs is enough: the headers and the pkg-config file build a
# program against the shared library, only ww_ names leave it, the program finds its weaves, the man page is there.
#
# SPDX-License-Identifier: GPL-3.0-or-later
set -eu
build=$1 prefix=$2 compiler=$3
stage=$(mktemp -d)
trap 'rm -r "$stage"' EXIT
DESTDIR=$stage meson install -C "$build" --no-rebuild --quiet >"$stage/log" 2>&1 || { cat "$stage/log"; exit 1; }

folder() { # the installed folder that holds a file of this name
    dirname "$(find "$stage$prefix" -name "$1" | head -1 | grep .)"
}
libraries=$(folder libweftwise.so)
pkgconfig=$(folder weftwise.pc)
test -f "$(folder libweftwise.a)/libweftwise.a"
test -f "$(folder weftwise.1)/weftwise.1"
test -f "$stage$prefix/share/bash-completion/completions/weftwise"

cat >"$stage/user.c" <<'END'
#include <stdio.h>
#include <weftwise/core.h>
#include <weftwise/study.h>

int main(void)
{
    double length = 0;
    struct ww_error error = {0};
    if (ww_number_parse("100 um", WW_LENGTH, &length, &error) != WW_OK || ww_study_key(0) == NULL)
        return 1;
    if (!ww_version_matches(WW_VERSION_MAJOR, WW_VERSION_MINOR))
        return 2;
    printf("%s\n", ww_version());
    return 0;
}
END
flags=$(PKG_CONFIG_PATH="$pkgconfig" PKG_CONFIG_SYSROOT_DIR="$stage" pkg-config --cflags --libs weftwise)
# shellcheck disable=SC2086 # a list of words on purpose
"$compiler" ${SANITIZE-} -o "$stage/user" "$stage/user.c" $flags
version=$(LD_LIBRARY_PATH=$libraries "$stage/user")
test "$version" = "$(PKG_CONFIG_PATH="$pkgconfig" pkg-config --modversion weftwise)"

strangers=$(nm -D --defined-only "$libraries/libweftwise.so" | awk '{print $3}' | grep -v '^ww_\|^\.gomp_' || true)
if [ -n "$strangers" ]; then
    echo "names that leave the library without ww_: $strangers"
    exit 1
fi

nm -D --defined-only "$libraries/libweftwise.so" | awk '{print $3}' >"$stage/exported"
for name in $(cat "$stage$prefix"/include/weftwise/*.h | sed -n 's/^WW_API.*[ *]\(ww_[a-z0-9_]*\)(.*/\1/p'); do
    grep -qx "$name" "$stage/exported" || { echo "$name is declared and not exported"; exit 1; }
done

"$stage$prefix/bin/weftwise" styles --weaves "$(folder materials.ini)" | grep -q 1080
# a moved installation finds its own weaves: they are marked, so that no others are taken for them
mkdir "$stage/moved"
mv "$stage$prefix" "$stage/moved/here"
mark=$(find "$stage/moved/here" -name 1080.ini)
mv "$mark" "$(dirname "$mark")/1080-moved.ini"
sed -i 's/^\[style 1080\]/[style 1080-moved]/' "$(dirname "$mark")/1080-moved.ini"
"$stage/moved/here/bin/weftwise" styles | grep -q 1080-moved
echo "installed, used, version $version"
