/* weave.h - how the weave alone sets the delays of two circuits apart.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_BUDGET_WEAVE_H
#define WW_BUDGET_WEAVE_H

#include "weftwise/budget.h"

/* Over place, turn and count. Zeroed is valid and empty: no cloth. */
struct ww_weave_delay {
    struct ww_distribution one;  /* delay of a circuit less the mean; of a pair the mean of its legs */
    struct ww_distribution same; /* difference of two on one board: turn and count are the same */
    struct ww_distribution two;  /* difference of two on two boards */
};
enum ww_status ww_weave_delay_solve(struct ww_weave_delay *weave, const struct ww_study *study,
                                    const struct ww_solution *solution, struct ww_error *error);
void ww_weave_delay_clear(struct ww_weave_delay *weave);

#endif
