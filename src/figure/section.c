/* figure/section.c - where the field is, and what lies there: one cross-section to scale.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define LEFT 118.0        /* room for the axis of heights */
#define RIGHT 212.0       /* for the colour bar and the brackets of the layers; their names come on top */
#define LEAST_NAMES 240.0 /* room for the names of layers, */
#define MOST_NAMES 560.0
#define LETTER 0.55        /* of the size of the text: what a letter takes, on average; what is longer is cut */
#define ABOVE 128.0        /* for the dimensions */
#define BELOW 96.0         /* for the axis across */
#define FURNITURE 302.0    /* headline and footer */
#define LEAST_HEIGHT 250.0 /* of the panel; what is flatter is stretched */
#define MOST_HEIGHT 860.0
#define PLANE 0.06  /* of the panel's height, that a plane is drawn thick */
#define SHOWN 0.985 /* share of the samples below the brightest colour; higher ones are drawn in it */
#define EDGE 2      /* samples at the edges that are not drawn: a map's contours go around it */
#define LEVEL 0.1   /* [V] between equipotentials */
#define ARROW 13.0
#define BAR 36.0        /* width of the colour bar */
#define BAR_LABELS 58.0 /* what stands beside it, tick labels aside */
#define BESIDE_BAR 20.0 /* between the names of layers and the colour bar */
#define LABEL_STEP 31.0 /* least distance of two layers' names */

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};

static bool fits(const struct ww_map *map, const struct ww_map *like)
{
    return map != NULL && map->value != NULL && map->nx == like->nx && map->ny == like->ny && map->lx == like->lx &&
           map->ly == like->ly;
}

static enum ww_status check(const struct ww_figure_section *c, const char *path, struct ww_error *error)
{
    const struct ww_map *map = c->strength;

    if (map == NULL || map->value == NULL || map->nx < 2 || map->ny < 2 || !(map->lx > 0) || !(map->ly > 0) ||
        !isfinite(map->lx) || !isfinite(map->ly) || !isfinite(c->left) || !isfinite(c->bottom))
        return ww_error_set(error, WW_INVALID, path, 0, "no field to draw; give a map with samples and extent");
    if (!fits(c->potential, map) || (c->warp != NULL && !fits(c->warp, map)) ||
        (c->fill != NULL && !fits(c->fill, map)))
        return ww_error_set(error, WW_INVALID, path, 0, "the maps of one cross-section must be of one size");
    if (!(c->width > 0) || !(c->thickness >= 0) || !(c->pitch >= 0) ||
        !isfinite(c->width + c->thickness + c->pitch) || !isfinite(c->copper) || !isfinite(c->plane) ||
        (c->layers > 0 && c->layer == NULL))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "the copper to draw needs a width above 0 and a finite place");
    return WW_OK;
}

/* --- the page */

/* The part of the cross-section that is drawn [m]. */
struct extent {
    double left, right, bottom, top; /* of the field */
    double low, high;                /* of the panel, planes included */
};

struct sheet {
    struct ww_canvas *canvas;
    const struct ww_figure_section *content;
    struct extent extent;
    struct ww_panel panel, inner; /* all of it; and the field, measured from the corner of its maps */
    double worth;                 /* of the unit of length [m] */
    const char *unit;
    double names_end; /* on the page: where the names of layers must end */
};

static struct extent extent_of(const struct ww_figure_section *c)
{
    double edge = EDGE * c->strength->lx / (double)c->strength->nx, bar = PLANE * c->strength->ly;
    struct extent e = {
        c->left + edge, c->left + c->strength->lx - edge, c->bottom, c->bottom + c->strength->ly, 0, 0};
    bool closed = c->plane > 0 && e.top >= c->plane * (1 - 1e-9);

    e.top = closed ? c->plane : e.top - EDGE * c->strength->ly / (double)c->strength->ny;
    e.low = e.bottom > 0 ? e.bottom : -bar;
    e.high = closed ? c->plane + bar : e.top;
    return e;
}

/* Before there is a page to measure them on. */
static double room_for_names(const struct ww_figure_section *c)
{
    static const char length[] = " 999.9 mm";
    size_t letters = 0;

    for (size_t i = 0; i < c->layers; i++) {
        size_t here = (c->layer[i].name != NULL ? strlen(c->layer[i].name) : 5) + sizeof length - 1;
        letters = here > letters ? here : letters;
    }
    return fmin(fmax(LETTER * WW_TEXT_SMALL * (double)letters, LEAST_NAMES), MOST_NAMES);
}

/* Size of the panel: to scale, unless that would be too flat or too tall. */
static void choose_size(const struct ww_figure_section *c, const struct extent *e, double *width, double *height)
{
    *width = WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN - LEFT - RIGHT - room_for_names(c);
    *height = *width / (e->right - e->left) * (e->high - e->low);
    if (*height > MOST_HEIGHT) {
        *width *= MOST_HEIGHT / *height;
        *height = MOST_HEIGHT;
    }
    *height = fmax(*height, LEAST_HEIGHT);
}

static struct ww_panel inner_panel(const struct sheet *s)
{
    const struct ww_figure_section *c = s->content;
    const struct extent *e = &s->extent;
    struct ww_box box = {s->panel.box.x, ww_panel_y(&s->panel, e->top / s->worth), s->panel.box.w, 0};

    box.h = ww_panel_y(&s->panel, e->bottom / s->worth) - box.y;
    return (struct ww_panel){.box = ww_heatmap_snap(s->canvas, box),
                             .x0 = (e->left - c->left) / s->worth,
                             .x1 = (e->right - c->left) / s->worth,
                             .y0 = (e->bottom - c->bottom) / s->worth,
                             .y1 = (e->top - c->bottom) / s->worth};
}

/* --- the field */

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Value below which the given share of what is not 0 lies. */
static double shown_limit(struct ww_canvas *canvas, const struct ww_map *map)
{
    size_t count = 0;
    double *sorted = calloc(map->nx * map->ny, sizeof *sorted), limit = 0;

    if (sorted == NULL) {
        canvas->starved = true;
        return 1;
    }
    for (size_t i = 0; i < map->nx * map->ny; i++)
        if (isfinite(map->value[i]) && map->value[i] > 0)
            sorted[count++] = map->value[i];
    qsort(sorted, count, sizeof *sorted, ascending);
    if (count > 0)
        limit = sorted[(size_t)(SHOWN * (double)(count - 1))];
    free(sorted);
    return limit > 0 ? limit : 1;
}

static void stroke_twice(struct ww_canvas *canvas, double outer, double outer_opacity, double inner,
                         const double *dash, int dashes)
{
    ww_canvas_ink(canvas, WW_INK_PAPER, outer_opacity);
    cairo_set_line_width(canvas->cairo, outer);
    cairo_stroke_preserve(canvas->cairo);
    ww_canvas_dash(canvas, dash, dashes);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, inner);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

static void draw_field(struct sheet *s, double limit)
{
    const struct ww_figure_section *c = s->content;
    static const double dash[] = {10, 7};

    ww_heatmap_draw(s->canvas, &s->inner, s->worth, c->strength, WW_RAMP_SEQUENTIAL, 0, limit);
    ww_panel_clip(s->canvas, &s->inner);
    for (int i = -9; i <= 9; i++) {
        if (i == 0)
            continue;
        ww_contour_path(s->canvas, &s->inner, s->worth, c->potential, i * LEVEL);
        ww_canvas_ink(s->canvas, WW_INK_PAPER, 0.75);
        cairo_set_line_width(s->canvas->cairo, 1.5);
        cairo_stroke(s->canvas->cairo);
    }
    for (int fill = 1; fill >= 0; fill--) {
        const struct ww_map *yarn = fill ? c->fill : c->warp;
        if (yarn == NULL)
            continue;
        ww_contour_path(s->canvas, &s->inner, s->worth, yarn, 0.5);
        stroke_twice(s->canvas, 6, 0.85, 3, dash, fill ? 2 : 0);
    }
    ww_panel_unclip(s->canvas);
}

/* --- copper */

static void fill_copper(const struct sheet *s, double n0, double n1, double z0, double z1)
{
    cairo_t *cairo = s->canvas->cairo;
    double x = ww_panel_x(&s->panel, n0 / s->worth), y = ww_panel_y(&s->panel, z1 / s->worth);

    cairo_rectangle(cairo, x, y, ww_panel_x(&s->panel, n1 / s->worth) - x,
                    fmax(ww_panel_y(&s->panel, z0 / s->worth) - y, 3));
    ww_canvas_ink(s->canvas, WW_INK_QUIET, 1);
    cairo_fill_preserve(cairo);
    ww_canvas_ink(s->canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(cairo, 2.5);
    cairo_stroke(cairo);
}

static int legs_of(const struct ww_figure_section *c)
{
    return c->pitch > 0 ? 2 : 1;
}

/* Centre of a leg: 0 is leg 1, to the left of travel. */
static double centre_of(const struct ww_figure_section *c, int leg)
{
    return (leg == 0 ? -0.5 : 0.5) * c->pitch;
}

static void draw_copper(const struct sheet *s)
{
    const struct ww_figure_section *c = s->content;
    const struct extent *e = &s->extent;

    ww_panel_clip(s->canvas, &s->panel);
    if (e->low < 0)
        fill_copper(s, e->left, e->right, e->low, 0);
    if (e->high > e->top)
        fill_copper(s, e->left, e->right, e->top, e->high);
    for (int leg = 0; leg < legs_of(c); leg++)
        fill_copper(s, centre_of(c, leg) - c->width / 2, centre_of(c, leg) + c->width / 2, c->copper,
                    c->copper + c->thickness);
    ww_panel_unclip(s->canvas);
}

/* --- dimensions */

static void arrow_head(struct ww_canvas *canvas, double x, double y, double dx, double dy)
{
    cairo_move_to(canvas->cairo, x, y);
    cairo_line_to(canvas->cairo, x - ARROW * dx - 0.4 * ARROW * dy, y - ARROW * dy - 0.4 * ARROW * dx);
    cairo_line_to(canvas->cairo, x - ARROW * dx + 0.4 * ARROW * dy, y - ARROW * dy + 0.4 * ARROW * dx);
    cairo_close_path(canvas->cairo);
    cairo_fill(canvas->cairo);
}

static void label_of(const struct sheet *s, char *out, size_t size, const char *name, double length)
{
    char value[32];
    (void)snprintf(out, size, "%s %s %s", name, ww_size_label(value, sizeof value, length / s->worth, 4), s->unit);
}

/* Between n0 and n1 at height y of the page, with lines down to the copper; the text within, or beside it if narrow.
 * Nothing where an end is not shown. */
static void dimension_across(const struct sheet *s, double n0, double n1, double y, const char *name)
{
    struct ww_canvas *canvas = s->canvas;
    double x0 = ww_panel_x(&s->panel, n0 / s->worth), x1 = ww_panel_x(&s->panel, n1 / s->worth);
    double down = ww_panel_y(&s->panel, (s->content->copper + s->content->thickness) / s->worth);
    static const double dash[] = {4, 5};
    char text[96];

    if (x0 < s->panel.box.x || x1 > s->panel.box.x + s->panel.box.w)
        return;
    ww_canvas_dash(canvas, dash, 2);
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.9);
    ww_canvas_stroke(canvas, x0, s->panel.box.y, x0, down, 2);
    ww_canvas_stroke(canvas, x1, s->panel.box.y, x1, down, 2);
    ww_canvas_dash(canvas, NULL, 0);
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    ww_canvas_stroke(canvas, x0, y - 8, x0, s->panel.box.y, 1.6);
    ww_canvas_stroke(canvas, x1, y - 8, x1, s->panel.box.y, 1.6);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    arrow_head(canvas, x0, y, -1, 0);
    arrow_head(canvas, x1, y, 1, 0);
    label_of(s, text, sizeof text, name, n1 - n0);
    double middle = (x0 + x1) / 2, half = ww_text_width(canvas, small_type, text) / 2 + 10;
    bool inside = middle - half > x0 + 2 * ARROW;
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, x0, y, inside ? middle - half : x1, y, 2);
    if (inside)
        ww_canvas_stroke(canvas, middle + half, y, x1, y, 2);
    if (inside)
        ww_text_draw(canvas, small_type, middle, y, 0.5, text);
    else if (n0 + n1 <= 0)
        ww_text_draw(canvas, small_type, x0 - 12, y, 1, text);
    else
        ww_text_draw(canvas, small_type, x1 + 12, y, 0, text);
}

static void name_legs(const struct sheet *s, double y)
{
    static const struct ww_type bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
    static const char *const names[] = {"leg 1, +\xc2\xbd V", "leg 2, \xe2\x88\x92\xc2\xbd V"};
    double middle = ww_panel_x(&s->panel, 0), half = ww_text_width(s->canvas, bold, names[1]) / 2;
    double off = fmax(ww_panel_x(&s->panel, s->content->pitch / 2 / s->worth) - middle, half + 12);

    if (middle + off > s->panel.box.x + s->panel.box.w)
        return;

    for (int leg = 0; leg < 2; leg++)
        ww_text_draw(s->canvas, bold, leg == 0 ? middle - off : middle + off, y, 0.5, names[leg]);
}

static void draw_dimensions(const struct sheet *s)
{
    const struct ww_figure_section *c = s->content;
    double top = s->panel.box.y;

    if (c->pitch > 0) {
        name_legs(s, top - 104);
        dimension_across(s, centre_of(c, 0), centre_of(c, 1), top - 66, "pitch");
        dimension_across(s, centre_of(c, 1) - c->width / 2, centre_of(c, 1) + c->width / 2, top - 26, "width");
    } else {
        static const struct ww_type bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
        ww_text_draw(s->canvas, bold, ww_panel_x(&s->panel, 0), top - 66, 0.5, "trace, 1 V");
        dimension_across(s, -c->width / 2, c->width / 2, top - 26, "width");
    }
}

/* --- layers: brackets at the right, names kept apart */

/* Heights of names that want to be at y[i] (ascending), at least a step apart, inside low..high as far as they fit. */
static void spread(double *y, size_t count, double low, double high)
{
    for (size_t i = 0; i < count; i++)
        y[i] = fmax(y[i], i > 0 ? y[i - 1] + LABEL_STEP : low);
    for (size_t i = count; i-- > 0;)
        y[i] = fmin(y[i], i + 1 < count ? y[i + 1] - LABEL_STEP : high);
}

static void draw_layer(const struct sheet *s, const struct ww_figure_layer *layer, double name_y)
{
    struct ww_canvas *canvas = s->canvas;
    double x = s->panel.box.x + s->panel.box.w + 14;
    double y0 = ww_panel_y(&s->panel, layer->bottom / s->worth), y1 = ww_panel_y(&s->panel, layer->top / s->worth);
    char text[WW_TEXT_BYTES];

    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, x, y0 - 1.5, x, y1 + 1.5, 2);
    ww_canvas_stroke(canvas, x - 6, y0 - 1.5, x + 6, y0 - 1.5, 2);
    ww_canvas_stroke(canvas, x - 6, y1 + 1.5, x + 6, y1 + 1.5, 2);
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    ww_canvas_stroke(canvas, x + 6, (y0 + y1) / 2, x + 26, name_y, 1.6);
    label_of(s, text, sizeof text, layer->name != NULL ? layer->name : "layer", layer->top - layer->bottom);
    ww_text_cut(canvas, small_type, s->names_end - (x + 32), text);
    ww_text_draw(canvas, small_type, x + 32, name_y, 0, text);
}

static int from_the_top(const void *a, const void *b)
{
    const struct ww_figure_layer *x = a, *y = b;
    return (x->top < y->top) - (x->top > y->top);
}

static void draw_layers(const struct sheet *s)
{
    size_t count = s->content->layers;
    struct ww_figure_layer *layer = calloc(count + 1, sizeof *layer);
    double *y = calloc(count + 1, sizeof *y);

    if (layer == NULL || y == NULL)
        s->canvas->starved = true;
    else if (count > 0) {
        memcpy(layer, s->content->layer, count * sizeof *layer);
        qsort(layer, count, sizeof *layer, from_the_top);
        for (size_t i = 0; i < count; i++)
            y[i] = ww_panel_y(&s->panel, (layer[i].bottom + layer[i].top) / 2 / s->worth);
        spread(y, count, s->panel.box.y + 12, s->panel.box.y + s->panel.box.h - 12);
        for (size_t i = 0; i < count; i++)
            draw_layer(s, &layer[i], y[i]);
    }
    free(layer);
    free(y);
}

/* --- all of it */

static void draw(struct ww_canvas *canvas, const struct ww_figure_section *c)
{
    struct ww_unit length = ww_unit_length(fmax(c->strength->lx, c->strength->ly));
    struct sheet s = {
        .canvas = canvas, .content = c, .extent = extent_of(c), .worth = length.worth, .unit = length.name};
    const struct extent *e = &s.extent;
    char headline[WW_TEXT_BYTES], title[96], stretched[48] = "";
    double width, height, limit = shown_limit(canvas, c->strength);

    choose_size(c, e, &width, &height);
    (void)snprintf(headline, sizeof headline, "Where the field is, and the glass in it%s%.300s",
                   c->subject != NULL ? ": " : "", c->subject != NULL ? c->subject : "");
    struct ww_box page = ww_canvas_furniture(
        canvas, headline,
        "Seen along the direction of travel; equipotentials every 0.1 V; yarns outlined, warp solid and fill dashed");

    s.panel = (struct ww_panel){.box = {page.x + LEFT, page.y + ABOVE, width, height},
                                .x0 = e->left / s.worth,
                                .x1 = e->right / s.worth,
                                .y0 = e->low / s.worth,
                                .y1 = e->high / s.worth};
    s.panel.box = ww_heatmap_snap(canvas, s.panel.box);
    s.panel.x_ticks = ww_ticks_across(canvas, s.panel.x0, s.panel.x1, width);
    s.panel.y_ticks = ww_ticks_up(s.panel.y0, s.panel.y1, height);
    s.inner = inner_panel(&s);
    struct ww_ticks bar = ww_ticks_up(0, limit * 1e-3, height);
    double beside = BAR + BAR_LABELS + ww_ticks_width(canvas, &bar);
    s.names_end = page.x + page.w - beside - BESIDE_BAR;
    draw_field(&s, limit);
    draw_copper(&s);
    draw_dimensions(&s);
    draw_layers(&s);

    double scale = height / (e->high - e->low) / (width / (e->right - e->left));
    if (scale > 1.005)
        (void)snprintf(stretched, sizeof stretched, "; heights drawn %s times as tall",
                       ww_size_label(title, sizeof title, scale, 2));
    (void)snprintf(title, sizeof title, "to the right of travel [%s]%s", s.unit, stretched);
    (void)snprintf(headline, sizeof headline, "height [%s]", s.unit);
    ww_panel_axes(canvas, &s.panel, title, headline);
    ww_canvas_colour_bar(canvas, (struct ww_box){page.x + page.w - beside, s.panel.box.y, BAR, s.panel.box.h},
                         WW_RAMP_SEQUENTIAL, 0, limit * 1e-3, "field at 1 V [V/mm]", false);
    (void)snprintf(headline, sizeof headline, "\xe2\x89\xa5 %s", ww_size_label(title, sizeof title, limit * 1e-3, 2));
    ww_text_draw(canvas, small_type, page.x + page.w - beside, s.panel.box.y - 20, 0, headline);
}

/* --- seen along the travel: n grows to its left, the panel to the right */

static enum ww_status mirror(struct ww_map *out, const struct ww_map *map, struct ww_error *error)
{
    enum ww_status status = map == NULL ? WW_OK : ww_map_init(out, map->nx, map->ny, map->lx, map->ly, error);

    for (size_t i = 0; status == WW_OK && map != NULL && i < map->nx * map->ny; i++)
        out->value[i] = map->value[i - i % map->nx + map->nx - 1 - i % map->nx];
    return status;
}

enum ww_status ww_figure_draw_section(const char *path, const struct ww_figure_options *options,
                                      const struct ww_figure_section *content, struct ww_error *error)
{
    const struct ww_map *const from[] = {content->strength, content->potential, content->warp, content->fill};
    struct ww_map map[4] = {{0}};
    struct ww_figure_section mirrored = *content;
    struct ww_canvas canvas;
    double width = 0, height = 0;
    enum ww_status status = check(content, path, error);

    for (int i = 0; i < 4 && status == WW_OK; i++)
        status = mirror(&map[i], from[i], error);
    if (status != WW_OK)
        goto done;
    mirrored.strength = &map[0];
    mirrored.potential = &map[1];
    mirrored.warp = content->warp != NULL ? &map[2] : NULL;
    mirrored.fill = content->fill != NULL ? &map[3] : NULL;
    mirrored.left = -(content->left + content->strength->lx);
    struct extent extent = extent_of(&mirrored);
    choose_size(&mirrored, &extent, &width, &height);
    status = ww_canvas_open(&canvas, path, options, FURNITURE + ABOVE + BELOW + height, error);
    if (status != WW_OK)
        goto done;
    draw(&canvas, &mirrored);
    status = ww_canvas_close(&canvas, error);
done:
    for (int i = 0; i < 4; i++)
        ww_map_clear(&map[i]);
    return status;
}
