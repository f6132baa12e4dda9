/* transform.h - the one doorway to FFTW: double precision, ESTIMATE plans (the same digits in every run and
 * on any number of threads), planner calls under a lock. Signs and normalisations are stated here, once.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Plans of maps, rows and convolutions are kept for the life of the program, the first 64 sizes.
 * Sizes are at least 1 (cosine: 2) and at most INT_MAX, else WW_INVALID; WW_NO_MEMORY where a plan or workspace cannot be had.
 * On failure outputs are zeroed.
 * Accuracy: relative to the largest value, about 1e-16 log2(n) (tests/core/test_transform.c holds 1e-13).
 * Source: M. Frigo and S. G. Johnson, "The Design and Implementation of FFTW3", Proc. IEEE 93 (2005) 216.
 */
#ifndef WEFTWISE_CORE_TRANSFORM_H
#define WEFTWISE_CORE_TRANSFORM_H

#include "weftwise/core.h"

#include <complex.h>

/* Real map value[ny][nx] -> half-spectrum coef[ny][nx/2+1], normalised:
 *   coef[l][m] = 1/(nx ny) sum value[iy][ix] exp(-2 pi i (m ix/nx + l iy/ny)),
 * so coef[0][0] is the mean. Row l > ny/2 holds harmonic l - ny. value is preserved. */
enum ww_status ww_transform_forward(const double *value, size_t nx, size_t ny, double _Complex *coef,
                                    struct ww_error *error);

/* The inverse: value = sum over all m, l of coef exp(+2 pi i (m ix/nx + l iy/ny)), where the harmonics
 * with m > nx/2 are the conjugates of those given. coef is lost. */
enum ww_status ww_transform_inverse(double _Complex *coef, size_t nx, size_t ny, double *value,
                                    struct ww_error *error);

/* The inverse, planned once for many uses, between arrays of its own: set all of coef, sum, read value; coef is lost.
 * Sizes and signs as above. One struct for each thread. destroy(NULL) does nothing. */
struct ww_series {
    size_t nx, ny;
    double _Complex *coef; /* [ny][nx/2+1] */
    double *value;         /* [ny][nx] */
    void *plan;
};
enum ww_status ww_series_create(struct ww_series **series, size_t nx, size_t ny, struct ww_error *error);
void ww_series_sum(struct ww_series *series);
void ww_series_destroy(struct ww_series *series);

/* Complex rows[rows][n]: out[q] = sum_i in[i] exp(sign 2 pi i q i/n), sign +1 or -1, not normalised.
 * in and out are the same array or do not overlap. */
enum ww_status ww_transform_rows(const double _Complex *in, size_t rows, size_t n, int sign, double _Complex *out,
                                 struct ww_error *error);

/* Sine transform (DST-I) of a[rows][n], the interior samples between two zeros, in place:
 *   a[k] <- 2 sum_j a[j] sin(pi (j+1)(k+1)/(n+1));
 * twice multiplies by 2(n+1). One struct may be applied to different arrays by several threads at once; an
 * array needs no alignment beyond double's. destroy(NULL) does nothing. */
struct ww_sine;
enum ww_status ww_sine_create(struct ww_sine **sine, size_t n, struct ww_error *error);
void ww_sine_apply(const struct ww_sine *sine, double *a, size_t rows);
void ww_sine_destroy(struct ww_sine *sine);

/* Sines across n and a Fourier series along a period of m samples, of each of a[planes][m][n] in place: rows of the
 * result are in half-complex order, row j and row m - j holding the cosine and the sine part of harmonic
 * j = 0 .. m/2. Forward and then backward multiplies by 2 (n+1) m. m = 1 is the sine transform of one row.
 * Rows are faster in twos.
 * Threads and alignment as above. */
struct ww_sine_fourier;
enum ww_status ww_sine_fourier_create(struct ww_sine_fourier **transform, size_t m, size_t n, struct ww_error *error);
void ww_sine_fourier_forward(const struct ww_sine_fourier *transform, double *a, size_t planes);
void ww_sine_fourier_backward(const struct ww_sine_fourier *transform, double *a, size_t planes);
void ww_sine_fourier_destroy(struct ww_sine_fourier *transform);

/* Cosine sums (DCT-I) of a[rows][n], n >= 2, in place:
 *   a[k] <- a[0] + (-1)^k a[n-1] + 2 sum_{j=1}^{n-2} a[j] cos(pi j k/(n-1));
 * twice multiplies by 2(n-1). Threads, alignment and destroy(NULL) as above. */
struct ww_cosine;
enum ww_status ww_cosine_create(struct ww_cosine **cosine, size_t n, struct ww_error *error);
void ww_cosine_apply(const struct ww_cosine *cosine, double *a, size_t rows);
void ww_cosine_destroy(struct ww_cosine *cosine);

/* Convolution of two real sequences, nothing wrapped around: out[na+nb-1], out[k] = sum_i a[i] b[k-i].
 * out overlaps neither input. Rounding is relative to the largest value of out, not to each. */
enum ww_status ww_transform_convolve(const double *a, size_t na, const double *b, size_t nb, double *out,
                                     struct ww_error *error);

#endif
