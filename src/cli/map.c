/* map.c - weftwise map STUDY: how uneven is the dielectric?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/result.h>

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
    if (!status && options->json)
        status = ww_result_map_json(stdout, &job.study, &error);
    if (!status && !options->json && !options->quiet) {
        show_title(&job);
        show_fabric(&job);
        show_files(&job);
    }
    job_close(&job);
    return status ? fail(&error) : finish_output();
}
