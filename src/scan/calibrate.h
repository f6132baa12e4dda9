/* calibrate.h - the kernel set against full cross-sections along its own worst placements.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_CALIBRATE_H
#define WW_SCAN_CALIBRATE_H

#include "scan/delay.h"

/* The factor by which full sections differ from the scan (of scale 1) in what varies over the cell of one signal, skew or
 * leg 1. high[ply], low[ply]: its extremes; sections: how many, made even. WW_NOT_CONVERGED, WW_NO_MEMORY. */
enum ww_status ww_calibrate(const struct ww_line *line, const struct ww_scan *scan, enum ww_signal signal,
                            const struct ww_extreme *high, const struct ww_extreme *low, size_t sections,
                            double *scale, struct ww_error *error);

#endif
