/* figure/compare_angles.c - design curves of several styles over angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each curve has its own dashes, and its name at its end. More than eight cannot be told apart: then the least, the most
 * and the study's own are, and the others are the grey field they stand against.
 */
#include <assert.h>
#include <math.h>

#include "figure/compare.h"
#include "figure/over_angle.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 1140.0
#define ROUGH_HEIGHT 740.0 /* of the panel, for the choice of ticks */
#define RIGHT 330.0
#define TOLD (0.1 * WW_DEGREE) /* to which a safe turn is rounded up */
#define STROKES 8
#define FARTHEST_BUDGET 10.0 /* times the most that the axis still goes to reach it */
#define ENDS 3               /* least, and most, that are told apart among many */
#define LABEL_STEP 36.0      /* least distance of two labels */
#define SAMPLE 56.0          /* of a line beside its name */

struct stroke {
    enum ww_ink ink;
    double width;
    double dash[6];
    int dashes;
};
static const struct stroke strokes[STROKES] = {
    {WW_INK_LEG1, 5, {0}, 0},           {WW_INK_TEXT, 4, {20, 8}, 2}, {WW_INK_LEG2, 5, {4, 6}, 2},
    {WW_INK_LEG1, 4, {22, 6, 4, 6}, 4}, {WW_INK_TEXT, 3, {10, 6}, 2}, {WW_INK_LEG2, 5, {26, 7, 8, 7}, 4},
    {WW_INK_TEXT, 4, {2, 8}, 2},        {WW_INK_LEG2, 3, {0}, 0},
};
static const struct stroke budget_stroke = {WW_INK_ALARM, 3.5, {22, 6, 4, 6}, 4};

/* One line with a label: a style, or the budget. */
struct line {
    const struct ww_compared *of; /* NULL: the budget */
    const struct stroke *stroke;  /* NULL: one of the grey ones */
    double y;                     /* on the page, where it ends */
};

static enum ww_status check(const struct ww_figure_compare *content, const char *path, struct ww_error *error)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    enum ww_status status = ww_compare_check(content, path, error);
    size_t count = status == WW_OK ? ww_compare_usable(content, usable) : 0;

    for (size_t i = 0; i < count; i++)
        if (!ww_angles_sound(&usable[i]->angles))
            return ww_error_set(error, WW_INVALID, path, 0,
                                "style %.40s has no curve over angle; give angles in ascending order with values of "
                                "0 or more",
                                usable[i]->name);
    return status;
}

/* The few that are drawn in colour get a stroke, the others none. */
static size_t choose_lines(const struct ww_figure_compare *content, struct line *line)
{
    const struct ww_compared *usable[WW_COMPARE_MOST];
    size_t count = ww_compare_usable(content, usable);
    int used = 0;

    for (size_t i = 0; i < count; i++) {
        bool told = count <= STROKES || i < ENDS || i + ENDS >= count || usable[i]->own;
        line[i] = (struct line){usable[i], told && used < STROKES ? &strokes[used] : NULL, 0};
        used += told;
    }
    return count;
}

static void stroke_line(struct ww_canvas *canvas, const struct stroke *stroke)
{
    ww_canvas_ink(canvas, stroke != NULL ? stroke->ink : WW_INK_QUIET, stroke != NULL ? 1 : 0.45);
    ww_canvas_dash(canvas, stroke != NULL ? stroke->dash : NULL, stroke != NULL ? stroke->dashes : 0);
    cairo_set_line_width(canvas->cairo, stroke != NULL ? stroke->width : 1.6);
    cairo_stroke(canvas->cairo);
    ww_canvas_dash(canvas, NULL, 0);
}

/* --- names at the ends */

static void write_name(char *out, const struct ww_figure_compare *content, const struct line *line)
{
    char value[48];

    if (line->of == NULL)
        (void)snprintf(out, WW_TEXT_BYTES, "budget %s", ww_time_label(value, sizeof value, content->budget));
    else
        ww_text_copy(out, ww_compared_name(line->of), 100);
}

static void draw_names(struct ww_canvas *canvas, const struct ww_panel *panel,
                       const struct ww_figure_compare *content, struct line *line, size_t count)
{
    double at[WW_LABELS_MOST], right = panel->box.x + panel->box.w, x = right + 46;
    int order[WW_LABELS_MOST], named = 0;
    char name[WW_TEXT_BYTES];

    for (size_t i = 0; i < count; i++) { /* insert by height */
        int place = named;
        if (line[i].stroke == NULL)
            continue;
        for (; place > 0 && line[order[place - 1]].y > line[i].y; place--)
            order[place] = order[place - 1];
        order[place] = (int)i;
        named++;
    }
    for (int i = 0; i < named; i++)
        at[i] = line[order[i]].y;
    ww_labels_apart(at, named, LABEL_STEP, panel->box.y + 12, panel->box.y + panel->box.h - 12);
    for (int i = 0; i < named; i++) {
        const struct line *here = &line[order[i]];
        bool own = here->of != NULL && here->of->own;
        struct ww_type type = {WW_TEXT_SMALL, own || here->of == NULL, here->of == NULL ? WW_INK_ALARM : WW_INK_TEXT};
        ww_canvas_ink(canvas, WW_INK_QUIET, 1);
        ww_canvas_stroke(canvas, right, here->y, x - 6, at[i], 1.6);
        cairo_move_to(canvas->cairo, x, at[i]);
        cairo_line_to(canvas->cairo, x + SAMPLE, at[i]);
        stroke_line(canvas, here->stroke);
        write_name(name, content, here);
        ww_text_cut(canvas, type, WW_PAGE_WIDTH - WW_PAGE_MARGIN - x - SAMPLE - 12, name);
        ww_text_draw(canvas, type, x + SAMPLE + 12, at[i], 0, name);
    }
}

/* --- words */

/* How far a style's trace must turn off the warp to be safe, for the best style; without a budget, what is least where. */
static void write_headline(char *out, const struct ww_figure_compare *content, const struct line *line, size_t count)
{
    const struct ww_compared *best = NULL;
    const struct ww_at_angle *least = NULL;
    const char *on = "";
    size_t safe = 0;
    char limit[48], angle[48], name[64];

    for (size_t i = 0; i < count; i++) {
        const struct ww_angles *angles = &line[i].of->angles;
        if (ww_compared_flag(line[i].of) != WW_RESIN_WITHIN)
            continue; /* not to be recommended */
        for (size_t j = 0; j < angles->count; j++)
            if (least == NULL || angles->at[j].design < least->design) {
                least = &angles->at[j];
                on = ww_compared_name(line[i].of);
            }
        if (content->budget > 0 && angles->safe_from_warp >= 0 && angles->windows > 0) {
            safe++;
            if (best == NULL || angles->safe_from_warp < best->angles.safe_from_warp)
                best = line[i].of;
        }
    }
    ww_time_label(limit, sizeof limit, content->budget);
    ww_text_copy(name, best != NULL ? ww_compared_name(best) : on, 40);
    if (least == NULL) {
        (void)snprintf(out, WW_TEXT_BYTES, "None of these %zu can be recommended: %s", count,
                       ww_resin_flag_name(ww_compared_flag(line[0].of)));
    } else if (!(content->budget > 0)) {
        char value[48];
        (void)snprintf(out, WW_TEXT_BYTES, "Least %s by design: %s on %s at %s", ww_compare_quantity(content),
                       ww_time_round_label(value, sizeof value, least->design), name,
                       ww_angle_label(angle, sizeof angle, least->angle));
    } else if (safe == 0) {
        (void)snprintf(out, WW_TEXT_BYTES, "None of these %zu is safe at any angle shown (%s)", count, limit);
    } else {
        char which[64] = "All";
        if (safe < count)
            (void)snprintf(which, sizeof which, "%zu of these", safe);
        double turn = ceil(best->angles.safe_from_warp / TOLD - 1e-6) * TOLD;
        (void)snprintf(out, WW_TEXT_BYTES, "%s %zu %s a safe angle (%s); %s soonest, at %s", which, count,
                       safe == 1 ? "has" : "have", limit, name, ww_angle_label(angle, sizeof angle, turn));
    }
}

static void write_subline(char *out, const struct ww_figure_compare *content, const struct line *line, size_t count,
                          bool budget)
{
    size_t grey = 0;
    int used;
    char turn[48];

    for (size_t i = 0; i < count; i++)
        grey += line[i].stroke == NULL;
    used = snprintf(out, WW_TEXT_BYTES, "%.240s%sworst within \xc2\xb1%s",
                    content->subject != NULL ? content->subject : "", content->subject != NULL ? "; " : "",
                    ww_angle_label(turn, sizeof turn, line[0].of->angles.turn));
    if (grey > 0)
        used += snprintf(out + used, (size_t)(WW_TEXT_BYTES - used), "; grey: %zu others", grey);
    if (content->budget > 0 && !budget)
        (void)snprintf(out + used, (size_t)(WW_TEXT_BYTES - used), "; budget off this axis");
}

/* --- the page */

static struct ww_decades choose_scale(const struct ww_figure_compare *content, const struct line *line, size_t count,
                                      struct ww_unit *time, double room)
{
    double least = INFINITY, most = 0;

    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j < line[i].of->angles.count; j++) {
            least = fmin(least, line[i].of->angles.at[j].design);
            most = fmax(most, line[i].of->angles.at[j].design);
        }
    *time = ww_unit_time(most > 0 ? most : content->budget);
    if (content->budget > 0 && (most <= 0 || content->budget <= FARTHEST_BUDGET * most)) {
        least = fmin(least, content->budget);
        most = fmax(most, content->budget);
    }
    return ww_decades_choose(least, most, time->worth, room, WW_ENDS_AT_TICK);
}

/* Grey ones first, then from the most to the least. */
static void draw_curves(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                        struct line *line, size_t count, double worth)
{
    ww_panel_clip(canvas, panel);
    for (int told = 0; told < 2; told++)
        for (size_t i = count; i-- > 0;) {
            const struct ww_angles *angles = &line[i].of->angles;
            double end = angles->at[angles->count - 1].design;
            line[i].y = ww_panel_y(panel, ww_decades_log(decades, end / worth));
            if ((line[i].stroke != NULL) != (told == 1))
                continue;
            ww_angle_path(canvas, panel, decades, angles, WW_CURVE_DESIGN, worth);
            stroke_line(canvas, line[i].stroke);
        }
    ww_panel_unclip(canvas);
}

static void draw(struct ww_canvas *canvas, const struct ww_figure_compare *content)
{
    char headline[WW_TEXT_BYTES], subline[WW_TEXT_BYTES], title[WW_TITLE_BYTES], quantity[64];
    struct line line[WW_COMPARE_MOST + 1] = {0};
    size_t count = choose_lines(content, line);
    double from = INFINITY, to = -INFINITY;
    struct ww_panel panel = {0};
    struct ww_unit time;

    assert(count > 0); /* ww_compare_check has seen to it */
    for (size_t i = 0; i < count; i++) {
        from = fmin(from, line[i].of->angles.at[0].angle);
        to = fmax(to, line[i].of->angles.at[line[i].of->angles.count - 1].angle);
    }
    write_headline(headline, content, line, count);
    struct ww_decades decades = choose_scale(content, line, count, &time, ROUGH_HEIGHT);
    bool budget = content->budget > 0 && ww_decades_holds(&decades, content->budget / time.worth);
    write_subline(subline, content, line, count, budget);
    struct ww_box page = ww_canvas_furniture(canvas, headline, subline);
    double left = page.x + 74 + ww_decades_width(canvas, &decades);
    panel.box = (struct ww_box){left, page.y + 12, page.x + page.w - RIGHT - left, page.h - 104};
    panel.y0 = log10(decades.low);
    panel.y1 = log10(decades.high);
    ww_angle_axis(canvas, &panel, from, to);

    ww_decades_grid(canvas, &panel, &decades);
    draw_curves(canvas, &panel, &decades, line, count, time.worth);
    if (budget) {
        double y = ww_panel_y(&panel, ww_decades_log(&decades, content->budget / time.worth));
        line[count] = (struct line){NULL, &budget_stroke, y};
        cairo_move_to(canvas->cairo, panel.box.x, y);
        cairo_line_to(canvas->cairo, panel.box.x + panel.box.w, y);
        stroke_line(canvas, &budget_stroke);
    }
    (void)snprintf(quantity, sizeof quantity, "design %s", ww_compare_quantity(content));
    ww_delay_title(canvas->options, title, sizeof title, quantity, time);
    ww_decades_axis(canvas, &panel, &decades, title);
    ww_panel_axes(canvas, &panel, "routing angle from the warp [deg]", NULL);
    draw_names(canvas, &panel, content, line, count + budget);
}

enum ww_status ww_figure_draw_compare_angles(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_compare *content, struct ww_error *error)
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
