/* figure/decades.h - logarithmic scales: an axis upwards, and a key of colours.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A panel with a logarithmic axis has log10 of the shown values as its y0 and y1, and no y_ticks.
 */
#ifndef WW_FIGURE_DECADES_H
#define WW_FIGURE_DECADES_H

#include "figure/canvas.h"

#define WW_DECADES_MOST 48 /* ticks */

/* From low to high, both > 0, low at a tick, in the unit that is shown. */
struct ww_decades {
    double low, high;
    bool cut; /* there are values under low: they are drawn at low */
    int count;
    double value[WW_DECADES_MOST];
    bool named[WW_DECADES_MOST]; /* has room for its label */
};

/* A scale for values from least to most [SI], shown in units of `worth`, on `room` units of the page. Values of 0, and
 * what lies three decades under the most, are under its floor. An axis ends at a tick, colours at the most. */
enum ww_decades_end { WW_ENDS_AT_TICK, WW_ENDS_AT_MOST };
struct ww_decades ww_decades_choose(double least, double most, double worth, double room, enum ww_decades_end end);
/* True if the value lies on the scale, neither over it nor cut off at its floor. */
bool ww_decades_holds(const struct ww_decades *decades, double value);
/* log10 of the value, held to the scale; of what is not a number, NaN. */
double ww_decades_log(const struct ww_decades *decades, double value);
/* Where the value is, 0..1 from low to high. */
double ww_decades_share(const struct ww_decades *decades, double value);
/* "0.05", with a sign that it holds what is less where the scale is cut. Returns out. */
char *ww_decades_label(const struct ww_decades *decades, int i, char *out, size_t size);
double ww_decades_width(struct ww_canvas *canvas, const struct ww_decades *decades);

void ww_decades_grid(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades);
/* Ticks and labels at the left of the panel, with a title. */
void ww_decades_axis(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                     const char *title);
/* Colour bar of the sequential ramp, ticks at its right, title beyond them. */
void ww_decades_bar(struct ww_canvas *canvas, struct ww_box box, const struct ww_decades *decades, const char *title);

#endif
