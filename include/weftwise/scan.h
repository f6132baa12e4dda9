/* weftwise/scan.h - delay and skew from every position of the cloth, at any angle; how bad and how likely.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A position r0 is where the centre of the trace or pair starts, in the fabric frame of the ply, over one unit
 * cell (2 px by 2 py). Travel is along u = (sin theta, cos theta), theta from the warp (+y) towards +x.
 * Skew = delay of leg 1 (left of travel) less delay of leg 2.
 */
#ifndef WEFTWISE_SCAN_H
#define WEFTWISE_SCAN_H

#include "weftwise/core.h"
#include "weftwise/line.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Which estimate of the capacitance: the mean of the two bounds is the answer, the bounds say how far off. */
enum ww_estimate { WW_MEAN, WW_UPPER, WW_LOWER, WW_ESTIMATES };

/* Which signal over the map. */
enum ww_signal {
    WW_LEG1,
    WW_LEG2,
    WW_SKEW, /* pair only: leg 1 less leg 2 */
    WW_APART /* delay less that of an equal trace or pair beside it, at the scan's spacing; of a pair the mean of its legs */
};

/* Time of flight adds slowness; the quasi-static limit (guided wavelength far above the cell) adds eps. */
enum ww_averaging { WW_FLIGHT, WW_QUASI_STATIC };

/* One straight segment of a route. A route is a polyline of the centre of the trace or pair; the legs of a pair follow
 * as parallel offsets, mitred at the bends. */
struct ww_route_segment {
    double length; /* of the centre line [m] > 0 */
    double angle;  /* from the warp [rad] */
};

struct ww_scan_options {
    size_t positions;                     /* samples of a map along x and y; 0 = 256 */
    enum ww_averaging averaging;          /* default WW_FLIGHT */
    const struct ww_route_segment *route; /* [segments]; NULL: straight. Only until the scan is made */
    size_t segments;
    double stretch[2]; /* every cell is this share wider, across the warp, and longer, across the fill, than its yarn
                                counts say; each within +-0.1 */
    bool without_dispersion; /* static, whatever the line's frequency */
    double spacing; /* of two equal traces or pairs side by side on the same cloth [m] >= 0, the second to the left
                                of the line from start to end; 0: none is beside it */
    bool
        bends; /* of a pair's route: what its legs differ by in length at the bends counts as skew (time of flight only) */
    bool even; /* of a pair: its legs driven even, (Cii + C12)/(Caii + Ca12), not odd; static */
};

/* The slowness of each leg over each ply's cell at one angle, as harmonics. */
struct ww_scan;

/* angle [rad], the trace's from the warp of the panel, or by which a route is turned; each ply's own turn is taken off
 * inside. Where a length is asked for below, a route is stretched to it. WW_INVALID: a segment without length, a bend
 * beyond 150 deg. */
WW_API enum ww_status ww_scan_create(struct ww_scan **scan, const struct ww_line *line, double angle,
                                     const struct ww_scan_options *options, struct ww_error *error);
WW_API void ww_scan_destroy(struct ww_scan *scan);

/* Delay over position less its mean over the cell [s] (leg signals), or skew [s], for one ply with the others at
 * their mean; length [m] >= 0. The map covers the ply's cell. */
WW_API enum ww_status ww_scan_map(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                  enum ww_estimate estimate, double length, struct ww_map *map,
                                  struct ww_error *error);
/* The map's value at one start position, anywhere [s]. */
WW_API enum ww_status ww_scan_value(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                    enum ww_estimate estimate, double length, double x, double y, double *value,
                                    struct ww_error *error);
/* Delay of a leg with every ply at its mean: slowness x length [s]. */
WW_API double ww_scan_mean_delay(const struct ww_scan *scan, enum ww_signal leg, double length);

/* A position and the value there. */
struct ww_extreme {
    double x, y;  /* start position in the ply's cell [m] */
    double value; /* [s] */
};
/* Most positive and most negative of a map, refined below the grid on the harmonics themselves. */
WW_API enum ww_status ww_scan_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                       enum ww_estimate estimate, double length, struct ww_extreme *high,
                                       struct ww_extreme *low, struct ww_error *error);

/* With all plies in place, ply p starting at start[p] = {x, y} in its own frame: the sum of the values of ww_scan_value, and of
 * the inter-ply couplings. */
WW_API enum ww_status ww_scan_value_of_all(const struct ww_scan *scan, enum ww_signal signal,
                                           enum ww_estimate estimate, double length, const double (*start)[2],
                                           double *value, struct ww_error *error);

/* Along a trace that starts at start[ply] = {x, y} in each ply's own frame, at distances s[i] = from + (to - from) i/(count-1):
 * effective Dk of leg 1 and leg 2, and the delay difference over 0..s[i] [s]. Of a single trace dk2 is not written and
 * running is the delay less its mean. length: of the whole trace [m], read where it is a route. */
WW_API enum ww_status ww_scan_profile(const struct ww_scan *scan, const double (*start)[2], double length,
                                      double from, double to, size_t count, double *dk1, double *dk2, double *running,
                                      struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
