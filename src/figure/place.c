/* figure/place.c - skew of a trace slid over one board of real cloth, stretched across, with the worst place marked.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"
#include "weftwise/patch.h"

#define PAGE_HEIGHT 860.0
#define RIGHT 230.0    /* for the colour bar */
#define FLATTEST 1e-15 /* [s] least reach of the colour bar */

static enum ww_status check(const struct ww_figure_place *content, const char *path, struct ww_error *error)
{
    const struct ww_map *map = content->place ? &content->place->map : NULL;
    if (map == NULL || map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no map over places to draw; give one with samples");
    return WW_OK;
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_place *content)
{
    const struct ww_map *map = &content->place->map;
    struct ww_box page = ww_canvas_furniture(canvas, content->headline ? content->headline : "",
                                             content->subject ? content->subject : "");
    double low, high, mm = 1e-3;
    ww_map_range(map, &low, &high);
    double reach = fmax(fmax(fabs(low), fabs(high)), FLATTEST);
    struct ww_unit time = ww_unit_time(reach);
    struct ww_panel panel = {.x1 = map->lx / mm, .y1 = map->ly / mm};
    char title[WW_TITLE_BYTES];
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box =
        ww_heatmap_snap(canvas, (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106});
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_heatmap_draw(canvas, &panel, mm, map, WW_RAMP_DIVERGING, -reach, reach);
    ww_panel_axes(canvas, &panel, "start along the trace [mm]", "start across [mm]");
    ww_sheet_mark(canvas, WW_MARK_NULL, ww_panel_x(&panel, content->place->worst_x / mm),
                  ww_panel_y(&panel, content->place->worst_y / mm));
    ww_delay_title(canvas->options, title, sizeof title, content->pair ? "skew" : "delay", time);
    ww_canvas_colour_bar(canvas, (struct ww_box){panel.box.x + panel.box.w + 36, panel.box.y, 40, panel.box.h},
                         WW_RAMP_DIVERGING, -reach / time.worth, reach / time.worth, title, false);
}

enum ww_status ww_figure_draw_place(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_place *content, struct ww_error *error)
{
    struct ww_canvas canvas;
    enum ww_status status = check(content, path, error);
    if (!status)
        status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}
