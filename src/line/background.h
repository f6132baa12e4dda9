/* background.h - the laterally uniform cross-section solved: charges, potentials, capacitance.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_BACKGROUND_H
#define WW_LINE_BACKGROUND_H

#include "line/copper.h"

/* Potentials on interior nodes, [(level-1)*(columns-1) + column-1]: `even` with every conductor at 1 V, `odd` with
 * leg 1 at 1 V and leg 2 at -1 V (NULL for a single trace). */
struct ww_background {
    double c_even, c_odd; /* charge of leg 1 in each mode, in units of eps0 F/m; single: c_even is C, c_odd is 0 */
    double *even, *odd;   /* NULL unless asked for */
};

/* vacuum: with eps = 1. fields: keep the potentials. */
enum ww_status ww_background_solve(struct ww_background *background, const struct ww_mesh *mesh, bool vacuum,
                                   bool fields, struct ww_error *error);
/* The same with the layered problem of a cross-section and its copper at hand; the potentials are on the levels that it
 * keeps. */
enum ww_status ww_background_solve_on(struct ww_background *background, const struct ww_layered *layered,
                                      const struct ww_copper *copper, bool fields, struct ww_error *error);
void ww_background_clear(struct ww_background *background);

/* Integral over one row of a potential's squared field, along z and across the trace: times eps, and summed over the rows, it
 * is the capacitance in units of eps0 F/m, twice over for a pair driven odd or even. */
struct ww_row_energy {
    double z, n;
};
struct ww_row_energy ww_background_energy(const struct ww_mesh *mesh, const double *potential, size_t row);

#endif
