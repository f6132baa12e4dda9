/* background.c - the background solution, exact on its grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Copper is a set of nodes held at one potential by charges on its perimeter. The layered Green function between
 * nodes is known in closed form mode by mode (poisson.c), so the charges solve a small dense system
 *   sum over perimeter nodes p' of G(p, p') q(p') = V(p),
 * symmetric and positive definite: Cholesky, no iteration. This is the capacitance-matrix method of Buzbee, Dorr,
 * George and Golub, SIAM J. Numer. Anal. 8, 722 (1971). Charges once known, one inverse transform gives the
 * potential everywhere. A pair is symmetric about n = 0: even and odd drive halve the system.
 */
#include "line/background.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

struct node {
    size_t column, level;
};

/* Nodes on the faces of leg 1: all columns of the bottom and top levels, the two edges between. */
static size_t list_perimeter(const struct ww_mesh *mesh, struct node *node)
{
    size_t count = 0;
    for (size_t k = mesh->bottom; k <= mesh->top; k++) {
        bool face = k == mesh->bottom || k == mesh->top;
        for (size_t i = 0; i <= mesh->span; i += face ? 1 : mesh->span) {
            if (node)
                node[count] = (struct node){mesh->first + i, k};
            count++;
        }
    }
    return count;
}

static double dot(const double *a, const double *b, size_t n)
{
    double s0 = 0, s1 = 0, s2 = 0, s3 = 0;
    size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        s0 += a[i] * b[i];
        s1 += a[i + 1] * b[i + 1];
        s2 += a[i + 2] * b[i + 2];
        s3 += a[i + 3] * b[i + 3];
    }
    for (; i < n; i++)
        s0 += a[i] * b[i];
    return (s0 + s1) + (s2 + s3);
}

/* Solve a x = b in place of b; a (n by n, lower triangle used) is overwritten by its Cholesky factor. */
static bool solve_positive_definite(double *a, double *b, size_t n)
{
    for (size_t j = 0; j < n; j++) {
        double *row = a + j * n;
        double rest = row[j] - dot(row, row, j);
        if (!(rest > 0))
            return false;
        row[j] = sqrt(rest);
#ifdef _OPENMP
#pragma omp parallel for if (n - j > 256) num_threads(ww_threads()) schedule(static)
#endif
        for (size_t i = j + 1; i < n; i++)
            a[i * n + j] = (a[i * n + j] - dot(a + i * n, row, j)) / row[j];
    }
    for (size_t i = 0; i < n; i++)
        b[i] = (b[i] - dot(a + i * n, b, i)) / a[i * n + i];
    for (size_t i = n; i-- > 0;) {
        b[i] /= a[i * n + i];
        for (size_t j = 0; j < i; j++)
            b[j] -= a[i * n + j] * b[i];
    }
    return true;
}

struct green_table {
    const double *g;
    size_t columns, low, levels;
};

/* Potential at a from unit charge at b. */
static double green(const struct green_table *t, struct node a, struct node b)
{
    const double *g = t->g + ((a.level - t->low) * t->levels + (b.level - t->low)) * (t->columns + 1);
    size_t apart = a.column > b.column ? a.column - b.column : b.column - a.column;
    size_t sum = a.column + b.column;
    return g[apart] - g[sum <= t->columns ? sum : 2 * t->columns - sum];
}

/* One mode: charges on leg 1 for 1 V, leg 2 (if any) at sign V. Returns total charge in *total. */
static enum ww_status solve_charges(const struct green_table *table, const struct ww_mesh *mesh,
                                    const struct node *node, size_t count, double sign, double *matrix,
                                    double *charge, double *total, struct ww_error *error)
{
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(static, 16)
#endif
    for (size_t p = 0; p < count; p++) {
        struct node mirror = {mesh->columns - node[p].column, node[p].level};
        for (size_t q = 0; q <= p; q++)
            matrix[p * count + q] =
                green(table, node[p], node[q]) + (mesh->pair ? sign * green(table, mirror, node[q]) : 0);
        charge[p] = 1;
    }
    if (!solve_positive_definite(matrix, charge, count))
        return ww_error_set(error, WW_NOT_CONVERGED, NULL, 0,
                            "the charges on the copper have no solution on this grid");
    *total = 0;
    for (size_t p = 0; p < count; p++)
        *total += charge[p];
    return WW_OK;
}

/* Potential on all interior nodes from the charges of one mode. */
static enum ww_status spread_potential(const struct ww_layered *layered, const struct ww_mesh *mesh,
                                       const struct node *node, size_t count, const double *charge, double sign,
                                       double **potential, struct ww_error *error)
{
    size_t nodes = layered->nodes;
    *potential = calloc(nodes * layered->levels, sizeof(double));
    if (!*potential)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the potential on %zu nodes",
                            nodes * layered->levels);
    for (size_t p = 0; p < count; p++) {
        double *level = *potential + (node[p].level - 1) * nodes;
        level[node[p].column - 1] += charge[p];
        if (mesh->pair)
            level[mesh->columns - node[p].column - 1] += sign * charge[p];
    }
    ww_layered_solve(layered, *potential);
    return WW_OK;
}

enum ww_status ww_background_solve(struct ww_background *background, const struct ww_mesh *mesh, bool vacuum,
                                   bool fields, struct ww_error *error)
{
    memset(background, 0, sizeof *background);
    struct ww_layered layered = {0};
    size_t count = list_perimeter(mesh, NULL), levels = mesh->top - mesh->bottom + 1;
    struct node *node = calloc(count, sizeof *node);
    double *matrix = calloc(count * count, sizeof *matrix), *charge = calloc(count, sizeof *charge);
    double *green_values = calloc(levels * levels * (mesh->columns + 1), sizeof *green_values);
    struct green_table table = {green_values, mesh->columns, mesh->bottom, levels};
    enum ww_status status = WW_OK;
    if (!node || !matrix || !charge || !green_values) {
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the charges on %zu nodes of copper", count);
        goto done;
    }
    list_perimeter(mesh, node);
    status = ww_layered_create(&layered, mesh, vacuum, error);
    if (!status)
        status = ww_layered_green(&layered, mesh->bottom, mesh->top, green_values, error);
    if (!status)
        status = solve_charges(&table, mesh, node, count, 1, matrix, charge, &background->c_even, error);
    if (!status && fields)
        status = spread_potential(&layered, mesh, node, count, charge, 1, &background->even, error);
    if (!status && mesh->pair)
        status = solve_charges(&table, mesh, node, count, -1, matrix, charge, &background->c_odd, error);
    if (!status && mesh->pair && fields)
        status = spread_potential(&layered, mesh, node, count, charge, -1, &background->odd, error);
done:
    ww_layered_destroy(&layered);
    free(node);
    free(matrix);
    free(charge);
    free(green_values);
    if (status)
        ww_background_clear(background);
    return status;
}

void ww_background_clear(struct ww_background *background)
{
    free(background->even);
    free(background->odd);
    memset(background, 0, sizeof *background);
}
