/* figure/frequency.c - a trace or pair over frequency: in decibels, and in degrees of phase.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>

#include "figure/canvas.h"
#include "figure/curves.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define RIGHT 330.0
#define MARK_ROOM 44.0
#define FLOOR 60.0 /* dB under the highest */
#define BAND_INK 0.22
#define SAMPLE 62.0
#define ENTRY 76.0 /* from one of the key to the next */
#define GHZ 1e9
#define DEGREE (WW_PI / 180)
#define LABEL_GAP 14.0
#define BESIDE 12.0 /* from a mark to a name beside it */
#define MARK_WIDTH 2.5

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const double mark_dash[] = {12, 8}, signal_dash[] = {22, 6, 4, 6};

/* One curve with the band it lies in. */
struct line {
    const char *name;
    const double *value, *least, *most; /* least NULL: no band */
    enum ww_ink ink;
    double width, dash[2];
    int dashes;
};

static double decibels(double amplitude)
{
    return 20 * log10(fmax(amplitude, 1e-12));
}

static double degrees(double radians)
{
    return radians / DEGREE;
}

/* A figure over frequency: how values are shown. */
struct plot {
    const struct ww_spectrum *spectrum;
    struct ww_panel panel;
    double (*shown)(double value);
    struct line line[3];
    size_t lines;
};

static double y_of(const struct plot *plot, double value)
{
    return ww_panel_y(&plot->panel, fmax(plot->shown(value), plot->panel.y0));
}

static double x_of(const struct plot *plot, double frequency)
{
    return ww_panel_x(&plot->panel, frequency / GHZ);
}

static void draw_band(struct ww_canvas *canvas, const struct plot *plot, const struct line *line)
{
    const struct ww_spectrum *s = plot->spectrum;
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < s->bands; i++)
        cairo_line_to(canvas->cairo, x_of(plot, s->band_frequency[i]), y_of(plot, line->most[i]));
    for (size_t i = s->bands; i-- > 0;)
        cairo_line_to(canvas->cairo, x_of(plot, s->band_frequency[i]), y_of(plot, line->least[i]));
    cairo_close_path(canvas->cairo);
    ww_canvas_ink(canvas, line->ink, BAND_INK);
    cairo_fill(canvas->cairo);
}

static void draw_line(struct ww_canvas *canvas, const struct plot *plot, const struct line *line)
{
    const struct ww_network *network = &plot->spectrum->network;
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < network->count; i++)
        cairo_line_to(canvas->cairo, x_of(plot, network->frequency[i]), y_of(plot, line->value[i]));
    ww_canvas_ink(canvas, line->ink, 1);
    ww_canvas_dash(canvas, line->dash, line->dashes);
    cairo_set_line_width(canvas->cairo, line->width);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

static bool has_room(double from, double to, const double *named, size_t names)
{
    for (size_t i = 0; i < names; i++)
        if (from < named[2 * i + 1] + LABEL_GAP && to > named[2 * i] - LABEL_GAP)
            return false;
    return true;
}

/* A mark, named above the panel, over it or to a side, where its name has room beside those named before: the signal comes first. */
static void draw_mark(struct ww_canvas *canvas, const struct plot *plot, double frequency, const char *label,
                      double *named, size_t *names)
{
    const struct ww_box *box = &plot->panel.box;
    double x = x_of(plot, frequency), w = ww_text_width(canvas, small_type, label);
    const double place[] = {x - 0.5 * w, x + BESIDE, x - BESIDE - w};
    ww_canvas_stroke(canvas, x, box->y + box->h, x, box->y - 6, MARK_WIDTH);
    for (size_t i = 0; i < sizeof place / sizeof *place; i++) {
        double from = fmin(fmax(place[i], box->x), box->x + box->w - w);
        if (!has_room(from, from + w, named, *names))
            continue;
        ww_text_draw(canvas, small_type, from, box->y - 24, 0, label);
        named[2 * *names] = from;
        named[2 * (*names)++ + 1] = from + w;
        return;
    }
}

static void draw_marks(struct ww_canvas *canvas, const struct plot *plot)
{
    const struct ww_spectrum *s = plot->spectrum;
    double named[2 * (sizeof s->notch / sizeof *s->notch + 1)];
    size_t names = 0;
    char label[80], length[48];
    if (s->at >= plot->panel.x0 * GHZ && s->at <= plot->panel.x1 * GHZ) {
        (void)snprintf(label, sizeof label, "signal %.4g GHz", s->at / GHZ);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_dash(canvas, signal_dash, 4);
        draw_mark(canvas, plot, s->at, label, named, &names);
    }
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    ww_canvas_dash(canvas, mark_dash, 2);
    for (size_t i = 0; i < s->notches; i++) {
        (void)snprintf(label, sizeof label, "period %s", ww_length_label(length, sizeof length, s->notch[i].period));
        draw_mark(canvas, plot, s->notch[i].frequency, label, named, &names);
    }
    ww_canvas_dash(canvas, NULL, 0);
}

/* Of two bands, as they overlap. */
static void draw_sample_of_bands(struct ww_canvas *canvas, const struct plot *plot, double x, double y)
{
    size_t bands = 0;
    for (size_t i = 0; i < plot->lines; i++)
        bands += plot->line[i].least != NULL;
    double width = bands > 1 ? SAMPLE * 2 / 3 : SAMPLE;
    for (size_t i = plot->lines, band = bands; i-- > 0;) {
        if (!plot->line[i].least)
            continue;
        ww_canvas_ink(canvas, plot->line[i].ink, BAND_INK);
        cairo_rectangle(canvas->cairo, x + (double)--band * (SAMPLE - width), y - 14, width, 28);
        cairo_fill(canvas->cairo);
    }
}

static void draw_key(struct ww_canvas *canvas, const struct plot *plot)
{
    double x = plot->panel.box.x + plot->panel.box.w + 28, y = plot->panel.box.y + 14;
    char text[120];
    for (size_t i = 0; i < plot->lines; i++, y += ENTRY) {
        const struct line *line = &plot->line[i];
        ww_canvas_ink(canvas, line->ink, 1);
        ww_canvas_dash(canvas, line->dash, line->dashes);
        ww_canvas_stroke(canvas, x, y, x + SAMPLE, y, line->width);
        ww_canvas_dash(canvas, NULL, 0);
        ww_text_paragraph(canvas, small_type, x + SAMPLE + 14, y, RIGHT - 28 - SAMPLE - 14, 2, line->name);
    }
    if (plot->spectrum->placements) {
        (void)snprintf(text, sizeof text, "bands: this and %zu more places", plot->spectrum->placements);
        draw_sample_of_bands(canvas, plot, x, y);
        ww_text_paragraph(canvas, small_type, x + SAMPLE + 14, y, RIGHT - 28 - SAMPLE - 14, 2, text);
        y += ENTRY;
    }
    if (plot->spectrum->notches) {
        ww_canvas_ink(canvas, WW_INK_QUIET, 1);
        ww_canvas_dash(canvas, mark_dash, 2);
        ww_canvas_stroke(canvas, x, y, x + SAMPLE, y, MARK_WIDTH);
        ww_canvas_dash(canvas, NULL, 0);
        ww_text_paragraph(canvas, small_type, x + SAMPLE + 14, y, RIGHT - 28 - SAMPLE - 14, 4,
                          "the cloth's period along the trace is half a wavelength");
    }
}

static void choose_x(struct ww_canvas *canvas, struct plot *plot)
{
    const struct ww_network *network = &plot->spectrum->network;
    plot->panel.x0 = network->frequency[0] / GHZ;
    plot->panel.x1 = network->frequency[network->count - 1] / GHZ;
    plot->panel.x_ticks = ww_ticks_across(canvas, plot->panel.x0, plot->panel.x1, plot->panel.box.w);
}

static void draw_plot(struct ww_canvas *canvas, struct plot *plot, const char *headline, const char *subline,
                      const char *title)
{
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    plot->panel.box =
        (struct ww_box){page.x + 130, page.y + MARK_ROOM, page.w - RIGHT - 130, page.h - 92 - MARK_ROOM};
    plot->panel.y_ticks = ww_ticks_up(plot->panel.y0, plot->panel.y1, plot->panel.box.h);
    choose_x(canvas, plot);
    ww_panel_grid(canvas, &plot->panel);
    ww_panel_clip(canvas, &plot->panel);
    for (size_t i = plot->lines; i-- > 0 && plot->spectrum->placements;)
        if (plot->line[i].least)
            draw_band(canvas, plot, &plot->line[i]);
    for (size_t i = plot->lines; i-- > 0;)
        draw_line(canvas, plot, &plot->line[i]);
    ww_panel_unclip(canvas);
    draw_marks(canvas, plot);
    ww_panel_axes(canvas, &plot->panel, "frequency [GHz]", title);
    draw_key(canvas, plot);
}

static size_t nearest(const struct ww_network *network, double frequency)
{
    size_t best = 0;
    for (size_t i = 1; i < network->count; i++)
        if (fabs(network->frequency[i] - frequency) < fabs(network->frequency[best] - frequency))
            best = i;
    return best;
}

static bool has_signal(const struct ww_spectrum *s)
{
    const struct ww_network *network = &s->network;
    return s->at >= network->frequency[0] && s->at <= network->frequency[network->count - 1];
}

static char *level_label(char *out, size_t size, double level)
{
    (void)snprintf(out, size, "%s%.1f dB", level < -0.05 ? "\xe2\x88\x92" : "", fabs(level));
    return out;
}

static void draw_levels(struct ww_canvas *canvas, const struct ww_figure_frequency *content)
{
    const struct ww_spectrum *s = content->spectrum;
    bool pair = s->pair;
    struct plot plot = {.spectrum = s, .shown = decibels};
    char headline[WW_TEXT_BYTES], passes[48], converts[48];
    plot.line[plot.lines++] = (struct line){
        pair ? "passes, Sdd21" : "passes, S21", s->loss, s->loss_least, s->loss_most, WW_INK_LEG1, 4, {0}, 0};
    if (pair)
        plot.line[plot.lines++] = (struct line){"converts to the even mode, Scd21",
                                                s->conversion,
                                                s->conversion_least,
                                                s->conversion_most,
                                                WW_INK_LEG2,
                                                3,
                                                {10, 5},
                                                2};
    plot.line[plot.lines++] = (struct line){
        pair ? "is reflected, Sdd11" : "is reflected, S11", s->reflection, NULL, NULL, WW_INK_QUIET, 1.6, {0}, 0};
    double low = 0, high = 1e-12;
    for (size_t i = 0; i < s->network.count; i++) {
        high = fmax(high, s->loss[i]);
        low = fmin(low, decibels(fmin(s->loss[i], pair ? s->conversion[i] : s->reflection[i])));
    }
    plot.panel.y1 = fmin(10 * ceil(decibels(high) / 10 + 1e-9), 0);
    plot.panel.y0 = fmin(10 * floor(fmax(low, plot.panel.y1 - FLOOR) / 10), plot.panel.y1 - 10);
    size_t at = nearest(&s->network, s->at);
    level_label(passes, sizeof passes, decibels(s->loss[at]));
    level_label(converts, sizeof converts, decibels(s->conversion[at]));
    if (has_signal(s) && pair)
        (void)snprintf(headline, sizeof headline, "At %.4g GHz Sdd21 is %s and Scd21 %s", s->at / GHZ, passes,
                       converts);
    else if (has_signal(s))
        (void)snprintf(headline, sizeof headline, "At %.4g GHz S21 is %s", s->at / GHZ, passes);
    else
        (void)snprintf(headline, sizeof headline, "What passes and what comes back over frequency");
    draw_plot(canvas, &plot, headline, content->subject,
              pair ? "S, ports of 100 and 25 ohm [dB]" : "S, ports of 50 ohm [dB]");
}

static void draw_phase(struct ww_canvas *canvas, const struct ww_figure_frequency *content)
{
    const struct ww_spectrum *s = content->spectrum;
    struct plot plot = {.spectrum = s, .shown = degrees, .lines = 1};
    char headline[WW_TEXT_BYTES];
    double low = INFINITY, high = -INFINITY;
    plot.line[0] = (struct line){"this placement", s->phase, s->phase_least, s->phase_most, WW_INK_LEG1, 4, {0}, 0};
    ww_curve_range(s->phase, s->network.count, &low, &high);
    if (s->placements) {
        ww_curve_range(s->phase_least, s->bands, &low, &high);
        ww_curve_range(s->phase_most, s->bands, &low, &high);
    }
    double room = fmax(0.05 * (high - low), 1e-3 * DEGREE);
    plot.panel.y0 = degrees(low - room);
    plot.panel.y1 = degrees(high + room);
    if (has_signal(s) && s->placements) {
        size_t at = 0;
        for (size_t i = 1; i < s->bands; i++)
            if (fabs(s->band_frequency[i] - s->at) < fabs(s->band_frequency[at] - s->at))
                at = i;
        double apart = degrees(s->phase_most[at] - s->phase_least[at]);
        (void)snprintf(headline, sizeof headline,
                       "At %.4g GHz the places of the cloth lie %.*f\xc2\xb0 apart in phase", s->at / GHZ,
                       apart < 10 ? 1 : 0, apart);
    } else {
        (void)snprintf(headline, sizeof headline, "Phase against the mean line over frequency");
    }
    draw_plot(canvas, &plot, headline, content->subject, "phase less that of the mean line [deg]");
}

static enum ww_status check(const struct ww_figure_frequency *content, const char *path, struct ww_error *error)
{
    const struct ww_spectrum *s = content->spectrum;
    if (s && s->network.count >= 2 && s->loss && s->bands >= 2)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, path, 0, "nothing over frequency to draw; give two frequencies or more");
}

static enum ww_status draw_with(void (*draw)(struct ww_canvas *, const struct ww_figure_frequency *),
                                const char *path, const struct ww_figure_options *options,
                                const struct ww_figure_frequency *content, struct ww_error *error)
{
    struct ww_canvas canvas;
    enum ww_status status = check(content, path, error);
    if (!status)
        status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}

enum ww_status ww_figure_draw_frequency(const char *path, const struct ww_figure_options *options,
                                        const struct ww_figure_frequency *content, struct ww_error *error)
{
    return draw_with(draw_levels, path, options, content, error);
}

enum ww_status ww_figure_draw_phase(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_frequency *content, struct ww_error *error)
{
    return draw_with(draw_phase, path, options, content, error);
}
