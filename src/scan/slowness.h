/* slowness.h - inside a scan: the slowness of each leg over the cell.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_SLOWNESS_H
#define WW_SCAN_SLOWNESS_H

#include <complex.h>

#include "line/line.h"
#include "scan/order.h"
#include "weftwise/scan.h"

/* Slowness [s/m] (flight) or permittivity (quasi-static) of each leg with one ply at registration r:
 *   S(r) = sum over harmonics with m = 0 of c exp(i k.r) + 2 Re sum over harmonics with m > 0 of c exp(i k.r).
 * At m = 0 both signs of l are kept. */
struct ww_ply_scan {
    double lx, ly;
    double ux, uy; /* direction of travel in the frame of this ply's cloth */
    size_t harmonics;
    struct ww_order *order;
    double _Complex *coefficient[2][WW_ESTIMATES]; /* [leg][estimate][harmonic] */
};

/* One segment of a route: the scan of its direction, its share of the length, and the bends at its ends [rad], positive to
 * the right. */
struct ww_scan_segment {
    const struct ww_scan *scan;
    double share, bend_in, bend_out;
};

struct ww_scan {
    size_t plies;
    bool pair;
    bool even;      /* the legs are driven even, not odd */
    double angle;   /* of the trace; of a route's first segment */
    double pitch;   /* of the pair [m] */
    double spacing; /* to the trace or pair beside it [m] */
    bool bends;     /* what the legs differ by in length at the bends counts as skew */
    size_t positions;
    enum ww_averaging averaging;
    double level[2][WW_ESTIMATES]; /* of each leg with every ply at its mean */
    double change;                 /* what dispersion multiplies deviations of slowness by */
    double mean;                   /* and the mean slowness */
    struct ww_ply_scan *ply;       /* of a route: in the direction of its first segment */
    size_t segments;               /* 0: straight */
    struct ww_scan_segment *segment;
    size_t others; /* scans of the route's other directions */
    struct ww_scan **other;
};

/* Segment i of the trace, the only one where it is straight. */
size_t ww_scan_segments(const struct ww_scan *scan);
struct ww_scan_segment ww_scan_segment_at(const struct ww_scan *scan, size_t i);

#define WW_SPACING_MOST 10.0 /* [m], between two traces: a bound on input */

/* The signal that is judged: the skew of a pair; of a single trace its difference from the one beside it, or without a
 * spacing its delay, for then places are independent. */
static inline enum ww_signal ww_judged_signal(bool pair, double spacing)
{
    return pair ? WW_SKEW : spacing > 0 ? WW_APART : WW_LEG1;
}

/* What a leg counts in a signal; of a single trace there is the first alone. */
static inline double ww_signal_share(enum ww_signal signal, bool pair, int leg)
{
    switch (signal) {
    case WW_SKEW:
        return leg ? -1 : 1;
    case WW_APART:
        return pair ? 0.5 : leg == 0;
    default:
        return (signal == WW_LEG2) == (leg == 1);
    }
}

/* Rows of a ply's maps that hold every value (ww_orders_rows), for any signal and length. */
size_t ww_scan_rows(const struct ww_scan *scan, size_t ply);

/* Where a leg runs within a segment of given length: it starts that far along the segment, and is that long. Mitred bends make
 * the outer leg longer and the inner one shorter. */
struct ww_leg_span {
    double start, length;
};
struct ww_leg_span ww_leg_span(const struct ww_scan *scan, const struct ww_scan_segment *segment, double length,
                               int leg);

/* Leg 1 less leg 2 by their lengths alone, every ply at its mean [s]: at the bend after segment i, and of all bends. */
double ww_scan_mismatch_at(const struct ww_scan *scan, size_t i);
double ww_scan_mismatch(const struct ww_scan *scan);

/* ww_scan_create, and with bounds false without the two bounds, whose coefficients are then all zero: a third of the
 * transforms is left. */
enum ww_status ww_scan_create_with(struct ww_scan **scan, const struct ww_line *line, double angle, bool bounds,
                                   const struct ww_scan_options *options, struct ww_error *error);

/* Static slowness of the legs [s/m] by the kernel's mean estimate, of one change of capacitance (line.h). */
void ww_slowness_of_change(const struct ww_line *line, const double change[WW_CHANGES], double leg[2]);

/* Delay [s] over length from the mean of slowness or permittivity along the path. */
double ww_scan_delay(const struct ww_scan *scan, double average, double length);

/* Mean of a signal along a straight path from one start: slowness [s/m] or permittivity. */
double ww_scan_average_at(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate estimate,
                          double length, double x, double y);

#endif
