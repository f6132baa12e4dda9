/* figure/panel.c - how far the worst of many nets on one panel goes: its distribution over panels, beside one net's.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/sheet.h"
#include "weftwise/figure.h"
#include "weftwise/patch.h"

#define PAGE_HEIGHT 900.0
#define RIGHT 330.0
#define FLATTEST 1e-15      /* [s] least reach of the axis */
#define FARTHEST_BUDGET 3.0 /* times the most that the axis still goes to reach it */
#define NAME_DROP 42.0
#define SAMPLE 62.0

static const double one_dash[] = {10, 5}, budget_dash[] = {22, 6, 4, 6};

static enum ww_status check(const struct ww_figure_panel *content, const char *path, struct ww_error *error)
{
    const struct ww_real_panel *panel = content->panel;
    bool good = panel != NULL && panel->nets >= 2 && panel->panels >= 2 && panel->worst != NULL &&
                content->budget >= 0 && isfinite(content->budget);
    for (size_t i = 0; good && i < panel->panels; i++)
        good =
            panel->worst[i] >= 0 && isfinite(panel->worst[i]) && (i == 0 || panel->worst[i] >= panel->worst[i - 1]);
    return good ? WW_OK
                : ww_error_set(error, WW_INVALID, path, 0,
                               "no panels to draw; give two or more, of two or more nets, the worst ascending");
}

/* Share of panels whose worst is no more, as steps. */
static void steps_path(struct ww_canvas *canvas, const struct ww_panel *axes, const struct ww_real_panel *panel,
                       double worth)
{
    double n = (double)panel->panels;
    cairo_new_path(canvas->cairo);
    cairo_line_to(canvas->cairo, ww_panel_x(axes, 0), ww_panel_y(axes, 0));
    for (size_t i = 0; i < panel->panels; i++) {
        double x = ww_panel_x(axes, panel->worst[i] / worth);
        cairo_line_to(canvas->cairo, x, ww_panel_y(axes, 100 * (double)i / n));
        cairo_line_to(canvas->cairo, x, ww_panel_y(axes, 100 * (double)(i + 1) / n));
    }
    cairo_line_to(canvas->cairo, ww_panel_x(axes, axes->x1), ww_panel_y(axes, 100));
}

static void draw_one(struct ww_canvas *canvas, const struct ww_panel *axes, const struct ww_real_panel *panel,
                     double worth)
{
    cairo_new_path(canvas->cairo);
    for (int q = 0; q < WW_QUANTILES; q++)
        cairo_line_to(canvas->cairo, ww_panel_x(axes, panel->one[q] / worth),
                      ww_panel_y(axes, 100.0 * q / (WW_QUANTILES - 1)));
    cairo_line_to(canvas->cairo, ww_panel_x(axes, axes->x1), ww_panel_y(axes, 100));
    ww_canvas_ink(canvas, WW_INK_LEG2, 1);
    ww_canvas_dash(canvas, one_dash, 2);
    cairo_set_line_width(canvas->cairo, 3.5);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

/* Median and 95 of 100 of the worst with the intervals that hold them. */
static void draw_bracket(struct ww_canvas *canvas, const struct ww_panel *axes, const struct ww_bracketed *b,
                         double share, double worth)
{
    double y = ww_panel_y(axes, 100 * share), low = ww_panel_x(axes, b->low / worth),
           high = ww_panel_x(axes, b->high / worth);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, low, y, high, y, 3);
    ww_canvas_stroke(canvas, low, y - 10, low, y + 10, 3);
    ww_canvas_stroke(canvas, high, y - 10, high, y + 10, 3);
}

static void entry(struct ww_canvas *canvas, double x, double *y, enum ww_ink ink, const double *dash, int dashes,
                  int lines, const char *text)
{
    struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    ww_canvas_ink(canvas, ink, 1);
    ww_canvas_dash(canvas, dash, dashes);
    ww_canvas_stroke(canvas, x, *y, x + SAMPLE, *y, 4);
    ww_canvas_dash(canvas, NULL, 0);
    *y = ww_text_paragraph(canvas, type, x + SAMPLE + 14, *y, RIGHT - 30 - SAMPLE - 14, lines, text) + NAME_DROP -
         WW_TEXT_SMALL;
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_panel *content)
{
    const struct ww_real_panel *panel = content->panel;
    struct ww_box page = ww_canvas_furniture(canvas, content->headline ? content->headline : "",
                                             content->subject ? content->subject : "");
    double most = fmax(panel->worst[panel->panels - 1], FLATTEST);
    bool budget = content->budget > 0 && content->budget <= FARTHEST_BUDGET * most;
    bool one = panel->one[WW_QUANTILES - 1] > 0;
    most = budget ? fmax(most, content->budget) : most;
    struct ww_unit time = ww_unit_time(most);
    struct ww_panel axes = {.x1 = 1.03 * most / time.worth, .y1 = 100};
    char title[WW_TITLE_BYTES], text[96], label[48];
    axes.y_ticks = ww_ticks_up(axes.y0, axes.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &axes.y_ticks);
    axes.box = (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106};
    axes.x_ticks = ww_ticks_across(canvas, axes.x0, axes.x1, axes.box.w);
    ww_panel_grid(canvas, &axes);
    ww_panel_clip(canvas, &axes);
    if (one)
        draw_one(canvas, &axes, panel, time.worth);
    steps_path(canvas, &axes, panel, time.worth);
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_stroke(canvas->cairo);
    draw_bracket(canvas, &axes, &panel->median, 0.5, time.worth);
    draw_bracket(canvas, &axes, &panel->p95, 0.95, time.worth);
    if (budget) {
        double x = ww_panel_x(&axes, content->budget / time.worth);
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        ww_canvas_dash(canvas, budget_dash, 4);
        ww_canvas_stroke(canvas, x, axes.box.y, x, axes.box.y + axes.box.h, 3);
        ww_canvas_dash(canvas, NULL, 0);
    }
    ww_panel_unclip(canvas);
    ww_delay_title(canvas->options, title, sizeof title, content->pair ? "|skew|" : "delay difference", time);
    ww_panel_axes(canvas, &axes, title, "share that has no more [%]");
    double x = axes.box.x + axes.box.w + 24, y = axes.box.y + 20;
    (void)snprintf(text, sizeof text, "worst of %zu nets, over panels", panel->nets);
    entry(canvas, x, &y, WW_INK_LEG1, NULL, 0, 2, text);
    if (one)
        entry(canvas, x, &y, WW_INK_LEG2, one_dash, 2, 2, "one net, over nets of all panels");
    entry(canvas, x, &y, WW_INK_TEXT, NULL, 0, 3, "median and 95 of 100, with 95 % intervals");
    (void)snprintf(text, sizeof text, "budget %s", ww_time_label(label, sizeof label, content->budget));
    if (budget)
        entry(canvas, x, &y, WW_INK_ALARM, budget_dash, 4, 1, text);
}

enum ww_status ww_figure_draw_panel(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_panel *content, struct ww_error *error)
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
