/* progress.c - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/progress.h"

#define LEAST_NEWS 0.005

void ww_progress_part(struct ww_progress_run *progress, double to, size_t total)
{
    progress->from = progress->to;
    progress->to = to;
    progress->total = total;
    atomic_store(&progress->done, 0);
}

static double share_of(struct ww_progress_run *progress)
{
    size_t done = atomic_load(&progress->done);
    if (done >= progress->total)
        return progress->to;
    return progress->from + (progress->to - progress->from) * (double)done / (double)progress->total;
}

static bool is_news(double share, double told)
{
    return share >= told + LEAST_NEWS || (share >= 1 && told < 1);
}

/* After a report the share is read again: a step that ended during the report found `telling` set and left. */
void ww_progress_step(struct ww_progress_run *progress)
{
    atomic_fetch_add(&progress->done, 1);
    if (!progress->host.report)
        return;
    while (is_news(share_of(progress), atomic_load(&progress->told)) && !atomic_exchange(&progress->telling, true)) {
        double share = share_of(progress);
        if (is_news(share, atomic_load(&progress->told))) {
            atomic_store(&progress->told, share);
            progress->host.report(progress->host.context, share);
        }
        atomic_store(&progress->telling, false);
    }
}
