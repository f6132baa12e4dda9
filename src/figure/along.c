/* figure/along.c - does the kernel follow the full solutions: delay along one period, by kernel, sections and volume.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "core/decimal.h"
#include "figure/curves.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1100.0
#define RIGHT 300.0    /* for the means */
#define FLATTEST 2e-13 /* [s/m] least span of the axis */
#define HEADROOM 0.10  /* of the span, above and below */
#define MEAN_STEP 34.0 /* least distance of two means' labels */
#define DOT 7.5        /* radius of a section's mark */

enum { KERNEL, SECTIONS, VOLUME, METHODS };

static const double leg2_dash[] = {16, 7};
static const double mean_dash[] = {22, 6, 4, 6};
static const double ps_per_mm = 1e-9;

static enum ww_status check(const struct ww_figure_along *c, const char *path, struct ww_error *error)
{
    if (!(c->period > 0) || !isfinite(c->period) || c->count_kernel < 2 || c->count_section < 1 ||
        c->kernel1 == NULL || c->section1 == NULL || (c->kernel2 == NULL) != (c->section2 == NULL))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "nothing to draw along the trace; give a period above 0, 2 or more samples of the kernel "
                            "and a section for each leg");
    return WW_OK;
}

static enum ww_ink ink_of(int leg)
{
    return leg ? WW_INK_LEG2 : WW_INK_LEG1;
}

/* --- the panel */

/* Sections of leg 1 are discs, of leg 2 squares: they differ in grey, too. */
static void mark(struct ww_canvas *canvas, double x, double y, int leg)
{
    cairo_new_path(canvas->cairo);
    if (leg)
        cairo_rectangle(canvas->cairo, x - DOT, y - DOT, 2 * DOT, 2 * DOT);
    else
        cairo_arc(canvas->cairo, x, y, DOT, 0, 2 * WW_PI);
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_fill_preserve(canvas->cairo);
    ww_canvas_ink(canvas, ink_of(leg), 1);
    cairo_set_line_width(canvas->cairo, 3.5);
    cairo_stroke(canvas->cairo);
}

static void draw_leg(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_along *c,
                     double worth, int leg)
{
    const double *section = leg ? c->section2 : c->section1;
    struct ww_curve kernel = {leg ? c->kernel2 : c->kernel1, c->count_kernel, 0, panel->x1, ps_per_mm};

    if (c->mean_volume != NULL) {
        double y = ww_panel_y(panel, c->mean_volume[leg] / ps_per_mm);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_dash(canvas, mean_dash, 4);
        ww_canvas_stroke(canvas, panel->box.x, y, panel->box.x + panel->box.w, y, 2.5);
    }
    ww_canvas_ink(canvas, ink_of(leg), 1);
    ww_canvas_dash(canvas, leg2_dash, leg ? 2 : 0);
    ww_curve_path(canvas, panel, &kernel);
    cairo_set_line_width(canvas->cairo, 4);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
    for (size_t i = 0; i < c->count_section + c->periodic; i++) { /* the period's end is its start again */
        double x = c->period * (double)i / (double)c->count_section / worth;
        double value = section[i % c->count_section] / ps_per_mm;
        if (isfinite(value))
            mark(canvas, ww_panel_x(panel, x), ww_panel_y(panel, value), leg);
    }
}

/* --- means at the right: labels of one leg kept apart around their middle */

static void draw_means(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_along *c,
                       int leg, double middle)
{
    static const char *const name[METHODS] = {"kernel", "sections", "volume"};
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    const double value[METHODS] = {c->mean_kernel[leg], c->mean_section[leg],
                                   c->mean_volume ? c->mean_volume[leg] : 0};
    int methods = c->mean_volume ? METHODS : METHODS - 1, order[METHODS] = {KERNEL, SECTIONS, VOLUME};
    double edge = panel->box.x + panel->box.w;
    char number[64], text[96];

    for (int i = 0; i < methods; i++)
        for (int j = i + 1; j < methods; j++)
            if (value[order[j]] > value[order[i]]) {
                int swap = order[i];
                order[i] = order[j];
                order[j] = swap;
            }
    for (int i = 0; i < methods; i++) {
        double y = ww_panel_y(panel, value[order[i]] / ps_per_mm),
               at = middle + (i - (methods - 1) / 2.0) * MEAN_STEP;
        ww_canvas_ink(canvas, ink_of(leg), 1);
        ww_canvas_stroke(canvas, edge, y, edge + 16, y, 4);
        ww_canvas_ink(canvas, ink_of(leg), 0.8);
        ww_canvas_stroke(canvas, edge + 16, y, edge + 42, at, 1.6);
        ww_decimal_fixed(number, sizeof number, value[order[i]] / ps_per_mm, 4);
        (void)snprintf(text, sizeof text, "%s %s", name[order[i]], number);
        ww_text_draw(canvas, type, edge + 50, at, 0, text);
    }
}

/* Middles of the two groups of labels, kept apart and inside the panel. */
static void place_means(const struct ww_panel *panel, const struct ww_figure_along *c, double middle[2])
{
    double group = ((c->mean_volume ? METHODS : METHODS - 1) + 0.8) * MEAN_STEP;
    double low = panel->box.y + group / 2, high = panel->box.y + panel->box.h - group / 2;

    for (int leg = 0; leg < 2; leg++)
        middle[leg] = ww_panel_y(panel, c->mean_section[leg] / ps_per_mm);
    if (c->kernel2 != NULL && fabs(middle[0] - middle[1]) < group) {
        double between = (middle[0] + middle[1]) / 2, side = middle[0] <= middle[1] ? -1 : 1;
        middle[0] = between + side * group / 2;
        middle[1] = between - side * group / 2;
    }
    for (int leg = 0; leg < 2; leg++)
        middle[leg] = fmin(fmax(middle[leg], low), high);
}

/* --- legend above the panel, from the right */

static double legend_item(struct ww_canvas *canvas, double x, double y, const char *text)
{
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    ww_text_draw(canvas, type, x, y, 1, text);
    return x - ww_text_width(canvas, type, text) - 12;
}

static void draw_legend(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_along *c)
{
    double x = panel->box.x + panel->box.w, y = panel->box.y - 26;

    if (c->mean_volume != NULL) {
        x = legend_item(canvas, x, y, "volume's mean");
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_dash(canvas, mean_dash, 4);
        ww_canvas_stroke(canvas, x - 66, y, x, y, 2.5);
        ww_canvas_dash(canvas, NULL, 0);
        x -= 66 + 34;
    }
    for (int leg = c->kernel2 != NULL; leg >= 0; leg--) {
        x = legend_item(canvas, x, y,
                        c->kernel2 == NULL ? "kernel, and sections"
                        : leg              ? "leg 2: kernel, sections"
                                           : "leg 1: kernel, sections");
        ww_canvas_ink(canvas, ink_of(leg), 1);
        ww_canvas_dash(canvas, leg2_dash, leg ? 2 : 0);
        ww_canvas_stroke(canvas, x - 66, y, x, y, 4);
        ww_canvas_dash(canvas, NULL, 0);
        mark(canvas, x - 33, y, leg);
        x -= 66 + 34;
    }
}

/* --- the page */

static double signal_of(const struct ww_figure_along *c, const double leg[2])
{
    return (c->kernel2 != NULL ? leg[0] - leg[1] : leg[0]) / ps_per_mm;
}

static void write_headline(const struct ww_figure_along *c, char *out, size_t size)
{
    const double *mean[METHODS] = {c->mean_kernel, c->mean_section, c->mean_volume};
    char value[METHODS][80] = {"", "", ""}, number[64];

    for (int i = 0; i < METHODS; i++)
        if (mean[i] != NULL) {
            double here = signal_of(c, mean[i]);
            ww_decimal_fixed(number, sizeof number, fabs(here), c->kernel2 != NULL ? 5 : 4);
            (void)snprintf(value[i], sizeof value[i], "%s%s", here < 0 ? "\xe2\x88\x92" : "", number);
        }
    (void)snprintf(out, size, "%s by kernel %s, sections %s%s%s ps/mm", c->kernel2 != NULL ? "Skew" : "Delay",
                   value[KERNEL], value[SECTIONS], c->mean_volume != NULL ? ", volume " : "", value[VOLUME]);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_along *c)
{
    char headline[WW_TEXT_BYTES], title[96];
    double low = 1, high = 0;
    struct ww_unit unit = ww_unit_length(c->period);
    bool pair = c->kernel2 != NULL;
    int legs = pair ? 2 : 1;

    write_headline(c, headline, sizeof headline);
    struct ww_box page = ww_canvas_furniture(canvas, headline, c->subject != NULL ? c->subject : "");
    for (int leg = 0; leg < legs; leg++) {
        ww_curve_range(leg ? c->kernel2 : c->kernel1, c->count_kernel, &low, &high);
        ww_curve_range(leg ? c->section2 : c->section1, c->count_section, &low, &high);
        if (c->mean_volume != NULL)
            ww_curve_range(&c->mean_volume[leg], 1, &low, &high);
    }
    double half = fmax((high - low) / 2, FLATTEST / 2) * (1 + 2 * HEADROOM), centre = (low + high) / 2;
    struct ww_panel panel = {
        .x0 = 0, .x1 = c->period / unit.worth, .y0 = (centre - half) / ps_per_mm, .y1 = (centre + half) / ps_per_mm};
    double top = page.y + 54, height = page.h - 54 - 92;
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, height);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, top, page.x + page.w - RIGHT - left, height};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);

    ww_panel_grid(canvas, &panel);
    for (int leg = legs - 1; leg >= 0; leg--)
        draw_leg(canvas, &panel, c, unit.worth, leg);
    (void)snprintf(title, sizeof title, "distance along the trace [%s]%s", unit.name,
                   c->periodic ? ": one period of the cloth" : "");
    ww_panel_axes(canvas, &panel, title, pair ? "delay of a leg [ps/mm]" : "delay of the trace [ps/mm]");
    draw_legend(canvas, &panel, c);
    double middle[2];
    place_means(&panel, c, middle);
    for (int leg = 0; leg < legs; leg++)
        draw_means(canvas, &panel, c, leg, middle[leg]);
}

enum ww_status ww_figure_draw_along(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_along *content, struct ww_error *error)
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
