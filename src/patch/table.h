/* table.h - a periodic function of two variables, from its harmonics, at any place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_PATCH_TABLE_H
#define WW_PATCH_TABLE_H

#include <complex.h>

#include "weftwise/core.h"

enum { WW_KNOTS = 6, WW_PADDED = 88 }; /* rows of a power of two and little more would share places in the cache */

/* Periodic in nx by ny samples; a spline of fifth degree, or of third where it is coarse. */
struct ww_table {
    size_t nx, ny;
    double *spline; /* [ny + 5][nx + 88] coefficients, those beyond the period repeated */
};

/* From a half spectrum coef[ny][nx/2+1] as in core/transform.h, which is lost. WW_NO_MEMORY. */
enum ww_status ww_table_build(struct ww_table *table, double _Complex *coef, size_t nx, size_t ny, bool coarse,
                              struct ww_error *error);
/* Two tables of the same size to half their sum and half their difference. */
void ww_table_halves(struct ww_table *a, struct ww_table *b);
void ww_table_clear(struct ww_table *table);
/* The largest size of a coefficient: no less than that of the function. */
double ww_table_largest(const struct ww_table *table);

/* The splines around one place along one axis: of fifth degree samples first .. first + 5; of third, of half as many samples in a
 * period, first_coarse .. first_coarse + 3. */
struct ww_knots {
    size_t first, first_coarse;
    double weight[WW_KNOTS], coarse[4];
};

/* Two values that the processor works on at once; in a table they are aligned as a double is. */
typedef double ww_pair __attribute__((vector_size(2 * sizeof(double)), aligned(sizeof(double)), may_alias));

/* at: in samples, any place; samples in the period, a power of two. Of degree p
 *   B(x) = sum over n of (-1)^n binomial(p + 1, n) max(x + (p + 1)/2 - n, 0)^p/p!, and B(-x) = B(x). */
static inline struct ww_knots ww_knots_at(double at, size_t samples)
{
    long base = (long)at;
    base -= (double)base > at;
    double t = at - (double)base; /* samples base - 2 .. base + 3 */
    double half = 0.5 * (t + (double)(base & 1));
    const ww_pair h0 = {1 - half, half}, h1 = h0 + 1.0, c = h0 * h0 * h0, d = h1 * h1 * h1 - 4.0 * c;
    const ww_pair x0 = {1 - t, t}, x1 = x0 + 1.0, x2 = x0 + 2.0;
    const ww_pair s0 = x0 * x0, s1 = x1 * x1, s2 = x2 * x2;
    const ww_pair outer = s0 * s0 * x0, middle = s1 * s1 * x1, inner = s2 * s2 * x2 - 6.0 * middle + 15.0 * outer;
    const ww_pair a = outer * (1.0 / 120), b = (middle - 6.0 * outer) * (1.0 / 120);
    struct ww_knots knots = {.first = (size_t)(base - 2) & (samples - 1),
                             .first_coarse = (size_t)((base - (base & 1)) / 2 - 1) & (samples / 2 - 1)};
    *(ww_pair *)&knots.weight[0] = (ww_pair){a[0], b[0]};
    *(ww_pair *)&knots.weight[2] = inner * (1.0 / 120);
    *(ww_pair *)&knots.weight[4] = (ww_pair){b[1], a[1]};
    *(ww_pair *)&knots.coarse[0] = (ww_pair){c[0], d[0]} * (1.0 / 6);
    *(ww_pair *)&knots.coarse[2] = (ww_pair){d[1], c[1]} * (1.0 / 6);
    return knots;
}

/* Of third degree alone; at: in samples of the coarse table, samples: its own. */
static inline struct ww_knots ww_knots_coarse(double at, size_t samples)
{
    long base = (long)at;
    base -= (double)base > at;
    double t = at - (double)base, s = 1 - t;
    return (struct ww_knots){
        .first_coarse = (size_t)(base - 1) & (samples - 1),
        .coarse = {s * s * s / 6, 2.0 / 3 - t * t * (1 - 0.5 * t), 2.0 / 3 - s * s * (1 - 0.5 * s), t * t * t / 6}};
}

/* At one place. */
static inline double ww_table_at(const struct ww_table *table, const struct ww_knots *x, const struct ww_knots *y)
{
    size_t wide = table->nx + WW_PADDED;
    const double *row = table->spline + y->first * wide + x->first;
    ww_pair a = {0, 0}, b = {0, 0}, c = {0, 0};
    for (int j = 0; j < WW_KNOTS; j++, row += wide) {
        const ww_pair *two = (const ww_pair *)row;
        a += y->weight[j] * two[0];
        b += y->weight[j] * two[1];
        c += y->weight[j] * two[2];
    }
    ww_pair sum = *(const ww_pair *)&x->weight[0] * a + *(const ww_pair *)&x->weight[2] * b +
                  *(const ww_pair *)&x->weight[4] * c;
    return sum[0] + sum[1];
}

/* Of one that is coarse, the knots of twice as many samples. */
static inline double ww_table_coarse(const struct ww_table *table, const struct ww_knots *x, const struct ww_knots *y)
{
    size_t wide = table->nx + WW_PADDED;
    const double *row = table->spline + y->first_coarse * wide + x->first_coarse;
    ww_pair a = {0, 0}, b = {0, 0};
    for (int j = 0; j < 4; j++, row += wide) {
        const ww_pair *two = (const ww_pair *)row;
        a += y->coarse[j] * two[0];
        b += y->coarse[j] * two[1];
    }
    ww_pair sum = *(const ww_pair *)&x->coarse[0] * a + *(const ww_pair *)&x->coarse[2] * b;
    return sum[0] + sum[1];
}

#endif
