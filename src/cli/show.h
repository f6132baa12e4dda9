/* cli/show.h - tables on standard output that several commands print.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_SHOW_H
#define CLI_SHOW_H

#include "job.h"

void show_title(const struct job *job);
void show_fabric(const struct job *job);
/* Which limits of the model a frequency is above; nothing where it is above none. */
void show_limits(const struct ww_line *line, double frequency);
void show_line(const struct job *job, const struct ww_line_summary *line);
/* worst: of each ply the extreme that adds to the worst of a pair. */
void show_skew(const struct job *job, const struct ww_line_summary *line, const struct ww_skew *skew,
               const struct ww_extreme *worst);
/* The range of the worst, and what makes most of it. */
void show_doubts(const struct ww_doubts *doubts);
/* Of a study whose yarns wander: that these figures are a bound. */
void show_bound(const struct job *job);
void show_files(const struct job *job);

#endif
