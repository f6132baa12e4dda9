/* new.c - weftwise new FILE: a commented study to start from.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "run.h"

#include <weftwise/result.h>
#include <weftwise/study.h>

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* Nothing that stands there is overwritten, whatever it is. */
static enum ww_status check_free(const char *path, struct ww_error *error)
{
    struct stat found;
    if (lstat(path, &found) == 0)
        return ww_error_set(error, WW_INVALID, path, 0, "is there already; give a name that is free");
    if (errno != ENOENT)
        return ww_error_set(error, WW_IO, path, 0, "cannot be made: %s", strerror(errno));
    return WW_OK;
}

/* What a run that was killed left beside the file. */
static void tidy_beside(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *folder = slash == NULL ? strdup(".") : strndup(path, slash == path ? 1 : (size_t)(slash - path));
    if (folder != NULL)
        ww_folder_tidy(folder);
    free(folder);
}

static void say_written(const char *path)
{
    char shown[4096];
    ww_text_printable(shown, sizeof shown, path);
    printf("%s is written; 'weftwise skew %s' runs it as it is\n", shown, shown);
}

enum outcome new_run(const struct options *options)
{
    const char *path = options->operand[1];
    struct ww_error error = {0};
    struct ww_output output = {0};
    enum ww_status status = check_free(path, &error);
    if (!status)
        tidy_beside(path);
    if (!status)
        status = ww_output_open(&output, path, &error);
    if (!status)
        status = ww_study_write_start(output.stream, &error);
    if (status && !error.file[0])
        ww_error_set(&error, status, path, 0, "%s", error.text);
    if (!status)
        status = ww_output_commit(&output, &error);
    ww_output_discard(&output);
    if (status)
        return fail(&error);
    if (options->json)
        status = ww_result_new_json(stdout, path, &error);
    else if (!options->quiet)
        say_written(path);
    return status ? fail(&error) : finish_output();
}
