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
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/wide.h"

static pthread_mutex_t planner_lock = PTHREAD_MUTEX_INITIALIZER;

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

/* Transforms of one size come again thousands of times, and a plan costs as much as running it does: plans are kept, the first
 * few sizes that come. They serve any thread, and arrays of any alignment or those that are aligned as malloc aligns: FFTW is
 * twice as fast at these. */
enum kind { MAP_FORWARD, MAP_INVERSE, ROWS_PLUS, ROWS_MINUS, ROW_FORWARD, ROW_INVERSE, TWO_ROWS };
static struct kept {
    enum kind kind;
    bool aligned;
    size_t nx, ny; /* samples in a row, rows */
    fftw_plan plan;
} kept[64];
static size_t kept_count;

/* Between real values and the spectrum, or of complex rows in place. */
static fftw_plan plan_of(enum kind kind, bool aligned, size_t nx, size_t ny, void *from, void *to)
{
    unsigned flags = FFTW_ESTIMATE | (aligned ? 0 : FFTW_UNALIGNED);
    int length = (int)nx;
    switch (kind) {
    case MAP_FORWARD:
        return fftw_plan_dft_r2c_2d((int)ny, length, from, to, flags | FFTW_PRESERVE_INPUT);
    case MAP_INVERSE:
        return fftw_plan_dft_c2r_2d((int)ny, length, from, to, flags);
    case ROW_FORWARD:
        return fftw_plan_dft_r2c_1d(length, from, to, flags);
    case ROW_INVERSE:
        return fftw_plan_dft_c2r_1d(length, from, to, flags);
    case TWO_ROWS: /* one real, the other imaginary */
        return fftw_plan_dft_1d(length, from, to, FFTW_FORWARD, flags);
    case ROWS_PLUS:
    case ROWS_MINUS:
        break;
    }
    return fftw_plan_many_dft(1, &length, (int)ny, from, NULL, 1, length, to, NULL, 1, length,
                              kind == ROWS_PLUS ? 1 : -1, flags);
}

/* The plan of a transform, made on these arrays if it is new; *own where it is not kept. */
static fftw_plan find_plan(enum kind kind, size_t nx, size_t ny, void *from, void *to, bool *own)
{
    bool aligned = fftw_alignment_of(from) == 0 && fftw_alignment_of(to) == 0;
    fftw_plan plan = NULL;
    *own = false;
    pthread_mutex_lock(&planner_lock);
    for (size_t i = 0; i < kept_count && plan == NULL; i++)
        if (kept[i].kind == kind && kept[i].aligned == aligned && kept[i].nx == nx && kept[i].ny == ny)
            plan = kept[i].plan;
    if (plan == NULL) {
        plan = plan_of(kind, aligned, nx, ny, from, to);
        *own = plan != NULL && kept_count == sizeof kept / sizeof *kept;
        if (plan != NULL && !*own)
            kept[kept_count++] = (struct kept){kind, aligned, nx, ny, plan};
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
    fftw_plan plan = find_plan(MAP_FORWARD, nx, ny, (double *)value, coef, &own);
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
    fftw_plan plan = find_plan(MAP_INVERSE, nx, ny, coef, value, &own);
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
    bool own = false;
    fftw_plan plan = find_plan(sign == 1 ? ROWS_PLUS : ROWS_MINUS, n, rows, out, out, &own);
    if (plan == NULL) {
        memset(out, 0, rows * n * sizeof *out);
        return refuse_memory(rows, n, error);
    }
    if (in != out)
        memcpy(out, in, rows * n * sizeof *out);
    fftw_execute_dft(plan, out, out);
    if (own)
        forget(plan);
    return WW_OK;
}

/* Plan a real transform of one row, in place, for arrays of any alignment. */
static fftw_plan plan_real_row(double *a, size_t n, fftw_r2r_kind kind)
{
    pthread_mutex_lock(&planner_lock);
    fftw_plan plan = fftw_plan_r2r_1d((int)n, a, a, kind, FFTW_ESTIMATE | FFTW_UNALIGNED);
    pthread_mutex_unlock(&planner_lock);
    return plan;
}

/* FFTW's sine transform works without the processor's vectors. Short rows of an even number N = n + 1 of steps go two at a time
 * through one complex transform, which has them, four times as fast: of
 *   y[j] = sin(pi j/N) (a[j] + a[N-j]) + (a[j] - a[N-j])/2,   a[0] = a[N] = 0,   Y[k] = sum_j y[j] exp(-2 pi i j k/N),
 * the transform at 2k is -2 Im Y[k], at 1 it is Re Y[0], and from 2k-1 to 2k+1 it grows by 2 Re Y[k] (W. H. Press et al.,
 * "Numerical Recipes in C", 2nd ed., 1992, section 12.3). Of two rows Z = Y + i Y' holds both: Y[k] is the even part of Z under
 * Z[k] -> conj Z[N-k], i Y'[k] the odd one. Rounding stays within 1e-15 of the larger row (tests/core/test_transform.c). */
enum { SHORT = 4096 };

struct ww_sine {
    size_t n;
    double *sine;   /* [N/2] sin(pi j/N); NULL: by FFTW's own */
    fftw_plan plan; /* of two rows, or of one by FFTW's own */
    bool own;       /* the plan is not kept for others */
};

enum ww_status ww_sine_create(struct ww_sine **sine, size_t n, struct ww_error *error)
{
    *sine = NULL;
    if (!sizes_fit(1, n))
        return refuse_sizes(1, n, error);
    size_t steps = n + 1;
    bool is_short = steps % 2 == 0 && steps <= SHORT;
    struct ww_sine *made = calloc(1, sizeof *made);
    /* FFTW wants arrays to plan on; it does not touch them */
    fftw_complex *from = fftw_alloc_complex(is_short ? steps : n);
    fftw_complex *to = fftw_alloc_complex(is_short ? steps : 1);
    if (made == NULL || from == NULL || to == NULL)
        goto done;
    made->n = n;
    if (!is_short) {
        made->own = true;
        made->plan = plan_real_row((double *)from, n, FFTW_RODFT00);
    } else if ((made->sine = malloc(steps / 2 * sizeof *made->sine)) != NULL) {
        for (size_t j = 0; j < steps / 2; j++)
            made->sine[j] = sin(WW_PI * (double)j / (double)steps);
        made->plan = find_plan(TWO_ROWS, steps, 1, from, to, &made->own);
    }
done:
    fftw_free(to);
    fftw_free(from);
    if (made == NULL || made->plan == NULL) {
        ww_sine_destroy(made);
        return refuse_memory(1, n, error);
    }
    *sine = made;
    return WW_OK;
}

/* y: [N][2], of which one part is written. */
WW_WIDE static void fold_short_row(const struct ww_sine *sine, const double *a, double *y)
{
    size_t steps = sine->n + 1, half = steps / 2;
    y[0] = 0;
    for (size_t j = 1; j < half; j++) {
        double one = a[j - 1], other = a[steps - j - 1];
        double even = sine->sine[j] * (one + other), odd = 0.5 * (one - other);
        y[2 * j] = even + odd;
        y[2 * (steps - j)] = even - odd;
    }
    y[2 * half] = 2 * a[half - 1];
}

WW_WIDE static void transform_two_rows(const struct ww_sine *sine, double *one, double *other)
{
    _Alignas(64) double y[2 * SHORT], z[2 * SHORT];
    size_t steps = sine->n + 1;
    fold_short_row(sine, one, y);
    fold_short_row(sine, other, y + 1);
    fftw_execute_dft(sine->plan, (fftw_complex *)y, (fftw_complex *)z);
    double sum = z[0], other_sum = z[1];
    one[0] = sum;
    other[0] = other_sum;
    for (size_t k = 1; k < steps / 2; k++) {
        const double *here = z + 2 * k, *there = z + 2 * (steps - k);
        sum += here[0] + there[0];
        other_sum += here[1] + there[1];
        one[2 * k - 1] = there[1] - here[1];
        one[2 * k] = sum;
        other[2 * k - 1] = here[0] - there[0];
        other[2 * k] = other_sum;
    }
}

static void transform_short_rows(const struct ww_sine *sine, double *a, size_t rows)
{
    size_t n = sine->n;
    for (size_t row = 0; row + 1 < rows; row += 2)
        transform_two_rows(sine, a + row * n, a + (row + 1) * n);
    if (rows % 2) {
        double none[SHORT];
        memset(none, 0, n * sizeof *none);
        transform_two_rows(sine, a + (rows - 1) * n, none);
    }
}

void ww_sine_apply(const struct ww_sine *sine, double *a, size_t rows)
{
    size_t n = sine->n;
    if (sine->sine == NULL)
        for (size_t row = 0; row < rows; row++)
            fftw_execute_r2r(sine->plan, a + row * n, a + row * n);
    else
        transform_short_rows(sine, a, rows);
}

void ww_sine_destroy(struct ww_sine *sine)
{
    if (sine == NULL)
        return;
    if (sine->own)
        forget(sine->plan);
    free(sine->sine);
    free(sine);
}

struct ww_sine_fourier {
    size_t m, n;
    struct ww_sine *across;
    fftw_plan forward, backward; /* along; NULL where there is one sample */
};

static fftw_plan plan_along(double *a, size_t m, size_t n, fftw_r2r_kind kind)
{
    int length = (int)m, rows = (int)n;
    pthread_mutex_lock(&planner_lock);
    fftw_plan plan = fftw_plan_many_r2r(1, &length, rows, a, NULL, rows, 1, a, NULL, rows, 1, &kind,
                                        FFTW_ESTIMATE | FFTW_UNALIGNED);
    pthread_mutex_unlock(&planner_lock);
    return plan;
}

enum ww_status ww_sine_fourier_create(struct ww_sine_fourier **transform, size_t m, size_t n, struct ww_error *error)
{
    *transform = NULL;
    if (!sizes_fit(m, n))
        return refuse_sizes(m, n, error);
    struct ww_sine_fourier *made = calloc(1, sizeof *made);
    double *sample = m > 1 ? fftw_alloc_real(m * n) : NULL;
    enum ww_status status = made == NULL || (m > 1 && sample == NULL) ? refuse_memory(m, n, error)
                                                                      : ww_sine_create(&made->across, n, error);
    if (status == WW_OK) {
        made->m = m;
        made->n = n;
    }
    if (status == WW_OK && m > 1) {
        made->forward = plan_along(sample, m, n, FFTW_R2HC);
        made->backward = plan_along(sample, m, n, FFTW_HC2R);
        if (made->forward == NULL || made->backward == NULL)
            status = refuse_memory(m, n, error);
    }
    fftw_free(sample);
    if (status != WW_OK)
        ww_sine_fourier_destroy(made);
    else
        *transform = made;
    return status;
}

void ww_sine_fourier_forward(const struct ww_sine_fourier *transform, double *a, size_t planes)
{
    ww_sine_apply(transform->across, a, planes * transform->m);
    for (size_t p = 0; p < planes && transform->forward != NULL; p++, a += transform->m * transform->n)
        fftw_execute_r2r(transform->forward, a, a);
}

void ww_sine_fourier_backward(const struct ww_sine_fourier *transform, double *a, size_t planes)
{
    double *plane = a;
    for (size_t p = 0; p < planes && transform->backward != NULL; p++, plane += transform->m * transform->n)
        fftw_execute_r2r(transform->backward, plane, plane);
    ww_sine_apply(transform->across, a, planes * transform->m);
}

void ww_sine_fourier_destroy(struct ww_sine_fourier *transform)
{
    if (transform == NULL)
        return;
    forget(transform->forward);
    forget(transform->backward);
    ww_sine_destroy(transform->across);
    free(transform);
}

struct ww_cosine {
    size_t n;
    fftw_plan plan; /* of one row */
};

enum ww_status ww_cosine_create(struct ww_cosine **cosine, size_t n, struct ww_error *error)
{
    *cosine = NULL;
    if (!sizes_fit(1, n) || n < 2)
        return refuse_sizes(1, n, error);
    struct ww_cosine *made = calloc(1, sizeof *made);
    double *sample = fftw_alloc_real(n);
    if (made != NULL && sample != NULL)
        *made = (struct ww_cosine){n, plan_real_row(sample, n, FFTW_REDFT00)};
    fftw_free(sample);
    if (made == NULL || made->plan == NULL) {
        ww_cosine_destroy(made);
        return refuse_memory(1, n, error);
    }
    *cosine = made;
    return WW_OK;
}

void ww_cosine_apply(const struct ww_cosine *cosine, double *a, size_t rows)
{
    for (size_t row = 0; row < rows; row++, a += cosine->n)
        fftw_execute_r2r(cosine->plan, a, a);
}

void ww_cosine_destroy(struct ww_cosine *cosine)
{
    if (cosine == NULL)
        return;
    forget(cosine->plan);
    free(cosine);
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
    bool own_forward = false, own_inverse = false;
    if (real != NULL && first != NULL && second != NULL) {
        forward = find_plan(ROW_FORWARD, n, 1, real, first, &own_forward);
        inverse = find_plan(ROW_INVERSE, n, 1, first, real, &own_inverse);
    }
    if (forward == NULL || inverse == NULL) {
        memset(out, 0, wanted * sizeof *out);
        status = refuse_memory(1, n, error);
        goto done;
    }
    memset(real, 0, n * sizeof *real);
    memcpy(real, b, nb * sizeof *real);
    fftw_execute_dft_r2c(forward, real, first);
    memcpy(second, first, half * sizeof *second);
    memset(real, 0, n * sizeof *real);
    memcpy(real, a, na * sizeof *real);
    fftw_execute_dft_r2c(forward, real, first);
    for (size_t k = 0; k < half; k++)
        first[k] *= second[k] / (double)n;
    fftw_execute_dft_c2r(inverse, first, real);
    memcpy(out, real, wanted * sizeof *out);
done:
    if (own_inverse)
        forget(inverse);
    if (own_forward)
        forget(forward);
    fftw_free(second);
    fftw_free(first);
    fftw_free(real);
    return status;
}
