/* figure/budget_temperature.c - the phase (delay) of a circuit over temperature, and by how much two differ at any one.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/canvas.h"

#include <math.h>

#define PAGE_HEIGHT 900.0
#define SAMPLES 65
#define FLATTEST 1e-15 /* [s] least reach of the axis */
#define AXIS_ROOM 92.0

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};

static enum ww_status check(const struct ww_figure_budget *content, const char *path, struct ww_error *error)
{
    const struct ww_budget *b = content->budget;
    const struct ww_cause *t = b != NULL ? &b->cause[WW_CAUSE_TEMPERATURE] : NULL;
    if (t == NULL || !t->given || !(t->tolerance.to > t->tolerance.from) || !(b->beside_temperature >= 0) ||
        !isfinite(b->beside_temperature))
        return ww_error_set(error, WW_INVALID, path, 0, "no temperature to draw a budget over; give a range of it");
    for (int i = 0; i < 3; i++)
        if (!isfinite(t->at[i][WW_OBSERVED_DELAY]))
            return ww_error_set(error, WW_INVALID, path, 0, "delays at the temperatures must be finite");
    return WW_OK;
}

/* Delay at a share -1 .. 1 of the range: the parabola through both ends and the middle. */
static double delay_at(const struct ww_budget *b, double u)
{
    const struct ww_cause *t = &b->cause[WW_CAUSE_TEMPERATURE];
    double low = t->at[0][WW_OBSERVED_DELAY], middle = t->at[1][WW_OBSERVED_DELAY],
           high = t->at[2][WW_OBSERVED_DELAY];
    return middle + 0.5 * (high - low) * u + 0.5 * (high + low - 2 * middle) * u * u;
}

/* The curve moved up by `off`, forwards or back, as part of a path. */
static void put_curve(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_budget *b, double off,
                      double worth, bool back)
{
    for (int i = 0; i < SAMPLES; i++) {
        double u = (back ? -1 : 1) * (2.0 * i / (SAMPLES - 1) - 1);
        double x = panel->x0 + 0.5 * (u + 1) * (panel->x1 - panel->x0);
        cairo_line_to(canvas->cairo, ww_panel_x(panel, x), ww_panel_y(panel, (delay_at(b, u) + off) / worth));
    }
}

static void draw_curves(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_budget *b,
                        double worth)
{
    cairo_new_path(canvas->cairo);
    put_curve(canvas, panel, b, b->beside_temperature, worth, false);
    put_curve(canvas, panel, b, -b->beside_temperature, worth, true);
    cairo_close_path(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_BODY, 0.45);
    cairo_fill(canvas->cairo);
    cairo_new_path(canvas->cairo);
    put_curve(canvas, panel, b, 0, worth, false);
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_stroke(canvas->cairo);
}

static void draw_key(struct ww_canvas *canvas, double x, double y)
{
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    ww_canvas_stroke(canvas, x, y, x + 40, y, 4.5);
    ww_text_draw(canvas, small_type, x + 50, y, 0, "a nominal circuit");
    x += 90 + ww_text_width(canvas, small_type, "a nominal circuit");
    ww_canvas_ink(canvas, WW_INK_BODY, 0.45);
    cairo_rectangle(canvas->cairo, x, y - 14, 40, 28);
    cairo_fill(canvas->cairo);
    ww_text_draw(canvas, small_type, x + 50, y, 0, "what two circuits differ by at one temperature, 99 of 100");
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_budget *content)
{
    static const char *const others[] = {"of one board", "of two boards", "over life"};
    const struct ww_budget *b = content->budget;
    const struct ww_cause *t = &b->cause[WW_CAUSE_TEMPERATURE];
    double low = 0, high = 0; /* the nominal circuit */
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], title[96], drift[48], band[48];
    for (int i = 0; i < SAMPLES; i++) {
        double delay = delay_at(b, 2.0 * i / (SAMPLES - 1) - 1);
        low = fmin(low, delay);
        high = fmax(high, delay);
    }
    double reach = fmax(high, -low) + b->beside_temperature;
    struct ww_unit time = ww_unit_time(fmax(reach, FLATTEST));
    double worth = b->frequency > 0 ? 1 / (360 * b->frequency) : time.worth;
    (void)snprintf(headline, sizeof headline, "Temperature moves a circuit by %s; at each, two differ by %s",
                   ww_time_round_label(drift, sizeof drift, high - low),
                   ww_time_round_label(band, sizeof band, b->beside_temperature));
    (void)snprintf(subline, sizeof subline, "band: two circuits %s, by all causes but temperature",
                   others[b->between]);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    struct ww_panel panel = {.x0 = t->tolerance.from, .x1 = t->tolerance.to};
    panel.y0 = 1.08 * fmin(low - b->beside_temperature, -FLATTEST) / worth;
    panel.y1 = 1.08 * fmax(high + b->beside_temperature, FLATTEST) / worth;
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - AXIS_ROOM - 50);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + 50, page.x + page.w - 24 - left, page.h - AXIS_ROOM - 50};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_panel_grid(canvas, &panel);
    ww_panel_clip(canvas, &panel);
    draw_curves(canvas, &panel, b, worth);
    ww_panel_unclip(canvas);
    draw_key(canvas, left, page.y + 18);
    (void)snprintf(title, sizeof title, "%s off the reference [%s]", b->frequency > 0 ? "phase" : "delay",
                   b->frequency > 0 ? "deg" : time.name);
    ww_panel_axes(canvas, &panel,
                  "temperature [\xc2\xb0"
                  "C]",
                  title);
}

enum ww_status ww_figure_draw_budget_temperature(const char *path, const struct ww_figure_options *options,
                                                 const struct ww_figure_budget *content, struct ww_error *error)
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
