/* skew.c - weftwise skew STUDY: how bad can this pair be, where, and how likely?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "skew.h"

#include "arms.h"
#include "progress.h"
#include "spacing.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>

enum { SUBJECT_SIZE = 80, SENTENCE_SIZE = 1024, SAMPLES = 2001, SAMPLES_NEAR = 1201 };

/* --- solving --------------------------------------------------------------------------------------------------------------- */

enum ww_status skew_solve(struct job *job, struct ww_solution *solution, struct ww_error *error)
{
    progress_step("solving the cross-section, and all positions of the cloth");
    enum ww_status status = ww_study_solve(solution, &job->study, error);
    if (!status)
        job_note_pitch(job, &solution->summary);
    return job_place(job, status, error);
}

enum ww_status skew_solve_part(struct job *job, struct skew_part *part, struct ww_error *error)
{
    enum ww_status status = skew_solve(job, &part->solution, error);
    return status ? status : spacing_solve(job, &part->solution, &part->spacing, error);
}

void skew_clear(struct skew_part *part)
{
    ww_spacing_clear(&part->spacing);
    ww_solution_clear(&part->solution);
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
    char subject[2 * SUBJECT_SIZE], where[SUBJECT_SIZE];
    snprintf(subject, sizeof subject, "%s%s%s", skew->pair ? "" : "two traces, ",
             skew->pair ? "" : ww_words_feeds(&job->study, where, sizeof where),
             skew->plies > 1 ? skew->pair ? "plies lie independently of each other" : ", plies independent" : "");
    struct ww_figure_distribution content = {.subject = subject[0] ? subject : NULL,
                                             .pair = skew->pair,
                                             .distribution = &skew->distribution,
                                             .median = skew->median,
                                             .p95 = skew->p95,
                                             .p99 = skew->p99,
                                             .worst = skew->worst,
                                             .budget = job->study.budget,
                                             .over_budget = skew->over_budget};
    return job_kept(
        job, ww_figure_draw_distribution(job_figure_path(job, "distribution"), &job->figure, &content, error), error);
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct skew_part *part = result;
    const struct ww_solution *solution = &part->solution;
    char sentence[SENTENCE_SIZE];
    ww_words_spacing(&job->study, &solution->skew, &part->spacing, sentence, sizeof sentence);
    return ww_result_skew_json(stream, &job->study, &solution->summary, &solution->skew, &part->spacing, sentence,
                               &solution->doubts, &solution->arms, error);
}

enum ww_status skew_save(struct job *job, const struct skew_part *part, struct ww_error *error)
{
    const struct ww_solution *solution = &part->solution;
    enum ww_status status = job_save(job, "skew", "json", write_json, part, error);
    if (!status)
        status = draw_maps(job, &solution->skew, error);
    if (!status)
        status = draw_profile(job, solution, error);
    if (!status && solution->skew.plies > 0)
        status = draw_distribution(job, &solution->skew, error);
    if (!status)
        status = spacing_save(job, solution, &part->spacing, error);
    if (!status)
        status = arms_save(job, &solution->arms, error);
    if (!status)
        status = job_draw_dk(job, solution->start, error);
    return status;
}

static void show(const struct job *job, const void *result)
{
    const struct skew_part *part = result;
    const struct ww_skew *skew = &part->solution.skew;
    char sentence[SENTENCE_SIZE];
    show_title(job);
    show_fabric(job);
    show_line(job, &part->solution.summary);
    show_limits(part->solution.line, ww_study_frequency(&job->study));
    show_skew(job, &part->solution.summary, skew, ww_skew_worst_at(skew));
    show_doubts(&part->solution.doubts);
    arms_show(job, &part->solution.arms);
    if (ww_words_spacing(&job->study, skew, &part->spacing, sentence, sizeof sentence)[0])
        paragraph(printf("\nhow far apart?") - 1, 16, sentence);
    show_bound(job);
    show_files(job);
}

enum outcome skew_run(const struct options *options)
{
    static struct job job;
    struct skew_part part = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = job_check_gate(&job, &error);
    if (!status)
        status = skew_solve_part(&job, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = skew_save(&job, &part, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &part, &error);
        over = job_over(&job, ww_judged(&part.solution.skew, &part.solution.arms), &part.solution.skew.conversion);
    }
    skew_clear(&part);
    return job_finish(&job, status, over, &error);
}
