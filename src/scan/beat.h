/* beat.h - the integral of a pair's slowness difference along a trace, times the beat of its two modes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_BEAT_H
#define WW_SCAN_BEAT_H

#include "scan/slowness.h"

/* Where one straight segment of a pair's path lies over one ply, and what the legs see along it. */
struct ww_beat_segment {
    double lx, ly;             /* of the cell [m] */
    double ux, uy;             /* direction in the frame of the cloth */
    double x, y;               /* where its centre line starts, from the start of the path [m] */
    double passed;             /* length of the path before it [m] */
    double length;             /* [m] */
    struct ww_leg_span leg[2]; /* where the legs run within it */
    double excess; /* mean delay that leg 1 has more than leg 2 at the bend after it, where bends count [s] */
    size_t harmonics;
    const struct ww_order *order;       /* the first is the mean */
    const double _Complex *slowness[2]; /* [leg][harmonic] times `unit` is [s/m] */
    double unit;
};

/* The segments of a scan's path over one ply, segment[ww_scan_segments]; they refer to the scan. */
void ww_beat_segments(struct ww_beat_segment *segment, const struct ww_scan *scan, size_t ply,
                      enum ww_estimate estimate, double length);

/* With dS(s) the slowness of leg 1 less that of leg 2 along the path, adds the harmonics over the start position of
 *   G = integral of dS cos(beat s) ds   to cosine,   H = integral of dS sin(beat s) ds   to sine [s]
 * over one segment; beat in [rad/m]. Half spectra as ww_transform_inverse takes them, cosine[n][n/2+1]; sample (0, 0) is then
 * the start at the cell's origin. What n does not resolve is left out. With beat 0, G is the skew. Returns the most that any
 * part of the segment adds to |G + iH| [s]. */
double ww_beat_add(const struct ww_beat_segment *segment, double beat, size_t n, double _Complex *cosine,
                   double _Complex *sine);

#endif
