/* angles.h - inside the sweep over angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_ANGLES_H
#define WW_SWEEP_ANGLES_H

#include "chance/envelope.h"
#include "weftwise/sweep.h"

/* WW_INVALID with one line that says what is wrong of the range, the step, the length or the turn. */
enum ww_status ww_angles_check(const struct ww_angles_request *request, struct ww_error *error);
/* The same, and the request with the correction that its range, turn and trace need; the caller releases
 * own->skew.correction, which is *correction. */
enum ww_status ww_angles_prepare(struct ww_angles_request *own, struct ww_correction **correction,
                                 const struct ww_angles_request *request, const struct ww_line *line,
                                 struct ww_error *error);
/* Angles asked for: from, from + step, .. to. */
size_t ww_angles_asked(const struct ww_angles_request *request);
/* Where revivals are sought, and what they must exceed. */
struct ww_search {
    const struct ww_angle_table *table;
    struct ww_evaluator *evaluator;
    double from, to; /* [rad] */
    double length;   /* [m] */
    double worst;    /* anywhere in the sweep at that length [s] */
};
/* Directions with k.u = 0 for a harmonic, those that matter, into angles->revival. */
enum ww_status ww_revivals_find(struct ww_angles *angles, const struct ww_search *search, struct ww_error *error);

/* Phase-matched angles whose harmonic alone comes near the largest conversion of the sweep, into angles->conversion. */
enum ww_status ww_matches_find(struct ww_angles *angles, const struct ww_search *search, double largest,
                               struct ww_error *error);

/* Where design <= budget, and how far these lie from warp, fill and diagonal. line NULL: by the envelope alone, less its
 * accuracy; else each end as ww_skew_solve has it. */
enum ww_status ww_windows_find(struct ww_angles *angles, const struct ww_envelope *envelope,
                               const struct ww_angles_request *request, const struct ww_line *line,
                               struct ww_error *error);
/* Moves the ends of windows inwards to tenths of a degree at which ww_skew_solve meets the budget, and drops those narrower
 * than the step. */
enum ww_status ww_windows_confirm(struct ww_window *window, size_t *windows, const struct ww_line *line,
                                  const struct ww_angles_request *request, bool of_conversion,
                                  struct ww_error *error);
/* The angle to use, into angles->advice. */
enum ww_status ww_angles_advise(struct ww_angles *angles, const struct ww_envelope *envelope,
                                const struct ww_line *line, const struct ww_angles_request *request,
                                struct ww_error *error);

#endif
