/* harmonics.h - the Fourier coefficients of a cell's volume fractions, slice by slice.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_HARMONICS_H
#define WW_LINE_HARMONICS_H

#include "weftwise/laminate.h"

struct ww_harmonic {
    int m, l;      /* k = 2 pi (m/lx, l/ly), m >= 0 */
    double kx, ky; /* [rad/m] */
};

/* phi^(k) = mean over the cell of phi exp(-i k.r): half space m >= 0 (both signs of l at m = 0), without those whose
 * coefficients are negligible in every slice. r from the origin of the cell; its shift in the ply is not in them. */
struct ww_harmonics {
    size_t count, slices;
    double lx, ly;
    double k_most;                /* largest |k| [rad/m] */
    struct ww_harmonic *harmonic; /* harmonic 0 is m = l = 0 */
    double _Complex *warp, *fill; /* [harmonic*slices + slice] */
};

enum ww_status ww_harmonics_build(struct ww_harmonics *harmonics, const struct ww_ply *ply, struct ww_error *error);
/* Harmonic 0 alone. WW_NO_MEMORY. */
enum ww_status ww_harmonics_of_mean(struct ww_harmonics *harmonics, const struct ww_ply *ply, struct ww_error *error);
void ww_harmonics_clear(struct ww_harmonics *harmonics);

#endif
