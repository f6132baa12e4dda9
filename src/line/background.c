/* background.c - the background solution, exact on its grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * With every slice at its lateral mean the cross-section is layered, and the charges that hold the copper at 1 V come
 * from one dense solve (copper.c). Their sum is the capacitance; spread through the inverse of the layered operator
 * they give the potential everywhere.
 */
#include "line/background.h"

#include <stdlib.h>
#include <string.h>

/* One mode: leg 1 at 1 V, leg 2 (if any) at 1 V, or -1 V if odd. */
static enum ww_status solve_mode(const struct ww_layered *layered, const struct ww_copper *copper, bool odd,
                                 double *charge, double *total, double **potential, struct ww_error *error)
{
    for (size_t p = 0; p < copper->count; p++)
        charge[p] = 1;
    ww_copper_charge(copper, 0, odd, charge);
    *total = 0;
    for (size_t p = 0; p < copper->count; p++)
        *total += charge[p];
    if (!potential)
        return WW_OK;

    size_t nodes = layered->nodes;
    *potential = calloc(nodes * layered->levels, sizeof(double));
    if (!*potential)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the potential on %zu nodes",
                            nodes * layered->levels);
    for (size_t p = 0; p < copper->count; p++) {
        double *level = *potential + (copper->node[p].level - layered->low) * nodes;
        level[copper->node[p].column - 1] += charge[p];
        if (copper->pair)
            level[copper->columns - copper->node[p].column - 1] += odd ? -charge[p] : charge[p];
    }
    ww_layered_solve(layered, *potential);
    return WW_OK;
}

enum ww_status ww_background_solve_on(struct ww_background *background, const struct ww_layered *layered,
                                      const struct ww_copper *copper, bool fields, struct ww_error *error)
{
    memset(background, 0, sizeof *background);
    double *charge = calloc(copper->count, sizeof *charge);
    if (!charge)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu charges", copper->count);
    enum ww_status status =
        solve_mode(layered, copper, false, charge, &background->c_even, fields ? &background->even : NULL, error);
    if (!status && copper->pair)
        status =
            solve_mode(layered, copper, true, charge, &background->c_odd, fields ? &background->odd : NULL, error);
    free(charge);
    if (status)
        ww_background_clear(background);
    return status;
}

enum ww_status ww_background_solve(struct ww_background *background, const struct ww_mesh *mesh, bool vacuum,
                                   bool fields, struct ww_error *error)
{
    memset(background, 0, sizeof *background);
    struct ww_layered layered = {0};
    struct ww_copper copper = {0};
    enum ww_status status = ww_layered_create(&layered, mesh, WW_CROSS_SECTION, vacuum, error);
    if (!status)
        status = ww_copper_create(&copper, mesh, &layered, error);
    if (!status)
        status = ww_background_solve_on(background, &layered, &copper, fields, error);
    ww_layered_destroy(&layered);
    ww_copper_destroy(&copper);
    return status;
}

void ww_background_clear(struct ww_background *background)
{
    free(background->even);
    free(background->odd);
    memset(background, 0, sizeof *background);
}

struct ww_row_energy ww_background_energy(const struct ww_mesh *mesh, const double *potential, size_t row)
{
    size_t nodes = mesh->columns - 1;
    const double *lower = row ? potential + (row - 1) * nodes : NULL;
    const double *upper = row + 1 < mesh->rows ? potential + row * nodes : NULL;
    double up = 0, across = 0;
    for (size_t i = 0; i <= nodes; i++) {
        double a = lower && i < nodes ? lower[i] : 0, b = upper && i < nodes ? upper[i] : 0;
        double a0 = lower && i ? lower[i - 1] : 0, b0 = upper && i ? upper[i - 1] : 0;
        up += (b - a) * (b - a);
        across += (a - a0) * (a - a0) + (b - b0) * (b - b0);
    }
    return (struct ww_row_energy){up * mesh->step / mesh->row[row].dz, across * mesh->row[row].dz / (2 * mesh->step)};
}
