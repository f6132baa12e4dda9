/* progress.h - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_PROGRESS_H
#define WW_SWEEP_PROGRESS_H

#include "weftwise/core.h"

/* How far one run is: the shares from 0 to 1 between which its present part lies, and the part's steps. */
struct ww_progress_run {
    struct ww_progress host;
    double from, to;
    size_t total, done;
    double told; /* last share reported */
};

/* The next part: `total` steps up to the share `to`. */
void ww_progress_part(struct ww_progress_run *progress, double to, size_t total);
/* One step is done; from any thread. Reports from one at a time, every percent or so. */
void ww_progress_step(struct ww_progress_run *progress);

#endif
