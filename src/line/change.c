/* change.c - what the cloth changes of the capacitances, to first order: by the kernel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The harmonics of the cloth by the kernel's weights at their wave number across the trace, slice by slice.
 */
#include "line/line.h"

#include <math.h>
#include <string.h>

struct ww_slice_change ww_slice_change_of(const struct ww_ply *ply, double bg_z, double bg_n, double theta)
{
    double across = cos(theta) * cos(theta), along = sin(theta) * sin(theta);
    double resin = creal(ply->eps_resin);
    double warp_z = creal(ply->warp_t), warp_n = creal(ply->warp_t) * across + creal(ply->warp_a) * along;
    double fill_z = creal(ply->fill_t), fill_n = creal(ply->fill_t) * along + creal(ply->fill_a) * across;
    double zz = bg_z * bg_z, nn = bg_n * bg_n;
    return (struct ww_slice_change){
        {{warp_z - resin, warp_n - resin}, {zz * (1 / warp_z - 1 / resin), nn * (1 / warp_n - 1 / resin)}},
        {{fill_z - resin, fill_n - resin}, {zz * (1 / fill_z - 1 / resin), nn * (1 / fill_n - 1 / resin)}},
        {{resin - bg_z, resin - bg_n}, {zz / resin - bg_z, nn / resin - bg_n}}};
}

/* Sums over the slices of one harmonic for one bound: of change by weight, for either axis, which go abreast. */
struct sums {
    double re_re[2], im_im[2], re_im[2], im_re[2]; /* by the weight 11 */
    double re[2], im[2];                           /* by the weight 12, which is real */
};

static struct sums sum_slices(const struct ww_kernel *kernel, const struct ww_slice_change *slice, int bound,
                              const double _Complex *warp, const double _Complex *fill, const double *weight_re,
                              const double *weight_im)
{
    struct sums sums = {0};
    for (size_t s = 0; s < kernel->slices; s++, weight_re += WW_WEIGHTS, weight_im += WW_TWISTED)
        for (int axis = 0; axis < 2; axis++) {
            double to_warp = slice[s].warp[bound][axis], to_fill = slice[s].fill[bound][axis];
            double re = creal(warp[s]) * to_warp + creal(fill[s]) * to_fill;
            double im = cimag(warp[s]) * to_warp + cimag(fill[s]) * to_fill;
            sums.re_re[axis] += re * weight_re[WW_ZZ_11 + axis];
            sums.im_im[axis] += im * weight_im[WW_ZZ_11 + axis];
            sums.re_im[axis] += re * weight_im[WW_ZZ_11 + axis];
            sums.im_re[axis] += im * weight_re[WW_ZZ_11 + axis];
            sums.re[axis] += re * weight_re[WW_ZZ_12 + axis];
            sums.im[axis] += im * weight_re[WW_ZZ_12 + axis];
        }
    return sums;
}

static double of_both(const double axis[2])
{
    return axis[0] + axis[1];
}

static void change_of_harmonic(const struct ww_kernel *kernel, const struct ww_slice_change *slice,
                               const double _Complex *warp, const double _Complex *fill, const double *re,
                               const double *im, double _Complex out[WW_CHANGES])
{
    for (int bound = 0; bound < 2; bound++) {
        struct sums sums = sum_slices(kernel, slice, bound, warp, fill, re, im);
        double re_re = of_both(sums.re_re), im_im = of_both(sums.im_im);
        double re_im = of_both(sums.re_im), im_re = of_both(sums.im_re);
        out[3 * bound] = re_re - im_im + I * (re_im + im_re);
        out[3 * bound + 1] = of_both(sums.re) + I * of_both(sums.im);
        out[3 * bound + 2] = re_re + im_im + I * (im_re - re_im); /* leg 2 weighs with the conjugate */
    }
}

/* What the resin, or a uniform slice, adds to the mean. */
static void add_resin(const struct ww_kernel *kernel, const struct ww_slice_change *slice,
                      double _Complex out[WW_CHANGES])
{
    for (size_t s = 0; s < kernel->slices; s++)
        for (int bound = 0; bound < 2; bound++)
            for (int axis = 0; axis < 2; axis++) {
                const double *whole = kernel->whole + s * WW_WEIGHTS + axis;
                double resin = slice[s].resin[bound][axis];
                out[3 * bound] += resin * whole[WW_ZZ_11];
                out[3 * bound + 1] += resin * whole[WW_ZZ_12];
                out[3 * bound + 2] += resin * whole[WW_ZZ_11];
            }
}

void ww_line_change_at_mean(const struct ww_line *line, size_t ply_index, double theta, double _Complex *out)
{
    const struct ww_kernel *kernel = &line->kernel[ply_index];
    const struct ww_harmonics *h = &line->harmonics[ply_index];
    struct ww_slice_change slice[WW_MOST_SLICES];
    for (size_t s = 0; s < kernel->slices; s++) {
        double bg_z = creal(kernel->eps_z[s]), bg_n = creal(kernel->eps_n[s]);
        double warp = creal(h->warp[s]), fill = creal(h->fill[s]); /* harmonic 0, the mean */
        slice[s] = ww_slice_change_of(&line->stack->ply[ply_index], bg_z, bg_n, theta);
        for (int axis = 0; axis < 2; axis++) {
            double bg = axis ? bg_n : bg_z;
            double change = slice[s].resin[0][axis] + warp * slice[s].warp[0][axis] + fill * slice[s].fill[0][axis];
            slice[s].resin[0][axis] = change;
            slice[s].resin[1][axis] = bg * bg / (bg + change) - bg;
        }
    }
    memset(out, 0, WW_CHANGES * sizeof *out);
    add_resin(kernel, slice, out);
}

void ww_line_change_of(const struct ww_line *line, size_t ply_index, const struct ww_harmonics *h, double theta,
                       const double stretch[2], double _Complex *out)
{
    const struct ww_ply *ply = &line->stack->ply[ply_index];
    const struct ww_kernel *kernel = &line->kernel[ply_index];
    double nx = -cos(theta) / (1 + stretch[0]), ny = sin(theta) / (1 + stretch[1]);
    struct ww_slice_change slice[WW_MOST_SLICES];
    for (size_t s = 0; s < kernel->slices; s++)
        slice[s] = ww_slice_change_of(ply, creal(kernel->eps_z[s]), creal(kernel->eps_n[s]), theta);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(static)
#endif
    for (size_t i = 0; i < h->count; i++) {
        double re[WW_MOST_SLICES * WW_WEIGHTS], im[WW_MOST_SLICES * WW_TWISTED];
        double q = h->harmonic[i].kx * nx + h->harmonic[i].ky * ny;
        ww_kernel_weights(kernel, q, re, im);
        change_of_harmonic(kernel, slice, h->warp + i * h->slices, h->fill + i * h->slices, re, im,
                           out + i * WW_CHANGES);
    }
}

void ww_line_change(const struct ww_line *line, size_t ply_index, double theta, const double stretch[2],
                    double _Complex *out)
{
    const struct ww_kernel *kernel = &line->kernel[ply_index];
    struct ww_slice_change slice[WW_MOST_SLICES];
    ww_line_change_of(line, ply_index, &line->harmonics[ply_index], theta, stretch, out);
    for (size_t s = 0; s < kernel->slices; s++)
        slice[s] =
            ww_slice_change_of(&line->stack->ply[ply_index], creal(kernel->eps_z[s]), creal(kernel->eps_n[s]), theta);
    add_resin(kernel, slice, out);
}
