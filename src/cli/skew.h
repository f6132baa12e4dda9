/* cli/skew.h - the part of skew: solved and saved, for its own command and for those that build on it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_SKEW_H
#define CLI_SKEW_H

#include "job.h"

#include <weftwise/study.h>

/* ww_study_solve of the job's study; a pitch that was moved to the grid goes into the caption. */
enum ww_status skew_solve(struct job *job, struct ww_solution *solution, struct ww_error *error);
/* The files of the command, into the job's folder. */
enum ww_status skew_save(struct job *job, const struct ww_solution *part, struct ww_error *error);

#endif
