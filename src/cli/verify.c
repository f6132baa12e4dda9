/* verify.c - weftwise verify STUDY: can these numbers be trusted?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "verify.h"

#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_SIZE = 80, NOT_COVERED_SIZE = 512 };
/* Far below the difference of section and kernel. */
#define TOLERANCE_IN_SHORT 1e-6

enum { SAMPLES_ACROSS = 1600, SAMPLES_UP_LEAST = 400, SAMPLES_ALONG = 401 };

/* --- solving --------------------------------------------------------------------------------------------------------------- */

enum ww_status verify_solve(const struct job *job, const struct ww_solution *kernel, bool in_short,
                            struct ww_verify *verify, struct ww_error *error)
{
    struct ww_verify_options options = {.without_volume = in_short || job->options->no_volume,
                                        .only_worst = in_short,
                                        .full = {.tolerance = in_short ? TOLERANCE_IN_SHORT : 0.0},
                                        .memory = job->options->memory,
                                        .step = progress_step};
    enum ww_status status = ww_verify_solve(verify, &job->study, kernel->line, &kernel->skew, &options, error);
    return job_place(job, status, error);
}

/* --- the tables -------------------------------------------------------------------------------------------------------------- */

static const double ps = 1e-12, ps_per_mm = 1e-9;

/* "-0.605 ps  -0.14 %" of the other method less the kernel, over a length. */
static void show_difference(double kernel, double other, double length)
{
    double difference = (other - kernel) * length / ps;
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
            show_difference(kernel, section, v->length);
            if (row == 0)
                show_solution(place->section.iterations, place->section.residual, place->section.seconds);
            putchar('\n');
        }
    printf("  %zu unknowns each\n", v->place[0].section.unknowns);
    if (v->sections > 0)
        printf(
            "  \"kernel\" has the residual correction, from %zu full cross-sections: %.4f times the kernel alone\n",
            v->sections, v->correction_ratio);
}

static void show_mean_rows(const struct ww_verify *v, const char *name, const struct ww_verify_mean *mean)
{
    for (int row = 0; row < rows_of(v); row++) {
        double kernel = row_value(mean->kernel, row), section = row_value(mean->section, row);
        double volume = row_value(mean->volume.delay, row);
        printf("  %-18s %-5s %9.5f %9.5f", row ? "" : name, row_name(v, row), kernel / ps_per_mm,
               section / ps_per_mm);
        show_difference(kernel, section, ww_verify_over(v, mean));
        if (mean->has_volume) {
            printf(" %9.5f", volume / ps_per_mm);
            show_difference(kernel, volume, ww_verify_over(v, mean));
        }
        putchar('\n');
    }
}

/* How far the number of sections has settled, and what it took to solve them. */
static void show_mean_solution(const struct ww_verify *v, const struct ww_verify_mean *mean)
{
    printf("  %-18s %zu sections", "", mean->sections);
    if (mean->periodic && isfinite(mean->settled))
        printf(" (half of them differ by %.3f ps)", mean->settled * v->length / ps);
    printf(": at most %d iterations, residual %.1e, %.1f s in all", mean->iterations, mean->residual, mean->seconds);
    if (mean->has_volume)
        printf("\n  %-18s volume of %.3g unknowns: %d iterations, residual %.1e, %.1f s", "",
               (double)mean->volume.unknowns, mean->volume.iterations, mean->volume.residual, mean->volume.seconds);
    putchar('\n');
}

/* The means of one ply in turn, or of all plies together. */
static void show_means_of(const struct ww_verify *v, size_t m)
{
    const struct ww_verify_mean *first = &v->place[0].mean[m];
    char ply[2 * TEXT_SIZE] = "";
    if (first->ply)
        snprintf(ply, sizeof ply, " of ply %zu, the others at their lateral mean, which moves both legs alike",
                 first->ply);
    printf("\nmean over %s of %.4g mm%s [ps/mm]; differences over %s\n", first->periodic ? "one period" : "a span",
           first->span * 1e3, ply, first->periodic ? "the whole length" : "the span");
    printf("  %-18s %-5s %9s %9s %21s", "place", "", "kernel", "sections", "sections less kernel");
    printf(first->has_volume ? " %9s %21s\n" : "\n", "volume", "volume less kernel");
    for (size_t i = 0; i < v->places; i++) {
        const struct ww_verify_place *place = &v->place[i];
        if (m >= place->means)
            continue;
        show_mean_rows(v, place->name, &place->mean[m]);
        show_mean_solution(v, &place->mean[m]);
    }
}

/* value against own in per cent; 0 where both are nothing. */
static double change(double value, double own)
{
    return value == own ? 0.0 : 100.0 * (value / own - 1.0);
}

static void show_resolutions(const struct ww_verify *v)
{
    const struct ww_verify_resolution *own = v->resolution;
    while (own->factor < 1.0)
        own++;
    printf("\nthe answer at other resolutions\n  %-18s %10s %21s %20s %22s\n", "resolution", "step",
           v->pair ? "worst skew" : "spread", "Dk", v->pair ? "Z odd" : "Z0");
    for (size_t i = 0; i < v->resolutions; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        const char *name = r->factor < 1.0 ? "half" : r->factor > 1.0 ? "double" : "the study's";
        printf("  %-18s %7.3f um %9.3f ps %+6.2f %% %9.4f %+7.3f %% %8.3f ohm %+6.2f %%\n", name, r->step * 1e6,
               r->worst / ps, change(r->worst, own->worst), r->dk_eff, change(r->dk_eff, own->dk_eff), r->z,
               change(r->z, own->z));
    }
    if (v->resolutions < 2)
        return;
    printf("  %-18s %10s    %9.3f ps %+6.2f %%   +- %.2f %%, ", "limit", "", v->limit.value / ps,
           change(v->limit.value, own->worst),
           own->worst != 0.0 ? 100.0 * v->limit.uncertainty / fabs(own->worst) : 0.0);
    printf(v->limit.observed ? "error as step^%.1f\n" : "no order seen: error as step^%.0f\n", v->limit.order);
}

static void show_worst(const struct ww_verify *v)
{
    const char *what = v->pair ? "skew" : "spread";
    if (v->place[0].means == 0)
        return;
    if (!v->periodic) {
        printf("\nat this angle %s does not grow along the trace: what counts is how sections scatter about the "
               "kernel,\n"
               "%.2f %% of the local %s\n",
               what, 100.0 * v->error[WW_AGAINST_SECTION] / fabs(v->worst), what);
        return;
    }
    printf("\nwhat the worst %s grows by along the trace\n", what);
    printf("  %-18s %9.5f ps/mm\n", "kernel", v->worst_kernel / ps_per_mm);
    printf("  %-18s %9.5f ps/mm", "sections", v->worst_section / ps_per_mm);
    show_difference(v->worst_kernel, v->worst_section, v->length);
    putchar('\n');
    if (v->error[WW_AGAINST_VOLUME] >= 0.0) {
        printf("  %-18s %9.5f ps/mm", "volume", v->worst_volume / ps_per_mm);
        show_difference(v->worst_kernel, v->worst_volume, v->length);
        putchar('\n');
    }
}

static void show_error_bar(const struct job *job, const struct ww_verify *v)
{
    char text[NOT_COVERED_SIZE + 256];
    ww_words_error_bar(&job->study, v, text, sizeof text);
    putchar('\n');
    paragraph(0, 0, text);
}

/* --- figures --------------------------------------------------------------------------------------------------------------- */

/* "the slowest trace", "the worst pair, leg 1 late" */
static void name_place(const struct ww_verify *v, char *out, size_t size)
{
    if (v->pair)
        snprintf(out, size, "the worst pair%s", strchr(v->place[0].name, ','));
    else
        snprintf(out, size, "the slowest trace");
}

/* Layers of the stackup from the lower plane up, as the figure names them. Returns how many; *copper and *plane are the
 * heights of the trace and of the upper plane (0: open). */
static size_t name_layers(const struct ww_stack *stack, char (*name)[TEXT_SIZE], struct ww_figure_layer *layer,
                          double *copper, double *plane)
{
    static const char *const plain[] = {
        [WW_LAYER_PLANE] = "plane", [WW_LAYER_TRACE] = "copper", [WW_LAYER_PLY] = "ply", [WW_LAYER_RESIN] = "resin",
        [WW_LAYER_SOLID] = "solid", [WW_LAYER_MASK] = "mask",    [WW_LAYER_AIR] = "air"};
    size_t count = 0, ply = stack->plies;
    double z = 0.0;
    for (size_t i = stack->count; i-- > 0;) {
        const struct ww_layer *of = &stack->layer[i];
        if (of->kind == WW_LAYER_TRACE)
            *copper = z;
        if (of->kind == WW_LAYER_PLY)
            snprintf(name[count], TEXT_SIZE, "ply %zu, %s,", ply--, of->style.name);
        else
            snprintf(name[count], TEXT_SIZE, "%s", plain[of->kind]);
        if (of->thickness > 0.0) {
            layer[count] = (struct ww_figure_layer){name[count], z, z + of->thickness};
            count++;
        }
        z += of->thickness;
    }
    *plane = stack->layer[0].kind == WW_LAYER_PLANE ? z : 0.0;
    return count;
}

/* What of the cross-section to show: the copper and the field around it. */
static void choose_window(const struct ww_line *line, double copper, double plane, double window[4])
{
    const double beside_closed = 0.7, beside_open = 2.0, above = 1.4;
    const struct ww_trace *trace = ww_line_trace(line);
    double half = 0.5 * (trace->pitch + trace->width), whole[4];
    ww_section_window(line, whole);
    half = fmin(half + (plane > 0.0 ? beside_closed * plane : beside_open * copper), whole[1]);
    window[0] = -half;
    window[1] = half;
    window[2] = 0.0;
    window[3] = plane > 0.0 ? whole[3] : fmin(copper + trace->thickness + above * copper, whole[3]);
}

static enum ww_status draw_field(struct job *job, const struct ww_verify *v, const struct ww_section_field *field,
                                 double copper, double plane, const struct ww_figure_layer *layer, size_t layers,
                                 struct ww_error *error)
{
    const struct ww_trace *trace = &job->study.trace;
    char subject[TEXT_SIZE];
    name_place(v, subject, sizeof subject);
    struct ww_figure_section content = {.subject = subject,
                                        .left = field->left,
                                        .bottom = field->bottom,
                                        .strength = &field->strength,
                                        .potential = &field->potential,
                                        .warp = &field->warp,
                                        .fill = &field->fill,
                                        .width = trace->width,
                                        .thickness = trace->thickness,
                                        .pitch = trace->pitch,
                                        .copper = copper,
                                        .plane = plane,
                                        .layer = layer,
                                        .layers = layers};
    return job_kept(job, ww_figure_draw_section(job_figure_path(job, "section"), &job->figure, &content, error),
                    error);
}

static enum ww_status draw_section(struct job *job, const struct ww_solution *kernel, const struct ww_verify *v,
                                   struct ww_error *error)
{
    const struct ww_stack *stack = &job->study.stack;
    char(*name)[TEXT_SIZE] = calloc(stack->count, sizeof *name);
    struct ww_figure_layer *layer = calloc(stack->count, sizeof *layer);
    struct ww_section_field field = {0};
    double window[4], copper = 0.0, plane = 0.0;
    enum ww_status status = WW_OK;
    if (!name || !layer) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", stack->count);
        goto done;
    }
    size_t layers = name_layers(stack, name, layer, &copper, &plane);
    choose_window(kernel->line, copper, plane, window);
    double aspect = (window[3] - window[2]) / (window[1] - window[0]);
    size_t rows = (size_t)fmin(fmax(SAMPLES_ACROSS * aspect, SAMPLES_UP_LEAST), SAMPLES_ACROSS);
    progress_step("the field of the worst cross-section");
    double angle = job->study.angle + (job->study.segments ? job->study.route[0].angle : 0.0);
    status = ww_section_field(kernel->line, angle, (const double(*)[2])v->place[0].start, NULL, window,
                              SAMPLES_ACROSS, rows, &field, error);
    if (!status)
        status = draw_field(job, v, &field, copper, plane, layer, layers, error);
done:
    ww_section_field_clear(&field);
    free(name);
    free(layer);
    return status;
}

static enum ww_status draw_mean(struct job *job, const struct ww_solution *kernel, const struct ww_verify *v,
                                const struct ww_scan *scan, size_t m, struct ww_error *error)
{
    const struct ww_verify_place *place = &v->place[0];
    const struct ww_verify_mean *mean = &place->mean[m];
    static double local[2][SAMPLES_ALONG];
    char where[TEXT_SIZE], subject[2 * TEXT_SIZE];
    enum ww_status status = WW_OK;
    if (mean->ply == 0) { /* also along a route */
        static double running[SAMPLES_ALONG];
        status = ww_scan_profile(scan, (const double(*)[2])place->start, job->study.length, 0.0, mean->span,
                                 SAMPLES_ALONG, local[0], local[1], running, error);
        for (size_t i = 0; i < SAMPLES_ALONG; i++)
            for (int leg = 0; leg < 2; leg++)
                local[leg][i] = sqrt(fmax(local[leg][i], 0.0)) / WW_C0;
    }
    for (size_t i = 0; i < SAMPLES_ALONG && mean->ply && !status; i++) {
        double delay[2], at = mean->span * (double)i / (SAMPLES_ALONG - 1);
        status = ww_verify_kernel(scan, kernel->line, job->study.angle, (const double(*)[2])place->start, mean->ply,
                                  at, 0.0, delay, error);
        local[0][i] = delay[0];
        local[1][i] = delay[1];
    }
    name_place(v, where, sizeof where);
    if (mean->ply)
        snprintf(subject, sizeof subject, "%s: the cloth of ply %zu in place, the others at their mean", where,
                 mean->ply);
    else
        snprintf(subject, sizeof subject, "%s: all cloth in place", where);
    struct ww_figure_along content = {.subject = subject,
                                      .period = mean->span,
                                      .periodic = mean->periodic,
                                      .count_kernel = SAMPLES_ALONG,
                                      .kernel1 = local[0],
                                      .kernel2 = v->pair ? local[1] : NULL,
                                      .count_section = mean->sections,
                                      .section1 = mean->local[0],
                                      .section2 = v->pair ? mean->local[1] : NULL,
                                      .mean_kernel = {mean->kernel[0], mean->kernel[1]},
                                      .mean_section = {mean->section[0], mean->section[1]},
                                      .mean_volume = mean->has_volume ? mean->volume.delay : NULL};
    char name[TEXT_SIZE] = "along";
    if (mean->ply)
        snprintf(name, sizeof name, "along-ply%zu", mean->ply);
    if (status)
        return status;
    return job_kept(job, ww_figure_draw_along(job_figure_path(job, name), &job->figure, &content, error), error);
}

static enum ww_status draw_means(struct job *job, const struct ww_solution *kernel, const struct ww_verify *v,
                                 struct ww_error *error)
{
    struct ww_scan_options options = ww_study_request(&job->study).scan;
    struct ww_scan *scan = NULL;
    options.route = job->study.route;
    options.segments = job->study.segments;
    options.without_dispersion = true;
    enum ww_status status =
        ww_corrected_scan_create(&scan, kernel->line, kernel->skew.correction, job->study.angle, &options, error);
    for (size_t m = 0; m < v->place[0].means && !status; m++)
        status = draw_mean(job, kernel, v, scan, m, error);
    ww_scan_destroy(scan);
    return status;
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

/* What the command found, and what it was found for. */
struct verified {
    const struct ww_solution *kernel;
    const struct ww_verify *verify;
};

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct verified *verified = result;
    return ww_result_verify_json(stream, &job->study, &verified->kernel->summary, verified->verify, error);
}

enum ww_status verify_save(struct job *job, const struct ww_solution *kernel, const struct ww_verify *v,
                           struct ww_error *error)
{
    enum ww_status status = job_save(job, "verify", "json", write_json, &(struct verified){kernel, v}, error);
    if (!status)
        status = draw_section(job, kernel, v, error);
    if (!status)
        status = draw_means(job, kernel, v, error);
    return status;
}

static void show(const struct job *job, const void *result)
{
    const struct verified *verified = result;
    const struct ww_verify *v = verified->verify;
    show_title(job);
    show_line(job, &verified->kernel->summary);
    if (verified->kernel->summary.dispersion.applied)
        puts("\nbelow all is static: dispersion multiplies differences of delay by any method alike");
    show_starts(v);
    for (size_t m = 0; m < v->place[0].means; m++)
        show_means_of(v, m);
    if (v->no_volume[0]) {
        putchar('\n');
        paragraph(printf("no volume:"), 11, v->no_volume);
    }
    show_worst(v);
    show_resolutions(v);
    show_error_bar(job, v);
    show_files(job);
}

enum outcome verify_run(const struct options *options)
{
    static struct job job;
    struct ww_solution kernel = {0};
    struct ww_verify verify = {0};
    struct ww_error error = {0};
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = skew_solve(&job, &kernel, &error);
    if (!status)
        status = verify_solve(&job, &kernel, false, &verify, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = verify_save(&job, &kernel, &verify, &error);
    progress_end();
    if (!status)
        status = job_print(&job, write_json, show, &(struct verified){&kernel, &verify}, &error);
    ww_verify_clear(&verify);
    ww_solution_clear(&kernel);
    return job_finish(&job, status, false, &error);
}
