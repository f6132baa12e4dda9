/* tally.h - progress of loops that several threads work on.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_TALLY_H
#define WW_SWEEP_TALLY_H

#include "weftwise/core.h"

/* How far a part of the work goes, on the whole way from 0 to 1. */
struct ww_tally {
    struct ww_progress progress;
    double from, to;
    size_t total, done;
    double told; /* last share reported */
};

/* The next part: `total` steps up to the share `to`. */
void ww_tally_part(struct ww_tally *tally, double to, size_t total);
/* One step is done; from any thread. Reports from one at a time, every percent or so. */
void ww_tally_step(struct ww_tally *tally);

#endif
