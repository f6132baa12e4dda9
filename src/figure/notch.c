/* figure/notch.c - what the cloth reflects, over routing angle and frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each harmonic of the cloth is a ridge: it starts at frequency 0 where the trace runs along the harmonic's lines, and climbs as
 * the trace turns away from them. Who turns a trace for its skew sees which ridge then falls under the signal's frequency.
 */
#include <math.h>

#include "figure/heatmap.h"
#include "figure/over_angle.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define RIGHT 330.0 /* colour bar, and labels of the windows */
#define BAR_AT 40.0 /* right of the panel */
#define WINDOW_ROW 40.0
#define WINDOW_HEIGHT 16.0
#define RANGE 40.0 /* dB that are shown */
#define FAINT 30.0 /* dB down, a reflection is not told of */
#define GHZ 1e9

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const double signal_dash[] = {22, 6, 4, 6};

static enum ww_status check(const struct ww_figure_notch *content, const char *path, struct ww_error *error)
{
    const struct ww_notch_map *map = content->map;
    struct ww_sheet sheet = {0};
    if (map)
        sheet = (struct ww_sheet){.columns = map->angles,
                                  .rows = map->points,
                                  .x = map->angle,
                                  .y = map->frequency,
                                  .value = map->reflection};
    if (!map || !ww_sheet_sound(&sheet))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "a map over angle and frequency needs at least two of each, in ascending order");
    if (!(content->at >= 0) || !isfinite(content->at) || (content->own && !isfinite(*content->own)))
        return ww_error_set(error, WW_INVALID, path, 0, "the signal's frequency and own angle must be finite");
    return WW_OK;
}

static double decibels(double amplitude)
{
    return 20 * log10(fmax(amplitude, 1e-12));
}

/* The study's own angle, where the map has it. */
static const double *shown_own(const struct ww_figure_notch *content)
{
    const struct ww_notch_map *map = content->map;
    const double *own = content->own;
    return own && *own >= map->angle[0] - 1e-9 && *own <= map->angle[map->angles - 1] + 1e-9 ? own : NULL;
}

/* --- words */

static void write_headline(char *out, const struct ww_figure_notch *content)
{
    const struct ww_notch_map *map = content->map;
    const double *own = shown_own(content);
    double last = map->frequency[map->points - 1], top = content->at > 0 ? fmin(content->at, last) : last;
    char angle[48];
    if (!own) {
        (void)snprintf(out, WW_TEXT_BYTES, "At each angle the cloth reflects at a frequency of its own");
        return;
    }
    struct ww_notch_peak peak = ww_notch_map_most(map, *own, *own, top);
    ww_angle_label(angle, sizeof angle, *own);
    if (decibels(peak.reflection) < -FAINT)
        (void)snprintf(out, WW_TEXT_BYTES, "At %s the cloth reflects less than \xe2\x88\x92%g dB up to %.4g GHz",
                       angle, FAINT, top / GHZ);
    else
        (void)snprintf(out, WW_TEXT_BYTES, "At %s the cloth reflects \xe2\x88\x92%.0f dB at %.3g GHz, %s", angle,
                       fabs(decibels(peak.reflection)), peak.frequency / GHZ,
                       content->at > 0 ? "within the signal's band" : "at most");
}

/* --- the safe windows, above the panel */

static void draw_windows(struct ww_canvas *canvas, const struct ww_panel *panel, double y,
                         const struct ww_window *window, size_t windows, const char *limit)
{
    double left = panel->box.x, right = left + panel->box.w;
    char label[96];
    ww_canvas_ink(canvas, WW_INK_QUIET, 1);
    ww_canvas_stroke(canvas, left, y, right, y, 1.5);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    for (size_t i = 0; i < windows; i++) {
        double from = fmax(ww_panel_x(panel, window[i].from / WW_DEGREE), left);
        double to = fmin(ww_panel_x(panel, window[i].to / WW_DEGREE), right);
        cairo_rectangle(canvas->cairo, from, y - WINDOW_HEIGHT / 2, fmax(to - from, 2), WINDOW_HEIGHT);
        cairo_fill(canvas->cairo);
    }
    (void)snprintf(label, sizeof label, "%s%s", windows > 0 ? "safe: " : "nowhere: ", limit);
    ww_text_draw(canvas, small_type, right + 24, y, 0, label);
}

static int rows_of_windows(const struct ww_angles *angles)
{
    return angles ? (angles->budget > 0) + (angles->conversion.budget > 0) : 0;
}

static void draw_all_windows(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_angles *angles)
{
    double y = panel->box.y - 26;
    char limit[64], time[48];
    if (angles && angles->conversion.budget > 0) {
        (void)snprintf(limit, sizeof limit, "conversion %s%.3g dB",
                       angles->conversion.budget < 1 ? "\xe2\x88\x92" : "",
                       fabs(decibels(angles->conversion.budget)));
        draw_windows(canvas, panel, y, angles->conversion.window, angles->conversion.windows, limit);
        y -= WINDOW_ROW;
    }
    if (angles && angles->budget > 0) {
        (void)snprintf(limit, sizeof limit, "%s %s", angles->pair ? "skew" : "delay",
                       ww_time_label(time, sizeof time, angles->budget));
        draw_windows(canvas, panel, y, angles->window, angles->windows, limit);
    }
}

/* --- marks on the map */

static void draw_marks(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_notch *content)
{
    const double *own = shown_own(content);
    const struct ww_box *box = &panel->box;
    char label[80], angle[48];
    ww_panel_clip(canvas, panel);
    if (content->at >= panel->y0 * GHZ && content->at <= panel->y1 * GHZ) {
        double y = ww_panel_y(panel, content->at / GHZ);
        cairo_new_path(canvas->cairo);
        cairo_move_to(canvas->cairo, box->x, y);
        cairo_line_to(canvas->cairo, box->x + box->w, y);
        ww_canvas_dash(canvas, signal_dash, 4);
        ww_sheet_stroke(canvas);
        ww_canvas_dash(canvas, NULL, 0);
        (void)snprintf(label, sizeof label, "signal %.4g GHz", content->at / GHZ);
        ww_text_patch(canvas, small_type, box->x + box->w - 16, y - 26, 1, label);
    }
    if (own) {
        double x = ww_panel_x(panel, *own / WW_DEGREE);
        bool right = x < box->x + 0.75 * box->w;
        cairo_new_path(canvas->cairo);
        cairo_move_to(canvas->cairo, x, box->y);
        cairo_line_to(canvas->cairo, x, box->y + box->h);
        ww_sheet_stroke(canvas);
        (void)snprintf(label, sizeof label, "this study, %s", ww_angle_label(angle, sizeof angle, *own));
        ww_text_patch(canvas, small_type, x + (right ? 16 : -16), box->y + 30, right ? 0 : 1, label);
    }
    ww_panel_unclip(canvas);
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_notch *content)
{
    const struct ww_notch_map *map = content->map;
    struct ww_sheet sheet = {map->angles,     map->points, map->angle, map->frequency,
                             map->reflection, WW_DEGREE,   GHZ,        1};
    char headline[WW_TEXT_BYTES], subject[WW_TEXT_BYTES];
    double least, most, above = 14 + WINDOW_ROW * rows_of_windows(content->angles);
    ww_sheet_range(&sheet, &least, &most);
    double high = fmin(10 * ceil(decibels(most) / 10 - 1e-9), 0), low = high - RANGE;
    struct ww_decades decades = {.low = pow(10, low / 20), .high = pow(10, high / 20)};
    write_headline(headline, content);
    int used = snprintf(subject, sizeof subject, "%s%sroot mean square over places of the cloth, lossless line",
                        content->subject ? content->subject : "", content->subject ? "; " : "");
    if (content->plies > 1 && used > 0 && (size_t)used < sizeof subject)
        (void)snprintf(subject + used, sizeof subject - (size_t)used,
                       "; up to %.1f dB more where plies fall in phase", 10 * log10((double)content->plies));
    struct ww_box page = ww_canvas_furniture(canvas, headline, subject);
    struct ww_panel panel = {.y0 = map->frequency[0] / GHZ, .y1 = map->frequency[map->points - 1] / GHZ};
    double height = page.h - 92 - above;
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, height);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box =
        ww_heatmap_snap(canvas, (struct ww_box){left, page.y + above, page.x + page.w - RIGHT - left, height});
    ww_angle_axis(canvas, &panel, map->angle[0], map->angle[map->angles - 1]);
    ww_sheet_draw(canvas, &panel, &sheet, &decades);
    draw_marks(canvas, &panel, content);
    ww_panel_axes(canvas, &panel, "routing angle from the warp [deg]", "frequency [GHz]");
    draw_all_windows(canvas, &panel, content->angles);
    ww_canvas_colour_bar(canvas, (struct ww_box){panel.box.x + panel.box.w + BAR_AT, panel.box.y, 40, panel.box.h},
                         WW_RAMP_SEQUENTIAL, low, high, content->pair ? "|Sdd11| and |Scd11| [dB]" : "|S11| [dB]",
                         false);
}

enum ww_status ww_figure_draw_notch(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_notch *content, struct ww_error *error)
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
