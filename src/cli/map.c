/* map.c - weftwise map STUDY: how uneven is the dielectric?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/result.h>

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    (void)result;
    return ww_result_map_json(stream, &job->study, error);
}

static void show(const struct job *job, const void *result)
{
    (void)result;
    show_title(job);
    show_fabric(job);
    show_files(job);
}

enum outcome map_run(const struct options *options)
{
    static struct job job;
    struct ww_error error = {0};
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = job_draw_dk(&job, NULL, &error);
    progress_end();
    if (!status)
        status = job_print(&job, write_json, show, NULL, &error);
    return job_finish(&job, status, false, &error);
}
