/* figure/skew.c - where is it bad: skew over the start position, worst positions of both signs marked.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define FLATTEST 1e-15  /* [s] least reach of the colour bar */
#define MARK 17.0       /* radius of a mark */
#define LABEL_PAD 7.0   /* paper around its label */
#define KEY_WIDTH 330.0 /* of the column that explains the marks */

static const struct ww_type label_type = {WW_TEXT_BODY, true, WW_INK_TEXT};

static enum ww_status check(const struct ww_figure_skew *content, const char *path, struct ww_error *error)
{
    const struct ww_map *map = content->map;

    if (map == NULL || map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no map to draw; give one with samples and extent");
    if (!isfinite(content->high.x + content->high.y + content->high.value + content->low.x + content->low.y +
                  content->low.value))
        return ww_error_set(error, WW_INVALID, path, 0, "the worst positions to mark are not finite");
    return WW_OK;
}

/* --- marks: a triangle up for the most positive, one down for the most negative */

static void draw_mark(struct ww_canvas *canvas, double x, double y, bool up)
{
    double s = up ? -1 : 1;

    cairo_move_to(canvas->cairo, x, y + s * MARK);
    cairo_line_to(canvas->cairo, x + 0.95 * MARK, y - s * 0.7 * MARK);
    cairo_line_to(canvas->cairo, x - 0.95 * MARK, y - s * 0.7 * MARK);
    cairo_close_path(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_set_line_width(canvas->cairo, 8);
    cairo_stroke_preserve(canvas->cairo);
    ww_canvas_ink(canvas, up ? WW_INK_TEXT : WW_INK_PAPER, 1);
    cairo_fill_preserve(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 3.5);
    cairo_stroke(canvas->cairo);
}

static double wrapped(double place, double period)
{
    return place - period * floor(place / period);
}

/* A mark with its label: where the mark is, and the box the label takes. */
struct spot {
    double x, y;
    struct ww_box text;
};

static struct spot place_mark(const struct ww_panel *panel, const struct ww_map *map,
                              const struct ww_extreme *extreme, double worth)
{
    return (struct spot){.x = ww_panel_x(panel, wrapped(extreme->x, map->lx) / worth),
                         .y = ww_panel_y(panel, wrapped(extreme->y, map->ly) / worth)};
}

/* Beside its mark, clear of the other's mark and label. */
static void place_label(struct ww_canvas *canvas, const struct ww_panel *panel, struct spot *spot,
                        const struct spot *other, const char *label)
{
    double w = ww_text_width(canvas, label_type, label) + 2 * LABEL_PAD, h = label_type.size + 2 * LABEL_PAD;
    struct ww_box taken[] = {{other->x - 1.4 * MARK, other->y - 1.4 * MARK, 2.8 * MARK, 2.8 * MARK}, other->text};

    spot->text = ww_label_place(&panel->box, spot->x, spot->y, 1.4 * MARK, w, h, taken, 2);
}

static void mark_extremes(struct ww_canvas *canvas, const struct ww_panel *panel,
                          const struct ww_figure_skew *content, double worth, const char *high_label,
                          const char *low_label)
{
    struct spot high = place_mark(panel, content->map, &content->high, worth);
    struct spot low = place_mark(panel, content->map, &content->low, worth);

    place_label(canvas, panel, &high, &low, high_label);
    place_label(canvas, panel, &low, &high, low_label);
    draw_mark(canvas, high.x, high.y, true);
    draw_mark(canvas, low.x, low.y, false);
    ww_text_patch(canvas, label_type, high.text.x + high.text.w / 2, high.text.y + high.text.h / 2, 0.5, high_label);
    ww_text_patch(canvas, label_type, low.text.x + low.text.w / 2, low.text.y + low.text.h / 2, 0.5, low_label);
}

/* --- the cell's outline, and contours at the colour bar's ticks */

static void outline_cell(struct ww_canvas *canvas, const struct ww_panel *panel, double worth,
                         const struct ww_map *map)
{
    static const double dash[] = {16, 8};

    ww_canvas_dash(canvas, dash, 2);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 3);
    ww_heatmap_cell_path(canvas, panel, worth, map);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

static void draw_contours(struct ww_canvas *canvas, const struct ww_panel *panel, double worth,
                          const struct ww_map *map, const struct ww_ticks *levels, double time_worth)
{
    static const double dash[] = {7, 5};

    ww_panel_clip(canvas, panel);
    ww_canvas_ink(canvas, WW_INK_TEXT, 0.6);
    cairo_set_line_width(canvas->cairo, 1.6);
    for (int i = 0; i < levels->count; i++) {
        double level = ww_tick_value(levels, i);
        if (level == 0)
            continue;
        ww_canvas_dash(canvas, dash, level < 0 ? 2 : 0);
        ww_contour_path(canvas, panel, worth, map, level * time_worth);
        cairo_stroke(canvas->cairo);
    }
    ww_canvas_dash(canvas, NULL, 0);
    ww_panel_unclip(canvas);
}

/* --- the column that explains */

static double explain_mark(struct ww_canvas *canvas, double x, double y, bool up, const char *value,
                           const struct ww_extreme *extreme)
{
    static const struct ww_type bold = {WW_TEXT_BODY, true, WW_INK_TEXT};
    static const struct ww_type plain = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    char at_x[32], at_y[32], phase[48], place[WW_TEXT_BYTES];

    draw_mark(canvas, x + MARK, y, up);
    ww_text_draw(canvas, bold, x + 3 * MARK, y, 0, value);
    ww_phase_label(canvas->options, phase, sizeof phase, extreme->value);
    ww_text_draw(canvas, plain, x + KEY_WIDTH, y, 1, phase);
    (void)snprintf(place, sizeof place, "at x = %s \xc2\xb5m, y = %s \xc2\xb5m",
                   ww_value_label(at_x, sizeof at_x, extreme->x / 1e-6, 0),
                   ww_value_label(at_y, sizeof at_y, extreme->y / 1e-6, 0));
    return ww_text_paragraph(canvas, plain, x, y + 40, KEY_WIDTH, 2, place) + 30;
}

static void draw_key(struct ww_canvas *canvas, double x, double y, const struct ww_figure_skew *content,
                     const char *high, const char *low)
{
    static const struct ww_type plain = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    static const double dash[] = {16, 8}, contour[] = {7, 5};
    double line = y;

    y = explain_mark(canvas, x, y, true, high, &content->high);
    y = explain_mark(canvas, x, y, false, low, &content->low);

    y = ww_text_paragraph(canvas, plain, x, y, KEY_WIDTH, 4,
                          content->pair ? "Skew = delay of leg 1 (left of travel) less delay of leg 2."
                                        : "Delay less its mean over all positions.") +
        26;
    line = y;
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_dash(canvas, dash, 2);
    ww_canvas_stroke(canvas, x, line, x + 64, line, 3);
    ww_canvas_dash(canvas, NULL, 0);
    ww_text_draw(canvas, plain, x + 80, line, 0, "one unit cell");
    line += 40;
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, x, line, x + 64, line, 1.8);
    ww_text_draw(canvas, plain, x + 80, line, 0, "contour, positive");
    line += 40;
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_dash(canvas, contour, 2);
    ww_canvas_stroke(canvas, x, line, x + 64, line, 1.8);
    ww_canvas_dash(canvas, NULL, 0);
    ww_text_draw(canvas, plain, x + 80, line, 0, "contour, negative");
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_skew *content)
{
    const char *quantity = content->pair ? "skew" : "delay deviation";
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], title[WW_TITLE_BYTES], high[32], low[32], high_unit[48],
        low_unit[48];
    double least, most;

    ww_map_range(content->map, &least, &most);
    double reach = fmax(fmax(fabs(content->high.value), fabs(content->low.value)),
                        fmax(fmax(fabs(least), fabs(most)), FLATTEST));
    struct ww_unit time = ww_unit_time(reach);
    struct ww_unit length = ww_unit_length(fmax(content->map->lx, content->map->ly));
    ww_value_label(high, sizeof high, content->high.value / time.worth, 1);
    ww_value_label(low, sizeof low, content->low.value / time.worth, 1);
    (void)snprintf(high_unit, sizeof high_unit, "%s %s", high, time.name);
    (void)snprintf(low_unit, sizeof low_unit, "%s %s", low, time.name);
    (void)snprintf(headline, sizeof headline, "Worst %s%s%.200s: %s and %s", quantity,
                   content->subject != NULL ? " from " : "", content->subject != NULL ? content->subject : "",
                   high_unit, low_unit);
    (void)snprintf(subline, sizeof subline, "Over where the %s starts on the cloth",
                   content->pair ? "pair" : "trace");

    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    struct ww_box room = {page.x + 110, page.y + 14, page.w - 110 - 230 - KEY_WIDTH, page.h - 100};
    struct ww_panel panel = ww_heatmap_cell_panel(canvas, room, length.worth, content->map);
    struct ww_ticks levels = ww_ticks_up(-reach / time.worth, reach / time.worth, panel.box.h);
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, panel.box.h);

    ww_heatmap_draw(canvas, &panel, length.worth, content->map, WW_RAMP_DIVERGING, -reach, reach);
    draw_contours(canvas, &panel, length.worth, content->map, &levels, time.worth);
    outline_cell(canvas, &panel, length.worth, content->map);
    mark_extremes(canvas, &panel, content, length.worth, high_unit, low_unit);
    (void)snprintf(title, sizeof title, "start x, along the fill [%s]", length.name);
    (void)snprintf(subline, sizeof subline, "start y, along the warp [%s]", length.name);
    ww_panel_axes(canvas, &panel, title, subline);
    ww_delay_title(canvas->options, title, sizeof title, quantity, time);
    ww_canvas_colour_bar(canvas, (struct ww_box){panel.box.x + panel.box.w + 34, panel.box.y, 40, panel.box.h},
                         WW_RAMP_DIVERGING, -reach / time.worth, reach / time.worth, title, true);
    draw_key(canvas, WW_PAGE_WIDTH - WW_PAGE_MARGIN - KEY_WIDTH, panel.box.y + 24, content, high_unit, low_unit);
}

enum ww_status ww_figure_draw_skew(const char *path, const struct ww_figure_options *options,
                                   const struct ww_figure_skew *content, struct ww_error *error)
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
