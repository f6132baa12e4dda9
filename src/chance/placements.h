/* placements.h - what all positions of the cloth give at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_PLACEMENTS_H
#define WW_CHANCE_PLACEMENTS_H

#include "weftwise/chance.h"

/* Zeroed is valid and empty. "Value" as in struct ww_skew_request. */
struct ww_placements {
    size_t plies;
    struct ww_extreme *high, *low; /* [plies] */
    double worst;                  /* as judged: worst |skew| of a pair, spread of a single trace; plies added */
    struct ww_distribution distribution; /* where asked for: of the value, plies independent */
    double median, p99;                  /* of |value|, at most worst; 0 where not asked for */
};

/* All positions with the trace at `angle` [rad] from the warp of the panel. Of the request, its length, route and scan
 * (positions, averaging, scale, stretch) are used. likely: the distribution too, from maps of as many positions; without
 * it the maps only find the extremes, and 64 positions across do. Safe to call from several threads on one line. */
enum ww_status ww_placements_solve(struct ww_placements *placements, const struct ww_line *line,
                                   const struct ww_skew_request *request, double angle, bool likely,
                                   struct ww_error *error);
/* What a design is judged by: the worst |skew| of a pair, or the spread of a single trace. */
double ww_design_value(bool pair, double high, double low);
void ww_placements_clear(struct ww_placements *placements);

#endif
