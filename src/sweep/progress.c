/* progress.c - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "sweep/progress.h"

#define LEAST_NEWS 0.005

void ww_progress_part(struct ww_progress_run *progress, double to, size_t total)
{
    progress->from = progress->to;
    progress->to = to;
    progress->total = total;
    progress->done = 0;
}

void ww_progress_step(struct ww_progress_run *progress)
{
#ifdef _OPENMP
#pragma omp critical(ww_progress)
#endif
    {
        progress->done++;
        double share =
            progress->from + (progress->to - progress->from) * (double)progress->done / (double)progress->total;
        if (progress->host.report && (share >= progress->told + LEAST_NEWS || (share >= 1 && progress->told < 1))) {
            progress->told = share;
            progress->host.report(progress->host.context, share);
        }
    }
}
