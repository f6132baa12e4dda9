/* cli/map.h - the glass that a laser beam meets, for map and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_MAP_H
#define CLI_MAP_H

#include "job.h"

/* What the study's beam meets in each ply, *via [plies], for free(); NULL where none drills. Its figures and maps go into the job's
 * folder. */
enum ww_status vias_save(struct job *job, struct ww_via **via, struct ww_error *error);

#endif
