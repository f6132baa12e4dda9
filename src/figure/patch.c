/* figure/patch.c - real cloth under a straight trace: local Dk along it, stretched across.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 860.0
#define RIGHT 230.0   /* for the colour bar */
#define FLATTEST 0.02 /* least span of the colour bar */

static enum ww_status check(const struct ww_figure_patch *content, const char *path, struct ww_error *error)
{
    const struct ww_map *map = content->dk;
    if (map == NULL || map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no Dk map to draw; give one with samples and extent");
    if (!(content->width > 0) || !(content->pitch >= 0) || !isfinite(content->width + content->pitch))
        return ww_error_set(error, WW_INVALID, path, 0, "the trace to draw needs a width above 0");
    return WW_OK;
}

/* A leg as two edges, so that the cloth under it shows. */
static void draw_leg(struct ww_canvas *canvas, const struct ww_panel *panel, double middle, double width,
                     enum ww_ink ink)
{
    for (int side = -1; side <= 1; side += 2) {
        double y = ww_panel_y(panel, middle + 0.5 * side * width);
        ww_canvas_ink(canvas, WW_INK_PAPER, 1);
        ww_canvas_stroke(canvas, panel->box.x, y, panel->box.x + panel->box.w, y, 6);
        ww_canvas_ink(canvas, ink, 1);
        ww_canvas_stroke(canvas, panel->box.x, y, panel->box.x + panel->box.w, y, 3);
    }
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_patch *content)
{
    const struct ww_map *map = content->dk;
    struct ww_box page = ww_canvas_furniture(canvas, content->headline ? content->headline : "",
                                             content->subject ? content->subject : "");
    double low, high, mm = 1e-3;
    ww_map_range(map, &low, &high);
    if (high - low < FLATTEST) {
        double middle = 0.5 * (low + high);
        low = middle - 0.5 * FLATTEST;
        high = middle + 0.5 * FLATTEST;
    }
    struct ww_panel panel = {.x1 = map->lx / mm, .y1 = map->ly / mm};
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box =
        ww_heatmap_snap(canvas, (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106});
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_heatmap_draw(canvas, &panel, mm, map, WW_RAMP_SEQUENTIAL, low, high);
    ww_panel_clip(canvas, &panel);
    double middle = 0.5 * panel.y1, half = 0.5 * content->pitch / mm, width = content->width / mm;
    draw_leg(canvas, &panel, middle + half, width, WW_INK_LEG1);
    if (half > 0)
        draw_leg(canvas, &panel, middle - half, width, WW_INK_LEG2);
    ww_panel_unclip(canvas);
    ww_panel_axes(canvas, &panel, "along the trace [mm]", "across [mm]");
    double right = panel.box.x + panel.box.w;
    ww_canvas_colour_bar(canvas, (struct ww_box){right + 36, panel.box.y, 40, panel.box.h}, WW_RAMP_SEQUENTIAL, low,
                         high, "local Dk", false);
}

enum ww_status ww_figure_draw_patch(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_patch *content, struct ww_error *error)
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
