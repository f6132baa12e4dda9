/* cli/pitch.h - the part of pitch: solved and saved, for its own command and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_PITCH_H
#define CLI_PITCH_H

#include "job.h"

#include <weftwise/sweep.h>

/* pitch: over the ranges of the command line, or about the study's own. in_short: fewer choices. */
enum ww_status pitch_solve(const struct job *job, struct ww_pitch *pitch, struct ww_error *error);
enum ww_status pitch_save(struct job *job, const struct ww_pitch *pitch, struct ww_error *error);

#endif
