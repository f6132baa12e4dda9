/* cli/arms.h - several traces on one cloth: saved and shown with skew.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_ARMS_H
#define CLI_ARMS_H

#include "job.h"

/* arms.png of arms by name, into the job's folder. */
enum ww_status arms_save(struct job *job, const struct ww_arms *arms, struct ww_error *error);
/* Nothing where there are neither arms nor lanes. */
void arms_show(const struct job *job, const struct ww_arms *arms);

#endif
