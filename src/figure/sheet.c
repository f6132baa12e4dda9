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

/* Where a place lies: at or above a sample that another one follows; share of the way to that, 0..1. */
struct place {
    size_t sample;
    double share;
};

static struct place place_of(const double *at, size_t count, double value)
{
    size_t low = 0, high = count - 1;

    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(at[middle] <= value ? &low : &high) = middle;
    }
    return (struct place){low, fmin(fmax((value - at[low]) / (at[high] - at[low]), 0), 1)};
}

/* Places of `count` samples of the map and its rim, from..to along the panel. */
static void set_places(struct place *place, size_t count, double from, double to, double worth, const double *at,
                       size_t samples)
{
    double step = (to - from) / (double)count;
    for (size_t i = 0; i < count + 2 * RIM; i++)
        place[i] = place_of(at, samples, (from + ((double)i - RIM + 0.5) * step) * worth);
}

/* log10 of what is shown; what cannot be, and what is no number, is NaN. */
static void set_levels(double *level, const struct ww_sheet *sheet, const struct ww_decades *decades)
{
    for (size_t i = 0; i < sheet->columns * sheet->rows; i++)
        level[i] = sheet->value[i] < 0 ? NAN : ww_decades_log(decades, sheet->value[i] / sheet->worth);
}

static double nearest(const double *level, size_t columns, struct place x, struct place y)
{
    return level[(y.sample + (y.share > 0.5)) * columns + x.sample + (x.share > 0.5)];
}

static double between(const double *level, size_t columns, struct place x, struct place y)
{
    const double *low = level + y.sample * columns + x.sample, *high = low + columns;

    return (1 - y.share) * ((1 - x.share) * low[0] + x.share * low[1]) +
           y.share * ((1 - x.share) * high[0] + x.share * high[1]);
}

/* The table as an even map with its rim, and the panel that shows of it what `panel` shows of the table. */
static bool lay_out(struct ww_map *map, struct ww_panel *shown, const struct ww_panel *panel,
                    const struct ww_sheet *sheet, const struct ww_decades *decades, size_t nx, size_t ny,
                    double (*value)(const double *level, size_t columns, struct place x, struct place y))
{
    size_t wide = nx + 2 * RIM, high = ny + 2 * RIM;
    struct place *place = malloc((wide + high) * sizeof *place), *x = place, *y = place + wide;
    double *level = malloc(sheet->columns * sheet->rows * sizeof *level);
    bool laid = place && level && /* the unit of the map's extent is a sample */
                ww_map_init(map, wide, high, (double)wide, (double)high, NULL) == WW_OK;

    if (laid) {
        set_places(x, nx, panel->x0, panel->x1, sheet->x_worth, sheet->x, sheet->columns);
        set_places(y, ny, panel->y0, panel->y1, sheet->y_worth, sheet->y, sheet->rows);
        set_levels(level, sheet, decades);
        for (size_t iy = 0; iy < high; iy++)
            for (size_t ix = 0; ix < wide; ix++)
                map->value[iy * wide + ix] = value(level, sheet->columns, x[ix], y[iy]);
        *shown = (struct ww_panel){
            .box = panel->box, .x0 = RIM, .x1 = (double)nx + RIM, .y0 = RIM, .y1 = (double)ny + RIM};
    }
    free(place);
    free(level);
    return laid;
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
