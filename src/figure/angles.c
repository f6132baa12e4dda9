/* figure/angles.c - which routing angles are safe: skew over angle, safe windows, and where it revives.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The design curve is the heaviest line: it is the one to design by. Windows are a light band under everything with a
 * bracket and its ends above the panel, so that they read in grey. Revivals stand above them in two rows of labels;
 * where these do not hold all, the strongest are named and the others only marked.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figure/over_angle.h"
#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define RIGHT 330.0       /* column of the key */
#define BRACKET_ROOM 52.0 /* above the panel, with windows */
#define BRACKET_NONE 22.0 /* and without */
#define REVIVAL_ROW 34.0
#define REVIVAL_ROWS 2
#define MOST_REVIVALS 64
#define SAME_ANGLE (0.05 * WW_DEGREE) /* two plies' revivals that one label serves */
#define LABEL_GAP 12.0
#define SAMPLE 62.0              /* of a line in the key */
#define COARSE (0.1 * WW_DEGREE) /* to which the ends of a window are told, */
#define FINE (0.01 * WW_DEGREE)  /* and of a very narrow one */
#define FARTHEST_BUDGET 10.0     /* times the most that the axis still goes to reach it */

struct stroke {
    const char *name;
    enum ww_ink ink;
    double width;
    double dash[4];
    int dashes;
};
static const struct stroke strokes[WW_CURVES] = {
    [WW_CURVE_DESIGN] = {"design", WW_INK_TEXT, 6, {0}, 0},
    [WW_CURVE_WORST] = {"worst", WW_INK_LEG1, 2.2, {0}, 0},
    [WW_CURVE_P99] = {"99 of 100", WW_INK_LEG2, 2.6, {10, 5}, 2},
    [WW_CURVE_MEDIAN] = {"median", WW_INK_QUIET, 2.4, {2.5, 4.5}, 2},
};
static const double budget_dash[] = {22, 6, 4, 6};
static const double revival_dash[] = {2, 7};
static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type small_bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};

static enum ww_status check(const struct ww_figure_angles *content, const char *path, struct ww_error *error)
{
    if (!ww_angles_sound(content->angles))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no curves over angle to draw; give angles in ascending order with values of 0 or more");
    return WW_OK;
}

static const char *quantity(const struct ww_angles *angles)
{
    return angles->pair ? "skew" : "delay difference";
}

/* --- what revives where: labels in two rows, strongest first */

struct mark {
    double x, w; /* of the line, and width of the label */
    double from; /* left end of the label */
    double growth;
    int row; /* -1: no room */
    char label[48];
};

static int by_growth(const void *left, const void *right)
{
    const struct mark *a = left, *b = right;
    if (a->growth != b->growth)
        return a->growth < b->growth ? 1 : -1;
    return (a->x > b->x) - (a->x < b->x);
}

/* True if another ply has the same harmonic elsewhere: then the label tells which ply it is. */
static bool elsewhere_too(const struct ww_angles *angles, const struct ww_revival *revival)
{
    for (size_t i = 0; i < angles->revivals; i++) {
        const struct ww_revival *other = &angles->revival[i];
        if (other->m == revival->m && other->l == revival->l && other->ply != revival->ply &&
            fabs(other->angle - revival->angle) > SAME_ANGLE)
            return true;
    }
    return false;
}

static void write_harmonic(char *out, size_t size, const struct ww_angles *angles, const struct ww_revival *revival)
{
    int used = snprintf(out, size, "(%s%d, %s%d)", revival->m < 0 ? "\xe2\x88\x92" : "", abs(revival->m),
                        revival->l < 0 ? "\xe2\x88\x92" : "", abs(revival->l));
    if (elsewhere_too(angles, revival))
        (void)snprintf(out + used, size - (size_t)used, " ply %zu", revival->ply + 1);
}

/* One mark for each direction in the range; of those that coincide, the strongest. */
static int collect_marks(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_angles *angles,
                         struct mark *mark)
{
    int count = 0;

    for (size_t i = 0; i < angles->revivals; i++) {
        const struct ww_revival *revival = &angles->revival[i];
        double degrees = revival->angle / WW_DEGREE;
        struct mark here = {.x = ww_panel_x(panel, degrees), .growth = revival->growth, .row = -1};
        int same = 0;
        if (!isfinite(degrees) || degrees < panel->x0 - 1e-9 || degrees > panel->x1 + 1e-9)
            continue;
        write_harmonic(here.label, sizeof here.label, angles, revival);
        here.w = ww_text_width(canvas, small_type, here.label);
        double near = SAME_ANGLE / WW_DEGREE / (panel->x1 - panel->x0) * panel->box.w;
        while (same < count && fabs(mark[same].x - here.x) > near)
            same++;
        if (same < count && mark[same].growth >= here.growth)
            continue;
        if (same < MOST_REVIVALS)
            mark[same] = here;
        count += same == count && same < MOST_REVIVALS;
    }
    return count;
}

static bool inside_label(double x, const struct mark *mark)
{
    return x > mark->from - LABEL_GAP / 2 && x < mark->from + mark->w + LABEL_GAP / 2;
}

/* Labels of a row keep apart, and no line to an upper row runs through one of the lower. */
static bool fits(const struct mark *mark, int count, const struct mark *here)
{
    for (int j = 0; j < count; j++) {
        const struct mark *other = &mark[j];
        if (other == here || other->row < 0)
            continue;
        if (other->row == here->row && here->from < other->from + other->w + LABEL_GAP &&
            other->from < here->from + here->w + LABEL_GAP)
            return false;
        if ((other->row > here->row && inside_label(other->x, here)) ||
            (other->row < here->row && inside_label(here->x, other)))
            return false;
    }
    return true;
}

/* Where a label had best stand on its line: in the middle, or aside where another line is near. */
static int best_side(const struct mark *mark, int count, int i)
{
    double left = INFINITY, right = INFINITY, half = mark[i].w / 2 + LABEL_GAP;

    for (int j = 0; j < count; j++) {
        left = mark[j].x < mark[i].x ? fmin(left, mark[i].x - mark[j].x) : left;
        right = mark[j].x > mark[i].x ? fmin(right, mark[j].x - mark[i].x) : right;
    }
    return left >= half && right >= half ? 0 : right >= left ? 1 : -1;
}

/* On the best side of its line in the lower row, in the upper; then on the other sides. */
static void place_mark(struct mark *mark, int count, int i)
{
    enum { SIDES = 3 };
    struct mark *here = &mark[i];
    int best = best_side(mark, count, i);
    int side[SIDES] = {best, best == 0 ? 1 : 0, best == 0 ? -1 : -best};

    for (int t = 0; t < REVIVAL_ROWS * SIDES; t++) {
        double aside = side[t / REVIVAL_ROWS] * (here->w / 2 + LABEL_GAP / 2);
        here->row = t % REVIVAL_ROWS;
        here->from = here->x + aside - here->w / 2;
        if (fits(mark, count, here))
            return;
    }
    here->row = -1;
}

/* The strongest first. Returns the rows used. */
static int place_marks(struct mark *mark, int count)
{
    int rows = 0;

    qsort(mark, (size_t)count, sizeof mark[0], by_growth);
    for (int i = 0; i < count; i++) {
        place_mark(mark, count, i);
        rows = mark[i].row + 1 > rows ? mark[i].row + 1 : rows;
    }
    return rows;
}

static void draw_marks(struct ww_canvas *canvas, const struct ww_panel *panel, const struct mark *mark, int count,
                       double base)
{
    const struct ww_box *box = &panel->box;

    for (int i = 0; i < count; i++) {
        bool named = mark[i].row >= 0, beneath = mark[i].from < mark[i].x && mark[i].x < mark[i].from + mark[i].w;
        double y = base - (mark[i].row + 0.5) * REVIVAL_ROW;
        double top = !named ? box->y : y + (beneath ? 0.5 : -0.4) * REVIVAL_ROW;
        ww_canvas_ink(canvas, WW_INK_QUIET, named ? 1 : 0.6);
        ww_canvas_dash(canvas, revival_dash, 2);
        ww_canvas_stroke(canvas, mark[i].x, box->y + box->h, mark[i].x, top, 2.5);
        ww_canvas_dash(canvas, NULL, 0);
        if (named)
            ww_text_draw(canvas, small_type, mark[i].from, y, 0, mark[i].label);
    }
}

/* --- safe windows */

static void draw_bands(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_angles *angles)
{
    ww_panel_clip(canvas, panel);
    ww_canvas_ink(canvas, WW_INK_BODY, 0.30);
    for (size_t i = 0; i < angles->windows; i++) {
        double x0 = ww_panel_x(panel, angles->window[i].from / WW_DEGREE);
        double x1 = ww_panel_x(panel, angles->window[i].to / WW_DEGREE);
        cairo_rectangle(canvas->cairo, x0, panel->box.y, fmax(x1 - x0, 1.5), panel->box.h);
        cairo_fill(canvas->cairo);
    }
    ww_panel_unclip(canvas);
}

/* Its ends, rounded into it. */
static void write_window(char *out, size_t size, const struct ww_window *window)
{
    double step = window->to - window->from > 2 * COARSE ? COARSE : FINE;
    char from[48], to[48];

    (void)snprintf(out, size, "%s to %s", ww_angle_label(from, sizeof from, ceil(window->from / step - 1e-6) * step),
                   ww_angle_label(to, sizeof to, floor(window->to / step + 1e-6) * step));
}

/* Brackets above the panel; their words where there is room before the next, without the word "safe" where tight. */
static void draw_brackets(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_angles *angles)
{
    double y = panel->box.y - 11, text_y = panel->box.y - 34, last = -1e9;
    char label[128], ends[110];

    for (size_t i = 0; i < angles->windows; i++) {
        double x0 = ww_panel_x(panel, angles->window[i].from / WW_DEGREE);
        double x1 = ww_panel_x(panel, angles->window[i].to / WW_DEGREE), middle = (x0 + x1) / 2;
        double next = i + 1 < angles->windows
                          ? ww_panel_x(panel, (angles->window[i + 1].from + angles->window[i + 1].to) / 2 / WW_DEGREE)
                          : panel->box.x + panel->box.w + 160;
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, x0, y, x1, y, 3.5);
        ww_canvas_stroke(canvas, x0, y - 6, x0, y + 9, 3.5);
        ww_canvas_stroke(canvas, x1, y - 6, x1, y + 9, 3.5);
        write_window(ends, sizeof ends, &angles->window[i]);
        (void)snprintf(label, sizeof label, "safe %s", ends);
        double room = 2 * fmin(middle - last, (next + middle) / 2 - middle) - LABEL_GAP;
        const char *text = ww_text_width(canvas, small_bold, label) <= room ? label : ends;
        double w = ww_text_width(canvas, small_bold, text);
        if (w > room)
            continue;
        ww_text_patch(canvas, small_bold, middle, text_y, 0.5, text);
        last = middle + w / 2;
    }
}

/* --- the key at the right */

static void draw_sample(struct ww_canvas *canvas, double x, double y, const struct stroke *stroke)
{
    ww_canvas_ink(canvas, stroke->ink, 1);
    ww_canvas_dash(canvas, stroke->dash, stroke->dashes);
    ww_canvas_stroke(canvas, x, y, x + SAMPLE, y, stroke->width);
    ww_canvas_dash(canvas, NULL, 0);
}

static void entry(struct ww_canvas *canvas, struct ww_plot_column *column, int lines, const struct stroke *stroke,
                  const char *text)
{
    double y = ww_column_next(column, lines);

    if (stroke != NULL)
        draw_sample(canvas, column->x, y, stroke);
    ww_text_paragraph(canvas, small_type, column->x + SAMPLE + 14, y, column->room - SAMPLE - 14, lines, text);
}

static void draw_key(struct ww_canvas *canvas, struct ww_plot_column column, const struct ww_angles *angles,
                     bool revives, const double *own)
{
    static const struct stroke revival = {"", WW_INK_QUIET, 2.5, {2, 7}, 2};
    char text[160], turn[48];

    for (int i = 0; i < WW_CURVES; i++) {
        (void)snprintf(text, sizeof text, "%s", strokes[i].name);
        if (i == WW_CURVE_DESIGN && angles->turn > 0)
            (void)snprintf(text, sizeof text, "design: the worst within \xc2\xb1%s",
                           ww_angle_label(turn, sizeof turn, angles->turn));
        else if (i == WW_CURVE_DESIGN)
            (void)snprintf(text, sizeof text, "design: the worst, cloth square");
        entry(canvas, &column, i == WW_CURVE_DESIGN ? 2 : 1, &strokes[i], text);
    }
    if (angles->windows > 0) {
        double y = ww_column_next(&column, 2);
        ww_canvas_ink(canvas, WW_INK_BODY, 0.30);
        cairo_rectangle(canvas->cairo, column.x, y - 14, SAMPLE, 28);
        cairo_fill(canvas->cairo);
        ww_text_paragraph(canvas, small_type, column.x + SAMPLE + 14, y, column.room - SAMPLE - 14, 2,
                          "safe: design within the budget");
    }
    if (revives)
        entry(canvas, &column, angles->pair ? 4 : 5, &revival,
              angles->pair ? "(m, l): constant along the trace, skew grows"
                           : "(m, l): constant along the trace, difference grows");
    if (own != NULL) {
        char angle[48];
        double y = ww_column_next(&column, 1);
        ww_sheet_mark(canvas, WW_MARK_OWN, column.x + SAMPLE / 2, y);
        (void)snprintf(text, sizeof text, "this study, %s", ww_angle_label(angle, sizeof angle, *own));
        ww_text_paragraph(canvas, small_type, column.x + SAMPLE + 14, y, column.room - SAMPLE - 14, 1, text);
    }
}

/* Where the key's next entry would stand, were nothing reserved. */
static double key_end(struct ww_plot_column column, const struct ww_angles *angles, bool revives, const double *own)
{
    column.height = 0;
    for (int i = 0; i < WW_CURVES; i++)
        (void)ww_column_next(&column, i == WW_CURVE_DESIGN ? 2 : 1);
    if (angles->windows > 0)
        (void)ww_column_next(&column, 2);
    if (revives)
        (void)ww_column_next(&column, angles->pair ? 4 : 5);
    if (own != NULL)
        (void)ww_column_next(&column, 1);
    return column.y;
}

/* The key begins under what is reserved where that would part it, and there is room for it. */
static void keep_key_whole(struct ww_plot_column *column, const struct ww_angles *angles, bool revives,
                           const double *own, double bottom)
{
    struct ww_plot_column below = *column;

    below.y = column->reserved + 2 * column->height + WW_TEXT_SMALL / 2;
    if (key_end(*column, angles, revives, own) > column->reserved - column->height && below.y > column->y &&
        key_end(below, angles, revives, own) <= bottom)
        *column = below;
}

/* --- words */

static const struct ww_window *widest_window(const struct ww_angles *angles)
{
    const struct ww_window *widest = &angles->window[0];

    for (size_t i = 1; i < angles->windows; i++)
        if (angles->window[i].to - angles->window[i].from > widest->to - widest->from)
            widest = &angles->window[i];
    return widest;
}

static const struct ww_at_angle *least_design(const struct ww_angles *angles)
{
    const struct ww_at_angle *least = &angles->at[0];

    for (size_t i = 1; i < angles->count; i++)
        if (angles->at[i].design < least->design)
            least = &angles->at[i];
    return least;
}

static void write_headline(char *out, const struct ww_angles *angles)
{
    const char *what = angles->pair ? "Skew" : "Delay difference";
    const struct ww_at_angle *least = least_design(angles);
    char limit[48], first[112], second[112];
    double range = angles->at[angles->count - 1].angle - angles->at[0].angle;

    ww_time_label(limit, sizeof limit, angles->budget);
    if (!(angles->budget > 0)) {
        (void)snprintf(out, WW_TEXT_BYTES, "%s is least at %s: %s by design", what,
                       ww_angle_label(first, sizeof first, least->angle),
                       ww_time_round_label(second, sizeof second, least->design));
    } else if (angles->windows == 0) {
        (void)snprintf(out, WW_TEXT_BYTES, "No angle meets the %s budget: %s is the least, at %s", limit,
                       ww_time_round_label(second, sizeof second, least->design),
                       ww_angle_label(first, sizeof first, least->angle));
    } else if (angles->windows == 1 && angles->window[0].to - angles->window[0].from >= range * (1 - 1e-9)) {
        (void)snprintf(out, WW_TEXT_BYTES, "%s meets the %s budget at every angle", what, limit);
    } else if (angles->windows <= 2) {
        write_window(first, sizeof first, &angles->window[0]);
        write_window(second, sizeof second, &angles->window[angles->windows - 1]);
        (void)snprintf(out, WW_TEXT_BYTES, "%s meets %s from %s%s%s", what, limit, first,
                       angles->windows == 2 ? " and " : "", angles->windows == 2 ? second : "");
    } else {
        write_window(first, sizeof first, widest_window(angles));
        (void)snprintf(out, WW_TEXT_BYTES, "%s meets %s in %zu windows of angle, the widest %s", what, limit,
                       angles->windows, first);
    }
}

/* --- the page */

static struct ww_decades choose_scale(const struct ww_angles *angles, struct ww_unit *time, double room)
{
    double least = INFINITY, most = 0;

    for (size_t i = 0; i < angles->count; i++) {
        least = fmin(least, angles->at[i].median);
        most = fmax(most, fmax(angles->at[i].design, angles->at[i].worst));
    }
    *time = ww_unit_time(most > 0 ? most : angles->budget);
    if (angles->budget > 0 && (most <= 0 || angles->budget <= FARTHEST_BUDGET * most)) {
        most = fmax(most, angles->budget);
        least = fmin(least, angles->budget);
    }
    return ww_decades_choose(least, most, time->worth, room, WW_ENDS_AT_TICK);
}

static void draw_curves(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                        const struct ww_angles *angles, double worth)
{
    static const enum ww_angle_curve order[WW_CURVES] = {WW_CURVE_MEDIAN, WW_CURVE_P99, WW_CURVE_WORST,
                                                         WW_CURVE_DESIGN};

    ww_panel_clip(canvas, panel);
    for (int i = 0; i < WW_CURVES; i++) {
        const struct stroke *stroke = &strokes[order[i]];
        ww_canvas_ink(canvas, stroke->ink, 1);
        ww_canvas_dash(canvas, stroke->dash, stroke->dashes);
        ww_angle_path(canvas, panel, decades, angles, order[i], worth);
        cairo_set_line_width(canvas->cairo, stroke->width);
        cairo_stroke(canvas->cairo);
    }
    ww_canvas_dash(canvas, NULL, 0);
    ww_panel_unclip(canvas);
}

/* The study's own angle, on the curve to design by; NULL where it is not shown. */
static const double *shown_own(const struct ww_figure_angles *content)
{
    const struct ww_angles *angles = content->angles;
    const double *own = content->own_angle, rounding = 1e-9;

    return own != NULL && *own >= angles->at[0].angle - rounding &&
                   *own <= angles->at[angles->count - 1].angle + rounding
               ? own
               : NULL;
}

static void mark_own(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                     const struct ww_angles *angles, double own, double worth)
{
    size_t i = 1;

    while (i + 1 < angles->count && angles->at[i].angle < own)
        i++;
    const struct ww_at_angle *before = &angles->at[i - 1], *after = &angles->at[i];
    double share = fmin(fmax((own - before->angle) / (after->angle - before->angle), 0), 1);
    double low = ww_decades_log(decades, before->design / worth),
           high = ww_decades_log(decades, after->design / worth);
    ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(panel, own / WW_DEGREE),
                  ww_panel_y(panel, low + share * (high - low)));
}

static void draw_budget(struct ww_canvas *canvas, const struct ww_panel *panel, double y, double budget)
{
    static const struct ww_type alarm = {WW_TEXT_SMALL, true, WW_INK_ALARM};
    double right = panel->box.x + panel->box.w;
    char label[80], value[48];

    ww_canvas_ink(canvas, WW_INK_ALARM, 1);
    ww_canvas_dash(canvas, budget_dash, 4);
    ww_canvas_stroke(canvas, panel->box.x, y, right + 20, y, 3.5);
    ww_canvas_dash(canvas, NULL, 0);
    (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, budget));
    ww_text_draw(canvas, alarm, right + 28, y, 0, label);
}

/* Of a budget that is off the axis; at its end. */
static void tell_budget(struct ww_canvas *canvas, const struct ww_panel *panel, double budget, bool above)
{
    static const struct ww_type alarm = {WW_TEXT_SMALL, true, WW_INK_ALARM};
    char label[112], value[48];

    (void)snprintf(label, sizeof label, "budget %s: %s this axis", ww_time_label(value, sizeof value, budget),
                   above ? "above" : "below");
    ww_text_draw(canvas, alarm, WW_PAGE_WIDTH - WW_PAGE_MARGIN, panel->box.y + panel->box.h + 63, 1, label);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_angles *content)
{
    const struct ww_angles *angles = content->angles;
    char headline[WW_TEXT_BYTES], title[WW_TITLE_BYTES];
    struct mark mark[MOST_REVIVALS];
    struct ww_panel panel = {0};
    struct ww_unit time;

    write_headline(headline, angles);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");
    double brackets = angles->windows > 0 ? BRACKET_ROOM : BRACKET_NONE;
    struct ww_decades decades = choose_scale(angles, &time, page.h - 92 - brackets - REVIVAL_ROWS * REVIVAL_ROW);
    double left = page.x + 74 + ww_decades_width(canvas, &decades);
    panel.box = (struct ww_box){left, page.y + brackets, page.x + page.w - RIGHT - left, page.h - 92 - brackets};
    panel.y0 = log10(decades.low);
    panel.y1 = log10(decades.high);
    ww_angle_axis(canvas, &panel, angles->at[0].angle, angles->at[angles->count - 1].angle);
    int marks = collect_marks(canvas, &panel, angles, mark), rows = place_marks(mark, marks);
    panel.box.y += rows * REVIVAL_ROW;
    panel.box.h -= rows * REVIVAL_ROW;

    draw_bands(canvas, &panel, angles);
    ww_decades_grid(canvas, &panel, &decades);
    draw_marks(canvas, &panel, mark, marks, panel.box.y - brackets + 4);
    draw_curves(canvas, &panel, &decades, angles, time.worth);
    ww_delay_title(canvas->options, title, sizeof title, quantity(angles), time);
    ww_decades_axis(canvas, &panel, &decades, title);
    ww_panel_axes(canvas, &panel, "routing angle from the warp [deg]", NULL);
    draw_brackets(canvas, &panel, angles);
    const double *own = shown_own(content);
    if (own != NULL)
        mark_own(canvas, &panel, &decades, angles, *own, time.worth);

    struct ww_plot_column column = {panel.box.x + panel.box.w + 28, panel.box.y + 14, RIGHT - 28, 0, 0};
    bool shown = angles->budget > 0 && ww_decades_holds(&decades, angles->budget / time.worth);
    if (shown) {
        column.reserved = ww_panel_y(&panel, ww_decades_log(&decades, angles->budget / time.worth));
        column.height = 0.9 * WW_TEXT_SMALL;
        draw_budget(canvas, &panel, column.reserved, angles->budget);
        keep_key_whole(&column, angles, marks > 0, own, page.y + page.h);
    }
    draw_key(canvas, column, angles, marks > 0, own);
    if (angles->budget > 0 && !shown)
        tell_budget(canvas, &panel, angles->budget, angles->budget / time.worth > decades.high);
}

enum ww_status ww_figure_draw_angles(const char *path, const struct ww_figure_options *options,
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
