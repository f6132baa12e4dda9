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

/* Rows first..end-1, the nodes of one level, up to the diagonal or column `most`. */
static void fill_rows(const struct ww_copper *copper, const struct green_table *table, size_t first, size_t end,
                      size_t most, double sign, double *matrix)
{
    size_t count = copper->count;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * (end - first) * end)) schedule(static, 16)
#endif
    for (size_t p = first; p < end; p++) {
        struct ww_copper_node here = copper->node[p], mirror = {copper->columns - here.column, here.level};
        for (size_t q = 0; q <= p && q < most; q++)
            matrix[p * count + q] = green(table, here, copper->node[q]) +
                                    (copper->pair ? sign * green(table, mirror, copper->node[q]) : 0);
    }
}

/* What fills the matrices of one harmonic. */
struct filling {
    const struct ww_layered *layered;
    size_t harmonic, low, levels, span;
    struct ww_cosine *cosine;
    double *green; /* [levels][columns+1] between one level and those below it */
    double *own;   /* [levels+1][nodes] */
    double *edge
        [3]; /* [nodes] mode by mode the sines at the left edge squared, at both edges, at the right edge squared */
};

static void lay_edges(struct filling *filling, const struct ww_mesh *mesh)
{
    for (size_t m = 1; m < mesh->columns; m++) {
        double at[2];
        for (size_t right = 0; right < 2; right++)
            at[right] = sin(WW_PI * (double)(m * (mesh->first + right * mesh->span) % (2 * mesh->columns)) /
                            (double)mesh->columns);
        filling->edge[0][m - 1] = at[0] * at[0];
        filling->edge[1][m - 1] = at[0] * at[1];
        filling->edge[2][m - 1] = at[1] * at[1];
    }
}

/* Between the edges of one level and of another, g[nodes] between them: rows p and p+1, columns q and q+1. Modes 1, 3, ... are
 * even about the middle of a pair, modes 2, 4, ... odd. */
static void fill_edges(const struct ww_copper *copper, const struct filling *filling, const double *g, size_t p,
                       size_t q)
{
    size_t nodes = filling->layered->nodes, count = copper->count;
    double even[3] = {0}, odd[3] = {0};
    const double *left = filling->edge[0], *both = filling->edge[1], *right = filling->edge[2];
    for (size_t m = 0; m + 1 < nodes; m += 2) {
        even[0] += g[m] * left[m];
        even[1] += g[m] * both[m];
        even[2] += g[m] * right[m];
        odd[0] += g[m + 1] * left[m + 1];
        odd[1] += g[m + 1] * both[m + 1];
        odd[2] += g[m + 1] * right[m + 1];
    }
    for (size_t i = 0; i < 3 && nodes % 2; i++)
        even[i] += g[nodes - 1] * filling->edge[i][nodes - 1];
    for (size_t i = 0; i < 2; i++)
        for (size_t j = 0; j < 2; j++) {
            size_t at = filling->harmonic * count * count + (p + i) * count + q + j;
            copper->factor[0][at] = copper->pair ? 8 * even[i + j] : 4 * (even[i + j] + odd[i + j]);
            if (copper->pair)
                copper->factor[1][at] = 8 * odd[i + j];
        }
}

/* The lower triangles of one harmonic's matrices, a level of the copper at a time: between all levels the Green function of a
 * narrow, thick trace would fill gigabytes. Between two levels of which neither is a face only the edges count, and their sums
 * over the modes are faster than a transform. */
static void fill_matrices(const struct ww_copper *copper, const struct filling *f)
{
    size_t count = copper->count, face = f->span + 1, columns = copper->columns;
    const struct green_table table = {f->green, columns, f->low};
    ww_layered_own(f->layered, f->harmonic, f->low, f->low + f->levels - 1, f->own);
    for (size_t k = 0, first = 0, end; k < f->levels; k++, first = end) {
        bool inside = k > 0 && k + 1 < f->levels;
        end = first + (inside ? 2 : face);
        ww_layered_green(f->layered, f->harmonic, f->low, f->low + k, f->own + k * f->layered->nodes, f->green);
        for (size_t s = 1; inside && s <= k; s++)
            fill_edges(copper, f, f->green + s * (columns + 1) + 1, first, face + 2 * (s - 1));
        ww_cosine_apply(f->cosine, f->green, inside ? 1 : k + 1);
        for (int odd = 0; odd < (copper->pair ? 2 : 1); odd++)
            fill_rows(copper, &table, first, end, inside ? face : count, odd ? -1 : 1,
                      copper->factor[odd] + f->harmonic * count * count);
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
    double *values = calloc((2 * levels + 4) * (mesh->columns + 1), sizeof *values);
    struct filling filling = {
        .layered = layered, .low = mesh->bottom, .levels = levels, .span = mesh->span, .green = values};
    enum ww_status status = ww_cosine_create(&filling.cosine, mesh->columns + 1, error);
    if (status)
        goto done;
    if (!copper->node || !copper->factor[0] || (mesh->pair && !copper->factor[1]) || !values) {
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the charges on %zu nodes of copper", count);
        goto done;
    }
    list_perimeter(mesh, copper->node);
    filling.own = values + levels * (mesh->columns + 1);
    for (size_t i = 0; i < 3; i++)
        filling.edge[i] = filling.own + (levels + 1 + i) * layered->nodes;
    lay_edges(&filling, mesh);
    for (size_t harmonic = 0; harmonic < harmonics && !status; harmonic++) {
        filling.harmonic = harmonic;
        fill_matrices(copper, &filling);
        for (int odd = 0; odd < (mesh->pair ? 2 : 1) && !status; odd++)
            if (!factorise(copper->factor[odd] + harmonic * count * count, count))
                status = ww_error_set(error, WW_NOT_CONVERGED, NULL, 0,
                                      "the charges on the copper have no solution on this grid");
    }
done:
    ww_cosine_destroy(filling.cosine);
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
