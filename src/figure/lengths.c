/* figure/lengths.c - where it saturates and where it grows: the worst over angle and length.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Skew swings with angle and length, in lobes narrower than a pixel of this map. What is drawn is therefore the worst of
 * all lengths up to the one at the axis: it rises until skew saturates, and then stays.
 */
#include <math.h>

#include "figure/heatmap.h"
#include "figure/over_angle.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define RIGHT 470.0    /* colour bar and key */
#define BAR_AT 36.0    /* right of the panel */
#define KEY_AT 240.0   /* right of the panel */
#define SATURATED 1.05 /* growth that is none */
#define NEARLY_ALL 0.9 /* of the angles: what the title says of them all, with the others told */

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type small_bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};

static struct ww_sheet sheet_of(const struct ww_lengths *lengths, double length_worth, double time_worth)
{
    return (struct ww_sheet){lengths->angles,  lengths->lengths, lengths->angle, lengths->length,
                             lengths->reached, WW_DEGREE,        length_worth,   time_worth};
}

static enum ww_status check(const struct ww_figure_lengths *content, const char *path, struct ww_error *error)
{
    struct ww_sheet sheet;

    if (content->lengths == NULL || content->lengths->reached == NULL)
        return ww_error_set(error, WW_INVALID, path, 0, "no map over angle and length to draw");
    sheet = sheet_of(content->lengths, 1, 1);
    if (!ww_sheet_sound(&sheet) || !(sheet.y[0] >= 0))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "a map over angle and length needs at least two of each, in ascending order");
    if (!(content->budget >= 0) || !isfinite(content->budget) || !isfinite(content->own_angle) ||
        !(content->own_length >= 0) || !isfinite(content->own_length))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "budget, own angle and own length must be finite, budget and length 0 or more");
    return WW_OK;
}

static bool own_shown(const struct ww_figure_lengths *content)
{
    const struct ww_lengths *l = content->lengths;

    return content->own_length > 0 && content->own_angle >= l->angle[0] - 1e-9 &&
           content->own_angle <= l->angle[l->angles - 1] + 1e-9 && content->own_length >= l->length[0] - 1e-9 &&
           content->own_length <= l->length[l->lengths - 1] + 1e-9;
}

/* --- the key at the right */

static void draw_key(struct ww_canvas *canvas, double x, double y, const struct ww_figure_lengths *content,
                     double least, double most)
{
    char value[48], angle[48];

    y = ww_sheet_budget(canvas, x, y, content->budget, least, most);
    if (own_shown(content)) {
        ww_sheet_mark(canvas, WW_MARK_OWN, x + WW_MARK_RADIUS + 4, y);
        ww_text_draw(canvas, small_bold, x, y + 44, 0, "this study");
        ww_text_draw(canvas, small_type, x, y + 74, 0, ww_angle_label(angle, sizeof angle, content->own_angle));
        ww_text_draw(canvas, small_type, x, y + 104, 0, ww_length_label(value, sizeof value, content->own_length));
    }
}

/* --- words */

/* Row of the table nearest to half the longest length. */
static size_t half_row(const struct ww_lengths *l)
{
    size_t half = 0, last = l->lengths - 1;

    for (size_t i = 0; i < l->lengths; i++)
        if (fabs(l->length[i] - l->length[last] / 2) < fabs(l->length[half] - l->length[last] / 2))
            half = i;
    return half;
}

/* Does the longest reach no more than a twentieth above what half as long do? */
static bool saturates(const struct ww_lengths *l, size_t half, size_t angle)
{
    return l->reached[(l->lengths - 1) * l->angles + angle] <= SATURATED * l->reached[half * l->angles + angle];
}

/* Share of the angles from the given one on at which it saturates. */
static double share_saturated(const struct ww_lengths *l, size_t half, size_t from)
{
    size_t still = 0;

    for (size_t i = from; i < l->angles; i++)
        still += saturates(l, half, i);
    return (double)still / (double)(l->angles - from);
}

/* The first angle that saturates and from which on nearly all do, with enough of them; the count of angles if there is none. */
static size_t turning_point(const struct ww_lengths *l, size_t half)
{
    for (size_t i = 0; i < l->angles; i++)
        if (saturates(l, half, i) && share_saturated(l, half, i) >= NEARLY_ALL)
            return l->angles - i >= l->angles / 4 ? i : l->angles;
    return l->angles;
}

/* In whole per cent; what is neither none nor all is not rounded to either. */
static double told_share(double share)
{
    return share <= 0 || share >= 1 ? 100 * share : fmin(fmax(round(100 * share), 1), 99);
}

/* What a reviewer asks of it: need the trace be short? */
static void write_headline(char *out, const struct ww_figure_lengths *content)
{
    const struct ww_lengths *l = content->lengths;
    const char *what = content->pair ? "skew" : "delay difference";
    double half = l->length[l->lengths - 1] / 2;
    char length[48], angle[48];

    if (!(l->length[0] < half)) {
        (void)snprintf(out, WW_TEXT_BYTES, "Worst %s over routing angle and length", what);
        return;
    }
    size_t row = half_row(l), from = turning_point(l, row);
    double share = told_share(share_saturated(l, row, 0));
    ww_length_label(length, sizeof length, half);
    if (share >= 100)
        (void)snprintf(out, WW_TEXT_BYTES, "A trace longer than %s is no worse, at any angle", length);
    else if (share <= 0)
        (void)snprintf(out, WW_TEXT_BYTES, "A longer trace is worse at all angles, beyond %s too", length);
    else if (from == l->angles || from == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "A trace longer than %s is no worse at %.0f %% of the angles", length,
                       share);
    else {
        double aside = 100 - told_share(share_saturated(l, row, from));
        int used = snprintf(out, WW_TEXT_BYTES, "Above %s a trace longer than %s is no worse",
                            ww_angle_label(angle, sizeof angle, l->angle[from]), length);
        if (aside > 0)
            (void)snprintf(out + used, WW_TEXT_BYTES - (size_t)used, ", %.0f %% of angles aside", aside);
    }
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_lengths *content)
{
    const struct ww_lengths *l = content->lengths;
    struct ww_unit length = ww_unit_length(l->length[l->lengths - 1]);
    struct ww_sheet sheet = sheet_of(l, length.worth, 1);
    char headline[WW_TEXT_BYTES], subject[WW_TEXT_BYTES], title[WW_TITLE_BYTES];
    double least, most;

    ww_sheet_range(&sheet, &least, &most);
    struct ww_unit time = ww_unit_time(most);
    sheet.worth = time.worth;
    write_headline(headline, content);
    (void)snprintf(subject, sizeof subject, "%s%sat each point the worst of any length up to it",
                   content->subject != NULL ? content->subject : "", content->subject != NULL ? "; " : "");
    struct ww_box page = ww_canvas_furniture(canvas, headline, subject);
    struct ww_panel panel = {.y0 = l->length[0] / length.worth, .y1 = l->length[l->lengths - 1] / length.worth};
    struct ww_decades decades = ww_decades_choose(least, most, time.worth, page.h - 106, WW_ENDS_AT_MOST);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box =
        ww_heatmap_snap(canvas, (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106});
    ww_angle_axis(canvas, &panel, l->angle[0], l->angle[l->angles - 1]);

    ww_sheet_draw(canvas, &panel, &sheet, &decades);
    ww_panel_clip(canvas, &panel);
    if (content->budget > 0) {
        ww_sheet_contour_path(canvas, &panel, &sheet, &decades, content->budget);
        ww_sheet_stroke(canvas);
    }
    ww_panel_unclip(canvas);
    (void)snprintf(title, sizeof title, "length [%s]", length.name);
    ww_panel_axes(canvas, &panel, "routing angle from the warp [deg]", title);
    if (own_shown(content))
        ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(&panel, content->own_angle / WW_DEGREE),
                      ww_panel_y(&panel, content->own_length / length.worth));
    ww_delay_title(canvas->options, title, sizeof title, content->pair ? "worst skew" : "worst delay difference",
                   time);
    double right = panel.box.x + panel.box.w;
    ww_decades_bar(canvas, (struct ww_box){right + BAR_AT, panel.box.y, 40, panel.box.h}, &decades, title);
    draw_key(canvas, right + KEY_AT, panel.box.y + 20, content, least, most);
}

enum ww_status ww_figure_draw_lengths(const char *path, const struct ww_figure_options *options,
                                      const struct ww_figure_lengths *content, struct ww_error *error)
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
