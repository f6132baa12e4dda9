/* figure/budget.c - what makes two circuits differ: a bar for each cause, and the whole beneath.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A cause's bar ends where 99 of 100 pairs of circuits that do not share it stay within; its colour says between which circuits it
 * differs, and so does the word at the right. The whole: pale to the worst, coloured to 99 of 100, a tick at the root of the sum of
 * squares. Where the budget is of what a bar shows, its mark stands on that bar.
 */
#include "figure/canvas.h"

#include <math.h>
#include <string.h>

#define FURNITURE 280.0 /* of the page, less the rows */
#define ROW 46.0
#define BAR 0.66       /* of a row */
#define GAP 34.0       /* between causes and the whole */
#define HEADS 92.0     /* above the panel */
#define AXIS_ROOM 92.0 /* under it */
#define VALUE_AT 120.0 /* ends of the columns, right of the panel */
#define PHASE_AT 250.0
#define SHARE_AT 380.0
#define NUMBERS 400.0
#define SHARED (-2.0)
#define FLATTEST 1e-15 /* [s] least reach of the axis */

enum { LEVELS = 3, ROWS_MOST = WW_CAUSES + LEVELS + 1 };

static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type small_bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
static const struct ww_type quiet_type = {WW_TEXT_SMALL, false, WW_INK_QUIET};
static const struct ww_type alarm_type = {WW_TEXT_SMALL, true, WW_INK_ALARM};
static const double squares_dash[] = {5, 4};
static const enum ww_ink scope_ink[LEVELS] = {WW_INK_LEG2, WW_INK_BODY, WW_INK_LEG1};
static const char *const scope_text[LEVELS] = {"within a board", "board to board", "over life"};

struct row {
    char name[64];
    bool bold, whole;
    enum ww_ink ink;
    double p99, squares, worst; /* [s]; squares 0: no tick */
    double share;               /* below 0: none; SHARED: by the circuits that are judged */
    bool judged;
};

struct rows {
    const struct ww_budget *budget;
    size_t causes, count;
    struct row row[ROWS_MOST];
    double most;
};

static enum ww_status check(const struct ww_figure_budget *content, const char *path, struct ww_error *error)
{
    const struct ww_budget *b = content->budget;
    if (b == NULL || !(b->budget >= 0) || !isfinite(b->budget) || !isfinite(b->skew_worst) || !(b->skew_p99 >= 0))
        return ww_error_set(error, WW_INVALID, path, 0, "no budget to draw, or one that is not finite");
    for (int i = 0; i < LEVELS; i++)
        if (!(b->level[i].p99 >= 0) || !isfinite(b->level[i].worst))
            return ww_error_set(error, WW_INVALID, path, 0, "sums of the budget must be finite and 0 or more");
    for (int i = 0; i < WW_CAUSES; i++)
        if (b->cause[i].given &&
            (!(b->cause[i].differ[WW_OBSERVED_DELAY] >= 0) || !isfinite(b->cause[i].differ[WW_OBSERVED_DELAY])))
            return ww_error_set(error, WW_INVALID, path, 0, "causes of the budget must be finite and 0 or more");
    return WW_OK;
}

/* Causes, the largest first, ties by their order. */
static void sort_causes(struct rows *rows)
{
    for (size_t i = 1; i < rows->causes; i++) {
        struct row moved = rows->row[i];
        size_t at = i;
        for (; at > 0 && rows->row[at - 1].p99 < moved.p99; at--)
            rows->row[at] = rows->row[at - 1];
        rows->row[at] = moved;
    }
}

static void add_whole(struct rows *rows)
{
    static const char *const name[LEVELS] = {"two of one board", "two of two boards", "two over life"};
    const struct ww_budget *b = rows->budget;
    for (int i = 0; i < LEVELS; i++) {
        struct row *row = &rows->row[rows->count++];
        *row = (struct row){.whole = true, .bold = i == (int)b->between, .ink = scope_ink[i], .share = -1};
        (void)snprintf(row->name, sizeof row->name, "%s", name[i]);
        row->p99 = b->level[i].p99;
        row->squares = b->level[i].root_squares;
        row->worst = b->level[i].worst;
        row->judged = !b->pair && i == (int)b->between;
    }
    if (b->pair) {
        struct row *row = &rows->row[rows->count++];
        *row = (struct row){.whole = true, .bold = true, .ink = WW_INK_LEG2, .share = -1, .judged = true};
        (void)snprintf(row->name, sizeof row->name, "skew of the pair");
        row->p99 = b->skew_p99;
        row->worst = b->skew_worst;
    }
}

static void list_rows(struct rows *rows, const struct ww_budget *budget)
{
    *rows = (struct rows){.budget = budget, .most = FLATTEST};
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &budget->cause[i];
        if (!cause->given)
            continue;
        struct row *row = &rows->row[rows->count++];
        *row = (struct row){.bold = cause->kind == WW_CAUSE_WEAVE,
                            .ink = scope_ink[cause->tolerance.scope],
                            .p99 = cause->differ[WW_OBSERVED_DELAY],
                            .share = cause->tolerance.scope <= budget->between ? cause->share : SHARED};
        (void)snprintf(row->name, sizeof row->name, "%s", cause->name);
    }
    rows->causes = rows->count;
    sort_causes(rows);
    add_whole(rows);
    for (size_t i = 0; i < rows->count; i++)
        rows->most = fmax(rows->most, fmax(rows->row[i].p99, rows->row[i].worst));
    rows->most = fmax(rows->most, budget->budget <= 2 * rows->most ? budget->budget : 0);
}

/* --- rows ------------------------------------------------------------------------------------------------------------------ */

static void fill(struct ww_canvas *canvas, enum ww_ink ink, double x0, double x1, double middle)
{
    ww_canvas_ink(canvas, ink, 1);
    cairo_rectangle(canvas->cairo, x0, middle - BAR * ROW / 2, x1 - x0, BAR * ROW);
    cairo_fill(canvas->cairo);
}

static void outline(struct ww_canvas *canvas, double x0, double x1, double middle)
{
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 3.5);
    cairo_rectangle(canvas->cairo, x0, middle - BAR * ROW / 2, x1 - x0, BAR * ROW);
    cairo_stroke(canvas->cairo);
}

static void draw_budget(struct ww_canvas *canvas, double x, double middle)
{
    ww_canvas_ink(canvas, WW_INK_ALARM, 1);
    ww_canvas_stroke(canvas, x, middle - ROW / 2, x, middle + ROW / 2, 6);
}

static void draw_row(struct ww_canvas *canvas, const struct ww_panel *panel, const struct rows *rows,
                     const struct row *row, double middle, double worth)
{
    double x0 = panel->box.x, right = x0 + panel->box.w, end = ww_panel_x(panel, row->p99 / worth);
    const struct ww_budget *b = rows->budget;
    struct ww_type type = row->bold ? small_bold : small_type;
    char text[64];
    if (row->whole)
        fill(canvas, WW_INK_GRID, x0, ww_panel_x(panel, row->worst / worth), middle);
    fill(canvas, row->ink, x0, end, middle);
    if (row->bold && !row->whole)
        outline(canvas, x0, end, middle);
    if (row->squares > 0) {
        double x = ww_panel_x(panel, row->squares / worth);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_dash(canvas, squares_dash, 2);
        ww_canvas_stroke(canvas, x, middle - BAR * ROW / 2, x, middle + BAR * ROW / 2, 3.5);
        ww_canvas_dash(canvas, NULL, 0);
    }
    if (row->judged && b->budget > 0 && b->budget <= rows->most)
        draw_budget(canvas, ww_panel_x(panel, b->budget / worth), middle);
    ww_text_draw(canvas, type, x0 - 16, middle, 1, row->name);
    ww_text_draw(canvas, type, right + VALUE_AT, middle, 1, ww_value_label(text, sizeof text, row->p99 / worth, 0));
    if (b->frequency > 0)
        ww_text_draw(canvas, type, right + PHASE_AT, middle, 1,
                     ww_value_label(text, sizeof text, 360 * b->frequency * row->p99, 0));
    if (row->share >= 0) {
        (void)snprintf(text, sizeof text, "%.1f %%", 100 * row->share);
        ww_text_draw(canvas, type, right + SHARE_AT, middle, 1, text);
    } else if (row->share == SHARED) {
        ww_text_draw(canvas, quiet_type, right + SHARE_AT, middle, 1, "shared");
    }
}

/* --- around them ----------------------------------------------------------------------------------------------------------- */

static double key_item(struct ww_canvas *canvas, double x, double y, const char *text)
{
    ww_text_draw(canvas, small_type, x, y, 0, text);
    return x + ww_text_width(canvas, small_type, text) + 34;
}

static void draw_key(struct ww_canvas *canvas, double x, double y)
{
    for (int i = 0; i < LEVELS; i++) {
        fill(canvas, scope_ink[i], x, x + 34, y);
        x = key_item(canvas, x + 44, y, scope_text[i]);
    }
    fill(canvas, WW_INK_GRID, x, x + 34, y);
    x = key_item(canvas, x + 44, y, "to the worst");
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_dash(canvas, squares_dash, 2);
    ww_canvas_stroke(canvas, x + 4, y - BAR * ROW / 2, x + 4, y + BAR * ROW / 2, 3.5);
    ww_canvas_dash(canvas, NULL, 0);
    key_item(canvas, x + 18, y, "root of squares");
}

static void draw_heads(struct ww_canvas *canvas, const struct ww_panel *panel, const struct rows *rows,
                       const char *unit)
{
    double right = panel->box.x + panel->box.w, y = panel->box.y - 24;
    char text[96], value[48];
    ww_text_draw(canvas, quiet_type, right + VALUE_AT, y, 1, unit);
    if (rows->budget->frequency > 0)
        ww_text_draw(canvas, quiet_type, right + PHASE_AT, y, 1, "deg");
    ww_text_draw(canvas, quiet_type, right + SHARE_AT, y, 1, "variance");
    if (!(rows->budget->budget > 0))
        return;
    double x = panel->box.x;
    if (rows->budget->budget <= rows->most)
        draw_budget(canvas, x + 6, y);
    (void)snprintf(text, sizeof text, "budget %s of %s%s", ww_time_label(value, sizeof value, rows->budget->budget),
                   rows->budget->pair ? "the skew" : "the bold sum",
                   rows->budget->budget <= rows->most ? "" : ", beyond this axis");
    ww_text_draw(canvas, alarm_type, x + 22, y, 0, text);
}

static void write_headline(char *out, const struct rows *rows)
{
    const struct row *first = &rows->row[0];
    char value[48], limit[48];
    const struct ww_budget *b = rows->budget;
    if (rows->causes == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "Nothing is given that makes two circuits differ");
    else if (b->budget > 0)
        (void)snprintf(out, WW_TEXT_BYTES, "99 of 100 stay within %s, %s the budget of %s; leading: %s",
                       ww_time_round_label(value, sizeof value, b->judged),
                       b->judged <= b->budget ? "within" : "over", ww_time_label(limit, sizeof limit, b->budget),
                       ww_budget_leading(b) ? ww_budget_leading(b)->name : first->name);
    else
        (void)snprintf(out, WW_TEXT_BYTES, "Two circuits differ most by %s: %s", first->name,
                       ww_time_round_label(value, sizeof value, first->p99));
}

static double row_middle(const struct rows *rows, double top, size_t i)
{
    return top + ((double)i + 0.5) * ROW + (i >= rows->causes ? GAP : 0);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_budget *content)
{
    struct rows rows;
    char headline[WW_TEXT_BYTES], title[128];
    double names = 60;
    list_rows(&rows, content->budget);
    struct ww_unit time = ww_unit_time(rows.most);
    write_headline(headline, &rows);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");
    for (size_t i = 0; i < rows.count; i++)
        names = fmax(names, ww_text_width(canvas, small_bold, rows.row[i].name));
    double left = page.x + names + 24;
    struct ww_panel panel = {
        .box = {left, page.y + HEADS, page.x + page.w - NUMBERS - left, page.h - HEADS - AXIS_ROOM},
        .x1 = 1.04 * rows.most / time.worth,
        .y1 = 1};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_panel_grid(canvas, &panel);
    draw_key(canvas, page.x, page.y + 20);
    for (size_t i = 0; i < rows.count; i++)
        draw_row(canvas, &panel, &rows, &rows.row[i], row_middle(&rows, panel.box.y, i), time.worth);
    (void)snprintf(title, sizeof title, "delay difference of two circuits, 99 of 100 [%s]", time.name);
    ww_panel_axes(canvas, &panel, title, NULL);
    draw_heads(canvas, &panel, &rows, time.name);
}

enum ww_status ww_figure_draw_budget(const char *path, const struct ww_figure_options *options,
                                     const struct ww_figure_budget *content, struct ww_error *error)
{
    struct ww_canvas canvas;
    struct rows rows;
    enum ww_status status = check(content, path, error);
    if (status == WW_OK) {
        list_rows(&rows, content->budget);
        status = ww_canvas_open(&canvas, path, options,
                                FURNITURE + HEADS + AXIS_ROOM + GAP + ROW * (double)rows.count, error);
    }
    if (status != WW_OK)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}
