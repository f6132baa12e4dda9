/* cli/skew.h - the part of skew: solved and saved, for its own command and for those that build on it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_SKEW_H
#define CLI_SKEW_H

#include "job.h"

#include <weftwise/line.h>
#include <weftwise/chance.h>

/* skew: the answer and what it was made of. */
struct skew_part {
    struct ww_line *line;
    struct ww_skew skew;
    struct ww_line_summary summary; /* as it is shown */
    double (*start)[2];             /* of each ply: where the plies add to the worst */
};
/* turn: how far the cloth may lie off square [rad]. */
enum ww_status skew_solve(struct job *job, double turn, struct skew_part *part, struct ww_error *error);
/* The files of the command, into the job's folder. */
enum ww_status skew_save(struct job *job, const struct skew_part *part, struct ww_error *error);
void skew_clear(struct skew_part *part);

#endif
