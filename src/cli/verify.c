/* verify.c - weftwise verify STUDY: can these numbers be trusted?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "job.h"
#include "progress.h"

#include <weftwise/line.h>
#include <weftwise/result.h>
#include <weftwise/scan.h>
#include <weftwise/verify.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_SIZE = 80, NOT_COVERED_SIZE = 512 };

struct answer {
    struct ww_line *line;
    struct ww_skew skew;
    struct ww_verify verify;
};

/* --- solving --------------------------------------------------------------------------------------------------------------- */

static enum ww_status solve(const struct job *job, struct answer *answer, struct ww_error *error)
{
    struct ww_line_options line = ww_study_line_options(&job->study);
    struct ww_skew_request request = ww_study_request(&job->study);
    struct ww_verify_options options = {
        .without_volume = job->options->no_volume, .memory = job->options->memory, .step = progress_step};
    request.turn = 0.0;
    progress_step("solving the cross-section");
    enum ww_status status = ww_line_create(&answer->line, &job->study.stack, &job->study.trace, &line, error);
    progress_step("scanning all positions of the cloth");
    if (!status)
        status = ww_skew_solve(&answer->skew, answer->line, &request, error);
    if (!status)
        status = ww_verify_solve(&answer->verify, &job->study, answer->line, &answer->skew, &options, error);
    return job_place(job, status, error);
}

static void answer_clear(struct answer *answer)
{
    ww_verify_clear(&answer->verify);
    ww_skew_clear(&answer->skew);
    ww_line_destroy(answer->line);
    answer->line = NULL;
}

/* --- the tables -------------------------------------------------------------------------------------------------------------- */

static const double ps = 1e-12, ps_per_mm = 1e-9;

/* "-0.605 ps  -0.14 %" of the other way less the kernel, over the length. */
static void show_difference(const struct ww_verify *v, double kernel, double other)
{
    double difference = (other - kernel) * v->length / ps;
    printf(" %+9.*f ps", fabs(difference) < 10.0 ? 3 : 2, difference);
    if (kernel != 0.0)
        printf(" %+6.2f %%", 100.0 * (other / kernel - 1.0));
    else
        printf(" %8s", "");
}

static void show_solution(int iterations, double residual, double seconds)
{
    printf("  %3d  %7.1e  %6.2f s", iterations, residual, seconds);
}

enum { ROWS_SINGLE = 1, ROWS_PAIR = 3 };

/* Row r of a place: leg 1, leg 2, skew. */
static double row_value(const double leg[2], int row)
{
    return row < 2 ? leg[row] : leg[0] - leg[1];
}

static const char *row_name(const struct ww_verify *v, int row)
{
    static const char *const names[ROWS_PAIR] = {"leg 1", "leg 2", "skew"};
    return v->pair ? names[row] : "trace";
}

static int rows_of(const struct ww_verify *v)
{
    return v->pair ? ROWS_PAIR : ROWS_SINGLE;
}

static void show_starts(const struct ww_verify *v)
{
    printf("\nat one cross-section, where the trace starts [ps/mm]; differences over the whole length\n");
    printf("  %-18s %-5s %9s %9s %21s  %s  residual      time\n", "place", "", "kernel", "section",
           "section less kernel", "its.");
    for (size_t i = 0; i < v->places; i++)
        for (int row = 0; row < rows_of(v); row++) {
            const struct ww_verify_place *place = &v->place[i];
            double kernel = row_value(place->kernel, row), section = row_value(place->section.delay, row);
            printf("  %-18s %-5s %9.5f %9.5f", row ? "" : place->name, row_name(v, row), kernel / ps_per_mm,
                   section / ps_per_mm);
            show_difference(v, kernel, section);
            if (row == 0)
                show_solution(place->section.iterations, place->section.residual, place->section.seconds);
            putchar('\n');
        }
    printf("  %zu unknowns each\n", v->place[0].section.unknowns);
}

static void show_mean_rows(const struct ww_verify *v, const char *name, const struct ww_verify_mean *mean)
{
    for (int row = 0; row < rows_of(v); row++) {
        double kernel = row_value(mean->kernel, row), section = row_value(mean->section, row);
        double volume = row_value(mean->volume.delay, row);
        printf("  %-18s %-5s %9.5f %9.5f", row ? "" : name, row_name(v, row), kernel / ps_per_mm,
               section / ps_per_mm);
        show_difference(v, kernel, section);
        if (mean->has_volume) {
            printf(" %9.5f", volume / ps_per_mm);
            show_difference(v, kernel, volume);
        }
        putchar('\n');
    }
}

static void show_mean_solution(const struct ww_verify_mean *mean)
{
    printf("  %-18s %zu sections: at most %d iterations, residual %.1e, %.1f s in all", "", mean->sections,
           mean->iterations, mean->residual, mean->seconds);
    if (mean->has_volume)
        printf("; volume of %.3g unknowns: %d iterations, %.1e, %.1f s", (double)mean->volume.unknowns,
               mean->volume.iterations, mean->volume.residual, mean->volume.seconds);
    putchar('\n');
}

/* The means of one ply in turn, or of all plies together. */
static void show_means_of(const struct ww_verify *v, size_t m)
{
    const struct ww_verify_mean *first = &v->place[0].mean[m];
    char ply[TEXT_SIZE] = "";
    if (first->ply)
        snprintf(ply, sizeof ply, " of ply %zu, the others at their lateral mean", first->ply);
    printf("\nmean over %s of %.4g mm%s [ps/mm]\n", first->periodic ? "one period" : "a stretch",
           first->stretch * 1e3, ply);
    printf("  %-18s %-5s %9s %9s %21s", "place", "", "kernel", "sections", "sections less kernel");
    printf(first->has_volume ? " %9s %21s\n" : "\n", "volume", "volume less kernel");
    for (size_t i = 0; i < v->places; i++) {
        const struct ww_verify_place *place = &v->place[i];
        if (m >= place->means)
            continue;
        show_mean_rows(v, place->name, &place->mean[m]);
        show_mean_solution(&place->mean[m]);
    }
}

static void show_resolutions(const struct ww_verify *v)
{
    const struct ww_verify_resolution *own = NULL;
    for (size_t i = 0; i < v->resolutions; i++)
        own = v->resolution[i].factor == 1.0 ? &v->resolution[i] : own;
    printf("\nthe kernel at other resolutions\n  %-18s %10s %21s %20s %22s\n", "resolution", "step",
           v->pair ? "worst skew" : "spread", "Dk", v->pair ? "Z odd" : "Z0");
    for (size_t i = 0; i < v->resolutions; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        const char *name = r->factor < 1.0 ? "half" : r->factor > 1.0 ? "double" : "the study's";
        printf("  %-18s %7.3f um %9.3f ps %+6.2f %% %9.4f %+7.3f %% %8.3f ohm %+6.2f %%\n", name, r->step * 1e6,
               r->worst / ps, 100.0 * (r->worst / own->worst - 1.0), r->dk_eff,
               100.0 * (r->dk_eff / own->dk_eff - 1.0), r->z, 100.0 * (r->z / own->z - 1.0));
    }
}

static void show_worst(const struct ww_verify *v)
{
    printf("\nwhat the worst %s grows by along the trace\n", v->pair ? "skew" : "spread");
    if (!v->periodic)
        return;
    printf("  %-18s %9.5f ps/mm\n", "kernel", v->worst_kernel / ps_per_mm);
    printf("  %-18s %9.5f ps/mm", "sections", v->worst_section / ps_per_mm);
    show_difference(v, v->worst_kernel, v->worst_section);
    putchar('\n');
    if (v->error[WW_AGAINST_VOLUME] >= 0.0) {
        printf("  %-18s %9.5f ps/mm", "volume", v->worst_volume / ps_per_mm);
        show_difference(v, v->worst_kernel, v->worst_volume);
        putchar('\n');
    }
}

static void show_error_bar(const struct job *job, const struct ww_verify *v)
{
    static const char *const against[WW_AGAINSTS] = {"sections solved in full", "the volume solved in full",
                                                     "the kernel at twice the resolution"};
    char not_covered[NOT_COVERED_SIZE], text[NOT_COVERED_SIZE + 256];
    double largest = v->error[v->largest];
    snprintf(
        text, sizeof text,
        "The error bar on the worst %s of %.2f ps is %.3f ps, %.2f %%: the largest difference found, against %s; "
        "it does not cover %s.",
        v->pair ? "skew" : "spread", v->worst / ps, largest / ps, 100.0 * largest / v->worst, against[v->largest],
        ww_verify_not_covered(&job->study, not_covered, sizeof not_covered));
    putchar('\n');
    paragraph(0, 0, text);
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

static enum ww_status save_json(struct job *job, const struct answer *answer, struct ww_error *error)
{
    struct ww_output output = {0};
    enum ww_status status = job_begin(job, error, "json", "verify");
    if (!status)
        status = ww_output_open(&output, job->path, error);
    if (!status)
        status =
            ww_result_verify_json(output.stream, &job->study, ww_line_summary(answer->line), &answer->verify, error);
    if (!status)
        status = ww_output_commit(&output, error);
    ww_output_discard(&output);
    return job_end(job, status, error);
}

static enum ww_status save_all(struct job *job, const struct answer *answer, struct ww_error *error)
{
    enum ww_status status = job_make_folder(job, error);
    if (!status)
        status = save_json(job, answer, error);
    return status;
}

static enum ww_status show(const struct job *job, const struct answer *answer, struct ww_error *error)
{
    const struct ww_verify *v = &answer->verify;
    if (job->options->json)
        return ww_result_verify_json(stdout, &job->study, ww_line_summary(answer->line), v, error);
    if (job->options->quiet)
        return WW_OK;
    show_title(job);
    show_line(job, ww_line_summary(answer->line));
    show_starts(v);
    for (size_t m = 0; m < v->place[0].means; m++)
        show_means_of(v, m);
    if (v->no_volume[0])
        printf("\nno volume: %s\n", v->no_volume);
    show_worst(v);
    show_resolutions(v);
    show_error_bar(job, v);
    show_files(job);
    return WW_OK;
}

enum outcome verify_run(const struct options *options)
{
    static struct job job;
    struct answer answer = {0};
    struct ww_error error = {0};
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = solve(&job, &answer, &error);
    if (!status)
        status = save_all(&job, &answer, &error);
    progress_end();
    if (!status)
        status = show(&job, &answer, &error);
    answer_clear(&answer);
    job_close(&job);
    return status ? fail(&error) : finish_output();
}
