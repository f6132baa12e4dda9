/* figure/heatmap.c - a periodic map as colours, and as contours.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/heatmap.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define SHADES 1024 /* of a ramp: finer than eight bits a channel can show */

void ww_map_range(const struct ww_map *map, double *low, double *high)
{
    bool found = false;

    *low = *high = 0;
    for (size_t i = 0; i < map->nx * map->ny; i++) {
        double value = map->value[i];
        if (!isfinite(value))
            continue;
        *low = found ? fmin(*low, value) : value;
        *high = found ? fmax(*high, value) : value;
        found = true;
    }
}

struct ww_box ww_heatmap_snap(const struct ww_canvas *canvas, struct ww_box box)
{
    double d = canvas->density;
    double x = round(box.x * d) / d, y = round(box.y * d) / d;

    return (struct ww_box){x, y, round(box.w * d) / d, round(box.h * d) / d};
}

/* Which of n samples over `period` the place lies in, periodically. */
static size_t sample_at(double place, double period, size_t n)
{
    double share = place / period;
    size_t i = (size_t)((share - floor(share)) * (double)n);
    return i < n ? i : n - 1;
}

static uint32_t pack(struct ww_rgb colour)
{
    uint32_t r = (uint32_t)(colour.r * 255 + 0.5), g = (uint32_t)(colour.g * 255 + 0.5),
             b = (uint32_t)(colour.b * 255 + 0.5);
    return r << 16 | g << 8 | b;
}

/* Shade [SHADES] is for what is not a number. */
static void fill_shades(enum ww_ramp ramp, uint32_t *shade)
{
    for (int i = 0; i < SHADES; i++)
        shade[i] = pack(ww_ramp_colour(ramp, (double)i / (SHADES - 1)));
    shade[SHADES] = pack(ww_ink_colour(WW_INK_NAN));
}

static size_t shade_of(double value, double low, double high)
{
    double t = (value - low) / (high - low);

    if (isnan(t))
        return SHADES;
    return t <= 0 ? 0 : t >= 1 ? SHADES - 1 : (size_t)(t * (SHADES - 1) + 0.5);
}

static void colour_pixels(cairo_surface_t *image, const struct ww_panel *panel, double worth,
                          const struct ww_map *map, const uint32_t *shade, double low, double high)
{
    int width = cairo_image_surface_get_width(image), height = cairo_image_surface_get_height(image);
    size_t stride = (size_t)cairo_image_surface_get_stride(image);
    unsigned char *pixels = cairo_image_surface_get_data(image);

    for (int row = 0; row < height; row++) {
        double y = panel->y1 - (row + 0.5) / height * (panel->y1 - panel->y0);
        const double *value = map->value + sample_at(y * worth, map->ly, map->ny) * map->nx;
        for (int column = 0; column < width; column++) {
            double x = panel->x0 + (column + 0.5) / width * (panel->x1 - panel->x0);
            double here = value[sample_at(x * worth, map->lx, map->nx)];
            memcpy(pixels + (size_t)row * stride + 4 * (size_t)column, &shade[shade_of(here, low, high)], 4);
        }
    }
}

void ww_heatmap_draw(struct ww_canvas *canvas, const struct ww_panel *panel, double worth, const struct ww_map *map,
                     enum ww_ramp ramp, double low, double high)
{
    const struct ww_box *box = &panel->box;
    int width = (int)(box->w * canvas->density + 0.5), height = (int)(box->h * canvas->density + 0.5);
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    uint32_t shade[SHADES + 1];

    if (cairo_surface_status(image) == CAIRO_STATUS_SUCCESS) {
        fill_shades(ramp, shade);
        cairo_surface_flush(image);
        colour_pixels(image, panel, worth, map, shade, low, high);
        cairo_surface_mark_dirty(image);
    }
    cairo_save(canvas->cairo);
    cairo_translate(canvas->cairo, box->x, box->y);
    cairo_scale(canvas->cairo, box->w / width, box->h / height);
    cairo_set_source_surface(canvas->cairo, image, 0, 0); /* hands a failed image's status on to the page */
    cairo_pattern_set_filter(cairo_get_source(canvas->cairo), CAIRO_FILTER_NEAREST);
    cairo_rectangle(canvas->cairo, 0, 0, width, height);
    cairo_fill(canvas->cairo);
    cairo_restore(canvas->cairo);
    cairo_surface_destroy(image);
}

struct ww_panel ww_heatmap_cell_panel(const struct ww_canvas *canvas, struct ww_box room, double worth,
                                      const struct ww_map *map)
{
    const double cells = 1.16; /* shown both ways */
    double lx = map->lx / worth, ly = map->ly / worth, margin = (cells - 1) / 2;
    double scale = fmin(room.w / (cells * lx), room.h / (cells * ly));
    double w = scale * cells * lx, h = scale * cells * ly;
    struct ww_box box = {room.x + (room.w - w) / 2, room.y + (room.h - h) / 2, w, h};
    struct ww_panel panel = {.box = ww_heatmap_snap(canvas, box),
                             .x0 = -margin * lx,
                             .x1 = (1 + margin) * lx,
                             .y0 = -margin * ly,
                             .y1 = (1 + margin) * ly};

    return panel;
}

void ww_heatmap_cell_path(struct ww_canvas *canvas, const struct ww_panel *panel, double worth,
                          const struct ww_map *map)
{
    double x = ww_panel_x(panel, 0), y = ww_panel_y(panel, map->ly / worth);

    cairo_rectangle(canvas->cairo, x, y, ww_panel_x(panel, map->lx / worth) - x, ww_panel_y(panel, 0) - y);
}
