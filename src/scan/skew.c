/* skew.c - the whole answer for a straight trace or pair.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Extremes are searched on the map and refined on the harmonics. Worst cases of plies add, their distributions
 * convolve. The cloth lies off square by an unknown angle up to `turn`, each ply on its own: the worst over that
 * tolerance is the sum over plies of each one's worst over it.
 */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "scan/chance.h"
#include "scan/delay.h"

#define BINS 4096.0          /* over the whole range of the value */
#define REFINEMENTS 4        /* parabolas, each on a quarter of the last one's step */
#define TURN_POSITIONS 128   /* positions across of the maps tried over the turn */
#define ANGLES_PER_LOBE 4.0  /* angles tried per first null of the slowest harmonic, pitch/length */
#define MOST_TURN_ANGLES 241 /* at most, over the whole tolerance */

/* One step to the vertex of a parabola through three values half a step apart on either side; 0 if there is none. */
static double vertex(double before, double here, double after, double step)
{
    double bend = before - 2 * here + after, slope = 0.5 * (after - before);
    if (fabs(bend) < 1e-12 * (fabs(before) + fabs(after)) + DBL_MIN)
        return 0;
    double move = -slope / bend;
    return fabs(move) > 1 ? 0 : move * step;
}

static void refine(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate e, double length,
                   double *work, struct ww_extreme *extreme, double sign)
{
    double dx = scan->ply[ply].lx / (double)scan->positions, dy = scan->ply[ply].ly / (double)scan->positions;
    extreme->value = ww_scan_value_at(scan, ply, signal, e, length, extreme->x, extreme->y, work);
    for (int i = 0; i < REFINEMENTS; i++, dx *= 0.25, dy *= 0.25) {
        double x = extreme->x, y = extreme->y, here = extreme->value;
        double left = ww_scan_value_at(scan, ply, signal, e, length, x - dx, y, work);
        double right = ww_scan_value_at(scan, ply, signal, e, length, x + dx, y, work);
        double below = ww_scan_value_at(scan, ply, signal, e, length, x, y - dy, work);
        double above = ww_scan_value_at(scan, ply, signal, e, length, x, y + dy, work);
        x += vertex(left, here, right, dx);
        y += vertex(below, here, above, dy);
        double value = ww_scan_value_at(scan, ply, signal, e, length, x, y, work);
        if (sign * value > sign * here)
            *extreme = (struct ww_extreme){x, y, value};
    }
    extreme->x -= scan->ply[ply].lx * floor(extreme->x / scan->ply[ply].lx);
    extreme->y -= scan->ply[ply].ly * floor(extreme->y / scan->ply[ply].ly);
}

static void search(const struct ww_map *map, struct ww_extreme *high, struct ww_extreme *low)
{
    size_t at_high = 0, at_low = 0;
    for (size_t i = 1; i < map->nx * map->ny; i++) {
        if (map->value[i] > map->value[at_high])
            at_high = i;
        if (map->value[i] < map->value[at_low])
            at_low = i;
    }
    size_t at[2] = {at_high, at_low};
    struct ww_extreme *extreme[2] = {high, low};
    for (int e = 0; e < 2; e++)
        *extreme[e] =
            (struct ww_extreme){((double)(at[e] % map->nx) + 0.5) * map->lx / (double)map->nx,
                                ((double)(at[e] / map->nx) + 0.5) * map->ly / (double)map->ny, map->value[at[e]]};
}

static enum ww_status extremes_of_map(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                      enum ww_estimate e, double length, const struct ww_map *map,
                                      struct ww_extreme *high, struct ww_extreme *low, struct ww_error *error)
{
    double *work = calloc(2 * ww_scan_work_size(scan, ply), sizeof *work);
    if (!work)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory to refine an extreme");
    search(map, high, low);
    refine(scan, ply, signal, e, length, work, high, 1);
    refine(scan, ply, signal, e, length, work, low, -1);
    free(work);
    return WW_OK;
}

enum ww_status ww_scan_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                enum ww_estimate estimate, double length, struct ww_extreme *high,
                                struct ww_extreme *low, struct ww_error *error)
{
    struct ww_map map = {0};
    memset(high, 0, sizeof *high);
    memset(low, 0, sizeof *low);
    enum ww_status status = ww_scan_map(scan, ply, signal, estimate, length, &map, error);
    if (!status)
        status = extremes_of_map(scan, ply, signal, estimate, length, &map, high, low, error);
    ww_map_clear(&map);
    return status;
}

/* What a design is judged by: the worst |skew| of a pair, or the spread of a single trace. */
static double judged(bool pair, double high, double low)
{
    return pair ? fmax(high, -low) : high - low;
}

/* Worst of the bounds: sums over plies of refined extremes of one estimate. */
static enum ww_status worst_of(const struct ww_scan *scan, enum ww_estimate e, double length, double *worst,
                               struct ww_error *error)
{
    bool pair = scan->line->mesh.pair;
    double high = 0, low = 0;
    for (size_t p = 0; p < scan->line->stack->plies; p++) {
        struct ww_extreme h, l;
        enum ww_status status = ww_scan_extremes(scan, p, pair ? WW_SKEW : WW_LEG1, e, length, &h, &l, error);
        if (status)
            return status;
        high += h.value;
        low += l.value;
    }
    *worst = judged(pair, high, low);
    return WW_OK;
}

static enum ww_status distribute(struct ww_skew *skew, struct ww_error *error)
{
    double range = 0;
    for (size_t p = 0; p < skew->plies; p++)
        range += skew->high[p].value - skew->low[p].value;
    double step = range > 0 ? range / BINS : 1e-21;
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < skew->plies && !status; p++) {
        struct ww_distribution one = {0}, sum = {0};
        status = ww_distribution_of_map(&one, skew->map[p].value, skew->map[p].nx * skew->map[p].ny, step, error);
        if (!status && p > 0)
            status = ww_distribution_combine(&skew->distribution, &one, 1, &sum, error);
        if (p == 0)
            skew->distribution = one;
        else {
            ww_distribution_clear(&skew->distribution);
            ww_distribution_clear(&one);
            skew->distribution = sum;
        }
    }
    return status;
}

/* Chance to exceed the budget: of a pair by its skew, of two equal single traces by their difference. */
static enum ww_status chance(struct ww_skew *skew, double budget, struct ww_error *error)
{
    if (budget <= 0 || skew->distribution.count == 0)
        return WW_OK;
    if (skew->pair) {
        skew->over_budget = ww_distribution_exceed(&skew->distribution, budget);
        return WW_OK;
    }
    struct ww_distribution difference = {0};
    enum ww_status status = ww_distribution_combine(&skew->distribution, &skew->distribution, -1, &difference, error);
    if (!status)
        skew->over_budget = ww_distribution_exceed(&difference, budget);
    ww_distribution_clear(&difference);
    return status;
}

/* Largest over the turn, ply by ply; the angle where the plies turned alike add to the most. */
static enum ww_status over_turn(struct ww_skew *skew, const struct ww_line *line,
                                const struct ww_skew_request *request, struct ww_error *error)
{
    skew->worst_with_turn = skew->pair ? skew->worst : skew->spread;
    skew->worst_angle = request->angle;
    if (request->turn <= 0 || skew->plies == 0)
        return WW_OK;
    double pitch = INFINITY;
    for (size_t p = 0; p < skew->plies; p++)
        pitch = fmin(pitch, 0.5 * fmin(line->harmonics[p].lx, line->harmonics[p].ly));
    double fine = request->length > 0 ? pitch / (ANGLES_PER_LOBE * request->length) : request->turn;
    double each_side = ceil(fmin(fmax(request->turn / fine, 4), (MOST_TURN_ANGLES - 1) / 2));
    skew->turn_angle_step = request->turn / each_side;

    double *high = calloc(2 * skew->plies, sizeof *high), *low = high + skew->plies, most = skew->worst_with_turn;
    if (!high)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", skew->plies);
    for (size_t p = 0; p < skew->plies; p++) {
        high[p] = skew->high[p].value;
        low[p] = skew->low[p].value;
    }
    struct ww_scan_options options = {TURN_POSITIONS, request->scan.averaging};
    enum ww_status status = WW_OK;
    for (int i = -(int)each_side; i <= (int)each_side && !status; i++) {
        double angle = request->angle + i * skew->turn_angle_step, together_high = 0, together_low = 0;
        struct ww_scan *scan = NULL;
        status = i ? ww_scan_create(&scan, line, angle, &options, error) : WW_OK;
        for (size_t p = 0; i && p < skew->plies && !status; p++) {
            struct ww_map map = {0};
            struct ww_extreme h, l;
            status = ww_scan_map(scan, p, skew->pair ? WW_SKEW : WW_LEG1, WW_MEAN, request->length, &map, error);
            if (!status) {
                search(&map, &h, &l);
                high[p] = fmax(high[p], h.value);
                low[p] = fmin(low[p], l.value);
                together_high += h.value;
                together_low += l.value;
            }
            ww_map_clear(&map);
        }
        ww_scan_destroy(scan);
        if (judged(skew->pair, together_high, together_low) > most) {
            most = judged(skew->pair, together_high, together_low);
            skew->worst_angle = angle;
        }
    }
    double sum_high = 0, sum_low = 0;
    for (size_t p = 0; p < skew->plies; p++) {
        sum_high += high[p];
        sum_low += low[p];
    }
    skew->worst_with_turn = judged(skew->pair, sum_high, sum_low);
    free(high);
    return status;
}

static enum ww_status check(const struct ww_skew_request *request, struct ww_error *error)
{
    if (!(request->length > 0 && request->length <= 100))
        return ww_error_set(error, WW_INVALID, NULL, 0, "length %g m is outside (0, 100] m", request->length);
    if (!(fabs(request->angle) <= 2 * WW_PI) || !(request->turn >= 0 && request->turn <= 0.25 * WW_PI))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "angle %g deg must lie within 360 deg, turn %g deg in [0, 45] deg",
                            request->angle * 180 / WW_PI, request->turn * 180 / WW_PI);
    if (!(request->budget >= 0) || !(request->frequency >= 0) || !(request->rate >= 0))
        return ww_error_set(error, WW_INVALID, NULL, 0, "budget, frequency and rate must not be negative");
    return WW_OK;
}

enum ww_status ww_skew_solve(struct ww_skew *skew, const struct ww_line *line, const struct ww_skew_request *request,
                             struct ww_error *error)
{
    memset(skew, 0, sizeof *skew);
    struct ww_scan *scan = NULL;
    enum ww_status status = check(request, error);
    if (status)
        return status;
    size_t plies = line->stack->plies;
    double length = request->length;
    skew->pair = line->mesh.pair;
    skew->plies = plies;
    skew->map = calloc(plies + 1, sizeof *skew->map);
    skew->high = calloc(plies + 1, sizeof *skew->high);
    skew->low = calloc(plies + 1, sizeof *skew->low);
    if (!skew->map || !skew->high || !skew->low) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
        goto done;
    }
    status = ww_scan_create(&scan, line, request->angle, &request->scan, error);

    double high = 0, low = 0, leg_high = 0, leg_low = 0;
    enum ww_signal signal = skew->pair ? WW_SKEW : WW_LEG1;
    for (size_t p = 0; p < plies && !status; p++) {
        status = ww_scan_map(scan, p, signal, WW_MEAN, length, &skew->map[p], error);
        if (!status)
            status = extremes_of_map(scan, p, signal, WW_MEAN, length, &skew->map[p], &skew->high[p], &skew->low[p],
                                     error);
        high += skew->high[p].value;
        low += skew->low[p].value;
        struct ww_extreme h = skew->high[p], l = skew->low[p];
        if (skew->pair && !status)
            status = ww_scan_extremes(scan, p, WW_LEG1, WW_MEAN, length, &h, &l, error);
        leg_high += h.value;
        leg_low += l.value;
    }
    if (!status)
        status = worst_of(scan, WW_UPPER, length, &skew->worst_upper, error);
    if (!status)
        status = worst_of(scan, WW_LOWER, length, &skew->worst_lower, error);
    if (status)
        goto done;
    skew->mean_delay = ww_scan_mean_delay(scan, WW_LEG1, length);
    skew->fastest = skew->mean_delay + leg_low;
    skew->slowest = skew->mean_delay + leg_high;
    skew->spread = leg_high - leg_low;
    skew->worst = judged(skew->pair, high, low);

    status = distribute(skew, error);
    if (!status)
        status = chance(skew, request->budget, error);
    if (!status)
        status = over_turn(skew, line, request, error);
    if (status)
        goto done;
    skew->median = fmin(ww_distribution_quantile(&skew->distribution, 0.5), skew->worst);
    skew->p95 = fmin(ww_distribution_quantile(&skew->distribution, 0.95), skew->worst);
    skew->p99 = fmin(ww_distribution_quantile(&skew->distribution, 0.99), skew->worst);
    skew->deviation = ww_distribution_deviation(&skew->distribution);
    skew->worst_degrees = 360 * request->frequency * skew->worst;
    skew->spread_degrees = 360 * request->frequency * skew->spread;
    skew->unit_interval_share = request->rate * skew->worst;
done:
    ww_scan_destroy(scan);
    if (status)
        ww_skew_clear(skew);
    return status;
}

void ww_skew_clear(struct ww_skew *skew)
{
    for (size_t p = 0; skew->map && p < skew->plies; p++)
        ww_map_clear(&skew->map[p]);
    free(skew->map);
    free(skew->high);
    free(skew->low);
    ww_distribution_clear(&skew->distribution);
    memset(skew, 0, sizeof *skew);
}
