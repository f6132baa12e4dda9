/* figure/via.c - glass that a laser beam meets, over where its middle is; the beam to scale where it meets least and most.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define FLATTEST 0.1    /* [um] least span of the colour bar */
#define ALIKE 1e-12     /* [m] of glass by which positions do not differ */
#define LEAST_ROOM 10.0 /* a label keeps off the middle of a small beam */
#define LABEL_PAD 7.0
#define KEY_WIDTH 330.0
#define KEY_BEAM 16.0 /* radius of the beam in the key */

static const double um = 1e-6;
static const double dash[] = {16, 8};
static const struct ww_type label_type = {WW_TEXT_BODY, true, WW_INK_TEXT};
static const struct ww_type key_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};

static enum ww_status check(const struct ww_figure_via *content, const char *path, struct ww_error *error)
{
    const struct ww_map *map = content->glass;

    if (map == NULL || map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no map of glass to draw; give one with samples and extent");
    if (!(content->diameter > 0) || !isfinite(content->diameter))
        return ww_error_set(error, WW_INVALID, path, 0, "the beam's diameter must be above 0");
    return WW_OK;
}

/* --- beams */

/* A beam on the page. */
struct beam {
    double x, y, radius;
    struct ww_box text;
};

/* Where the map has this value: of several places the one nearest to the middle of the cell. */
static struct beam place_beam(const struct ww_panel *panel, const struct ww_figure_via *content, double worth,
                              double value)
{
    const struct ww_map *map = content->glass;
    double nearest = HUGE_VAL, radius = content->diameter / 2 / worth;
    struct beam beam = {.radius = ww_panel_x(panel, radius) - ww_panel_x(panel, 0)};

    for (size_t i = 0; i < map->nx * map->ny; i++) {
        double x = ((double)(i % map->nx) + 0.5) / (double)map->nx * map->lx;
        double y = ((double)(i / map->nx) + 0.5) / (double)map->ny * map->ly;
        double off = hypot(x - map->lx / 2, y - map->ly / 2);
        if (fabs(map->value[i] - value) > ALIKE || off >= nearest)
            continue;
        nearest = off;
        beam.x = ww_panel_x(panel, x / worth);
        beam.y = ww_panel_y(panel, y / worth);
    }
    return beam;
}

static void draw_beam(struct ww_canvas *canvas, double x, double y, double radius)
{
    cairo_new_path(canvas->cairo);
    cairo_arc(canvas->cairo, x, y, radius, 0, 2 * WW_PI);
    ww_sheet_stroke(canvas);
}

/* Beside its beam, clear of the other and its label. */
static void label_beam(struct ww_canvas *canvas, const struct ww_panel *panel, struct beam *beam,
                       const struct beam *other, const char *label)
{
    double w = ww_text_width(canvas, label_type, label) + 2 * LABEL_PAD, h = label_type.size + 2 * LABEL_PAD;
    double r = other->radius;
    struct ww_box taken[] = {{other->x - r, other->y - r, 2 * r, 2 * r}, other->text};

    beam->text = ww_label_place(&panel->box, beam->x, beam->y, fmax(beam->radius, LEAST_ROOM), w, h, taken, 2);
    ww_text_patch(canvas, label_type, beam->text.x + beam->text.w / 2, beam->text.y + beam->text.h / 2, 0.5, label);
}

static void draw_beams(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_via *content,
                       double worth, const struct ww_via *via)
{
    struct beam least = place_beam(panel, content, worth, via->least);
    struct beam most = place_beam(panel, content, worth, via->most);

    ww_panel_clip(canvas, panel);
    draw_beam(canvas, least.x, least.y, least.radius);
    draw_beam(canvas, most.x, most.y, most.radius);
    label_beam(canvas, panel, &least, &most, "least");
    label_beam(canvas, panel, &most, &least, "most");
    ww_panel_unclip(canvas);
}

/* --- the cell, and the positions without glass */

static void draw_rims(struct ww_canvas *canvas, const struct ww_panel *panel, double worth,
                      const struct ww_map *glass, bool windows)
{
    ww_panel_clip(canvas, panel);
    if (windows) {
        ww_contour_path(canvas, panel, worth, glass, WW_VIA_NO_GLASS);
        ww_sheet_stroke(canvas);
    }
    ww_canvas_dash(canvas, dash, 2);
    ww_heatmap_cell_path(canvas, panel, worth, glass);
    ww_sheet_stroke(canvas);
    ww_canvas_dash(canvas, NULL, 0);
    ww_panel_unclip(canvas);
}

/* --- words */

static void draw_key_line(struct ww_canvas *canvas, double x, double y, const char *words)
{
    cairo_move_to(canvas->cairo, x, y);
    cairo_line_to(canvas->cairo, x + 64, y);
    ww_sheet_stroke(canvas);
    ww_text_draw(canvas, key_type, x + 80, y, 0, words);
}

static void draw_key(struct ww_canvas *canvas, double x, double y, const char *beam, bool windows)
{
    draw_beam(canvas, x + 32, y, KEY_BEAM);
    ww_text_draw(canvas, key_type, x + 80, y, 0, beam);
    y += 44;
    ww_canvas_dash(canvas, dash, 2);
    draw_key_line(canvas, x, y, "one unit cell");
    ww_canvas_dash(canvas, NULL, 0);
    if (windows)
        draw_key_line(canvas, x, y + 44, "no glass within");
}

static void write_headline(char *out, const struct ww_via *via)
{
    (void)snprintf(out, WW_TEXT_BYTES,
                   "Glass a beam meets: least %.1f, mean %.1f, most %.1f \xc2\xb5m; none at %.1f %%", via->least / um,
                   via->mean / um, via->most / um, 100 * via->without);
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_via *content)
{
    const struct ww_map *glass = content->glass;
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], x_title[64], y_title[64], beam[64], diameter[32];
    struct ww_via via = ww_via_of_map(glass);
    double half = fmax((via.most - via.least) / um, FLATTEST) / 2, middle = (via.most + via.least) / um / 2;
    bool windows = via.without > 0 && via.without < 1;
    struct ww_unit length = ww_unit_length(fmax(glass->lx, glass->ly));

    ww_length_label(diameter, sizeof diameter, content->diameter);
    write_headline(headline, &via);
    (void)snprintf(subline, sizeof subline, "Laser via through %.200s: beam of %s, mean over the beam, all positions",
                   content->subject != NULL ? content->subject : "the ply", diameter);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    struct ww_box room = {page.x + 110, page.y + 14, page.w - 110 - 230 - KEY_WIDTH, page.h - 100};
    struct ww_panel panel = ww_heatmap_cell_panel(canvas, room, length.worth, glass);
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, panel.box.h);

    ww_heatmap_draw(canvas, &panel, length.worth, glass, WW_RAMP_SEQUENTIAL, (middle - half) * um,
                    (middle + half) * um);
    draw_rims(canvas, &panel, length.worth, glass, windows);
    draw_beams(canvas, &panel, content, length.worth, &via);
    (void)snprintf(x_title, sizeof x_title, "x, along the fill [%s]", length.name);
    (void)snprintf(y_title, sizeof y_title, "y, along the warp [%s]", length.name);
    ww_panel_axes(canvas, &panel, x_title, y_title);
    ww_canvas_colour_bar(canvas, (struct ww_box){panel.box.x + panel.box.w + 34, panel.box.y, 40, panel.box.h},
                         WW_RAMP_SEQUENTIAL, middle - half, middle + half, "glass [\xc2\xb5m]", false);
    (void)snprintf(beam, sizeof beam, "beam, %s", diameter);
    draw_key(canvas, WW_PAGE_WIDTH - WW_PAGE_MARGIN - KEY_WIDTH, panel.box.y + 24, beam, windows);
}

enum ww_status ww_figure_draw_via(const char *path, const struct ww_figure_options *options,
                                  const struct ww_figure_via *content, struct ww_error *error)
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
