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
 * (1/8 of the window's own) that eight-point Lagrange interpolation is good to 1e-9 of the weight at q = 0.
 *
 * The cell has slices, the grid rows, lower ones beside the copper, where E.E changes much within a slice. The cloth does not stand
 * still there: its fractions change linearly from slice to slice (add_rows). With level slices a wide trace 3.5 um over 7635 was 0.7 % off.
 */
#include "line/kernel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "core/wide.h"

#define OVERSAMPLING 4
#define POINTS 8
#define BESIDE (POINTS / 2) /* extra table samples on either side, for interpolation */

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

/* The table of one slice for q = -BESIDE .. count + BESIDE from w. Weights are real, so that one padded transform serves two
 * of them, zz and nn: with F of the one and i times the other, the one is (F(q) + F*(-q))/2, the other (F(q) - F*(-q))/2i. */
static enum ww_status transform_slice(const struct ww_mesh *mesh, const double *w, size_t padded,
                                      struct ww_kernel *kernel, size_t slice, double _Complex *work,
                                      struct ww_error *error)
{
    size_t length = 2 * mesh->columns + 1, real = kernel->slices * WW_WEIGHTS;
    size_t row = real + kernel->slices * WW_TWISTED;
    for (size_t weight = 0; weight < WW_WEIGHTS; weight += 2) {
        memset(work, 0, padded * sizeof *work);
        /* n = (place - columns) h/2: the middle of the window goes to place 0, what lies right of it wraps round */
        for (size_t place = 0; place < length; place++)
            work[(place + padded - mesh->columns) % padded] +=
                w[weight * length + place] + I * w[(weight + 1) * length + place];
        enum ww_status status = ww_transform_rows(work, 1, padded, 1, work, error);
        if (status)
            return status;
        for (size_t q = 0; q < kernel->count + 2 * BESIDE; q++) {
            double _Complex here = work[(q + padded - BESIDE) % padded];
            double _Complex there = work[(2 * padded + BESIDE - q) % padded];
            double *re = kernel->table + q * row + slice * WW_WEIGHTS + weight;
            double *im = kernel->table + q * row + real + slice * WW_TWISTED + weight;
            re[0] = 0.5 * (creal(here) + creal(there));
            re[1] = 0.5 * (cimag(here) + cimag(there));
            if (weight < WW_TWISTED) {
                im[0] = 0.5 * (cimag(here) - cimag(there));
                im[1] = 0.5 * (creal(there) - creal(here));
            }
        }
    }
    return WW_OK;
}

static bool is_same_slice(const struct ww_row *a, const struct ww_row *b)
{
    return a->ply == b->ply && a->slice == b->slice;
}

/* How far the middle of a row is above that of its slice, in heights of the slice. */
static double off_middle(const struct ww_mesh *mesh, size_t row)
{
    const struct ww_row *here = &mesh->row[row];
    double below = 0, above = 0;
    for (size_t r = row; r > 0 && is_same_slice(&mesh->row[r - 1], here); r--)
        below += mesh->row[r - 1].dz;
    for (size_t r = row + 1; r < mesh->rows && is_same_slice(&mesh->row[r], here); r++)
        above += mesh->row[r].dz;
    return 0.5 * (below - above) / (below + here->dz + above);
}

WW_WIDE static void add_scaled(double *restrict sum, const double *restrict value, size_t size, double factor)
{
    for (size_t i = 0; i < size; i++)
        sum[i] += factor * value[i];
}

/* Sums of all rows into w[slice][weight][2 columns + 1], and over the columns into whole[slice][weight]. In w the cloth changes
 * linearly from slice to slice: a row that lies off the middle of slice s by a share t of its height has fractions
 * F_s + t (F_s+1 - F_s-1)/2, beyond the cloth none. */
static enum ww_status add_rows(const struct ww_mesh *mesh, const struct ww_background *background, size_t ply,
                               size_t slices, double *w, double *whole, struct ww_error *error)
{
    size_t columns = mesh->columns, length = 2 * columns + 1, size = WW_WEIGHTS * length;
    double *levels = calloc(2 * (columns + 1) + size, sizeof *levels);
    if (!levels)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a row of %zu columns", columns);
    double *lower = levels, *upper = lower + columns + 1, *one = upper + columns + 1;
    for (size_t row = 0; row < mesh->rows; row++) {
        if (mesh->row[row].ply != ply)
            continue;
        size_t s = mesh->row[row].slice;
        double half = 0.5 * off_middle(mesh, row);
        memset(one, 0, size * sizeof *one);
        conductor_level(mesh, background, row, lower);
        conductor_level(mesh, background, row + 1, upper);
        add_row(mesh, mesh->row[row].dz, lower, upper, one);
        for (size_t weight = 0; weight < WW_WEIGHTS; weight++)
            for (size_t i = 0; i < length; i++)
                whole[s * WW_WEIGHTS + weight] += one[weight * length + i];
        add_scaled(w + s * size, one, size, 1);
        if (half != 0 && s + 1 < slices)
            add_scaled(w + (s + 1) * size, one, size, half);
        if (half != 0 && s > 0)
            add_scaled(w + (s - 1) * size, one, size, -half);
    }
    free(levels);
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
    size_t padded =
        power_of_two(OVERSAMPLING * 2 * mesh->columns); /* doubles with the columns: dq is that of any refinement */
    kernel->slices = slices;
    kernel->dq = 2 * WW_PI / (0.5 * mesh->step * (double)padded);
    size_t table = padded / 2 - 2 * BESIDE, enough = (size_t)ceil(q_most / kernel->dq) + 2;
    size_t stretched = (size_t)ceil(q_most / (1 - WW_STRETCH_MOST) / kernel->dq) + 2;
    kernel->count = enough < table && table < stretched ? table : stretched;
    double *w = calloc(slices * WW_WEIGHTS * length, sizeof *w);
    double _Complex *work = calloc(padded, sizeof *work);
    kernel->table = calloc((kernel->count + 2 * BESIDE) * slices * (WW_WEIGHTS + WW_TWISTED), sizeof *kernel->table);
    kernel->eps_z = calloc(slices, sizeof *kernel->eps_z);
    kernel->eps_n = calloc(slices, sizeof *kernel->eps_n);
    kernel->whole = calloc(slices * WW_WEIGHTS, sizeof *kernel->whole);
    enum ww_status status = WW_OK;
    if (!w || !work || !kernel->table || !kernel->eps_z || !kernel->eps_n || !kernel->whole) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the kernel of %zu slices", slices);
        goto done;
    }
    if (kernel->count > table) {
        status = ww_error_set(error, WW_INVALID, NULL, 0,
                              "a grid step of %.4g um across the trace is too coarse for ply %zu (limit %.4g um)",
                              mesh->step * 1e6, ply + 1, 2e6 * WW_PI / q_most);
        goto done;
    }
    for (size_t row = 0; row < mesh->rows; row++)
        if (mesh->row[row].ply == ply) {
            kernel->eps_z[mesh->row[row].slice] = mesh->row[row].eps_z;
            kernel->eps_n[mesh->row[row].slice] = mesh->row[row].eps_n;
        }
    status = add_rows(mesh, background, ply, slices, w, kernel->whole, error);
    for (size_t s = 0; s < slices && !status; s++)
        status = transform_slice(mesh, w + s * WW_WEIGHTS * length, padded, kernel, s, work, error);
done:
    free(w);
    free(work);
    if (status)
        ww_kernel_clear(kernel);
    return status;
}

void ww_kernel_over_steps(struct ww_kernel *kernel, double step)
{
    size_t row = kernel->slices * (WW_WEIGHTS + WW_TWISTED);
    for (size_t q = 0; q < kernel->count + 2 * BESIDE; q++) {
        double x = 0.5 * step * kernel->dq * ((double)q - BESIDE), average = x == 0 ? 1 : sin(x) / x;
        for (size_t i = 0; i < row; i++)
            kernel->table[q * row + i] *= average;
    }
}

void ww_kernel_extrapolate(struct ww_kernel *kernel, const struct ww_kernel *finer, double ratio)
{
    size_t row = kernel->slices * (WW_WEIGHTS + WW_TWISTED);
    kernel->count = kernel->count < finer->count ? kernel->count : finer->count;
    for (size_t i = 0; i < (kernel->count + 2 * BESIDE) * row; i++)
        kernel->table[i] = finer->table[i] + (finer->table[i] - kernel->table[i]) / (ratio - 1);
    for (size_t i = 0; i < kernel->slices * WW_WEIGHTS; i++)
        kernel->whole[i] = finer->whole[i] + (finer->whole[i] - kernel->whole[i]) / (ratio - 1);
}

void ww_kernel_clear(struct ww_kernel *kernel)
{
    free(kernel->table);
    free(kernel->eps_z);
    free(kernel->eps_n);
    free(kernel->whole);
    memset(kernel, 0, sizeof *kernel);
}

/* Lagrange's factors for samples at -3 .. 4 of what lies at t. */
static void lagrange(double t, double factor[POINTS])
{
    static const double scale[POINTS] = {-1. / 5040, 1. / 720, -1. / 240, 1. / 144,
                                         -1. / 144,  1. / 240, -1. / 720, 1. / 5040};
    double before = 1, after = 1;
    for (int i = 0; i < POINTS; i++, before *= t + BESIDE - i)
        factor[i] = before * scale[i];
    for (int i = POINTS - 1; i >= 0; i--, after *= t + BESIDE - 2 - i)
        factor[i] *= after;
}

/* Eight rows of a table, one behind the other, each by its factor. */
WW_WIDE static void mix_rows(const double *row, size_t stride, const double factor[POINTS], double *sum, size_t count)
{
    const double *a = row, *b = a + stride, *c = b + stride, *d = c + stride, *e = d + stride, *f = e + stride,
                 *g = f + stride, *h = g + stride;
    for (size_t i = 0; i < count; i++)
        sum[i] = factor[0] * a[i] + factor[1] * b[i] + factor[2] * c[i] + factor[3] * d[i] +
                 (factor[4] * e[i] + factor[5] * f[i] + factor[6] * g[i] + factor[7] * h[i]);
}

/* Factors of the samples about q and the first of them, BESIDE - 1 before q; beyond the table there is next to nothing. */
static size_t samples_about(const struct ww_kernel *kernel, double q, double factor[POINTS])
{
    double place = fmin(fabs(q) / kernel->dq, (double)(kernel->count - 2));
    size_t whole = (size_t)place;
    lagrange(place - (double)whole, factor);
    return whole + 1;
}

void ww_kernel_weights(const struct ww_kernel *kernel, double q, double *re, double *im)
{
    size_t real = kernel->slices * WW_WEIGHTS, imaginary = kernel->slices * WW_TWISTED;
    double factor[POINTS];
    const double *first = kernel->table + samples_about(kernel, q, factor) * (real + imaginary);
    mix_rows(first, real + imaginary, factor, re, real);
    for (size_t i = 0; i < POINTS && q < 0; i++) /* the weights are real across: W(-q) is the conjugate of W(q) */
        factor[i] = -factor[i];
    mix_rows(first + real, real + imaginary, factor, im, imaginary);
}
