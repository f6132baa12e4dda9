/* table.c - a periodic function from its harmonics, at any place, by a spline.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The function is f(x) = sum over j of c_j B(x/h - j), B the B-spline of fifth degree. Harmonic m of N samples comes out of the
 * samples c_j times b(m) = sum over j of B(j) exp(-2 pi i m j/N) = (66 + 52 cos a + 2 cos 2a)/120, a = 2 pi m/N; divided by it,
 * it is right at the samples, and between them off by about (m/N)^6: 1e-9 at m = N/32 (I. J. Schoenberg, Quart. Appl. Math. 4
 * (1946) 45; M. Unser, IEEE Signal Proc. Mag. 16 (1999) 22).
 */
#include "patch/table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

enum { KNOTS = 6, PADDED = 88 }; /* rows of a power of two and little more would share places in the cache */

static double filter(size_t m, size_t n)
{
    double a = 2 * WW_PI * (double)m / (double)n;
    return 120 / (66 + 52 * cos(a) + 2 * cos(2 * a));
}

enum ww_status ww_table_build(struct ww_table *table, double _Complex *coef, size_t nx, size_t ny,
                              struct ww_error *error)
{
    size_t row = nx / 2 + 1, wide = nx + PADDED, high = ny + KNOTS - 1;
    double *value = malloc(nx * ny * sizeof *value);
    *table = (struct ww_table){nx, ny, malloc(wide * high * sizeof *table->spline)};
    enum ww_status status = WW_OK;
    if (!value || !table->spline)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a table of %zu by %zu", nx, ny);
    for (size_t l = 0; l < ny && !status; l++)
        for (size_t m = 0; m < row; m++)
            coef[l * row + m] *= filter(l, ny) * filter(m, nx);
    if (!status)
        status = ww_transform_inverse(coef, nx, ny, value, error);
    for (size_t iy = 0; iy < high && !status; iy++)
        for (size_t ix = 0; ix < wide; ix++)
            table->spline[iy * wide + ix] = value[iy % ny * nx + ix % nx];
    free(value);
    if (status)
        ww_table_clear(table);
    return status;
}

void ww_table_clear(struct ww_table *table)
{
    free(table->spline);
    memset(table, 0, sizeof *table);
}

struct ww_knots ww_knots_at(double place, size_t samples)
{
    double n = (double)samples, at = (place - floor(place)) * n, base = floor(at), t = at - base;
    size_t i = (size_t)base; /* samples i - 2 .. i + 3 */
    double t2 = t * t, t3 = t2 * t, t4 = t3 * t, t5 = t4 * t, u = 1 - t, u2 = u * u;
    return (struct ww_knots){(i + 2 * samples - 2) % samples,
                             {u2 * u2 * u / 120, (26 - 50 * t + 20 * t2 + 20 * t3 - 20 * t4 + 5 * t5) / 120,
                              (66 - 60 * t2 + 30 * t4 - 10 * t5) / 120,
                              (26 + 50 * t + 20 * t2 - 20 * t3 - 20 * t4 + 10 * t5) / 120,
                              (1 + 5 * t + 10 * t2 + 10 * t3 + 5 * t4 - 5 * t5) / 120, t5 / 120}};
}

double ww_table_at(const struct ww_table *table, const struct ww_knots *x, const struct ww_knots *y)
{
    size_t wide = table->nx + PADDED;
    const double *row = table->spline + y->first * wide + x->first;
    double column[KNOTS] = {0};
    /* rows first: their weights are taken one by one, as they were stored; two at a time the machine would wait for them */
    for (int j = 0; j < KNOTS; j++, row += wide)
        for (int i = 0; i < KNOTS; i++)
            column[i] += y->weight[j] * row[i];
    return x->weight[0] * column[0] + x->weight[1] * column[1] + x->weight[2] * column[2] + x->weight[3] * column[3] +
           x->weight[4] * column[4] + x->weight[5] * column[5];
}
