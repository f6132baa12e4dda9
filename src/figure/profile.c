/* figure/profile.c - why is it bad: the effective Dk of each leg along the worst trace, and the skew that adds up.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/curves.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define UPPER_SHARE 0.54     /* of the room for both panels */
#define READABLE_PERIODS 6.0 /* of the cloth in the upper panel */
#define FLATTEST_DK 0.02     /* least span of the upper panel */
#define FLATTEST_TIME 1e-15  /* [s] of the lower one */
#define HEADROOM 0.08        /* of the span, above and below curves */

static const double leg2_dash[] = {16, 7};

double ww_figure_near_length(double length, double period)
{
    static const double mantissa[] = {5, 2, 1};
    double most = READABLE_PERIODS * period;

    if (!(period > 0) || length <= 1.5 * most)
        return length;
    double decade = pow(10, floor(log10(most)));
    for (int i = 0; i < 3; i++)
        if (mantissa[i] * decade <= most * (1 + 1e-9))
            return mantissa[i] * decade;
    return decade;
}

static enum ww_status check(const struct ww_figure_profile *content, const char *path, struct ww_error *error)
{
    if (!(content->length > 0) || !isfinite(content->length) || content->count < 2 || content->dk1 == NULL ||
        content->running == NULL)
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no profile to draw; give a length above 0 and at least 2 samples");
    if (content->dk1_near != NULL && (content->count_near < 2 || !(content->near_length > 0) ||
                                      content->near_length > content->length * (1 + 1e-9) ||
                                      (content->dk2 != NULL) != (content->dk2_near != NULL)))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "the near profile needs at least 2 samples of each leg, within the whole length");
    return WW_OK;
}

static void widen(double *low, double *high, double least)
{
    double middle = (*low + *high) / 2;
    double half = fmax((*high - *low) / 2, least / 2) * (1 + 2 * HEADROOM);

    *low = middle - half;
    *high = middle + half;
}

/* --- upper panel */

static void stroke_leg(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_curve *curve,
                       bool second)
{
    ww_canvas_ink(canvas, second ? WW_INK_LEG2 : WW_INK_LEG1, 1);
    ww_canvas_dash(canvas, leg2_dash, second ? 2 : 0);
    ww_curve_path(canvas, panel, curve);
    cairo_set_line_width(canvas->cairo, 4);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

/* Right-aligned above the panel. */
static void draw_legend(struct ww_canvas *canvas, const struct ww_panel *panel)
{
    static const struct ww_type type = {WW_TEXT_BODY, false, WW_INK_TEXT};
    static const char *const name[] = {"leg 1 (left of travel)", "leg 2"};
    double x = panel->box.x + panel->box.w, y = panel->box.y - 24;

    for (int i = 1; i >= 0; i--) {
        ww_text_draw(canvas, type, x, y, 1, name[i]);
        x -= ww_text_width(canvas, type, name[i]) + 14;
        ww_canvas_ink(canvas, i == 1 ? WW_INK_LEG2 : WW_INK_LEG1, 1);
        ww_canvas_dash(canvas, leg2_dash, i == 1 ? 2 : 0);
        ww_canvas_stroke(canvas, x - 69, y, x, y, 4);
        ww_canvas_dash(canvas, NULL, 0);
        x -= 69 + 44;
    }
}

/* The part of the trace in the upper panel: the near part if given, else as much of the whole as is readable. */
struct shown_part {
    struct ww_curve leg1, leg2;
    bool pair;
    double shown; /* [m] */
};

static struct shown_part choose_part(const struct ww_figure_profile *content, double worth)
{
    bool near = content->dk1_near != NULL;
    double to = near ? content->near_length : content->length;
    size_t count = near ? content->count_near : content->count;
    struct shown_part part_shown = {
        .leg1 = {near ? content->dk1_near : content->dk1, count, 0, to / worth, 1},
        .leg2 = {near ? content->dk2_near : content->dk2, count, 0, to / worth, 1},
        .pair = content->dk2 != NULL,
        .shown = fmin(to, ww_figure_near_length(content->length, content->period)),
    };
    return part_shown;
}

static void draw_upper(struct ww_canvas *canvas, struct ww_panel *panel, const struct shown_part *part_shown,
                       const char *x_title)
{
    ww_panel_grid(canvas, panel);
    ww_panel_clip(canvas, panel);
    stroke_leg(canvas, panel, &part_shown->leg1, false);
    if (part_shown->pair)
        stroke_leg(canvas, panel, &part_shown->leg2, true);
    ww_panel_unclip(canvas);
    ww_panel_axes(canvas, panel, x_title, part_shown->pair ? "effective Dk of a leg" : "effective Dk of the trace");
    if (part_shown->pair)
        draw_legend(canvas, panel);
}

/* --- lower panel */

static void draw_lower(struct ww_canvas *canvas, struct ww_panel *panel, const struct ww_curve *curve, bool pair,
                       struct ww_unit time, const char *x_title)
{
    static const struct ww_type type = {WW_TEXT_BODY, true, WW_INK_TEXT}, plain = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    char y_title[64], value[32], label[64];
    double end = curve->value[curve->count - 1] / curve->worth;
    double zero = ww_panel_y(panel, 0), end_x = panel->box.x + panel->box.w, end_y = ww_panel_y(panel, end);

    ww_panel_grid(canvas, panel);
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    ww_canvas_stroke(canvas, panel->box.x, zero, end_x, zero, 2.5);
    ww_panel_clip(canvas, panel);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_curve_path(canvas, panel, curve);
    cairo_set_line_width(canvas->cairo, 4);
    cairo_stroke(canvas->cairo);
    ww_panel_unclip(canvas);
    (void)snprintf(y_title, sizeof y_title, "%s [%s]", pair ? "running skew" : "running deviation", time.name);
    ww_panel_axes(canvas, panel, x_title, y_title);
    if (!isfinite(end))
        return;
    cairo_arc(canvas->cairo, end_x, end_y, 8, 0, 2 * WW_PI);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_fill(canvas->cairo);
    (void)snprintf(label, sizeof label, "%s %s", ww_value_label(value, sizeof value, end, 1), time.name);
    ww_text_draw(canvas, type, end_x + 18, end_y, 0, label);
    ww_phase_label(canvas->options, label, sizeof label, end * time.worth);
    double off = end_y > panel->box.y + panel->box.h / 2 ? -1.3 : 1.3; /* away from the axis' labels */
    ww_text_draw(canvas, plain, end_x + 18, end_y + off * WW_TEXT_BODY, 0, label);
}

/* --- the page */

static void length_label(char *out, size_t size, double length, struct ww_unit unit)
{
    char value[32];
    (void)snprintf(out, size, "%s %s", ww_size_label(value, sizeof value, length / unit.worth, 5), unit.name);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_profile *content)
{
    char headline[WW_TEXT_BYTES], whole[64], part[64], upper_title[256], lower_title[256], value[32];
    double end = content->running[content->count - 1];
    double dk_low = 1, dk_high = 0, low = 0, high = 0;

    struct ww_unit unit = ww_unit_length(content->length);
    struct shown_part part_shown = choose_part(content, unit.worth);
    length_label(whole, sizeof whole, content->length, unit);
    length_label(part, sizeof part, part_shown.shown, unit);

    ww_curve_range(part_shown.leg1.value, part_shown.leg1.count, &dk_low, &dk_high);
    if (part_shown.pair)
        ww_curve_range(part_shown.leg2.value, part_shown.leg2.count, &dk_low, &dk_high);
    widen(&dk_low, &dk_high, FLATTEST_DK);
    ww_curve_range(content->running, content->count, &low, &high);
    struct ww_unit time = ww_unit_time(fmax(fabs(low), fabs(high)));
    widen(&low, &high, FLATTEST_TIME);

    ww_value_label(value, sizeof value, end / time.worth, 1);
    if (part_shown.pair)
        (void)snprintf(headline, sizeof headline, "Dk along the legs of the worst pair: %s %s after %s", value,
                       time.name, whole);
    else
        (void)snprintf(headline, sizeof headline, "Dk along the %s trace: %s %s against the mean after %s",
                       end < 0 ? "fastest" : "slowest", value, time.name, whole);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");

    struct ww_panel upper = {.x0 = 0, .x1 = part_shown.shown / unit.worth, .y0 = dk_low, .y1 = dk_high};
    struct ww_panel lower = {
        .x0 = 0, .x1 = content->length / unit.worth, .y0 = low / time.worth, .y1 = high / time.worth};
    double room = page.h - 50 - 108 - 96;
    double upper_h = UPPER_SHARE * room, lower_h = room - upper_h;
    upper.y_ticks = ww_ticks_up(upper.y0, upper.y1, upper_h);
    lower.y_ticks = ww_ticks_up(lower.y0, lower.y1, lower_h);
    double left = page.x + 74 + fmax(ww_ticks_width(canvas, &upper.y_ticks), ww_ticks_width(canvas, &lower.y_ticks));
    double width = page.x + page.w - 150 - left;
    upper.box = (struct ww_box){left, page.y + 50, width, upper_h};
    lower.box = (struct ww_box){left, page.y + 50 + upper_h + 108, width, lower_h};
    upper.x_ticks = ww_ticks_across(canvas, upper.x0, upper.x1, width);
    lower.x_ticks = ww_ticks_across(canvas, lower.x0, lower.x1, width);

    bool same = part_shown.shown >= content->length * (1 - 1e-9);
    (void)snprintf(upper_title, sizeof upper_title, "distance along the trace [%s]: first %s of %s", unit.name, part,
                   whole);
    (void)snprintf(lower_title, sizeof lower_title, "distance along the trace [%s]%s", unit.name,
                   same ? "" : ": the whole length");
    struct ww_curve running = {content->running, content->count, 0, content->length / unit.worth, time.worth};
    draw_upper(canvas, &upper, &part_shown, same ? lower_title : upper_title);
    draw_lower(canvas, &lower, &running, part_shown.pair, time, lower_title);
}

enum ww_status ww_figure_draw_profile(const char *path, const struct ww_figure_options *options,
                                      const struct ww_figure_profile *content, struct ww_error *error)
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
