/* figure/pitch.c - which pair pitch and trace width null it: the worst over both.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Legs a yarn pitch apart lie on the same cloth, and a trace a yarn pitch wide averages it: the pitches of the cloth and
 * their multiples are marked on both axes, to show whether a null is theirs.
 */
#include <math.h>

#include "figure/curves.h"
#include "figure/heatmap.h"
#include "figure/over_angle.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1160.0
#define RIGHT 490.0     /* colour bar and key */
#define SIDE_ROOM 112.0 /* names of yarn pitches at the right of the panel */
#define BAR_AT 30.0
#define KEY_AT 234.0    /* from the bar's place */
#define TOP_ROW 32.0    /* names of yarn pitches above the panel */
#define LINE_CLEAR 10.0 /* between such a name and a line that passes */
#define MOST_TOLD 3     /* nulls in the headline, each way */
#define SAMPLE 62.0
#define LEAST_TOLD 0.001    /* of the unit of time, beside a null */
#define FARTHEST_BUDGET 3.0 /* times the most that the axis of a curve still goes to reach it */
#define FLATTEST 1e-15      /* [s] least reach of that axis */
#define SAME_PITCH 0.005    /* of the pitch: two yarns that one mark serves */
#define SPAN 1e-9           /* relative: a place at the end of an axis is on it */

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type small_bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
static const double budget_dash[] = {22, 6, 4, 6};

static struct ww_sheet sheet_of(const struct ww_pitch *pitch, double worth, double time_worth)
{
    return (struct ww_sheet){pitch->pitches, pitch->widths, pitch->pitch, pitch->width,
                             pitch->worst,   worth,         worth,        time_worth};
}

/* An axis of one place has no rise to check. */
static bool axis_sound(const double *at, size_t count)
{
    if (at == NULL)
        return false;
    for (size_t i = 0; i < count; i++)
        if (!isfinite(at[i]) || (i > 0 && !(at[i] > at[i - 1])))
            return false;
    return true;
}

static enum ww_status check(const struct ww_figure_pitch *content, const char *path, struct ww_error *error)
{
    const struct ww_pitch *pitch = content->pitch;
    bool any = false;

    if (pitch == NULL || pitch->worst == NULL || pitch->pitches == 0 || pitch->widths == 0 ||
        pitch->pitches * pitch->widths < 2 || !axis_sound(pitch->pitch, pitch->pitches) ||
        !axis_sound(pitch->width, pitch->widths) || (pitch->nulls > 0 && pitch->null == NULL))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no map over pitch and width to draw; give two of one of them or more, ascending");
    for (size_t i = 0; i < pitch->pitches * pitch->widths; i++)
        any = any || pitch->worst[i] >= 0;
    if (!any)
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no pair of these pitches and widths can be built: none is drawn");
    if (!(content->budget >= 0) || !isfinite(content->budget + content->warp_pitch + content->fill_pitch) ||
        !(content->warp_pitch >= 0) || !(content->fill_pitch >= 0) ||
        !isfinite(content->own_pitch + content->own_width))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "budget, yarn pitches and own pitch and width must be finite, none below 0");
    return WW_OK;
}

static const char *quantity(const struct ww_figure_pitch *content)
{
    return content->pair ? "skew" : "delay difference";
}

static const char *worst_quantity(const struct ww_figure_pitch *content)
{
    return content->pair ? "worst skew" : "worst delay difference";
}

static bool within(double value, double low, double high)
{
    double slack = SPAN * (fabs(low) + fabs(high));
    return value >= low - slack && value <= high + slack;
}

/* --- yarn pitches on the axes */

static void write_multiple(char *out, size_t size, const char *yarn, int times)
{
    if (times == 1)
        (void)snprintf(out, size, "%s", yarn);
    else
        (void)snprintf(out, size, "%d %s", times, yarn);
}

/* Where a name of that width about x keeps clear of the nearest line of the other yarn, which passes through its row. */
static double clear_of(const struct ww_panel *panel, double x, double w, double at, double other)
{
    double line = other > 0 ? ww_panel_x(panel, fmax(round(at / other), 1) * other) : x;

    if (!(other > 0) || fabs(line - x) > w / 2 + LINE_CLEAR)
        return x;
    return line > x ? line - w / 2 - LINE_CLEAR : line < x ? line + w / 2 + LINE_CLEAR : x;
}

/* Multiples of a yarn pitch above the panel, in its own row; `other`: the pitch of the yarn in a row above, 0 if none. */
static void mark_across(struct ww_canvas *canvas, const struct ww_panel *panel, double yarn_pitch, const char *yarn,
                        int row, double other)
{
    const struct ww_box *box = &panel->box;
    double y = box->y - 14 - (row + 0.5) * TOP_ROW, last = -1e9;
    char label[48];

    for (int times = 1; yarn_pitch > 0 && times * yarn_pitch <= panel->x1 * (1 + SPAN) && times < 1000; times++) {
        double x = ww_panel_x(panel, times * yarn_pitch);
        if (!within(times * yarn_pitch, panel->x0, panel->x1))
            continue;
        write_multiple(label, sizeof label, yarn, times);
        double w = ww_text_width(canvas, small_type, label);
        double middle = clear_of(panel, x, w, times * yarn_pitch, other);
        if (middle - w / 2 < last + 14)
            continue;
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, x, y + 0.45 * TOP_ROW, x, box->y, 2.5);
        ww_canvas_ink(canvas, WW_INK_PAPER, 1);
        ww_canvas_stroke(canvas, x, box->y, x, box->y + 16, 6);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, x, box->y, x, box->y + 16, 2.5);
        ww_text_draw(canvas, small_type, middle, y, 0.5, label);
        last = middle + w / 2;
    }
}

/* Of both yarns: the fill's row above the warp's; one row where their pitches agree, for one line would run through both. */
static void mark_yarns(struct ww_canvas *canvas, const struct ww_panel *panel, const double yarn_pitch[2])
{
    if (fabs(yarn_pitch[0] - yarn_pitch[1]) <= SAME_PITCH * yarn_pitch[0]) {
        mark_across(canvas, panel, yarn_pitch[0], "warp, fill", 0, 0);
        return;
    }
    mark_across(canvas, panel, yarn_pitch[1], "fill", 1, 0);
    mark_across(canvas, panel, yarn_pitch[0], "warp", 0, yarn_pitch[1]);
}

/* The same at the right; both yarns in one column, kept apart. Returns true if there are any. */
static bool mark_up(struct ww_canvas *canvas, const struct ww_panel *panel, const double yarn_pitch[2], bool draw)
{
    enum { MOST = 12 };
    double place[MOST], at[MOST], right = panel->box.x + panel->box.w;
    char label[MOST][32];
    int count = 0;

    bool same = fabs(yarn_pitch[0] - yarn_pitch[1]) <= SAME_PITCH * yarn_pitch[0];
    for (int yarn = 0; yarn < (same ? 1 : 2); yarn++)
        for (int times = 1; yarn_pitch[yarn] > 0 && times <= MOST && count < MOST; times++) {
            int i = count;
            double y = ww_panel_y(panel, times * yarn_pitch[yarn]);
            if (!within(times * yarn_pitch[yarn], panel->y0, panel->y1))
                continue;
            for (; i > 0 && place[i - 1] > y; i--) {
                place[i] = place[i - 1];
                (void)snprintf(label[i], sizeof label[i], "%s", label[i - 1]);
            }
            place[i] = y;
            write_multiple(label[i], sizeof label[i], same ? "both" : yarn ? "fill" : "warp", times);
            count++;
        }
    for (int i = 0; i < count; i++)
        at[i] = place[i];
    ww_labels_apart(at, count, 30, panel->box.y + 4, panel->box.y + panel->box.h - 4);
    for (int i = 0; i < count && draw; i++) {
        ww_canvas_ink(canvas, WW_INK_PAPER, 1);
        ww_canvas_stroke(canvas, right - 16, place[i], right, place[i], 6);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, right - 16, place[i], right + 4, place[i], 2.5);
        ww_canvas_stroke(canvas, right + 4, place[i], right + 16, at[i], 2.5);
        ww_text_draw(canvas, small_type, right + 22, at[i], 0, label[i]);
    }
    return count > 0;
}

/* --- words */

/* "423.4 um or 846.7 um" of the nulls in one direction, three at most. Returns how many there are. */
static size_t write_nulls(char *out, size_t size, const struct ww_pitch *pitch, bool in_width)
{
    size_t count = 0, used = 0;
    char place[48];

    out[0] = '\0';
    for (size_t i = 0; i < pitch->nulls; i++) {
        const struct ww_null *null = &pitch->null[i];
        if (null->in_width != in_width)
            continue;
        ww_length_label(place, sizeof place, in_width ? null->width : null->pitch);
        if (count < MOST_TOLD)
            used += (size_t)snprintf(out + used, size - used, "%s%s", count > 0 ? " or " : "", place);
        count++;
    }
    return count;
}

static void write_headline(char *out, const struct ww_figure_pitch *content)
{
    char pitches[160], widths[160];
    size_t in_pitch = write_nulls(pitches, sizeof pitches, content->pitch, false);
    size_t in_width = write_nulls(widths, sizeof widths, content->pitch, true);

    if (in_pitch + in_width == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "No null of the worst %s among these %s", quantity(content),
                       content->pair ? "pitches and widths" : "widths");
    else
        (void)snprintf(out, WW_TEXT_BYTES, "%s is least at %s%s%s%s%s", content->pair ? "Skew" : "Delay difference",
                       in_pitch > 0 ? "pitch " : "", pitches, in_pitch > 0 && in_width > 0 ? ", or " : "",
                       in_width > 0 ? "width " : "", widths);
}

/* --- the key at the right */

static void draw_key(struct ww_canvas *canvas, double x, double y, const struct ww_figure_pitch *content, bool own,
                     bool missing, double least, double most)
{
    char value[48], text[64];

    y = ww_sheet_budget(canvas, x, y, content->budget, least, most);
    if (own) {
        ww_sheet_mark(canvas, WW_MARK_OWN, x + WW_MARK_RADIUS + 4, y);
        ww_text_draw(canvas, small_bold, x, y + 44, 0, "this study's pair");
        (void)snprintf(text, sizeof text, "width %s", ww_length_label(value, sizeof value, content->own_width));
        ww_text_draw(canvas, small_type, x, y + 74, 0, text);
        (void)snprintf(text, sizeof text, "pitch %s", ww_length_label(value, sizeof value, content->own_pitch));
        ww_text_draw(canvas, small_type, x, y + 104, 0, text);
        y += 170;
    }
    if (content->pitch->nulls > 0) {
        ww_sheet_mark(canvas, WW_MARK_NULL, x + WW_MARK_RADIUS + 4, y);
        ww_text_draw(canvas, small_bold, x, y + 44, 0, "null");
        ww_text_draw(canvas, small_type, x, y + 74, 0, "its worst beside it");
        y += 138;
    }
    if (missing) {
        struct ww_box box = {x, y - 16, SAMPLE, 32};
        char gap_words[96];
        (void)snprintf(gap_words, sizeof gap_words, "legs touch, or less than %s \xc2\xb5m apart",
                       ww_size_label(value, sizeof value, content->pitch->gap / 1e-6, 2));
        cairo_save(canvas->cairo);
        cairo_rectangle(canvas->cairo, box.x, box.y, box.w, box.h);
        cairo_clip(canvas->cairo);
        ww_sheet_hatch(canvas, box);
        cairo_restore(canvas->cairo);
        ww_text_paragraph(canvas, small_type, x, y + 44, WW_PAGE_WIDTH - WW_PAGE_MARGIN - x, 3, gap_words);
    }
}

/* --- the page, as a map */

/* A null lies between the samples, and its worst below all of theirs: it is told beside the ring. */
static void mark_nulls(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_pitch *pitch,
                       struct ww_unit time)
{
    const struct ww_box *box = &panel->box;
    double last_x = -1e9, last_y = -1e9;
    char label[48], value[32];

    for (size_t i = 0; i < pitch->nulls; i++) {
        const struct ww_null *null = &pitch->null[i];
        if (!within(null->pitch, panel->x0, panel->x1) || !within(null->width, panel->y0, panel->y1))
            continue;
        double x = ww_panel_x(panel, null->pitch), y = ww_panel_y(panel, null->width);
        ww_sheet_mark(canvas, WW_MARK_NULL, x, y);
        if (!(null->worst >= 0))
            continue;
        double told = null->worst / time.worth;
        (void)snprintf(label, sizeof label, "%s%s %s", told < LEAST_TOLD ? "under " : "",
                       ww_size_label(value, sizeof value, fmax(told, LEAST_TOLD), 1), time.name);
        double w = ww_text_width(canvas, small_bold, label) + 16;
        double at = fmin(fmax(x, box->x + w / 2), box->x + box->w - w / 2);
        double up = y - 2.4 * WW_MARK_RADIUS, down = y + 2.4 * WW_MARK_RADIUS;
        double side = up - WW_TEXT_SMALL > box->y ? up : down;
        if (fabs(at - last_x) < w && fabs(side - last_y) < 1.4 * WW_TEXT_SMALL)
            side = side < y ? down : up;
        ww_text_patch(canvas, small_bold, at, side, 0.5, label);
        last_x = at;
        last_y = side;
    }
}

static bool any_missing(const struct ww_pitch *pitch)
{
    for (size_t i = 0; i < pitch->pitches * pitch->widths; i++)
        if (pitch->worst[i] < 0)
            return true;
    return false;
}

/* The panel in metres as the marks want it, beside the one in the unit of its ticks. */
static struct ww_panel in_metres(struct ww_panel panel, double x_worth, double y_worth)
{
    panel.x0 *= x_worth;
    panel.x1 *= x_worth;
    panel.y0 *= y_worth;
    panel.y1 *= y_worth;
    return panel;
}

static void draw_map(struct ww_canvas *canvas, const struct ww_figure_pitch *content, struct ww_box page)
{
    const struct ww_pitch *pitch = content->pitch;
    const double yarn_pitch[2] = {content->warp_pitch, content->fill_pitch};
    struct ww_unit length = ww_unit_length(fmax(pitch->pitch[pitch->pitches - 1], pitch->width[pitch->widths - 1]));
    struct ww_sheet sheet = sheet_of(pitch, length.worth, 1);
    char title[WW_TITLE_BYTES];
    double least, most;

    ww_sheet_range(&sheet, &least, &most);
    struct ww_unit time = ww_unit_time(most);
    sheet.worth = time.worth;
    double top = 14 + 2 * TOP_ROW, height = page.h - 92 - top;
    struct ww_panel panel = {.x0 = pitch->pitch[0] / length.worth,
                             .x1 = pitch->pitch[pitch->pitches - 1] / length.worth,
                             .y0 = pitch->width[0] / length.worth,
                             .y1 = pitch->width[pitch->widths - 1] / length.worth};
    struct ww_decades decades = ww_decades_choose(least, most, time.worth, height, WW_ENDS_AT_MOST);
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, height);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + top, page.x + page.w - RIGHT - left, height};
    struct ww_panel metres = in_metres(panel, length.worth, length.worth);
    bool side = mark_up(canvas, &metres, yarn_pitch, false);
    panel.box.w -= side ? SIDE_ROOM - 20 : 0;
    panel.box = metres.box = ww_heatmap_snap(canvas, panel.box);
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);

    ww_sheet_draw(canvas, &panel, &sheet, &decades);
    if (content->budget > 0) {
        ww_panel_clip(canvas, &panel);
        ww_sheet_contour_path(canvas, &panel, &sheet, &decades, content->budget);
        ww_sheet_stroke(canvas);
        ww_panel_unclip(canvas);
    }
    (void)snprintf(title, sizeof title, "pair pitch [%s]", length.name);
    char y_title[64];
    (void)snprintf(y_title, sizeof y_title, "trace width [%s]", length.name);
    ww_panel_axes(canvas, &panel, title, y_title);
    mark_yarns(canvas, &metres, yarn_pitch);
    mark_up(canvas, &metres, yarn_pitch, true);
    mark_nulls(canvas, &metres, pitch, time);
    bool own = content->own_width > 0 && within(content->own_pitch, metres.x0, metres.x1) &&
               within(content->own_width, metres.y0, metres.y1);
    if (own)
        ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(&metres, content->own_pitch),
                      ww_panel_y(&metres, content->own_width));
    ww_delay_title(canvas->options, title, sizeof title, worst_quantity(content), time);
    double bar = panel.box.x + panel.box.w + BAR_AT + (side ? SIDE_ROOM - 20 : 0);
    ww_decades_bar(canvas, (struct ww_box){bar, panel.box.y, 40, panel.box.h}, &decades, title);
    draw_key(canvas, bar + KEY_AT, panel.box.y + 20, content, own, any_missing(pitch), least, most);
}

/* --- the page, as a curve: where only one of the two varies */

static void name_mark(struct ww_canvas *canvas, struct ww_plot_column *column, enum ww_sheet_mark mark,
                      const char *name)
{
    double y = ww_column_next(column, 1);

    ww_sheet_mark(canvas, mark, column->x + WW_MARK_RADIUS, y);
    ww_text_draw(canvas, small_bold, column->x + 2 * WW_MARK_RADIUS + 12, y, 0, name);
}

/* Nulls, and the study's own at the sample nearest to it, each named once at the right. */
static void mark_curve(struct ww_canvas *canvas, const struct ww_panel *metres, const struct ww_figure_pitch *content,
                       const double *at, size_t count, double worth, struct ww_plot_column column)
{
    const struct ww_pitch *pitch = content->pitch;
    bool over_pitch = pitch->widths == 1, any = false;
    double own = over_pitch ? content->own_pitch : content->own_width;
    size_t near = 0;

    for (size_t i = 0; i < pitch->nulls; i++) {
        double x = over_pitch ? pitch->null[i].pitch : pitch->null[i].width;
        if (!within(x, metres->x0, metres->x1) || !(pitch->null[i].worst >= 0))
            continue;
        ww_sheet_mark(canvas, WW_MARK_NULL, ww_panel_x(metres, x), ww_panel_y(metres, pitch->null[i].worst / worth));
        any = true;
    }
    if (any)
        name_mark(canvas, &column, WW_MARK_NULL, "null");
    for (size_t i = 1; i < count; i++)
        near = fabs(at[i] - own) < fabs(at[near] - own) ? i : near;
    if (!(content->own_width > 0) || !within(own, metres->x0, metres->x1) || !(pitch->worst[near] >= 0))
        return;
    ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(metres, at[near]), ww_panel_y(metres, pitch->worst[near] / worth));
    name_mark(canvas, &column, WW_MARK_OWN, "this study's");
}

static void draw_curve(struct ww_canvas *canvas, const struct ww_figure_pitch *content, struct ww_box page)
{
    const struct ww_pitch *pitch = content->pitch;
    bool over_pitch = pitch->widths == 1;
    const double *at = over_pitch ? pitch->pitch : pitch->width;
    size_t count = over_pitch ? pitch->pitches : pitch->widths;
    struct ww_unit length = ww_unit_length(at[count - 1]);
    double most = 0;
    char title[96], y_title[WW_TITLE_BYTES];

    for (size_t i = 0; i < count; i++)
        most = fmax(most, pitch->worst[i]);
    bool budget = content->budget > 0 && content->budget <= FARTHEST_BUDGET * most;
    most = budget ? fmax(most, content->budget) : fmax(most, FLATTEST);
    struct ww_unit time = ww_unit_time(most);
    double top = 14 + 2 * TOP_ROW;
    struct ww_panel panel = {
        .x0 = at[0] / length.worth, .x1 = at[count - 1] / length.worth, .y1 = 1.08 * most / time.worth};
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 92 - top);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + top, page.x + page.w - 250 - left, page.h - 92 - top};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    struct ww_panel metres = in_metres(panel, length.worth, 1);

    ww_panel_grid(canvas, &panel);
    ww_panel_clip(canvas, &panel);
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < count; i++) {
        double x = ww_panel_x(&metres, at[i]), y = ww_panel_y(&metres, pitch->worst[i] / time.worth);
        if (!isfinite(pitch->worst[i]) || pitch->worst[i] < 0)
            cairo_new_sub_path(canvas->cairo);
        else
            cairo_line_to(canvas->cairo, x, y);
    }
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    cairo_stroke(canvas->cairo);
    ww_panel_unclip(canvas);
    if (budget) {
        static const struct ww_type alarm = {WW_TEXT_SMALL, true, WW_INK_ALARM};
        double y = ww_panel_y(&panel, content->budget / time.worth), right = panel.box.x + panel.box.w;
        char value[48], label[80];
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        ww_canvas_dash(canvas, budget_dash, 4);
        ww_canvas_stroke(canvas, panel.box.x, y, right + 12, y, 3.5);
        ww_canvas_dash(canvas, NULL, 0);
        (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, content->budget));
        ww_text_draw(canvas, alarm, right + 20, y, 0, label);
    }
    (void)snprintf(title, sizeof title, "%s [%s]", over_pitch ? "pair pitch" : "trace width", length.name);
    ww_delay_title(canvas->options, y_title, sizeof y_title, worst_quantity(content), time);
    ww_panel_axes(canvas, &panel, title, y_title);
    mark_yarns(canvas, &metres, (const double[2]){content->warp_pitch, content->fill_pitch});
    struct ww_plot_column column = {panel.box.x + panel.box.w + 20, panel.box.y + 20, 0, 0, 0};
    column.reserved = ww_panel_y(&panel, content->budget / time.worth);
    column.height = budget ? WW_TEXT_SMALL : 0;
    mark_curve(canvas, &metres, content, at, count, time.worth, column);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_pitch *content)
{
    char headline[WW_TEXT_BYTES];

    write_headline(headline, content);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");
    if (content->pitch->pitches > 1 && content->pitch->widths > 1)
        draw_map(canvas, content, page);
    else
        draw_curve(canvas, content, page);
}

enum ww_status ww_figure_draw_pitch(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_pitch *content, struct ww_error *error)
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
