/* table.c - a periodic function from its harmonics, at any place, by a spline.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The function is f(x) = sum over j of c_j B(x/h - j), B the B-spline of fifth degree. Harmonic m of N samples comes out of the
 * samples c_j times b(m) = sum over j of B(j) exp(-2 pi i m j/N) = (66 + 52 cos a + 2 cos 2a)/120, a = 2 pi m/N; divided by it,
 * it is right at the samples, and between them off by 4 (m/N)^6 at most: 4e-9 at m = N/32; of third degree, b = (2 + cos a)/3, by
 * 4 (m/N)^4 (I. J. Schoenberg, Quart. Appl. Math. 4
 * (1946) 45; M. Unser, IEEE Signal Proc. Mag. 16 (1999) 22).
 */
#include "patch/table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

static double filter(size_t m, size_t n, bool coarse)
{
    double a = 2 * WW_PI * (double)m / (double)n;
    return coarse ? 3 / (2 + cos(a)) : 120 / (66 + 52 * cos(a) + 2 * cos(2 * a));
}

enum ww_status ww_table_build(struct ww_table *table, double _Complex *coef, size_t nx, size_t ny, bool coarse,
                              struct ww_error *error)
{
    size_t row = nx / 2 + 1, wide = nx + WW_PADDED, high = ny + WW_KNOTS - 1;
    double *value = malloc(nx * ny * sizeof *value), *along = malloc(row * sizeof *along);
    *table = (struct ww_table){nx, ny, malloc(wide * high * sizeof *table->spline)};
    enum ww_status status = WW_OK;
    if (!value || !along || !table->spline)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a table of %zu by %zu", nx, ny);
    for (size_t m = 0; m < row && !status; m++)
        along[m] = filter(m, nx, coarse);
    for (size_t l = 0; l < ny && !status; l++) {
        double across = filter(l, ny, coarse);
        for (size_t m = 0; m < row; m++)
            coef[l * row + m] *= across * along[m];
    }
    if (!status)
        status = ww_transform_inverse(coef, nx, ny, value, error);
    for (size_t iy = 0; iy < high && !status; iy++)
        for (size_t ix = 0; ix < wide; ix++)
            table->spline[iy * wide + ix] = value[iy % ny * nx + ix % nx];
    free(value);
    free(along);
    if (status)
        ww_table_clear(table);
    return status;
}

void ww_table_halves(struct ww_table *a, struct ww_table *b)
{
    size_t all = (a->nx + WW_PADDED) * (a->ny + WW_KNOTS - 1);
    for (size_t i = 0; i < all; i++) {
        double one = a->spline[i], other = b->spline[i];
        a->spline[i] = 0.5 * (one + other);
        b->spline[i] = 0.5 * (one - other);
    }
}

double ww_table_largest(const struct ww_table *table)
{
    double most = 0;
    for (size_t i = 0; i < (table->nx + WW_PADDED) * (table->ny + WW_KNOTS - 1); i++)
        most = fmax(most, fabs(table->spline[i]));
    return most;
}

void ww_table_clear(struct ww_table *table)
{
    free(table->spline);
    memset(table, 0, sizeof *table);
}
