/* figure/canvas.c - the page: surfaces, text, axes, colour bar.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Hinting is switched off so that text has the same widths on a raster and on a vector page, and layout is the
 * same in all formats. Layout measures its text; no label's width is assumed.
 */
#include "figure/canvas.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define LINE_HEIGHT 1.32      /* of text size */
#define CAPITALS_MIDDLE 0.365 /* of text size: half the height of capitals */
#define TICK 9.0              /* length of a tick mark */
#define LABEL_GAP 8.0         /* between tick and label */
#define LABEL_SPACE 26.0      /* least space between neighbouring labels across */
#define PATCH 6.0             /* paper around a patched text */

static const struct ww_type headline_type = {WW_TEXT_HEADLINE, true, WW_INK_TEXT};
static const struct ww_type headline_small = {WW_TEXT_BODY, true, WW_INK_TEXT}; /* two lines in the room of one */
static const struct ww_type body_type = {WW_TEXT_BODY, false, WW_INK_TEXT};
static const struct ww_type quiet_type = {WW_TEXT_SMALL, false, WW_INK_QUIET};

static const char caution[] =
    "Prediction to guide a design; not a qualification. Confirm with the fabricator and a measured coupon.";

static const char lacking[] = "?: a character that no font here has";

/* --- text */

static void choose_font(struct ww_canvas *canvas, struct ww_type type)
{
    cairo_select_font_face(canvas->cairo, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                           type.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(canvas->cairo, type.size);
}

double ww_text_width(struct ww_canvas *canvas, struct ww_type type, const char *text)
{
    cairo_text_extents_t extents;

    choose_font(canvas, type);
    cairo_text_extents(canvas->cairo, text, &extents);
    return extents.x_advance;
}

void ww_text_draw(struct ww_canvas *canvas, struct ww_type type, double x, double y, double across, const char *text)
{
    double width = across > 0 ? ww_text_width(canvas, type, text) : 0;

    choose_font(canvas, type);
    ww_canvas_ink(canvas, type.ink, 1);
    cairo_move_to(canvas->cairo, x - across * width, y + CAPITALS_MIDDLE * type.size);
    cairo_show_text(canvas->cairo, text);
    cairo_new_path(canvas->cairo);
}

void ww_text_patch(struct ww_canvas *canvas, struct ww_type type, double x, double y, double across, const char *text)
{
    double width = ww_text_width(canvas, type, text), height = type.size;

    ww_canvas_ink(canvas, WW_INK_PAPER, 0.86);
    cairo_rectangle(canvas->cairo, x - across * width - PATCH, y - height / 2 - PATCH, width + 2 * PATCH,
                    height + 2 * PATCH);
    cairo_fill(canvas->cairo);
    ww_text_draw(canvas, type, x, y, across, text);
}

void ww_text_upright(struct ww_canvas *canvas, struct ww_type type, double x, double y, const char *text)
{
    cairo_save(canvas->cairo);
    cairo_translate(canvas->cairo, x, y);
    cairo_rotate(canvas->cairo, -WW_PI / 2);
    ww_text_draw(canvas, type, 0, 0, 0.5, text);
    cairo_restore(canvas->cairo);
}

bool ww_text_replace_missing(struct ww_canvas *canvas, struct ww_type type, char *text)
{
    bool any = false;
    size_t out = 0;

    choose_font(canvas, type);
    cairo_scaled_font_t *font = cairo_get_scaled_font(canvas->cairo);
    for (size_t in = 0, next; text[in] != '\0'; in = next) {
        cairo_glyph_t *glyph = NULL;
        int count = 0;
        for (next = in + 1; ((unsigned char)text[next] & 0xC0) == 0x80;)
            next++;
        cairo_status_t status = cairo_scaled_font_text_to_glyphs(font, 0, 0, text + in, (int)(next - in), &glyph,
                                                                 &count, NULL, NULL, NULL);
        bool missing = status != CAIRO_STATUS_SUCCESS || count < 1 || glyph[0].index == 0;
        canvas->starved = canvas->starved || status == CAIRO_STATUS_NO_MEMORY;
        cairo_glyph_free(glyph);
        any = any || missing;
        if (missing)
            text[out++] = '?';
        for (size_t i = in; i < next && !missing; i++)
            text[out++] = text[i];
    }
    text[out] = '\0';
    return any;
}

bool ww_text_can_be_drawn(struct ww_canvas *canvas)
{
    bool can = true;
    for (int bold = 0; bold < 2; bold++) {
        char signs[] = "\xe2\x88\x92\xc2\xb5\xc2\xb0"; /* minus, micro, degree: of numbers and units */
        struct ww_type type = {WW_TEXT_BODY, bold != 0, WW_INK_TEXT};
        can = can && !ww_text_replace_missing(canvas, type, signs);
        cairo_scaled_font_t *font = cairo_get_scaled_font(canvas->cairo);
        can = can && cairo_scaled_font_get_type(font) != CAIRO_FONT_TYPE_USER;
    }
    return can;
}

/* Length of text less its last character (UTF-8: continuation bytes go with their leader). */
static size_t without_last(const char *text, size_t length)
{
    while (length > 0 && ((unsigned char)text[--length] & 0xC0) == 0x80)
        ;
    return length;
}

void ww_text_cut(struct ww_canvas *canvas, struct ww_type type, double room, char *text)
{
    static const char ellipsis[] = "\xe2\x80\xa6";
    size_t length = strlen(text);

    while (length > 0 && ww_text_width(canvas, type, text) > room) {
        length = without_last(text, length);
        if (length + sizeof ellipsis <= WW_TEXT_BYTES)
            memcpy(text + length, ellipsis, sizeof ellipsis);
    }
}

/* Bytes of text that fill one line: up to the last space that fits, or one long word cut nowhere. */
static size_t line_bytes(struct ww_canvas *canvas, struct ww_type type, double room, const char *text)
{
    char line[WW_TEXT_BYTES];
    size_t best = 0;

    for (size_t end = 1; end <= strlen(text); end++) {
        if (text[end] != ' ' && text[end] != '\0')
            continue;
        (void)snprintf(line, sizeof line, "%.*s", (int)end, text);
        if (best > 0 && ww_text_width(canvas, type, line) > room)
            break;
        best = end;
    }
    return best;
}

double ww_text_paragraph(struct ww_canvas *canvas, struct ww_type type, double x, double y, double room, int lines,
                         const char *text)
{
    char line[WW_TEXT_BYTES];

    for (int i = 0; i < lines && *text != '\0'; i++) {
        size_t bytes = i + 1 < lines ? line_bytes(canvas, type, room, text) : strlen(text);
        ww_text_copy(line, text, bytes);
        ww_text_cut(canvas, type, room, line);
        ww_text_draw(canvas, type, x, y, 0, line);
        y += LINE_HEIGHT * type.size;
        text += bytes;
        while (*text == ' ')
            text++;
    }
    return y;
}

/* --- strokes */

void ww_canvas_ink(struct ww_canvas *canvas, enum ww_ink ink, double opacity)
{
    struct ww_rgb colour = ww_ink_colour(ink);
    cairo_set_source_rgba(canvas->cairo, colour.r, colour.g, colour.b, opacity);
}

void ww_canvas_stroke(struct ww_canvas *canvas, double x0, double y0, double x1, double y1, double width)
{
    cairo_set_line_width(canvas->cairo, width);
    cairo_move_to(canvas->cairo, x0, y0);
    cairo_line_to(canvas->cairo, x1, y1);
    cairo_stroke(canvas->cairo);
}

void ww_canvas_dash(struct ww_canvas *canvas, const double *dash, int count)
{
    cairo_set_dash(canvas->cairo, dash, count, 0);
}

/* --- furniture */

/* "weftwise 0.1.0" at the right of the last line, the rest from the bottom up. Returns the top of the footer. */
static double draw_footer(struct ww_canvas *canvas)
{
    const struct ww_figure_options *options = canvas->options;
    char title[WW_TEXT_BYTES], conditions[WW_TEXT_BYTES], program[64], line[WW_TEXT_BYTES];
    double room = WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN;
    double step = LINE_HEIGHT * WW_TEXT_SMALL;
    int rows = 0;

    ww_text_copy(title, options->title != NULL ? options->title : "", SIZE_MAX);
    ww_text_copy(conditions, options->conditions != NULL ? options->conditions : "", SIZE_MAX);
    if (conditions[0] != '\0')
        rows = line_bytes(canvas, quiet_type, room, conditions) < strlen(conditions) ? 2 : 1;

    double last = canvas->height - 34;
    double first = last - (rows + (title[0] != '\0')) * step;
    double top = first - 32;
    double y = first;

    ww_canvas_ink(canvas, WW_INK_GRID, 1);
    ww_canvas_stroke(canvas, WW_PAGE_MARGIN, top, WW_PAGE_WIDTH - WW_PAGE_MARGIN, top, 2);
    if (title[0] != '\0') {
        struct ww_type bold = {WW_TEXT_SMALL, true, WW_INK_TEXT};
        bool replaced = ww_text_replace_missing(canvas, bold, title);
        ww_text_cut(canvas, bold, replaced ? room - ww_text_width(canvas, quiet_type, lacking) - 20 : room, title);
        if (replaced)
            ww_text_draw(canvas, quiet_type, WW_PAGE_WIDTH - WW_PAGE_MARGIN, y, 1, lacking);
        ww_text_draw(canvas, bold, WW_PAGE_MARGIN, y, 0, title);
        y += step;
    }
    if (rows > 0)
        ww_text_paragraph(canvas, quiet_type, WW_PAGE_MARGIN, y, room, rows, conditions);

    (void)snprintf(program, sizeof program, "weftwise %s", ww_version());
    double program_width = ww_text_width(canvas, quiet_type, program);
    (void)snprintf(line, sizeof line, "%s", caution);
    ww_text_cut(canvas, quiet_type, room - program_width - 20, line);
    ww_text_draw(canvas, quiet_type, WW_PAGE_MARGIN, last, 0, line);
    ww_text_draw(canvas, quiet_type, WW_PAGE_WIDTH - WW_PAGE_MARGIN, last, 1, program);
    return top;
}

struct ww_box ww_canvas_furniture(struct ww_canvas *canvas, const char *headline, const char *subline)
{
    double room = WW_PAGE_WIDTH - 2 * WW_PAGE_MARGIN;
    char line[WW_TEXT_BYTES];
    double top = 46 + 0.75 * WW_TEXT_HEADLINE, bottom = draw_footer(canvas);

    /* as large as one line allows; two lines where that were smaller than the text */
    const double rounding = 0.999;
    struct ww_type type = headline_type;
    ww_text_copy(line, headline, SIZE_MAX);
    double width = ww_text_width(canvas, headline_type, line);
    if (width > room)
        type.size *= rounding * room / width;
    if (type.size >= WW_TEXT_BODY)
        ww_text_draw(canvas, type, WW_PAGE_MARGIN, 46, 0, line);
    else
        ww_text_paragraph(canvas, headline_small, WW_PAGE_MARGIN, 28, room, 2, line);
    if (subline[0] != '\0') {
        ww_text_copy(line, subline, SIZE_MAX);
        if (line[0] >= 'a' && line[0] <= 'z')
            line[0] = (char)(line[0] - 'a' + 'A');
        ww_text_cut(canvas, body_type, room, line);
        ww_text_draw(canvas, body_type, WW_PAGE_MARGIN, 92, 0, line);
        top = 92 + 0.75 * WW_TEXT_BODY;
    }
    return (struct ww_box){WW_PAGE_MARGIN, top + 16, room, bottom - top - 32};
}

/* --- axes */

double ww_panel_x(const struct ww_panel *panel, double x)
{
    return panel->box.x + (x - panel->x0) / (panel->x1 - panel->x0) * panel->box.w;
}

double ww_panel_y(const struct ww_panel *panel, double y)
{
    return panel->box.y + (panel->y1 - y) / (panel->y1 - panel->y0) * panel->box.h;
}

double ww_ticks_width(struct ww_canvas *canvas, const struct ww_ticks *ticks)
{
    char label[64];
    double widest = 0;

    for (int i = 0; i < ticks->count; i++)
        widest = fmax(widest, ww_text_width(canvas, body_type, ww_tick_label(ticks, i, label, sizeof label)));
    return widest;
}

struct ww_ticks ww_ticks_across(struct ww_canvas *canvas, double low, double high, double room)
{
    struct ww_ticks ticks = {0, 0, 0, 0};

    for (int most = 11; most >= 2; most--) {
        ticks = ww_ticks_choose(low, high, most);
        double spacing = ticks.step / (high - low) * room;
        if (spacing >= ww_ticks_width(canvas, &ticks) + LABEL_SPACE)
            break;
    }
    return ticks;
}

struct ww_ticks ww_ticks_up(double low, double high, double room)
{
    int most = (int)(room / (2.2 * WW_TEXT_BODY));
    return ww_ticks_choose(low, high, most < 2 ? 2 : most > 9 ? 9 : most);
}

void ww_panel_grid(struct ww_canvas *canvas, const struct ww_panel *panel)
{
    const struct ww_box *box = &panel->box;

    ww_canvas_ink(canvas, WW_INK_GRID, 1);
    for (int i = 0; i < panel->x_ticks.count; i++) {
        double x = ww_panel_x(panel, ww_tick_value(&panel->x_ticks, i));
        ww_canvas_stroke(canvas, x, box->y, x, box->y + box->h, 1.5);
    }
    for (int i = 0; i < panel->y_ticks.count; i++) {
        double y = ww_panel_y(panel, ww_tick_value(&panel->y_ticks, i));
        ww_canvas_stroke(canvas, box->x, y, box->x + box->w, y, 1.5);
    }
}

static void draw_x_ticks(struct ww_canvas *canvas, const struct ww_panel *panel, const char *title)
{
    double bottom = panel->box.y + panel->box.h;
    double label_y = bottom + TICK + LABEL_GAP + 0.5 * WW_TEXT_BODY;
    char label[64];

    for (int i = 0; i < panel->x_ticks.count; i++) {
        double x = ww_panel_x(panel, ww_tick_value(&panel->x_ticks, i));
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, x, bottom, x, bottom + TICK, 2);
        if (title != NULL)
            ww_text_draw(canvas, body_type, x, label_y, 0.5, ww_tick_label(&panel->x_ticks, i, label, sizeof label));
    }
    if (title != NULL)
        ww_text_draw(canvas, body_type, panel->box.x + panel->box.w / 2, label_y + 1.35 * WW_TEXT_BODY, 0.5, title);
}

static void draw_y_ticks(struct ww_canvas *canvas, const struct ww_panel *panel, const char *title)
{
    double left = panel->box.x;
    char label[64];

    for (int i = 0; i < panel->y_ticks.count; i++) {
        double y = ww_panel_y(panel, ww_tick_value(&panel->y_ticks, i));
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, left - TICK, y, left, y, 2);
        if (title != NULL)
            ww_text_draw(canvas, body_type, left - TICK - LABEL_GAP, y, 1,
                         ww_tick_label(&panel->y_ticks, i, label, sizeof label));
    }
    if (title != NULL)
        ww_text_upright(canvas, body_type,
                        left - TICK - 2.2 * LABEL_GAP - ww_ticks_width(canvas, &panel->y_ticks) - WW_TEXT_BODY / 2,
                        panel->box.y + panel->box.h / 2, title);
}

void ww_panel_axes(struct ww_canvas *canvas, const struct ww_panel *panel, const char *x_title, const char *y_title)
{
    const struct ww_box *box = &panel->box;

    ww_canvas_dash(canvas, NULL, 0);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 2);
    cairo_rectangle(canvas->cairo, box->x, box->y, box->w, box->h);
    cairo_stroke(canvas->cairo);
    draw_x_ticks(canvas, panel, x_title);
    draw_y_ticks(canvas, panel, y_title);
}

char *ww_delay_title(const struct ww_figure_options *options, char *out, size_t size, const char *what,
                     struct ww_unit unit)
{
    const int most = 1000; /* units to a degree: beyond, phase is no matter on this axis */
    char degrees[32], frequency[32];
    double degree_each = options != NULL ? 360 * options->frequency * unit.worth : 0;
    int count = 1;

    while (count <= most && count * degree_each < 1)
        count *= 10;
    if (options == NULL || count > most)
        (void)snprintf(out, size, "%s [%s]", what, unit.name);
    else
        (void)snprintf(out, size, "%s [%s], %d %s = %s\xc2\xb0 at %s GHz", what, unit.name, count, unit.name,
                       ww_value_label(degrees, sizeof degrees, count * degree_each, 0),
                       ww_size_label(frequency, sizeof frequency, options->frequency / 1e9, 4));
    return out;
}

char *ww_phase_label(const struct ww_figure_options *options, char *out, size_t size, double delay)
{
    char degrees[32];

    if (options != NULL && options->frequency > 0)
        (void)snprintf(out, size, "%s\xc2\xb0",
                       ww_value_label(degrees, sizeof degrees, 360 * options->frequency * delay, 1));
    else
        out[0] = '\0';
    return out;
}

void ww_panel_clip(struct ww_canvas *canvas, const struct ww_panel *panel)
{
    cairo_save(canvas->cairo);
    cairo_rectangle(canvas->cairo, panel->box.x, panel->box.y, panel->box.w, panel->box.h);
    cairo_clip(canvas->cairo);
}

void ww_panel_unclip(struct ww_canvas *canvas)
{
    cairo_restore(canvas->cairo);
}

/* --- colour bar */

void ww_canvas_ramp(struct ww_canvas *canvas, struct ww_box box, enum ww_ramp ramp)
{
    enum { STEPS = 64 }; /* colour stops; between them the display interpolates */
    cairo_pattern_t *pattern = cairo_pattern_create_linear(0, box.y + box.h, 0, box.y);

    for (int i = 0; i <= STEPS; i++) {
        double t = (double)i / STEPS;
        struct ww_rgb colour = ww_ramp_colour(ramp, t);
        cairo_pattern_add_color_stop_rgb(pattern, t, colour.r, colour.g, colour.b);
    }
    cairo_set_source(canvas->cairo, pattern);
    cairo_rectangle(canvas->cairo, box.x, box.y, box.w, box.h);
    cairo_fill(canvas->cairo);
    cairo_pattern_destroy(pattern);
    ww_canvas_ink(canvas, WW_INK_TEXT, 1);
    cairo_set_line_width(canvas->cairo, 2);
    cairo_rectangle(canvas->cairo, box.x, box.y, box.w, box.h);
    cairo_stroke(canvas->cairo);
}

void ww_canvas_colour_bar(struct ww_canvas *canvas, struct ww_box box, enum ww_ramp ramp, double low, double high,
                          const char *title, bool contours)
{
    static const double dash[] = {7, 5};
    struct ww_panel scale = {box, 0, 1, low, high, {0, 0, 0, 0}, ww_ticks_up(low, high, box.h)};
    double right = box.x + box.w;
    char label[64];

    ww_canvas_ramp(canvas, box, ramp);
    for (int i = 0; i < scale.y_ticks.count; i++) {
        double value = ww_tick_value(&scale.y_ticks, i), y = ww_panel_y(&scale, value);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, right, y, right + TICK, y, 2);
        if (contours && value != 0) {
            ww_canvas_dash(canvas, dash, value < 0 ? 2 : 0);
            ww_canvas_stroke(canvas, box.x, y, right, y, 2);
            ww_canvas_dash(canvas, NULL, 0);
        }
        ww_text_draw(canvas, body_type, right + TICK + LABEL_GAP, y, 0,
                     ww_tick_label(&scale.y_ticks, i, label, sizeof label));
    }
    ww_text_upright(canvas, body_type,
                    right + TICK + 2.4 * LABEL_GAP + ww_ticks_width(canvas, &scale.y_ticks) + WW_TEXT_BODY / 2,
                    box.y + box.h / 2, title);
}

/* --- flags */

static bool flag_fits(const double *x, const double *w, int count, const int *row, int i, int r)
{
    for (int j = i + 1; j < count; j++) {
        bool line_through = x[j] < x[i] + w[i] && row[j] >= r;
        bool text_meets = row[j] == r && x[j] < x[i] + w[i];
        if (line_through || text_meets)
            return false;
    }
    return true;
}

/* From the right, each flag takes the lowest row in which no line to its right (drawn up to its own row) crosses
 * its text. Lines to its left may rise higher: their texts are above, and they do not reach over. */
void ww_flags_place(const double *x, const double *w, int count, int *row)
{
    for (int i = count - 1; i >= 0; i--) {
        row[i] = 0;
        while (!flag_fits(x, w, count, row, i, row[i]))
            row[i]++;
    }
}

/* Least squares: less i gaps, the places must not fall. Neighbours that do are pooled at their mean (the classical
 * algorithm of isotonic regression); then all are held to the range. */
void ww_labels_apart(double *at, int count, double gap, double low, double high)
{
    double mean[WW_LABELS_MOST];
    int size[WW_LABELS_MOST], pools = 0, done = 0;

    for (int i = 0; i < count && i < WW_LABELS_MOST; i++) {
        mean[pools] = at[i] - i * gap;
        size[pools++] = 1;
        for (; pools > 1 && mean[pools - 2] > mean[pools - 1]; pools--) {
            int both = size[pools - 2] + size[pools - 1];
            mean[pools - 2] = (mean[pools - 2] * size[pools - 2] + mean[pools - 1] * size[pools - 1]) / both;
            size[pools - 2] = both;
        }
    }
    for (int p = 0; p < pools; p++)
        for (int i = 0; i < size[p]; i++, done++)
            at[done] = mean[p] + done * gap;
    for (int i = 0; i < done; i++)
        at[i] = fmax(at[i], low + i * gap);
    for (int i = done - 1; i >= 0; i--)
        at[i] = fmin(at[i], high - (done - 1 - i) * gap);
}

static bool boxes_meet(const struct ww_box *a, const struct ww_box *b)
{
    return a->x < b->x + b->w && b->x < a->x + a->w && a->y < b->y + b->h && b->y < a->y + a->h;
}

static bool box_holds(const struct ww_box *outer, const struct ww_box *inner)
{
    return inner->x >= outer->x && inner->y >= outer->y && inner->x + inner->w <= outer->x + outer->w &&
           inner->y + inner->h <= outer->y + outer->h;
}

struct ww_box ww_label_place(const struct ww_box *page, double x, double y, double radius, double w, double h,
                             const struct ww_box *taken, int count)
{
    enum { SIDES = 8, DISTANCES = 8 };
    static const double side[SIDES][2] = {{1, 0}, {-1, 0}, {0, -1}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}};
    struct ww_box label = {0, 0, w, h};

    for (int i = 0; i < SIDES * DISTANCES; i++) {
        double away = radius * (1 + i / SIDES);
        label.x = x - w / 2 + side[i % SIDES][0] * (w / 2 + away);
        label.y = y - h / 2 + side[i % SIDES][1] * (h / 2 + away);
        bool clear = box_holds(page, &label);
        for (int j = 0; j < count && clear; j++)
            clear = !boxes_meet(&label, &taken[j]);
        if (clear)
            return label;
    }
    label.x = fmin(fmax(label.x, page->x), page->x + page->w - w);
    label.y = fmin(fmax(label.y, page->y), page->y + page->h - h);
    return label;
}
