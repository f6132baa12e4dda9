/* pitch.c - at which pair pitch and trace width is the skew null?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A pair along the warp: P pair pitch, L length [m]; warp pitch p, fill pitch q, cell 2p by 2q; S amplitude of the harmonic
 * (m, l) of a leg's slowness [s/m], kx = pi m/p, ky = pi l/q, m + l even in plain weave. The amplitude of its skew is
 *   |S| L |2 sin(kx P/2)| |sin(ky L/2) / (ky L/2)|   [s]        (path.c).
 *   P = 2p, 4p, ...   zero for every harmonic: both legs are on the same cloth.
 *   P = p, 3p, ...    zero for even m, which includes all of l = 0, the part that grows with L. Odd m stay, bounded in L.
 * A trace about p wide averages the even m as well. All these nulls are lost when the cloth is turned by an angle a or
 * stretched: over the length a leg moves L sin(a) across the warp.
 *
 * Cross-sections are solved at nodes, and harmonics interpolated between them (pitch_nodes.c). Minima are sought on two cuts
 * through the map: in pitch at the study's width, and in width at its pitch. Each is rounded to TENTH, a length that somebody
 * types, and solved there as ww_skew_solve has it, with the tolerances of the cloth; so what is told is what skew says. The
 * study's own choice and the nulls are among the places of the map.
 */
#include "weftwise/sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "chance/placements.h"
#include "pitch_nodes.h"

#define NULL_SHARE 0.5 /* a minimum counts where it is below this share of the lower of the maxima beside it */
#define TENTH 0.1e-6   /* [m] nulls are rounded to it */
#define GOLDEN 0.6180339887498949
#define LEAST_ANGLE 3.0    /* [deg] off the study's, to show how fast a null is lost; or twice the turn */
#define LEAST_STRETCH 0.03 /* of the cloth, likewise; or twice the tolerance of its count */
#define SMOOTH 3e-4 /* of the worst: by so much at most a parabola in width differs from the cubic that is taken */
#define SHARE_OF_NODES 0.5 /* of the time, to tell progress by */
#define SHARE_OF_NULLS 0.6
#define SHARE_OF_MAP 0.9

enum {
    CUT = 401,         /* places of a cut */
    STRIDE = 4,        /* rows of the map from one that is solved whole to the next */
    MOST_NULLS = 32,   /* in pitch, and in width */
    LOSS_SAMPLES = 61, /* of angle and of stretch; the middle one is the study's own */
    MOST_TOLD = 2 * MOST_NULLS + 1
};

static bool is_pair(const struct ww_pitch_request *request)
{
    return request->trace.pitch > 0;
}

/* --- what is asked ------------------------------------------------------------------------------------------------------ */

static enum ww_status check_range(const char *what, double from, double to, size_t count, struct ww_error *error)
{
    const double most = 0.02; /* [m], of ww_line_create */
    if (!(from > 0 && from <= to && to <= most))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "the %s from %.6g um to %.6g um is no range; both ends above 0 and up to 20 mm, the first "
            "no larger",
            what, from * 1e6, to * 1e6);
    if (count == 0 || (count == 1 && from < to))
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu of the %s from %.6g um to %.6g um: give 2 or more",
                            count, what, from * 1e6, to * 1e6);
    return WW_OK;
}

static enum ww_status check(const struct ww_pitch_request *request, struct ww_error *error)
{
    bool pair = is_pair(request);
    size_t pitches = pair ? request->pitches : 1, widths = request->widths;
    enum ww_status status = check_range("width", request->width_from, request->width_to, widths, error);
    if (!status && pair)
        status = check_range("pitch", request->pitch_from, request->pitch_to, pitches, error);
    if (status)
        return status;
    if (pair && !(request->pitch_to > request->width_from))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "no pair can be built: every pitch up to %.6g um has legs at least %.6g um wide that touch",
            request->pitch_to * 1e6, request->width_from * 1e6);
    if (pitches > WW_PITCH_MOST || widths > WW_PITCH_MOST / pitches)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu pitches by %zu widths are more than %d points", pitches,
                            widths, WW_PITCH_MOST);
    return WW_OK;
}

static double within(double value, double from, double to)
{
    return fmin(fmax(value, from), to);
}

static double own_width(const struct ww_pitch_request *request)
{
    return within(request->trace.width, request->width_from, request->width_to);
}

static double own_pitch(const struct ww_pitch_request *request)
{
    return is_pair(request) ? within(request->trace.pitch, request->pitch_from, request->pitch_to) : 0;
}

/* --- one choice, as skew has it ------------------------------------------------------------------------------------------- */

static enum ww_status solve_choice(struct ww_null *null, const struct ww_pitch_request *request, double pitch,
                                   double width, bool in_width, struct ww_error *error)
{
    struct ww_trace trace = {.width = width, .thickness = request->trace.thickness, .pitch = pitch};
    struct ww_skew_request skew = request->skew;
    struct ww_skew answer = {0};
    struct ww_line *line = NULL;
    skew.design_only = true;
    enum ww_status status = ww_line_create(&line, request->stack, &trace, &request->line, error);
    if (!status)
        status = ww_skew_solve(&answer, line, &skew, error);
    if (!status) {
        const struct ww_line_summary *summary = ww_line_summary(line);
        *null = (struct ww_null){.pitch = pitch,
                                 .width = width,
                                 .worst = answer.worst,
                                 .design = fmax(answer.worst, answer.worst_with_turn),
                                 .impedance = is_pair(request) ? summary->z_diff : summary->z0,
                                 .in_width = in_width};
    }
    ww_skew_clear(&answer);
    ww_line_destroy(line);
    return status;
}

/* --- cuts and their minima ------------------------------------------------------------------------------------------------ */

/* The worst over pitch at one width, or over width at one pitch. */
struct cut {
    const struct ww_pitch_nodes *nodes;
    struct ww_pitch_row *row; /* of the one width */
    bool in_width;
    double other; /* the one that stays [m] */
    size_t count;
    double at[CUT], worst[CUT];
};

static enum ww_status cut_at(const struct cut *cut, double at, double *worst, struct ww_error *error)
{
    struct ww_pitch_row *row = NULL;
    double impedance;
    if (!cut->in_width)
        return ww_pitch_row_at(cut->row, at, worst, &impedance, error);
    enum ww_status status = ww_pitch_row_create(&row, cut->nodes, at, cut->other, cut->other, error);
    if (!status)
        status = ww_pitch_row_at(row, cut->other, worst, &impedance, error);
    ww_pitch_row_destroy(row);
    return status;
}

/* Between the ends of the request's range, as far as a pair can be built. */
static enum ww_status cut_through(struct cut *cut, const struct ww_pitch_nodes *nodes,
                                  const struct ww_pitch_request *request, bool in_width, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    double gap = ww_pitch_nodes_gap(nodes);
    double from = in_width ? request->width_from : fmax(request->pitch_from, own_width(request) + gap);
    double to = in_width ? request->width_to : request->pitch_to;
    if (in_width && is_pair(request))
        to = fmin(to, own_pitch(request) - gap);
    *cut = (struct cut){.nodes = nodes,
                        .in_width = in_width,
                        .other = in_width ? own_pitch(request) : own_width(request),
                        .count = from < to ? CUT : 0};
    if (!in_width && cut->count > 0)
        failure.status = ww_pitch_row_create(&cut->row, nodes, cut->other, from, to, error);
    if (failure.status)
        return failure.status;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < cut->count; i++) {
        struct ww_error mine = {0};
        cut->at[i] = from + (to - from) * (double)i / (CUT - 1);
        ww_failure_keep(&failure, i, cut_at(cut, cut->at[i], &cut->worst[i], &mine), &mine);
    }
    return failure.status;
}

/* The highest value between a minimum at i and the next value below it, or the end of the cut; step +1 or -1. */
static double shoulder(const struct cut *cut, size_t i, int step)
{
    double here = cut->worst[i], high = here;
    for (size_t k = i + (size_t)step; k < cut->count && cut->worst[k] >= here; k += (size_t)step)
        high = fmax(high, cut->worst[k]); /* beyond 0 the index wraps and is no longer below count */
    return high;
}

static bool is_null(const struct cut *cut, size_t i)
{
    double here = cut->worst[i];
    if (i == 0 || i + 1 == cut->count || cut->worst[i - 1] < here || cut->worst[i + 1] <= here)
        return false;
    return here < NULL_SHARE * fmin(shoulder(cut, i, -1), shoulder(cut, i, 1));
}

/* The least between the neighbours of place i, by golden sections, to half a TENTH. */
static enum ww_status descend(const struct cut *cut, size_t i, double *at, struct ww_error *error)
{
    double low = cut->at[i - 1], high = cut->at[i + 1], a = high - GOLDEN * (high - low),
           b = low + GOLDEN * (high - low), at_a, at_b;
    enum ww_status status = cut_at(cut, a, &at_a, error);
    if (!status)
        status = cut_at(cut, b, &at_b, error);
    while (!status && high - low > 0.5 * TENTH) {
        bool left = at_a <= at_b;
        *(left ? &high : &low) = left ? b : a;
        *(left ? &b : &a) = left ? a : b;
        *(left ? &at_b : &at_a) = left ? at_a : at_b;
        double *next = left ? &a : &b;
        *next = left ? high - GOLDEN * (high - low) : low + GOLDEN * (high - low);
        status = cut_at(cut, *next, left ? &at_a : &at_b, error);
    }
    *at = round(0.5 * (low + high) / TENTH) * TENTH;
    return status;
}

static enum ww_status solve_on(struct ww_null *null, const struct ww_pitch_request *request, const struct cut *cut,
                               double at, struct ww_error *error)
{
    return solve_choice(null, request, cut->in_width ? cut->other : at, cut->in_width ? at : cut->other,
                        cut->in_width, error);
}

/* Appends the nulls of one cut. */
static enum ww_status find_on(struct ww_pitch *pitch, const struct ww_pitch_request *request, const struct cut *cut,
                              struct ww_error *error)
{
    enum ww_status status = WW_OK;
    size_t room = pitch->nulls + MOST_NULLS;
    for (size_t i = 0; i < cut->count && pitch->nulls < room && !status; i++) {
        double at;
        if (!is_null(cut, i))
            continue;
        status = descend(cut, i, &at, error);
        if (!status)
            status = solve_on(&pitch->null[pitch->nulls], request, cut, at, error);
        pitch->nulls += !status;
    }
    return status;
}

/* Of the nulls in pitch of a pair, or in width of a single trace, the nearest to the study's own among those that meet the
 * budget with the tolerances; where none does, or without a budget, the one with the least design worst. NULL: none. */
static const struct ww_null *choose_null(const struct ww_pitch *pitch, const struct ww_pitch_request *request)
{
    const struct ww_null *best = NULL;
    double best_away = INFINITY, budget = request->skew.budget;
    bool best_meets = false;
    for (size_t i = 0; i < pitch->nulls; i++) {
        const struct ww_null *null = &pitch->null[i];
        bool meets = budget > 0 && null->design <= budget;
        double away =
            null->in_width ? fabs(null->width - request->trace.width) : fabs(null->pitch - request->trace.pitch);
        if (null->in_width == is_pair(request) || (best && best_meets && !meets))
            continue;
        if (best && best_meets == meets && (meets ? away >= best_away : null->design >= best->design))
            continue;
        best = null;
        best_away = away;
        best_meets = meets;
    }
    return best;
}

/* Without a null the lowest place of the cut; zeroed where no pair of that width can be built. */
static enum ww_status choose_least(struct ww_null *least, const struct ww_pitch_request *request,
                                   const struct cut *cut, struct ww_error *error)
{
    size_t lowest = 0;
    memset(least, 0, sizeof *least);
    for (size_t i = 1; i < cut->count; i++)
        lowest = cut->worst[i] < cut->worst[lowest] ? i : lowest;
    if (cut->count == 0)
        return WW_OK;
    double inwards = lowest == 0 ? ceil(cut->at[0] / TENTH - 1e-6) : floor(cut->at[lowest] / TENTH + 1e-6);
    return solve_on(least, request, cut, inwards * TENTH, error);
}

static enum ww_status find_nulls(struct ww_pitch *pitch, struct ww_null *best, const struct ww_pitch_nodes *nodes,
                                 const struct ww_pitch_request *request, struct ww_error *error)
{
    struct cut *cut = calloc(2, sizeof *cut);
    if (!cut)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a cut");
    enum ww_status status = is_pair(request) ? cut_through(&cut[0], nodes, request, false, error) : WW_OK;
    if (!status)
        status = cut_through(&cut[1], nodes, request, true, error);
    for (int i = 0; i < 2 && !status; i++)
        status = find_on(pitch, request, &cut[i], error);
    const struct ww_null *null = status ? NULL : choose_null(pitch, request);
    if (null)
        *best = *null;
    else if (!status)
        status = choose_least(best, request, &cut[is_pair(request) ? 0 : 1], error);
    ww_pitch_row_destroy(cut[0].row);
    free(cut);
    return status;
}

/* --- the map -------------------------------------------------------------------------------------------------------------- */

static int ascending(const void *one, const void *other)
{
    const double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Even between from and to, and those told among them in place of what lies next to them. Returns how many. */
static size_t spread(double *at, double from, double to, size_t count, const double *told, size_t tells)
{
    const double close = 0.25; /* of a step */
    double step = count > 1 ? (to - from) / (double)(count - 1) : 0;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        double here = i + 1 < count ? from + (double)i * step : to;
        bool beside = false;
        for (size_t k = 0; k < tells; k++)
            beside = beside || fabs(told[k] - here) < close * step;
        if (!beside || i == 0 || i + 1 == count)
            at[kept++] = here;
    }
    for (size_t k = 0; k < tells; k++) {
        bool there = !(told[k] >= from && told[k] <= to);
        for (size_t i = 0; i < kept; i++)
            there = there || at[i] == told[k];
        if (!there)
            at[kept++] = told[k];
    }
    qsort(at, kept, sizeof *at, ascending);
    return kept;
}

static enum ww_status choose_axes(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                  struct ww_error *error)
{
    double pitches[MOST_TOLD] = {request->trace.pitch}, widths[MOST_TOLD] = {request->trace.width};
    size_t in_pitch = 1, in_width = 1;
    for (size_t i = 0; i < pitch->nulls; i++)
        if (pitch->null[i].in_width)
            widths[in_width++] = pitch->null[i].width;
        else
            pitches[in_pitch++] = pitch->null[i].pitch;
    pitch->pitch = calloc(request->pitches + MOST_TOLD, sizeof *pitch->pitch);
    pitch->width = calloc(request->widths + MOST_TOLD, sizeof *pitch->width);
    if (!pitch->pitch || !pitch->width)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the axes of a map");
    pitch->pitches = is_pair(request) ? spread(pitch->pitch, request->pitch_from, request->pitch_to, request->pitches,
                                               pitches, in_pitch)
                                      : 1;
    pitch->widths = spread(pitch->width, request->width_from, request->width_to, request->widths, widths, in_width);
    size_t points = pitch->pitches * pitch->widths;
    pitch->worst = calloc(points, sizeof *pitch->worst);
    pitch->impedance = calloc(points, sizeof *pitch->impedance);
    return pitch->worst && pitch->impedance
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu choices", points);
}

/* Whether row i is solved at every place; the last is. */
static bool is_solved_row(const struct ww_pitch *pitch, size_t i)
{
    return i % STRIDE == 0 || i + 1 == pitch->widths;
}

/* Widths between the solved rows: four of these about row i, and their weights. */
struct between {
    size_t row[4];
    double cubic[4], below[3], above[3]; /* through all; through the first three; through the last three */
};

static void weigh(const double *width, const size_t *row, size_t count, double at, double *weight)
{
    for (size_t i = 0; i < count; i++) {
        weight[i] = 1;
        for (size_t k = 0; k < count; k++)
            weight[i] *= k == i ? 1 : (at - width[row[k]]) / (width[row[i]] - width[row[k]]);
    }
}

static struct between between_rows(const struct ww_pitch *pitch, size_t i)
{
    struct between b;
    size_t last = (pitch->widths - 2) / STRIDE + 1, k = i / STRIDE, first = k > 0 ? k - 1 : 0;
    first = first + 3 > last ? last - 3 : first;
    for (size_t j = 0; j < 4; j++)
        b.row[j] = first + j == last ? pitch->widths - 1 : (first + j) * STRIDE;
    weigh(pitch->width, b.row, 4, pitch->width[i], b.cubic);
    weigh(pitch->width, b.row, 3, pitch->width[i], b.below);
    weigh(pitch->width, b.row + 1, 3, pitch->width[i], b.above);
    return b;
}

/* The worst between the rows, a cubic in width; false: it is not smooth there, or no pair can be built at some of them. */
static bool interpolate(struct ww_pitch *pitch, const struct between *b, size_t i, size_t k)
{
    double worst = 0, below = 0, above = 0, impedance = 0;
    for (size_t j = 0; j < 4; j++) {
        size_t at = b->row[j] * pitch->pitches + k;
        if (pitch->worst[at] < 0)
            return false;
        worst += b->cubic[j] * pitch->worst[at];
        impedance += b->cubic[j] * pitch->impedance[at];
        below += j < 3 ? b->below[j] * pitch->worst[at] : 0;
        above += j > 0 ? b->above[j - 1] * pitch->worst[at] : 0;
    }
    if (!(fmax(fabs(below - worst), fabs(above - worst)) < SMOOTH * worst))
        return false;
    pitch->worst[i * pitch->pitches + k] = worst;
    pitch->impedance[i * pitch->pitches + k] = impedance;
    return true;
}

/* One row, whole or where the solved rows about it do not tell. */
static enum ww_status solve_row(struct ww_pitch *pitch, const struct ww_pitch_nodes *nodes, size_t i, bool whole,
                                struct ww_error *error)
{
    struct ww_pitch_row *row = NULL;
    struct between between = {0};
    enum ww_status status = WW_OK;
    if (!whole)
        between = between_rows(pitch, i);
    for (size_t k = 0; k < pitch->pitches && !status; k++) {
        size_t at = i * pitch->pitches + k;
        if (!whole && interpolate(pitch, &between, i, k))
            continue;
        if (!row)
            status = ww_pitch_row_create(&row, nodes, pitch->width[i], pitch->pitch[0],
                                         pitch->pitch[pitch->pitches - 1], error);
        if (!status)
            status = ww_pitch_row_at(row, pitch->pitch[k], &pitch->worst[at], &pitch->impedance[at], error);
    }
    ww_pitch_row_destroy(row);
    return status;
}

/* The harmonics change slowly with width, and so does the worst but for kinks where it is least: every so many rows are solved,
 * and those between where a cubic does not hold. */
static enum ww_status solve_map(struct ww_pitch *pitch, const struct ww_pitch_nodes *nodes,
                                struct ww_progress_run *progress, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    ww_progress_part(progress, SHARE_OF_MAP, pitch->widths);
    for (int between = 0; between < 2 && !failure.status; between++) {
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
        for (size_t i = 0; i < pitch->widths; i++) {
            struct ww_error mine = {0};
            bool whole = pitch->widths <= 3 * STRIDE + 1 || is_solved_row(pitch, i);
            if (whole == (between > 0))
                continue;
            ww_failure_keep(&failure, i, solve_row(pitch, nodes, i, whole, &mine), &mine);
            ww_progress_step(progress);
        }
    }
    return failure.status;
}

/* --- loss of a null ------------------------------------------------------------------------------------------------------- */

/* The correction of a line at the angles of the request, within `turn` of them instead of the request's own. */
static enum ww_status correct_line(const struct ww_line *line, const struct ww_pitch_request *request, double turn,
                                   struct ww_correction **correction, struct ww_error *error)
{
    struct ww_skew_request skew = request->skew;
    double *angle = calloc(skew.segments + 1, sizeof *angle);
    *correction = NULL;
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", skew.segments);
    skew.turn = turn;
    struct ww_correction_request wanted = ww_skew_correction(&skew, angle);
    enum ww_status status = ww_correction_create(correction, line, NULL, &wanted, error);
    free(angle);
    return status;
}

static double off_by(size_t i, double most)
{
    return most * ((double)i / (LOSS_SAMPLES / 2) - 1);
}

/* One sample of either loss. */
static enum ww_status lose(const struct ww_pitch *pitch, const struct ww_line *line,
                           const struct ww_pitch_request *request, const struct ww_correction *correction, size_t i,
                           struct ww_error *error)
{
    struct ww_skew_request skew = request->skew;
    struct ww_placements turned = {0};
    bool by_angle = i < LOSS_SAMPLES;
    skew.correction = correction;
    size_t sample = i % LOSS_SAMPLES;
    if (!by_angle)
        skew.scan.stretch[0] = skew.scan.stretch[1] = pitch->stretch[sample];
    double angle = skew.angle + (by_angle ? pitch->angle[sample] : 0);
    enum ww_status status = ww_placements_solve(&turned, line, &skew, angle, false, error);
    (by_angle ? pitch->at_angle : pitch->at_stretch)[sample] = turned.worst;
    ww_placements_clear(&turned);
    return status;
}

static enum ww_status show_loss(struct ww_pitch *pitch, const struct ww_null *null,
                                const struct ww_pitch_request *request, struct ww_progress_run *progress,
                                struct ww_error *error)
{
    if (!(null->width > 0))
        return WW_OK;
    struct ww_trace trace = {null->width, request->trace.thickness, null->pitch};
    double most_angle = fmax(LEAST_ANGLE * WW_PI / 180, 2 * request->skew.turn);
    double most_stretch = fmax(LEAST_STRETCH, 2 * fmax(request->skew.warp_tolerance, request->skew.fill_tolerance));
    struct ww_line *line = NULL;
    pitch->angle = calloc(4 * LOSS_SAMPLES, sizeof *pitch->angle);
    if (!pitch->angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the loss of a null");
    pitch->at_angle = pitch->angle + LOSS_SAMPLES;
    pitch->stretch = pitch->at_angle + LOSS_SAMPLES;
    pitch->at_stretch = pitch->stretch + LOSS_SAMPLES;
    pitch->null_pitch = null->pitch;
    pitch->null_width = null->width;
    pitch->null_with_turn = null->design;
    pitch->count = LOSS_SAMPLES;
    for (size_t i = 0; i < LOSS_SAMPLES; i++) {
        pitch->angle[i] = off_by(i, most_angle);
        pitch->stretch[i] = off_by(i, most_stretch);
    }
    struct ww_failure failure = {.error = error};
    struct ww_correction *correction = NULL;
    failure.status = ww_line_create(&line, request->stack, &trace, &request->line, error);
    if (!failure.status)
        failure.status = correct_line(line, request, most_angle, &correction, error);
    if (failure.status)
        goto done;
    ww_progress_part(progress, 1, 2 * LOSS_SAMPLES);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < 2 * LOSS_SAMPLES; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, lose(pitch, line, request, correction, i, &mine), &mine);
        ww_progress_step(progress);
    }
done:
    ww_correction_release(correction);
    ww_line_destroy(line);
    return failure.status;
}

/* --- the answer ----------------------------------------------------------------------------------------------------------- */

enum ww_status ww_pitch_solve(struct ww_pitch *pitch, const struct ww_pitch_request *request, struct ww_error *error)
{
    struct ww_progress_run progress = {.host = request->progress};
    struct ww_pitch_nodes *nodes = NULL;
    struct ww_null best = {0};
    memset(pitch, 0, sizeof *pitch);
    enum ww_status status = check(request, error);
    if (status)
        return status;
    pitch->null = calloc(2 * MOST_NULLS, sizeof *pitch->null);
    if (!pitch->null)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for nulls");
    if (!status)
        status = solve_choice(&pitch->own, request, request->trace.pitch, request->trace.width, false, error);
    if (!status)
        status = ww_pitch_nodes_create(&nodes, request, &progress, SHARE_OF_NODES, error);
    ww_progress_part(&progress, SHARE_OF_NULLS, 1);
    if (!status)
        status = find_nulls(pitch, &best, nodes, request, error);
    ww_progress_step(&progress);
    if (!status)
        status = choose_axes(pitch, request, error);
    if (!status)
        status = solve_map(pitch, nodes, &progress, error);
    if (!status)
        status = show_loss(pitch, &best, request, &progress, error);
    if (nodes)
        pitch->gap = ww_pitch_nodes_gap(nodes);
    ww_pitch_nodes_destroy(nodes);
    if (status)
        ww_pitch_clear(pitch);
    return status;
}

void ww_pitch_clear(struct ww_pitch *pitch)
{
    free(pitch->pitch);
    free(pitch->width);
    free(pitch->worst);
    free(pitch->impedance);
    free(pitch->null);
    free(pitch->angle);
    memset(pitch, 0, sizeof *pitch);
}
