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

/* --- the table ------------------------------------------------------------------------------------------------------------- */

static const double ps = 1e-12;

/* A row: the worst by another method, against the answer that is verified. */
static void show_row(const struct ww_verify *v, const char *method, double worst, const char *note)
{
    double difference = worst - v->worst;
    printf("  %-40s %10.3f %+10.3f", method, worst / ps, difference / ps);
    if (v->worst != 0.0)
        printf(" %+8.2f", 100.0 * difference / fabs(v->worst));
    else
        printf(" %8s", "");
    printf("%s%s\n", note[0] ? "  " : "", note);
}

/* The largest effort of all means, in words. */
static void write_effort(const struct ww_verify *v, char *out, size_t size)
{
    int iterations = 0;
    double residual = 0.0, seconds = 0.0;
    size_t sections = 0;
    for (size_t i = 0; i < v->places; i++)
        for (size_t m = 0; m < v->place[i].means; m++) {
            const struct ww_verify_mean *mean = &v->place[i].mean[m];
            sections += mean->sections;
            iterations = mean->iterations > iterations ? mean->iterations : iterations;
            residual = fmax(residual, mean->residual);
            seconds += mean->seconds;
        }
    snprintf(out, size, "%zu sections, at most %d iterations, residual %.1e, %.1f s", sections, iterations, residual,
             seconds);
}

/* By the other methods: what the worst grows by along the trace, over the whole length. */
static void show_methods(const struct ww_verify *v)
{
    char effort[2 * TEXT_SIZE], volume[2 * TEXT_SIZE] = "";
    if (v->place[0].means == 0 || !v->periodic)
        return;
    write_effort(v, effort, sizeof effort);
    show_row(v, "full cross-sections", v->worst + (v->worst_section - v->worst_kernel) * v->length, effort);
    for (size_t m = 0; m < v->place[0].means; m++) {
        const struct ww_verify_mean *mean = &v->place[0].mean[m];
        if (mean->has_volume)
            snprintf(volume, sizeof volume, "%.3g unknowns, %d iterations, residual %.1e, %.1f s",
                     (double)mean->volume.unknowns, mean->volume.iterations, mean->volume.residual,
                     mean->volume.seconds);
    }
    if (v->error[WW_AGAINST_VOLUME] >= 0.0)
        show_row(v, "volume of one period", v->worst + (v->worst_volume - v->worst_kernel) * v->length, volume);
}

static void show_resolutions(const struct ww_verify *v)
{
    char method[TEXT_SIZE], note[2 * TEXT_SIZE];
    for (size_t i = 0; i < v->resolutions; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        if (r->factor == 1.0)
            continue;
        snprintf(method, sizeof method, "%s the resolution, step %.3f um", r->factor < 1.0 ? "half" : "double",
                 r->step * 1e6);
        snprintf(note, sizeof note, "Dk %.4f, %s %.3f ohm", r->dk_eff, v->pair ? "Z odd" : "Z0", r->z);
        show_row(v, method, r->worst, note);
    }
    if (v->resolutions < 2)
        return;
    snprintf(note, sizeof note,
             v->limit.observed ? "+-%.3f ps, error as step^%.1f" : "+-%.3f ps, no order seen: error as step^%.0f",
             v->limit.uncertainty / ps, v->limit.order);
    show_row(v, "limit of ever finer grids", v->limit.value, note);
}

static void show_table(const struct ww_verify *v)
{
    char note[TEXT_SIZE] = "";
    if (v->sections > 0)
        snprintf(note, sizeof note, "corrected by %zu full cross-sections, %.4f times the kernel", v->sections,
                 v->correction_ratio);
    printf("\n%-42s %10s %10s %8s\n", v->pair ? "worst skew" : "worst difference", "ps", "off by", "%");
    show_row(v, "the answer", v->worst, note);
    show_methods(v);
    show_resolutions(v);
    puts("\nLegs, places and plies one by one: verify.json");
    if (v->place[0].means > 0 && !v->periodic)
        printf("\nat this angle %s does not grow along the trace: what counts is how sections scatter about the "
               "kernel,\n"
               "%.2f %% of the local %s\n",
               v->pair ? "skew" : "difference", 100.0 * v->error[WW_AGAINST_SECTION] / fabs(v->worst),
               v->pair ? "skew" : "difference");
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
    show_table(v);
    if (v->no_volume[0]) {
        putchar('\n');
        paragraph(printf("no volume:"), 11, v->no_volume);
    }
    show_error_bar(job, v);
    show_bound(job);
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
