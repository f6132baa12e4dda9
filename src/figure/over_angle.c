/* figure/over_angle.c - what is drawn over the routing angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/over_angle.h"

#include <math.h>

#define ALONE 0.5      /* degrees to either side of an angle that is alone */
#define DASH 0.15      /* degrees to either side: the dash of such an angle */
#define LABEL_EVERY 74 /* units between ticks, at least */
#define LINE_STEP 31.0 /* of a column's text */
#define ENTRY_GAP 13.0

double ww_angle_value(const struct ww_at_angle *at, enum ww_angle_curve curve)
{
    switch (curve) {
    case WW_CURVE_WORST:
        return at->worst;
    case WW_CURVE_P99:
        return at->p99;
    case WW_CURVE_MEDIAN:
        return at->median;
    default:
        return at->design;
    }
}

bool ww_angles_sound(const struct ww_angles *angles)
{
    if (angles == NULL || angles->count == 0 || angles->at == NULL ||
        (angles->windows > 0 && angles->window == NULL) || (angles->revivals > 0 && angles->revival == NULL) ||
        !(angles->budget >= 0) || !isfinite(angles->budget) || !isfinite(angles->turn))
        return false;
    for (size_t i = 0; i < angles->count; i++) {
        if (!isfinite(angles->at[i].angle) || (i > 0 && !(angles->at[i].angle > angles->at[i - 1].angle)))
            return false;
        for (int curve = 0; curve < WW_CURVES; curve++) {
            double value = ww_angle_value(&angles->at[i], (enum ww_angle_curve)curve);
            if (!(value >= 0) || !isfinite(value))
                return false;
        }
    }
    return true;
}

/* A right angle divides into 15, 30 and 45 degrees: where these have room they are better steps than 20 or 50. */
static struct ww_ticks angle_ticks(struct ww_canvas *canvas, double low, double high, double room)
{
    static const double step[] = {5, 10, 15, 30, 45, 90};

    for (size_t i = 0; high - low >= 20 && i < sizeof step / sizeof step[0]; i++) {
        double from = ceil(low / step[i] - 1e-9), to = floor(high / step[i] + 1e-9);
        if ((to - from) * LABEL_EVERY > room)
            continue;
        int count = (int)(to - from + 1);
        struct ww_ticks ticks = {from * step[i], step[i], count, 0};
        return ticks;
    }
    return ww_ticks_across(canvas, low, high, room);
}

void ww_angle_axis(struct ww_canvas *canvas, struct ww_panel *panel, double from, double to)
{
    double alone = to > from ? 0 : ALONE;

    panel->x0 = from / WW_DEGREE - alone;
    panel->x1 = to / WW_DEGREE + alone;
    panel->x_ticks = angle_ticks(canvas, panel->x0, panel->x1, panel->box.w);
}

void ww_angle_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_decades *decades,
                   const struct ww_angles *angles, enum ww_angle_curve curve, double worth)
{
    double half = angles->count == 1 ? DASH : 0;

    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < angles->count; i++) {
        double x = angles->at[i].angle / WW_DEGREE;
        double y = ww_panel_y(panel, ww_decades_log(decades, ww_angle_value(&angles->at[i], curve) / worth));
        cairo_line_to(canvas->cairo, ww_panel_x(panel, x - half), y);
        if (half > 0)
            cairo_line_to(canvas->cairo, ww_panel_x(panel, x + half), y);
    }
}

char *ww_angle_label(char *out, size_t size, double radians)
{
    char value[48];
    double degrees = round(radians / WW_DEGREE * 100) / 100;

    (void)snprintf(out, size, "%s\xc2\xb0", ww_size_label(value, sizeof value, degrees == 0 ? 0 : degrees, 4));
    return out;
}

double ww_column_next(struct ww_plot_column *column, int lines)
{
    double first = column->y, last = column->y + (lines - 1) * LINE_STEP;

    if (column->height > 0 && first - LINE_STEP / 2 < column->reserved + column->height &&
        last + LINE_STEP / 2 > column->reserved - column->height) {
        first = column->reserved + column->height + LINE_STEP / 2;
        last = first + (lines - 1) * LINE_STEP;
    }
    column->y = last + LINE_STEP + ENTRY_GAP;
    return first;
}
