/* wave.h - a wave over the cell, and its value wave after wave.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_ORDER_H
#define WW_SCAN_ORDER_H

#include <complex.h>
#include <math.h>
#include <stdbool.h>
#include <stddef.h>

/* exp(i k.r) with k = 2 pi (m/lx, l/ly). */
struct ww_order {
    int m, l; /* m >= 0; wave 0 is m = l = 0 */
};

/* Rows that tell all of a map of n by n positions: half of them where only waves with m + l even are in it, as in that of a
 * plain weave, whose warp and fill change places half a cell on. Then it repeats after half its sides. */
static inline size_t ww_orders_rows(const struct ww_order *order, size_t orders, size_t n)
{
    bool even = n % 2 == 0;
    for (size_t w = 0; w < orders && even; w++)
        even = (order[w].m + order[w].l) % 2 == 0;
    return even ? n / 2 : n;
}

static inline double _Complex ww_phasor(double phase)
{
    return cos(phase) + I * sin(phase);
}

static inline double ww_sinc(double x)
{
    return fabs(x) < 1e-8 ? 1 : sin(x) / x;
}

/* exp(i (m x + l y)) of one wave after the other: they are listed by m, then by l, and from one to the next of the same m
 * a product does. A column of some hundred leaves rounding of 1e-14. */
struct ww_stepper {
    double x, y;
    struct ww_order at;
    double _Complex here, one, two;
};

static inline struct ww_stepper ww_stepper_of(double x, double y)
{
    return (struct ww_stepper){x, y, {-1, 0}, 0, ww_phasor(y), ww_phasor(2 * y)};
}

static inline double _Complex ww_stepper_to(struct ww_stepper *stepper, struct ww_order wave)
{
    int up = wave.m == stepper->at.m ? wave.l - stepper->at.l : 0;
    stepper->here = up == 1   ? stepper->here * stepper->one
                    : up == 2 ? stepper->here * stepper->two
                              : ww_phasor(wave.m * stepper->x + wave.l * stepper->y);
    stepper->at = wave;
    return stepper->here;
}

#endif
