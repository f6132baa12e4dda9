/* figure/cloth.c - skew over length on real cloth, beside the bound of perfect cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Perfect cloth's worst is a line without end; the names of the curves stand at their right ends.
 */
#include <math.h>

#include "figure/sheet.h"
#include "weftwise/figure.h"
#include "weftwise/patch.h"

#define PAGE_HEIGHT 900.0
#define RIGHT 330.0         /* for the names */
#define FLATTEST 1e-15      /* [s] least reach of the axis */
#define FARTHEST_BUDGET 3.0 /* times the most that the axis still goes to reach it */
#define GAP 32.0            /* least distance of two names */
#define BESIDE 22.0         /* from the curves' ends to their names: room for half a mark */
enum { CURVES = 4, NAMES = CURVES + 1 };

static const double bound_dash[] = {14, 7};
static const double budget_dash[] = {22, 6, 4, 6};

static double value_of(const struct ww_at_length *at, int curve)
{
    return (const double[CURVES]){at->bound, at->square.p99.value, at->turned.p99.value,
                                  at->square.median.value}[curve];
}

static const struct {
    const char *name;
    enum ww_ink ink;
    double width;
} pen_of[CURVES] = {{"perfect cloth, worst", WW_INK_TEXT, 3},
                    {"laid square, 99 %", WW_INK_LEG1, 4.5},
                    {"turned, 99 %", WW_INK_LEG2, 4.5},
                    {"laid square, median", WW_INK_LEG1, 2}};

static enum ww_status check(const struct ww_figure_cloth *content, const char *path, struct ww_error *error)
{
    const struct ww_real *real = content->real;
    bool good = real != NULL && real->count >= 2 && real->at[0].length > 0 && content->budget >= 0 &&
                isfinite(content->budget);
    for (size_t i = 0; good && i < real->count; i++) {
        good = i == 0 || real->at[i].length > real->at[i - 1].length;
        for (int c = 0; c < CURVES; c++)
            good = good && value_of(&real->at[i], c) >= 0 && isfinite(value_of(&real->at[i], c));
    }
    return good ? WW_OK
                : ww_error_set(error, WW_INVALID, path, 0,
                               "no lengths to draw; give two or more, ascending, with values of 0 or more");
}

static void draw_curve(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_real *real, int curve,
                       double length_worth, double time_worth)
{
    ww_canvas_ink(canvas, pen_of[curve].ink, 1);
    if (curve == 0)
        ww_canvas_dash(canvas, bound_dash, 2);
    cairo_set_line_width(canvas->cairo, pen_of[curve].width);
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < real->count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, real->at[i].length / length_worth),
                      ww_panel_y(panel, value_of(&real->at[i], curve) / time_worth));
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

/* The interval of a figure as an upright stroke at every length. */
static void draw_intervals(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_real *real,
                           bool turned, double length_worth, double time_worth)
{
    ww_canvas_ink(canvas, turned ? WW_INK_LEG2 : WW_INK_LEG1, 0.7);
    for (size_t i = 0; i < real->count; i++) {
        const struct ww_bracketed *b = turned ? &real->at[i].turned.p99 : &real->at[i].square.p99;
        double x = ww_panel_x(panel, real->at[i].length / length_worth);
        ww_canvas_stroke(canvas, x, ww_panel_y(panel, b->low / time_worth), x,
                         ww_panel_y(panel, b->high / time_worth), 3);
    }
}

/* Names at the right ends, highest first, kept apart. */
static void draw_names(struct ww_canvas *canvas, const struct ww_panel *panel, const double value[NAMES], int count,
                       const char *budget)
{
    double at[NAMES];
    int order[NAMES];
    for (int i = 0; i < count; i++) {
        int place = i;
        for (; place > 0 && value[order[place - 1]] < value[i]; place--)
            order[place] = order[place - 1];
        order[place] = i;
    }
    for (int i = 0; i < count; i++)
        at[i] = ww_panel_y(panel, value[order[i]]);
    ww_labels_apart(at, count, GAP, panel->box.y, panel->box.y + panel->box.h);
    for (int i = 0; i < count; i++) {
        bool curve = order[i] < CURVES;
        struct ww_type type = {WW_TEXT_SMALL, false, curve ? pen_of[order[i]].ink : WW_INK_ALARM};
        ww_text_draw(canvas, type, panel->box.x + panel->box.w + BESIDE, at[i], 0,
                     curve ? pen_of[order[i]].name : budget);
    }
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_cloth *content)
{
    const struct ww_real *real = content->real;
    const struct ww_at_length *last = &real->at[real->count - 1], *own = &real->at[real->own];
    struct ww_box page = ww_canvas_furniture(canvas, content->headline ? content->headline : "",
                                             content->subject ? content->subject : "");
    double most = FLATTEST, value[NAMES];
    for (int c = 0; c < CURVES; c++)
        most = fmax(most, value_of(last, c));
    bool budget = content->budget > 0 && content->budget <= FARTHEST_BUDGET * most;
    for (size_t i = 0; i < real->count; i++)
        most = fmax(most, fmax(real->at[i].square.p99.high, real->at[i].turned.p99.high));
    most = fmax(most, budget ? content->budget : 0);
    struct ww_unit time = ww_unit_time(most), length = ww_unit_length(last->length);
    struct ww_panel panel = {.x1 = last->length / length.worth, .y1 = 1.05 * most / time.worth};
    char title[96], label[64], text[48];
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_panel_grid(canvas, &panel);
    if (budget) {
        double y = ww_panel_y(&panel, content->budget / time.worth);
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        ww_canvas_dash(canvas, budget_dash, 4);
        ww_canvas_stroke(canvas, panel.box.x, y, panel.box.x + panel.box.w, y, 3);
        ww_canvas_dash(canvas, NULL, 0);
    }
    ww_panel_clip(canvas, &panel);
    for (int c = 0; c < CURVES; c++)
        draw_curve(canvas, &panel, real, c, length.worth, time.worth);
    for (int turned = 0; turned < 2; turned++)
        draw_intervals(canvas, &panel, real, turned, length.worth, time.worth);
    ww_panel_unclip(canvas);
    for (int c = 0; c < CURVES; c++)
        value[c] = value_of(last, c) / time.worth;
    value[CURVES] = content->budget / time.worth;
    (void)snprintf(label, sizeof label, "budget %s", ww_time_label(text, sizeof text, content->budget));
    draw_names(canvas, &panel, value, budget ? NAMES : CURVES, label);
    (void)snprintf(title, sizeof title, "length%s [%s]", real->route ? " along the route" : "", length.name);
    char up[96];
    (void)snprintf(up, sizeof up, "%s [%s]", real->pair ? "skew" : "delay difference", time.name);
    ww_panel_axes(canvas, &panel, title, up);
    ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(&panel, own->length / length.worth),
                  ww_panel_y(&panel, own->square.p99.value / time.worth));
}

enum ww_status ww_figure_draw_cloth(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_cloth *content, struct ww_error *error)
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
