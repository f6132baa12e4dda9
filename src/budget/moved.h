/* moved.h - the study's cross-section with causes at other values than the nominal ones.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_BUDGET_MOVED_H
#define WW_BUDGET_MOVED_H

#include "line/conductor.h"
#include "weftwise/budget.h"

/* Position of each cause, -1 lower end .. 1 upper end; NAN: nominal. */
struct ww_position {
    double of[WW_CAUSES];
    const struct ww_conductor
        *conductor;      /* of the nominal line; NULL: loss is the dielectric's, no foil can be moved */
    bool same_conductor; /* where the shape moves, too: for the delay alone */
};
struct ww_position ww_position_nominal(void);
/* The tolerance of a cause in the study; NULL of the weave. */
const struct ww_tolerance *ww_cause_tolerance(const struct ww_study *study, enum ww_cause_kind kind);
/* The value of a cause at a position: of a tolerance off the nominal, of a range itself. */
double ww_cause_value(const struct ww_study *study, enum ww_cause_kind kind, double position);

/* The key of a cause in [tolerance]; "" of the weave. */
const char *ww_cause_key(enum ww_cause_kind kind);

/* Solves the study there. Fills observed[WW_OBSERVABLES] of one circuit; skew as the largest by the kernel alone, for its ratio. */
enum ww_status ww_moved_solve(double *observed, const struct ww_study *study, const struct ww_position *position,
                              struct ww_error *error);

/* The study's line with the Dk of every material raised by `share` of its loss tangent: Dk (1 + share df). For the loss of what
 * the line carries: with S(Dk) the slowness, that of Dk (1 - j df) is S - j dS/dshare, and its loss is omega dS/dshare [Np/m]; what
 * is left out is third order in df. Zeroed is valid and empty. */
struct ww_shifted_line {
    struct ww_stack stack;
    struct ww_line *line;
};
enum ww_status ww_shifted_line_create(struct ww_shifted_line *shifted, const struct ww_study *study, double share,
                                      struct ww_error *error);
void ww_shifted_line_clear(struct ww_shifted_line *shifted);
/* The largest loss tangent of the stack. */
double ww_largest_df(const struct ww_stack *stack);

#endif
