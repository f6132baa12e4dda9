/* skew.c - weftwise skew STUDY: how bad can this pair be, where, and how likely?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "skew.h"

#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>

enum { SUBJECT_SIZE = 80, SAMPLES = 2001, SAMPLES_NEAR = 1201 };

/* --- solving --------------------------------------------------------------------------------------------------------------- */

enum ww_status skew_solve(struct job *job, struct ww_solution *solution, struct ww_error *error)
{
    progress_step("solving the cross-section, and all positions of the cloth");
    enum ww_status status = ww_study_solve(solution, &job->study, error);
    if (!status)
        job_note_pitch(job, &solution->summary);
    return job_place(job, status, error);
}

/* --- figures --------------------------------------------------------------------------------------------------------------- */

static enum ww_status draw_maps(struct job *job, const struct ww_skew *skew, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < skew->plies && !status; i++) {
        char subject[SUBJECT_SIZE], name[SUBJECT_SIZE];
        struct ww_figure_skew content = {
            .subject = subject, .pair = skew->pair, .map = &skew->map[i], .high = skew->high[i], .low = skew->low[i]};
        ww_words_ply(&job->study, i, subject, sizeof subject);
        snprintf(name, sizeof name, "skew-ply%zu", i + 1);
        status = job_kept(job, ww_figure_draw_skew(job_figure_path(job, name), &job->figure, &content, error), error);
        if (!status)
            status = job_save_map(job, name, &skew->map[i], skew->pair ? "skew" : "delay deviation", "s", error);
    }
    return status;
}

/* The longer side of the largest cell: how the cloth repeats along the trace, roughly. */
static double longest_period(const struct ww_stack *stack)
{
    double period = 0.0;
    for (size_t i = 0; i < stack->plies; i++)
        period = fmax(period, fmax(stack->ply[i].cell.lx, stack->ply[i].cell.ly));
    return period;
}

static enum ww_status draw_profile(struct job *job, const struct ww_solution *part, struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    struct ww_scan_options options = ww_study_request(&job->study).scan;
    options.route = job->study.route;
    options.segments = job->study.segments;
    double length = job->study.length, period = longest_period(&job->study.stack);
    double near = ww_figure_near_length(length, period);
    bool pair = part->skew.pair;
    double *values = calloc(3 * (SAMPLES + SAMPLES_NEAR), sizeof *values);
    enum ww_status status = values ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the profile");
    if (status)
        goto done;
    double *dk1 = values, *dk2 = dk1 + SAMPLES, *running = dk2 + SAMPLES;
    double *near1 = running + SAMPLES, *near2 = near1 + SAMPLES_NEAR, *near_running = near2 + SAMPLES_NEAR;
    char subject[SUBJECT_SIZE * 4];
    job_starts(job, (const double(*)[2])part->start, subject, sizeof subject);
    struct ww_figure_profile content = {.subject = subject,
                                        .length = length,
                                        .period = period,
                                        .count = SAMPLES,
                                        .dk1 = dk1,
                                        .dk2 = pair ? dk2 : NULL,
                                        .running = running,
                                        .near_length = near,
                                        .count_near = SAMPLES_NEAR,
                                        .dk1_near = near1,
                                        .dk2_near = pair ? near2 : NULL};
    status = ww_corrected_scan_create(&scan, part->line, part->skew.correction, job->study.angle, &options, error);
    if (!status)
        status = ww_scan_profile(scan, part->start, length, 0.0, length, SAMPLES, dk1, dk2, running, error);
    if (!status)
        status =
            ww_scan_profile(scan, part->start, length, 0.0, near, SAMPLES_NEAR, near1, near2, near_running, error);
    if (!status)
        status = job_kept(job, ww_figure_draw_profile(job_figure_path(job, "profile"), &job->figure, &content, error),
                          error);
done:
    ww_scan_destroy(scan);
    free(values);
    return status;
}

static enum ww_status draw_distribution(struct job *job, const struct ww_skew *skew, struct ww_error *error)
{
    struct ww_figure_distribution content = {.subject =
                                                 skew->plies > 1 ? "plies lie independently of each other" : NULL,
                                             .pair = skew->pair,
                                             .distribution = &skew->distribution,
                                             .median = skew->median,
                                             .p95 = skew->p95,
                                             .p99 = skew->p99,
                                             .worst = ww_skew_worst_value(skew),
                                             .spread = skew->pair ? 0.0 : skew->spread,
                                             .budget = job->study.budget,
                                             .over_budget = skew->over_budget};
    return job_kept(
        job, ww_figure_draw_distribution(job_figure_path(job, "distribution"), &job->figure, &content, error), error);
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct ww_solution *part = result;
    return ww_result_skew_json(stream, &job->study, &part->summary, &part->skew, &part->doubts, error);
}

enum ww_status skew_save(struct job *job, const struct ww_solution *part, struct ww_error *error)
{
    enum ww_status status = job_save(job, "skew", "json", write_json, part, error);
    if (!status)
        status = draw_maps(job, &part->skew, error);
    if (!status)
        status = draw_profile(job, part, error);
    if (!status && part->skew.plies > 0)
        status = draw_distribution(job, &part->skew, error);
    if (!status)
        status = job_draw_dk(job, part->start, error);
    return status;
}

static void show(const struct job *job, const void *result)
{
    const struct ww_solution *part = result;
    show_title(job);
    show_fabric(job);
    show_line(job, &part->summary);
    show_skew(job, &part->summary, &part->skew, ww_skew_worst_at(&part->skew));
    show_doubts(&part->doubts);
    show_files(job);
}

enum outcome skew_run(const struct options *options)
{
    static struct job job;
    struct ww_solution part = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = job_check_gate(&job, &error);
    if (!status)
        status = skew_solve(&job, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = skew_save(&job, &part, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &part, &error);
        over = job_over(&job, part.skew.worst_with_turn, &part.skew.conversion);
    }
    ww_solution_clear(&part);
    return job_finish(&job, status, over, &error);
}
