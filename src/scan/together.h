/* together.h - what plies do to each other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_TOGETHER_H
#define WW_SCAN_TOGETHER_H

#include "scan/delay.h"

/* What the interplay between plies adds to the greatest (more[0]) and the least (more[1]) of a signal [s], which else are
 * the sums over the plies. Nothing to a route, to plies that are turned against each other, or to one ply. */
enum ww_status ww_together_reach(const struct ww_scan *scan, enum ww_signal signal, double length, double more[2],
                                 struct ww_error *error);

#endif
