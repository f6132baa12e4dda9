/* order.h - the order (m, l) of a harmonic over the cell, and the phasors of one harmonic after another.
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
    int m, l; /* m >= 0; the first is m = l = 0 */
};

/* One harmonic of a map, 2 Re value exp(i k.r): m > 0, or m = 0 and l > 0. */
struct ww_map_harmonic {
    struct ww_order order;
    double k[2];           /* [rad/m] */
    double _Complex value; /* [s] */
};

/* Rows of a map of n by n positions that hold every value: n/2 where all harmonics have m + l even, else n. Plain weave has
 * m + l even alone: shifted by half a cell along both axes it is itself. */
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

/* exp(i (m x + l y)) of one harmonic after another. They are listed by m, then by l, so that the next of the same m is one
 * product. Some hundred products leave rounding of 1e-14. */
struct ww_stepper {
    double x, y;
    struct ww_order at;
    double _Complex here, one, two;
};

static inline struct ww_stepper ww_stepper_of(double x, double y)
{
    return (struct ww_stepper){x, y, {-1, 0}, 0, ww_phasor(y), ww_phasor(2 * y)};
}

static inline double _Complex ww_stepper_to(struct ww_stepper *stepper, struct ww_order order)
{
    int up = order.m == stepper->at.m ? order.l - stepper->at.l : 0;
    stepper->here = up == 1   ? stepper->here * stepper->one
                    : up == 2 ? stepper->here * stepper->two
                              : ww_phasor(order.m * stepper->x + order.l * stepper->y);
    stepper->at = order;
    return stepper->here;
}

#endif
