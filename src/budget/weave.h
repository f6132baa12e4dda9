/* weave.h - how the weave alone sets the delays and losses of two circuits apart.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_BUDGET_WEAVE_H
#define WW_BUDGET_WEAVE_H

#include "weftwise/budget.h"

/* Over place, turn and count. */
struct ww_weave_effect {
    struct ww_distribution one;  /* of a circuit less the mean; of a pair the mean of its legs */
    struct ww_distribution same; /* difference of two on one board: turn and count are the same */
    struct ww_distribution two;  /* difference of two on two boards */
};
/* Zeroed is valid and empty: no cloth. */
struct ww_weave {
    struct ww_weave_effect delay; /* [s] */
    struct ww_weave_effect loss;  /* of the dielectric [dB/m]; empty without a frequency */
};
enum ww_status ww_weave_solve(struct ww_weave *weave, const struct ww_study *study,
                              const struct ww_solution *solution, struct ww_error *error);
void ww_weave_clear(struct ww_weave *weave);

#endif
