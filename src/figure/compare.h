/* figure/compare.h - what the three figures that compare styles share.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_COMPARE_H
#define WW_FIGURE_COMPARE_H

#include "figure/canvas.h"

#define WW_COMPARE_MOST 60 /* styles on one page */

/* Refuses what none of the three can draw: no style that can be used, more than WW_COMPARE_MOST, no names, values that are
 * below 0 or not finite. */
enum ww_status ww_compare_check(const struct ww_figure_compare *content, const char *path, struct ww_error *error);
/* The styles that can be used, in the order they have, into usable[WW_COMPARE_MOST]; returns how many. */
size_t ww_compare_usable(const struct ww_figure_compare *content, const struct ww_compared **usable);
/* The worst |skew| of a pair, the spread of a single trace [s]. */
double ww_compare_value(const struct ww_compared *of);
/* "skew" or "delay difference" */
const char *ww_compare_quantity(const struct ww_figure_compare *content);

#endif
