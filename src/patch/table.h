/* table.h - a periodic function of two variables, from its harmonics, at any place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_PATCH_TABLE_H
#define WW_PATCH_TABLE_H

#include <complex.h>

#include "weftwise/core.h"

/* Periodic in nx by ny samples. */
struct ww_table {
    size_t nx, ny;
    double *spline; /* [ny + 5][nx + 88] coefficients, those beyond the period repeated */
};

/* The spline around one place along one axis: samples first .. first + 5. */
struct ww_knots {
    size_t first;
    double weight[6];
};
/* place: in periods, any; samples: in the period. */
struct ww_knots ww_knots_at(double place, size_t samples);

/* From a half spectrum coef[ny][nx/2+1] as in core/transform.h, which is lost. WW_NO_MEMORY. */
enum ww_status ww_table_build(struct ww_table *table, double _Complex *coef, size_t nx, size_t ny,
                              struct ww_error *error);
void ww_table_clear(struct ww_table *table);
double ww_table_at(const struct ww_table *table, const struct ww_knots *x, const struct ww_knots *y);

#endif
