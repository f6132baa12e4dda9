/* verify.c - can these numbers be trusted? Kernel, section and volume side by side.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each method tests what the one before it assumes: the section, that the background's field will do for the cloth in
 * place; the volume, that the field has no component along the trace; other resolutions, that the grid is fine enough, with
 * their limit (extrapolate.c). The error bar is the largest difference that any of them makes to the worst skew, or difference of two
 * single traces.
 */
#include "weftwise/verify.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "line/line.h"
#include "scan/plies.h"
#include "verify/extrapolate.h"
#include "verify/mean.h"

enum { BETWEEN = 3, RESOLUTIONS = 3 };
#define FINENESS_LEAST 0.25 /* as a study may have it */
#define FINENESS_MOST 4.0

double ww_verify_signal(const struct ww_verify *verify, const double leg[2])
{
    return verify->pair ? leg[0] - leg[1] : leg[0];
}

double ww_verify_over(const struct ww_verify *verify, const struct ww_verify_mean *mean)
{
    return mean->periodic ? verify->length : mean->span;
}

static void tell(const struct ww_verify_options *options, const char *what, const char *where)
{
    char text[160];
    snprintf(text, sizeof text, "%s: %s", where, what);
    if (options->step)
        options->step(text);
}

/* --- places ---------------------------------------------------------------------------------------------------------------- */

static enum ww_status add_place(struct ww_verify *v, const char *name, size_t plies, struct ww_error *error)
{
    struct ww_verify_place *place = &v->place[v->places];
    place->name = name;
    place->start = calloc(plies + 1, sizeof *place->start);
    place->mean = calloc(plies + 1, sizeof *place->mean);
    v->places++;
    return place->start && place->mean ? WW_OK
                                       : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
}

static void put_starts(struct ww_verify_place *place, const struct ww_extreme *at, size_t plies)
{
    for (size_t p = 0; p < plies; p++) {
        place->start[p][0] = at[p].x;
        place->start[p][1] = at[p].y;
    }
}

/* Of two traces side by side where they differ most, the second in place of the least. */
static void place_beside(struct ww_extreme *beside, const struct ww_extreme *first, const struct ww_scan *scan)
{
    for (size_t p = 0; p < scan->plies; p++) {
        double off[2];
        ww_scan_beside(scan, p, off);
        beside[p] = (struct ww_extreme){first[p].x + off[0], first[p].y + off[1], 0};
    }
}

/* Slowest and fastest of leg 1, every ply at its own extreme; of two single traces at a spacing where they differ most. */
static enum ww_status put_leg_extremes(struct ww_verify_place *slowest, struct ww_verify_place *fastest,
                                       const struct ww_verify_context *context, double length, size_t plies,
                                       struct ww_error *error)
{
    enum ww_signal signal = context->pair ? WW_LEG1 : ww_judged_signal(false, context->scan->spacing);
    struct ww_extreme *high = calloc(2 * plies + 1, sizeof *high), *low = high ? high + plies : NULL;
    enum ww_status status =
        high ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    if (!status)
        status = ww_scan_extremes_of_all(context->scan, signal, WW_MEAN, length, NULL, high, low, error);
    if (!status) {
        if (signal == WW_APART)
            place_beside(low, high, context->scan);
        put_starts(slowest, high, plies);
        put_starts(fastest, low, plies);
    }
    free(high);
    return status;
}

/* A share of the distance from a to b, by the shorter direction around the cell. */
static double between(double a, double b, double period, double share)
{
    return a + share * remainder(b - a, period);
}

/* Of a pair: the worst of both signs, or of the larger alone. */
static enum ww_status choose_worst(struct ww_verify *v, const struct ww_skew *skew, bool larger_alone,
                                   struct ww_error *error)
{
    enum ww_status status = WW_OK;
    bool low_is_larger = ww_skew_worst_at(skew) == skew->low;
    if (!larger_alone || !low_is_larger) {
        status = add_place(v, "worst, leg 1 late", skew->plies, error);
        if (!status)
            put_starts(&v->place[v->places - 1], skew->high, skew->plies);
    }
    if (!status && (!larger_alone || low_is_larger)) {
        status = add_place(v, "worst, leg 2 late", skew->plies, error);
        if (!status)
            put_starts(&v->place[v->places - 1], skew->low, skew->plies);
    }
    v->worsts = v->places;
    return status;
}

static enum ww_status choose_places(struct ww_verify *v, const struct ww_verify_context *context,
                                    const struct ww_skew *skew, struct ww_error *error)
{
    static const char *const names[] = {"slowest", "fastest", "1/4 between", "1/2 between", "3/4 between"};
    const struct ww_stack *stack = ww_line_stack(context->line);
    bool only_worst = context->options->only_worst;
    size_t plies = stack->plies, between_them = only_worst ? 0 : BETWEEN;
    enum ww_status status = WW_OK;
    v->place = calloc(2 + 2 + BETWEEN, sizeof *v->place);
    if (!v->place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the places");
    v->worsts = 1;
    if (v->pair)
        status = choose_worst(v, skew, only_worst, error);
    if (status || (v->pair && only_worst))
        return status;
    size_t first = v->places;
    for (size_t i = 0; i < 2 + between_them && !status; i++)
        status = add_place(v, names[i], plies, error);
    if (status)
        return status;
    struct ww_verify_place *slowest = &v->place[first], *fastest = &v->place[first + 1];
    status = put_leg_extremes(slowest, fastest, context, v->length, plies, error);
    for (size_t i = 0; i < between_them; i++)
        for (size_t p = 0; p < plies; p++) {
            double(*start)[2] = v->place[first + 2 + i].start;
            double share = (double)(i + 1) / (BETWEEN + 1);
            start[p][0] = between(fastest->start[p][0], slowest->start[p][0], stack->ply[p].cell.lx, share);
            start[p][1] = between(fastest->start[p][1], slowest->start[p][1], stack->ply[p].cell.ly, share);
        }
    return status;
}

/* --- solving ----------------------------------------------------------------------------------------------------------------- */

/* A field that did not converge: say where. */
static enum ww_status locate(enum ww_status status, const char *what, const char *where, struct ww_error *error)
{
    if (status != WW_NOT_CONVERGED || !error)
        return status;
    struct ww_error as = *error;
    return ww_error_set(error, status, NULL, 0, "%s at '%s': %s; no number of it can be used", what, where, as.text);
}

static enum ww_status solve_start(const struct ww_verify_context *context, struct ww_verify_place *place,
                                  struct ww_error *error)
{
    const double(*start)[2] = (const double(*)[2])place->start;
    tell(context->options, "one cross-section", place->name);
    enum ww_status status =
        ww_verify_kernel(context->straight[0], context->line, context->angle + context->route[0].angle, start, 0, 0,
                         0, place->kernel, error);
    struct ww_full_options full = context->options->full;
    full.ply = 0;
    if (!status)
        status = ww_section_solve(context->line, context->angle + context->route[0].angle, start, &full,
                                  &place->section, error);
    if (!status)
        status = ww_verify_to_limit(context, 0, context->angle + context->route[0].angle, start, 0, 0,
                                    &place->section, error);
    return locate(status, "the section", place->name, error);
}

/* A volume larger than the memory allowed is left out, and so are all later ones. */
static enum ww_status solve_volume(struct ww_verify *v, const struct ww_verify_context *context,
                                   struct ww_verify_place *place, struct ww_verify_mean *mean, struct ww_error *error)
{
    struct ww_error reason = {0};
    tell(context->options, "the volume of one period", place->name);
    enum ww_status status = ww_verify_volume(context, (const double(*)[2])place->start, mean, &reason);
    if (status == WW_NO_MEMORY) {
        snprintf(v->no_volume, sizeof v->no_volume, "%s", reason.text);
        return WW_OK;
    }
    if (status && error)
        *error = reason;
    return locate(status, "the volume", place->name, error);
}

static enum ww_status solve_means(struct ww_verify *v, const struct ww_verify_context *context,
                                  struct ww_verify_place *place, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t m = 0; m < place->means && !status; m++) {
        struct ww_verify_mean *mean = &place->mean[m];
        tell(context->options, "sections along the trace", place->name);
        status = locate(ww_verify_sections(context, (const double(*)[2])place->start, mean, error), "a section",
                        place->name, error);
        if (!status && !v->no_volume[0])
            status = solve_volume(v, context, place, mean, error);
    }
    return status;
}

static enum ww_status solve_places(struct ww_verify *v, const struct ww_verify_context *context,
                                   struct ww_error *error)
{
    size_t decide = v->places - (context->options->only_worst ? 0 : BETWEEN);
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < v->places && !status; i++)
        status = solve_start(context, &v->place[i], error);
    for (size_t i = 0; i < decide && !status; i++) {
        struct ww_verify_place *place = &v->place[i];
        char why_not[sizeof v->no_volume] = "";
        status = ww_verify_spans(context, place->mean, &place->means, why_not, sizeof why_not, error);
        v->periodic = why_not[0] == '\0';
        if (!v->no_volume[0])
            memcpy(v->no_volume, why_not, sizeof why_not);
        if (!status)
            status = solve_means(v, context, place, error);
    }
    return status;
}

/* --- other resolutions ------------------------------------------------------------------------------------------------------- */

/* worst: static; mean_delay: at the line's frequency, and told static. */
static void note_resolution(struct ww_verify *v, double factor, const struct ww_line *line, double worst,
                            double mean_delay)
{
    const struct ww_line_summary *s = ww_line_summary(line);
    double slowness = mean_delay / (v->length * s->dispersion.mean);
    v->resolution[v->resolutions++] = (struct ww_verify_resolution){.factor = factor,
                                                                    .worst = worst,
                                                                    .dk_eff = pow(slowness * WW_C0, 2),
                                                                    .z = v->pair ? s->z_odd : s->z0,
                                                                    .step = s->step};
}

/* The whole answer again, correction included. */
static enum ww_status solve_resolution(struct ww_verify *v, const struct ww_verify_context *context,
                                       const struct ww_study *study, double factor, struct ww_error *error)
{
    struct ww_study other = *study; /* shares the layers, has plies of its own */
    struct ww_line *line = NULL;
    struct ww_skew skew = {0};
    other.stack.ply = NULL;
    other.stack.plies = 0;
    other.fineness = factor * study->fineness;
    if (other.fineness < FINENESS_LEAST || other.fineness > FINENESS_MOST)
        return WW_OK;
    tell(context->options, "the answer", factor < 1 ? "half the resolution" : "twice the resolution");
    struct ww_line_options options = {.fineness = other.fineness};
    struct ww_skew_request request = ww_study_request(&other);
    request.turn = 0;
    enum ww_status status = ww_study_build(&other, error);
    if (!status)
        status = ww_line_create(&line, &other.stack, &other.trace, &options, error);
    if (!status)
        status = ww_skew_solve(&skew, line, &request, error);
    if (!status)
        note_resolution(v, factor, line, skew.worst, skew.mean_delay);
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_stack_clear(&other.stack);
    return status;
}

static enum ww_status solve_resolutions(struct ww_verify *v, const struct ww_verify_context *context,
                                        const struct ww_study *study, const struct ww_skew *skew,
                                        struct ww_error *error)
{
    double step[RESOLUTIONS], worst[RESOLUTIONS];
    enum ww_status status = solve_resolution(v, context, study, 0.5, error);
    note_resolution(v, 1, context->line, v->worst, skew->mean_delay);
    if (!status)
        status = solve_resolution(v, context, study, 2, error);
    for (size_t i = 0; i < v->resolutions && !status; i++) {
        step[i] = v->resolution[i].step;
        worst[i] = v->resolution[i].worst;
    }
    if (!status && v->resolutions > 1)
        v->limit = ww_verify_extrapolate(step, worst, v->resolutions);
    return status;
}

/* --- the error bar ------------------------------------------------------------------------------------------------------------ */

enum method { KERNEL, SECTION, VOLUME, METHODS };

/* Mean signal of a place, sum over the plies. */
static double added(const struct ww_verify *v, const struct ww_verify_place *place, enum method method)
{
    double sum = 0;
    for (size_t m = 0; m < place->means; m++) {
        const struct ww_verify_mean *mean = &place->mean[m];
        const double *leg = method == KERNEL ? mean->kernel : method == SECTION ? mean->section : mean->volume.delay;
        sum += ww_verify_signal(v, leg);
    }
    return sum;
}

/* The i-th worst per length: of a pair at its i-th place, of two single traces slowest less fastest. */
static double worst_by(const struct ww_verify *v, size_t i, enum method method)
{
    const struct ww_verify_place *place = v->place;
    return v->pair ? added(v, &place[i], method) : added(v, &place[0], method) - added(v, &place[1], method);
}

/* Without a period: the scatter of the sections about the kernel, as a share of the signal itself. */
static double relative_scatter(const struct ww_verify *v)
{
    double most = 0;
    for (size_t i = 0; i < (v->pair ? v->worsts : 2); i++)
        for (size_t m = 0; m < v->place[i].means; m++) {
            const struct ww_verify_mean *mean = &v->place[i].mean[m];
            if (mean->rms_signal > 0)
                most = fmax(most, mean->rms / mean->rms_signal);
        }
    return most;
}

static void conclude(struct ww_verify *v)
{
    size_t worst = 0;
    bool with_volume = v->periodic && v->no_volume[0] == '\0';
    double difference[METHODS] = {0};
    for (size_t i = 0; i < v->worsts && v->periodic; i++) {
        double kernel = worst_by(v, i, KERNEL);
        worst = fabs(kernel) > (1 + WW_TIE) * fabs(worst_by(v, worst, KERNEL)) ? i : worst;
        difference[SECTION] = fmax(difference[SECTION], fabs(worst_by(v, i, SECTION) - kernel));
        difference[VOLUME] = fmax(difference[VOLUME], fabs(worst_by(v, i, VOLUME) - kernel));
    }
    if (v->periodic) {
        v->worst_kernel = worst_by(v, worst, KERNEL);
        v->worst_section = worst_by(v, worst, SECTION);
        v->worst_volume = with_volume ? worst_by(v, worst, VOLUME) : 0;
    }
    v->error[WW_AGAINST_SECTION] =
        v->periodic ? difference[SECTION] * v->length : relative_scatter(v) * fabs(v->worst);
    v->error[WW_AGAINST_VOLUME] = with_volume ? difference[VOLUME] * v->length : -1;
    v->error[WW_AGAINST_RESOLUTION] =
        v->resolutions > 1 ? fabs(v->limit.value - v->worst) + v->limit.uncertainty : -1;
    for (int a = 0; a < WW_AGAINSTS; a++)
        if (v->error[a] > v->error[v->largest])
            v->largest = (enum ww_verify_against)a;
}

const char *ww_verify_against_name(enum ww_verify_against against)
{
    static const char *const names[WW_AGAINSTS] = {"section", "volume", "resolution"};
    return (unsigned)against < WW_AGAINSTS ? names[against] : "";
}

static bool is_recalled(const struct ww_datum *datum)
{
    return datum->origin == WW_MEMORY || datum->origin == WW_CLOSED;
}

static bool is_yarn_recalled(const struct ww_yarn *yarn)
{
    return is_recalled(&yarn->width) || is_recalled(&yarn->height);
}

static bool is_named_before(const struct ww_stack *stack, size_t ply)
{
    for (size_t p = 0; p < ply; p++)
        if (strcmp(stack->layer[stack->ply[p].layer].style.name, stack->layer[stack->ply[ply].layer].style.name) == 0)
            return true;
    return false;
}

char *ww_verify_not_covered(const struct ww_study *study, char *out, size_t size)
{
    const struct ww_stack *stack = &study->stack;
    char names[256] = "";
    for (size_t p = 0; p < stack->plies; p++) {
        const struct ww_style *style = &stack->layer[stack->ply[p].layer].style;
        size_t used = strlen(names);
        if ((is_yarn_recalled(&style->warp) || is_yarn_recalled(&style->fill)) && !is_named_before(stack, p))
            snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "", style->name);
    }
    snprintf(
        out, size,
        "the shape of the yarns%s%s%s, how far the plies press, the Dk of glass and resin, and modes that are not "
        "quasi-TEM",
        names[0] ? " (closed or from memory: " : "", names, names[0] ? ")" : "");
    return out;
}

/* --- all of it ------------------------------------------------------------------------------------------------------------------ */

/* One scan for the direction of each segment. */
/* The scan of each segment's direction. */
static enum ww_status create_scans(struct ww_scan ***scans, const struct ww_verify_context *context,
                                   const struct ww_line *line, const struct ww_correction *correction,
                                   const struct ww_scan_options *options, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *scans = calloc(context->segments, sizeof(struct ww_scan *));
    if (!*scans)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", context->segments);
    for (size_t i = 0; i < context->segments && !status; i++)
        status = ww_corrected_scan_create(&(*scans)[i], line, correction, context->angle + context->route[i].angle,
                                          options, error);
    return status;
}

static void destroy_scans(struct ww_scan **scans, size_t count)
{
    for (size_t i = 0; scans && i < count; i++)
        ww_scan_destroy(scans[i]);
    free(scans);
}

/* The answer's, the kernel's alone, and those of the kernel of the line's own grid. */
static enum ww_status create_all_scans(struct ww_verify_context *context, const struct ww_skew *skew,
                                       const struct ww_scan_options *options, struct ww_error *error)
{
    struct ww_line *grid = NULL;
    enum ww_status status =
        create_scans(&context->straight, context, context->line, skew->correction, options, error);
    if (!status)
        status = create_scans(&context->limit, context, context->line, NULL, options, error);
    if (!status)
        status = ww_line_create_on_grid(&grid, context->line, error);
    if (!status)
        status = create_scans(&context->on_grid, context, grid, NULL, options, error);
    ww_line_destroy(grid);
    return status;
}

enum ww_status ww_verify_solve(struct ww_verify *verify, const struct ww_study *study, const struct ww_line *line,
                               const struct ww_skew *skew, const struct ww_verify_options *options,
                               struct ww_error *error)
{
    static const struct ww_verify_options none = {0};
    const struct ww_route_segment straight = {.length = study->length};
    struct ww_scan_options scanning = ww_study_request(study).scan;
    struct ww_scan *scan = NULL;
    *verify = (struct ww_verify){.pair = skew->pair, .length = study->length};
    verify->correction_ratio = skew->correction_ratio;
    verify->sections = skew->sections;
    verify->worst = skew->worst / ww_line_summary(line)->dispersion.change;
    scanning.without_dispersion = true;
    struct ww_verify_context context = {.line = line,
                                        .options = options ? options : &none,
                                        .angle = study->angle,
                                        .pair = skew->pair,
                                        .segments = study->segments ? study->segments : 1,
                                        .route = study->segments ? study->route : &straight,
                                        .worst_per_length = verify->worst / study->length};
    if (context.options->without_volume)
        snprintf(verify->no_volume, sizeof verify->no_volume, "it was not asked for");
    enum ww_status status = create_all_scans(&context, skew, &scanning, error);
    scanning.route = study->route;
    scanning.segments = study->segments;
    if (!status)
        status = ww_corrected_scan_create(&scan, line, skew->correction, study->angle, &scanning, error);
    context.scan = scan;
    if (!status)
        status = choose_places(verify, &context, skew, error);
    if (!status)
        status = solve_places(verify, &context, error);
    if (!status)
        status = solve_resolutions(verify, &context, study, skew, error);
    if (!status)
        conclude(verify);
    ww_scan_destroy(scan);
    destroy_scans(context.straight, context.segments);
    destroy_scans(context.limit, context.segments);
    destroy_scans(context.on_grid, context.segments);
    if (status)
        ww_verify_clear(verify);
    return status;
}

void ww_verify_clear(struct ww_verify *verify)
{
    for (size_t i = 0; i < verify->places; i++) {
        struct ww_verify_place *place = &verify->place[i];
        for (size_t m = 0; m < place->means; m++) {
            free(place->mean[m].local[0]);
            free(place->mean[m].local[1]);
        }
        free(place->start);
        free(place->mean);
    }
    free(verify->place);
    memset(verify, 0, sizeof *verify);
}
