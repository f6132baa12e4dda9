/* placements.c - what all positions of the cloth give at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "chance/placements.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/distribution.h"
#include "scan/plies.h"
#include "correct/correction.h"

#define POSITIONS_FOR_EXTREMES 64 /* across; tops are climbed to from there */

double ww_design_value(enum ww_signal signal, double high, double low)
{
    return signal == WW_LEG1 ? high - low : fmax(high, 0 - low); /* 0 without a sign */
}

static enum ww_status placements_init(struct ww_placements *placements, size_t plies, struct ww_error *error)
{
    memset(placements, 0, sizeof *placements);
    placements->plies = plies;
    placements->high = calloc(plies + 1, sizeof *placements->high);
    placements->low = calloc(plies + 1, sizeof *placements->low);
    return placements->high && placements->low
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
}

static enum ww_status find_chances(struct ww_placements *placements, const struct ww_scan *scan,
                                   const struct ww_map *map, struct ww_error *error)
{
    enum ww_status status =
        ww_distribution_of_plies(&placements->distribution, scan, map, placements->high, placements->low, error);
    if (!status && placements->plies > 0 && ww_judged_signal(scan->pair, scan->spacing) == WW_LEG1)
        status = ww_distribution_of_two(&placements->distribution, error);
    if (status || placements->plies == 0)
        return status;
    placements->median = fmin(ww_distribution_quantile(&placements->distribution, 0.5), placements->worst);
    placements->p99 = fmin(ww_distribution_quantile(&placements->distribution, 0.99), placements->worst);
    return WW_OK;
}

enum ww_status ww_placements_solve(struct ww_placements *placements, const struct ww_line *line,
                                   const struct ww_skew_request *request, double angle, bool likely,
                                   struct ww_error *error)
{
    size_t plies = line->stack->plies;
    struct ww_scan *scan = NULL;
    struct ww_scan_options options = request->scan;
    options.route = request->route;
    options.segments = request->segments;
    struct ww_map *map = calloc(plies + 1, sizeof *map);
    enum ww_status status = placements_init(placements, plies, error);
    if (!status && !map)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu maps", plies);
    if (!likely)
        options.positions = POSITIONS_FOR_EXTREMES;
    if (!status)
        status = ww_corrected_scan_create_with(&scan, line, request->correction, angle, false, &options, error);
    enum ww_signal signal = ww_judged_signal(line->mesh.pair, options.spacing);
    if (!status)
        status = ww_scan_extremes_of_all(scan, signal, WW_MEAN, request->length, likely ? map : NULL,
                                         placements->high, placements->low, error);
    if (!status) {
        placements->worst = ww_design_value(signal, ww_sum_of_extremes(placements->high, plies),
                                            ww_sum_of_extremes(placements->low, plies));
        status = likely ? find_chances(placements, scan, map, error) : WW_OK;
    }
    if (likely && !status)
        status = ww_conversion_of_scan(&placements->conversion, scan, line, request, angle, error);
    ww_scan_destroy(scan);
    for (size_t p = 0; map && p < plies; p++)
        ww_map_clear(&map[p]);
    free(map);
    if (status)
        ww_placements_clear(placements);
    return status;
}

enum ww_status ww_ends_of_scan(double *high, double *low, const struct ww_scan *scan, enum ww_signal signal,
                               enum ww_estimate estimate, double length, struct ww_error *error)
{
    struct ww_extreme *at = calloc(2 * scan->plies + 1, sizeof *at);
    *high = *low = 0;
    if (!at)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", scan->plies);
    enum ww_status status =
        ww_scan_extremes_of_all(scan, signal, estimate, length, NULL, at, at + scan->plies, error);
    if (!status) {
        *high = ww_sum_of_extremes(at, scan->plies);
        *low = ww_sum_of_extremes(at + scan->plies, scan->plies);
    }
    free(at);
    return status;
}

enum ww_status ww_worst_of_scan(double *worst, const struct ww_scan *scan, enum ww_signal signal,
                                enum ww_estimate estimate, double length, struct ww_error *error)
{
    double high, low;
    enum ww_status status = ww_ends_of_scan(&high, &low, scan, signal, estimate, length, error);
    *worst = ww_design_value(signal, high, low);
    return status;
}

void ww_placements_clear(struct ww_placements *placements)
{
    free(placements->high);
    free(placements->low);
    ww_distribution_clear(&placements->distribution);
    memset(placements, 0, sizeof *placements);
}
