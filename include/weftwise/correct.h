/* weftwise/correct.h - the residual correction: full cross-sections less the kernel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * For one ply, the others at their lateral mean, and one angle theta of the trace in the frame of its cloth:
 *   D(r)  = S_section(r) - S_kernel(r)                       on a lattice of N^2 start positions r over the cell [s/m]
 *   D^(k) = (1/N^2) sum over r of D(r) exp(-i k.r)           for |m| + |l| <= 0.75 N, added to the kernel's S^(k).
 * Found at a few angles (nodes), and linear in theta between neighbouring nodes. Nothing is fitted.
 */
#ifndef WEFTWISE_CORRECT_H
#define WEFTWISE_CORRECT_H

#include "weftwise/core.h"
#include "weftwise/line.h"
#include "weftwise/scan.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Immutable and reference-counted: each holder shares it and releases it, from any thread. */
struct ww_correction;

/* The angles that it must hold for: the trace's from the warp of the panel [rad]. */
struct ww_correction_request {
    size_t side; /* N, start positions along each side of the cell; made even, 6 to 26; 0: no correction */
    /* angles at which the sections are solved themselves, [angles]; more than WW_CORRECTION_OWN different ones are left to
     * the fixed nodes. A straight trace has one, a route one for each direction of its segments */
    const double *angle;
    size_t angles;
    double before, after; /* >= 0: how far the trace may be turned from each of them [rad] */
    bool
        modes; /* of a pair: the difference of its modes' phase constants, too (some 26 more solutions a node and ply) */
};
enum { WW_CORRECTION_OWN = 4 };

/* Nodes of a ply: the angles asked for, and 0, 22.5, 45, 67.5, 90 deg, as far as one of the angles to serve lies at or beside
 * them. `known` (may be NULL) of the same line, stretch 0, and at least that side: its nodes are taken over, the missing ones
 * solved, on a coarse grid; at most N^2/2 sections for each node and ply, N (N + 2)/4 along the yarns, fewer for plies far from
 * the trace. Plies turned against each other have the nodes of 90 to 180 deg as well. *correction is NULL with side 0 or without cloth.
 * Accuracy of the worst skew: tests/bench/kernel_errors.c. WW_INVALID: an angle that is not finite; WW_NOT_CONVERGED,
 * WW_NO_MEMORY; statuses of ww_line_create. */
WW_API enum ww_status ww_correction_create(struct ww_correction **correction, const struct ww_line *line,
                                           const struct ww_correction *known,
                                           const struct ww_correction_request *request, struct ww_error *error);
/* Sum of weight[i] times of[i], all made with one request over one stack: corrections of lines between those solved, where
 * the leg's own D changes slowly with the trace's width and pitch. *correction is NULL where of[0] is. WW_NO_MEMORY. */
WW_API enum ww_status ww_correction_blend(struct ww_correction **correction, const struct ww_correction *const *of,
                                          const double *weight, size_t count, struct ww_error *error);
/* One more holder; returns the same. NULL stays NULL. */
WW_API struct ww_correction *ww_correction_share(struct ww_correction *correction);
WW_API void ww_correction_release(struct ww_correction *correction);
/* Sections solved for it, those of `known` included. */
WW_API size_t ww_correction_sections(const struct ww_correction *correction);

/* ww_scan_create with the correction in the mean estimate, in every direction of a route. correction may be NULL. */
WW_API enum ww_status ww_corrected_scan_create(struct ww_scan **scan, const struct ww_line *line,
                                               const struct ww_correction *correction, double angle,
                                               const struct ww_scan_options *options, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
