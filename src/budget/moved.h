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
        *conductor; /* to be taken where the foil is moved; NULL: solved there, which takes 2 s */
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

#endif
