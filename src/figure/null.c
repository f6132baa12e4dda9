/* figure/null.c - how fast the null is lost: the worst at the null's pitch against angle, and against the cloth's count.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One axis of time for both panels: they show which of the two errors loses a null first.
 */
#include <math.h>

#include "figure/over_angle.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1000.0
#define RIGHT 210.0 /* for the budget's name */
#define BETWEEN 70.0
#define FLATTEST 1e-15      /* [s] least reach of the axis */
#define FARTHEST_BUDGET 3.0 /* times the most that the axis still goes to reach it */

static const double budget_dash[] = {22, 6, 4, 6};

/* What is off, and by how much: the two panels. */
struct loss {
    size_t count;
    const double *at, *value;    /* [rad] or stretch, [s] */
    double (*error)(double off); /* what the axis shows: degrees, per cent */
};

static double degrees(double angle)
{
    return angle / WW_DEGREE;
}

/* How far off the yarn count is where the cloth is stretched. */
static double per_cent_of_count(double stretch)
{
    return 100 * (1 / (1 + stretch) - 1);
}

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
        !sound(pitch->stretch, pitch->at_stretch, pitch->count) || !(pitch->stretch[0] > -0.5))
        return ww_error_set(
            error, WW_INVALID, path, 0,
            "no loss of a null to draw; give two angles and stretches or more, ascending, with values "
            "of 0 or more");
    if (!(content->budget >= 0) || !isfinite(content->budget) || !isfinite(pitch->null_pitch + pitch->null_width))
        return ww_error_set(error, WW_INVALID, path, 0, "budget, pitch and width of the null must be finite");
    return WW_OK;
}

/* --- one panel */

static void draw_panel(struct ww_canvas *canvas, const struct ww_panel *panel, const struct loss *loss, double worth,
                       double budget)
{
    double y = ww_panel_y(panel, budget / worth);

    ww_panel_grid(canvas, panel);
    if (budget > 0) {
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        ww_canvas_dash(canvas, budget_dash, 4);
        ww_canvas_stroke(canvas, panel->box.x, y, panel->box.x + panel->box.w, y, 3.5);
        ww_canvas_dash(canvas, NULL, 0);
    }
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < loss->count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, loss->error(loss->at[i])),
                      ww_panel_y(panel, loss->value[i] / worth));
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_stroke(canvas->cairo);
}

/* --- words */

/* The least error, either way, at which the value first exceeds the limit; < 0: none of these. */
static double first_over(const struct loss *loss, double limit)
{
    double first = -1;

    for (size_t i = 0; i < loss->count; i++) {
        double here = loss->error(loss->at[i]), least = fabs(here);
        if (loss->value[i] <= limit)
            continue;
        for (size_t j = i > 0 ? i - 1 : i; j <= i + 1 && j < loss->count;
             j++) { /* crossed on the way to a neighbour */
            double there = loss->error(loss->at[j]),
                   share = (limit - loss->value[j]) / (loss->value[i] - loss->value[j]);
            if (loss->value[j] <= limit)
                least = fmin(least, fabs(there + (here - there) * share));
        }
        first = first < 0 ? least : fmin(first, least);
    }
    return first;
}

static void write_headline(char *out, const struct ww_figure_pitch *content, const struct loss *turn,
                           const struct loss *count)
{
    const struct ww_pitch *pitch = content->pitch;
    double off_angle = first_over(turn, content->budget), off_count = first_over(count, content->budget);
    char place[48], limit[48], angle[64] = "", share[64] = "", value[48];

    ww_length_label(place, sizeof place, content->pair ? pitch->null_pitch : pitch->null_width);
    ww_time_label(limit, sizeof limit, content->budget);
    int used = snprintf(out, WW_TEXT_BYTES, "%s at %s of %s", pitch->nulls > 0 ? "Null" : "Least", place,
                        content->pair ? "pitch" : "width");
    size_t room = (size_t)(WW_TEXT_BYTES - used);
    out += used;
    if (off_angle >= 0)
        (void)snprintf(angle, sizeof angle, "%s", ww_angle_label(value, sizeof value, off_angle));
    if (off_count >= 0)
        (void)snprintf(share, sizeof share, "%s %% of count", ww_size_label(value, sizeof value, off_count, 2));
    if (!(content->budget > 0))
        (void)snprintf(out, room, ": how fast it is lost");
    else if (off_angle < 0 && off_count < 0)
        (void)snprintf(out, room, ": within %s throughout", limit);
    else
        (void)snprintf(out, room, ": over %s at %s%s%s off", limit, angle,
                       off_angle >= 0 && off_count >= 0 ? " or " : "", share);
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_pitch *content)
{
    static const struct ww_type alarm = {WW_TEXT_SMALL, true, WW_INK_ALARM};
    const struct ww_pitch *pitch = content->pitch;
    struct loss turn = {pitch->count, pitch->angle, pitch->at_angle, degrees};
    struct loss off = {pitch->count, pitch->stretch, pitch->at_stretch, per_cent_of_count};
    size_t last = pitch->count - 1;
    char headline[WW_TEXT_BYTES], title[WW_TITLE_BYTES], value[48], label[80];
    double most = FLATTEST;

    for (size_t i = 0; i <= last; i++)
        most = fmax(most, fmax(pitch->at_angle[i], pitch->at_stretch[i]));
    double budget = content->budget <= FARTHEST_BUDGET * most ? content->budget : 0;
    most = fmax(most, budget);
    struct ww_unit time = ww_unit_time(most);
    write_headline(headline, content, &turn, &off);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");
    struct ww_panel panel = {.y1 = 1.08 * most / time.worth};
    panel.y_ticks = ww_ticks_up(0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    double right = page.x + page.w - (budget > 0 ? RIGHT : 20), w = (right - left - BETWEEN) / 2;
    panel.box = (struct ww_box){left, page.y + 14, w, page.h - 106};

    ww_angle_axis(canvas, &panel, pitch->angle[0], pitch->angle[last]);
    draw_panel(canvas, &panel, &turn, time.worth, budget);
    ww_delay_title(canvas->options, title, sizeof title, content->pair ? "worst skew" : "worst delay difference",
                   time);
    ww_panel_axes(canvas, &panel, "angle off the study's [deg]", title);

    panel.box.x += w + BETWEEN;
    panel.x0 = per_cent_of_count(pitch->stretch[last]);
    panel.x1 = per_cent_of_count(pitch->stretch[0]);
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, w);
    draw_panel(canvas, &panel, &off, time.worth, budget);
    ww_panel_axes(canvas, &panel, "yarn count off by [%]", NULL);
    if (budget > 0) {
        (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, budget));
        ww_text_cut(canvas, alarm, RIGHT, label);
        ww_text_draw(canvas, alarm, panel.box.x + w + 10, ww_panel_y(&panel, budget / time.worth), 0, label);
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
