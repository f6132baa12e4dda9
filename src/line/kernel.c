/* kernel.c - the weights that turn a map of permittivity into capacitances.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * With E_i the background field of conductor i at 1 V and the others at 0, Dirichlet's principle gives an upper
 * estimate of the capacitance matrix, and Thomson's, with the background's flux, a lower one:
 *   C+_ij = sum eps E_i.E_j,      P_ij = sum eps_bg^2/eps E_i.E_j,      C- = C0 P^-1 C0.
 * Both hold exactly for the edge sums of poisson.c. Each edge across is shared half and half by the rows below and
 * above it, each half with its own permittivity. The sums are convolutions across the trace with E.E, so that their
 * Fourier transforms in n are all that a scan needs, whatever its angle. They are tabulated in q on a mesh so fine
 * (1/16 of the window's own) that six-point Lagrange interpolation is good to 1e-9 of the weight at q = 0.
 */
#include "line/kernel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

#define OVERSAMPLING 8
#define BESIDE 3 /* extra table samples on either side, for interpolation */

/* Potential of one conductor alone at 1 V on nodes 0..columns of one level; zero on the planes. */
static void conductor_level(const struct ww_mesh *mesh, const struct ww_background *b, size_t level, double *one)
{
    size_t nodes = mesh->columns - 1;
    memset(one, 0, (mesh->columns + 1) * sizeof *one);
    if (level == 0 || level == mesh->rows)
        return;
    const double *even = b->even + (level - 1) * nodes;
    if (!mesh->pair) {
        memcpy(one + 1, even, nodes * sizeof *one);
        return;
    }
    const double *odd = b->odd + (level - 1) * nodes;
    for (size_t i = 0; i < nodes; i++)
        one[i + 1] = 0.5 * (even[i] + odd[i]);
}

/* Adds the edge energies of one row to w[weight][2 columns + 1]: samples at half steps, up-edges on even places,
 * across-edges on odd ones, so that one transform serves both. */
static void add_row(const struct ww_mesh *mesh, double dz, const double *lower, const double *upper, double *w)
{
    size_t columns = mesh->columns, length = 2 * columns + 1;
    double h = mesh->step;
    for (size_t i = 0; i <= columns; i++) {
        double e1 = upper[i] - lower[i], e2 = upper[columns - i] - lower[columns - i];
        w[WW_ZZ_11 * length + 2 * i] += e1 * e1 * h / dz;
        w[WW_ZZ_12 * length + 2 * i] += e1 * e2 * h / dz;
    }
    const double *level[2] = {lower, upper};
    for (int side = 0; side < 2; side++)
        for (size_t i = 0; i < columns; i++) {
            const double *v = level[side];
            double e1 = v[i + 1] - v[i], e2 = v[columns - i - 1] - v[columns - i];
            w[WW_NN_11 * length + 2 * i + 1] += e1 * e1 * dz / (2 * h);
            w[WW_NN_12 * length + 2 * i + 1] += e1 * e2 * dz / (2 * h);
        }
}

/* table[q][weight] for q = -BESIDE .. count + BESIDE from w by one padded transform per weight. */
static enum ww_status transform_slice(const struct ww_mesh *mesh, const double *w, size_t padded, size_t count,
                                      double _Complex *table, double _Complex *work, struct ww_error *error)
{
    size_t length = 2 * mesh->columns + 1;
    for (size_t weight = 0; weight < WW_WEIGHTS; weight++) {
        memset(work, 0, padded * sizeof *work);
        /* n = (place - columns) h/2: the middle of the window goes to place 0, what lies right of it wraps round */
        for (size_t place = 0; place < length; place++)
            work[(place + padded - mesh->columns) % padded] += w[weight * length + place];
        enum ww_status status = ww_transform_rows(work, 1, padded, 1, work, error);
        if (status)
            return status;
        for (size_t q = 0; q < count + 2 * BESIDE; q++)
            table[q * WW_WEIGHTS + weight] = work[(q + padded - BESIDE) % padded];
    }
    return WW_OK;
}

static size_t power_of_two(size_t n)
{
    size_t p = 1;
    while (p < n)
        p *= 2;
    return p;
}

enum ww_status ww_kernel_build(struct ww_kernel *kernel, const struct ww_mesh *mesh,
                               const struct ww_background *background, const struct ww_stack *stack, size_t ply,
                               double q_most, struct ww_error *error)
{
    memset(kernel, 0, sizeof *kernel);
    size_t slices = stack->ply[ply].cell.nz, length = 2 * mesh->columns + 1;
    size_t padded = power_of_two(OVERSAMPLING * length);
    kernel->slices = slices;
    kernel->dq = 2 * WW_PI / (0.5 * mesh->step * (double)padded);
    size_t table = padded / 2 - 2 * BESIDE, enough = (size_t)ceil(q_most / kernel->dq) + 2;
    size_t stretched = (size_t)ceil(q_most / (1 - WW_STRETCH_MOST) / kernel->dq) + 2;
    kernel->count = enough < table && table < stretched ? table : stretched;
    size_t stride = (kernel->count + 2 * BESIDE) * WW_WEIGHTS;
    double *w = calloc(slices * WW_WEIGHTS * length, sizeof *w);
    double *levels = calloc(2 * (mesh->columns + 1), sizeof *levels);
    double _Complex *work = calloc(padded, sizeof *work);
    kernel->table = calloc(slices * stride, sizeof *kernel->table);
    kernel->eps_z = calloc(slices, sizeof *kernel->eps_z);
    kernel->eps_n = calloc(slices, sizeof *kernel->eps_n);
    enum ww_status status = WW_OK;
    if (!w || !levels || !work || !kernel->table || !kernel->eps_z || !kernel->eps_n) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the kernel of %zu slices", slices);
        goto done;
    }
    if (kernel->count > table) {
        status = ww_error_set(error, WW_INVALID, NULL, 0,
                              "a grid step of %.4g um across the trace is too coarse for ply %zu (limit %.4g um)",
                              mesh->step * 1e6, ply + 1, 2e6 * WW_PI / q_most);
        goto done;
    }
    double *lower = levels, *upper = levels + mesh->columns + 1;
    for (size_t row = 0; row < mesh->rows; row++) {
        if (mesh->row[row].ply != ply)
            continue;
        size_t slice = mesh->row[row].slice;
        kernel->eps_z[slice] = mesh->row[row].eps_z;
        kernel->eps_n[slice] = mesh->row[row].eps_n;
        conductor_level(mesh, background, row, lower);
        conductor_level(mesh, background, row + 1, upper);
        add_row(mesh, mesh->row[row].dz, lower, upper, w + slice * WW_WEIGHTS * length);
    }
    for (size_t s = 0; s < slices && !status; s++)
        status = transform_slice(mesh, w + s * WW_WEIGHTS * length, padded, kernel->count, kernel->table + s * stride,
                                 work, error);
done:
    free(w);
    free(levels);
    free(work);
    if (status)
        ww_kernel_clear(kernel);
    return status;
}

void ww_kernel_clear(struct ww_kernel *kernel)
{
    free(kernel->table);
    free(kernel->eps_z);
    free(kernel->eps_n);
    memset(kernel, 0, sizeof *kernel);
}

void ww_kernel_weights(const struct ww_kernel *kernel, double q, double *re, double *im)
{
    double place = fmin(fabs(q) / kernel->dq, (double)(kernel->count - 2)); /* beyond it there is next to nothing */
    size_t whole = (size_t)place;
    double t = place - (double)whole;
    /* six-point Lagrange on samples -2 .. 3 */
    double a = t + 2, b = t + 1, c = t, d = t - 1, e = t - 2, f = t - 3;
    double l[6] = {-b * c * d * e * f / 120, a * c * d * e * f / 24,  -a * b * d * e * f / 12,
                   a * b * c * e * f / 12,   -a * b * c * d * f / 24, a * b * c * d * e / 120};
    double sign = q < 0 ? -1 : 1; /* the weights are real across: W(-q) is the conjugate of W(q) */
    for (size_t slice = 0; slice < kernel->slices; slice++) {
        const double _Complex *row =
            kernel->table + (slice * (kernel->count + 2 * BESIDE) + whole + BESIDE - 2) * WW_WEIGHTS;
        for (size_t w = 0; w < WW_WEIGHTS; w++) {
            double sum_re = 0, sum_im = 0;
            for (size_t i = 0; i < 6; i++) {
                sum_re += l[i] * creal(row[i * WW_WEIGHTS + w]);
                sum_im += l[i] * cimag(row[i * WW_WEIGHTS + w]);
            }
            re[slice * WW_WEIGHTS + w] = sum_re;
            im[slice * WW_WEIGHTS + w] = sign * sum_im;
        }
    }
}
