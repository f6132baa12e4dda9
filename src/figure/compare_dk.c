/* figure/compare_dk.c - Dk maps of several styles side by side, at one scale and in one range of colours.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every tile shows the same square of cloth: the longest cell side of all, so that each shows a cell or more. The key
 * stands once at the right, the scale once under it.
 */
#include <math.h>

#include "figure/compare.h"
#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define RIGHT 240.0     /* key */
#define GAP 22.0        /* between tiles */
#define CAPTION 92.0    /* under a tile */
#define FURNITURE 300.0 /* of the page, less the tiles */
#define MOST_TILES 1450.0
#define ONE_ROW 3         /* tiles that stand in one row */
#define LEAST_TILES 620.0 /* height of the tiles, at least, for the key beside them */
#define FLATTEST 0.02     /* least span of the colour bar */
#define WIDEST_TILE 520.0

static enum ww_status check(const struct ww_figure_compare *content, const char *path, struct ww_error *error)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    enum ww_status status = ww_compare_check(content, path, error);
    size_t count = status == WW_OK ? ww_compare_usable(content, usable) : 0;

    for (size_t i = 0; i < count; i++) {
        const struct ww_map *map = &usable[i]->dk;
        if (map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0) ||
            !isfinite(map->lx + map->ly))
            return ww_error_set(error, WW_INVALID, path, 0, "style %.40s has no Dk map to draw", usable[i]->name);
    }
    return status;
}

/* Columns and size of the tiles. */
struct grid {
    size_t columns, rows;
    double tile, height; /* of a tile; of all with their captions */
};

/* The largest tiles that do not make the page too tall. */
static struct grid choose_grid(size_t count)
{
    double room = WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN - RIGHT;
    struct grid grid = {0};

    do {
        grid.columns++;
        grid.rows = (count + grid.columns - 1) / grid.columns;
        grid.tile = fmin((room - (double)(grid.columns - 1) * GAP) / (double)grid.columns, WIDEST_TILE);
        grid.height = (double)grid.rows * (grid.tile + CAPTION);
    } while ((grid.height > MOST_TILES || count <= ONE_ROW) && grid.columns < count);
    return grid;
}

static double page_height(const struct grid *grid)
{
    return FURNITURE + fmax(grid->height, LEAST_TILES);
}

static void draw_caption(struct ww_canvas *canvas, double x, double y, double room, const struct ww_compared *of,
                         bool own)
{
    static const struct ww_type bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
    static const struct ww_type plain = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    char name[WW_TEXT_BYTES], text[WW_TEXT_BYTES], low_text[32], high_text[32];
    double low, high;

    ww_text_copy(text, ww_compared_name(of), 100);
    (void)snprintf(name, sizeof name, "%s%.300s", own ? "\xe2\x97\x86 " : "", text);
    ww_text_cut(canvas, bold, room, name);
    ww_text_draw(canvas, bold, x, y, 0, name);
    ww_map_range(&of->dk, &low, &high);
    (void)snprintf(text, sizeof text, "%s to %s", ww_value_label(low_text, sizeof low_text, low, 0),
                   ww_value_label(high_text, sizeof high_text, high, 0));
    ww_text_cut(canvas, plain, room, text);
    ww_text_draw(canvas, plain, x, y + 29, 0, text);
}

/* A round length of at most the tile, as a bar with its name. */
static void draw_scale(struct ww_canvas *canvas, double x, double y, double tile, double window)
{
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    struct ww_unit unit = ww_unit_length(window);
    double length = ww_ticks_choose(0, window / unit.worth, 4).step, w = length * unit.worth / window * tile;
    char label[64], value[32];

    while (w > 170) {
        length /= 2;
        w /= 2;
    }
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, x, y, x + w, y, 5);
    ww_canvas_stroke(canvas, x, y - 9, x, y + 9, 3);
    ww_canvas_stroke(canvas, x + w, y - 9, x + w, y + 9, 3);
    (void)snprintf(label, sizeof label, "%s %s", ww_size_label(value, sizeof value, length, 3), unit.name);
    ww_text_draw(canvas, type, x, y + 32, 0, label);
}

static void draw_tile(struct ww_canvas *canvas, struct ww_box box, double window, const struct ww_map *map,
                      double low, double high)
{
    struct ww_panel panel = {.box = ww_heatmap_snap(canvas, box), .x1 = window, .y1 = window};

    ww_heatmap_draw(canvas, &panel, 1, map, WW_RAMP_SEQUENTIAL, low, high);
    ww_panel_axes(canvas, &panel, NULL, NULL);
}

/* Of those that can be recommended, if any. */
static const struct ww_compared *most_even(const struct ww_compared **usable, size_t count)
{
    const struct ww_compared *best = NULL;
    double low, high, least = INFINITY;

    for (size_t i = 0; i < count; i++) {
        ww_map_range(&usable[i]->dk, &low, &high);
        if (ww_compared_flag(usable[i]) == WW_RESIN_WITHIN && high - low < least) {
            best = usable[i];
            least = high - low;
        }
    }
    return best != NULL ? best : usable[0];
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_compare *content)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    size_t count = ww_compare_usable(content, usable);
    struct grid grid = choose_grid(count);
    char headline[WW_TEXT_BYTES], name[64], from[32], to[32];
    double low = INFINITY, high = -INFINITY, window = 0, least, most;
    bool own = false;

    for (size_t i = 0; i < count; i++) {
        ww_map_range(&usable[i]->dk, &least, &most);
        low = fmin(low, least);
        high = fmax(high, most);
        window = fmax(window, fmax(usable[i]->dk.lx, usable[i]->dk.ly));
        own = own || usable[i]->own;
    }
    if (high - low < FLATTEST) {
        double middle = (low + high) / 2;
        low = middle - FLATTEST / 2;
        high = middle + FLATTEST / 2;
    }
    const struct ww_compared *even = most_even(usable, count);
    ww_map_range(&even->dk, &least, &most);
    ww_text_copy(name, ww_compared_name(even), 40);
    (void)snprintf(headline, sizeof headline, "Local Dk is most even on %s: %s to %s", name,
                   ww_value_label(from, sizeof from, least, 0), ww_value_label(to, sizeof to, most, 0));
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");

    for (size_t i = 0; i < count; i++) {
        double x = page.x + (double)(i % grid.columns) * (grid.tile + GAP);
        double y = page.y + 8 + (double)(i / grid.columns) * (grid.tile + CAPTION);
        draw_tile(canvas, (struct ww_box){x, y, grid.tile, grid.tile}, window, &usable[i]->dk, low, high);
        draw_caption(canvas, x, y + grid.tile + 22, grid.tile, usable[i], usable[i]->own);
    }
    double x = page.x + page.w - RIGHT + 40, bar = 400;
    ww_canvas_colour_bar(canvas, (struct ww_box){x, page.y + 8, 40, bar}, WW_RAMP_SEQUENTIAL, low, high,
                         "Dk (local, series average)", false);
    draw_scale(canvas, x, page.y + bar + 60, grid.tile, window);
    if (own) {
        static const struct ww_type type = {WW_TEXT_SMALL, true, WW_INK_TEXT};
        ww_text_draw(canvas, type, x, page.y + bar + 150, 0, "\xe2\x97\x86 this study's");
    }
}

enum ww_status ww_figure_draw_compare_dk(const char *path, const struct ww_figure_options *options,
                                         const struct ww_figure_compare *content, struct ww_error *error)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    struct ww_canvas canvas;
    enum ww_status status = check(content, path, error);

    if (status == WW_OK) {
        struct grid grid = choose_grid(ww_compare_usable(content, usable));
        status = ww_canvas_open(&canvas, path, options, page_height(&grid), error);
    }
    if (status != WW_OK)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}
