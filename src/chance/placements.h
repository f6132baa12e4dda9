/* placements.h - extremes and distribution over all positions of the cloth, at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_PLACEMENTS_H
#define WW_CHANCE_PLACEMENTS_H

#include "chance/conversion.h"

/* Zeroed is valid and empty. "Value" as in struct ww_skew_request; the extremes are those of ww_judged_signal. */
struct ww_placements {
    size_t plies;
    struct ww_extreme *high, *low;       /* [plies] */
    double worst;                        /* the largest |value|, plies added [s] */
    struct ww_distribution distribution; /* where asked for: of the value, plies independent */
    double median, p99;                  /* of |value|, at most worst; 0 where not asked for */
    struct ww_converted conversion;      /* where asked for, of a pair with a frequency */
};

/* All positions with the trace at `angle` [rad] from the warp of the panel. Of the request, its length, route and scan
 * (positions, averaging, stretch) are used. likely: the distribution too, from maps of as many positions; without
 * it the maps only find the extremes, and 64 positions across do. Safe to call from several threads on one line. */
enum ww_status ww_placements_solve(struct ww_placements *placements, const struct ww_line *line,
                                   const struct ww_skew_request *request, double angle, bool likely,
                                   struct ww_error *error);
/* Greatest and least of one signal by one estimate over this length [m], all plies in place, and the worst of the two. 0 on failure.
 * WW_NO_MEMORY, statuses of ww_scan_map. */
enum ww_status ww_ends_of_scan(double *high, double *low, const struct ww_scan *scan, enum ww_signal signal,
                               enum ww_estimate estimate, double length, struct ww_error *error);
enum ww_status ww_worst_of_scan(double *worst, const struct ww_scan *scan, enum ww_signal signal,
                                enum ww_estimate estimate, double length, struct ww_error *error);
/* From the sums of a signal's extremes: the worst, max(high, -low); of the delay of a trace its range, high - low. */
double ww_design_value(enum ww_signal signal, double high, double low);
void ww_placements_clear(struct ww_placements *placements);

#endif
