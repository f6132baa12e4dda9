/* figure/picture_spectrum.c - the spectrum of a picture of cloth, with the lines of warp and fill marked.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define FAINTEST (-80.0) /* [dB] at the dark end of the ramp */
#define RADIUS 15.0      /* of a ring about a line */
#define KEY_WIDTH 330.0

static const double per_mm = 1000.0;
static const double dash[] = {9, 7};
static const struct ww_type label_type = {WW_TEXT_BODY, true, WW_INK_TEXT};
static const struct ww_type key_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};

static void ring(struct ww_canvas *canvas, const struct ww_panel *panel, double kx, double ky, double reach)
{
    cairo_new_path(canvas->cairo);
    cairo_arc(canvas->cairo, ww_panel_x(panel, (kx + reach) / per_mm), ww_panel_y(panel, (ky + reach) / per_mm),
              RADIUS, 0, 2 * WW_PI);
    ww_sheet_stroke(canvas);
}

/* Both families, solid, and the four diagonals between, dashed. */
static void draw_marks(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_cloth_picture *cloth)
{
    const struct ww_picture_yarns *of[2] = {&cloth->warp, &cloth->fill};
    static const char *const name[2] = {"warp", "fill"};

    ww_panel_clip(canvas, panel);
    for (int i = 0; i < 2; i++) {
        const double *k = of[i]->spectrum;
        ring(canvas, panel, k[0], k[1], cloth->reach);
        ring(canvas, panel, -k[0], -k[1], cloth->reach);
        ww_text_patch(canvas, label_type, ww_panel_x(panel, (k[0] + cloth->reach) / per_mm) + 64,
                      ww_panel_y(panel, (k[1] + cloth->reach) / per_mm) - 26, 0.5, name[i]);
    }
    ww_canvas_dash(canvas, dash, 2);
    for (int i = 0; i < 4; i++) {
        const double *a = of[0]->spectrum, *b = of[1]->spectrum;
        double left = i & 1 ? 0.5 : -0.5, right = i & 2 ? 0.5 : -0.5;
        ring(canvas, panel, left * a[0] + right * b[0], left * a[1] + right * b[1], cloth->reach);
    }
    ww_canvas_dash(canvas, NULL, 0);
    ww_panel_unclip(canvas);
}

static void draw_key(struct ww_canvas *canvas, double x, double y)
{
    static const char *const words[2] = {"a family of yarns", "plain weave's diagonal"};

    for (int i = 0; i < 2; i++) {
        ww_canvas_dash(canvas, dash, i == 1 ? 2 : 0);
        cairo_new_path(canvas->cairo);
        cairo_arc(canvas->cairo, x + 16, y, RADIUS, 0, 2 * WW_PI);
        ww_sheet_stroke(canvas);
        ww_canvas_dash(canvas, NULL, 0);
        ww_text_draw(canvas, key_type, x + 46, y, 0, words[i]);
        y += 44;
    }
}

static void draw(struct ww_canvas *canvas, const struct ww_cloth_picture *cloth)
{
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES];
    double side;
    struct ww_map map = cloth->spectrum;

    (void)snprintf(headline, sizeof headline, "Two families of yarns: %.2f and %.2f to the inch",
                   0.0254 / cloth->warp.pitch.value, 0.0254 / cloth->fill.pitch.value);
    (void)snprintf(
        subline, sizeof subline,
        "Spectrum of the picture; turns %.2f\xc2\xb0 (warp) and %.2f\xc2\xb0 (fill), %.2f\xc2\xb0 between them",
        cloth->warp.turn.value * 180 / WW_PI, cloth->fill.turn.value * 180 / WW_PI,
        cloth->between.value * 180 / WW_PI);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    side = fmin(page.h - 100, page.w - 110 - 230 - KEY_WIDTH);
    struct ww_box box = ww_heatmap_snap(canvas, (struct ww_box){page.x + 110, page.y + 14, side, side});
    /* the map starts at 0 where the spectrum is at -reach: drawn so, and labelled from -reach */
    struct ww_panel panel = {.box = box, .x1 = map.lx / per_mm, .y1 = map.ly / per_mm};
    ww_heatmap_draw(canvas, &panel, per_mm, &map, WW_RAMP_SEQUENTIAL, FAINTEST, 0);
    draw_marks(canvas, &panel, cloth);
    struct ww_panel axes = {.box = box,
                            .x0 = -cloth->reach / per_mm,
                            .x1 = cloth->reach / per_mm,
                            .y0 = -cloth->reach / per_mm,
                            .y1 = cloth->reach / per_mm};
    axes.x_ticks = ww_ticks_across(canvas, axes.x0, axes.x1, box.w);
    axes.y_ticks = ww_ticks_up(axes.y0, axes.y1, box.h);
    ww_panel_axes(canvas, &axes, "lines to the mm, to the right", "lines to the mm, up");
    ww_canvas_colour_bar(canvas, (struct ww_box){box.x + box.w + 34, box.y, 40, box.h}, WW_RAMP_SEQUENTIAL, FAINTEST,
                         0, "level [dB of the strongest]", false);
    draw_key(canvas, WW_PAGE_WIDTH - WW_PAGE_MARGIN - KEY_WIDTH, box.y + 24);
}

enum ww_status ww_figure_draw_picture_spectrum(const char *path, const struct ww_figure_options *options,
                                               const struct ww_cloth_picture *cloth, struct ww_error *error)
{
    struct ww_canvas canvas;

    if (cloth->spectrum.value == NULL || !(cloth->reach > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no spectrum to draw; measure a picture first");
    enum ww_status status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status != WW_OK)
        return status;
    draw(&canvas, cloth);
    return ww_canvas_close(&canvas, error);
}
