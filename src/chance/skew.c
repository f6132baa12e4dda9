/* skew.c - the whole answer for one trace, pair or route.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Extremes are searched on the map of each ply and refined on the harmonics; with V_p the value of ply p,
 *   worst = max( sum over p of max V_p, -sum over p of min V_p )   [s].
 * Distributions of the plies convolve (distribution.c). The tolerances of turn and yarn count are taken in tolerance.c.
 */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/conversion.h"
#include "chance/distribution.h"
#include "correct/correction.h"
#include "scan/plies.h"
#include "chance/tolerance.h"
#include "chance/placements.h"

/* The difference of two traces or pairs side by side, at the scan's spacing. */
static enum ww_status solve_apart(struct ww_apart *apart, const struct ww_scan *scan, double length,
                                  struct ww_error *error)
{
    struct ww_map *map = calloc(scan->plies + 1, sizeof *map);
    struct ww_extreme *high = calloc(2 * scan->plies + 1, sizeof *high), *low = high ? high + scan->plies : NULL;
    enum ww_status status = WW_OK;
    if (!map || !high)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", scan->plies);
    if (!status)
        status = ww_scan_extremes_of_all(scan, WW_APART, WW_MEAN, length, map, high, low, error);
    if (!status) {
        apart->worst =
            ww_design_value(WW_APART, ww_sum_of_extremes(high, scan->plies), ww_sum_of_extremes(low, scan->plies));
        status = ww_distribution_of_plies(&apart->distribution, scan, map, high, low, error);
    }
    for (size_t p = 0; map && p < scan->plies; p++)
        ww_map_clear(&map[p]);
    free(map);
    free(high);
    return status;
}

/* Two pairs are told beside the skew; the difference of two single traces is the value itself. */
static enum ww_status set_apart(struct ww_skew *skew, const struct ww_scan *scan, const struct ww_distribution *one,
                                double length, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    struct ww_apart *apart = &skew->apart;
    if (skew->plies == 0)
        return WW_OK;
    if (scan->spacing > 0)
        status = solve_apart(apart, scan, length, error);
    else if (!skew->pair)
        status = ww_distribution_combine(one, one, -1, &skew->distribution, error);
    if (scan->spacing > 0 && !skew->pair) {
        skew->worst = apart->worst;
        skew->distribution = apart->distribution;
        *apart = (struct ww_apart){0};
    }
    apart->median = fmin(ww_distribution_quantile(&apart->distribution, 0.5), apart->worst);
    apart->p95 = fmin(ww_distribution_quantile(&apart->distribution, 0.95), apart->worst);
    apart->p99 = fmin(ww_distribution_quantile(&apart->distribution, 0.99), apart->worst);
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
    if (!(request->budget >= 0) || !(request->frequency >= 0) || !(request->rate >= 0) || !(request->conversion >= 0))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "budget, frequency, rate and conversion must not be negative");
    if (!(request->lane_pitch >= 0 && request->lane_pitch <= WW_SPACING_MOST) ||
        (request->lane_pitch > 0 && request->lanes > WW_LANES_MOST))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "%zu lanes at %g m: on one cloth there may be up to %d, within [0, %g] m of each other",
                            request->lanes, request->lane_pitch, WW_LANES_MOST, WW_SPACING_MOST);
    return WW_OK;
}

struct ww_correction_request ww_skew_correction(const struct ww_skew_request *request, double *angle)
{
    size_t angles = request->segments ? request->segments : 1;
    for (size_t i = 0; i < angles; i++)
        angle[i] = request->angle + (request->segments ? request->route[i].angle : 0);
    return (struct ww_correction_request){.side = request->sections,
                                          .angle = angle,
                                          .angles = angles,
                                          .before = request->turn,
                                          .after = request->turn,
                                          .modes = ww_conversion_frequency(request) > 0};
}

/* The correction at all angles of the request; without sections the one given is kept. */
static enum ww_status correct(struct ww_skew *skew, const struct ww_line *line, const struct ww_skew_request *request,
                              struct ww_error *error)
{
    double *angle = calloc(request->segments + 1, sizeof *angle);
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", request->segments);
    struct ww_correction_request wanted = ww_skew_correction(request, angle);
    enum ww_status status = ww_correction_create(&skew->correction, line, request->correction, &wanted, error);
    skew->sections = ww_correction_sections(skew->correction);
    free(angle);
    return status;
}

/* Correction ratio: the corrected worst over that of the kernel alone. */
static enum ww_status compare_with_kernel(struct ww_skew *skew, const struct ww_line *line,
                                          const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_skew_request plain = *request;
    struct ww_placements kernel = {0};
    plain.correction = NULL;
    skew->correction_ratio = 1;
    enum ww_status status = WW_OK;
    if (skew->correction)
        status = ww_placements_solve(&kernel, line, &plain, request->angle, false, error);
    if (kernel.worst > 0)
        skew->correction_ratio = skew->worst / kernel.worst;
    ww_placements_clear(&kernel);
    return status;
}

/* The most that legs which do not couple convert with any skew up to this one: past half a period |sin| falls again, but
 * placements with less skew are there, too. */
static double most_converted(double frequency, double skew)
{
    return sin(WW_PI * fmin(frequency * fabs(skew), 0.5));
}

struct ww_skew_terms ww_skew_terms(double skew, double frequency, double rate)
{
    double nyquist = 0.5 * rate, absolute = fabs(skew);
    return (struct ww_skew_terms){.degrees = 360 * frequency * absolute,
                                  .unit_interval_share = rate * absolute,
                                  .first_null = absolute > 0 ? 0.5 / absolute : 0,
                                  .conversion = most_converted(nyquist, skew)};
}

/* Conversion at the request's own angle. */
static enum ww_status convert(struct ww_skew *skew, const struct ww_scan *scan, const struct ww_line *line,
                              const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_converted at;
    struct ww_conversion *conversion = &skew->conversion;
    struct ww_modes modes = ww_modes_of(line, request, request->angle);
    enum ww_status status = ww_conversion_of_scan(&at, scan, line, request, request->angle, error);
    if (!(modes.coupling > 0) || status)
        return status;
    *conversion = (struct ww_conversion){.frequency = ww_conversion_frequency(request),
                                         .beat_length = modes.beat != 0 ? 2 * WW_PI / fabs(modes.beat) : INFINITY,
                                         .worst = at.worst,
                                         .median = at.median,
                                         .p99 = at.p99,
                                         .worst_with_turn = at.worst,
                                         .worst_angle = request->angle,
                                         .strong = at.strong};
    conversion->weak = most_converted(conversion->frequency, skew->worst);
    return WW_OK;
}

/* The fastest and the slowest leg. */
static enum ww_status find_legs(struct ww_skew *skew, const struct ww_scan *scan, double length,
                                struct ww_error *error)
{
    double high, low;
    enum ww_status status = ww_ends_of_scan(&high, &low, scan, WW_LEG1, WW_MEAN, length, error);
    if (status)
        return status;
    skew->mean_delay = ww_scan_mean_delay(scan, WW_LEG1, length);
    skew->fastest = skew->mean_delay + low;
    skew->slowest = skew->mean_delay + high;
    skew->spread = skew->slowest - skew->fastest;
    return WW_OK;
}

enum ww_status ww_skew_solve(struct ww_skew *skew, const struct ww_line *line, const struct ww_skew_request *asked,
                             struct ww_error *error)
{
    memset(skew, 0, sizeof *skew);
    struct ww_scan *scan = NULL;
    struct ww_distribution one = {0}; /* of a single trace's delay */
    struct ww_skew_request own = *asked, *request = &own;
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
    request->scan.route = request->route;
    request->scan.segments = request->segments;
    status = correct(skew, line, request, error);
    request->correction = skew->correction;
    if (!status)
        status = ww_corrected_scan_create(&scan, line, request->correction, request->angle, &request->scan, error);

    enum ww_signal signal = skew->pair ? WW_SKEW : WW_LEG1,
                   judged = ww_judged_signal(skew->pair, request->scan.spacing);
    if (!status)
        status = ww_scan_extremes_of_all(scan, signal, WW_MEAN, length, skew->map, skew->high, skew->low, error);
    if (!status)
        status = find_legs(skew, scan, length, error);
    if (!status && !request->design_only)
        status = ww_worst_of_scan(&skew->worst_upper, scan, judged, WW_UPPER, length, error);
    if (!status && !request->design_only)
        status = ww_worst_of_scan(&skew->worst_lower, scan, judged, WW_LOWER, length, error);
    if (status)
        goto done;
    skew->mismatch = ww_scan_mismatch(scan);
    skew->worst =
        ww_design_value(signal, ww_sum_of_extremes(skew->high, plies), ww_sum_of_extremes(skew->low, plies));
    status = ww_distribution_of_plies(skew->pair ? &skew->distribution : &one, scan, skew->map, skew->high, skew->low,
                                      error);
    if (!status)
        status = set_apart(skew, scan, &one, length, error);
    if (!status && request->budget > 0)
        skew->over_budget = ww_distribution_exceed(&skew->distribution, request->budget);
    if (!status)
        status = convert(skew, scan, line, request, error);
    if (!status)
        status = ww_tolerance_solve(skew, line, request, &one, error);
    if (!status && !request->design_only)
        status = compare_with_kernel(skew, line, request, error);
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
    ww_distribution_clear(&one);
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
    ww_distribution_clear(&skew->apart.distribution);
    free(skew->board);
    ww_distribution_clear(&skew->tolerant);
    ww_correction_release(skew->correction);
    memset(skew, 0, sizeof *skew);
}

const struct ww_extreme *ww_skew_worst_at(const struct ww_skew *skew)
{
    double high = ww_sum_of_extremes(skew->high, skew->plies), low = ww_sum_of_extremes(skew->low, skew->plies);
    return high >= -low * (1 - WW_TIE) ? skew->high : skew->low;
}
