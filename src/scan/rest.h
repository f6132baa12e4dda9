/* rest.h - what the kernel, set right along warp, fill and diagonal, still lacks in between.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_REST_H
#define WW_SCAN_REST_H

#include "scan/delay.h"

/* Solves sections on a lattice over the cell of each ply, the others at their lateral mean, with the trace at each of these
 * angles [rad] from the warp of the panel; what scales has at others is taken over. *rest is NULL where all of them run along
 * yarns. `sections`: of a way along a yarn; the lattice's places lie nearer to each other by half. Statuses of
 * ww_line_create and ww_calibrate. */
enum ww_status ww_rest_create(struct ww_rest **rest, const struct ww_line *line, const struct ww_scales *scales,
                              size_t sections, const double *angle, size_t angles, struct ww_error *error);
void ww_rest_destroy(struct ww_rest *rest);

/* Adds it to the waves of the mean estimate. rest may be NULL. */
void ww_rest_add(const struct ww_rest *rest, const struct ww_scan *scan, size_t ply);

/* Angles that serve a range of the trace's; returns how many. */
enum { WW_REST_ANGLES = 3 };
size_t ww_rest_angles(double from, double to, double angle[WW_REST_ANGLES]);

#endif
