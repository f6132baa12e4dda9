/* cli/compare.h - the part of compare: solved and saved, for its own command and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_COMPARE_H
#define CLI_COMPARE_H

#include "job.h"

#include <weftwise/report.h>

/* compare: of these styles; the ply that changes and what becomes of its resin are the command line's. in_short: fewer
 * angles. */
enum ww_status compare_solve(const struct job *job, const struct ww_candidate *candidate, size_t candidates,
                             bool in_short, struct ww_comparison *comparison, struct ww_error *error);
/* The same of the glasses that are worth comparing, which are chosen here; nothing where there are none. */
enum ww_status compare_alternatives(const struct job *job, struct ww_alternatives *alternatives,
                                    struct ww_comparison *comparison, struct ww_error *error);
enum ww_status compare_save(struct job *job, const struct ww_comparison *comparison, struct ww_error *error);

#endif
