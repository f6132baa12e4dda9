/* figure/picture.c - a picture of cloth with the yarns as they were followed drawn over it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>

#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define KEY_WIDTH 330.0
#define YARNS_SHOWN 24.0 /* across the figure, at most: more would cover the picture */
#define SAMPLES_MOST 1600

static const double dash[] = {14, 9};
static const struct ww_type key_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};

/* What is shown of the picture, from its middle [m]. */
struct view {
    double half_x, half_y;
    struct ww_unit unit;
};

static struct view choose_view(const struct ww_cloth_picture *cloth)
{
    double most = YARNS_SHOWN * fmax(cloth->warp.pitch.value, cloth->fill.pitch.value);
    struct view view = {fmin(cloth->lx, most) / 2, fmin(cloth->ly, most) / 2, {1, ""}};

    view.unit = ww_unit_length(2 * fmax(view.half_x, view.half_y));
    return view;
}

/* The picture's samples over the view, at most SAMPLES_MOST each way. */
static enum ww_status cut(struct ww_map *map, const struct ww_picture *picture, const struct view *view,
                          struct ww_error *error)
{
    size_t nx = (size_t)fmax(1, fmin(SAMPLES_MOST, 2 * view->half_x / picture->pixel));
    size_t ny = (size_t)fmax(1, fmin(SAMPLES_MOST, 2 * view->half_y / picture->pixel));
    enum ww_status status = ww_map_init(map, nx, ny, 2 * view->half_x, 2 * view->half_y, error);

    for (size_t y = 0; y < ny && status == WW_OK; y++)
        for (size_t x = 0; x < nx; x++) {
            double px =
                (((double)x + 0.5) / (double)nx * 2 - 1) * view->half_x / picture->pixel + 0.5 * (double)picture->nx;
            double py =
                (((double)y + 0.5) / (double)ny * 2 - 1) * view->half_y / picture->pixel + 0.5 * (double)picture->ny;
            size_t ix = (size_t)fmin(fmax(px, 0), (double)picture->nx - 1);
            size_t iy = (size_t)fmin(fmax(py, 0), (double)picture->ny - 1);
            map->value[y * nx + x] = picture->value[iy * picture->nx + ix];
        }
    return status;
}

/* A yarn's line at so many widths beside its middle; breaks where it was not followed. */
static void yarn_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct view *view,
                      const struct ww_picture_yarns *yarns, size_t row, double beside)
{
    bool drawing = false;

    for (size_t j = 0; j < yarns->steps; j++) {
        double across = yarns->path[row * yarns->steps + j] + beside, along = yarns->first + (double)j * yarns->step;
        if (isnan(across)) {
            drawing = false;
            continue;
        }
        double x = across * yarns->across[0] + along * yarns->along[0] + view->half_x;
        double y = across * yarns->across[1] + along * yarns->along[1] + view->half_y;
        double px = ww_panel_x(panel, x / view->unit.worth), py = ww_panel_y(panel, y / view->unit.worth);
        if (drawing)
            cairo_line_to(canvas->cairo, px, py);
        else
            cairo_move_to(canvas->cairo, px, py);
        drawing = true;
    }
}

/* On a wider line of paper, so that it shows on any grey. */
static void stroke(struct ww_canvas *canvas, enum ww_ink ink)
{
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.8);
    cairo_set_line_width(canvas->cairo, 5);
    cairo_stroke_preserve(canvas->cairo);
    ww_canvas_ink(canvas, ink, 1);
    cairo_set_line_width(canvas->cairo, 2.6);
    cairo_stroke(canvas->cairo);
}

static void draw_family(struct ww_canvas *canvas, const struct ww_panel *panel, const struct view *view,
                        const struct ww_picture_yarns *yarns, enum ww_ink ink)
{
    for (size_t row = 0; row < yarns->rows; row++) {
        double half = isnan(yarns->widths[row]) ? 0 : yarns->widths[row] / 2;
        cairo_new_path(canvas->cairo);
        yarn_path(canvas, panel, view, yarns, row, 0);
        stroke(canvas, ink);
        if (!(half > 0))
            continue;
        ww_canvas_dash(canvas, dash, 2);
        for (int side = -1; side <= 1; side += 2) {
            cairo_new_path(canvas->cairo);
            yarn_path(canvas, panel, view, yarns, row, side * half);
            stroke(canvas, ink);
        }
        ww_canvas_dash(canvas, NULL, 0);
    }
}

static void draw_key(struct ww_canvas *canvas, double x, double y)
{
    static const char *const words[4] = {"warp, its middle", "warp, its edges", "fill, its middle",
                                         "fill, its edges"};

    for (int i = 0; i < 4; i++) {
        ww_canvas_dash(canvas, dash, i % 2 ? 2 : 0);
        cairo_new_path(canvas->cairo);
        cairo_move_to(canvas->cairo, x, y);
        cairo_line_to(canvas->cairo, x + 64, y);
        stroke(canvas, i < 2 ? WW_INK_LEG1 : WW_INK_LEG2);
        ww_canvas_dash(canvas, NULL, 0);
        ww_text_draw(canvas, key_type, x + 80, y, 0, words[i]);
        y += 44;
    }
}

static void write_words(char *headline, char *subline, const struct ww_cloth_picture *cloth, const struct view *view)
{
    const struct ww_picture_yarns *w = &cloth->warp, *f = &cloth->fill;
    char warp[48] = "width not seen", fill[48] = "width not seen";

    if (w->edges_seen)
        (void)snprintf(warp, sizeof warp, "width %.0f \xc2\xb5m", w->width.value / 1e-6);
    if (f->edges_seen)
        (void)snprintf(fill, sizeof fill, "width %.0f \xc2\xb5m", f->width.value / 1e-6);
    (void)snprintf(headline, WW_TEXT_BYTES, "Warp %.1f to the inch, %s; fill %.1f, %s", 0.0254 / w->pitch.value, warp,
                   0.0254 / f->pitch.value, fill);
    bool part = 2 * view->half_x < cloth->lx * (1 - 1e-9) || 2 * view->half_y < cloth->ly * (1 - 1e-9);
    (void)snprintf(subline, WW_TEXT_BYTES,
                   "%s with the yarns as they were followed; wander %.1f \xc2\xb5m (warp), %.1f \xc2\xb5m (fill)",
                   part ? "The middle of the picture" : "The picture", w->wander / 1e-6, f->wander / 1e-6);
}

static void draw(struct ww_canvas *canvas, const struct ww_cloth_picture *cloth, const struct view *view,
                 const struct ww_map *map)
{
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], x_title[64], y_title[64];
    double low, high, worth = view->unit.worth;

    write_words(headline, subline, cloth, view);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    struct ww_box room = {page.x + 110, page.y + 14, page.w - 110 - 40 - KEY_WIDTH, page.h - 100};
    double scale = fmin(room.w / map->lx, room.h / map->ly);
    struct ww_box box = ww_heatmap_snap(canvas, (struct ww_box){room.x, room.y, scale * map->lx, scale * map->ly});
    struct ww_panel panel = {.box = box, .x1 = map->lx / worth, .y1 = map->ly / worth};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, box.w);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, box.h);
    ww_map_range(map, &low, &high);
    ww_heatmap_draw(canvas, &panel, worth, map, WW_RAMP_SEQUENTIAL, low, fmax(high, low + 1e-6));
    ww_panel_clip(canvas, &panel);
    draw_family(canvas, &panel, view, &cloth->fill, WW_INK_LEG2);
    draw_family(canvas, &panel, view, &cloth->warp, WW_INK_LEG1);
    ww_panel_unclip(canvas);
    (void)snprintf(x_title, sizeof x_title, "to the right [%s]", view->unit.name);
    (void)snprintf(y_title, sizeof y_title, "up [%s]", view->unit.name);
    ww_panel_axes(canvas, &panel, x_title, y_title);
    draw_key(canvas, WW_PAGE_WIDTH - WW_PAGE_MARGIN - KEY_WIDTH, box.y + 24);
}

enum ww_status ww_figure_draw_picture(const char *path, const struct ww_figure_options *options,
                                      const struct ww_picture *picture, const struct ww_cloth_picture *cloth,
                                      struct ww_error *error)
{
    struct ww_canvas canvas;
    struct ww_map map = {0};

    if (picture->value == NULL || cloth->warp.path == NULL || cloth->fill.path == NULL)
        return ww_error_set(error, WW_INVALID, path, 0, "no cloth to draw; measure a picture first");
    struct view view = choose_view(cloth);
    enum ww_status status = cut(&map, picture, &view, error);
    if (status == WW_OK)
        status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status == WW_OK) {
        draw(&canvas, cloth, &view, &map);
        status = ww_canvas_close(&canvas, error);
    }
    ww_map_clear(&map);
    return status;
}
