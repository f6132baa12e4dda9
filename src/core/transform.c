/* transform.c - the only file that includes fftw3.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * FFTW's planner keeps state of its own and is not thread-safe: every planner call holds planner_lock.
 * Executing is thread-safe. A program that plans with FFTW itself while it calls this library needs
 * fftw_make_planner_thread_safe on its side.
 */
#include "core/transform.h"

#include <fftw3.h>
#include <limits.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static pthread_mutex_t planner_lock = PTHREAD_MUTEX_INITIALIZER;

struct ww_sine {
    fftw_plan plan;
};

static bool sizes_fit(size_t rows, size_t n)
{
    return rows >= 1 && n >= 1 && rows <= INT_MAX && n <= INT_MAX &&
           n <= SIZE_MAX / (2 * sizeof(fftw_complex)) / rows;
}

static enum ww_status refuse_sizes(size_t rows, size_t n, struct ww_error *error)
{
    return ww_error_set(error, WW_INVALID, NULL, 0, "a transform of %zu x %zu samples; give 1 to %d on each side", n,
                        rows, INT_MAX);
}

static enum ww_status refuse_memory(size_t rows, size_t n, struct ww_error *error)
{
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a transform of %zu x %zu samples", n, rows);
}

static void forget(fftw_plan plan)
{
    if (plan == NULL)
        return;
    pthread_mutex_lock(&planner_lock);
    fftw_destroy_plan(plan);
    pthread_mutex_unlock(&planner_lock);
}

/* Maps of one size are transformed thousands of times: their plans are kept, the first few sizes that come. They serve any
 * thread, and arrays of any alignment or those that are aligned as malloc aligns: FFTW is twice as fast at these. */
enum direction { FORWARD, INVERSE };
static struct kept {
    enum direction direction;
    bool aligned;
    size_t nx, ny;
    fftw_plan plan;
} kept[16];
static size_t kept_count;

static fftw_plan plan_map(enum direction direction, bool aligned, size_t nx, size_t ny, double *value,
                          fftw_complex *coef)
{
    unsigned flags = FFTW_ESTIMATE | (aligned ? 0 : FFTW_UNALIGNED);
    if (direction == FORWARD)
        return fftw_plan_dft_r2c_2d((int)ny, (int)nx, value, coef, flags | FFTW_PRESERVE_INPUT);
    return fftw_plan_dft_c2r_2d((int)ny, (int)nx, coef, value, flags);
}

/* The plan of a map's transform, made on these arrays if it is new; *own where it is not kept. */
static fftw_plan find_plan(enum direction direction, size_t nx, size_t ny, double *value, fftw_complex *coef,
                           bool *own)
{
    bool aligned = fftw_alignment_of(value) == 0 && fftw_alignment_of((double *)coef) == 0;
    fftw_plan plan = NULL;
    *own = false;
    pthread_mutex_lock(&planner_lock);
    for (size_t i = 0; i < kept_count && plan == NULL; i++)
        if (kept[i].direction == direction && kept[i].aligned == aligned && kept[i].nx == nx && kept[i].ny == ny)
            plan = kept[i].plan;
    if (plan == NULL) {
        plan = plan_map(direction, aligned, nx, ny, value, coef);
        *own = plan != NULL && kept_count == sizeof kept / sizeof *kept;
        if (plan != NULL && !*own)
            kept[kept_count++] = (struct kept){direction, aligned, nx, ny, plan};
    }
    pthread_mutex_unlock(&planner_lock);
    return plan;
}

enum ww_status ww_transform_forward(const double *value, size_t nx, size_t ny, double _Complex *coef,
                                    struct ww_error *error)
{
    if (!sizes_fit(ny, nx))
        return refuse_sizes(ny, nx, error);
    size_t count = ny * (nx / 2 + 1);
    bool own = false;
    fftw_plan plan = find_plan(FORWARD, nx, ny, (double *)value, coef, &own);
    if (plan == NULL) {
        memset(coef, 0, count * sizeof *coef);
        return refuse_memory(ny, nx, error);
    }
    fftw_execute_dft_r2c(plan, (double *)value, coef);
    if (own)
        forget(plan);
    double share = 1 / ((double)nx * (double)ny);
    for (size_t k = 0; k < count; k++)
        coef[k] *= share;
    return WW_OK;
}

/* FFTW's transform to real values of more than one dimension destroys its input. */
enum ww_status ww_transform_inverse(double _Complex *coef, size_t nx, size_t ny, double *value,
                                    struct ww_error *error)
{
    if (!sizes_fit(ny, nx))
        return refuse_sizes(ny, nx, error);
    bool own = false;
    fftw_plan plan = find_plan(INVERSE, nx, ny, value, coef, &own);
    if (plan == NULL) {
        memset(value, 0, nx * ny * sizeof *value);
        return refuse_memory(ny, nx, error);
    }
    fftw_execute_dft_c2r(plan, coef, value);
    if (own)
        forget(plan);
    return WW_OK;
}

enum ww_status ww_series_create(struct ww_series **out, size_t nx, size_t ny, struct ww_error *error)
{
    *out = NULL;
    if (!sizes_fit(ny, nx))
        return refuse_sizes(ny, nx, error);
    struct ww_series *series = calloc(1, sizeof *series);
    if (series != NULL) {
        *series = (struct ww_series){nx, ny, fftw_alloc_complex(ny * (nx / 2 + 1)), fftw_alloc_real(ny * nx), NULL};
        if (series->coef != NULL && series->value != NULL) {
            pthread_mutex_lock(&planner_lock);
            series->plan = fftw_plan_dft_c2r_2d((int)ny, (int)nx, series->coef, series->value, FFTW_ESTIMATE);
            pthread_mutex_unlock(&planner_lock);
        }
    }
    if (series == NULL || series->plan == NULL) {
        ww_series_destroy(series);
        return refuse_memory(ny, nx, error);
    }
    *out = series;
    return WW_OK;
}

void ww_series_sum(struct ww_series *series)
{
    fftw_execute(series->plan);
}

void ww_series_destroy(struct ww_series *series)
{
    if (series == NULL)
        return;
    forget(series->plan);
    fftw_free(series->coef);
    fftw_free(series->value);
    free(series);
}

enum ww_status ww_transform_rows(const double _Complex *in, size_t rows, size_t n, int sign, double _Complex *out,
                                 struct ww_error *error)
{
    if (!sizes_fit(rows, n))
        return refuse_sizes(rows, n, error);
    if (sign != 1 && sign != -1)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a transform of sign %d; give 1 or -1", sign);
    int length = (int)n;
    pthread_mutex_lock(&planner_lock);
    fftw_plan plan = fftw_plan_many_dft(1, &length, (int)rows, (double _Complex *)in, NULL, 1, length, out, NULL, 1,
                                        length, sign, FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
    pthread_mutex_unlock(&planner_lock);
    if (plan == NULL) {
        memset(out, 0, rows * n * sizeof *out);
        return refuse_memory(rows, n, error);
    }
    fftw_execute(plan);
    forget(plan);
    return WW_OK;
}

/* Plan the same real transform of every row, in place, for arrays of any alignment. */
static fftw_plan plan_real_rows(double *a, size_t rows, size_t n, fftw_r2r_kind kind)
{
    int length = (int)n;
    pthread_mutex_lock(&planner_lock);
    fftw_plan plan = fftw_plan_many_r2r(1, &length, (int)rows, a, NULL, 1, length, a, NULL, 1, length, &kind,
                                        FFTW_ESTIMATE | FFTW_UNALIGNED);
    pthread_mutex_unlock(&planner_lock);
    return plan;
}

enum ww_status ww_sine_create(struct ww_sine **sine, size_t rows, size_t n, struct ww_error *error)
{
    *sine = NULL;
    if (!sizes_fit(rows, n))
        return refuse_sizes(rows, n, error);
    struct ww_sine *made = calloc(1, sizeof *made);
    double *sample = fftw_alloc_real(rows * n); /* FFTW wants an array to plan on; it does not touch it */
    if (made != NULL && sample != NULL)
        made->plan = plan_real_rows(sample, rows, n, FFTW_RODFT00);
    fftw_free(sample);
    if (made == NULL || made->plan == NULL) {
        free(made);
        return refuse_memory(rows, n, error);
    }
    *sine = made;
    return WW_OK;
}

void ww_sine_apply(const struct ww_sine *sine, double *a)
{
    fftw_execute_r2r(sine->plan, a, a);
}

void ww_sine_destroy(struct ww_sine *sine)
{
    if (sine == NULL)
        return;
    forget(sine->plan);
    free(sine);
}

struct ww_sine_fourier {
    fftw_plan forward, backward;
};

static fftw_plan plan_plane(double *a, size_t m, size_t n, fftw_r2r_kind along)
{
    pthread_mutex_lock(&planner_lock);
    fftw_plan plan = fftw_plan_r2r_2d((int)m, (int)n, a, a, along, FFTW_RODFT00, FFTW_ESTIMATE | FFTW_UNALIGNED);
    pthread_mutex_unlock(&planner_lock);
    return plan;
}

enum ww_status ww_sine_fourier_create(struct ww_sine_fourier **transform, size_t m, size_t n, struct ww_error *error)
{
    *transform = NULL;
    if (!sizes_fit(m, n))
        return refuse_sizes(m, n, error);
    struct ww_sine_fourier *made = calloc(1, sizeof *made);
    double *sample = fftw_alloc_real(m * n);
    if (made != NULL && sample != NULL) {
        made->forward = plan_plane(sample, m, n, FFTW_R2HC);
        made->backward = plan_plane(sample, m, n, FFTW_HC2R);
    }
    fftw_free(sample);
    if (made == NULL || made->forward == NULL || made->backward == NULL) {
        ww_sine_fourier_destroy(made);
        return refuse_memory(m, n, error);
    }
    *transform = made;
    return WW_OK;
}

void ww_sine_fourier_forward(const struct ww_sine_fourier *transform, double *a)
{
    fftw_execute_r2r(transform->forward, a, a);
}

void ww_sine_fourier_backward(const struct ww_sine_fourier *transform, double *a)
{
    fftw_execute_r2r(transform->backward, a, a);
}

void ww_sine_fourier_destroy(struct ww_sine_fourier *transform)
{
    if (transform == NULL)
        return;
    forget(transform->forward);
    forget(transform->backward);
    free(transform);
}

enum ww_status ww_transform_cosine(double *a, size_t rows, size_t n, struct ww_error *error)
{
    if (!sizes_fit(rows, n) || n < 2)
        return refuse_sizes(rows, n, error);
    fftw_plan plan = plan_real_rows(a, rows, n, FFTW_REDFT00);
    if (plan == NULL) {
        memset(a, 0, rows * n * sizeof *a);
        return refuse_memory(rows, n, error);
    }
    fftw_execute(plan);
    forget(plan);
    return WW_OK;
}

/* The next size that FFTW is fast at: a product of 2, 3 and 5. */
static size_t fast_size(size_t least)
{
    for (size_t n = least;; n++) {
        size_t rest = n;
        while (rest % 2 == 0)
            rest /= 2;
        while (rest % 3 == 0)
            rest /= 3;
        while (rest % 5 == 0)
            rest /= 5;
        if (rest == 1)
            return n;
    }
}

enum ww_status ww_transform_convolve(const double *a, size_t na, const double *b, size_t nb, double *out,
                                     struct ww_error *error)
{
    if (na < 1 || nb < 1 || na > INT_MAX / 4 || nb > INT_MAX / 4)
        return refuse_sizes(na, nb, error);
    size_t wanted = na + nb - 1;
    size_t n = fast_size(wanted);
    size_t half = n / 2 + 1;
    enum ww_status status = WW_OK;
    double *real = fftw_alloc_real(n);
    fftw_complex *first = fftw_alloc_complex(half);
    fftw_complex *second = fftw_alloc_complex(half);
    fftw_plan forward = NULL;
    fftw_plan inverse = NULL;
    if (real != NULL && first != NULL && second != NULL) {
        pthread_mutex_lock(&planner_lock);
        forward = fftw_plan_dft_r2c_1d((int)n, real, first, FFTW_ESTIMATE);
        inverse = fftw_plan_dft_c2r_1d((int)n, first, real, FFTW_ESTIMATE);
        pthread_mutex_unlock(&planner_lock);
    }
    if (forward == NULL || inverse == NULL) {
        memset(out, 0, wanted * sizeof *out);
        status = refuse_memory(1, n, error);
        goto done;
    }
    memset(real, 0, n * sizeof *real);
    memcpy(real, b, nb * sizeof *real);
    fftw_execute(forward);
    memcpy(second, first, half * sizeof *second);
    memset(real, 0, n * sizeof *real);
    memcpy(real, a, na * sizeof *real);
    fftw_execute(forward);
    for (size_t k = 0; k < half; k++)
        first[k] *= second[k] / (double)n;
    fftw_execute(inverse);
    memcpy(out, real, wanted * sizeof *out);
done:
    forget(inverse);
    forget(forward);
    fftw_free(second);
    fftw_free(first);
    fftw_free(real);
    return status;
}
