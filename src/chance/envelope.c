/* envelope.c - extremes of each ply over a range of angles, and the design worst.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * With high_p(theta), low_p(theta) the extremes of ply p over all positions and stretches of its cloth,
 *   design(theta) = max( sum over p of max over |t| <= turn of high_p(theta + t),  the same of -low_p )     [s],
 * every ply at its own turn and stretch. The extremes go up and down with the angle in lobes as narrow as yarn pitch over
 * length. They are sampled STEPS_PER_LOBE times a lobe; between samples, and at the ends of the turn, a parabola through
 * three samples is taken.
 *
 * Warp and fill counts vary on their own, within sx of the warp's pitch across it and sy of the fill's. In the frame of the
 * cloth a trace at theta then runs along (sin(theta)/(1 + sx), cos(theta)/(1 + sy)): it is turned by
 *   (sy - sx)/2 sin(2 theta)     [rad],
 * most at 45 deg, not at all along a yarn. So diagonals move, as far as lobes are wide. Between two tables the turn is made
 * good by the angle: each speaks for the shears half way to its neighbours (`below`, `above`). Segments of a route turn
 * each by its own; of routes the tables alone are taken.
 *
 * The nine pairs of counts are the corners of the square of both tolerances, its centre, and half way between. Their weights
 * integrate polynomials of third degree over the square exactly. Where one tolerance is 0 there are five, by the trapezoidal
 * rule.
 */
#include "chance/envelope.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"

#define STEPS_PER_LOBE 8
#define MOST_ANGLES 40000
#define ON_SAMPLE 1e-6 /* of a step */

/* --- tables --------------------------------------------------------------------------------------------------------------- */

#define GAP 0.25 /* half of it between neighbouring shears */
static const struct ww_stretch as_woven[] = {{0, 0, 1, 0, 0}};
static const struct ww_stretch either[] = {{-1, 1, 1 / 8.0, 0, GAP},
                                           {-0.5, 0.5, 1 / 4.0, GAP, GAP},
                                           {0, 0, 1 / 4.0, GAP, GAP},
                                           {0.5, -0.5, 1 / 4.0, GAP, GAP},
                                           {1, -1, 1 / 8.0, GAP, 0}};
static const struct ww_stretch both[] = {
    {-1, -1, 1 / 24.0, 0, 0},       {-1, 1, 1 / 24.0, 0, GAP}, {-0.5, -0.5, 1 / 6.0, GAP, GAP},
    {-0.5, 0.5, 1 / 6.0, GAP, GAP}, {0, 0, 1 / 6.0, GAP, GAP}, {0.5, -0.5, 1 / 6.0, GAP, GAP},
    {0.5, 0.5, 1 / 6.0, GAP, GAP},  {1, -1, 1 / 24.0, GAP, 0}, {1, 1, 1 / 24.0, 0, 0}};
#define COUNT_OF(list) (sizeof(list) / sizeof *(list))

size_t ww_stretches_within(double warp, double fill, const struct ww_stretch **stretch)
{
    *stretch = warp > 0 && fill > 0 ? both : warp > 0 || fill > 0 ? either : as_woven;
    return *stretch == both ? COUNT_OF(both) : *stretch == either ? COUNT_OF(either) : COUNT_OF(as_woven);
}

enum ww_status ww_angle_tables_create(struct ww_angle_tables *tables, const struct ww_line *line,
                                      const struct ww_skew_request *request, double from, double to, double longest,
                                      struct ww_progress_run *progress, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *tables = (struct ww_angle_tables){0};
    tables->count = ww_stretches_within(request->warp_tolerance, request->fill_tolerance, &tables->stretch);
    tables->shear = request->segments > 1 ? 0 : 0.5 * (request->warp_tolerance + request->fill_tolerance);
    for (size_t i = 0; i < tables->count && !status; i++) {
        struct ww_skew_request here = *request;
        here.scan.stretch[0] += tables->stretch[i].warp * request->warp_tolerance;
        here.scan.stretch[1] += tables->stretch[i].fill * request->fill_tolerance;
        status = ww_angle_table_create(&tables->table[i], line, &here, from - GAP * tables->shear,
                                       to + GAP * tables->shear, longest, progress, error);
    }
    tables->spacing = request->scan.spacing;
    tables->signal = ww_judged_signal(line->mesh.pair, tables->spacing);
    if (status)
        ww_angle_tables_destroy(tables);
    return status;
}

void ww_angle_tables_destroy(struct ww_angle_tables *tables)
{
    for (size_t i = 0; i < tables->count; i++)
        ww_angle_table_destroy(tables->table[i]);
    memset(tables, 0, sizeof *tables);
}

const struct ww_angle_table *ww_angle_tables_nominal(const struct ww_angle_tables *tables)
{
    return tables->table[tables->count / 2];
}

double ww_angle_lobe(const struct ww_angle_table *table, double length)
{
    double pitch = INFINITY;
    for (size_t p = 0; p < table->plies; p++)
        pitch = fmin(pitch, 0.5 * fmin(table->ply[p].lx, table->ply[p].ly));
    return fmin(pitch / length, WW_PI); /* without a ply there are none */
}

/* --- sampling ------------------------------------------------------------------------------------------------------------- */

enum ww_status ww_envelope_init(struct ww_envelope *envelope, const struct ww_angle_tables *tables, double from,
                                double to, double turn, double length, struct ww_error *error)
{
    const struct ww_angle_table *table = ww_angle_tables_nominal(tables);
    length = tables->signal == WW_APART ? fmax(length, tables->spacing) : length;
    double step = fmax(ww_angle_lobe(table, length) / STEPS_PER_LOBE, (to - from + 2 * turn) / MOST_ANGLES);
    if (turn > 0)
        step = turn / ceil(turn / step);
    double beyond = turn + GAP * tables->shear;
    double first = floor((from - beyond) / step + ON_SAMPLE) - 1, last = ceil((to + beyond) / step - ON_SAMPLE) + 1;
    *envelope = (struct ww_envelope){.plies = table->plies,
                                     .count = (size_t)(last - first) + 1,
                                     .first = first * step,
                                     .step = step,
                                     .turn = turn,
                                     .signal = tables->signal,
                                     .spacing = tables->spacing};
    envelope->high = calloc(envelope->count * (envelope->plies + 1), sizeof *envelope->high);
    envelope->low = calloc(envelope->count * (envelope->plies + 1), sizeof *envelope->low);
    bool converts = table->modes && tables->signal == WW_SKEW;
    if (converts)
        envelope->conversion = calloc(envelope->count, sizeof *envelope->conversion);
    for (size_t i = 0; envelope->high && envelope->low && i < envelope->count * envelope->plies; i++) {
        envelope->high[i] = -INFINITY;
        envelope->low[i] = INFINITY;
    }
    return envelope->high && envelope->low && (envelope->conversion || !converts)
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", envelope->count);
}

void ww_envelope_clear(struct ww_envelope *envelope)
{
    free(envelope->high);
    free(envelope->low);
    free(envelope->conversion);
    memset(envelope, 0, sizeof *envelope);
}

double ww_envelope_angle(const struct ww_envelope *envelope, size_t index)
{
    return envelope->first + (double)index * envelope->step;
}

struct sampling {
    struct ww_envelope *envelope;
    double *high, *low; /* of one table, as in the envelope */
    struct ww_failure failure;
};

/* One angle at one stretch of the cloth. Of a pair the extremes are kept; of the delay of a trace its range, for the
 * other trace is anywhere on the same cloth. */
static void sample(void *host, struct ww_evaluator *evaluator, size_t index)
{
    struct sampling *sampling = host;
    struct ww_envelope *envelope = sampling->envelope;
    ww_evaluator_judge(evaluator, envelope->signal, envelope->spacing);
    ww_evaluator_turn(evaluator, ww_envelope_angle(envelope, index));
    double *high = sampling->high + index * envelope->plies, *low = sampling->low + index * envelope->plies;
    ww_evaluator_reaches(evaluator, 1, high, low);
    for (size_t p = 0; p < envelope->plies && envelope->signal == WW_LEG1; p++) {
        high[p] -= low[p];
        low[p] = 0;
    }
    struct ww_converted converted;
    struct ww_error mine = {0};
    if (!envelope->conversion || index % 2)
        return;
    ww_failure_keep(&sampling->failure, index, ww_evaluator_convert(evaluator, &converted, &mine), &mine);
    envelope->conversion[index] = fmax(envelope->conversion[index], converted.worst);
}

void ww_envelope_add(struct ww_envelope *envelope, const struct ww_angle_tables *tables, size_t index,
                     const double *high, const double *low)
{
    const struct ww_stretch *stretch = &tables->stretch[index];
    for (size_t i = 0; i < envelope->count; i++)
        for (size_t p = 0; p < envelope->plies; p++) {
            double theta = ww_envelope_angle(envelope, i) - tables->table[index]->ply[p].turn;
            double turned = -tables->shear * sin(2 * theta) / envelope->step; /* by a shear of 1, in samples */
            double first = ceil(fmin(-stretch->below * turned, stretch->above * turned) - ON_SAMPLE);
            double last = floor(fmax(-stretch->below * turned, stretch->above * turned) + ON_SAMPLE);
            for (double k = fmax(first, -(double)i); k <= fmin(last, (double)(envelope->count - 1 - i)); k++) {
                size_t from = (size_t)((double)i + k) * envelope->plies + p, to = i * envelope->plies + p;
                envelope->high[to] = fmax(envelope->high[to], high[from]);
                envelope->low[to] = fmin(envelope->low[to], low[from]);
            }
        }
}

/* Conversion, an amplitude without a sign, has no narrow extremes: every other angle is solved, a quarter of a lobe apart, and
 * those between are on the cubic through the four about them. */
static void fill_between(struct ww_envelope *envelope)
{
    double *v = envelope->conversion;
    size_t count = envelope->count;
    for (size_t i = 1; i < count && v; i += 2) {
        double before = v[i - 1], after = i + 1 < count ? v[i + 1] : before;
        double beyond[2] = {i > 2 ? v[i - 3] : before, i + 3 < count ? v[i + 3] : after};
        v[i] = fmax((9 * (before + after) - beyond[0] - beyond[1]) / 16, 0);
    }
}

static double turned_alike(const struct ww_envelope *envelope, size_t index)
{
    double high = 0, low = 0;
    for (size_t p = 0; p < envelope->plies; p++) {
        high += envelope->high[index * envelope->plies + p];
        low += envelope->low[index * envelope->plies + p];
    }
    return fmax(high, 0 - low);
}

enum ww_status ww_envelope_solve(struct ww_envelope *envelope, const struct ww_angle_tables *tables, double from,
                                 double to, double turn, double length, struct ww_progress_run *progress,
                                 struct ww_error *error)
{
    struct sampling sampling = {.envelope = envelope, .failure = {.error = error}};
    enum ww_status status = ww_envelope_init(envelope, tables, from, to, turn, length, error);
    size_t values = envelope->count * envelope->plies;
    if (!status)
        sampling.high = calloc(2 * values + 1, sizeof *sampling.high);
    sampling.low = sampling.high ? sampling.high + values : NULL;
    if (!status && !sampling.high)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", envelope->count);
    ww_progress_part(progress, 0.45, envelope->count * tables->count);
    for (size_t i = 0; i < tables->count && !status; i++) {
        status = ww_evaluate_all(tables->table[i], envelope->count, sample, &sampling, progress, error);
        if (!status)
            ww_envelope_add(envelope, tables, i, sampling.high, sampling.low);
    }
    if (!status)
        status = sampling.failure.status;
    free(sampling.high);
    if (status)
        ww_envelope_clear(envelope);
    fill_between(envelope);
    for (size_t i = 0; i < envelope->count; i++)
        envelope->worst = fmax(envelope->worst, turned_alike(envelope, i));
    return status;
}

/* --- the design worst ----------------------------------------------------------------------------------------------------- */

/* Maximum of sign times the parabola through the samples i-1, i, i+1 over from..to, in steps off sample i. */
static double top_of(const double *value, size_t stride, double sign, double from, double to)
{
    double before = sign * value[0], here = sign * value[stride], after = sign * value[2 * stride];
    double slope = 0.5 * (after - before), bend = before - 2 * here + after;
    double top = fmax(here + slope * from + 0.5 * bend * from * from, here + slope * to + 0.5 * bend * to * to);
    double at = bend < 0 ? -slope / bend : 0;
    return bend < 0 && at > from && at < to ? fmax(top, here - 0.5 * slope * slope / bend) : top;
}

/* Maximum of sign times value[stride i] within the turn: of each sample half a step to both sides. */
static double within_turn(const struct ww_envelope *e, const double *value, size_t stride, double angle, double sign)
{
    double first = (angle - e->turn - e->first) / e->step, last = (angle + e->turn - e->first) / e->step;
    double most = -INFINITY, last_sample = (double)e->count - 2;
    for (double i = fmin(fmax(round(first), 1), last_sample); i <= fmin(fmax(round(last), 1), last_sample); i++)
        most = fmax(most, top_of(value + ((size_t)i - 1) * stride, stride, sign, fmin(fmax(first - i, -0.5), 0.5),
                                 fmax(fmin(last - i, 0.5), -0.5)));
    return most;
}

double ww_envelope_design(const struct ww_envelope *envelope, double angle)
{
    double high = 0, low = 0;
    for (size_t p = 0; p < envelope->plies; p++) {
        high += within_turn(envelope, envelope->high + p, envelope->plies, angle, 1);
        low += within_turn(envelope, envelope->low + p, envelope->plies, angle, -1);
    }
    return fmax(fmax(high, low), 0);
}

double ww_envelope_conversion(const struct ww_envelope *envelope, double angle)
{
    return envelope->conversion ? fmin(fmax(within_turn(envelope, envelope->conversion, 1, angle, 1), 0), 1) : 0;
}

/* The angle within the turn where of(envelope, sample) is largest, by the parabola through a sample and its neighbours. */
static double largest_at(const struct ww_envelope *envelope, double angle,
                         double (*of)(const struct ww_envelope *envelope, size_t index))
{
    double best = angle, most = -INFINITY, turn = envelope->turn;
    for (size_t i = 1; i + 1 < envelope->count; i++) {
        double at = ww_envelope_angle(envelope, i), here = of(envelope, i);
        double before = of(envelope, i - 1), after = of(envelope, i + 1);
        double bend = before - 2 * here + after, slope = 0.5 * (after - before);
        double off = bend < 0 ? fmin(fmax(-slope / bend, -0.5), 0.5) * envelope->step : 0;
        at = fmin(fmax(at + off, angle - turn), angle + turn);
        double steps = (at - ww_envelope_angle(envelope, i)) / envelope->step;
        double value = here + slope * steps + 0.5 * bend * steps * steps;
        if (fabs(steps) <= 0.5 * (1 + 1e-9) && (value > most * (1 + 1e-9) || most < 0)) {
            most = value;
            best = at;
        }
    }
    double least = 1e-3 * envelope->step; /* below that the angle is rounding */
    return round(best / least) * least + 0.0;
}

double ww_envelope_worst_angle(const struct ww_envelope *envelope, double angle)
{
    return largest_at(envelope, angle, turned_alike);
}

static double conversion_of(const struct ww_envelope *envelope, size_t index)
{
    return envelope->conversion[index];
}

double ww_envelope_conversion_angle(const struct ww_envelope *envelope, double angle)
{
    return envelope->conversion ? largest_at(envelope, angle, conversion_of) : angle;
}
