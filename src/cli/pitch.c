/* pitch.c - weftwise pitch STUDY: which pair pitch and trace width null the skew?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "pitch.h"

#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>

#define DEG (WW_PI / 180.0)

enum { PITCHES = 221, WIDTHS = 121, WIDTHS_OF_SINGLE = 301, NUMBER_SIZE = 48, SUBJECT_SIZE = 160 };

/* --- solving ------------------------------------------------------------------------------------------------------------- */

/* The longest warp pitch of the plies. */
static double warp_pitch(const struct job *job)
{
    double pitch = 0.0;
    for (size_t i = 0; i < job->study.stack.plies; i++)
        pitch = fmax(pitch, 0.5 * job->study.stack.ply[i].cell.lx);
    return pitch;
}

static bool is_pair(const struct job *job)
{
    return job->study.trace.pitch > 0.0;
}

/* About the study's own: pitches until two more warps lie between the legs; of a single trace, widths until it is a
 * quarter wider than a warp pitch. */
static struct ww_pitch_request request_of(const struct job *job)
{
    const struct options *options = job->options;
    const struct ww_trace *trace = &job->study.trace;
    struct range pitch = {1.3 * trace->width, trace->pitch + 2.0 * warp_pitch(job)};
    struct range width = {0.5 * trace->width, 2.0 * trace->width};
    if (!is_pair(job))
        width.to = fmax(width.to, 1.25 * warp_pitch(job));
    if (options->pitch.to > 0.0)
        pitch = options->pitch;
    if (options->trace_width.to > 0.0)
        width = options->trace_width;
    return (struct ww_pitch_request){.stack = &job->study.stack,
                                     .trace = *trace,
                                     .line = ww_study_line_options(&job->study),
                                     .skew = ww_study_request(&job->study),
                                     .pitch_from = pitch.from,
                                     .pitch_to = pitch.to,
                                     .width_from = width.from,
                                     .width_to = width.to,
                                     .pitches = PITCHES,
                                     .widths = is_pair(job) ? WIDTHS : WIDTHS_OF_SINGLE,
                                     .progress = progress_of()};
}

static enum ww_status check(const struct job *job, struct ww_error *error)
{
    if (job->study.stack.plies == 0)
        return ww_error_set(error, WW_INVALID, job->study.file, 0,
                            "the stackup has no ply, and without cloth there is nothing to null; add one, as in "
                            "'layer = ply 1080 100 um'");
    if (!is_pair(job) && job->options->pitch.to > 0.0)
        return ww_error_set(error, WW_INVALID, job->study.file, 0,
                            "--pitch: the study has a single trace, of which only the width can vary; leave --pitch "
                            "out, or give the study a trace.pitch");
    if (!job->options->gate || job->study.budget > 0.0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, job->study.file, 0,
                        "--gate needs a budget to judge the null by; add 'budget = 2 ps' to [signal]");
}

enum ww_status pitch_solve(const struct job *job, struct ww_pitch *pitch, struct ww_error *error)
{
    struct ww_pitch_request request = request_of(job);
    progress_step("solving one cross-section after the other");
    return job_place(job, ww_pitch_solve(pitch, &request, error), error);
}

/* --- files --------------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct ww_pitch *pitch = result;
    return ww_result_pitch_json(stream, &job->study, pitch, error);
}

/* A choice of the map as a line of the table. */
struct point {
    double pitch, width, worst, impedance;
};

static enum ww_status save_choices(struct job *job, const struct ww_pitch *pitch, struct ww_error *error)
{
    size_t count = pitch->pitches * pitch->widths;
    struct point *point = calloc(count, sizeof *point);
    const struct ww_column column[] = {{"pitch_um", &point->pitch, sizeof *point, 1e-6, NULL},
                                       {"width_um", &point->width, sizeof *point, 1e-6, NULL},
                                       {"worst_ps", &point->worst, sizeof *point, 1e-12, NULL},
                                       {"impedance_ohm", &point->impedance, sizeof *point, 1.0, NULL}};
    if (!point)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu choices", count);
    for (size_t i = 0; i < count; i++) {
        bool built = pitch->worst[i] >= 0.0;
        point[i] =
            (struct point){is_pair(job) ? pitch->pitch[i % pitch->pitches] : NAN, pitch->width[i / pitch->pitches],
                           built ? pitch->worst[i] : NAN, built ? pitch->impedance[i] : NAN};
    }
    enum ww_status status = job_kept(
        job, ww_result_csv(job_path(job, "pitch", "csv"), column, sizeof column / sizeof *column, count, error),
        error);
    free(point);
    return status;
}

static enum ww_status save_loss(struct job *job, const struct ww_pitch *pitch, struct ww_error *error)
{
    const struct ww_column column[] = {{"angle_off_deg", pitch->angle, sizeof(double), DEG, NULL},
                                       {"worst_at_angle_ps", pitch->at_angle, sizeof(double), 1e-12, NULL},
                                       {"stretch_percent", pitch->stretch, sizeof(double), 0.01, NULL},
                                       {"worst_at_stretch_ps", pitch->at_stretch, sizeof(double), 1e-12, NULL}};
    return job_kept(
        job, ww_result_csv(job_path(job, "null", "csv"), column, sizeof column / sizeof *column, pitch->count, error),
        error);
}

/* Rows are widths, columns pitches; what cannot be built is -1. */
static enum ww_status save_map(struct job *job, const struct ww_pitch *pitch, struct ww_error *error)
{
    const struct ww_map map = {pitch->pitches, pitch->widths, 1.0, 1.0, pitch->worst};
    return job_kept(job, ww_result_npy(job_path(job, "pitch", "npy"), &map, error), error);
}

static enum ww_status draw(struct job *job, const struct ww_pitch *pitch, struct ww_error *error)
{
    const struct ww_cell *cell = &job->study.stack.ply[0].cell;
    char length[NUMBER_SIZE], angle[NUMBER_SIZE], plain[SUBJECT_SIZE], subject[SUBJECT_SIZE];
    snprintf(plain, sizeof plain, "%s at %s",
             ww_number_format(length, sizeof length, job->study.length, WW_LENGTH, 6),
             ww_number_format(angle, sizeof angle, job->study.angle, WW_ANGLE, 6));
    ww_words_typeset(plain, subject, sizeof subject);
    struct ww_figure_pitch content = {.subject = subject,
                                      .pair = is_pair(job),
                                      .pitch = pitch,
                                      .budget = job->study.budget,
                                      .warp_pitch = 0.5 * cell->lx,
                                      .fill_pitch = 0.5 * cell->ly,
                                      .own_pitch = job->study.trace.pitch,
                                      .own_width = job->study.trace.width};
    enum ww_status status =
        job_kept(job, ww_figure_draw_pitch(job_figure_path(job, "pitch"), &job->figure, &content, error), error);
    if (!status && pitch->count > 0) {
        status =
            job_kept(job, ww_figure_draw_null(job_figure_path(job, "null"), &job->figure, &content, error), error);
    }
    return status;
}

enum ww_status pitch_save(struct job *job, const struct ww_pitch *pitch, struct ww_error *error)
{
    enum ww_status status = job_save(job, "pitch", "json", write_json, pitch, error);
    if (!status)
        status = save_choices(job, pitch, error);
    if (!status)
        status = save_map(job, pitch, error);
    if (!status && pitch->count > 0)
        status = save_loss(job, pitch, error);
    if (!status)
        status = draw(job, pitch, error);
    return status;
}

/* --- the table ----------------------------------------------------------------------------------------------------------- */

static void show_range(const char *what, const double *value, size_t count)
{
    char from[NUMBER_SIZE], to[NUMBER_SIZE];
    printf("  %-8s %s to %s, %zu of them\n", what, ww_number_format(from, sizeof from, value[0], WW_LENGTH, 5),
           ww_number_format(to, sizeof to, value[count - 1], WW_LENGTH, 5), count);
}

static void show_null(const struct ww_null *null, double warp)
{
    char pitch[NUMBER_SIZE] = "-", width[NUMBER_SIZE];
    double of_warp = (null->in_width ? null->width : null->pitch) / warp;
    if (null->pitch > 0.0)
        ww_number_format(pitch, sizeof pitch, null->pitch, WW_LENGTH, 5);
    printf("  %-8s %12s %12s %10.4f %12.4f %8.1f   %.3f warp pitches %s\n", null->in_width ? "width" : "pitch", pitch,
           ww_number_format(width, sizeof width, null->width, WW_LENGTH, 5), null->worst * 1e12, null->design * 1e12,
           null->impedance, of_warp, null->in_width ? "wide" : "apart");
}

static void show_nulls(const struct job *job, const struct ww_pitch *pitch)
{
    if (pitch->nulls == 0) {
        puts("\nno null among them: no choice is well below those on either side of it");
        return;
    }
    printf("\n%-10s %12s %12s %10s %12s %8s\n", "null in", "pitch", "width", "worst ps", "tolerances",
           is_pair(job) ? "Z diff" : "Z0");
    for (size_t i = 0; i < pitch->nulls; i++)
        show_null(&pitch->null[i], warp_pitch(job));
}

/* The largest of the samples within `most` to either side. */
static double largest_within(const double *off, const double *value, size_t count, double most)
{
    double largest = 0.0;
    for (size_t i = 0; i < count; i++)
        if (fabs(off[i]) <= most * (1.0 + 1e-9))
            largest = fmax(largest, value[i]);
    return largest;
}

static void show_loss(const struct job *job, const struct ww_pitch *pitch)
{
    char at[NUMBER_SIZE], turn[NUMBER_SIZE];
    const double count_off = 0.01, angle_off = DEG;
    if (pitch->count == 0)
        return;
    ww_number_format(at, sizeof at, is_pair(job) ? pitch->null_pitch : pitch->null_width, WW_LENGTH, 5);
    printf("\nthe %s is lost: %s of %s, worst in ps\n", pitch->nulls ? "null" : "least",
           is_pair(job) ? "pitch" : "width", at);
    printf("  %10.4f  within 1 deg of the study's angle\n",
           largest_within(pitch->angle, pitch->at_angle, pitch->count, angle_off) * 1e12);
    printf("  %10.4f  where the cloth's count is up to 1 %% off\n",
           largest_within(pitch->stretch, pitch->at_stretch, pitch->count, count_off) * 1e12);
    if (job->study.turn > 0.0)
        printf("  %10.4f  with the cloth up to %s off square, every ply on its own\n", pitch->null_with_turn * 1e12,
               ww_number_format(turn, sizeof turn, job->study.turn, WW_ANGLE, 4));
}

static void show(const struct job *job, const void *result)
{
    const struct ww_pitch *pitch = result;
    show_title(job);
    printf("\nworst %s over %s\n", is_pair(job) ? "skew" : "delay difference",
           is_pair(job) ? "pair pitch and trace width" : "trace width");
    if (is_pair(job))
        show_range("pitches", pitch->pitch, pitch->pitches);
    show_range("widths", pitch->width, pitch->widths);
    puts("  the map is interpolated between cross-sections; nulls and the study's own choice are what skew says");
    printf("  here     worst %.4g ps, %.4g ps with the tolerances of the cloth, Z %s %.1f ohm\n",
           pitch->own.worst * 1e12, pitch->own.design * 1e12, is_pair(job) ? "diff" : "0", pitch->own.impedance);
    show_nulls(job, pitch);
    show_loss(job, pitch);
    show_bound(job);
    show_files(job);
}

/* --- the command --------------------------------------------------------------------------------------------------------- */

/* Does even the deepest null, or the least there is, miss the budget? */
static bool misses(const struct ww_pitch *pitch, double budget)
{
    return pitch->count == 0 || pitch->null_with_turn > budget;
}

enum outcome pitch_run(const struct options *options)
{
    static struct job job;
    struct ww_pitch pitch = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = check(&job, &error);
    if (!status)
        status = pitch_solve(&job, &pitch, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = pitch_save(&job, &pitch, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &pitch, &error);
        over = options->gate && misses(&pitch, job.study.budget);
    }
    ww_pitch_clear(&pitch);
    return job_finish(&job, status, over, &error);
}
