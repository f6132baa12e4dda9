/* extrapolate.c - the limit of a value on ever finer grids.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Richardson's extrapolation. With an error that falls as step^p, three values give p,
 *   (v0 - v1)/(v1 - v2) = (h0^p - h1^p)/(h1^p - h2^p),   limit = v2 + (v2 - v1) h2^p/(h1^p - h2^p).
 * p is believed from 1 to 2, what the grid has at an edge of copper and in a smooth field. Where it lies beyond, where the values
 * do not approach from one side, or two grids are one, no order is seen and p = 1, which moves the limit most.
 *
 * Uncertain is the step from the finest value to the limit, and where no order is seen at least a quarter of the change
 * before: what an error of second order would leave.
 */
#include "verify/extrapolate.h"

#include <math.h>

#define FIRST 1.0
#define SECOND 2.0
#define HALVINGS 40
#define ROUNDING 1e-9

/* Change from the first grid to the second over that to the third, at an error of order p; rises with p. */
static double ratio_at(const double *step, double p)
{
    return (pow(step[0], p) - pow(step[1], p)) / (pow(step[1], p) - pow(step[2], p));
}

static double order_of(const double *step, double ratio)
{
    double low = FIRST, high = SECOND;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (low + high);
        *(ratio_at(step, middle) < ratio ? &low : &high) = middle;
    }
    return 0.5 * (low + high);
}

struct ww_verify_limit ww_verify_extrapolate(const double *step, const double *value, size_t count)
{
    const double *h = step + count - 2, *v = value + count - 2; /* the last two */
    double last = v[0] - v[1], before = count > 2 ? value[0] - value[1] : 0;
    struct ww_verify_limit limit = {.order = FIRST};
    limit.observed = before * last > 0 && step[0] > h[0] && h[0] > h[1] &&
                     before / last >= (1 - ROUNDING) * ratio_at(step, FIRST) &&
                     before / last <= (1 + ROUNDING) * ratio_at(step, SECOND);
    if (limit.observed)
        limit.order = order_of(step, before / last);
    double coarse = pow(h[0], limit.order), fine = pow(h[1], limit.order);
    double change = coarse > fine ? -last * fine / (coarse - fine) : -last;
    limit.value = v[1] + change;
    limit.uncertainty = limit.observed ? fabs(change) : fmax(fabs(change), 0.25 * fabs(before));
    return limit;
}
