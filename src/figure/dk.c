/* figure/dk.c - how uneven is the dielectric: local Dk of a ply with the trace to scale over it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "figure/heatmap.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1240.0
#define CELLS 2.15        /* shown at least, both ways */
#define PAIRS 2.6         /* the window is at least this many times as wide as the trace or pair */
#define START_AT 0.40     /* of the window, from its middle back to where the trace starts */
#define FLATTEST 0.02     /* least span of the colour bar */
#define LABEL_OFF 14.0    /* from the trace to the paper under a name */
#define MOST_AXES 40      /* yarn axes drawn one way; beyond, they would hide the map */
#define MOST_SEGMENTS 64  /* of a route that are drawn */
#define ROUTE_WIDTH 330.0 /* of the column that shows the whole route */
#define ROUTE_TOP 74.0    /* of it, for its name */
#define FOLDED 0.05       /* 1 + cos of the sharpest bend that is mitred whole, 162 deg */

/* One straight segment of the centre line, in the panel's unit. */
struct segment {
    double x, y, length;   /* start */
    double ux, uy, nx, ny; /* along, and to the left */
};

/* The trace in the panel's unit: as many of its segments as are drawn. */
struct legs {
    struct segment segment[MOST_SEGMENTS];
    size_t segments;
    double width, pitch;
};

static enum ww_status check(const struct ww_figure_dk *content, const char *path, struct ww_error *error)
{
    const struct ww_map *map = content->dk;
    const struct ww_footprint *trace = content->trace;

    if (map == NULL || map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no Dk map to draw; give one with samples and extent");
    if (!(content->warp_pitch > 0) || !(content->fill_pitch > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "yarn pitches must be above 0");
    if (trace != NULL && (!(trace->width > 0) || !(trace->pitch >= 0) || !isfinite(trace->angle) ||
                          !isfinite(trace->x) || !isfinite(trace->y)))
        return ww_error_set(error, WW_INVALID, path, 0, "the trace to draw needs a width above 0 and a finite place");
    for (size_t i = 0; trace != NULL && trace->route != NULL && i < trace->segments; i++)
        if (!(trace->route[i].length > 0) || !isfinite(trace->route[i].length + trace->route[i].angle))
            return ww_error_set(error, WW_INVALID, path, 0, "a segment of the route to draw has no length or angle");
    return WW_OK;
}

static bool is_route(const struct ww_footprint *trace)
{
    return trace->route != NULL && trace->segments > 0;
}

/* The segments of the trace up to `far` along it, in a unit of `worth`; a straight one is as long as that. */
static struct legs lay_legs(const struct ww_footprint *trace, double far, double worth)
{
    struct legs legs = {.width = trace->width / worth, .pitch = trace->pitch / worth};
    size_t count = is_route(trace) ? trace->segments : 1;
    double x = trace->x / worth, y = trace->y / worth;

    for (size_t i = 0; i < count && i < MOST_SEGMENTS && (i == 0 || far > 0); i++) {
        double angle = trace->angle + (is_route(trace) ? trace->route[i].angle : 0);
        double length = is_route(trace) ? trace->route[i].length / worth : far;
        legs.segment[i] = (struct segment){x, y, length, sin(angle), cos(angle), -cos(angle), sin(angle)};
        legs.segments++;
        x += length * sin(angle);
        y += length * cos(angle);
        far -= length;
    }
    return legs;
}

/* The segment that holds the place `along` the centre line, from the start on; *along becomes the distance within it. */
static const struct segment *segment_at(const struct legs *legs, double *along)
{
    size_t i = 0;

    while (i + 1 < legs->segments && *along > legs->segment[i].length)
        *along -= legs->segment[i++].length;
    *along = fmin(*along, legs->segment[i].length);
    return &legs->segment[i];
}

/* Window in metres: wide enough for the cells and the pair, of the box's shape, the start near its edge. */
static void choose_window(struct ww_panel *panel, const struct ww_figure_dk *content)
{
    const struct ww_footprint *trace = content->trace;
    double aspect = panel->box.w / panel->box.h;
    double height = fmax(CELLS * content->dk->ly, CELLS * content->dk->lx / aspect);
    double x = content->dk->lx, y = content->dk->ly;

    if (trace != NULL) {
        height = fmax(height, PAIRS * (trace->pitch + trace->width));
        double along = height * aspect;
        struct legs legs = lay_legs(trace, along, 1);
        double ux = legs.segment[0].ux, uy = legs.segment[0].uy;
        along = fmin(height / fmax(fabs(uy), 1e-9), height * aspect / fmax(fabs(ux), 1e-9));
        const struct segment *last = segment_at(&legs, &along);
        x = trace->x + (last->x + along * last->ux - trace->x) * START_AT;
        y = trace->y + (last->y + along * last->uy - trace->y) * START_AT;
    }
    panel->x0 = x - height * aspect / 2;
    panel->x1 = x + height * aspect / 2;
    panel->y0 = y - height / 2;
    panel->y1 = y + height / 2;
}

static void scale_window(struct ww_panel *panel, double worth)
{
    panel->x0 /= worth;
    panel->x1 /= worth;
    panel->y0 /= worth;
    panel->y1 /= worth;
}

/* --- yarn axes: dash-dot lines, labelled on the margin */

static void draw_axis_line(struct ww_canvas *canvas, double x0, double y0, double x1, double y1)
{
    static const double dash[] = {18, 6, 3, 6};

    ww_canvas_dash(canvas, dash, 4);
    ww_canvas_ink(canvas, WW_INK_TEXT, 0.45);
    ww_canvas_stroke(canvas, x0, y0, x1, y1, 2.6);
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.85);
    ww_canvas_stroke(canvas, x0, y0, x1, y1, 1.3);
    ww_canvas_dash(canvas, NULL, 0);
}

static void draw_warp_axes(struct ww_canvas *canvas, const struct ww_panel *panel, double pitch)
{
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_QUIET};
    const struct ww_box *box = &panel->box;
    double room = ww_text_width(canvas, type, "warp") + 14, last = -1e9;
    long from = (long)ceil(panel->x0 / pitch - 0.5), to = (long)floor(panel->x1 / pitch - 0.5);

    if (to - from >= MOST_AXES)
        return;
    for (long i = from; i <= to; i++) {
        double x = ww_panel_x(panel, ((double)i + 0.5) * pitch);
        draw_axis_line(canvas, x, box->y, x, box->y + box->h);
        if (x - last < room || x + room / 2 > box->x + box->w + 20)
            continue;
        ww_text_draw(canvas, type, x, box->y - 18, 0.5, "warp");
        last = x;
    }
}

static void draw_fill_axes(struct ww_canvas *canvas, const struct ww_panel *panel, double pitch)
{
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_QUIET};
    const struct ww_box *box = &panel->box;
    double room = 1.3 * type.size, last = 1e9;
    long from = (long)ceil(panel->y0 / pitch - 0.5), to = (long)floor(panel->y1 / pitch - 0.5);

    if (to - from >= MOST_AXES)
        return;
    for (long i = from; i <= to; i++) {
        double y = ww_panel_y(panel, ((double)i + 0.5) * pitch);
        draw_axis_line(canvas, box->x, y, box->x + box->w, y);
        if (last - y < room)
            continue;
        ww_text_draw(canvas, type, box->x + box->w + 10, y, 0, "fill");
        last = y;
    }
}

/* --- the trace */

/* One edge of a leg as far as the start of segment i, `offset` to the left of the centre line: mitred at the bends. */
static void edge_point(struct ww_canvas *canvas, const struct ww_panel *panel, const struct legs *legs, size_t i,
                       double offset)
{
    const struct segment *before = &legs->segment[i > 0 ? i - 1 : 0];
    const struct segment *after = &legs->segment[i < legs->segments ? i : legs->segments - 1];
    double x = after->x, y = after->y;
    double share = offset / fmax(1 + before->nx * after->nx + before->ny * after->ny, FOLDED);

    if (i == legs->segments) {
        x += after->length * after->ux;
        y += after->length * after->uy;
    }
    x += share * (before->nx + after->nx);
    y += share * (before->ny + after->ny);
    cairo_line_to(canvas->cairo, ww_panel_x(panel, x), ww_panel_y(panel, y));
}

static void leg_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct legs *legs, double offset)
{
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i <= legs->segments; i++)
        edge_point(canvas, panel, legs, i, offset - legs->width / 2);
    for (size_t i = legs->segments + 1; i-- > 0;)
        edge_point(canvas, panel, legs, i, offset + legs->width / 2);
    cairo_close_path(canvas->cairo);
}

static void draw_leg(struct ww_canvas *canvas, const struct ww_panel *panel, const struct legs *legs, double offset)
{
    leg_path(canvas, panel, legs, offset);
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.30);
    cairo_fill_preserve(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.90);
    cairo_set_line_width(canvas->cairo, 7);
    cairo_stroke_preserve(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 3);
    cairo_stroke(canvas->cairo);
}

/* A name beside a place of the trace, `along` its centre line and `left` of it, moved off by its own half extent
 * forward or to the left (by their signs). */
static void label(struct ww_canvas *canvas, const struct ww_panel *panel, const struct legs *legs, double along,
                  double left, double off_forward, double off_left, const char *text)
{
    static const struct ww_type type = {WW_TEXT_SMALL, true, WW_INK_TEXT};
    const struct segment *segment = segment_at(legs, &along);
    double x = ww_panel_x(panel, segment->x + along * segment->ux + left * segment->nx);
    double y = ww_panel_y(panel, segment->y + along * segment->uy + left * segment->ny);
    double dx = off_forward * segment->ux + off_left * segment->nx,
           dy = off_forward * segment->uy + off_left * segment->ny;
    double off = fabs(dx) * ww_text_width(canvas, type, text) / 2 + fabs(dy) * type.size / 2 + LABEL_OFF;

    ww_text_patch(canvas, type, x + off * dx, y - off * dy, 0.5, text);
}

/* The names stand outside the pair, where it is well inside the window. */
static void draw_trace(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_footprint *trace,
                       double worth)
{
    double w = panel->x1 - panel->x0, h = panel->y1 - panel->y0;
    struct legs legs = lay_legs(trace, 2 * fmax(w, h), worth);
    double reach = fmin(h / fmax(fabs(legs.segment[0].uy), 1e-9), w / fmax(fabs(legs.segment[0].ux), 1e-9));
    double half = legs.pitch / 2, side = half + legs.width / 2;

    ww_panel_clip(canvas, panel);
    if (trace->pitch > 0) {
        draw_leg(canvas, panel, &legs, half);
        draw_leg(canvas, panel, &legs, -half);
        label(canvas, panel, &legs, 0.62 * reach, side, 0, 1, "leg 1");
        label(canvas, panel, &legs, 0.62 * reach, -side, 0, -1, "leg 2");
    } else {
        draw_leg(canvas, panel, &legs, 0);
        label(canvas, panel, &legs, 0.62 * reach, side, 0, 1, "trace");
    }
    label(canvas, panel, &legs, 0, 0, -1, 0, "start");
    ww_panel_unclip(canvas);
}

/* --- the whole route, small */

/* From the start of segment i to its end [m]. */
static void step(const struct ww_footprint *trace, size_t i, double *x, double *y)
{
    double angle = trace->angle + trace->route[i].angle;

    *x += trace->route[i].length * sin(angle);
    *y += trace->route[i].length * cos(angle);
}

/* The panel, in metres, that shows all of the route to one scale at the top of the room. */
static struct ww_panel route_panel(const struct ww_footprint *trace, struct ww_box room)
{
    struct ww_panel panel = {.box = room, .x0 = trace->x, .x1 = trace->x, .y0 = trace->y, .y1 = trace->y};
    double x = trace->x, y = trace->y;

    for (size_t i = 0; i < trace->segments; i++) {
        step(trace, i, &x, &y);
        panel.x0 = fmin(panel.x0, x);
        panel.x1 = fmax(panel.x1, x);
        panel.y0 = fmin(panel.y0, y);
        panel.y1 = fmax(panel.y1, y);
    }
    double unit = fmax((panel.x1 - panel.x0) / room.w, (panel.y1 - panel.y0) / room.h);
    double middle = (panel.x0 + panel.x1) / 2;
    panel.box.h = (panel.y1 - panel.y0) / unit;
    panel.x0 = middle - room.w * unit / 2;
    panel.x1 = middle + room.w * unit / 2;
    if (!(panel.box.h > 0)) { /* a level line */
        panel.box.h = 1;
        panel.y1 = panel.y0 + unit;
    }
    return panel;
}

static void draw_route_line(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_footprint *trace)
{
    double x = trace->x, y = trace->y;

    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, ww_panel_x(panel, x), ww_panel_y(panel, y));
    for (size_t i = 0; i < trace->segments; i++) {
        step(trace, i, &x, &y);
        cairo_line_to(canvas->cairo, ww_panel_x(panel, x), ww_panel_y(panel, y));
    }
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4);
    cairo_stroke(canvas->cairo);
}

/* `map` is the panel of the map, in a unit of `worth`. */
static void draw_whole_route(struct ww_canvas *canvas, struct ww_box column, const struct ww_footprint *trace,
                             const struct ww_panel *map, double worth)
{
    static const struct ww_type bold = {WW_TEXT_SMALL, true, WW_INK_TEXT},
                                plain = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    const double below = 96; /* room for the bar of scale and the key */
    struct ww_panel panel = route_panel(
        trace, (struct ww_box){column.x + 24, column.y + ROUTE_TOP, column.w - 48, column.h - ROUTE_TOP - below});
    double length = 0, span = panel.x1 - panel.x0, y = panel.box.y + panel.box.h + 44;
    char text[96], label[48];

    for (size_t i = 0; i < trace->segments; i++)
        length += trace->route[i].length;
    (void)snprintf(text, sizeof text, "whole route, %s", ww_length_label(label, sizeof label, length));
    ww_text_draw(canvas, bold, column.x, column.y + 12, 0, text);
    draw_route_line(canvas, &panel, trace);

    double left = ww_panel_x(&panel, map->x0 * worth), top = ww_panel_y(&panel, map->y1 * worth);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 3);
    cairo_rectangle(canvas->cairo, left, top, ww_panel_x(&panel, map->x1 * worth) - left,
                    ww_panel_y(&panel, map->y0 * worth) - top);
    cairo_stroke(canvas->cairo);

    double bar = ww_ticks_choose(0, span, 4).step;
    ww_canvas_stroke(canvas, column.x, y, column.x + bar / span * panel.box.w, y, 4);
    ww_text_draw(canvas, plain, column.x + bar / span * panel.box.w + 14, y, 0,
                 ww_length_label(label, sizeof label, bar));
    cairo_rectangle(canvas->cairo, column.x + 2, y + 28, 22, 22);
    cairo_set_line_width(canvas->cairo, 3);
    cairo_stroke(canvas->cairo);
    ww_text_draw(canvas, plain, column.x + 38, y + 40, 0, "its start, on the map");
}

/* --- words */

static void write_headline(char *out, const char *subject, double low, double high)
{
    char from[32], to[32];

    (void)snprintf(out, WW_TEXT_BYTES, "Local Dk of %s: %s to %s", subject != NULL ? subject : "the ply",
                   ww_value_label(from, sizeof from, low, 0), ww_value_label(to, sizeof to, high, 0));
}

static void write_subline(char *out, const struct ww_footprint *trace)
{
    char width[32], pitch[32], angle[32], x[32], y[32];
    char gap[48] = "", direction[128];

    out[0] = '\0';
    if (trace == NULL)
        return;
    ww_size_label(width, sizeof width, trace->width / 1e-6, 4);
    double first = trace->angle + (is_route(trace) ? trace->route[0].angle : 0);
    ww_size_label(angle, sizeof angle, first * 180 / WW_PI, 4);
    if (is_route(trace))
        (void)snprintf(direction, sizeof direction, "a route of %zu segments, the first at %s\xc2\xb0",
                       trace->segments, angle);
    else
        (void)snprintf(direction, sizeof direction, "%s\xc2\xb0 from the warp", angle);
    ww_value_label(x, sizeof x, trace->x / 1e-6, 0);
    ww_value_label(y, sizeof y, trace->y / 1e-6, 0);
    if (trace->pitch > 0)
        (void)snprintf(gap, sizeof gap, ", pitch %s \xc2\xb5m",
                       ww_size_label(pitch, sizeof pitch, trace->pitch / 1e-6, 4));
    (void)snprintf(out, WW_TEXT_BYTES,
                   "%s to scale: width %s \xc2\xb5m%s, %s, start at x = %s \xc2\xb5m, y = %s \xc2\xb5m",
                   trace->pitch > 0 ? "Pair" : "Trace", width, gap, direction, x, y);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_dk *content)
{
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], x_title[64], y_title[64];
    double low, high;
    struct ww_panel panel = {0};

    ww_map_range(content->dk, &low, &high);
    write_headline(headline, content->subject, low, high);
    write_subline(subline, content->trace);
    if (high - low < FLATTEST) {
        double middle = (low + high) / 2;
        low = middle - FLATTEST / 2;
        high = middle + FLATTEST / 2;
    }
    bool route = content->trace != NULL && is_route(content->trace) && content->trace->segments > 1;
    double column = route ? ROUTE_WIDTH : 0;
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    panel.box =
        ww_heatmap_snap(canvas, (struct ww_box){page.x + 110, page.y + 34, page.w - 370 - column, page.h - 120});
    choose_window(&panel, content);
    struct ww_unit unit = ww_unit_length(fmax(panel.x1 - panel.x0, panel.y1 - panel.y0));
    scale_window(&panel, unit.worth);
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, panel.box.h);

    ww_heatmap_draw(canvas, &panel, unit.worth, content->dk, WW_RAMP_SEQUENTIAL, low, high);
    draw_warp_axes(canvas, &panel, content->warp_pitch / unit.worth);
    draw_fill_axes(canvas, &panel, content->fill_pitch / unit.worth);
    if (content->trace != NULL)
        draw_trace(canvas, &panel, content->trace, unit.worth);
    (void)snprintf(x_title, sizeof x_title, "x, along the fill [%s]", unit.name);
    (void)snprintf(y_title, sizeof y_title, "y, along the warp [%s]", unit.name);
    ww_panel_axes(canvas, &panel, x_title, y_title);
    ww_canvas_colour_bar(canvas, (struct ww_box){panel.box.x + panel.box.w + 86, panel.box.y, 40, panel.box.h},
                         WW_RAMP_SEQUENTIAL, low, high, "Dk (local, series average)", false);
    if (route)
        draw_whole_route(canvas, (struct ww_box){page.x + page.w - column, panel.box.y, column, panel.box.h},
                         content->trace, &panel, unit.worth);
}

enum ww_status ww_figure_draw_dk(const char *path, const struct ww_figure_options *options,
                                 const struct ww_figure_dk *content, struct ww_error *error)
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
