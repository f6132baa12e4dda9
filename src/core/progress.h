/* progress.h - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CORE_PROGRESS_H
#define WW_CORE_PROGRESS_H

#include "weftwise/core.h"

#include <stdatomic.h>

/* How far one run is: the shares from 0 to 1 between which its present part lies, and the part's steps. Each run has its
 * own, so that runs at once do not wait for each other, and the host may start one from within its report. */
struct ww_progress_run {
    struct ww_progress host;
    double from, to;
    size_t total;
    atomic_size_t done;
    atomic_bool telling; /* a thread is reporting */
    _Atomic double told; /* last share reported */
};

/* The next part: `total` steps up to the share `to`. While no other thread is in a step. */
void ww_progress_part(struct ww_progress_run *progress, double to, size_t total);
/* One step is done; from any thread. Reports every half percent or so, from one thread at a time, shares that grow. No
 * lock is held meanwhile: a thread that ends its step while another reports leaves the news to that one. */
void ww_progress_step(struct ww_progress_run *progress);

#endif
