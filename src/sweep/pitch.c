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
 * Every choice has its own cross-section, which takes most of the time. Its grid puts the edges of both legs on nodes and
 * is coarse where width and pitch have a large common step. So the choices of the map are multiples of one small length, in
 * even steps. The map is solved at a fraction of the line's fineness, with corrections interpolated between a few choices.
 * Its minima are then refined: beside a null the value is |linear|, two straight arms. Halve the spacing a few times,
 * extend the arms to where they cross, and solve there at the full fineness.
 */
#include "weftwise/sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "chance/placements.h"
#include "core/progress.h"

#define MAP_FINENESS 0.5     /* of the map, as a share of the line's */
#define NEXT_TO_NOTHING 0.01 /* of the largest: nulls below it are equally deep */
#define STEPS_OF_MAP 8       /* choices to the study's width: its eighths, */
#define MOST_STEPS 32        /* or finer down to this where that leaves too few between from and to: */
#define ENOUGH 0.5           /* of the choices that the finest would leave */
#define NULL_SHARE 0.5       /* a minimum counts where it is below this share of the lower of the maxima beside it */
#define HALVINGS 3           /* of the spacing, towards a null */
#define MOST_NULLS 32        /* in pitch, and in width */
#define LEAST_ANGLE 3.0      /* [deg] off the study's, to show how fast a null is lost; or twice the turn */
#define LEAST_STRETCH 0.03   /* of the cloth, likewise; or twice the tolerance of its count */
#define LOSS_SAMPLES 61      /* of either; the middle one is the study's own */
#define SHARE_OF_MAP 0.8     /* of the time, to tell progress by */
#define SHARE_OF_NULLS 0.97

static bool is_pair(const struct ww_pitch_request *request)
{
    return request->trace.pitch > 0;
}

/* --- corrections over pitch and width --------------------------------------------------------------------------------- */

enum { NODES = 3 };

/* Corrections at a few pitches of a few widths; between them quadratic in both. */
struct corrections {
    size_t widths;
    double width[NODES];
    size_t pitches[NODES]; /* of each width */
    double pitch[NODES][NODES];
    struct ww_correction *at[NODES][NODES];
};

static void corrections_clear(struct corrections *c)
{
    for (size_t w = 0; w < c->widths; w++)
        for (size_t p = 0; p < c->pitches[w]; p++)
            ww_correction_release(c->at[w][p]);
    memset(c, 0, sizeof *c);
}

/* Lagrange weights of the nodes at `at`, clamped to their range. */
static void weigh(const double *node, size_t count, double at, double *weight)
{
    at = fmin(fmax(at, node[0]), node[count - 1]);
    for (size_t i = 0; i < count; i++) {
        weight[i] = 1;
        for (size_t k = 0; k < count; k++)
            weight[i] *= k == i ? 1 : (at - node[k]) / (node[i] - node[k]);
    }
}

static enum ww_status correction_between(const struct corrections *c, double pitch, double width,
                                         struct ww_correction **correction, struct ww_error *error)
{
    double of_width[NODES], of_pitch[NODES], weight[NODES * NODES];
    const struct ww_correction *of[NODES * NODES];
    size_t count = 0;
    *correction = NULL;
    if (c->widths == 0)
        return WW_OK;
    weigh(c->width, c->widths, width, of_width);
    for (size_t w = 0; w < c->widths; w++) {
        weigh(c->pitch[w], c->pitches[w], pitch, of_pitch);
        for (size_t p = 0; p < c->pitches[w]; p++) {
            of[count] = c->at[w][p];
            weight[count++] = of_width[w] * of_pitch[p];
        }
    }
    return ww_correction_blend(correction, of, weight, count, error);
}

/* --- one choice ------------------------------------------------------------------------------------------------------ */

/* What one cross-section gives. */
struct given {
    double pitch; /* the one solved [m]; 0: a single trace */
    double worst, impedance;
};

static struct ww_trace trace_of(const struct ww_pitch_request *request, double pitch, double width)
{
    return (struct ww_trace){.width = width, .thickness = request->trace.thickness, .pitch = pitch};
}

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

/* With the correction interpolated on the map; corrections NULL: with its own, as in ww_skew_solve. */
static enum ww_status solve_choice(const struct ww_pitch_request *request, const struct corrections *corrections,
                                   double pitch, double width, double fineness, struct given *given,
                                   struct ww_error *error)
{
    struct ww_trace trace = trace_of(request, pitch, width);
    struct ww_line_options options = {.fineness = fineness, .frequency = request->line.frequency};
    struct ww_skew_request skew = request->skew;
    struct ww_placements placements = {0};
    struct ww_correction *correction = NULL;
    struct ww_line *line = NULL;
    enum ww_status status = ww_line_create(&line, request->stack, &trace, &options, error);
    if (!status)
        status = corrections ? correction_between(corrections, pitch, width, &correction, error)
                             : correct_line(line, request, 0, &correction, error);
    skew.correction = correction;
    if (!status)
        status = ww_placements_solve(&placements, line, &skew, request->skew.angle, false, error);
    if (!status) {
        const struct ww_line_summary *summary = ww_line_summary(line);
        *given = (struct given){summary->pitch, placements.worst, pitch > 0 ? summary->z_diff : summary->z0};
    }
    ww_placements_clear(&placements);
    ww_correction_release(correction);
    ww_line_destroy(line);
    return status;
}

static double full_fineness(const struct ww_pitch_request *request)
{
    return request->line.fineness > 0 ? request->line.fineness : 1;
}

/* --- the choices ------------------------------------------------------------------------------------------------------ */

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
    if (pitches > WW_SWEEP_MOST || widths > WW_SWEEP_MOST / pitches)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu pitches by %zu widths are more than %d points", pitches,
                            widths, WW_SWEEP_MOST);
    return WW_OK;
}

/* Choices of a width or a pitch: first, and on in even steps. */
struct choices {
    double first, step;
    size_t count;
};

/* Even between from and to. */
static struct choices spread(double from, double to, size_t count)
{
    return (struct choices){from, count > 1 ? (to - from) / (double)(count - 1) : 0, count};
}

/* The same with first and step multiples of `grid`: at most `count` of them, `through` among them where it is a multiple
 * itself. Where there is none within the range, the one nearest to it. */
static struct choices spread_on(double grid, double from, double to, size_t count, double through)
{
    const double slack = 1e-6;
    double least = ceil(from / grid - slack), most = floor(to / grid + slack), anchor = round(through / grid);
    if (most < least)
        return (struct choices){fmax(round(0.5 * (from + to) / grid), 1) * grid, 0, 1};
    double stride = count > 1 ? fmax(ceil((to - from) / (double)(count - 1) / grid - slack), 1) : most - least + 1;
    double first = anchor - stride * floor((anchor - least) / stride);
    return (struct choices){first * grid, stride * grid, (size_t)fmax(floor((most - first) / stride), 0) + 1};
}

/* Those on the grid of the study's own width over `steps`; the own width is among them, where it is within the range. */
static void choose_by(const struct ww_pitch_request *r, size_t steps, struct choices *pitches, struct choices *widths)
{
    bool within = r->trace.width >= r->width_from && r->trace.width <= r->width_to;
    double own = within ? r->trace.width : r->width_from, grid = own / (double)steps;
    *widths = spread_on(grid, r->width_from, r->width_to, r->widths, own);
    *pitches = spread_on(grid, r->pitch_from, r->pitch_to, r->pitches, r->trace.pitch);
}

/* The coarsest grid of lengths that leaves enough choices. */
static void choose_on_grid(const struct ww_pitch_request *r, struct choices *pitches, struct choices *widths)
{
    struct choices most_pitches, most_widths;
    choose_by(r, MOST_STEPS, &most_pitches, &most_widths);
    for (size_t steps = STEPS_OF_MAP; steps <= MOST_STEPS; steps *= 2) {
        choose_by(r, steps, pitches, widths);
        if ((double)pitches->count >= ENOUGH * (double)most_pitches.count &&
            (double)widths->count >= ENOUGH * (double)most_widths.count)
            break;
    }
}

static void list(const struct choices *choices, double *values)
{
    for (size_t i = 0; i < choices->count; i++)
        values[i] = choices->first + (double)i * choices->step;
}

static enum ww_status choose_axes(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                  struct ww_error *error)
{
    struct choices pitches = {0, 0, 1}, widths = spread(request->width_from, request->width_to, request->widths);
    if (is_pair(request))
        choose_on_grid(request, &pitches, &widths);
    size_t points = pitches.count * widths.count;
    pitch->pitch = calloc(pitches.count, sizeof *pitch->pitch);
    pitch->width = calloc(widths.count, sizeof *pitch->width);
    pitch->worst = calloc(points, sizeof *pitch->worst);
    pitch->impedance = calloc(points, sizeof *pitch->impedance);
    pitch->null = calloc(2 * MOST_NULLS, sizeof *pitch->null);
    pitch->angle = calloc(4 * LOSS_SAMPLES, sizeof *pitch->angle);
    if (!pitch->pitch || !pitch->width || !pitch->worst || !pitch->impedance || !pitch->null || !pitch->angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu choices", points);
    pitch->at_angle = pitch->angle + LOSS_SAMPLES;
    pitch->stretch = pitch->at_angle + LOSS_SAMPLES;
    pitch->at_stretch = pitch->stretch + LOSS_SAMPLES;
    list(&pitches, pitch->pitch);
    list(&widths, pitch->width);
    pitch->pitches = pitches.count;
    pitch->widths = widths.count;
    pitch->map_fineness = MAP_FINENESS * full_fineness(request);
    return WW_OK;
}

/* --- the map ---------------------------------------------------------------------------------------------------------- */

/* No more than there is work; where there is but one segment, its own loops have the threads. */
static int threads_for(size_t segments)
{
    return segments < (size_t)ww_threads() ? (int)segments : ww_threads();
}

static bool legs_touch(double pitch, double width)
{
    return pitch > 0 && pitch < width * (1 + 1e-9);
}

/* First, last and middle of `count` choices, each once. */
static size_t choose_nodes(size_t count, size_t index[NODES])
{
    size_t nodes = count < NODES ? count : NODES;
    for (size_t i = 0; i < nodes; i++)
        index[i] = nodes > 1 ? i * (count - 1) / (nodes - 1) : 0;
    return nodes;
}

static enum ww_status solve_correction(const struct ww_pitch_request *request, double fineness, double pitch,
                                       double width, struct ww_correction **correction, struct ww_error *error)
{
    struct ww_trace trace = trace_of(request, pitch, width);
    struct ww_line_options options = {.fineness = fineness};
    struct ww_line *line = NULL;
    enum ww_status status = ww_line_create(&line, request->stack, &trace, &options, error);
    if (!status)
        status = correct_line(line, request, 0, correction, error);
    ww_line_destroy(line);
    return status;
}

static enum ww_status solve_corrections(struct corrections *c, const struct ww_pitch *pitch,
                                        const struct ww_pitch_request *request, struct ww_error *error)
{
    size_t width[NODES], widths = choose_nodes(pitch->widths, width);
    enum ww_status status = WW_OK;
    if (request->skew.sections == 0)
        return WW_OK;
    for (size_t w = 0; w < widths && !status; w++) {
        size_t first = 0, at[NODES];
        while (first < pitch->pitches && legs_touch(pitch->pitch[first], pitch->width[width[w]]))
            first++;
        if (first == pitch->pitches) /* no pair of this width */
            continue;
        size_t row = c->widths++, pitches = choose_nodes(pitch->pitches - first, at);
        c->width[row] = pitch->width[width[w]];
        for (size_t p = 0; p < pitches && !status; p++) {
            c->pitch[row][p] = pitch->pitch[first + at[p]];
            c->pitches[row]++;
            status = solve_correction(request, pitch->map_fineness, c->pitch[row][p], c->width[row], &c->at[row][p],
                                      error);
        }
    }
    return status;
}

static enum ww_status solve_map(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                const struct corrections *corrections, struct ww_progress_run *progress,
                                struct ww_error *error)
{
    size_t points = pitch->pitches * pitch->widths;
    struct ww_failure failure = {.error = error};
    ww_progress_part(progress, SHARE_OF_MAP, points);
#ifdef _OPENMP
#pragma omp parallel for num_threads(threads_for(points)) schedule(dynamic)
#endif
    for (size_t i = 0; i < points; i++) {
        struct ww_error mine = {0};
        struct given given = {0, -1, -1};
        enum ww_status failed = WW_OK;
        double p = pitch->pitch[i % pitch->pitches], w = pitch->width[i / pitch->pitches];
        if (!legs_touch(p, w))
            failed = solve_choice(request, corrections, p, w, pitch->map_fineness, &given, &mine);
        pitch->worst[i] = given.worst;
        pitch->impedance[i] = given.impedance;
        ww_failure_keep(&failure, i, failed, &mine);
        ww_progress_step(progress);
    }
    return failure.status;
}

/* --- its minima ------------------------------------------------------------------------------------------------------- */

/* A line through the map, in pitch or in width. */
struct cut {
    const double *at, *worst;
    size_t count, stride; /* of worst */
};

static double value_of(const struct cut *cut, size_t i)
{
    return cut->worst[i * cut->stride];
}

/* The highest value between a minimum at i and the next value below it, or the end of the cut; step +1 or -1. */
static double shoulder(const struct cut *cut, size_t i, int step)
{
    double here = value_of(cut, i), high = here;
    for (size_t k = i + (size_t)step; k < cut->count && value_of(cut, k) >= here; k += (size_t)step)
        high = fmax(high, value_of(cut, k)); /* beyond 0 the index wraps and is no longer below count */
    return high;
}

static bool is_null(const struct cut *cut, size_t i)
{
    double here = value_of(cut, i);
    if (i == 0 || i + 1 == cut->count || here < 0 || value_of(cut, i - 1) < here || value_of(cut, i + 1) <= here)
        return false;
    return here < NULL_SHARE * fmin(shoulder(cut, i, -1), shoulder(cut, i, 1));
}

/* A place to refine: in pitch at one width, or in width at one pitch. */
struct descent {
    const struct corrections *corrections;
    bool in_width;
    double at, other;
    double left, right, left_worst, right_worst, worst; /* beside, and at, the place */
};

/* At the map's fineness with its corrections; in_full: as in ww_skew_solve. */
static enum ww_status descend_to(const struct descent *descent, const struct ww_pitch_request *request, double at,
                                 bool in_full, struct given *given, struct ww_error *error)
{
    double pitch = descent->in_width ? descent->other : at, width = descent->in_width ? at : descent->other;
    double fineness = (in_full ? 1 : MAP_FINENESS) * full_fineness(request);
    return solve_choice(request, in_full ? NULL : descent->corrections, pitch, width, fineness, given, error);
}

/* Halves the spacing: the lowest of the middle and the two new places is the next middle. */
static enum ww_status halve(struct descent *d, const struct ww_pitch_request *request, struct ww_error *error)
{
    double before = 0.5 * (d->left + d->at), after = 0.5 * (d->at + d->right);
    struct given at_before = {0}, at_after = {0};
    enum ww_status status = descend_to(d, request, before, false, &at_before, error);
    if (!status)
        status = descend_to(d, request, after, false, &at_after, error);
    if (status)
        return status;
    double before_worst = at_before.worst, after_worst = at_after.worst;
    if (before_worst < d->worst && before_worst <= after_worst) {
        d->right = d->at;
        d->right_worst = d->worst;
        d->at = before;
        d->worst = before_worst;
    } else if (after_worst < d->worst) {
        d->left = d->at;
        d->left_worst = d->worst;
        d->at = after;
        d->worst = after_worst;
    } else {
        d->left = before;
        d->left_worst = before_worst;
        d->right = after;
        d->right_worst = after_worst;
    }
    return WW_OK;
}

/* Zero of |linear| from three values: the lower of the two outer values is on the other arm than the middle. */
static double crossing(const struct descent *d)
{
    double at = d->at;
    if (d->left_worst < d->right_worst && d->right_worst > d->worst)
        at = d->at - d->worst * (d->right - d->at) / (d->right_worst - d->worst);
    else if (d->left_worst > d->worst)
        at = d->at + d->worst * (d->at - d->left) / (d->left_worst - d->worst);
    return fmin(fmax(at, d->left), d->right);
}

static enum ww_status refine(struct ww_null *null, const struct ww_pitch_request *request, struct descent d,
                             struct ww_error *error)
{
    double place[2];
    struct given given[2] = {{0}};
    enum ww_status status = WW_OK;
    for (int i = 0; i < HALVINGS && !status; i++)
        status = halve(&d, request, error);
    place[0] = d.at;
    place[1] = crossing(&d);
    for (int i = 0; i < 2 && !status; i++)
        status = descend_to(&d, request, place[i], true, &given[i], error);
    int least = given[1].worst < given[0].worst;
    *null = (struct ww_null){.pitch = given[least].pitch,
                             .width = d.in_width ? place[least] : d.other,
                             .worst = given[least].worst,
                             .impedance = given[least].impedance,
                             .in_width = d.in_width};
    return status;
}

static struct descent descent_from(const struct cut *cut, const struct corrections *corrections, size_t i,
                                   bool in_width, double other)
{
    return (struct descent){.corrections = corrections,
                            .in_width = in_width,
                            .at = cut->at[i],
                            .other = other,
                            .left = cut->at[i - 1],
                            .right = cut->at[i + 1],
                            .left_worst = value_of(cut, i - 1),
                            .right_worst = value_of(cut, i + 1),
                            .worst = value_of(cut, i)};
}

static size_t nearest(const double *values, size_t count, double to)
{
    size_t best = 0;
    for (size_t i = 1; i < count; i++)
        if (fabs(values[i] - to) < fabs(values[best] - to))
            best = i;
    return best;
}

/* In pitch at the choice of width nearest to the study's, and in width at the choice of pitch nearest to it. What cannot
 * be built comes first in a row, and last in a column. */
static struct cut cut_through(const struct ww_pitch *pitch, const struct ww_pitch_request *request, bool in_width)
{
    size_t first = 0;
    size_t column = nearest(pitch->pitch, pitch->pitches, request->trace.pitch);
    size_t row = nearest(pitch->width, pitch->widths, request->trace.width);
    struct cut cut = in_width ? (struct cut){pitch->width, pitch->worst + column, pitch->widths, pitch->pitches}
                              : (struct cut){pitch->pitch, pitch->worst + row * pitch->pitches, pitch->pitches, 1};
    while (first < cut.count && value_of(&cut, first) < 0)
        first++;
    while (cut.count > first && value_of(&cut, cut.count - 1) < 0)
        cut.count--;
    cut.at += first;
    cut.worst += first * cut.stride;
    cut.count -= first;
    return cut;
}

/* Appends the descents of one cut. */
static size_t find(const struct ww_pitch *pitch, const struct ww_pitch_request *request,
                   const struct corrections *corrections, bool in_width, struct descent *descent)
{
    size_t found = 0;
    struct cut cut = cut_through(pitch, request, in_width);
    double other = in_width ? pitch->pitch[nearest(pitch->pitch, pitch->pitches, request->trace.pitch)]
                            : pitch->width[nearest(pitch->width, pitch->widths, request->trace.width)];
    for (size_t i = 0; i < cut.count && found < MOST_NULLS; i++)
        if (is_null(&cut, i))
            descent[found++] = descent_from(&cut, corrections, i, in_width, other);
    return found;
}

static enum ww_status find_nulls(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                 const struct corrections *corrections, struct ww_progress_run *progress,
                                 struct ww_error *error)
{
    struct descent descent[2 * MOST_NULLS];
    size_t count = is_pair(request) ? find(pitch, request, corrections, false, descent) : 0;
    count += find(pitch, request, corrections, true, descent + count);
    struct ww_failure failure = {.error = error};
    if (count == 0)
        return WW_OK;
    ww_progress_part(progress, SHARE_OF_NULLS, count);
#ifdef _OPENMP
#pragma omp parallel for num_threads(threads_for(count)) schedule(dynamic)
#endif
    for (size_t i = 0; i < count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, refine(&pitch->null[i], request, descent[i], &mine), &mine);
        ww_progress_step(progress);
    }
    pitch->nulls = count;
    return failure.status;
}

/* --- loss of a null --------------------------------------------------------------------------------------------------- */

/* The deepest null in pitch of a pair, in width of a single trace. Nulls below NEXT_TO_NOTHING are equally deep: of those the
 * nearest to the study's own. Without a null the lowest choice at the study's width; zeroed where no pair of that width can
 * be built. */
static struct ww_null deepest(const struct ww_pitch *pitch, const struct ww_pitch_request *request)
{
    struct ww_null best = {.worst = INFINITY};
    bool in_width = !is_pair(request);
    struct cut cut = cut_through(pitch, request, in_width);
    double nothing = 0, nearby = INFINITY;
    for (size_t i = 0; i < cut.count; i++)
        nothing = fmax(nothing, NEXT_TO_NOTHING * value_of(&cut, i));
    for (size_t i = 0; i < pitch->nulls; i++) {
        const struct ww_null *null = &pitch->null[i];
        double left = fmax(null->worst, nothing);
        double away = in_width ? fabs(null->width - request->trace.width) : fabs(null->pitch - request->trace.pitch);
        if (null->in_width != in_width || left > best.worst || (left == best.worst && away >= nearby))
            continue;
        best = *null;
        best.worst = left;
        nearby = away;
    }
    if (best.worst < INFINITY)
        return best;
    size_t least = 0;
    if (cut.count == 0)
        return (struct ww_null){0};
    for (size_t i = 1; i < cut.count; i++)
        if (value_of(&cut, i) < value_of(&cut, least))
            least = i;
    double width = pitch->width[nearest(pitch->width, pitch->widths, request->trace.width)];
    return (struct ww_null){.pitch = in_width ? 0 : cut.at[least], .width = in_width ? cut.at[least] : width};
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

/* The worst at the null with the request's turn of the cloth. */
static enum ww_status turn_null(struct ww_pitch *pitch, const struct ww_line *line,
                                const struct ww_pitch_request *request, const struct ww_correction *correction,
                                struct ww_error *error)
{
    struct ww_skew_request skew = request->skew;
    struct ww_skew answer = {0};
    skew.correction = correction;
    enum ww_status status = ww_skew_solve(&answer, line, &skew, error);
    pitch->null_with_turn = answer.worst_with_turn;
    ww_skew_clear(&answer);
    return status;
}

static enum ww_status show_loss(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                struct ww_progress_run *progress, struct ww_error *error)
{
    struct ww_null null = deepest(pitch, request);
    if (!(null.width > 0))
        return WW_OK;
    struct ww_trace trace = {null.width, request->trace.thickness, null.pitch};
    double most_angle = fmax(LEAST_ANGLE * WW_PI / 180, 2 * request->skew.turn);
    double most_stretch = fmax(LEAST_STRETCH, 2 * fmax(request->skew.warp_tolerance, request->skew.fill_tolerance));
    struct ww_line *line = NULL;
    pitch->null_pitch = null.pitch;
    pitch->null_width = null.width;
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
    if (!failure.status)
        failure.status = turn_null(pitch, line, request, correction, error);
done:
    ww_correction_release(correction);
    ww_line_destroy(line);
    return failure.status;
}

/* The study's own choice, as in ww_skew_solve. */
static enum ww_status solve_own(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                struct ww_error *error)
{
    struct given given = {0};
    enum ww_status status = solve_choice(request, NULL, request->trace.pitch, request->trace.width,
                                         full_fineness(request), &given, error);
    pitch->own = (struct ww_null){
        .pitch = given.pitch, .width = request->trace.width, .worst = given.worst, .impedance = given.impedance};
    return status;
}

/* --- the answer ------------------------------------------------------------------------------------------------------- */

enum ww_status ww_pitch_solve(struct ww_pitch *pitch, const struct ww_pitch_request *request, struct ww_error *error)
{
    struct ww_progress_run progress = {.host = request->progress};
    struct corrections corrections = {0};
    memset(pitch, 0, sizeof *pitch);
    enum ww_status status = check(request, error);
    if (!status)
        status = choose_axes(pitch, request, error);
    if (!status)
        status = solve_own(pitch, request, error);
    if (!status)
        status = solve_corrections(&corrections, pitch, request, error);
    if (!status)
        status = solve_map(pitch, request, &corrections, &progress, error);
    if (!status)
        status = find_nulls(pitch, request, &corrections, &progress, error);
    if (!status)
        status = show_loss(pitch, request, &progress, error);
    corrections_clear(&corrections);
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
