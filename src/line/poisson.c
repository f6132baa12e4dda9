/* poisson.c - the layered operator and its exact inverse.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The energy of a potential on the nodes, per sample along the trace, is the sum over edges of conductance times
 * (difference)^2 / 2:
 *   up, from level k to k+1:   eps_z[row k] h/dz[k]
 *   across, on level k:        (eps_n[k-1] dz[k-1] + eps_n[k] dz[k]) / (2 h)
 *   along, on level k:         the same with h^2 in place of 1, over the square of the step along
 * (half of the row below, half of the row above). Its stationary points solve div(eps grad phi) = 0 to second order;
 * the charge on a node, in units of eps0 F/m, is the operator applied there. Because the sum is a quadratic form
 * with positive coefficients, Dirichlet's and Thomson's principles hold on the grid exactly, which kernel.c uses.
 *
 * Where eps does not depend on n, sines across (zero at both walls) and a Fourier series along the period diagonalise
 * the lateral part, and each mode leaves a tridiagonal system up the levels: Buzbee, Golub and Nielson, SIAM J. Numer.
 * Anal. 7, 627 (1970). A cross-section is the period of one sample.
 */
#include "line/poisson.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/transform.h"
#include "core/wide.h"

static void set_conductances(struct ww_layered *layered, const struct ww_mesh *mesh, struct ww_period period,
                             bool vacuum)
{
    double h = mesh->step, along = h * h / (period.step * period.step);
    const struct ww_row *row = mesh->row + layered->low - 1;
    for (size_t k = 0; k <= layered->levels; k++)
        layered->up[k] = (vacuum ? 1 : creal(row[k].eps_z)) * h / row[k].dz;
    for (size_t k = 0; k < layered->levels; k++) {
        const struct ww_row *below = &row[k], *above = &row[k + 1];
        double lower = vacuum ? 1 : creal(below->eps_n), upper = vacuum ? 1 : creal(above->eps_n);
        layered->across[k] = (lower * below->dz + upper * above->dz) / (2 * h);
        layered->length[k] = along * layered->across[k];
    }
}

static void factorise(struct ww_layered *layered)
{
    size_t nodes = layered->nodes, harmonics = layered->along / 2 + 1, plane = harmonics * nodes;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * layered->levels * plane)) schedule(static)
#endif
    for (size_t j = 0; j < harmonics; j++)
        for (size_t k = 0; k < layered->levels; k++) {
            double *pivot = layered->pivot + k * plane + j * nodes;
            const double *below = k ? pivot - plane : NULL;
            double fixed = layered->up[k] + layered->up[k + 1] + layered->length[k] * layered->mode_along[j];
            for (size_t m = 0; m < nodes; m++) {
                double carried = below ? layered->up[k] * layered->up[k] * below[m] : 0;
                pivot[m] = 1 / (fixed + layered->across[k] * layered->mode[m] - carried);
            }
        }
}

/* What the levels beyond an end level of the band take off its diagonal, mode by mode: up^2 over the pivot of the next, from
 * the plane inwards by the same recurrence as in factorise(). `count` levels. */
static void eliminate(const struct ww_mesh *mesh, const double *mode, bool from_below, size_t count, double *carried)
{
    double h = mesh->step;
    for (size_t i = 0; i < count; i++) {
        const struct ww_row *outer = &mesh->row[from_below ? i : mesh->rows - 1 - i];
        const struct ww_row *inner = &mesh->row[from_below ? i + 1 : mesh->rows - 2 - i];
        double out = creal(outer->eps_z) * h / outer->dz, in = creal(inner->eps_z) * h / inner->dz;
        double across = (creal(outer->eps_n) * outer->dz + creal(inner->eps_n) * inner->dz) / (2 * h);
        for (size_t m = 0; m + 1 < mesh->columns; m++)
            carried[m] = in * in / (out + in + across * mode[m] - carried[m]);
    }
}

/* The factors of a band whose end levels carry what is eliminated beyond them. */
static void factorise_band(struct ww_layered *layered, const double *below, const double *above)
{
    size_t nodes = layered->nodes, last = layered->levels - 1;
    for (size_t k = 0; k <= last; k++) {
        double *pivot = layered->pivot + k * nodes;
        const double *under = k ? pivot - nodes : NULL;
        for (size_t m = 0; m < nodes; m++) {
            double carried = under ? layered->up[k] * layered->up[k] * under[m] : below[m];
            double taken = k == last ? above[m] : 0;
            pivot[m] =
                1 / (layered->up[k] + layered->up[k + 1] + layered->across[k] * layered->mode[m] - carried - taken);
        }
    }
}

/* The struct with everything but the pivots. */
static enum ww_status lay_out(struct ww_layered *layered, const struct ww_mesh *mesh, struct ww_period period,
                              bool vacuum, size_t low, size_t high, struct ww_error *error)
{
    memset(layered, 0, sizeof *layered);
    size_t nodes = mesh->columns - 1, levels = high - low + 1, harmonics = period.samples / 2 + 1;
    enum ww_status status = WW_OK;
    if (levels > SIZE_MAX / sizeof(double) / nodes / period.samples) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "a grid of %zu by %zu by %zu nodes is too large", nodes,
                              period.samples, levels);
        goto done;
    }
    layered->nodes = nodes;
    layered->along = period.samples;
    layered->low = low;
    layered->levels = levels;
    layered->across = calloc(levels, sizeof(double));
    layered->length = calloc(levels, sizeof(double));
    layered->up = calloc(levels + 1, sizeof(double));
    layered->mode = calloc(nodes, sizeof(double));
    layered->mode_along = calloc(harmonics, sizeof(double));
    layered->pivot = calloc(levels * harmonics * nodes, sizeof(double));
    if (!layered->across || !layered->length || !layered->up || !layered->mode || !layered->mode_along ||
        !layered->pivot) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a grid of %zu by %zu by %zu nodes", nodes,
                              period.samples, levels);
        goto done;
    }
    status = ww_sine_fourier_create(&layered->transform, period.samples, nodes, error);
    if (status)
        goto done;
    set_conductances(layered, mesh, period, vacuum);
    for (size_t m = 0; m < nodes; m++)
        layered->mode[m] = 4 * pow(sin(0.5 * WW_PI * (double)(m + 1) / (double)mesh->columns), 2);
    for (size_t j = 0; j < harmonics; j++)
        layered->mode_along[j] = 4 * pow(sin(WW_PI * (double)j / (double)period.samples), 2);
done:
    if (status)
        ww_layered_destroy(layered);
    return status;
}

enum ww_status ww_layered_create(struct ww_layered *layered, const struct ww_mesh *mesh, struct ww_period period,
                                 bool vacuum, struct ww_error *error)
{
    enum ww_status status = lay_out(layered, mesh, period, vacuum, 1, mesh->rows - 1, error);
    if (!status)
        factorise(layered);
    return status;
}

enum ww_status ww_layered_create_band(struct ww_layered *layered, const struct ww_mesh *mesh, size_t low, size_t high,
                                      struct ww_error *error)
{
    size_t nodes = mesh->columns - 1;
    double *beyond = calloc(2 * nodes, sizeof *beyond);
    enum ww_status status = lay_out(layered, mesh, WW_CROSS_SECTION, false, low, high, error);
    if (!status && !beyond) {
        ww_layered_destroy(layered);
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu modes", nodes);
    }
    if (!status) {
        eliminate(mesh, layered->mode, true, low - 1, beyond);
        eliminate(mesh, layered->mode, false, mesh->rows - 1 - high, beyond + nodes);
        factorise_band(layered, beyond, beyond + nodes);
    }
    free(beyond);
    return status;
}

void ww_layered_destroy(struct ww_layered *layered)
{
    free(layered->across);
    free(layered->length);
    free(layered->up);
    free(layered->mode);
    free(layered->mode_along);
    free(layered->pivot);
    ww_sine_fourier_destroy(layered->transform);
    memset(layered, 0, sizeof *layered);
}

/* Levels go in twos, which is how the sine transform is fast. */
void ww_layered_to_modes(const struct ww_layered *layered, double *a, size_t levels)
{
    size_t plane = layered->nodes * layered->along;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * levels * plane)) schedule(static)
#endif
    for (size_t k = 0; k < levels; k += 2)
        ww_sine_fourier_forward(layered->transform, a + k * plane, k + 1 < levels ? 2 : 1);
}

void ww_layered_from_modes(const struct ww_layered *layered, double *a, size_t levels)
{
    size_t plane = layered->nodes * layered->along;
    double scale = 1 / (2.0 * (double)(layered->nodes + 1) * (double)layered->along);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * levels * plane)) schedule(static)
#endif
    for (size_t k = 0; k < levels; k += 2) {
        size_t planes = k + 1 < levels ? 2 : 1;
        ww_sine_fourier_backward(layered->transform, a + k * plane, planes);
        for (size_t i = 0; i < planes * plane; i++)
            a[k * plane + i] *= scale;
    }
}

/* Forward substitution from level `first` and back to level `last` for a run of modes of one row along. */
WW_WIDE static void solve_run(const struct ww_layered *layered, double *a, size_t first, size_t last, size_t j,
                              size_t from, size_t to)
{
    size_t nodes = layered->nodes, along = layered->along, harmonics = along / 2 + 1, plane = along * nodes;
    size_t harmonic = j < harmonics ? j : along - j;
    for (size_t k = first; k < layered->levels; k++) {
        double *here = a + k * plane + j * nodes;
        const double *pivot = layered->pivot + (k * harmonics + harmonic) * nodes, *below = here - (k ? plane : 0);
        double up = k ? layered->up[k] : 0;
        for (size_t m = from; m < to; m++)
            here[m] = (here[m] + up * below[m]) * pivot[m];
    }
    for (size_t k = layered->levels - 1; k-- > last;) {
        double *here = a + k * plane + j * nodes;
        const double *pivot = layered->pivot + (k * harmonics + harmonic) * nodes, *above = here + plane;
        double up = layered->up[k + 1];
        for (size_t m = from; m < to; m++)
            here[m] += up * above[m] * pivot[m];
    }
}

void ww_layered_solve_modes(const struct ww_layered *layered, double *a, size_t first, size_t last)
{
    size_t run = 256, runs = (layered->nodes + run - 1) / run; /* short runs stay in cache over all levels */
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * layered->levels * layered->along * layered->nodes))          \
    schedule(static)
#endif
    for (size_t item = 0; item < runs * layered->along; item++) {
        size_t from = item % runs * run, to = from + run < layered->nodes ? from + run : layered->nodes;
        solve_run(layered, a, first, last, item / runs, from, to);
    }
}

void ww_layered_solve(const struct ww_layered *layered, double *a)
{
    ww_layered_to_modes(layered, a, layered->levels);
    ww_layered_solve_modes(layered, a, 0, 0);
    ww_layered_from_modes(layered, a, layered->levels);
}

/* The inverse of a symmetric tridiagonal matrix, from its factors: G(k, k) from that of the level above it, and below a source
 * G(k, k') = up pivot(k) G(k+1, k'). All terms are positive, so rounding does not grow. */
void ww_layered_own(const struct ww_layered *layered, size_t harmonic, size_t low, size_t high, double *own)
{
    size_t nodes = layered->nodes, harmonics = layered->along / 2 + 1, first = low - layered->low,
           kept = high - low + 1;
    double *spare = own + kept * nodes;
    for (size_t k = layered->levels; k-- > first;) {
        const double *pivot = layered->pivot + (k * harmonics + harmonic) * nodes;
        double *here = k - first < kept ? own + (k - first) * nodes : spare;
        const double *above = k + 1 - first < kept ? own + (k + 1 - first) * nodes : spare;
        double up = k + 1 < layered->levels ? layered->up[k + 1] : 0;
        for (size_t m = 0; m < nodes; m++)
            here[m] = pivot[m] * (1 + up * up * pivot[m] * above[m]);
    }
}

void ww_layered_green(const struct ww_layered *layered, size_t harmonic, size_t low, size_t level, const double *own,
                      double *green)
{
    size_t nodes = layered->nodes, columns = nodes + 1, harmonics = layered->along / 2 + 1;
    /* sum over m of g_m sin sin * 2/columns = (1/columns) sum g_m [cos(i-i') - cos(i+i')]; the cosine sum counts twice */
    double scale = 0.5 / (double)columns, *here = green + (level - low) * (columns + 1);
    for (size_t m = 0; m < nodes; m++)
        here[m + 1] = scale * own[m];
    here[0] = here[columns] = 0;
    for (size_t k = level; k-- > low;) {
        const double *pivot = layered->pivot + ((k - layered->low) * harmonics + harmonic) * nodes, *above = here;
        double up = layered->up[k - layered->low + 1];
        here -= columns + 1;
        for (size_t m = 0; m < nodes; m++)
            here[m + 1] = up * pivot[m] * above[m + 1];
        here[0] = here[columns] = 0;
    }
}
