/* angles.h - inside the sweep over angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_ANGLES_H
#define WW_SWEEP_ANGLES_H

#include "scan/rest.h"
#include "sweep/fan.h"
#include "weftwise/sweep.h"

/* WW_INVALID with one line that says what is wrong of the range, the step, the length or the turn. */
enum ww_status ww_angles_check(const struct ww_angles_request *request, struct ww_error *error);
/* The same, and the request with the sections solved that the kernel is to be scaled to; where these are asked for, the
 * caller clears its scales. */
enum ww_status ww_angles_prepare(struct ww_angles_request *own, const struct ww_angles_request *request,
                                 const struct ww_line *line, struct ww_error *error);
/* Angles asked for: from, from + step, .. to. */
size_t ww_angles_asked(const struct ww_angles_request *request);
/* Width of a lobe of the slowest wave that counts: yarn pitch over length [rad]. */
double ww_angles_lobe(const struct ww_fan *fan, double length);

/* What every ply reaches, at angles close enough to see each lobe: over the range and by the turn to both sides of it.
 * Zeroed is valid and empty. */
struct ww_course {
    size_t parts, count; /* parts: ww_fan_parts */
    double first, step, turn;
    bool pair;
    double *high, *low; /* [angle][ply] [s]; of a single trace, the spread and 0 */
    double worst;       /* of all plies, anywhere */
};
enum ww_status ww_course_solve(struct ww_course *course, const struct ww_fan *fan,
                               const struct ww_angles_request *request, struct ww_progress_run *progress,
                               struct ww_error *error);
void ww_course_clear(struct ww_course *course);
/* The largest over the turn to both sides, every ply turned on its own, as ww_skew.worst_with_turn. */
double ww_course_design(const struct ww_course *course, struct ww_look *look, double angle);

/* Where directions are looked for, and what they have to stand out from. */
struct ww_search {
    const struct ww_fan *fan;
    struct ww_look *look;
    double from, to; /* [rad] */
    double length;   /* [m] */
    double worst;    /* anywhere in the sweep at that length [s] */
};
/* Directions in which waves stand still, those that matter, into angles->revival. */
enum ww_status ww_revivals_find(struct ww_angles *angles, const struct ww_search *search, struct ww_error *error);

/* Where design <= budget, and how far these lie from warp, fill and diagonal. */
enum ww_status ww_windows_find(struct ww_angles *angles, struct ww_look *look, const struct ww_course *course,
                               const struct ww_angles_request *request, struct ww_error *error);

#endif
