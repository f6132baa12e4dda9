/* folder.c - where the weaves are: asked for, set in the environment, beside the program, or installed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A weaves folder is one that holds materials.ini. A program run from its build folder finds the weaves of its own
 * source tree, because every folder above it is tried. WW_WEAVES_BESIDE is the way from the folder of the installed program
 * to its weaves, as "/../share/weftwise/weaves".
 */
#include "weftwise/study.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_SIZE = 4096 };

static bool is_weaves(const char *folder)
{
    char path[PATH_SIZE];
    struct stat found;
    int length = snprintf(path, sizeof path, "%s/materials.ini", folder);
    return length > 0 && (size_t)length < sizeof path && stat(path, &found) == 0 && S_ISREG(found.st_mode);
}

static enum ww_status take(const char *folder, char *out, size_t size, struct ww_error *error)
{
    int length = snprintf(out, size, "%s", folder);
    if (length >= 0 && (size_t)length < size)
        return WW_OK;
    out[0] = '\0';
    return ww_error_set(error, WW_IO, NULL, 0, "the path of the weaves folder is longer than %zu bytes", size);
}

/* FOLDER/weaves for the program's folder and all above it; installed, the folder of data beside the program's. So an
 * installation may be moved as a whole. */
static bool find_by_program(char path[PATH_SIZE])
{
    char program[PATH_SIZE];
    ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
    if (length <= 0)
        return false;
    program[length] = '\0';
    char *name = strrchr(program, '/');
    if (name) {
        int wrote = snprintf(path, PATH_SIZE, "%.*s" WW_WEAVES_BESIDE, (int)(name - program), program);
        if (wrote > 0 && wrote < PATH_SIZE && is_weaves(path))
            return true;
    }
    for (char *slash = strrchr(program, '/'); slash; slash = strrchr(program, '/')) {
        *slash = '\0';
        int wrote = snprintf(path, PATH_SIZE, "%s/weaves", program);
        if (wrote > 0 && wrote < PATH_SIZE && is_weaves(path))
            return true;
    }
    return false;
}

enum ww_status ww_study_find_weaves(const char *given, char *folder, size_t size, struct ww_error *error)
{
    char path[PATH_SIZE];
    const char *environment = getenv("WEFTWISE_WEAVES");
    const char *asked = given ? given : environment && environment[0] ? environment : NULL;
    folder[0] = '\0';
    if (asked && !is_weaves(asked))
        return ww_error_set(error, WW_IO, NULL, 0,
                            "'%s' (from %s) is not a folder of weaves: it has no materials.ini; give the folder that "
                            "holds materials.ini and styles/",
                            asked, given ? "--weaves" : "WEFTWISE_WEAVES");
    if (asked)
        return take(asked, folder, size, error);
    if (find_by_program(path))
        return take(path, folder, size, error);
    if (is_weaves(WW_WEAVES_INSTALLED))
        return take(WW_WEAVES_INSTALLED, folder, size, error);
    return ww_error_set(error, WW_IO, NULL, 0,
                        "no folder of weaves beside the program or in %s; name it with --weaves DIR or "
                        "WEFTWISE_WEAVES",
                        WW_WEAVES_INSTALLED);
}
