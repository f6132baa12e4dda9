/* kernel.h - how the capacitances weigh the permittivity of each slice: Fourier transforms across of E.E.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_KERNEL_H
#define WW_LINE_KERNEL_H

#include "line/background.h"

/* Weights of one ply. For conductors i,j and a slice s, weight(q) = integral dn E E exp(i q n) over the slice, in units
 * of eps0 F/m per relative permittivity. Leg 2 is the mirror image of leg 1, so that 22 is the conjugate of 11 and 12 is
 * real. */
enum ww_weight { WW_ZZ_11, WW_NN_11, WW_ZZ_12, WW_NN_12, WW_WEIGHTS, WW_TWISTED = WW_ZZ_12 };

/* By what share a cell may be longer and wider than it was built, or shorter, when weights are asked. */
#define WW_STRETCH_MOST 0.1

enum { WW_MOST_SLICES = 256 }; /* of a cell that has a kernel */

struct ww_kernel {
    size_t slices;
    size_t count;  /* samples in q = 0, dq, 2 dq ... */
    double dq;     /* [rad/m] */
    double *table; /* [q], some more below 0 and above the last, of real parts, then imaginary ones */
    double *
        whole; /* [slice][WW_WEIGHTS] at q = 0, of the slices as they are; those of the table are of fractions that change
                    * linearly from slice to slice (kernel.c) */
    double _Complex *eps_z, *eps_n; /* [slice] background permittivity */
};

/* q_most: largest |q| that will be asked for [rad/m], but for the stretch. */
enum ww_status ww_kernel_build(struct ww_kernel *kernel, const struct ww_mesh *mesh,
                               const struct ww_background *background, const struct ww_stack *stack, size_t ply,
                               double q_most, struct ww_error *error);
/* Weights of the cloth averaged over each step of the grid, as full solutions on that grid have it (local.h): times
 * sin(x)/x, x = q step/2. */
void ww_kernel_over_steps(struct ww_kernel *kernel, double step);
/* kernel := its limit on ever finer grids, where the change from grid to grid falls by `ratio`: finer is the same kernel on the
 * refined mesh (ww_mesh_refine). */
void ww_kernel_extrapolate(struct ww_kernel *kernel, const struct ww_kernel *finer, double ratio);
void ww_kernel_clear(struct ww_kernel *kernel);

/* All weights at one |q| <= q_most / (1 - WW_STRETCH_MOST): real parts [slice*WW_WEIGHTS + weight], and imaginary ones,
 * of 11 alone, [slice*WW_TWISTED + weight]. */
void ww_kernel_weights(const struct ww_kernel *kernel, double q, double *re, double *im);

#endif
