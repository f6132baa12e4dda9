/* cli/angles.h - the part of angles: solved and saved, for its own command and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_ANGLES_H
#define CLI_ANGLES_H

#include "skew.h"

#include <weftwise/sweep.h>

/* angles: over the range of the command line, and over length. */
struct angles_part {
    struct ww_line_summary summary; /* as it is shown */
    struct ww_angles angles;
    struct ww_lengths lengths;
    char sentence[512]; /* the answer in words */
};
/* What the command line asks for, without a correction. */
struct ww_angles_request angles_request(const struct job *job);
/* Angles of a trace repeat every 180 deg: the study's own, and whether the range has it. */
bool angles_own(const struct job *job, double *angle);
/* solution: of the job's study. */
enum ww_status angles_solve(struct job *job, const struct ww_solution *solution, struct angles_part *part,
                            struct ww_error *error);
/* The curves over angle alone. */
enum ww_status angles_turn(const struct job *job, const struct ww_solution *solution, struct ww_angles *angles,
                           struct ww_error *error);
enum ww_status angles_save(struct job *job, const struct angles_part *part, struct ww_error *error);
void angles_clear(struct angles_part *part);

#endif
