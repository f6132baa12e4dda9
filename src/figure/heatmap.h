/* figure/heatmap.h - a periodic map as colours, and as contours.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The panel's data are lengths in a unit worth `worth` metres; the map is repeated over whatever the panel shows.
 */
#ifndef WW_FIGURE_HEATMAP_H
#define WW_FIGURE_HEATMAP_H

#include "figure/canvas.h"

/* Smallest and largest finite sample; both 0 if there is none. */
void ww_map_range(const struct ww_map *map, double *low, double *high);

/* The box moved to whole pixels, so that a heat map in it is drawn pixel for pixel. */
struct ww_box ww_heatmap_snap(const struct ww_canvas *canvas, struct ww_box box);

/* Every pixel takes the colour of the sample it lies in: no sample is smeared into the next. low < high are the
 * values at the ends of the ramp. */
void ww_heatmap_draw(struct ww_canvas *canvas, const struct ww_panel *panel, double worth, const struct ww_map *map,
                     enum ww_ramp ramp, double low, double high);

/* A panel of a little more than one cell, in the middle of `room`, of the cell's own shape; without ticks. */
struct ww_panel ww_heatmap_cell_panel(const struct ww_canvas *canvas, struct ww_box room, double worth,
                                      const struct ww_map *map);
/* The path of the cell's rim in it, for the caller to stroke. */
void ww_heatmap_cell_path(struct ww_canvas *canvas, const struct ww_panel *panel, double worth,
                          const struct ww_map *map);

/* The path of the lines along which the map, taken as linear between sample centres, has this level, each line in one
 * segment so that it can be dashed. The caller strokes it. Squares with a NaN corner are left out. */
void ww_contour_path(struct ww_canvas *canvas, const struct ww_panel *panel, double worth, const struct ww_map *map,
                     double level);

#endif
