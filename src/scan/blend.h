/* blend.h - the scan of a line from those of lines a little wider and narrower, nearer and farther apart.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_BLEND_H
#define WW_SCAN_BLEND_H

#include "scan/slowness.h"

/* The sum of weight[i] times of[i], count >= 1, for a pair of this pitch [m] (0: single traces). All of them over one stack, at
 * one angle or route and with one set of options; the mean estimate alone. Harmonics below `negligible` of the largest are
 * left out. WW_NO_MEMORY. */
enum ww_status ww_scan_blend(struct ww_scan **out, const struct ww_scan *const *of, const double *weight,
                             size_t count, double pitch, double negligible, struct ww_error *error);

#endif
