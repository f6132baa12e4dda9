/* path.h - the integral of one signal along a trace, straight or of segments, from any position on the cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_PATH_H
#define WW_SCAN_PATH_H

#include "scan/slowness.h"

/* One signal of one ply averaged along a trace: of every harmonic S^(k) times the mean of exp(i k.r) along the path. */
struct ww_path {
    const struct ww_scan *scan;
    const struct ww_ply_scan *ply;
    enum ww_signal signal;
    double length;
    double offset; /* of a route's skew, by its bends [s] */
    size_t harmonics;
    const struct ww_order *order;    /* the ply's, or owned */
    struct ww_order *owned;          /* of a route: the orders of all its directions */
    double _Complex *first, *second; /* [harmonics]; second: leg 2 of a quasi-static skew, else NULL */
};

/* Zeroed is valid and empty. WW_INVALID: no such ply, a second leg asked of a single trace, length outside [0, 1000] m,
 * WW_APART in the quasi-static limit. */
enum ww_status ww_path_init(struct ww_path *path, const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                            enum ww_estimate estimate, double length, struct ww_error *error);
void ww_path_clear(struct ww_path *path);

/* The trace starts at (x, y) [m], in the frame of the ply's cloth, off the position that is asked for. */
void ww_path_shift(struct ww_path *path, double x, double y);
/* Adds sign times harmonics that the path has to it; in time of flight. */
void ww_path_add(struct ww_path *path, const struct ww_map_harmonic *added, size_t count, double sign);
/* a less b, of one ply: the difference of two traces' delays, each less its mean. A new path, over a's length. WW_NO_MEMORY;
 * WW_INVALID in the quasi-static limit. */
enum ww_status ww_path_difference(struct ww_path *path, const struct ww_path *a, const struct ww_path *b,
                                  struct ww_error *error);

/* Unit vector from the start to the end of a trace, in the frame of a ply; of a closed route its first direction. */
void ww_scan_chord(const struct ww_scan *scan, size_t ply, double *x, double *y);

/* Value [s] as in ww_scan_map with its first and second derivatives over the start position. */
struct ww_expansion {
    double value;
    double dx, dy;     /* [s/m] */
    double xx, xy, yy; /* [s/m2] */
};
struct ww_expansion ww_path_expand(const struct ww_path *path, double x, double y);

/* Values from all start positions, value[positions][positions]. */
enum ww_status ww_path_map(const struct ww_path *path, double *value, struct ww_error *error);

#endif
