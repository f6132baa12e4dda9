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

#include "scan/calibrate.h"
#include "scan/chance.h"
#include "scan/extremes.h"
#include "scan/turned.h"

#define NULLED 0.1           /* worst skew over the spread of a leg, below which a pair's pitch nulls its skew */
#define TURN_POSITIONS 128   /* positions across of the maps tried over the turn */
#define ANGLES_PER_LOBE 4.0  /* angles tried per first null of the slowest harmonic, pitch/length */
#define MOST_TURN_ANGLES 241 /* at most, over the whole tolerance */

/* Worst of the bounds: sums over plies of refined extremes of one estimate. */
static enum ww_status worst_of(const struct ww_scan *scan, enum ww_estimate e, double length, double *worst,
                               struct ww_error *error)
{
    bool pair = scan->pair;
    double high = 0, low = 0;
    for (size_t p = 0; p < scan->plies; p++) {
        struct ww_extreme h, l;
        enum ww_status status = ww_scan_extremes(scan, p, pair ? WW_SKEW : WW_LEG1, e, length, &h, &l, error);
        if (status)
            return status;
        high += h.value;
        low += l.value;
    }
    *worst = ww_judged(pair, high, low);
    return WW_OK;
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

/* Angles of the cloth that are tried over the turn, and what was found at each. */
struct turning {
    const struct ww_line *line;
    const struct ww_skew_request *request;
    size_t plies;
    double step, scale;
    double *high, *low; /* [angle][ply] */
};

static enum ww_status try_angle(const struct turning *turning, size_t index, double angle, struct ww_error *error)
{
    const struct ww_skew_request *request = turning->request;
    struct ww_scan_options options = {
        .positions = TURN_POSITIONS, .averaging = request->scan.averaging, .scale = turning->scale};
    struct ww_scan *scan = NULL;
    enum ww_status status = ww_scan_create_with(&scan, turning->line, angle, false, &options, error);
    for (size_t p = 0; p < turning->plies && !status; p++) {
        struct ww_extreme high, low;
        status = ww_map_and_extremes(scan, p, scan->pair ? WW_SKEW : WW_LEG1, WW_MEAN, request->length, NULL, &high,
                                     &low, error);
        turning->high[index * turning->plies + p] = high.value;
        turning->low[index * turning->plies + p] = low.value;
    }
    ww_scan_destroy(scan);
    return status;
}

/* Every angle fills its own place, so that the result is the same on any number of threads. */
static enum ww_status try_angles(const struct turning *turning, int each_side, struct ww_error *error)
{
    enum ww_status status = WW_OK;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (int i = -each_side; i <= each_side; i++) {
        struct ww_error mine = {0};
        double angle = turning->request->angle + i * turning->step;
        enum ww_status failed = i ? try_angle(turning, (size_t)(i + each_side), angle, &mine) : WW_OK;
        if (failed) {
#ifdef _OPENMP
#pragma omp critical(ww_try_angles)
#endif
            {
                status = failed;
                if (error)
                    *error = mine;
            }
        }
    }
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
    double fine = pitch / (ANGLES_PER_LOBE * request->length);
    int each_side = (int)ceil(fmin(fmax(request->turn / fine, 4), (MOST_TURN_ANGLES - 1) / 2));
    skew->turn_angle_step = request->turn / each_side;

    size_t angles = 2 * (size_t)each_side + 1, plies = skew->plies, middle = (size_t)each_side * plies;
    double *high = calloc(2 * angles * plies, sizeof *high), *low = high ? high + angles * plies : NULL;
    if (!high)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", angles);
    struct turning turning = {line, request, plies, skew->turn_angle_step, skew->scale, high, low};
    enum ww_status status = try_angles(&turning, each_side, error);
    for (size_t p = 0; p < plies; p++) {
        high[middle + p] = skew->high[p].value;
        low[middle + p] = skew->low[p].value;
    }
    double most = skew->worst_with_turn, sum_high = 0, sum_low = 0;
    for (size_t i = 0; i < angles; i++) {
        double together_high = 0, together_low = 0;
        for (size_t p = 0; p < plies; p++) {
            together_high += high[i * plies + p];
            together_low += low[i * plies + p];
        }
        if (ww_judged(skew->pair, together_high, together_low) > most) {
            most = ww_judged(skew->pair, together_high, together_low);
            skew->worst_angle = request->angle + ((double)i - each_side) * skew->turn_angle_step;
        }
    }
    for (size_t p = 0; p < plies; p++) {
        double top = high[p], bottom = low[p], spread = top - bottom;
        for (size_t i = 1; i < angles; i++) {
            top = fmax(top, high[i * plies + p]);
            bottom = fmin(bottom, low[i * plies + p]);
            spread = fmax(spread, high[i * plies + p] - low[i * plies + p]);
        }
        /* two single traces lie on the same cloth, turned alike */
        sum_high += skew->pair ? top : spread;
        sum_low += skew->pair ? bottom : 0;
    }
    skew->worst_with_turn = ww_judged(skew->pair, sum_high, sum_low);
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

/* Kernel scan, its worst placements, full sections along them, and the scan scaled to agree with these. */
static enum ww_status scan_to_scale(struct ww_scan **scan, struct ww_skew *skew, const struct ww_line *line,
                                    const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_scan_options options = request->scan;
    skew->scale = options.scale > 0 ? options.scale : 1;
    enum ww_status status = ww_scan_create(scan, line, request->angle, &options, error);
    if (status || request->sections == 0 || skew->plies == 0)
        return status;
    double across = 0, of_skew = 0;
    for (size_t p = 0; p < skew->plies && !status; p++) {
        status = ww_scan_extremes(*scan, p, WW_LEG1, WW_MEAN, request->length, &skew->high[p], &skew->low[p], error);
        across += skew->high[p].value - skew->low[p].value;
    }
    enum ww_signal signal = WW_LEG1;
    for (size_t p = 0; p < skew->plies && !status && skew->pair; p++) {
        struct ww_extreme high, low;
        status = ww_scan_extremes(*scan, p, WW_SKEW, WW_MEAN, request->length, &high, &low, error);
        of_skew += high.value;
    }
    if (skew->pair && of_skew > NULLED * across) /* else what little skew is left says nothing of the kernel */
        signal = WW_SKEW;
    for (size_t p = 0; p < skew->plies && !status && signal == WW_SKEW; p++)
        status = ww_scan_extremes(*scan, p, WW_SKEW, WW_MEAN, request->length, &skew->high[p], &skew->low[p], error);
    if (!status)
        status = ww_calibrate(line, *scan, signal, skew->high, skew->low, request->sections, &options.scale, error);
    ww_scan_destroy(*scan);
    *scan = NULL;
    if (status)
        return status;
    skew->scale = options.scale;
    skew->sections = request->sections;
    return ww_scan_create(scan, line, request->angle, &options, error);
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
    status = scan_to_scale(&scan, skew, line, request, error);

    double high = 0, low = 0, leg_high = 0, leg_low = 0;
    enum ww_signal signal = skew->pair ? WW_SKEW : WW_LEG1;
    for (size_t p = 0; p < plies && !status; p++) {
        status = ww_map_and_extremes(scan, p, signal, WW_MEAN, length, &skew->map[p], &skew->high[p], &skew->low[p],
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
    skew->worst = ww_judged(skew->pair, high, low);

    status = ww_distribution_of_plies(&skew->distribution, skew->map, skew->high, skew->low, plies, error);
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
