/* map.c - weftwise map STUDY: how uneven is the dielectric?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "map.h"

#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <stdlib.h>

enum { NUMBER_SIZE = 48, SUBJECT_SIZE = 80 };

/* Zeroed is valid: no via. */
struct glass {
    struct ww_via *via; /* [plies] */
};

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    return ww_result_map_json(stream, &job->study, ((const struct glass *)result)->via, error);
}

static void show_vias(const struct job *job, const struct ww_via *via)
{
    char diameter[NUMBER_SIZE], subject[SUBJECT_SIZE];
    printf("\nglass in the way of a beam of %s, mean over the beam\n",
           ww_number_format(diameter, sizeof diameter, job->study.via_diameter, WW_LENGTH, 4));
    for (size_t i = 0; i < job->study.stack.plies; i++) {
        const struct ww_via *at = &via[i];
        ww_words_ply(&job->study, i, subject, sizeof subject);
        printf("  %-24s least %5.1f um, mean %5.1f um, most %5.1f um; none at %.1f %% of the positions\n", subject,
               1e6 * at->least, 1e6 * at->mean, 1e6 * at->most, 100.0 * at->without);
    }
}

static void show(const struct job *job, const void *result)
{
    const struct glass *glass = result;
    show_title(job);
    show_fabric(job);
    if (glass->via)
        show_vias(job, glass->via);
    show_files(job);
}

/* The glass that the study's beam meets in a ply, as figure and as map. */
static enum ww_status save_via(struct job *job, size_t index, const struct ww_map *map, struct ww_error *error)
{
    char name[NUMBER_SIZE], subject[SUBJECT_SIZE];
    struct ww_figure_via content = {.subject = subject, .glass = map, .diameter = job->study.via_diameter};
    ww_words_ply(&job->study, index, subject, sizeof subject);
    snprintf(name, sizeof name, "via-ply%zu", index + 1);
    enum ww_status status =
        job_kept(job, ww_figure_draw_via(job_figure_path(job, name), &job->figure, &content, error), error);
    if (!status)
        status = job_save_map(job, name, map, "glass height", "m", error);
    return status;
}

enum ww_status vias_save(struct job *job, struct ww_via **via, struct ww_error *error)
{
    const struct ww_stack *stack = &job->study.stack;
    enum ww_status status = WW_OK;
    *via = NULL;
    if (!(job->study.via_diameter > 0.0) || stack->plies == 0)
        return WW_OK;
    *via = calloc(stack->plies, sizeof **via);
    if (!*via)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
    for (size_t i = 0; i < stack->plies && !status; i++) {
        struct ww_map map = {0};
        status = ww_ply_glass_map(&stack->ply[i], job->study.via_diameter, &map, error);
        if (!status) {
            (*via)[i] = ww_via_of_map(&map);
            status = save_via(job, i, &map, error);
        }
        ww_map_clear(&map);
    }
    return status;
}

enum outcome map_run(const struct options *options)
{
    static struct job job;
    struct glass glass = {0};
    struct ww_error error = {0};
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = job_draw_dk(&job, NULL, &error);
    if (!status)
        status = vias_save(&job, &glass.via, &error);
    progress_end();
    if (!status)
        status = job_print(&job, write_json, show, &glass, &error);
    free(glass.via);
    return job_finish(&job, status, false, &error);
}
