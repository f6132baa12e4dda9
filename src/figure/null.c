/* figure/null.c - how fast the null is lost: the worst at the null's pitch against angle, and against the cloth's count.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One axis of time for both panels: one sees which of the two errors a null dies of first.
 */
#include <math.h>

#include "figure/over_angle.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1000.0
#define RIGHT 190.0 /* for the budget's name */
#define BETWEEN 70.0
#define PER_CENT 0.01
#define FLATTEST 1e-15 /* [s] least reach of the axis */

static const double budget_dash[] = {22, 6, 4, 6};

static bool sound(const double *at, const double *value, size_t count)
{
    if (at == NULL || value == NULL)
        return false;
    for (size_t i = 0; i < count; i++)
        if (!isfinite(at[i]) || (i > 0 && !(at[i] > at[i - 1])) || !(value[i] >= 0) || !isfinite(value[i]))
            return false;
    return true;
}

static enum ww_status check(const struct ww_figure_pitch *content, const char *path, struct ww_error *error)
{
    const struct ww_pitch *pitch = content->pitch;

    if (pitch == NULL || pitch->count < 2 || !sound(pitch->angle, pitch->at_angle, pitch->count) ||
        !sound(pitch->stretch, pitch->at_stretch, pitch->count))
        return ww_error_set(
            error, WW_INVALID, path, 0,
            "no loss of a null to draw; give two angles and stretches or more, ascending, with values "
            "of 0 or more");
    if (!(content->budget >= 0) || !isfinite(content->budget) || !isfinite(pitch->null_pitch))
        return ww_error_set(error, WW_INVALID, path, 0, "budget and pitch of the null must be finite");
    return WW_OK;
}

/* --- one panel */

static void draw_panel(struct ww_canvas *canvas, const struct ww_panel *panel, const double *at, const double *value,
                       size_t count, double at_worth, double worth, double budget)
{
    double y = ww_panel_y(panel, budget / worth);

    ww_panel_grid(canvas, panel);
    if (budget > 0 && budget / worth <= panel->y1) {
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        ww_canvas_dash(canvas, budget_dash, 4);
        ww_canvas_stroke(canvas, panel->box.x, y, panel->box.x + panel->box.w, y, 3.5);
        ww_canvas_dash(canvas, NULL, 0);
    }
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, at[i] / at_worth), ww_panel_y(panel, value[i] / worth));
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_stroke(canvas->cairo);
}

/* --- words */

/* The way from 0, either way the shorter, at which the value first exceeds the limit; < 0: nowhere. */
static double first_over(const double *at, const double *value, size_t count, double limit)
{
    double first = -1;

    for (size_t i = 0; i < count; i++) {
        double way = fabs(at[i]);
        if (value[i] <= limit)
            continue;
        for (size_t j = i > 0 ? i - 1 : i; j <= i + 1 && j < count; j++) /* between it and a neighbour within */
            if (value[j] <= limit && value[i] > value[j])
                way = fmin(way, fabs(at[j] + (at[i] - at[j]) * (limit - value[j]) / (value[i] - value[j])));
        first = first < 0 ? way : fmin(first, way);
    }
    return first;
}

static void write_headline(char *out, const struct ww_figure_pitch *content)
{
    const struct ww_pitch *pitch = content->pitch;
    char null[48], limit[48], angle[64], stretch[64], value[48];
    double off_angle = first_over(pitch->angle, pitch->at_angle, pitch->count, content->budget);
    double off_stretch = first_over(pitch->stretch, pitch->at_stretch, pitch->count, content->budget);

    ww_number_format(null, sizeof null, pitch->null_pitch, WW_LENGTH, 4);
    ww_time_label(limit, sizeof limit, content->budget);
    (void)snprintf(angle, sizeof angle, "%s%s%s", off_angle < 0 ? "at none of these angles" : "at ",
                   off_angle < 0 ? "" : ww_angle_label(value, sizeof value, off_angle), off_angle < 0 ? "" : " off");
    (void)snprintf(stretch, sizeof stretch, "%s%s%s", off_stretch < 0 ? "none of these counts" : "",
                   off_stretch < 0 ? "" : ww_size_label(value, sizeof value, off_stretch / PER_CENT, 2),
                   off_stretch < 0 ? "" : " % of count");
    if (!(content->budget > 0))
        (void)snprintf(out, WW_TEXT_BYTES, "How fast the null at %s of pitch is lost", null);
    else if (off_angle < 0 && off_stretch < 0)
        (void)snprintf(out, WW_TEXT_BYTES, "The null at %s of pitch holds the %s budget throughout", null, limit);
    else
        (void)snprintf(out, WW_TEXT_BYTES, "The null at %s exceeds %s %s, or %s", null, limit, angle, stretch);
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_pitch *content)
{
    static const struct ww_type alarm = {WW_TEXT_SMALL, true, WW_INK_ALARM};
    const struct ww_pitch *pitch = content->pitch;
    size_t count = pitch->count;
    char headline[WW_TEXT_BYTES], title[96], value[48], label[80];
    double most = fmax(FLATTEST, content->budget);

    for (size_t i = 0; i < count; i++)
        most = fmax(most, fmax(pitch->at_angle[i], pitch->at_stretch[i]));
    struct ww_unit time = ww_unit_time(most);
    write_headline(headline, content);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");
    struct ww_panel panel = {.y1 = 1.08 * most / time.worth};
    panel.y_ticks = ww_ticks_up(0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    double right = page.x + page.w - (content->budget > 0 ? RIGHT : 20), w = (right - left - BETWEEN) / 2;
    panel.box = (struct ww_box){left, page.y + 14, w, page.h - 106};

    ww_angle_axis(canvas, &panel, pitch->angle[0], pitch->angle[count - 1]);
    draw_panel(canvas, &panel, pitch->angle, pitch->at_angle, count, WW_DEGREE, time.worth, content->budget);
    (void)snprintf(title, sizeof title, "worst %s [%s]", content->pair ? "skew" : "delay spread", time.name);
    ww_panel_axes(canvas, &panel, "angle off the study's [deg]", title);

    panel.box.x += w + BETWEEN;
    panel.x0 = pitch->stretch[0] / PER_CENT;
    panel.x1 = pitch->stretch[count - 1] / PER_CENT;
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, w);
    draw_panel(canvas, &panel, pitch->stretch, pitch->at_stretch, count, PER_CENT, time.worth, content->budget);
    ww_panel_axes(canvas, &panel, "cloth stretched by [%], its count lower by as much", NULL);
    if (content->budget > 0) {
        (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, content->budget));
        ww_text_draw(canvas, alarm, panel.box.x + w + 10, ww_panel_y(&panel, content->budget / time.worth), 0, label);
    }
}

enum ww_status ww_figure_draw_null(const char *path, const struct ww_figure_options *options,
                                   const struct ww_figure_pitch *content, struct ww_error *error)
{
    struct ww_canvas canvas;
    enum ww_status status = check(content, path, error);

    if (status == WW_OK)
        status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status != WW_OK)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}
