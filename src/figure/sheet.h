/* figure/sheet.h - a table over two axes as colours, and as contours: columns and rows need not be evenly spaced.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_SHEET_H
#define WW_FIGURE_SHEET_H

#include "figure/decades.h"

/* value[row][column] over x and y, both ascending, in SI. The panel shows x/x_worth and y/y_worth. */
struct ww_sheet {
    size_t columns, rows; /* >= 2 */
    const double *x, *y, *value;
    double x_worth, y_worth;
    double worth; /* of the value's unit */
};

/* True if there are two or more of each, all finite and ascending. */
bool ww_sheet_sound(const struct ww_sheet *sheet);
/* Least and most of the values that are neither NaN nor below 0; both 0 if there is none. */
void ww_sheet_range(const struct ww_sheet *sheet, double *least, double *most);
/* Every pixel takes the colour of the nearest sample on the scale of the decades. Values below 0 are there to be
 * hatched: what cannot be. */
void ww_sheet_draw(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_sheet *sheet,
                   const struct ww_decades *decades);
/* The path of a level [SI], > 0, log-linear between samples; for the caller to stroke within the panel's clip. */
void ww_sheet_contour_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_sheet *sheet,
                           const struct ww_decades *decades, double level);
/* Stroke the path so that it shows on every colour of the ramp. */
void ww_sheet_stroke(struct ww_canvas *canvas);
/* The contour's entry in the key at (x, y), where there is a budget [s]: its value, and where a sheet of values least..most
 * exceeds it. Returns the y of the next entry. */
double ww_sheet_budget(struct ww_canvas *canvas, double x, double y, double budget, double least, double most);
/* Marks that show on every colour: the study's own, a diamond; a null, a ring. */
#define WW_MARK_RADIUS 16.0
enum ww_sheet_mark { WW_MARK_OWN, WW_MARK_NULL };
void ww_sheet_mark(struct ww_canvas *canvas, enum ww_sheet_mark mark, double x, double y);
/* Slanted strokes over the rectangle: what cannot be built. */
void ww_sheet_hatch(struct ww_canvas *canvas, struct ww_box box);

#endif
