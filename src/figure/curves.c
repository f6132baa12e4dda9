/* figure/curves.c - sampled curves on a panel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/curves.h"

#include <math.h>

#define SAMPLES_PER_COLUMN 4 /* from here on, columns are drawn as envelopes */

static double sample_x(const struct ww_curve *curve, size_t i)
{
    return curve->from + (curve->to - curve->from) * (double)i / (double)(curve->count - 1);
}

static bool put_point(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_curve *curve, size_t i,
                      bool drawing)
{
    double value = curve->value[i] / curve->worth;

    if (!isfinite(value))
        return false;
    if (drawing)
        cairo_line_to(canvas->cairo, ww_panel_x(panel, sample_x(curve, i)), ww_panel_y(panel, value));
    else
        cairo_move_to(canvas->cairo, ww_panel_x(panel, sample_x(curve, i)), ww_panel_y(panel, value));
    return true;
}

/* First, lowest, highest and last of a column's samples, in the order they come: the column's ink is the same. */
static bool put_column(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_curve *curve,
                       size_t begin, size_t end, bool drawing)
{
    size_t low = begin, high = begin;

    for (size_t i = begin; i < end; i++) {
        if (!isfinite(curve->value[i]))
            return false;
        low = curve->value[i] < curve->value[low] ? i : low;
        high = curve->value[i] > curve->value[high] ? i : high;
    }
    put_point(canvas, panel, curve, begin, drawing);
    put_point(canvas, panel, curve, low < high ? low : high, true);
    put_point(canvas, panel, curve, low < high ? high : low, true);
    return put_point(canvas, panel, curve, end - 1, true);
}

void ww_curve_path(struct ww_canvas *canvas, const struct ww_panel *panel, const struct ww_curve *curve)
{
    size_t columns = (size_t)panel->box.w + 1;
    size_t step = curve->count > SAMPLES_PER_COLUMN * columns ? curve->count / columns : 1;
    bool drawing = false;

    cairo_new_path(canvas->cairo);
    for (size_t i = 0; i < curve->count; i += step) {
        size_t end = i + step < curve->count ? i + step : curve->count;
        drawing = step == 1 ? put_point(canvas, panel, curve, i, drawing)
                            : put_column(canvas, panel, curve, i, end, drawing);
    }
}

void ww_curve_range(const double *value, size_t count, double *low, double *high)
{
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(value[i]))
            continue;
        bool first = *low > *high;
        *low = first ? value[i] : fmin(*low, value[i]);
        *high = first ? value[i] : fmax(*high, value[i]);
    }
}
