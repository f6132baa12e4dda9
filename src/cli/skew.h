/* cli/skew.h - the part of skew: solved and saved, for its own command and for those that build on it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_SKEW_H
#define CLI_SKEW_H

#include "job.h"

#include <weftwise/study.h>
#include <weftwise/sweep.h>

/* ww_study_solve of the job's study; a pitch that was moved to the grid goes into the caption. */
enum ww_status skew_solve(struct job *job, struct ww_solution *solution, struct ww_error *error);
/* The answer and how far apart to keep feeds or lanes, which the files of the command tell. Zeroed is valid and empty. */
struct skew_part {
    struct ww_solution solution;
    struct ww_spacing spacing;
};
/* Both of them. */
enum ww_status skew_solve_part(struct job *job, struct skew_part *part, struct ww_error *error);
/* The files of the command, into the job's folder. */
enum ww_status skew_save(struct job *job, const struct skew_part *part, struct ww_error *error);
void skew_clear(struct skew_part *part);

#endif
