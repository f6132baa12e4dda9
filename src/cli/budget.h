/* cli/budget.h - the budget of causes, for the report too.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_BUDGET_H
#define CLI_BUDGET_H

#include "job.h"

#include <weftwise/budget.h>

struct budget_part {
    struct ww_solution solution;
    struct ww_budget budget;
};
/* ww_budget_solve of the job's study, beside its answer; that many corners in full. */
enum ww_status budget_solve(const struct job *job, const struct ww_solution *solution, size_t corners,
                            struct ww_budget *budget, struct ww_error *error);
/* budget.json and the figures, into the job's folder. */
enum ww_status budget_save(struct job *job, const struct budget_part *part, struct ww_error *error);

#endif
