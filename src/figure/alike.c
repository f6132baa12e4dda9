/* figure/alike.c - how alike traces side by side on real cloth are: correlation over their spacing.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/sheet.h"
#include "weftwise/figure.h"
#include "weftwise/patch.h"

#define PAGE_HEIGHT 900.0
#define RIGHT 60.0

static enum ww_status check(const struct ww_figure_alike *content, const char *path, struct ww_error *error)
{
    const struct ww_real_alike *alike = content->alike;
    bool good = alike != NULL && alike->count >= 2 && content->lane_pitch >= 0 && isfinite(content->lane_pitch);
    for (size_t i = 0; good && i < alike->count; i++)
        good = (i == 0 || alike->spacing[i] > alike->spacing[i - 1]) && isfinite(alike->correlation[i].low) &&
               isfinite(alike->correlation[i].value) && isfinite(alike->correlation[i].high);
    return good ? WW_OK
                : ww_error_set(error, WW_INVALID, path, 0,
                               "no correlation to draw; give two or more spacings, ascending");
}

static void draw_band(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_real_alike *alike,
                      double worth)
{
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < alike->count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, alike->spacing[i] / worth),
                      ww_panel_y(panel, alike->correlation[i].high));
    for (size_t i = alike->count; i-- > 0;)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, alike->spacing[i] / worth),
                      ww_panel_y(panel, alike->correlation[i].low));
    cairo_close_path(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_LEG1, 0.22);
    cairo_fill(canvas->cairo);
}

static void draw_curve(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_real_alike *alike,
                       double worth)
{
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < alike->count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, alike->spacing[i] / worth),
                      ww_panel_y(panel, alike->correlation[i].value));
    cairo_stroke(canvas->cairo);
}

/* The study's lane pitch, at the curve. */
static void mark_lanes(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_alike *content,
                       double worth)
{
    const struct ww_real_alike *alike = content->alike;
    double at = content->lane_pitch, value = 0;
    if (!(at > 0 && at <= alike->spacing[alike->count - 1]))
        return;
    for (size_t i = 1; i < alike->count; i++)
        if (alike->spacing[i - 1] <= at && at <= alike->spacing[i]) {
            double share = (at - alike->spacing[i - 1]) / (alike->spacing[i] - alike->spacing[i - 1]);
            value = (1 - share) * alike->correlation[i - 1].value + share * alike->correlation[i].value;
        }
    ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(panel, at / worth), ww_panel_y(panel, value));
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_alike *content)
{
    const struct ww_real_alike *alike = content->alike;
    struct ww_box page = ww_canvas_furniture(canvas, content->headline ? content->headline : "",
                                             content->subject ? content->subject : "");
    struct ww_unit length = ww_unit_length(alike->spacing[alike->count - 1]);
    struct ww_panel panel = {.x1 = alike->spacing[alike->count - 1] / length.worth, .y0 = -1, .y1 = 1};
    char title[64];
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_panel_grid(canvas, &panel);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, panel.box.x, ww_panel_y(&panel, 0), panel.box.x + panel.box.w, ww_panel_y(&panel, 0), 2);
    ww_panel_clip(canvas, &panel);
    draw_band(canvas, &panel, alike, length.worth);
    draw_curve(canvas, &panel, alike, length.worth);
    ww_panel_unclip(canvas);
    (void)snprintf(title, sizeof title, "centre to centre [%s]", length.name);
    ww_panel_axes(canvas, &panel, title, content->pair ? "correlation of their skew" : "correlation of their delay");
    mark_lanes(canvas, &panel, content, length.worth);
}

enum ww_status ww_figure_draw_alike(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_alike *content, struct ww_error *error)
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
