/* figure/decades.c - logarithmic scales.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Skew spans decades: some ten picoseconds along the warp, some hundredths of one at a good angle. Ends and ticks are 1,
 * 2 and 5 times a power of ten; where these come too close, the labels of 2 and 5 are dropped, then of every other
 * decade.
 */
#include "figure/decades.h"

#include <math.h>
#include <stdlib.h>

#define DEEPEST 1000.0  /* times the floor is the most */
#define SHALLOWEST 4.9  /* times the floor, at least */
#define LABEL_ROOM 36.0 /* between the middles of labels */
#define ON_TICK 1e-9    /* of a value: it lies on the tick */
#define FAINTEST 1e-15  /* [s] what is taken as the most where all is 0 */
#define TICK 9.0
#define LABEL_GAP 8.0
#define AXIS_GAP 15.0 /* the same beside a panel, whose marks may lie on its edge */

static const double mantissa[] = {1, 2, 5};

/* The i-th of 1, 2, 5, 10, 20, .. counted from 10^0; negative below. */
static double step_value(int i)
{
    int decade = (int)floor(i / 3.0);
    double power = pow(10, abs(decade));

    return decade < 0 ? mantissa[i - 3 * decade] / power : mantissa[i - 3 * decade] * power;
}

/* The highest step at or under the value. */
static int step_under(double value)
{
    int i = 3 * (int)floor(log10(value)) + 3;

    while (step_value(i) > value * (1 + ON_TICK))
        i--;
    return i;
}

static void name_ticks(struct ww_decades *decades, int first, double room)
{
    double decade = room / log10(decades->high / decades->low);
    int each = (int)ceil(LABEL_ROOM / decade);

    for (int i = 0; i < decades->count; i++) {
        int place = ((first + i) % 3 + 3) % 3, power = (first + i - place) / 3;
        bool two_and_five = decade * log10(2) >= LABEL_ROOM;
        decades->named[i] = place == 0 ? power % each == 0 : two_and_five;
    }
    decades->named[0] = true; /* the floor, and no label that would touch it */
    for (int i = 1; i < decades->count; i++)
        if (decade * log10(decades->value[i] / decades->low) < LABEL_ROOM)
            decades->named[i] = false;
}

struct ww_decades ww_decades_choose(double least, double most, double worth, double room, enum ww_decades_end end)
{
    struct ww_decades decades = {0};

    most = most > 0 ? most : FAINTEST;
    double floor_value = fmax(least, most / DEEPEST);
    int high = step_under(most / worth), over = high, low = step_under(fmin(floor_value, most) / worth);
    if (step_value(high) < most / worth * (1 - ON_TICK))
        over++;
    high = end == WW_ENDS_AT_TICK ? over : high;
    while (step_value(high) / step_value(low) < SHALLOWEST)
        low--;
    decades.low = step_value(low);
    decades.high = end == WW_ENDS_AT_TICK ? step_value(high) : most / worth;
    decades.cut = least / worth < decades.low * (1 - ON_TICK);
    for (int i = low; i <= high && decades.count < WW_DECADES_MOST; i++)
        decades.value[decades.count++] = step_value(i);
    name_ticks(&decades, low, room);
    return decades;
}

bool ww_decades_holds(const struct ww_decades *decades, double value)
{
    return value >= decades->low * (1 - ON_TICK) && value <= decades->high * (1 + ON_TICK);
}

double ww_decades_log(const struct ww_decades *decades, double value)
{
    if (isnan(value))
        return value;
    return log10(fmin(fmax(value, decades->low), decades->high));
}

double ww_decades_share(const struct ww_decades *decades, double value)
{
    double low = log10(decades->low);
    return (ww_decades_log(decades, value) - low) / (log10(decades->high) - low);
}

char *ww_decades_label(const struct ww_decades *decades, int i, char *out, size_t size)
{
    char value[48];

    (void)snprintf(out, size, "%s%s", i == 0 && decades->cut ? "\xe2\x89\xa4 " : "",
                   ww_size_label(value, sizeof value, decades->value[i], 3));
    return out;
}

double ww_decades_width(struct ww_canvas *canvas, const struct ww_decades *decades)
{
    static const struct ww_type type = {WW_TEXT_BODY, false, WW_INK_TEXT};
    double widest = 0;
    char label[64];

    for (int i = 0; i < decades->count; i++)
        if (decades->named[i])
            widest = fmax(widest, ww_text_width(canvas, type, ww_decades_label(decades, i, label, sizeof label)));
    return widest;
}

static double tick_y(const struct ww_box *box, const struct ww_decades *decades, int i)
{
    return box->y + box->h * (1 - ww_decades_share(decades, decades->value[i]));
}

void ww_decades_grid(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades)
{
    const struct ww_box *box = &panel->box;

    ww_panel_grid(canvas, panel);
    for (int i = 0; i < decades->count; i++) {
        double y = tick_y(box, decades, i);
        ww_canvas_ink(canvas, WW_INK_GRID, 1);
        ww_canvas_stroke(canvas, box->x, y, box->x + box->w, y, decades->named[i] ? 1.5 : 0.8);
    }
}

void ww_decades_axis(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                     const char *title)
{
    static const struct ww_type type = {WW_TEXT_BODY, false, WW_INK_TEXT};
    double left = panel->box.x;
    char label[64];

    for (int i = 0; i < decades->count; i++) {
        double y = tick_y(&panel->box, decades, i), length = decades->named[i] ? TICK : 0.6 * TICK;
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, left - length, y, left, y, 2);
        if (decades->named[i])
            ww_text_draw(canvas, type, left - TICK - AXIS_GAP, y, 1,
                         ww_decades_label(decades, i, label, sizeof label));
    }
    ww_text_upright(canvas, type,
                    left - TICK - AXIS_GAP - 1.2 * LABEL_GAP - ww_decades_width(canvas, decades) - WW_TEXT_BODY / 2,
                    panel->box.y + panel->box.h / 2, title);
}

void ww_decades_bar(struct ww_canvas *canvas, struct ww_box box, const struct ww_decades *decades, const char *title)
{
    static const struct ww_type type = {WW_TEXT_BODY, false, WW_INK_TEXT};
    double right = box.x + box.w;
    char label[64];

    ww_canvas_ramp(canvas, box, WW_RAMP_SEQUENTIAL);
    for (int i = 0; i < decades->count; i++) {
        double y = tick_y(&box, decades, i);
        ww_canvas_ink(canvas, WW_INK_TEXT, 1);
        ww_canvas_stroke(canvas, right, y, right + (decades->named[i] ? TICK : 0.6 * TICK), y, 2);
        if (decades->named[i])
            ww_text_draw(canvas, type, right + TICK + LABEL_GAP, y, 0,
                         ww_decades_label(decades, i, label, sizeof label));
    }
    ww_text_upright(canvas, type,
                    right + TICK + 2.4 * LABEL_GAP + ww_decades_width(canvas, decades) + WW_TEXT_BODY / 2,
                    box.y + box.h / 2, title);
}
