/* weftwise/patch.h - what a long trace sees of real cloth, whose yarns wander.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * On perfect cloth a trace along the yarns keeps step with them, and skew grows with length for ever. Real yarns wander: the
 * trace loses step, and beyond some length skew grows as its root. A walk goes along a trace step by step and adds up its
 * delay; src/patch/walk.c says how.
 */
#ifndef WEFTWISE_PATCH_H
#define WEFTWISE_PATCH_H

#include "weftwise/core.h"
#include "weftwise/correct.h"
#include "weftwise/fabric.h"
#include "weftwise/line.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Straight traces of one line at one angle over patches of real cloth. Read only once created: any number of threads may walk. */
struct ww_walk;
/* angle: of the trace from the warp of the panel [rad]. step [m] > 0: within one the cloth's displacement counts as constant,
 * all else is integrated exactly; at half a yarn pitch a walk is within 3e-4 of the worst along the warp from one of an eighth of
 * its steps. Against full cross-sections on a patch the local skew is off by 3 % of its largest at most, by 1 % rms (both
 * tests/patch). 0: a walk that ww_walk_slowness alone is asked of. correction may be NULL. Statuses of ww_line_create. */
WW_API enum ww_status ww_walk_create(struct ww_walk **walk, const struct ww_line *line,
                                     const struct ww_correction *correction, double angle, double step,
                                     struct ww_error *error);
WW_API void ww_walk_destroy(struct ww_walk *walk);

/* Value over the first 1, 2, .. steps of a trace, running[steps] [s]: of a pair its skew, of a single trace its delay less that
 * over perfect cloth on average. patch[ply] of the ply's own style, start[ply] where the trace starts on it, in the frame of its
 * cloth [m]; turn: how far the cloth of all plies lies off square [rad], small: the legs' own slowness is that of the angle.
 * Without scatter it is what ww_scan_value tells, to 1e-9 of the worst (tests/patch). Cost: 0.5 to 2 us a step, leg and ply. */
WW_API void ww_walk_along(const struct ww_walk *walk, const struct ww_patch *const *patch, const double (*start)[2],
                          double turn, size_t steps, double *running);
/* Slowness of both legs at one place of the pair's centre, one ply's patch in place, less its mean over perfect cloth [s/m],
 * averaged over a step around it. A single trace has the first alone. */
WW_API void ww_walk_slowness(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, double x, double y,
                             double slowness[2]);

#ifdef __cplusplus
}
#endif
#endif
