/* Transforms by their properties: linearity, impulse, shift, Parseval, round trip, and the sums they stand for.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The method is Ergun's ("Testing multivariate linear functions", STOC 1995): linearity, one impulse and the
 * shift rule together fix a Fourier transform. Values are of order 1; rounding grows like log2 of the size.
 */
#include "check.h"

#include <complex.h>
#include <pthread.h>
#include <stdlib.h>

#include "core/transform.h"

#define ROUNDING 1e-13

static double next_value(uint64_t *seed)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(*seed >> 11) / 4503599627370496.0 - 1;
}

static double *random_reals(size_t count, uint64_t seed)
{
    double *value = calloc(count, sizeof *value);
    assert_non_null(value);
    for (size_t i = 0; i < count; i++)
        value[i] = next_value(&seed);
    return value;
}

static void assert_same(double _Complex got, double _Complex want, double scale)
{
    assert_close(creal(got), creal(want), 0, ROUNDING * scale);
    assert_close(cimag(got), cimag(want), 0, ROUNDING * scale);
}

static const size_t shape[][2] = {{1, 1},  {2, 1}, {1, 2},   {8, 8},  {16, 5},
                                  {5, 16}, {7, 9}, {48, 64}, {13, 1}, {1, 13}};
enum { SHAPES = sizeof shape / sizeof shape[0] };

/* Arrays that are not aligned as malloc aligns have plans of their own. */
static void any_alignment_will_do(void **state)
{
    (void)state;
    enum { NX = 24, NY = 10, SAMPLES = NX * NY, HALF = NY * (NX / 2 + 1) };
    struct ww_error error = {0};
    double *value = random_reals(SAMPLES, 6), *off = calloc(SAMPLES + 1, sizeof *off);
    double _Complex *coef = calloc(HALF, sizeof *coef), *same = calloc(HALF, sizeof *same);
    assert_true(off != NULL && coef != NULL && same != NULL);
    memcpy(off + 1, value, SAMPLES * sizeof *value);
    assert_ok(ww_transform_forward(value, NX, NY, coef, &error), error);
    assert_ok(ww_transform_forward(off + 1, NX, NY, same, &error), error);
    for (size_t k = 0; k < HALF; k++)
        assert_same(same[k], coef[k], 1);
    assert_ok(ww_transform_inverse(same, NX, NY, off + 1, &error), error);
    for (size_t i = 0; i < SAMPLES; i++)
        assert_close(off[i + 1], value[i], 0, ROUNDING);
    free(same);
    free(coef);
    free(off);
    free(value);
}

static void a_map_and_its_spectrum_keep_the_rules(void **state)
{
    (void)state;
    for (size_t s = 0; s < SHAPES; s++) {
        size_t nx = shape[s][0];
        size_t ny = shape[s][1];
        size_t half = nx / 2 + 1;
        size_t samples = nx * ny;
        struct ww_error error = {0};
        double *a = random_reals(samples, 3);
        double *b = random_reals(samples, 4);
        double *c = random_reals(samples, 5);
        double _Complex *fa = calloc(ny * half, sizeof *fa);
        double _Complex *fb = calloc(ny * half, sizeof *fb);
        double _Complex *fc = calloc(ny * half, sizeof *fc);
        assert_true(fa != NULL && fb != NULL && fc != NULL);

        /* linear */
        for (size_t i = 0; i < samples; i++)
            c[i] = 2 * a[i] - 3 * b[i];
        assert_ok(ww_transform_forward(a, nx, ny, fa, &error), error);
        assert_ok(ww_transform_forward(b, nx, ny, fb, &error), error);
        assert_ok(ww_transform_forward(c, nx, ny, fc, &error), error);
        for (size_t k = 0; k < ny * half; k++)
            assert_same(fc[k], 2 * fa[k] - 3 * fb[k], 5);

        /* Parseval; columns that stand for two harmonics count twice */
        double energy = 0;
        double power = 0;
        for (size_t i = 0; i < samples; i++)
            energy += a[i] * a[i] / (double)samples;
        for (size_t l = 0; l < ny; l++)
            for (size_t m = 0; m < half; m++)
                power += (m == 0 || 2 * m == nx ? 1 : 2) * creal(fa[l * half + m] * conj(fa[l * half + m]));
        assert_close(power, energy, ROUNDING, 0);

        /* shift: b(x, y) = a(x - 1, y - 2) */
        for (size_t iy = 0; iy < ny; iy++)
            for (size_t ix = 0; ix < nx; ix++)
                b[((iy + 2) % ny) * nx + (ix + 1) % nx] = a[iy * nx + ix];
        assert_ok(ww_transform_forward(b, nx, ny, fb, &error), error);
        for (size_t l = 0; l < ny; l++)
            for (size_t m = 0; m < half; m++) {
                double turn = -2 * WW_PI * ((double)m / (double)nx + 2 * (double)l / (double)ny);
                assert_same(fb[l * half + m], fa[l * half + m] * cexp(I * turn), 1);
            }

        /* round trip */
        assert_ok(ww_transform_inverse(fa, nx, ny, c, &error), error);
        for (size_t i = 0; i < samples; i++)
            assert_close(c[i], a[i], 0, ROUNDING);

        /* an impulse has a flat spectrum of 1/(nx ny) */
        memset(c, 0, samples * sizeof *c);
        c[0] = 1;
        assert_ok(ww_transform_forward(c, nx, ny, fc, &error), error);
        for (size_t k = 0; k < ny * half; k++)
            assert_same(fc[k], 1 / (double)samples, 1);
        free(fc);
        free(fb);
        free(fa);
        free(c);
        free(b);
        free(a);
    }
}

static void one_harmonic_lands_where_the_header_says(void **state)
{
    (void)state;
    enum { NX = 12, NY = 10, HALF = NX / 2 + 1, M = 2, L = 3 };
    struct ww_error error = {0};
    double value[NY * NX];
    double _Complex coef[NY * HALF];
    for (int iy = 0; iy < NY; iy++)
        for (int ix = 0; ix < NX; ix++)
            value[iy * NX + ix] = 5 + 2 * cos(2 * WW_PI * (M * ix / (double)NX - L * iy / (double)NY) + 0.3);
    assert_ok(ww_transform_forward(value, NX, NY, coef, &error), error);
    for (int l = 0; l < NY; l++)
        for (int m = 0; m < HALF; m++) {
            double _Complex want = l == 0 && m == 0 ? 5 : l == NY - L && m == M ? cexp(I * 0.3) : 0;
            assert_same(coef[l * HALF + m], want, 1);
        }
}

static void rows_are_the_sums_they_stand_for(void **state)
{
    (void)state;
    enum { ROWS = 3 };
    static const size_t size[] = {1, 2, 8, 15, 17, 60};
    for (size_t s = 0; s < sizeof size / sizeof size[0]; s++)
        for (int sign = -1; sign <= 1; sign += 2) {
            size_t n = size[s];
            struct ww_error error = {0};
            double _Complex *in = calloc(ROWS * n, sizeof *in);
            double _Complex *out = calloc(ROWS * n, sizeof *out);
            assert_true(in != NULL && out != NULL);
            uint64_t seed = 7;
            for (size_t i = 0; i < ROWS * n; i++)
                in[i] = next_value(&seed) + I * next_value(&seed);
            assert_ok(ww_transform_rows(in, ROWS, n, sign, out, &error), error);
            for (size_t r = 0; r < ROWS; r++)
                for (size_t q = 0; q < n; q++) {
                    double _Complex sum = 0;
                    for (size_t i = 0; i < n; i++)
                        sum += in[r * n + i] * cexp(I * (double)sign * 2 * WW_PI * (double)(q * i % n) / (double)n);
                    assert_same(out[r * n + q], sum, (double)n);
                }
            assert_ok(ww_transform_rows(in, ROWS, n, sign, in, &error), error); /* in place */
            for (size_t i = 0; i < ROWS * n; i++)
                assert_same(in[i], out[i], (double)n);
            free(out);
            free(in);
        }
}

static void sine_is_the_sum_it_stands_for_and_its_own_inverse(void **state)
{
    (void)state;
    enum { ROWS = 3 };
    static const size_t size[] = {1, 2, 7, 16, 63, 255, 359, 400};
    for (size_t s = 0; s < sizeof size / sizeof size[0]; s++) {
        size_t n = size[s];
        struct ww_error error = {0};
        struct ww_sine *sine = NULL;
        double *a = random_reals(ROWS * n + 1, 11);
        double *b = random_reals(ROWS * n + 1, 11);
        assert_ok(ww_sine_create(&sine, n, &error), error);
        ww_sine_apply(sine, b + 1, ROWS); /* an odd alignment on purpose */
        for (size_t r = 0; r < ROWS; r++)
            for (size_t k = 0; k < n; k++) {
                double sum = 0;
                for (size_t j = 0; j < n; j++)
                    sum += 2 * a[1 + r * n + j] *
                           sin(WW_PI * (double)((j + 1) * (k + 1) % (2 * n + 2)) / (double)(n + 1));
                assert_close(b[1 + r * n + k], sum, 0, ROUNDING * (double)n);
            }
        ww_sine_apply(sine, b + 1, ROWS);
        for (size_t i = 1; i <= ROWS * n; i++)
            assert_close(b[i], 2 * (double)(n + 1) * a[i], 0, ROUNDING * (double)n);
        ww_sine_destroy(sine);
        free(b);
        free(a);
    }
    ww_sine_destroy(NULL);
}

static void waves_are_the_sums_they_stand_for(void **state)
{
    (void)state;
    enum { PLANES = 3 };
    static const size_t size[][2] = {{1, 5}, {2, 1}, {4, 7}, {9, 6}, {24, 31}};
    for (size_t s = 0; s < sizeof size / sizeof size[0]; s++) {
        size_t m = size[s][0];
        size_t n = size[s][1];
        struct ww_error error = {0};
        struct ww_sine_fourier *transform = NULL;
        double *a = random_reals(PLANES * m * n + 1, 37);
        double *b = random_reals(PLANES * m * n + 1, 37);
        assert_ok(ww_sine_fourier_create(&transform, m, n, &error), error);
        ww_sine_fourier_forward(transform, b + 1, PLANES); /* an odd alignment on purpose */
        for (size_t all = 0; all < PLANES * m; all++)
            for (size_t k = 0; k < n; k++) {
                size_t plane = all / m, row = all % m;
                bool is_sine = 2 * row > m;
                size_t harmonic = is_sine ? m - row : row;
                double sum = 0;
                for (size_t i = 0; i < m; i++)
                    for (size_t j = 0; j < n; j++) {
                        double turn = 2 * WW_PI * (double)(harmonic * i % m) / (double)m;
                        double across = 2 * sin(WW_PI * (double)((j + 1) * (k + 1)) / (double)(n + 1));
                        sum += a[1 + (plane * m + i) * n + j] * across * (is_sine ? -sin(turn) : cos(turn));
                    }
                assert_close(b[1 + all * n + k], sum, 0, ROUNDING * (double)(m * n));
            }
        ww_sine_fourier_backward(transform, b + 1, PLANES);
        for (size_t i = 1; i <= PLANES * m * n; i++)
            assert_close(b[i], 2 * (double)((n + 1) * m) * a[i], 0, ROUNDING * (double)(m * n));
        ww_sine_fourier_destroy(transform);
        free(b);
        free(a);
    }
    ww_sine_fourier_destroy(NULL);
}

static void cosine_is_the_sum_it_stands_for(void **state)
{
    (void)state;
    enum { ROWS = 2 };
    static const size_t size[] = {2, 3, 8, 33};
    for (size_t s = 0; s < sizeof size / sizeof size[0]; s++) {
        size_t n = size[s];
        struct ww_error error = {0};
        double *a = random_reals(ROWS * n, 13);
        double *b = random_reals(ROWS * n, 13);
        struct ww_cosine *cosine;
        assert_ok(ww_cosine_create(&cosine, n, &error), error);
        ww_cosine_apply(cosine, b, ROWS);
        for (size_t r = 0; r < ROWS; r++)
            for (size_t k = 0; k < n; k++) {
                double sum = a[r * n] + (k % 2 == 0 ? 1 : -1) * a[r * n + n - 1];
                for (size_t j = 1; j + 1 < n; j++)
                    sum += 2 * a[r * n + j] * cos(WW_PI * (double)(j * k) / (double)(n - 1));
                assert_close(b[r * n + k], sum, 0, ROUNDING * (double)n);
            }
        ww_cosine_apply(cosine, b, ROWS);
        ww_cosine_destroy(cosine);
        for (size_t i = 0; i < ROWS * n; i++)
            assert_close(b[i], 2 * (double)(n - 1) * a[i], 0, ROUNDING * (double)n);
        free(b);
        free(a);
    }
}

static void convolution_is_the_direct_sum(void **state)
{
    (void)state;
    static const size_t size[][2] = {{1, 1}, {1, 9}, {9, 1}, {5, 7}, {100, 33}, {257, 256}};
    for (size_t s = 0; s < sizeof size / sizeof size[0]; s++) {
        size_t na = size[s][0];
        size_t nb = size[s][1];
        struct ww_error error = {0};
        double *a = random_reals(na, 17);
        double *b = random_reals(nb, 19);
        double *out = random_reals(na + nb - 1, 23);
        double *back = random_reals(na + nb - 1, 29);
        assert_ok(ww_transform_convolve(a, na, b, nb, out, &error), error);
        for (size_t k = 0; k < na + nb - 1; k++) {
            double sum = 0;
            for (size_t i = 0; i < na; i++)
                if (k >= i && k - i < nb)
                    sum += a[i] * b[k - i];
            assert_close(out[k], sum, 0, ROUNDING * (double)(na + nb));
        }
        assert_ok(ww_transform_convolve(b, nb, a, na, back, &error), error);
        for (size_t k = 0; k < na + nb - 1; k++)
            assert_close(back[k], out[k], 0, ROUNDING * (double)(na + nb));
        free(back);
        free(out);
        free(b);
        free(a);
    }
}

static void sizes_that_no_transform_has_are_refused(void **state)
{
    (void)state;
    struct ww_error error = {0};
    double value[4] = {0};
    double _Complex coef[4] = {0};
    struct ww_sine *sine = NULL;
    size_t huge = (size_t)INT32_MAX + 1;
    assert_int_equal(ww_transform_forward(value, 0, 1, coef, &error), WW_INVALID);
    assert_int_equal(ww_transform_forward(value, huge, 1, coef, &error), WW_INVALID);
    assert_int_equal(ww_transform_inverse(coef, 1, 0, value, &error), WW_INVALID);
    assert_int_equal(ww_transform_rows(coef, 1, 4, 0, coef, &error), WW_INVALID);
    assert_int_equal(ww_transform_rows(coef, 0, 4, 1, coef, &error), WW_INVALID);
    struct ww_cosine *cosine;
    assert_int_equal(ww_cosine_create(&cosine, 1, &error), WW_INVALID);
    assert_null(cosine);
    assert_int_equal(ww_transform_convolve(value, 0, value, 1, value, &error), WW_INVALID);
    assert_int_equal(ww_sine_create(&sine, 0, &error), WW_INVALID);
    assert_int_equal(ww_sine_create(&sine, huge, &error), WW_INVALID);
    assert_null(sine);
    struct ww_sine_fourier *transform = NULL;
    assert_int_equal(ww_sine_fourier_create(&transform, 0, 3, &error), WW_INVALID);
    assert_null(transform);
}

enum { THREADS = 4, SIDE = 40, ROUNDS = 20 };

struct job {
    const struct ww_sine *sine;
    double *value;
    double _Complex *coef;
    bool same;
};

/* Plans and runs in each thread at once; the digits have to be those of one thread alone. */
static void *work(void *argument)
{
    struct job *job = argument;
    double _Complex *mine = calloc(SIDE * (SIDE / 2 + 1), sizeof *mine);
    double *copy = calloc(SIDE * SIDE, sizeof *copy);
    job->same = mine != NULL && copy != NULL;
    for (int round = 0; job->same && round < ROUNDS; round++) {
        job->same = ww_transform_forward(job->value, SIDE, SIDE, mine, NULL) == WW_OK &&
                    memcmp(mine, job->coef, SIDE * (SIDE / 2 + 1) * sizeof *mine) == 0;
        memcpy(copy, job->value, SIDE * SIDE * sizeof *copy);
        ww_sine_apply(job->sine, copy, SIDE);
    }
    free(copy);
    free(mine);
    return NULL;
}

static void several_threads_get_the_digits_of_one(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_sine *sine = NULL;
    double *value = random_reals(SIDE * SIDE, 31);
    double _Complex *coef = calloc(SIDE * (SIDE / 2 + 1), sizeof *coef);
    assert_non_null(coef);
    assert_ok(ww_sine_create(&sine, SIDE, &error), error);
    assert_ok(ww_transform_forward(value, SIDE, SIDE, coef, &error), error);
    pthread_t thread[THREADS];
    struct job job[THREADS];
    for (int i = 0; i < THREADS; i++) {
        job[i] = (struct job){.sine = sine, .value = value, .coef = coef};
        assert_int_equal(pthread_create(&thread[i], NULL, work, &job[i]), 0);
    }
    for (int i = 0; i < THREADS; i++) {
        assert_int_equal(pthread_join(thread[i], NULL), 0);
        assert_true(job[i].same);
    }
    ww_sine_destroy(sine);
    free(coef);
    free(value);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_alignment_will_do),
        cmocka_unit_test(a_map_and_its_spectrum_keep_the_rules),
        cmocka_unit_test(one_harmonic_lands_where_the_header_says),
        cmocka_unit_test(rows_are_the_sums_they_stand_for),
        cmocka_unit_test(sine_is_the_sum_it_stands_for_and_its_own_inverse),
        cmocka_unit_test(waves_are_the_sums_they_stand_for),
        cmocka_unit_test(cosine_is_the_sum_it_stands_for),
        cmocka_unit_test(convolution_is_the_direct_sum),
        cmocka_unit_test(sizes_that_no_transform_has_are_refused),
        cmocka_unit_test(several_threads_get_the_digits_of_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
