/* copper.c - charges on the copper.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Copper is a set of nodes held at given potentials by charges on its perimeter. The layered Green function between
 * nodes is known mode by mode (poisson.c), so the charges solve a small dense system
 *   sum over perimeter nodes p' of G(p, p') q(p') = V(p),
 * symmetric and positive definite: Cholesky, no iteration. This is the capacitance-matrix method of Buzbee, Dorr,
 * George and Golub, SIAM J. Numer. Anal. 8, 722 (1971). A pair is symmetric about n = 0: even and odd combinations of
 * the legs halve the system. Harmonics along a period do not mix.
 */
#include "line/copper.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/transform.h"

#define PANEL 48      /* columns of the matrix that are factored together */
#define MANY_ROWS 384 /* from where on threads are worth their meeting */

/* Nodes on the faces of leg 1: all columns of the bottom and top levels, the two edges between. */
static size_t list_perimeter(const struct ww_mesh *mesh, struct ww_copper_node *node)
{
    size_t count = 0;
    for (size_t k = mesh->bottom; k <= mesh->top; k++) {
        bool face = k == mesh->bottom || k == mesh->top;
        for (size_t i = 0; i <= mesh->span; i += face ? 1 : mesh->span) {
            if (node)
                node[count] = (struct ww_copper_node){mesh->first + i, k};
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

/* Row i of the factor from column `first` on, up to column `end` or the diagonal: what the columns before `first` take
 * off is off already. */
static bool finish_row(double *a, size_t n, size_t i, size_t first, size_t end)
{
    double *row = a + i * n;
    for (size_t j = first; j < end && j < i; j++)
        row[j] = (row[j] - dot(row + first, a + j * n + first, j - first)) / a[j * n + j];
    if (i >= end)
        return true;
    double rest = row[i] - dot(row + first, row + first, i - first);
    row[i] = sqrt(rest);
    return rest > 0;
}

/* Cholesky factor of a positive definite matrix, in the place of its lower triangle: a panel of columns at a time, so
 * that threads meet seldom. */
static bool factorise(double *a, size_t n)
{
    for (size_t first = 0; first < n; first += PANEL) {
        size_t end = first + PANEL < n ? first + PANEL : n;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for((n - first) * first * PANEL)) schedule(static, 16)
#endif
        for (size_t i = first; i < n; i++)
            for (size_t j = first; j < end && j <= i; j++)
                a[i * n + j] -= dot(a + i * n, a + j * n, first);
        for (size_t i = first; i < end; i++)
            if (!finish_row(a, n, i, first, end))
                return false;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for((n - first) * first * PANEL)) schedule(static, 16)
#endif
        for (size_t i = end; i < n; i++)
            finish_row(a, n, i, first, end);
    }
    return true;
}

/* Between one level and those from `low` up to it. */
struct green_table {
    const double *g;
    size_t columns, low;
};

/* Potential at a, on the table's level, from unit charge at b. */
static double green(const struct green_table *t, struct ww_copper_node a, struct ww_copper_node b)
{
    const double *g = t->g + (b.level - t->low) * (t->columns + 1);
    size_t apart = a.column > b.column ? a.column - b.column : b.column - a.column;
    size_t sum = a.column + b.column;
    return g[apart] - g[sum <= t->columns ? sum : 2 * t->columns - sum];
}

/* Rows first..end-1, the nodes of one level, up to the diagonal. */
static void fill_rows(const struct ww_copper *copper, const struct green_table *table, size_t first, size_t end,
                      double sign, double *matrix)
{
    size_t count = copper->count;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * (end - first) * end)) schedule(static, 16)
#endif
    for (size_t p = first; p < end; p++) {
        struct ww_copper_node here = copper->node[p], mirror = {copper->columns - here.column, here.level};
        for (size_t q = 0; q <= p; q++)
            matrix[p * count + q] = green(table, here, copper->node[q]) +
                                    (copper->pair ? sign * green(table, mirror, copper->node[q]) : 0);
    }
}

/* The lower triangles of one harmonic's matrices, a level of the copper at a time: between all levels the Green function of a
 * narrow, thick trace would fill gigabytes. values: room for `levels` levels of it, and for one more of nodes than those. */
static void fill_matrices(const struct ww_copper *copper, const struct ww_layered *layered, size_t harmonic,
                          size_t levels, const struct ww_cosine *cosine, double *values)
{
    size_t count = copper->count, low = copper->node[0].level;
    double *own = values + levels * (copper->columns + 1);
    const struct green_table table = {values, copper->columns, low};
    ww_layered_own(layered, harmonic, low, low + levels - 1, own);
    for (size_t level = low, first = 0, end; level < low + levels; level++, first = end) {
        for (end = first; end < count && copper->node[end].level == level;)
            end++;
        ww_layered_green(layered, harmonic, low, level, own + (level - low) * layered->nodes, cosine, values);
        for (int odd = 0; odd < (copper->pair ? 2 : 1); odd++)
            fill_rows(copper, &table, first, end, odd ? -1 : 1, copper->factor[odd] + harmonic * count * count);
    }
}

enum ww_status ww_copper_create(struct ww_copper *copper, const struct ww_mesh *mesh,
                                const struct ww_layered *layered, struct ww_error *error)
{
    memset(copper, 0, sizeof *copper);
    size_t count = list_perimeter(mesh, NULL), levels = mesh->top - mesh->bottom + 1,
           harmonics = layered->along / 2 + 1;
    copper->count = count;
    copper->columns = mesh->columns;
    copper->harmonics = harmonics;
    copper->pair = mesh->pair;
    copper->node = calloc(count, sizeof *copper->node);
    copper->factor[0] = calloc(harmonics * count * count, sizeof(double));
    copper->factor[1] = mesh->pair ? calloc(harmonics * count * count, sizeof(double)) : NULL;
    double *values = calloc((2 * levels + 1) * (mesh->columns + 1), sizeof *values);
    struct ww_cosine *cosine;
    enum ww_status status = ww_cosine_create(&cosine, mesh->columns + 1, error);
    if (status)
        goto done;
    if (!copper->node || !copper->factor[0] || (mesh->pair && !copper->factor[1]) || !values) {
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the charges on %zu nodes of copper", count);
        goto done;
    }
    list_perimeter(mesh, copper->node);
    for (size_t harmonic = 0; harmonic < harmonics && !status; harmonic++) {
        fill_matrices(copper, layered, harmonic, levels, cosine, values);
        for (int odd = 0; odd < (mesh->pair ? 2 : 1) && !status; odd++)
            if (!factorise(copper->factor[odd] + harmonic * count * count, count))
                status = ww_error_set(error, WW_NOT_CONVERGED, NULL, 0,
                                      "the charges on the copper have no solution on this grid");
    }
done:
    ww_cosine_destroy(cosine);
    free(values);
    if (status)
        ww_copper_destroy(copper);
    return status;
}

void ww_copper_destroy(struct ww_copper *copper)
{
    free(copper->node);
    free(copper->factor[0]);
    free(copper->factor[1]);
    memset(copper, 0, sizeof *copper);
}

void ww_copper_charge(const struct ww_copper *copper, size_t harmonic, bool odd, double *value)
{
    size_t n = copper->count;
    const double *a = copper->factor[odd] + harmonic * n * n;
    for (size_t i = 0; i < n; i++)
        value[i] = (value[i] - dot(a + i * n, value, i)) / a[i * n + i];
    for (size_t i = n; i-- > 0;) {
        value[i] /= a[i * n + i];
        for (size_t j = 0; j < i; j++)
            value[j] -= a[i * n + j] * value[i];
    }
}
