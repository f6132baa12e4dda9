/* tally.c - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "sweep/tally.h"

#define LEAST_NEWS 0.005

void ww_tally_part(struct ww_tally *tally, double to, size_t total)
{
    tally->from = tally->to;
    tally->to = to;
    tally->total = total;
    tally->done = 0;
}

void ww_tally_step(struct ww_tally *tally)
{
#ifdef _OPENMP
#pragma omp critical(ww_tally)
#endif
    {
        tally->done++;
        double share = tally->from + (tally->to - tally->from) * (double)tally->done / (double)tally->total;
        if (tally->progress.report && (share >= tally->told + LEAST_NEWS || (share >= 1 && tally->told < 1))) {
            tally->told = share;
            tally->progress.report(tally->progress.context, share);
        }
    }
}
