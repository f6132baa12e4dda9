/* files.c - which files each command owns in an output folder.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Commands share a folder. So that it never shows two runs of one command at once, a command removes its own files before it
 * writes new ones; those of other commands, and people's own, stay. A command writes no file that is not listed here: job_kept
 * refuses it.
 */
#include "files.h"

#include <ctype.h>
#include <dirent.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* In a name # stands for a number, and .* for the ending of a figure. The report owns whatever lies in its own folder. */
static const struct {
    const char *by, *names;
} owner[] = {
    {"map skew", "dk-ply#.* dk-ply#.npy dk-ply#-data.png"},
    {"skew",
     "skew.json skew-ply#.* skew-ply#.npy skew-ply#-data.png profile.* distribution.* spacing.* lanes.* arms.*"},
    {"verify", "verify.json section.* along.* along-ply#.*"},
    {"angles",
     "angles.json angles.* angles.csv conversion.* lengths.* lengths.npy lengths-angle.csv lengths-length.csv"},
    {"compare", "compare.json compare.* compare.csv compare-angles.* compare-angles.csv compare-dk.*"},
    {"pitch", "pitch.json pitch.* pitch.npy pitch.csv null.* null.csv"},
    {"map", "via-ply#.* via-ply#.npy via-ply#-data.png"},
    {"budget", "budget.json budget.* budget.csv budget-distribution.* budget-temperature.*"},
    {"measure", "measure.json style.ini paths.ini yarns.* spectrum.*"},
    {"cloth", "cloth.json cloth.* cloth.csv cloth-ply#.* cloth-panel.* cloth-lanes.* cloth-place.*"},
    {"frequency",
     "frequency.json frequency.* frequency.csv phase.* line.s2p line.s4p line-#.s2p line-#.s4p notch.* notch.npy "
     "notch-angle.csv notch-frequency.csv"},
    {"report", "report.json report.html"},
};

/* A character of the pattern against the name; both move on. */
static bool take(const char **pattern, size_t *left, const char **name)
{
    if (**pattern == '#') {
        const char *end = *name;
        while (isdigit((unsigned char)*end))
            end++;
        if (end == *name)
            return false;
        *name = end;
    } else if (**pattern != *(*name)++) {
        return false;
    }
    ++*pattern;
    --*left;
    return true;
}

static bool is_figure(const char *ending)
{
    return strcmp(ending, "png") == 0 || strcmp(ending, "svg") == 0 || strcmp(ending, "pdf") == 0;
}

static bool matches(const char *pattern, size_t length, const char *name)
{
    while (length > 0 && *pattern != '*')
        if (!take(&pattern, &length, &name))
            return false;
    return length > 0 ? is_figure(name) : *name == '\0';
}

/* Does one of the words match? */
static bool any(const char *words, const char *name, bool (*match)(const char *word, size_t length, const char *name))
{
    while (*words) {
        size_t length = strcspn(words, " ");
        if (match(words, length, name))
            return true;
        words += length;
        words += strspn(words, " ");
    }
    return false;
}

bool files_owned(const char *by, const char *name)
{
    bool all = strcmp(by, "report") == 0;
    for (size_t i = 0; i < sizeof owner / sizeof *owner; i++)
        if ((all || any(owner[i].by, by, matches)) && any(owner[i].names, name, matches))
            return true;
    return false;
}

void files_remove(const char *by, const char *folder)
{
    const mode_t others = 077;
    DIR *listing = opendir(folder);
    mode_t closed = 0;
    struct stat there;
    if (!listing)
        return;
    for (const struct dirent *entry = readdir(listing); entry; entry = readdir(listing)) {
        if (!files_owned(by, entry->d_name) ||
            fstatat(dirfd(listing), entry->d_name, &there, AT_SYMLINK_NOFOLLOW) != 0 ||
            !(S_ISREG(there.st_mode) || S_ISLNK(there.st_mode))) /* a folder or a pipe of that name stays */
            continue;
        if (S_ISREG(there.st_mode))
            closed |= (mode_t)~there.st_mode & others;
        (void)unlinkat(dirfd(listing), entry->d_name, 0);
    }
    closedir(listing);
    (void)umask(umask(others) | closed);
}

enum ww_status files_check(const char *folder, struct ww_error *error)
{
    static const char trial[] = "/weftwise-trial";
    struct ww_output output = {0};
    struct ww_error inner = {0};
    struct stat there;
    size_t length = strlen(folder);
    char *path = malloc(length + sizeof trial + 1);
    if (!path)
        return ww_error_set(error, WW_NO_MEMORY, folder, 0, "no memory to look at the folder");
    memcpy(path, folder, length + 1);
    /* the nearest folder that is there: the others will be made in it */
    while (path[0] && stat(path, &there) != 0) {
        char *slash = strrchr(path, '/');
        *(slash ? slash : path) = '\0';
    }
    if (!path[0])
        strcpy(path, folder[0] == '/' ? "/" : ".");
    strcat(path, trial);
    enum ww_status status = ww_output_open(&output, path, &inner);
    ww_output_discard(&output);
    if (status)
        ww_error_set(error, status, folder, 0, "no file can be written there: %s", inner.text);
    free(path);
    return status;
}
