/* angles.c - weftwise angles STUDY: which routing angles are safe?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "angles.h"

#include "progress.h"
#include "run.h"
#include "show.h"
#include "skew.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DEG (WW_PI / 180.0)

enum { COLUMNS_OF_MAP = 181, LENGTHS_OF_MAP = 100, NUMBER_SIZE = 48 };

/* --- solving --------------------------------------------------------------------------------------------------------------- */

struct ww_angles_request angles_request(const struct job *job)
{
    const struct options *options = job->options;
    return (struct ww_angles_request){.skew = ww_study_request(&job->study),
                                      .from = options->from,
                                      .to = options->to,
                                      .step = options->step > 0.0 ? options->step : 0.5 * DEG,
                                      .progress = progress_of()};
}

bool angles_own(const struct job *job, double *angle)
{
    const double rounding = 1e-9;
    *angle = job->study.angle + WW_PI * ceil((job->options->from - job->study.angle) / WW_PI - rounding);
    return *angle <= job->options->to + rounding;
}

static enum ww_status sweep(struct job *job, struct angles_part *part, const struct ww_line *line,
                            struct ww_angles_request request, struct ww_error *error)
{
    double longest = job->options->to_length > 0.0 ? job->options->to_length : 3.0 * job->study.length;
    progress_step("turning the trace");
    enum ww_status status = ww_angles_solve(&part->angles, line, &request, error);
    progress_step("turning and stretching the trace");
    request.step = (request.to - request.from) / (COLUMNS_OF_MAP - 1);
    if (!status)
        status = ww_lengths_solve(
            &part->lengths, line,
            &(struct ww_lengths_request){
                .angles = request, .from = longest / LENGTHS_OF_MAP, .to = longest, .count = LENGTHS_OF_MAP},
            error);
    if (!status)
        ww_words_angles(&part->angles, part->sentence, sizeof part->sentence);
    return status;
}

enum ww_status angles_solve(struct job *job, const struct ww_solution *solution, struct angles_part *part,
                            struct ww_error *error)
{
    struct ww_angles_request request = angles_request(job);
    struct ww_correction *correction = NULL;
    part->summary = solution->summary;
    request.skew.correction = solution->skew.correction;
    enum ww_status status = ww_angles_correct(&correction, solution->line, &request, error);
    request.skew.correction = correction; /* one for both sweeps */
    if (!status)
        status = sweep(job, part, solution->line, request, error);
    ww_correction_release(correction);
    return job_place(job, status, error);
}

enum ww_status angles_turn(const struct job *job, const struct ww_solution *solution, struct ww_angles *angles,
                           struct ww_error *error)
{
    struct ww_angles_request request = angles_request(job);
    request.skew.correction = solution->skew.correction;
    progress_step("turning the trace");
    return job_place(job, ww_angles_solve(angles, solution->line, &request, error), error);
}

void angles_clear(struct angles_part *part)
{
    ww_angles_clear(&part->angles);
    ww_lengths_clear(&part->lengths);
    memset(part, 0, sizeof *part);
}

/* --- files ----------------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct angles_part *part = result;
    return ww_result_angles_json(stream, &job->study, &part->summary, &part->angles, part->sentence, error);
}

static enum ww_status save_table(struct job *job, const char *name, const struct ww_column *column, size_t columns,
                                 size_t rows, struct ww_error *error)
{
    return job_kept(job, ww_result_csv(job_path(job, name, "csv"), column, columns, rows, error), error);
}

enum { LEVELS = 4 };

/* [angles][LEVELS] in dB: worst, p99, median, design; no number where there is no conversion. To be freed; NULL: no memory. */
static double *levels_of(const struct ww_angles *angles)
{
    double *level = calloc(LEVELS * angles->count + 1, sizeof *level);
    for (size_t i = 0; i < angles->count && level; i++) {
        const struct ww_at_angle *at = &angles->at[i];
        const double amplitude[LEVELS] = {at->conversion, at->conversion_p99, at->conversion_median,
                                          at->conversion_design};
        for (size_t k = 0; k < LEVELS; k++)
            level[LEVELS * i + k] = amplitude[k] > 0.0 ? ww_decibels(amplitude[k]) : NAN;
    }
    return level;
}

static enum ww_status save_tables(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    const struct ww_at_angle *at = part->angles.at;
    double *level = levels_of(&part->angles);
    const double ps = 1e-12, mm = 1e-3;
    const struct ww_column curves[] = {{"angle_deg", &at->angle, sizeof *at, DEG, NULL},
                                       {"worst_ps", &at->worst, sizeof *at, ps, NULL},
                                       {"p99_ps", &at->p99, sizeof *at, ps, NULL},
                                       {"median_ps", &at->median, sizeof *at, ps, NULL},
                                       {"design_ps", &at->design, sizeof *at, ps, NULL},
                                       {"conversion_db", level, LEVELS * sizeof *level, 1.0, NULL},
                                       {"conversion_p99_db", level + 1, LEVELS * sizeof *level, 1.0, NULL},
                                       {"conversion_median_db", level + 2, LEVELS * sizeof *level, 1.0, NULL},
                                       {"conversion_design_db", level + 3, LEVELS * sizeof *level, 1.0, NULL}};
    if (!level)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the table of %zu angles",
                            part->angles.count);
    const struct ww_column angle = {"angle_deg", part->lengths.angle, sizeof(double), DEG, NULL};
    const struct ww_column length = {"length_mm", part->lengths.length, sizeof(double), mm, NULL};
    enum ww_status status =
        save_table(job, "angles", curves, sizeof curves / sizeof *curves, part->angles.count, error);
    free(level);
    if (!status)
        status = save_table(job, "lengths-angle", &angle, 1, part->lengths.angles, error);
    if (!status)
        status = save_table(job, "lengths-length", &length, 1, part->lengths.lengths, error);
    return status;
}

/* Rows are lengths, columns angles; the two axes are tables, for the angles are not all evenly spaced. */
static enum ww_status save_map(struct job *job, const struct ww_lengths *lengths, struct ww_error *error)
{
    struct ww_map map = {lengths->angles, lengths->lengths, 1.0, 1.0, lengths->worst};
    return job_kept(job, ww_result_npy(job_path(job, "lengths", "npy"), &map, error), error);
}

static enum ww_status draw(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    char length[NUMBER_SIZE], subject[2 * NUMBER_SIZE];
    double own = 0.0;
    bool has_own = angles_own(job, &own), several = job->study.stack.plies > 1;
    ww_number_format(length, sizeof length, job->study.length, WW_LENGTH, 6);
    snprintf(subject, sizeof subject, "%s%s", length, several ? ", all plies together" : "");
    enum ww_status status = job_kept(
        job,
        ww_figure_draw_angles(job_figure_path(job, "angles"), &job->figure,
                              &(struct ww_figure_angles){subject, &part->angles, has_own ? &own : NULL}, error),
        error);
    if (!status && part->angles.conversion.frequency > 0.0)
        status = job_kept(job,
                          ww_figure_draw_conversion(job_figure_path(job, "conversion"), &job->figure,
                                                    &(struct ww_figure_angles){subject, &part->angles, NULL}, error),
                          error);
    if (!status)
        status = job_kept(
            job,
            ww_figure_draw_lengths(job_figure_path(job, "lengths"), &job->figure,
                                   &(struct ww_figure_lengths){.subject = several ? "all plies together" : NULL,
                                                               .pair = part->angles.pair,
                                                               .lengths = &part->lengths,
                                                               .budget = job->study.budget,
                                                               .own_angle = own,
                                                               .own_length = has_own ? job->study.length : 0.0},
                                   error),
            error);
    return status;
}

enum ww_status angles_save(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    enum ww_status status = job_save(job, "angles", "json", write_json, part, error);
    if (!status)
        status = save_tables(job, part, error);
    if (!status)
        status = save_map(job, &part->lengths, error);
    if (!status)
        status = draw(job, part, error);
    return status;
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

static void show_windows(const char *limit, double turn, const struct ww_window *window, size_t windows)
{
    printf("\nsafe windows, for %s", limit);
    if (turn > 0.0)
        printf(" with the cloth up to %g deg off square", turn / DEG);
    puts("");
    for (size_t i = 0; i < windows; i++)
        printf("  %8.2f to %.2f deg\n", window[i].from / DEG, window[i].to / DEG);
    if (windows == 0)
        puts("  none");
}

/* Of an amplitude, to a tenth; 0 without a sign. */
static double decibels(double amplitude)
{
    return 0.1 * round(10.0 * ww_decibels(amplitude)) + 0.0;
}

/* Where the conversion is largest, and where the cloth's period along the trace meets the modes' beat. */
static void show_matches(const struct job *job, const struct ww_angles *angles)
{
    enum { MOST_SHOWN = 12 };
    const struct ww_angles_conversion *conversion = &angles->conversion;
    const struct ww_stack *stack = &job->study.stack;
    const struct ww_at_angle *most = angles->at;
    if (!(conversion->frequency > 0.0))
        return;
    for (size_t i = 1; i < angles->count; i++)
        most = angles->at[i].conversion > most->conversion ? &angles->at[i] : most;
    printf("\nmode conversion at %g GHz is largest at %.2f deg: %.1f dB\n", conversion->frequency * 1e-9,
           most->angle / DEG, decibels(most->conversion));
    if (conversion->matches)
        printf("phase-matched, where the cloth's period along the trace meets the modes' beat:\n"
               "  %12s %10s %12s %12s  %s\n",
               "(m, l)", "angle", "alone", "in all", "on");
    for (size_t i = 0; i < conversion->matches && i < MOST_SHOWN; i++) {
        const struct ww_phase_match *match = &conversion->match[i];
        char harmonic[NUMBER_SIZE];
        snprintf(harmonic, sizeof harmonic, "(%d, %d)", match->m, match->l);
        printf("  %12s %6.2f deg %9.1f dB %9.1f dB  ply %zu, %s\n", harmonic, match->angle / DEG,
               decibels(match->alone), decibels(match->conversion), match->ply + 1,
               stack->layer[stack->ply[match->ply].layer].style.name);
    }
    if (conversion->matches > MOST_SHOWN)
        printf("  and %zu more in angles.json\n", conversion->matches - MOST_SHOWN);
}

static void show_revivals(const struct job *job, const struct ww_angles *angles)
{
    const struct ww_stack *stack = &job->study.stack;
    if (angles->revivals == 0)
        return;
    printf("\n%s revives along %14s %10s %16s  %s\n", angles->pair ? "skew" : "difference", "(m, l)", "angle",
           "grows by", "on");
    for (size_t i = 0; i < angles->revivals; i++) {
        const struct ww_revival *revival = &angles->revival[i];
        char harmonic[NUMBER_SIZE], lies[NUMBER_SIZE];
        snprintf(harmonic, sizeof harmonic, "(%d, %d)", revival->m, revival->l);
        snprintf(lies, sizeof lies, "%.2f deg", revival->angle / DEG);
        printf("  %-17s %12s %10s %10.4f ps/mm  ply %zu, %s\n",
               revival->l == 0   ? "the warp"
               : revival->m == 0 ? "the fill"
                                 : "a diagonal",
               harmonic, lies, revival->growth * 1e9, revival->ply + 1,
               stack->layer[stack->ply[revival->ply].layer].style.name);
    }
}

static void show(const struct job *job, const void *result)
{
    const struct angles_part *part = result;
    const struct ww_angles *angles = &part->angles;
    show_title(job);
    show_fabric(job);
    show_line(job, &part->summary);
    const struct ww_angles_conversion *conversion = &angles->conversion;
    char limit[NUMBER_SIZE];
    snprintf(limit, sizeof limit, "%g ps", angles->budget * 1e12);
    if (angles->budget > 0.0)
        show_windows(limit, angles->turn, angles->window, angles->windows);
    snprintf(limit, sizeof limit, "%g dB of mode conversion", job->study.conversion);
    if (conversion->budget > 0.0)
        show_windows(limit, angles->turn, conversion->window, conversion->windows);
    show_revivals(job, angles);
    show_matches(job, angles);
    printf("\n%s\n", part->sentence);
    show_bound(job);
    show_files(job);
}

/* --gate judges the study's own angle: it must be one of those looked at. */
static enum ww_status check_gate(const struct job *job, struct ww_error *error)
{
    double own = 0.0;
    enum ww_status status = job_check_gate(job, error);
    if (status || !job->options->gate || angles_own(job, &own))
        return status;
    return ww_error_set(error, WW_INVALID, job->study.file, 0,
                        "--gate judges the study's own angle, %g deg, which is not from %g to %g deg; "
                        "widen --from and --to",
                        job->study.angle / DEG, job->options->from / DEG, job->options->to / DEG);
}

enum outcome angles_run(const struct options *options)
{
    static struct job job;
    struct ww_solution solution = {0};
    struct angles_part part = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = check_gate(&job, &error);
    if (!status)
        status = skew_solve(&job, &solution, &error);
    if (!status)
        status = angles_solve(&job, &solution, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = angles_save(&job, &part, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &part, &error);
        over = job_over(&job, solution.skew.worst_with_turn, &solution.skew.conversion);
    }
    angles_clear(&part);
    ww_solution_clear(&solution);
    return job_finish(&job, status, over, &error);
}
