/* figure/over_angle.h - what is drawn over the routing angle: its axis, its curves, its words.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The axis is in degrees.
 */
#ifndef WW_FIGURE_OVER_ANGLE_H
#define WW_FIGURE_OVER_ANGLE_H

#include "figure/decades.h"

#define WW_DEGREE (WW_PI / 180)

enum ww_angle_curve { WW_CURVE_DESIGN, WW_CURVE_WORST, WW_CURVE_P99, WW_CURVE_MEDIAN, WW_CURVES };
double ww_angle_value(const struct ww_at_angle *at, enum ww_angle_curve curve);

/* True if there are one angle or more, finite and ascending, and no value below 0 or infinite. */
bool ww_angles_sound(const struct ww_angles *angles);
/* The panel's x axis: from the first angle to the last; of one angle alone, half a degree about it. */
void ww_angle_axis(struct ww_canvas *canvas, struct ww_panel *panel, double from, double to);
/* The curve as a path for the caller to stroke; a short dash where there is but one angle. */
void ww_angle_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                   const struct ww_angles *angles, enum ww_angle_curve curve, double worth);
/* "12.5°" without needless digits. Returns out. */
char *ww_angle_label(char *out, size_t size, double radians);

/* Samples of a line, and the words beside it: a column at the right of a panel, first line at y, that keeps clear of what
 * is reserved for other labels there. */
struct ww_plot_column {
    double x, y, room;
    double reserved, height; /* middle and half the height of what is to be kept clear; height 0: nothing */
};
/* The y of the next entry of `lines` lines; moves on. */
double ww_column_next(struct ww_plot_column *column, int lines);

#endif
