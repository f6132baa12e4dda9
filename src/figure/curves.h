/* figure/curves.h - sampled curves on a panel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_CURVES_H
#define WW_FIGURE_CURVES_H

#include "figure/canvas.h"

/* Samples at x = from + (to - from) i/(count - 1), worth `worth` of the panel's y unit each. */
struct ww_curve {
    const double *value;
    size_t count; /* >= 2 */
    double from, to;
    double worth;
};

/* The curve as a path for the caller to stroke; it breaks where a sample is not a number. A curve of many more
 * samples than the page has columns becomes the envelope of each column, which draws the same. */
void ww_curve_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_curve *curve);

/* Widen [low, high] to hold every finite sample of the first count; *low > *high means nothing held yet. */
void ww_curve_range(const double *value, size_t count, double *low, double *high);

#endif
