/* table.h - a periodic function of two variables, from its harmonics, at any place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_PATCH_TABLE_H
#define WW_PATCH_TABLE_H

#include <complex.h>

#include "weftwise/core.h"

enum { WW_KNOTS = 6, WW_PADDED = 88 }; /* rows of a power of two and little more would share places in the cache */

/* Periodic in nx by ny samples. */
struct ww_table {
    size_t nx, ny;
    double *spline; /* [ny + 5][nx + 88] coefficients, those beyond the period repeated */
};

/* From a half spectrum coef[ny][nx/2+1] as in core/transform.h, which is lost. WW_NO_MEMORY. */
enum ww_status ww_table_build(struct ww_table *table, double _Complex *coef, size_t nx, size_t ny,
                              struct ww_error *error);
void ww_table_clear(struct ww_table *table);

/* The spline around one place along one axis: samples first .. first + 5. */
struct ww_knots {
    size_t first;
    double weight[WW_KNOTS];
};

/* Two values that the processor works on at once; in a table they are aligned as a double is. */
typedef double ww_pair __attribute__((vector_size(2 * sizeof(double)), aligned(sizeof(double)), may_alias));

static inline ww_pair ww_fifth(ww_pair x)
{
    ww_pair square = x * x;
    return square * square * x;
}

/* at: in samples, any place; samples in the period, a power of two.
 *   B(x) = sum over n of (-1)^n binomial(6, n) max(x + 3 - n, 0)^5/120, and B(-x) = B(x). */
static inline struct ww_knots ww_knots_at(double at, size_t samples)
{
    long base = (long)at;
    base -= (double)base > at;
    double t = at - (double)base; /* samples base - 2 .. base + 3 */
    const ww_pair from = {1 - t, t};
    ww_pair outer = ww_fifth(from), middle = ww_fifth(from + 1.0),
            inner = ww_fifth(from + 2.0) - 6.0 * middle + 15.0 * outer;
    middle = (middle - 6.0 * outer) * (1.0 / 120);
    outer *= 1.0 / 120;
    inner *= 1.0 / 120;
    struct ww_knots knots = {.first = (size_t)(base - 2) & (samples - 1)};
    *(ww_pair *)&knots.weight[0] = (ww_pair){outer[0], middle[0]};
    *(ww_pair *)&knots.weight[2] = inner;
    *(ww_pair *)&knots.weight[4] = (ww_pair){middle[1], outer[1]};
    return knots;
}

/* At one place; of two tables of the same size the first and a share of the other. */
static inline double ww_table_sum(const struct ww_table *table, const struct ww_table *other, double share,
                                  const struct ww_knots *x, const struct ww_knots *y)
{
    size_t wide = table->nx + WW_PADDED, first = y->first * wide + x->first;
    const double *row = table->spline + first, *second = share != 0 ? other->spline + first : row;
    ww_pair a = {0, 0}, b = {0, 0}, c = {0, 0};
    for (int j = 0; j < WW_KNOTS; j++, row += wide, second += wide) {
        const ww_pair *one = (const ww_pair *)row, *two = (const ww_pair *)second;
        a += y->weight[j] * (one[0] + share * two[0]);
        b += y->weight[j] * (one[1] + share * two[1]);
        c += y->weight[j] * (one[2] + share * two[2]);
    }
    ww_pair sum = *(const ww_pair *)&x->weight[0] * a + *(const ww_pair *)&x->weight[2] * b +
                  *(const ww_pair *)&x->weight[4] * c;
    return sum[0] + sum[1];
}

#endif
