/* figure/compare.c - which glass: a bar for each style, with its distribution on it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The bar ends at the design worst, tolerances of the cloth included, as the table is ranked; the darker body on it is as thick as that value is likely, each to its own most;
 * the median and what 99 of 100 stay within cross it. A style whose body lies far from its end is bad seldom, one whose body swells there often.
 */
#include "figure/compare.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define FURNITURE 330.0   /* of the page, less the rows */
#define NUMBERS_FEW 160.0 /* without the budget's */
#define ROW 46.0
#define UNUSABLE_ROW 34.0
#define UNUSABLE_ROOM (2 * UNUSABLE_ROW) /* names, and a reason */
#define HEADS 92.0                       /* above the panel */
#define AXIS_ROOM 92.0                   /* under it */
#define WORST_AT 138.0                   /* ends of the columns, right of the panel */
#define CHANCE_AT 316.0
#define RANGE_END 7.0   /* half the height of the ends of a range */
#define BAR 0.74        /* of a row */
#define BODY_BINS 40    /* up to the worst */
#define NAME_ROOM 260.0 /* at most */
#define NUMBERS 330.0   /* columns at the right, less that of the resin */
#define RESIN_ROOM 190.0
#define FARTHEST_BUDGET 3.0 /* times the most that the axis still goes to reach it */
#define FLATTEST 1e-15      /* [s] least reach of the axis */

static const double p99_dash[] = {5, 4};
static const double budget_dash[] = {22, 6, 4, 6};
static const struct ww_type small_type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
static const struct ww_type small_bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
static const struct ww_type quiet_type = {WW_TEXT_SMALL, false, WW_INK_QUIET};
static const struct ww_type alarm_type = {WW_TEXT_SMALL, true, WW_INK_ALARM};

/* --- shared by the three */

double ww_compare_value(const struct ww_compared *of)
{
    return ww_compared_design(of);
}

/* Are there chances over the tolerances of the cloth? Then these are drawn, as the worst has them in it. */
static bool tolerant(const struct ww_compared *of)
{
    return of->skew.tolerant.count > 0;
}

size_t ww_compare_usable(const struct ww_figure_compare *content, const struct ww_compared **usable)
{
    size_t count = 0;

    for (size_t i = 0; i < content->comparison->count && count < WW_COMPARE_MOST; i++)
        if (content->comparison->of[i].status == WW_OK)
            usable[count++] = &content->comparison->of[i];
    return count;
}

const char *ww_compare_quantity(const struct ww_figure_compare *content)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    return ww_compare_usable(content, usable) == 0 || usable[0]->skew.pair ? "skew" : "delay difference";
}

enum ww_status ww_compare_check(const struct ww_figure_compare *content, const char *path, struct ww_error *error)
{
    const struct ww_comparison *comparison = content->comparison;
    size_t usable = 0;

    if (comparison == NULL || comparison->count == 0 || comparison->of == NULL)
        return ww_error_set(error, WW_INVALID, path, 0, "no styles to compare; give one or more");
    if (comparison->count > WW_COMPARE_MOST)
        return ww_error_set(error, WW_INVALID, path, 0, "%zu styles on one figure; give at most %d",
                            comparison->count, WW_COMPARE_MOST);
    if (!(content->budget >= 0) || !isfinite(content->budget))
        return ww_error_set(error, WW_INVALID, path, 0, "the budget must be finite and 0 or more");
    for (size_t i = 0; i < comparison->count; i++) {
        const struct ww_compared *of = &comparison->of[i];
        if (of->name == NULL)
            return ww_error_set(error, WW_INVALID, path, 0, "a style to compare has no name");
        if (of->status != WW_OK)
            continue;
        usable++;
        if (!(ww_compare_value(of) >= 0) || !isfinite(ww_compare_value(of)) || !(of->skew.median >= 0) ||
            !isfinite(of->skew.median) || !(of->skew.p99 >= 0) || !isfinite(of->skew.p99))
            return ww_error_set(error, WW_INVALID, path, 0, "values of style %.40s must be finite and 0 or more",
                                of->name);
    }
    return usable > 0 ? WW_OK
                      : ww_error_set(error, WW_INVALID, path, 0, "none of the styles can be used: none is drawn");
}

/* --- one row */

/* Chance that |value| is at most this. A bin is spread evenly over its own width. */
static double chance_within(const struct ww_distribution *d, double limit)
{
    double sum = 0;

    for (size_t i = 0; i < d->count; i++) {
        double low = d->first + ((double)i - 0.5) * d->step, high = low + d->step;
        double inside = fmin(high, limit) - fmax(low, -limit);
        sum += d->probability[i] * fmax(inside, 0) / d->step;
    }
    return sum;
}

static void draw_body(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_compared *of,
                      double middle, double worth)
{
    const struct ww_distribution *d = tolerant(of) ? &of->skew.tolerant : &of->skew.distribution;
    double chance[BODY_BINS], most = 0, before = 0, step = ww_compare_value(of) / BODY_BINS, half = BAR * ROW / 2;

    if (d->count == 0 || d->probability == NULL || !(d->step > 0) || !(step > 0))
        return;
    for (int i = 0; i < BODY_BINS; i++) {
        double within = chance_within(d, (i + 1) * step);
        chance[i] = fmax(within - before, 0);
        most = fmax(most, chance[i]);
        before = within;
    }
    if (!(most > 0))
        return;
    cairo_new_path(canvas->cairo);
    for (int i = 0; i < 2 * BODY_BINS; i++) { /* above to the end, below back */
        int bin = i < BODY_BINS ? i : 2 * BODY_BINS - 1 - i, side = i < BODY_BINS ? -1 : 1;
        double y = middle + side * half * chance[bin] / most;
        double x0 = ww_panel_x(panel, bin * step / worth), x1 = ww_panel_x(panel, (bin + 1) * step / worth);
        cairo_line_to(canvas->cairo, side < 0 ? x0 : x1, y);
        cairo_line_to(canvas->cairo, side < 0 ? x1 : x0, y);
    }
    cairo_close_path(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_BODY, 1);
    cairo_fill(canvas->cairo);
}

static void tick(struct ww_canvas *canvas, double x, double middle, const double *dash)
{
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_dash(canvas, dash, dash != NULL ? 2 : 0);
    ww_canvas_stroke(canvas, x, middle - BAR * ROW / 2, x, middle + BAR * ROW / 2, 3.5);
    ww_canvas_dash(canvas, NULL, 0);
}

/* From the lower to the upper end of what the worst may be, by how well the cloth is known. */
static void draw_range(struct ww_canvas *canvas, double x0, double x1, double middle)
{
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    ww_canvas_stroke(canvas, x0, middle, x1, middle, 2.5);
    ww_canvas_stroke(canvas, x0, middle - RANGE_END, x0, middle + RANGE_END, 2.5);
    ww_canvas_stroke(canvas, x1, middle - RANGE_END, x1, middle + RANGE_END, 2.5);
}

static void draw_bar(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_compared *of,
                     double middle, double worth)
{
    double x0 = panel->box.x, end = ww_panel_x(panel, ww_compare_value(of) / worth);

    ww_canvas_ink(canvas, WW_INK_GRID, 1);
    cairo_rectangle(canvas->cairo, x0, middle - BAR * ROW / 2, end - x0, BAR * ROW);
    cairo_fill(canvas->cairo);
    draw_body(canvas, panel, of, middle, worth);
    double median = tolerant(of) ? of->skew.tolerant_median : of->skew.median;
    double p99 = tolerant(of) ? of->skew.tolerant_p99 : of->skew.p99;
    tick(canvas, ww_panel_x(panel, median / worth), middle, NULL);
    tick(canvas, ww_panel_x(panel, p99 / worth), middle, p99_dash);
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    ww_canvas_stroke(canvas, end, middle - BAR * ROW / 2, end, middle + BAR * ROW / 2, 7);
    if (of->doubts.count > 0)
        draw_range(canvas, ww_panel_x(panel, of->doubts.low / worth), ww_panel_x(panel, of->doubts.high / worth),
                   middle);
}

/* "42 %", "0.03 %"; what is neither none nor all is not rounded to either. */
static void write_chance(char *out, size_t size, double chance)
{
    char value[32];

    if (chance > 0 && chance < 1e-4)
        (void)snprintf(out, size, "< 0.01 %%");
    else if (chance > 0.999 && chance < 1)
        (void)snprintf(out, size, "> 99.9 %%");
    else
        (void)snprintf(out, size, "%s %%", ww_value_label(value, sizeof value, 100 * chance, 0));
}

static void draw_name(struct ww_canvas *canvas, double x, double middle, double room, const char *name, bool own,
                      struct ww_type type)
{
    char text[WW_TEXT_BYTES];

    ww_text_copy(text, name, 200);
    ww_text_cut(canvas, type, room, text);
    ww_text_draw(canvas, type, x, middle, 1, text);
    if (own) {
        double at = x - ww_text_width(canvas, type, text) - 20;
        cairo_new_path(canvas->cairo);
        cairo_move_to(canvas->cairo, at, middle - 10);
        cairo_line_to(canvas->cairo, at + 10, middle);
        cairo_line_to(canvas->cairo, at, middle + 10);
        cairo_line_to(canvas->cairo, at - 10, middle);
        cairo_close_path(canvas->cairo);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        cairo_fill(canvas->cairo);
    }
}

/* "69 %", "83 % rich" */
static void draw_resin(struct ww_canvas *canvas, double right, double middle, const struct ww_compared *of)
{
    static const char *const flag[] = {"", " rich", " starved"};
    const struct ww_filling *filling = ww_compared_filling(of);
    char text[64];

    if (filling == NULL || !(filling->resin_content > 0))
        return;
    (void)snprintf(text, sizeof text, "%.0f %%%s", 100 * filling->resin_content, flag[filling->flag]);
    ww_text_draw(canvas, filling->flag != WW_RESIN_WITHIN ? alarm_type : small_type, right, middle, 1, text);
}

static void draw_row(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_figure_compare *content,
                     const struct ww_compared *of, double middle, double worth)
{
    struct ww_type type = of->own ? small_bold : small_type;
    double right = panel->box.x + panel->box.w;
    char text[64];

    draw_bar(canvas, panel, of, middle, worth);
    ww_value_label(text, sizeof text, ww_compare_value(of) / worth, 0);
    ww_text_draw(canvas, type, right + WORST_AT, middle, 1, text);
    if (content->budget > 0) {
        write_chance(text, sizeof text, tolerant(of) ? of->skew.tolerant_over_budget : of->skew.over_budget);
        ww_text_draw(canvas, type, right + CHANCE_AT, middle, 1, text);
    }
    draw_resin(canvas, right + (content->budget > 0 ? NUMBERS : NUMBERS_FEW) + RESIN_ROOM, middle, of);
}

/* What cannot be used: names, and the reason of the first; from y down. */
static void tell_unusable(struct ww_canvas *canvas, double y, const struct ww_comparison *comparison)
{
    const struct ww_compared *first = NULL;
    char names[WW_TEXT_BYTES] = "Cannot be used here: ", name[WW_TEXT_BYTES], reason[WW_TEXT_BYTES];

    for (size_t i = 0; i < comparison->count; i++) {
        size_t used = strlen(names);
        if (comparison->of[i].status == WW_OK)
            continue;
        ww_text_copy(name, comparison->of[i].name, 60);
        if (used + strlen(name) + sizeof ", " <= sizeof names) /* a line holds no more anyway */
            (void)snprintf(names + used, sizeof names - used, "%s%s", first != NULL ? ", " : "", name);
        first = first != NULL ? first : &comparison->of[i];
    }
    if (first == NULL)
        return;
    ww_text_cut(canvas, quiet_type, WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN, names);
    ww_text_draw(canvas, quiet_type, WW_PAGE_MARGIN, y, 0, names);
    ww_text_copy(name, first->name, 60);
    ww_text_copy(reason, first->error.text, 300);
    (void)snprintf(names, sizeof names, "%.60s: %.300s", name, reason);
    ww_text_cut(canvas, quiet_type, WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN, names);
    ww_text_draw(canvas, quiet_type, WW_PAGE_MARGIN, y + UNUSABLE_ROW, 0, names);
}

/* --- above the panel: key, heads of the columns, the budget's name */

static double key_item(struct ww_canvas *canvas, double x, double y, const char *text)
{
    ww_text_draw(canvas, small_type, x, y, 0, text);
    return x + ww_text_width(canvas, small_type, text) + 40;
}

static void draw_key(struct ww_canvas *canvas, double x, double y, bool pair, bool range, bool own)
{
    ww_canvas_ink(canvas, WW_INK_BODY, 1);
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x, y);
    cairo_curve_to(canvas->cairo, x + 20, y - 22, x + 30, y - 14, x + 48, y);
    cairo_curve_to(canvas->cairo, x + 30, y + 14, x + 20, y + 22, x, y);
    cairo_fill(canvas->cairo);
    x = key_item(canvas, x + 58, y, "how likely");
    tick(canvas, x, y, NULL);
    x = key_item(canvas, x + 16, y, "median");
    tick(canvas, x, y, p99_dash);
    x = key_item(canvas, x + 16, y, "99 of 100");
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    ww_canvas_stroke(canvas, x, y - 0.5 * BAR * ROW, x, y + 0.5 * BAR * ROW, 7);
    x = key_item(canvas, x + 18, y, pair ? "worst" : "largest difference of two such traces");
    if (range) {
        draw_range(canvas, x, x + 60, y);
        x = key_item(canvas, x + 76, y, "range");
    }
    if (own)
        draw_name(canvas, x + 30 + ww_text_width(canvas, small_bold, "this study's"), y, 400, "this study's", true,
                  small_bold);
}

static void draw_heads(struct ww_canvas *canvas, const struct ww_panel *panel, bool budget, bool resin,
                       const char *unit)
{
    double right = panel->box.x + panel->box.w, y = panel->box.y - 24;
    char text[64];

    (void)snprintf(text, sizeof text, "worst [%s]", unit);
    ww_text_draw(canvas, quiet_type, right + WORST_AT, y, 1, text);
    if (budget)
        ww_text_draw(canvas, quiet_type, right + CHANCE_AT, y, 1, "over budget");
    if (resin)
        ww_text_draw(canvas, quiet_type, right + (budget ? NUMBERS : NUMBERS_FEW) + RESIN_ROOM, y, 1, "resin");
}

static void draw_budget(struct ww_canvas *canvas, const struct ww_panel *panel, double budget, double worth)
{
    double x = ww_panel_x(panel, budget / worth), bottom = panel->box.y + panel->box.h, y = panel->box.y - 24;
    char label[80], value[48];

    ww_canvas_ink(canvas, WW_INK_ALARM, 1);
    ww_canvas_dash(canvas, budget_dash, 4);
    ww_canvas_stroke(canvas, x, bottom, x, y - 14, 3.5);
    ww_canvas_dash(canvas, NULL, 0);
    (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, budget));
    bool left = x + 12 + ww_text_width(canvas, alarm_type, label) > panel->box.x + panel->box.w;
    ww_text_draw(canvas, alarm_type, left ? x - 12 : x + 12, y, left ? 1 : 0, label);
}

/* --- the page */

static void write_headline(char *out, const struct ww_figure_compare *content, const struct ww_compared **usable,
                           size_t count)
{
    const char *quantity = ww_compare_quantity(content);
    const struct ww_compared *best = NULL, *top = NULL;
    char limit[48], least[48], most[48], first[96], last[96];
    size_t meet = 0, all = count;

    count = 0; /* those that can be bought, from here on */
    for (size_t i = 0; i < all; i++) {
        if (ww_compared_flag(usable[i]) != WW_RESIN_WITHIN)
            continue;
        count++;
        meet += ww_compare_value(usable[i]) <= content->budget;
        best = best == NULL || ww_compare_value(usable[i]) < ww_compare_value(best) ? usable[i] : best;
        top = top == NULL || ww_compare_value(usable[i]) > ww_compare_value(top) ? usable[i] : top;
    }
    if (best == NULL || top == NULL) {
        (void)snprintf(out, WW_TEXT_BYTES, "None of these can be recommended: %s",
                       ww_resin_flag_name(ww_compared_flag(usable[0])));
        return;
    }
    ww_text_copy(first, ww_compared_name(best), 40);
    ww_text_copy(last, ww_compared_name(top), 40);
    ww_time_label(limit, sizeof limit, content->budget);
    ww_time_round_label(least, sizeof least, ww_compare_value(best));
    ww_time_round_label(most, sizeof most, ww_compare_value(top));
    if (count == 1 && content->budget > 0)
        (void)snprintf(out, WW_TEXT_BYTES, "Worst %s on %s: %s, %s the %s budget", quantity, first, least,
                       meet > 0 ? "within" : "over", limit);
    else if (count == 1)
        (void)snprintf(out, WW_TEXT_BYTES, "Worst %s on %s: %s", quantity, first, least);
    else if (!(content->budget > 0))
        (void)snprintf(out, WW_TEXT_BYTES, "Worst %s from %s on %s to %s on %s", quantity, least, first, most, last);
    else if (meet == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "None of these %zu meets %s at worst; %s comes nearest: %s", count, limit,
                       first, least);
    else
        (void)snprintf(out, WW_TEXT_BYTES, "%zu of these %zu %s %s at worst; least: %s, %s", meet, count,
                       meet == 1 ? "meets" : "meet", limit, first, least);
}

static double names_width(struct ww_canvas *canvas, const struct ww_compared **usable, size_t count)
{
    double widest = 60;

    for (size_t i = 0; i < count; i++) {
        char text[WW_TEXT_BYTES];
        ww_text_copy(text, ww_compared_name(usable[i]), 200);
        widest = fmax(widest, ww_text_width(canvas, small_bold, text));
    }
    return fmin(widest, NAME_ROOM);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_compare *content)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    size_t count = ww_compare_usable(content, usable), others = content->comparison->count - count;
    char headline[WW_TEXT_BYTES], title[WW_TITLE_BYTES];
    double most = FLATTEST;
    bool own = false, resin = false;

    assert(count > 0); /* ww_compare_check has seen to it */
    for (size_t i = 0; i < count; i++)
        most = fmax(most, fmax(ww_compare_value(usable[i]), usable[i]->doubts.high));
    for (size_t i = 0; i < count; i++)
        own = own || usable[i]->own;
    for (size_t i = 0; i < count; i++)
        resin = resin || (ww_compared_filling(usable[i]) && ww_compared_filling(usable[i])->resin_content > 0);
    bool budget = content->budget > 0 && content->budget <= FARTHEST_BUDGET * most;
    double reach = budget ? fmax(most, content->budget) : most;
    struct ww_unit time = ww_unit_time(reach);
    write_headline(headline, content, usable, count);
    struct ww_box page = ww_canvas_furniture(canvas, headline, content->subject != NULL ? content->subject : "");

    double numbers = (content->budget > 0 ? NUMBERS : NUMBERS_FEW) + (resin ? RESIN_ROOM : 0);
    double names = names_width(canvas, usable, count), left = page.x + names + 56;
    struct ww_panel panel = {.box = {left, page.y + HEADS, page.x + page.w - numbers - left,
                                     page.h - HEADS - AXIS_ROOM - (others > 0 ? UNUSABLE_ROOM : 0)},
                             .x1 = 1.04 * reach / time.worth};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    panel.y1 = 1;
    ww_panel_grid(canvas, &panel);
    draw_key(canvas, left, page.y + 20, usable[0]->skew.pair, usable[0]->doubts.count > 0, own);
    for (size_t i = 0; i < count; i++) {
        double middle = panel.box.y + ((double)i + 0.5) / (double)count * panel.box.h;
        bool own_row = usable[i]->own;
        draw_row(canvas, &panel, content, usable[i], middle, time.worth);
        draw_name(canvas, left - 16, middle, names, ww_compared_name(usable[i]), own_row,
                  own_row ? small_bold : small_type);
    }
    if (budget)
        draw_budget(canvas, &panel, content->budget, time.worth);
    ww_delay_title(canvas->options, title, sizeof title, usable[0]->skew.pair ? "|skew|" : "delay difference", time);
    ww_panel_axes(canvas, &panel, title, NULL);
    draw_heads(canvas, &panel, content->budget > 0, resin, time.name);
    tell_unusable(canvas, panel.box.y + panel.box.h + AXIS_ROOM + UNUSABLE_ROW / 2, content->comparison);
}

enum ww_status ww_figure_draw_compare(const char *path, const struct ww_figure_options *options,
                                      const struct ww_figure_compare *content, struct ww_error *error)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    struct ww_canvas canvas;
    enum ww_status status = ww_compare_check(content, path, error);

    if (status == WW_OK) {
        size_t count = ww_compare_usable(content, usable), others = content->comparison->count - count;
        double height = FURNITURE + HEADS + AXIS_ROOM + ROW * (double)count + (others > 0 ? UNUSABLE_ROOM : 0);
        status = ww_canvas_open(&canvas, path, options, height, error);
    }
    if (status != WW_OK)
        return status;
    draw(&canvas, content);
    return ww_canvas_close(&canvas, error);
}
