/* figure/distribution.c - how likely is it: the distribution of |skew| against the budget.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Bars of a round width, each as high as the chance to land in it; the chance over budget is then an area one can
 * see. A bin of the distribution is spread evenly over its own width when it falls into two bars.
 */
#include <math.h>
#include <stdlib.h>

#include "figure/canvas.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1100.0
#define BARS 60        /* at most */
#define BARS_ROOM 128  /* bars of a round width that may come of it */
#define FLATTEST 1e-15 /* [s] least reach of the axis */
#define AXIS_ROOM 92.0 /* under the panel: tick labels and axis title */
#define NOTE_DROP 63.0 /* from the panel to the middle of the axis title */
#define FLAG_ROW 38.0
#define FLAG_GAP 12.0
#define FLAGS 5
#define FARTHEST_BUDGET 3.0 /* worst cases out that the axis still goes to reach it */
#define SWATCH 38.0

struct bars {
    double width; /* [s] */
    int count;
    double chance[BARS_ROOM];
};

struct flag {
    double value; /* [s] */
    const char *name;
    double dash[4];
    int dashes;
    enum ww_ink ink;
};

static enum ww_status check(const struct ww_figure_distribution *content, const char *path, struct ww_error *error)
{
    const struct ww_distribution *d = content->distribution;

    if (d == NULL || d->probability == NULL || d->count == 0 || !(d->step > 0) || !isfinite(d->first + d->step))
        return ww_error_set(error, WW_INVALID, path, 0, "no distribution to draw; give one with bins of a width");
    if (!isfinite(content->median + content->p95 + content->p99 + content->worst) || !(content->budget >= 0) ||
        !isfinite(content->budget) || !(content->over_budget >= 0 && content->over_budget <= 1))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "median, percentiles, worst and budget must be finite, the chance from 0 to 1");
    return WW_OK;
}

/* The budget is drawn where it is not so far out that the bars would shrink to a sliver. */
static bool budget_drawn(const struct ww_figure_distribution *content)
{
    return content->budget > 0 && content->budget <= FARTHEST_BUDGET * content->worst;
}

static double reach_of(const struct ww_figure_distribution *content)
{
    double reach = fmax(fmax(fabs(content->worst), fabs(content->p99)), FLATTEST);
    return budget_drawn(content) ? fmax(reach, content->budget) : reach;
}

/* --- bars */

/* Spread chance evenly over [from, to] (0 <= from < to). */
static void add_segment(struct bars *bars, double from, double to, double chance)
{
    int first = (int)fmin(from / bars->width, bars->count - 1), last = (int)fmin(to / bars->width, bars->count - 1);

    for (int i = first; i <= last; i++) {
        double begin = fmax(from, i * bars->width), end = fmin(to, (i + 1) * bars->width);
        if (i == bars->count - 1)
            end = to;
        if (end > begin)
            bars->chance[i] += chance * (end - begin) / (to - from);
    }
}

static void fold(struct bars *bars, double low, double high, double chance)
{
    if (low >= 0) {
        add_segment(bars, low, high, chance);
    } else if (high <= 0) {
        add_segment(bars, -high, -low, chance);
    } else {
        double negative = -low / (high - low);
        add_segment(bars, 0, -low, chance * negative);
        add_segment(bars, 0, high, chance * (1 - negative));
    }
}

static void fill_bars(struct bars *bars, const struct ww_distribution *distribution, double reach)
{
    *bars = (struct bars){.width = ww_ticks_choose(0, reach, BARS).step};
    bars->count = (int)fmin(ceil(reach / bars->width - 1e-9), BARS_ROOM);
    for (size_t i = 0; i < distribution->count; i++) {
        double value = distribution->first + (double)i * distribution->step, half = distribution->step / 2;
        if (distribution->probability[i] > 0)
            fold(bars, value - half, value + half, distribution->probability[i]);
    }
}

static double tallest(const struct bars *bars)
{
    double most = 0;
    for (int i = 0; i < bars->count; i++)
        most = fmax(most, bars->chance[i]);
    return most;
}

static void bars_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct bars *bars, double worth)
{
    double base = ww_panel_y(panel, 0);

    for (int i = 0; i < bars->count; i++) {
        double x0 = ww_panel_x(panel, i * bars->width / worth);
        double x1 = ww_panel_x(panel, (i + 1) * bars->width / worth);
        double y = ww_panel_y(panel, 100 * bars->chance[i]);
        cairo_rectangle(canvas->cairo, x0 + 0.75, y, x1 - x0 - 1.5, base - y);
    }
}

/* Slanted strokes over the clip: the part over budget reads in grey too. */
static void hatch(struct ww_canvas *canvas, const struct ww_box *box)
{
    ww_canvas_ink(canvas, WW_INK_PAPER, 0.75);
    for (double x = box->x - box->h; x < box->x + box->w; x += 16)
        ww_canvas_stroke(canvas, x, box->y + box->h, x + box->h, box->y, 3);
}

static void draw_bars(struct ww_canvas *canvas, const struct ww_panel *panel, const struct bars *bars, double worth,
                      double budget)
{
    const struct ww_box *box = &panel->box;

    ww_panel_clip(canvas, panel);
    bars_path(canvas, panel, bars, worth);
    ww_canvas_ink(canvas, WW_INK_BODY, 1);
    cairo_fill(canvas->cairo);
    if (budget > 0) {
        double x = ww_panel_x(panel, budget / worth);
        cairo_rectangle(canvas->cairo, x, box->y, box->x + box->w - x, box->h);
        cairo_clip(canvas->cairo);
        bars_path(canvas, panel, bars, worth);
        cairo_clip(canvas->cairo);
        ww_canvas_ink(canvas, WW_INK_ALARM, 1);
        cairo_paint(canvas->cairo);
        hatch(canvas, box);
    }
    ww_panel_unclip(canvas);
}

static void draw_swatch(struct ww_canvas *canvas, double x, double y)
{
    struct ww_box box = {x, y - 13, SWATCH, 26};

    cairo_save(canvas->cairo);
    cairo_rectangle(canvas->cairo, box.x, box.y, box.w, box.h);
    cairo_clip(canvas->cairo);
    ww_canvas_ink(canvas, WW_INK_ALARM, 1);
    cairo_paint(canvas->cairo);
    hatch(canvas, &box);
    cairo_restore(canvas->cairo);
}

/* --- flags */

static int compare_flags(const void *left, const void *right)
{
    const struct flag *a = left, *b = right;
    return (a->value > b->value) - (a->value < b->value);
}

static void flag_label(const struct flag *flag, struct ww_unit time, char *out, size_t size)
{
    char value[32];
    (void)snprintf(out, size, "%s %s %s", flag->name,
                   ww_value_label(value, sizeof value, flag->value / time.worth, 0), time.name);
}

static double flag_width(struct ww_canvas *canvas, const struct flag *flag, struct ww_unit time)
{
    struct ww_type type = {WW_TEXT_BODY, true, flag->ink};
    char label[96];

    flag_label(flag, time, label, sizeof label);
    return ww_text_width(canvas, type, label) + 2 * FLAG_GAP;
}

/* Sorts the flags, gives each its row, and returns the number of rows. Only the panel's extent across is used. */
static int place_flags(struct ww_canvas *canvas, const struct ww_panel *panel, struct flag *flag, int count,
                       struct ww_unit time, int *row)
{
    double x[FLAGS], w[FLAGS];
    int rows = 0;

    qsort(flag, (size_t)count, sizeof flag[0], compare_flags);
    for (int i = 0; i < count; i++) {
        x[i] = ww_panel_x(panel, flag[i].value / time.worth);
        w[i] = flag_width(canvas, &flag[i], time);
    }
    ww_flags_place(x, w, count, row);
    for (int i = 0; i < count; i++)
        rows = row[i] + 1 > rows ? row[i] + 1 : rows;
    return rows;
}

static void draw_flags(struct ww_canvas *canvas, const struct ww_panel *panel, const struct flag *flag, int count,
                       struct ww_unit time, const int *row)
{
    double bottom = panel->box.y + panel->box.h;
    char label[96];

    for (int i = 0; i < count; i++) {
        struct ww_type type = {WW_TEXT_BODY, true, flag[i].ink};
        double x = ww_panel_x(panel, flag[i].value / time.worth), y = panel->box.y - (row[i] + 0.65) * FLAG_ROW;
        ww_canvas_ink(canvas, flag[i].ink, 1);
        ww_canvas_dash(canvas, flag[i].dash, flag[i].dashes);
        ww_canvas_stroke(canvas, x, bottom, x, y - 0.4 * FLAG_ROW, 3.5);
        ww_canvas_dash(canvas, NULL, 0);
        flag_label(&flag[i], time, label, sizeof label);
        ww_text_draw(canvas, type, x + FLAG_GAP, y, 0, label);
    }
}

/* --- words */

/* "12.3 %"; what is neither none nor all is not rounded to either. */
static char *chance_label(char *out, size_t size, double chance)
{
    char value[32];

    if (chance > 0 && chance < 1e-4)
        (void)snprintf(out, size, "under 0.01 %%");
    else if (chance > 0.999 && chance < 1)
        (void)snprintf(out, size, "over 99.9 %%");
    else
        (void)snprintf(out, size, "%s %%", ww_value_label(value, sizeof value, 100 * chance, 0));
    return out;
}

static void write_headline(char *out, const struct ww_figure_distribution *content, struct ww_unit time)
{
    const char *what = content->what ? content->what : content->pair ? "Skew" : "Difference of two traces";
    const char *cases = content->what ? "case" : "placement";
    char limit[48], chance[48];

    if (content->budget > 0) {
        ww_time_label(limit, sizeof limit, content->budget);
        if (content->over_budget <= 0)
            (void)snprintf(out, WW_TEXT_BYTES, "No %s exceeds the %s budget", cases, limit);
        else
            (void)snprintf(out, WW_TEXT_BYTES, "%s exceeds the %s budget in %s of %ss", what, limit,
                           chance_label(chance, sizeof chance, content->over_budget), cases);
    } else {
        (void)snprintf(out, WW_TEXT_BYTES, "%s stays within %s %s in 95 %% of %ss", what,
                       ww_value_label(limit, sizeof limit, content->p95 / time.worth, 0), time.name, cases);
    }
}

static void write_subline(char *out, const struct ww_figure_distribution *content)
{
    const char *subject = content->subject != NULL ? content->subject : "";
    (void)snprintf(out, WW_TEXT_BYTES, "%s%s%.300s", content->what ? "" : "Over every placement on the cloth",
                   subject[0] && !content->what ? "; " : "", subject);
}

/* What the hatched part is, or where the budget is if not on the axis; at the right of the axis title. */
static void draw_budget_note(struct ww_canvas *canvas, const struct ww_panel *panel,
                             const struct ww_figure_distribution *content)
{
    static const struct ww_type type = {WW_TEXT_SMALL, false, WW_INK_TEXT};
    double right = WW_PAGE_WIDTH - WW_PAGE_MARGIN, y = panel->box.y + panel->box.h + NOTE_DROP;
    char note[WW_TEXT_BYTES], limit[48], chance[48];

    if (content->budget <= 0)
        return;
    ww_time_label(limit, sizeof limit, content->budget);
    chance_label(chance, sizeof chance, content->over_budget);
    if (!budget_drawn(content))
        (void)snprintf(note, sizeof note, "budget %s: beyond this axis", limit);
    else if (content->over_budget > 0)
        (void)snprintf(note, sizeof note, "over budget: %s", chance);
    else
        return;
    ww_text_draw(canvas, type, right, y, 1, note);
    if (budget_drawn(content))
        draw_swatch(canvas, right - ww_text_width(canvas, type, note) - 14 - SWATCH, y);
}

/* --- the page */

static void draw(struct ww_canvas *canvas, const struct ww_figure_distribution *content)
{
    struct flag flag[FLAGS] = {{content->median, "median", {0}, 0, WW_INK_TEXT},
                               {content->p95, "95 of 100:", {14, 6}, 2, WW_INK_TEXT},
                               {content->p99, "99 of 100:", {4, 5}, 2, WW_INK_TEXT},
                               {content->worst, "worst", {0}, 0, WW_INK_TEXT},
                               {content->budget, "budget", {22, 6, 4, 6}, 4, WW_INK_ALARM}};
    int flags = budget_drawn(content) ? FLAGS : FLAGS - 1;
    const char *what = content->axis   ? content->axis
                       : content->what ? "|difference of two circuits|"
                       : content->pair ? "|skew|"
                                       : "|difference of two traces|";
    double reach = reach_of(content);
    struct ww_unit time = ww_unit_time(reach);
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], x_title[WW_TITLE_BYTES], y_title[96], value[32];
    int row[FLAGS];
    struct bars bars;

    fill_bars(&bars, content->distribution, reach);
    write_headline(headline, content, time);
    write_subline(subline, content);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);

    struct ww_panel panel = {.x0 = 0, .y0 = 0, .y1 = 100 * fmax(tallest(&bars), 1e-6) * 1.06};
    panel.x1 = fmax(reach, bars.count * bars.width) * 1.02 / time.worth;
    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - FLAGS * FLAG_ROW - AXIS_ROOM);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    double room = 0; /* right of the panel, at whose edge any flag may stand */
    for (int i = 0; i < flags; i++)
        room = fmax(room, flag_width(canvas, &flag[i], time));
    panel.box = (struct ww_box){left, page.y, page.x + page.w - room - left, page.h - AXIS_ROOM};
    int rows = place_flags(canvas, &panel, flag, flags, time, row);
    panel.box.y += rows * FLAG_ROW;
    panel.box.h -= rows * FLAG_ROW;
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);

    ww_panel_grid(canvas, &panel);
    draw_bars(canvas, &panel, &bars, time.worth, budget_drawn(content) ? content->budget : 0);
    ww_delay_title(canvas->options, x_title, sizeof x_title, what, time);
    (void)snprintf(y_title, sizeof y_title, "chance per %s %s [%%]",
                   ww_size_label(value, sizeof value, bars.width / time.worth, 3), time.name);
    ww_panel_axes(canvas, &panel, x_title, y_title);
    draw_flags(canvas, &panel, flag, flags, time, row);
    draw_budget_note(canvas, &panel, content);
}

enum ww_status ww_figure_draw_distribution(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_distribution *content, struct ww_error *error)
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
