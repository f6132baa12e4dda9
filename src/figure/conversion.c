/* figure/conversion.c - at which routing angles a pair converts its odd mode to the even one.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * In dB on a linear axis, the design curve heaviest. Phase-matched angles crowd beside the yarns: a dotted line marks each, and
 * the strongest that have room are named above the panel.
 */
#include <math.h>
#include <stdlib.h>

#include "figure/over_angle.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define RIGHT 330.0
#define MARK_ROOM 44.0
#define FLOOR 60.0 /* dB under the highest */
#define LABEL_GAP 14.0
#define SAMPLE 62.0
#define MOST_MARKS 256

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type alarm_type = {WW_TEXT_SMALL, true, WW_INK_ALARM};
static const double budget_dash[] = {22, 6, 4, 6}, match_dash[] = {2, 7};

static double design_of(const struct ww_at_angle *at)
{
    return at->conversion_design;
}

static double worst_of(const struct ww_at_angle *at)
{
    return at->conversion;
}

static double p99_of(const struct ww_at_angle *at)
{
    return at->conversion_p99;
}

static double median_of(const struct ww_at_angle *at)
{
    return at->conversion_median;
}

/* From the one drawn first. */
static const struct curve {
    const char *name;
    double (*of)(const struct ww_at_angle *at);
    enum ww_ink ink;
    double width;
    double dash[2];
    int dashes;
} curve[] = {{"median", median_of, WW_INK_QUIET, 2.4, {2.5, 4.5}, 2},
             {"99 of 100", p99_of, WW_INK_LEG2, 2.6, {10, 5}, 2},
             {"worst", worst_of, WW_INK_LEG1, 2.2, {0}, 0},
             {"design", design_of, WW_INK_TEXT, 6, {0}, 0}};
enum { CURVES = sizeof curve / sizeof *curve };

static enum ww_status check(const struct ww_figure_angles *content, const char *path, struct ww_error *error)
{
    const struct ww_angles *angles = content->angles;
    bool sound = ww_angles_sound(angles) && angles->conversion.frequency > 0;
    for (size_t i = 0; sound && i < angles->count; i++)
        for (int c = 0; c < CURVES; c++)
            sound = sound && curve[c].of(&angles->at[i]) >= 0 && isfinite(curve[c].of(&angles->at[i]));
    return sound ? WW_OK
                 : ww_error_set(error, WW_INVALID, path, 0,
                                "no mode conversion over angle to draw; give a pair, a frequency, and angles in "
                                "ascending order");
}

static const struct ww_at_angle *most_design(const struct ww_angles *angles)
{
    const struct ww_at_angle *most = angles->at;
    for (size_t i = 1; i < angles->count; i++)
        most = angles->at[i].conversion > most->conversion ? &angles->at[i] : most;
    return most;
}

/* "−4.8 dB" */
static char *level_label(char *out, size_t size, double decibels)
{
    double tenths = round(10 * decibels);
    (void)snprintf(out, size, "%s%.*f dB", tenths < 0 ? "\xe2\x88\x92" : "", fmod(tenths, 10) == 0 ? 0 : 1,
                   fabs(0.1 * tenths));
    return out;
}

static void write_headline(char *out, const struct ww_angles *angles)
{
    const struct ww_angles_conversion *conversion = &angles->conversion;
    const struct ww_at_angle *most = most_design(angles);
    char level[48], at[48], limit[48], from[48], to[48];
    level_label(level, sizeof level, ww_decibels(fmax(most->conversion, 1e-9)));
    ww_angle_label(at, sizeof at, most->angle);
    level_label(limit, sizeof limit, ww_decibels(fmax(conversion->budget, 1e-9)));
    if (conversion->budget > 0 && conversion->windows == 1)
        (void)snprintf(out, WW_TEXT_BYTES, "Mode conversion meets %s from %s to %s; largest at %s: %s", limit,
                       ww_angle_label(from, sizeof from, conversion->window[0].from),
                       ww_angle_label(to, sizeof to, conversion->window[0].to), at, level);
    else if (conversion->budget > 0 && conversion->windows == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "No angle meets %s of mode conversion; largest at %s: %s", limit, at,
                       level);
    else
        (void)snprintf(out, WW_TEXT_BYTES, "Mode conversion is largest at %s: %s%s", at, level,
                       ww_angles_match(angles, most->angle) ? ", where the cloth's period meets the modes' beat"
                                                            : "");
}

static double shown(const struct ww_panel *panel, double amplitude)
{
    return ww_panel_y(panel, fmax(ww_decibels(fmax(amplitude, 1e-12)), panel->y0));
}

static void draw_curves(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_angles *angles)
{
    ww_panel_clip(canvas, panel);
    for (int c = 0; c < CURVES; c++) {
        double half = angles->count == 1 ? 0.15 : 0;
        cairo_new_path(canvas->cairo);
        for (size_t i = 0; i < angles->count; i++) {
            double x = angles->at[i].angle / WW_DEGREE, y = shown(panel, curve[c].of(&angles->at[i]));
            cairo_line_to(canvas->cairo, ww_panel_x(panel, x - half), y);
            if (half > 0)
                cairo_line_to(canvas->cairo, ww_panel_x(panel, x + half), y);
        }
        ww_canvas_ink(canvas, curve[c].ink, 1);
        ww_canvas_dash(canvas, curve[c].dash, curve[c].dashes);
        cairo_set_line_width(canvas->cairo, curve[c].width);
        cairo_stroke(canvas->cairo);
    }
    ww_canvas_dash(canvas, NULL, 0);
    ww_panel_unclip(canvas);
}

static void draw_bands(struct ww_canvas *canvas, const struct ww_panel *panel,
                       const struct ww_angles_conversion *conversion)
{
    ww_panel_clip(canvas, panel);
    ww_canvas_ink(canvas, WW_INK_BODY, 0.30);
    for (size_t i = 0; i < conversion->windows; i++) {
        double x0 = ww_panel_x(panel, conversion->window[i].from / WW_DEGREE);
        double x1 = ww_panel_x(panel, conversion->window[i].to / WW_DEGREE);
        cairo_rectangle(canvas->cairo, x0, panel->box.y, fmax(x1 - x0, 1.5), panel->box.h);
        cairo_fill(canvas->cairo);
    }
    ww_panel_unclip(canvas);
}

struct mark {
    double x, w, strength;
    char label[48];
};

static int by_strength(const void *left, const void *right)
{
    const struct mark *a = left, *b = right;
    if (a->strength != b->strength)
        return a->strength < b->strength ? 1 : -1;
    return (a->x > b->x) - (a->x < b->x);
}

/* A line for each match; the strongest named, as far as their names keep apart. */
static void draw_matches(struct ww_canvas *canvas, const struct ww_panel *panel,
                         const struct ww_angles_conversion *conversion)
{
    struct mark mark[MOST_MARKS];
    size_t count = 0, named[MOST_MARKS], names = 0;
    for (size_t i = 0; i < conversion->matches && count < MOST_MARKS; i++) {
        const struct ww_phase_match *match = &conversion->match[i];
        struct mark *here = &mark[count++];
        *here = (struct mark){.x = ww_panel_x(panel, match->angle / WW_DEGREE), .strength = match->alone};
        (void)snprintf(here->label, sizeof here->label, "(%d, %s%d)", match->m, match->l < 0 ? "\xe2\x88\x92" : "",
                       abs(match->l));
        here->w = ww_text_width(canvas, small_type, here->label);
    }
    qsort(mark, count, sizeof *mark, by_strength);
    for (size_t i = 0; i < count; i++) {
        bool room = true;
        for (size_t k = 0; k < names; k++)
            room = room && fabs(mark[named[k]].x - mark[i].x) > 0.5 * (mark[named[k]].w + mark[i].w) + LABEL_GAP;
        double top = panel->box.y - (room ? 8 : 0);
        ww_canvas_ink(canvas, WW_INK_QUIET, room ? 1 : 0.6);
        ww_canvas_dash(canvas, match_dash, 2);
        ww_canvas_stroke(canvas, mark[i].x, panel->box.y + panel->box.h, mark[i].x, top, 2.5);
        ww_canvas_dash(canvas, NULL, 0);
        if (!room)
            continue;
        double right = panel->box.x + panel->box.w, from = fmax(mark[i].x - 0.5 * mark[i].w, panel->box.x);
        ww_text_draw(canvas, small_type, fmin(from, right - mark[i].w), panel->box.y - 24, 0, mark[i].label);
        named[names++] = i;
    }
}

static void entry(struct ww_canvas *canvas, struct ww_plot_column *column, const struct curve *of, int lines,
                  const char *text)
{
    double y = ww_column_next(column, lines);
    if (of) {
        ww_canvas_ink(canvas, of->ink, 1);
        ww_canvas_dash(canvas, of->dash, of->dashes);
        ww_canvas_stroke(canvas, column->x, y, column->x + SAMPLE, y, of->width);
        ww_canvas_dash(canvas, NULL, 0);
    } else {
        ww_canvas_ink(canvas, WW_INK_BODY, 0.30);
        cairo_rectangle(canvas->cairo, column->x, y - 14, SAMPLE, 28);
        cairo_fill(canvas->cairo);
    }
    ww_text_paragraph(canvas, small_type, column->x + SAMPLE + 14, y, column->room - SAMPLE - 14, lines, text);
}

static void draw_key(struct ww_canvas *canvas, struct ww_plot_column column, const struct ww_angles *angles)
{
    static const struct curve match = {"", NULL, WW_INK_QUIET, 2.5, {2, 7}, 2};
    char text[160], turn[48];
    for (int c = CURVES - 1; c >= 0; c--) {
        bool design = curve[c].of == design_of;
        (void)snprintf(text, sizeof text, "%s", curve[c].name);
        if (design && angles->turn > 0)
            (void)snprintf(text, sizeof text, "design: the worst within \xc2\xb1%s",
                           ww_angle_label(turn, sizeof turn, angles->turn));
        entry(canvas, &column, &curve[c], design && angles->turn > 0 ? 2 : 1, text);
    }
    if (angles->conversion.windows > 0)
        entry(canvas, &column, NULL, 2, "safe: design within the budget");
    if (angles->conversion.matches > 0)
        entry(canvas, &column, &match, 4, "(m, l): the cloth's period meets the beat of the modes");
}

static void draw_budget(struct ww_canvas *canvas, const struct ww_panel *panel, double y, const char *level)
{
    double right = panel->box.x + panel->box.w;
    char label[80];
    ww_canvas_ink(canvas, WW_INK_ALARM, 1);
    ww_canvas_dash(canvas, budget_dash, 4);
    ww_canvas_stroke(canvas, panel->box.x, y, right + 20, y, 3.5);
    ww_canvas_dash(canvas, NULL, 0);
    (void)snprintf(label, sizeof label, "budget %s", level);
    ww_text_draw(canvas, alarm_type, right + 28, y, 0, label);
}

/* Round levels about all that is drawn, the floor 60 dB under the highest at most. */
static void choose_scale(struct ww_panel *panel, const struct ww_angles *angles)
{
    double most = 1e-12, least = INFINITY;
    for (size_t i = 0; i < angles->count; i++) {
        most = fmax(most, fmax(angles->at[i].conversion_design, angles->at[i].conversion));
        least = fmin(least, angles->at[i].conversion_median > 0 ? angles->at[i].conversion_median
                                                                : angles->at[i].conversion);
    }
    double high =
        fmax(ww_decibels(most), angles->conversion.budget > 0 ? ww_decibels(angles->conversion.budget) : -1e9);
    panel->y1 = fmin(10 * ceil(high / 10 + 1e-9), 0);
    panel->y0 = 10 * floor(fmax(ww_decibels(fmax(least, 1e-12)), panel->y1 - FLOOR) / 10);
    panel->y0 = fmin(panel->y0, panel->y1 - 10);
    panel->y_ticks = ww_ticks_up(panel->y0, panel->y1, panel->box.h);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_angles *content)
{
    const struct ww_angles *angles = content->angles;
    const struct ww_angles_conversion *conversion = &angles->conversion;
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], level[48];
    struct ww_panel panel = {0};
    write_headline(headline, angles);
    (void)snprintf(subline, sizeof subline, "%s%sodd to even mode at %g GHz, both matched at both ends",
                   content->subject ? content->subject : "", content->subject ? "; " : "",
                   conversion->frequency * 1e-9);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    panel.box = (struct ww_box){page.x + 130, page.y + MARK_ROOM, page.w - RIGHT - 130, page.h - 92 - MARK_ROOM};
    choose_scale(&panel, angles);
    ww_angle_axis(canvas, &panel, angles->at[0].angle, angles->at[angles->count - 1].angle);
    draw_bands(canvas, &panel, conversion);
    ww_panel_grid(canvas, &panel);
    draw_matches(canvas, &panel, conversion);
    draw_curves(canvas, &panel, angles);
    ww_panel_axes(canvas, &panel, "routing angle from the warp [deg]", "mode conversion [dB]");
    struct ww_plot_column column = {panel.box.x + panel.box.w + 28, panel.box.y + 14, RIGHT - 28, 0, 0};
    double budget = conversion->budget > 0 ? ww_decibels(conversion->budget) : -INFINITY;
    if (budget >= panel.y0) {
        column.reserved = ww_panel_y(&panel, budget);
        column.height = 0.9 * WW_TEXT_SMALL;
        draw_budget(canvas, &panel, column.reserved, level_label(level, sizeof level, budget));
    }
    draw_key(canvas, column, angles);
}

enum ww_status ww_figure_draw_conversion(const char *path, const struct ww_figure_options *options,
                                         const struct ww_figure_angles *content, struct ww_error *error)
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
