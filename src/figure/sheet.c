/* figure/sheet.c - a table over two axes as colours.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Colours and contours have one way to the page each already, for periodic maps of even samples (heatmap.c, contour.c).
 * The table becomes such a map of what is to be drawn, log10 of the value: by the nearest sample for colours, a sample a
 * pixel; by lines between samples for contours. A rim around it, which no panel shows, keeps one side from meeting the
 * other.
 */
#include "figure/sheet.h"

#include <math.h>
#include <stdlib.h>

#include "figure/heatmap.h"
#include "figure/ticks.h"

#define RIM 3            /* samples */
#define CONTOUR_MOST 400 /* samples of the map that contours run through, each way */
#define HATCH_STEP 15.0
#define KEY_LINE 62.0

static bool ascending(const double *value, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(value[i]) || (i > 0 && !(value[i] > value[i - 1])))
            return false;
    return true;
}

bool ww_sheet_sound(const struct ww_sheet *sheet)
{
    return sheet->columns >= 2 && sheet->rows >= 2 && sheet->x != NULL && sheet->y != NULL && sheet->value != NULL &&
           ascending(sheet->x, sheet->columns) && ascending(sheet->y, sheet->rows);
}

void ww_sheet_range(const struct ww_sheet *sheet, double *least, double *most)
{
    bool found = false;

    *least = *most = 0;
    for (size_t i = 0; i < sheet->columns * sheet->rows; i++) {
        double value = sheet->value[i];
        if (!isfinite(value) || value < 0)
            continue;
        *least = found ? fmin(*least, value) : value;
        *most = found ? fmax(*most, value) : value;
        found = true;
    }
}

/* The last sample at or under the place, such that one follows; *share of the way to the next, 0..1. */
static size_t sample_under(const double *at, size_t count, double place, double *share)
{
    size_t low = 0, high = count - 1;

    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(at[middle] <= place ? &low : &high) = middle;
    }
    *share = fmin(fmax((place - at[low]) / (at[high] - at[low]), 0), 1);
    return low;
}

/* log10 of the shown value; what cannot be, and what is no number, is NaN. */
static double level_of(const struct ww_sheet *sheet, const struct ww_decades *decades, size_t column, size_t row)
{
    double value = sheet->value[row * sheet->columns + column];
    return value < 0 ? NAN : ww_decades_log(decades, value / sheet->worth);
}

static double nearest(const struct ww_sheet *sheet, const struct ww_decades *decades, double x, double y)
{
    double tx, ty;
    size_t column = sample_under(sheet->x, sheet->columns, x, &tx);
    size_t row = sample_under(sheet->y, sheet->rows, y, &ty);

    return level_of(sheet, decades, column + (tx > 0.5), row + (ty > 0.5));
}

static double between(const struct ww_sheet *sheet, const struct ww_decades *decades, double x, double y)
{
    double tx, ty;
    size_t column = sample_under(sheet->x, sheet->columns, x, &tx);
    size_t row = sample_under(sheet->y, sheet->rows, y, &ty);
    double low = (1 - tx) * level_of(sheet, decades, column, row) + tx * level_of(sheet, decades, column + 1, row);
    double high =
        (1 - tx) * level_of(sheet, decades, column, row + 1) + tx * level_of(sheet, decades, column + 1, row + 1);

    return (1 - ty) * low + ty * high;
}

/* The table as an even map with its rim, and the panel that shows of it what `panel` shows of the table. */
static bool lay_out(struct ww_map *map, struct ww_panel *shown, const struct ww_panel *panel,
                    const struct ww_sheet *sheet, const struct ww_decades *decades, size_t nx, size_t ny,
                    double (*value)(const struct ww_sheet *, const struct ww_decades *, double, double))
{
    double dx = (panel->x1 - panel->x0) / (double)nx, dy = (panel->y1 - panel->y0) / (double)ny;
    size_t wide = nx + 2 * RIM, high = ny + 2 * RIM;

    /* the unit of the map's extent is a sample */
    if (ww_map_init(map, wide, high, (double)wide, (double)high, NULL) != WW_OK)
        return false;
    for (size_t iy = 0; iy < high; iy++)
        for (size_t ix = 0; ix < wide; ix++)
            map->value[iy * wide + ix] =
                value(sheet, decades, (panel->x0 + ((double)ix - RIM + 0.5) * dx) * sheet->x_worth,
                      (panel->y0 + ((double)iy - RIM + 0.5) * dy) * sheet->y_worth);
    *shown =
        (struct ww_panel){.box = panel->box, .x0 = RIM, .x1 = (double)nx + RIM, .y0 = RIM, .y1 = (double)ny + RIM};
    return true;
}

void ww_sheet_stroke(struct ww_canvas *canvas)
{
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_set_line_width(canvas->cairo, 6);
    cairo_stroke_preserve(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 2.8);
    cairo_stroke(canvas->cairo);
}

double ww_sheet_budget(struct ww_canvas *canvas, double x, double y, double budget, double least, double most)
{
    const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT}, bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
    char value[48];
    if (!(budget > 0))
        return y;
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x, y);
    cairo_line_to(canvas->cairo, x + KEY_LINE, y);
    ww_sheet_stroke(canvas);
    ww_text_draw(canvas, bold, x, y + 36, 0, "budget");
    ww_text_draw(canvas, type, x, y + 66, 0, ww_time_label(value, sizeof value, budget));
    ww_text_paragraph(canvas, type, x, y + 96, WW_PAGE_WIDTH - WW_PAGE_MARGIN - x, 2,
                      budget >= most   ? "met everywhere"
                      : budget < least ? "met nowhere"
                                       : "exceeded on the light side");
    return y + 190;
}

void ww_sheet_mark(struct ww_canvas *canvas, enum ww_sheet_mark mark, double x, double y)
{
    double r = WW_MARK_RADIUS;

    cairo_new_path(canvas->cairo);
    if (mark == WW_MARK_OWN) {
        cairo_move_to(canvas->cairo, x, y - r);
        cairo_line_to(canvas->cairo, x + r, y);
        cairo_line_to(canvas->cairo, x, y + r);
        cairo_line_to(canvas->cairo, x - r, y);
        cairo_close_path(canvas->cairo);
    } else {
        cairo_arc(canvas->cairo, x, y, 0.8 * r, 0, 2 * WW_PI);
    }
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_set_line_width(canvas->cairo, 9);
    cairo_stroke_preserve(canvas->cairo);
    if (mark == WW_MARK_OWN)
        cairo_fill_preserve(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 4);
    cairo_stroke(canvas->cairo);
}

/* Rectangles of the samples that cannot be built, as a clip. */
static bool clip_to_missing(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_sheet *sheet)
{
    bool any = false;

    cairo_new_path(canvas->cairo);
    for (size_t row = 0; row < sheet->rows; row++)
        for (size_t column = 0; column < sheet->columns; column++) {
            if (!(sheet->value[row * sheet->columns + column] < 0))
                continue;
            size_t left = column > 0 ? column - 1 : 0, right = column + 1 < sheet->columns ? column + 1 : column;
            size_t below = row > 0 ? row - 1 : 0, above = row + 1 < sheet->rows ? row + 1 : row;
            double x0 = ww_panel_x(panel, (sheet->x[left] + sheet->x[column]) / 2 / sheet->x_worth);
            double x1 = ww_panel_x(panel, (sheet->x[right] + sheet->x[column]) / 2 / sheet->x_worth);
            double y0 = ww_panel_y(panel, (sheet->y[below] + sheet->y[row]) / 2 / sheet->y_worth);
            double y1 = ww_panel_y(panel, (sheet->y[above] + sheet->y[row]) / 2 / sheet->y_worth);
            cairo_rectangle(canvas->cairo, x0, y1, x1 - x0, y0 - y1);
            any = true;
        }
    cairo_clip(canvas->cairo);
    return any;
}

void ww_sheet_hatch(struct ww_canvas *canvas, struct ww_box box)
{
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_rectangle(canvas->cairo, box.x, box.y, box.w, box.h);
    cairo_fill(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    for (double x = box.x - box.h; x < box.x + box.w; x += HATCH_STEP)
        ww_canvas_stroke(canvas, x, box.y + box.h, x + box.h, box.y, 2.5);
}

void ww_sheet_draw(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_sheet *sheet,
                   const struct ww_decades *decades)
{
    struct ww_map map = {0};
    struct ww_panel shown;
    size_t nx = (size_t)(panel->box.w * canvas->density + 0.5), ny = (size_t)(panel->box.h * canvas->density + 0.5);

    if (lay_out(&map, &shown, panel, sheet, decades, nx > 1 ? nx : 2, ny > 1 ? ny : 2, nearest))
        ww_heatmap_draw(canvas, &shown, 1, &map, WW_RAMP_SEQUENTIAL, log10(decades->low), log10(decades->high));
    else
        canvas->starved = true;
    ww_map_clear(&map);
    ww_panel_clip(canvas, panel);
    if (clip_to_missing(canvas, panel, sheet))
        ww_sheet_hatch(canvas, panel->box);
    ww_panel_unclip(canvas);
}

void ww_sheet_contour_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_sheet *sheet,
                           const struct ww_decades *decades, double level)
{
    struct ww_map map = {0};
    struct ww_panel shown;

    if (lay_out(&map, &shown, panel, sheet, decades, CONTOUR_MOST, CONTOUR_MOST, between))
        ww_contour_path(canvas, &shown, 1, &map, log10(level / sheet->worth));
    else
        canvas->starved = true;
    ww_map_clear(&map);
}
