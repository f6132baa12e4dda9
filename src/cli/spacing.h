/* cli/spacing.h - how far apart to keep feeds and lanes: solved, saved and shown with skew.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_SPACING_H
#define CLI_SPACING_H

#include "job.h"

#include <weftwise/sweep.h>

/* ww_spacing_solve of the job's study, beside its answer. */
enum ww_status spacing_solve(const struct job *job, const struct ww_solution *solution, struct ww_spacing *spacing,
                             struct ww_error *error);
/* spacing.png of feeds, lanes.png of lanes, into the job's folder; nothing where there is neither. */
enum ww_status spacing_save(struct job *job, const struct ww_solution *solution, const struct ww_spacing *spacing,
                            struct ww_error *error);

#endif
