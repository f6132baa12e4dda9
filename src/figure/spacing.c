/* figure/spacing.c - how far apart: the worst difference of two feeds over their spacing, and the yield of lanes over their
 * pitch.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Both are combs on one kind of panel. What holds where places are independent is a level line beside them; the study's own
 * choice is a diamond, the ones to choose are rings.
 */
#include <math.h>

#include "figure/sheet.h"
#include "weftwise/figure.h"

#define PAGE_HEIGHT 900.0
#define RIGHT 250.0         /* for the names of the levels */
#define FLATTEST 1e-15      /* [s] least reach of the axis */
#define FARTHEST_BUDGET 3.0 /* times the most that the axis still goes to reach it */
#define HEADROOM 0.08
#define GAP 32.0 /* least distance of two names */
enum { LEVELS = 3, RINGS = 3 };

static const double turn_dash[] = {14, 7};
static const double level_dash[] = {4, 6};
static const double budget_dash[] = {22, 6, 4, 6};

struct level {
    double value;
    enum ww_ink ink;
    const double *dash;
    int dashes;
    char name[64];
};

/* One panel; values are in the panel's unit. */
struct comb {
    size_t count;
    const double *at, *value, *more; /* [m]; more, dashed, may be NULL */
    double worth, least, most;
    struct level level[LEVELS];
    size_t levels;
    double own, own_value; /* own 0: not marked */
    double ring[RINGS], ring_value[RINGS];
    size_t rings;
};

static bool ascending(const double *at, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(at[i]) || (i > 0 && !(at[i] > at[i - 1])))
            return false;
    return true;
}

static bool sound(const double *value, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!(value[i] >= 0) || !isfinite(value[i]))
            return false;
    return true;
}

/* --- the panel */

static void draw_curve(struct ww_canvas *canvas, const struct ww_panel *panel, const struct comb *comb,
                       const double *value, double unit)
{
    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < comb->count; i++)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, comb->at[i] / unit),
                      ww_panel_y(panel, value[i] / comb->worth));
    cairo_stroke(canvas->cairo);
}

static void draw_levels(struct ww_canvas *canvas, const struct ww_panel *panel, const struct comb *comb)
{
    double at[LEVELS];
    int order[LEVELS] = {0, 1, 2};
    const size_t levels = comb->levels < LEVELS ? comb->levels : LEVELS;

    for (size_t i = 0; i < levels; i++)
        for (size_t j = i + 1; j < levels; j++)
            if (comb->level[order[j]].value > comb->level[order[i]].value) {
                int swap = order[i];
                order[i] = order[j];
                order[j] = swap;
            }
    for (size_t i = 0; i < levels; i++)
        at[i] = ww_panel_y(panel, comb->level[order[i]].value / comb->worth);
    ww_labels_apart(at, (int)levels, GAP, panel->box.y, panel->box.y + panel->box.h);
    for (size_t i = 0; i < levels; i++) {
        const struct level *level = &comb->level[order[i]];
        double y = ww_panel_y(panel, level->value / comb->worth), right = panel->box.x + panel->box.w;
        struct ww_type type = {WW_TEXT_SMALL, false, level->ink};
        char name[sizeof level->name];
        ww_canvas_ink(canvas, level->ink, 1);
        ww_canvas_dash(canvas, level->dash, level->dashes);
        ww_canvas_stroke(canvas, panel->box.x, y, right, y, 3);
        ww_canvas_dash(canvas, NULL, 0);
        (void)snprintf(name, sizeof name, "%s", level->name);
        ww_text_cut(canvas, type, RIGHT - 14, name);
        ww_text_draw(canvas, type, right + 12, at[i], 0, name);
    }
}

static void draw_comb(struct ww_canvas *canvas, struct ww_box page, const struct comb *comb, const char *x_title,
                      const char *y_title)
{
    struct ww_unit unit = ww_unit_length(comb->at[comb->count - 1]);
    struct ww_panel panel = {.x0 = comb->at[0] / unit.worth,
                             .x1 = comb->at[comb->count - 1] / unit.worth,
                             .y0 = comb->least / comb->worth,
                             .y1 = (comb->most + HEADROOM * (comb->most - comb->least)) / comb->worth};
    char title[96];

    panel.y_ticks = ww_ticks_up(panel.y0, panel.y1, page.h - 106);
    double left = page.x + 74 + ww_ticks_width(canvas, &panel.y_ticks);
    panel.box = (struct ww_box){left, page.y + 14, page.x + page.w - RIGHT - left, page.h - 106};
    panel.x_ticks = ww_ticks_across(canvas, panel.x0, panel.x1, panel.box.w);
    ww_panel_grid(canvas, &panel);
    draw_levels(canvas, &panel, comb);
    ww_canvas_ink(canvas, WW_INK_LEG1, 1);
    cairo_set_line_width(canvas->cairo, 4.5);
    draw_curve(canvas, &panel, comb, comb->value, unit.worth);
    if (comb->more) {
        ww_canvas_ink(canvas, WW_INK_LEG2, 1);
        ww_canvas_dash(canvas, turn_dash, 2);
        draw_curve(canvas, &panel, comb, comb->more, unit.worth);
        ww_canvas_dash(canvas, NULL, 0);
    }
    for (size_t i = 0; i < comb->rings; i++)
        ww_sheet_mark(canvas, WW_MARK_NULL, ww_panel_x(&panel, comb->ring[i] / unit.worth),
                      ww_panel_y(&panel, comb->ring_value[i] / comb->worth));
    if (comb->own >= comb->at[0] && comb->own <= comb->at[comb->count - 1])
        ww_sheet_mark(canvas, WW_MARK_OWN, ww_panel_x(&panel, comb->own / unit.worth),
                      ww_panel_y(&panel, comb->own_value / comb->worth));
    (void)snprintf(title, sizeof title, "%s [%s]", x_title, unit.name);
    ww_panel_axes(canvas, &panel, title, y_title);
}

static void add_level(struct comb *comb, double value, enum ww_ink ink, const double *dash, int dashes,
                      const char *name)
{
    struct level *level = &comb->level[comb->levels++];
    *level = (struct level){value, ink, dash, dashes, ""};
    (void)snprintf(level->name, sizeof level->name, "%s", name);
}

static enum ww_status finish(const char *path, const struct ww_figure_options *options, const struct comb *comb,
                             const char *headline, const char *subject, const char *x_title, const char *y_title,
                             struct ww_error *error)
{
    struct ww_canvas canvas;
    enum ww_status status = ww_canvas_open(&canvas, path, options, PAGE_HEIGHT, error);
    if (status != WW_OK)
        return status;
    struct ww_box page = ww_canvas_furniture(&canvas, headline, subject ? subject : "");
    draw_comb(&canvas, page, comb, x_title, y_title);
    return ww_canvas_close(&canvas, error);
}

/* --- feeds */

static void write_least(char *out, const struct ww_figure_spacing *content)
{
    const struct ww_spacing *s = content->spacing;
    char near[64] = "Two", own[48], place[48], value[48];
    size_t best = 0;

    if (content->own > 0.0)
        (void)snprintf(near, sizeof near, "Near %s two", ww_length_label(own, sizeof own, content->own));
    for (size_t i = 1; i < s->nulls; i++)
        best = s->null[i].with_turn < s->null[best].with_turn ? i : best;
    if (s->nulls == 0)
        (void)snprintf(out, WW_TEXT_BYTES, "No spacing makes two feeds differ much less");
    else
        (void)snprintf(out, WW_TEXT_BYTES, "%s feeds differ least %s apart: %s at most, turn included", near,
                       ww_length_label(place, sizeof place, s->null[best].spacing),
                       ww_time_round_label(value, sizeof value, s->null[best].with_turn));
}

enum ww_status ww_figure_draw_spacing(const char *path, const struct ww_figure_options *options,
                                      const struct ww_figure_spacing *content, struct ww_error *error)
{
    const struct ww_spacing *s = content->spacing;
    char headline[WW_TEXT_BYTES], title[WW_TITLE_BYTES], label[64], value[48];

    if (s == NULL || s->count < 2 || !ascending(s->spacing, s->count) || !sound(s->worst, s->count) ||
        !sound(s->with_turn, s->count) || s->nulls > RINGS || !isfinite(s->apart_with_turn))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no spacing to draw; give two or more, ascending, with values of 0 or more");
    if (!(content->budget >= 0) || !isfinite(content->budget) || !(content->own >= 0) || !(content->own_worst >= 0) ||
        !isfinite(content->own + content->own_worst))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "budget, own spacing and its worst must be finite, 0 or more");
    struct comb comb = {.count = s->count,
                        .at = s->spacing,
                        .value = s->worst,
                        .more = s->with_turn,
                        .most = fmax(s->apart_with_turn, FLATTEST),
                        .own = content->own,
                        .own_value = content->own_worst,
                        .rings = s->nulls};
    for (size_t i = 0; i < s->count; i++)
        comb.most = fmax(comb.most, s->with_turn[i]);
    for (size_t i = 0; i < s->nulls; i++) {
        comb.ring[i] = s->null[i].spacing;
        comb.ring_value[i] = s->null[i].with_turn;
    }
    struct ww_unit time = ww_unit_time(comb.most);
    comb.worth = time.worth;
    add_level(&comb, s->apart_with_turn, WW_INK_TEXT, level_dash, 2, "places independent");
    if (content->budget > 0 && content->budget <= FARTHEST_BUDGET * comb.most) {
        (void)snprintf(label, sizeof label, "budget %s", ww_time_label(value, sizeof value, content->budget));
        add_level(&comb, content->budget, WW_INK_ALARM, budget_dash, 4, label);
        comb.most = fmax(comb.most, content->budget);
    }
    write_least(headline, content);
    ww_delay_title(options, title, sizeof title, "worst", time);
    return finish(path, options, &comb, headline, content->subject, "spacing of two feeds", title, error);
}

/* --- lanes */

enum ww_status ww_figure_draw_lanes(const char *path, const struct ww_figure_options *options,
                                    const struct ww_figure_spacing *content, struct ww_error *error)
{
    const struct ww_spacing *s = content->spacing;
    char headline[WW_TEXT_BYTES], place[48], value[32];

    if (s == NULL || s->pitches < 2 || !ascending(s->pitch, s->pitches) || !sound(s->yield, s->pitches))
        return ww_error_set(error, WW_INVALID, path, 0,
                            "no lane pitch to draw; give two or more, ascending, with a yield each");
    if (!(content->own >= 0) || !isfinite(content->own) || !(content->own_yield >= 0 && content->own_yield <= 1))
        return ww_error_set(error, WW_INVALID, path, 0, "the own pitch must be finite and its yield from 0 to 1");
    struct comb comb = {.count = s->pitches,
                        .at = s->pitch,
                        .value = s->yield,
                        .worth = 0.01,
                        .own = content->own,
                        .own_value = content->own_yield,
                        .ring = {s->best_pitch},
                        .ring_value = {s->best_yield},
                        .rings = s->best_pitch > 0};
    double low = content->own_yield, high = fmax(content->own_yield, s->best_yield);
    for (size_t i = 0; i < s->pitches; i++) {
        low = fmin(low, s->yield[i]);
        high = fmax(high, s->yield[i]);
    }
    comb.least = fmax(floor(10 * low - 0.5) / 10, 0);
    comb.most = fmin(ceil(10 * high + 0.5) / 10, 1);
    if (content->own == 0)
        add_level(&comb, content->own_yield, WW_INK_TEXT, level_dash, 2, "places independent");
    if (s->best_pitch > 0)
        (void)snprintf(headline, sizeof headline, "All %zu lanes meet the budget on %s %% of boards at a pitch of %s",
                       s->lanes, ww_value_label(value, sizeof value, 100 * s->best_yield, 0),
                       ww_length_label(place, sizeof place, s->best_pitch));
    else
        (void)snprintf(headline, sizeof headline, "No lane pitch stands out");
    return finish(path, options, &comb, headline, content->subject, "pitch of the lanes on one cloth",
                  "boards within the budget [%]", error);
}
