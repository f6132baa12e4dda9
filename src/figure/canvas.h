/* figure/canvas.h - one page to draw a figure on, and the furniture that every figure has.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A page is WW_PAGE_WIDTH units wide whatever its size in pixels or points, y down; text of 24 units stays
 * legible when a 1600 px page is shown at half size. Drawing never fails by itself: cairo remembers the first
 * trouble and ww_canvas_close reports it.
 */
#ifndef WW_FIGURE_CANVAS_H
#define WW_FIGURE_CANVAS_H

#include <cairo.h>

#include "figure/colour.h"
#include "figure/ticks.h"
#include "weftwise/core.h"
#include "weftwise/figure.h"

#define WW_PAGE_WIDTH 1600.0
#define WW_PAGE_MARGIN 44.0
#define WW_TEXT_HEADLINE 36.0
#define WW_TEXT_BODY 25.0
#define WW_TEXT_SMALL 23.0
#define WW_TEXT_BYTES 512 /* longest line of text on a page */

struct ww_box {
    double x, y, w, h;
};

struct ww_canvas {
    const struct ww_figure_options *options;
    struct ww_output output;
    char *path;
    cairo_surface_t *surface;
    cairo_t *cairo;
    double height;        /* of the page [units] */
    double density;       /* pixels (of a raster inside a vector page too) per unit */
    unsigned char *bytes; /* of a finished vector page */
    size_t count, room;
    bool starved; /* a drawing function went without memory: ww_canvas_close reports it */
};

/* Open path and start a page. On failure the canvas is zeroed. */
enum ww_status ww_canvas_open(struct ww_canvas *canvas, const char *path, const struct ww_figure_options *options,
                              double height, struct ww_error *error);
/* Finish the page and the file. Zeroes the canvas, whatever happens; on failure no file is left. */
enum ww_status ww_canvas_close(struct ww_canvas *canvas, struct ww_error *error);

/* Headline and the line beneath it at the top, footer at the bottom; returns the box left between. */
struct ww_box ww_canvas_furniture(struct ww_canvas *canvas, const char *headline, const char *subline);

/* --- text: x, y is the anchor; across 0 = text starts there, 0.5 centred, 1 ends there; y is the middle of the
 * capitals. */
struct ww_type {
    double size;
    bool bold;
    enum ww_ink ink;
};
/* At most `bytes` bytes of text into out[WW_TEXT_BYTES], cut between characters; control characters become spaces. */
void ww_text_copy(char *out, const char *text, size_t bytes);
double ww_text_width(struct ww_canvas *canvas, struct ww_type type, const char *text);
void ww_text_draw(struct ww_canvas *canvas, struct ww_type type, double x, double y, double across, const char *text);
/* The same on a patch of paper, so that it reads on top of a map. */
void ww_text_patch(struct ww_canvas *canvas, struct ww_type type, double x, double y, double across,
                   const char *text);
/* Reading upwards, centred on x, y. */
void ww_text_upright(struct ww_canvas *canvas, struct ww_type type, double x, double y, const char *text);
/* Each character that the font has no glyph for becomes '?'. Returns true if there was one. */
bool ww_text_replace_missing(struct ww_canvas *canvas, struct ww_type type, char *text);
/* Is there a font, plain and bold, with the signs of numbers and units? Where no font can be opened cairo has strokes of its own in
 * place of one, and these draw boxes for a minus sign. */
bool ww_text_can_be_drawn(struct ww_canvas *canvas);
/* Cut with an ellipsis to at most `room` units. */
void ww_text_cut(struct ww_canvas *canvas, struct ww_type type, double room, char *text);
/* Draw broken into lines of at most `room` units, `lines` of them at most (the last one cut), first line at y;
 * returns the y behind the last one. */
double ww_text_paragraph(struct ww_canvas *canvas, struct ww_type type, double x, double y, double room, int lines,
                         const char *text);

/* --- strokes */
void ww_canvas_ink(struct ww_canvas *canvas, enum ww_ink ink, double opacity);
void ww_canvas_stroke(struct ww_canvas *canvas, double x0, double y0, double x1, double y1, double width);
/* Dashes for the path to come: NULL-like count 0 is solid. */
void ww_canvas_dash(struct ww_canvas *canvas, const double *dash, int count);

/* --- axes: a box of the page that shows a rectangle of the data, y up */
struct ww_panel {
    struct ww_box box;
    double x0, x1, y0, y1;
    struct ww_ticks x_ticks, y_ticks;
};
double ww_panel_x(const struct ww_panel *panel, double x);
double ww_panel_y(const struct ww_panel *panel, double y);
/* Widest label of these ticks. */
double ww_ticks_width(struct ww_canvas *canvas, const struct ww_ticks *ticks);
/* Finest round ticks on [low, high] whose labels keep apart on `room` units across. */
struct ww_ticks ww_ticks_across(struct ww_canvas *canvas, double low, double high, double room);
/* The same for labels above each other. */
struct ww_ticks ww_ticks_up(double low, double high, double room);
void ww_panel_grid(struct ww_canvas *canvas, const struct ww_panel *panel);
/* Frame, ticks, labels; axis titles (NULL: neither title nor tick labels on that axis). */
void ww_panel_axes(struct ww_canvas *canvas, const struct ww_panel *panel, const char *x_title, const char *y_title);
/* Title of an axis of delays: "skew [ps]", and where the options give a frequency what the unit is in phase there:
 * "skew [ps], 1 ps = 10.1 deg at 28 GHz", as many units as make a degree or more, a thousand at most. Returns out. */
#define WW_TITLE_BYTES 160
char *ww_delay_title(const struct ww_figure_options *options, char *out, size_t size, const char *what,
                     struct ww_unit unit);
/* A delay as phase at the frequency of the options, "+6.39 deg" with a sign; empty where they give none. Returns out. */
char *ww_phase_label(const struct ww_figure_options *options, char *out, size_t size, double delay);
/* Clip to the box until ww_panel_unclip. */
void ww_panel_clip(struct ww_canvas *canvas, const struct ww_panel *panel);
void ww_panel_unclip(struct ww_canvas *canvas);

/* A ramp upwards, framed. */
void ww_canvas_ramp(struct ww_canvas *canvas, struct ww_box box, enum ww_ramp ramp);
/* Colour bar of a ramp from low to high, its ticks at its right and its title beyond them. Contours at the ticks
 * (solid above zero, dashed below) are repeated on it when asked. */
void ww_canvas_colour_bar(struct ww_canvas *canvas, struct ww_box box, enum ww_ramp ramp, double low, double high,
                          const char *title, bool contours);

/* --- flags: labels beside upright lines, kept apart. Flag i stands at x[i] (ascending) and its text is w[i] wide,
 * to the right of it; row[i] (0 lowest) is chosen so that no text meets another text or a line. */
void ww_flags_place(const double *x, const double *w, int count, int *row);

/* --- labels in a row or column, ascending: moved as little as need be so that neighbours are `gap` apart and all lie
 * from low to high. Where they do not all fit, they run over at low. At most WW_LABELS_MOST. */
#define WW_LABELS_MOST 64
void ww_labels_apart(double *at, int count, double gap, double low, double high);

/* --- a label of w by h beside a mark of that radius at x, y: right, left, above, below or aslant, at most eight
 * radii away: the first place that lies inside `page` and meets none of the boxes that are taken. Where there is none,
 * at the rim of the page. */
struct ww_box ww_label_place(const struct ww_box *page, double x, double y, double radius, double w, double h,
                             const struct ww_box *taken, int count);

#endif
