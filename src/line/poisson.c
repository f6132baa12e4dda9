/* poisson.c - the layered operator and its exact inverse.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The energy of a potential on the nodes is the sum over edges of conductance times (difference)^2 / 2:
 *   edge up from level k to k+1:    eps_z[row k] h/dz[k]
 *   edge across on level k:         (eps_n[k-1] dz[k-1] + eps_n[k] dz[k]) / (2 h)
 * (half of the row below, half of the row above). Its stationary points solve div(eps grad phi) = 0 to second order;
 * the charge on a node, in units of eps0 F/m, is the operator applied there. Because the sum is a quadratic form
 * with positive coefficients, Dirichlet's and Thomson's principles hold on the grid exactly, which kernel.c uses.
 *
 * Where eps does not depend on n, sines across (zero at both walls) diagonalise the lateral part, and each mode m
 * leaves a tridiagonal system up the levels: Buzbee, Golub and Nielson, SIAM J. Numer. Anal. 7, 627 (1970).
 */
#include "line/poisson.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

enum ww_status ww_layered_create(struct ww_layered *layered, const struct ww_mesh *mesh, bool vacuum,
                                 struct ww_error *error)
{
    memset(layered, 0, sizeof *layered);
    size_t nodes = mesh->columns - 1, levels = mesh->rows - 1;
    layered->nodes = nodes;
    layered->levels = levels;
    layered->across = calloc(levels, sizeof(double));
    layered->up = calloc(levels + 1, sizeof(double));
    layered->mode = calloc(nodes, sizeof(double));
    layered->pivot = calloc(levels * nodes, sizeof(double));
    enum ww_status status = WW_OK;
    if (!layered->across || !layered->up || !layered->mode || !layered->pivot) {
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a grid of %zu by %zu nodes", nodes, levels);
        goto done;
    }
    status = ww_sine_create(&layered->sine, levels, nodes, error);
    if (status)
        goto done;

    for (size_t k = 0; k <= levels; k++)
        layered->up[k] = (vacuum ? 1 : creal(mesh->row[k].eps_z)) * mesh->step / mesh->row[k].dz;
    for (size_t k = 0; k < levels; k++) {
        const struct ww_row *below = &mesh->row[k], *above = &mesh->row[k + 1];
        double lower = vacuum ? 1 : creal(below->eps_n), upper = vacuum ? 1 : creal(above->eps_n);
        layered->across[k] = (lower * below->dz + upper * above->dz) / (2 * mesh->step);
    }
    for (size_t m = 0; m < nodes; m++) {
        double half = sin(0.5 * WW_PI * (double)(m + 1) / (double)mesh->columns);
        layered->mode[m] = 4 * half * half;
    }
    for (size_t k = 0; k < levels; k++)
        for (size_t m = 0; m < nodes; m++) {
            double diagonal = layered->up[k] + layered->up[k + 1] + layered->across[k] * layered->mode[m];
            double carried = k ? layered->up[k] * layered->up[k] * layered->pivot[(k - 1) * nodes + m] : 0;
            layered->pivot[k * nodes + m] = 1 / (diagonal - carried);
        }
done:
    if (status)
        ww_layered_destroy(layered);
    return status;
}

void ww_layered_destroy(struct ww_layered *layered)
{
    free(layered->across);
    free(layered->up);
    free(layered->mode);
    free(layered->pivot);
    ww_sine_destroy(layered->sine);
    memset(layered, 0, sizeof *layered);
}

void ww_layered_solve_modes(const struct ww_layered *layered, double *a)
{
    size_t nodes = layered->nodes, levels = layered->levels;
    const double *pivot = layered->pivot;
    for (size_t k = 0; k < levels; k++) {
        double *here = a + k * nodes;
        const double *below = here - nodes;
        double up = layered->up[k];
        for (size_t m = 0; m < nodes; m++)
            here[m] = (k ? here[m] + up * below[m] : here[m]) * pivot[k * nodes + m];
    }
    for (size_t k = levels - 1; k-- > 0;) {
        double *here = a + k * nodes;
        const double *above = here + nodes;
        double up = layered->up[k + 1];
        for (size_t m = 0; m < nodes; m++)
            here[m] += up * above[m] * pivot[k * nodes + m];
    }
}

void ww_layered_solve(const struct ww_layered *layered, double *a)
{
    ww_sine_apply(layered->sine, a);
    ww_layered_solve_modes(layered, a);
    ww_sine_apply(layered->sine, a);
    double scale = 1 / (2.0 * (double)(layered->nodes + 1));
    for (size_t i = 0; i < layered->nodes * layered->levels; i++)
        a[i] *= scale;
}

enum ww_status ww_layered_green(const struct ww_layered *layered, size_t low, size_t high, double *green,
                                struct ww_error *error)
{
    size_t nodes = layered->nodes, columns = nodes + 1, count = high - low + 1;
    double *modes = calloc(nodes * layered->levels, sizeof *modes);
    if (!modes)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a Green function of %zu nodes",
                            nodes * layered->levels);
    for (size_t source = 0; source < count; source++) {
        memset(modes, 0, nodes * layered->levels * sizeof *modes);
        for (size_t m = 0; m < nodes; m++)
            modes[(low - 1 + source) * nodes + m] = 1;
        ww_layered_solve_modes(layered, modes);
        for (size_t k = 0; k < count; k++) {
            double *g = green + (k * count + source) * (columns + 1);
            g[0] = g[columns] = 0;
            memcpy(g + 1, modes + (low - 1 + k) * nodes, nodes * sizeof *g);
        }
    }
    free(modes);
    /* sum over m of g_m sin sin * 2/columns = (1/columns) sum g_m [cos(i-i') - cos(i+i')]; the cosine sum counts twice */
    enum ww_status status = ww_transform_cosine(green, count * count, columns + 1, error);
    for (size_t i = 0; i < count * count * (columns + 1); i++)
        green[i] *= 0.5 / (double)columns;
    return status;
}
