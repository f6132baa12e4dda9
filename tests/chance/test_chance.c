/* Distributions over the unknown place of the cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "chance/distribution.h"

#include <stdlib.h>

#define AMPLITUDE 3.0
#define STEP (2 * AMPLITUDE / 4096)

/* offset + A cos(2 pi (m x + l y) + phase) on n by n samples of a unit cell. */
static struct ww_map cosine_map(size_t n, double offset, double amplitude, int m, int l, double phase)
{
    struct ww_map map = {0};
    struct ww_error error = {0};
    assert_ok(ww_map_init(&map, n, n, 1, 1, &error), error);
    for (size_t iy = 0; iy < n; iy++)
        for (size_t ix = 0; ix < n; ix++)
            map.value[iy * n + ix] =
                offset +
                amplitude * cos(2 * WW_PI * (m * ((double)ix + 0.5) + l * ((double)iy + 0.5)) / (double)n + phase);
    return map;
}

static struct ww_distribution of_cosine(size_t n, double offset, int m, int l, double phase)
{
    struct ww_map map = cosine_map(n, offset, AMPLITUDE, m, l, phase);
    struct ww_distribution d;
    struct ww_error error = {0};
    assert_ok(ww_distribution_of_map(&d, &map, n, STEP, &error), error);
    ww_map_clear(&map);
    return d;
}

static double total(const struct ww_distribution *d)
{
    double sum = 0;
    for (size_t i = 0; i < d->count; i++) {
        assert_true(d->probability[i] >= 0);
        sum += d->probability[i];
    }
    return sum;
}

static double mean(const struct ww_distribution *d)
{
    double sum = 0;
    for (size_t i = 0; i < d->count; i++)
        sum += d->probability[i] * (d->first + (double)i * d->step);
    return sum;
}

/* A cosine has the arcsine law: P(|v| <= A s) = (2/pi) asin s, whichever way it runs. */
static void cosine_has_the_arcsine_law(void **state)
{
    (void)state;
    static const int way[4][2] = {{1, 0}, {0, 2}, {1, 1}, {3, -2}};
    for (int w = 0; w < 4; w++)
        for (double phase = 0; phase < 1; phase += 0.3) {
            struct ww_distribution d = of_cosine(256, 0, way[w][0], way[w][1], phase);
            for (double share = 0.05; share < 1; share += 0.05)
                assert_close(ww_distribution_quantile(&d, share), AMPLITUDE * sin(0.5 * WW_PI * share), 0,
                             1e-3 * AMPLITUDE);
            assert_close(ww_distribution_quantile(&d, 0.5), AMPLITUDE * sqrt(0.5), 1e-3, 0);
            assert_close(ww_distribution_quantile(&d, 0.95), AMPLITUDE * 0.996917333733128, 1e-3, 0);
            for (double limit = 0.1; limit < 0.95; limit += 0.1)
                assert_close(ww_distribution_exceed(&d, limit * AMPLITUDE), 1 - 2 / WW_PI * asin(limit), 0, 2e-3);
            assert_close(ww_distribution_deviation(&d), AMPLITUDE * sqrt(0.5), 1e-3, 0);
            ww_distribution_clear(&d);
        }
}

/* Few samples do as well, for each stands for its square. */
static void median_does_not_hang_on_the_samples(void **state)
{
    (void)state;
    for (size_t n = 32; n <= 36; n++) {
        struct ww_distribution d = of_cosine(n, 0, 1, 0, 0.1);
        assert_close(ww_distribution_quantile(&d, 0.5), AMPLITUDE * sqrt(0.5), 0.01, 0);
        ww_distribution_clear(&d);
    }
}

/* A figure that was never filled has a distribution without a step: its quantile overflowed. */
static void one_value_is_its_own_quantile(void **state)
{
    (void)state;
    double all = 1;
    struct ww_distribution d = {.count = 1, .first = -3, .step = 0, .probability = &all};
    assert_close(ww_distribution_quantile(&d, 0.5), 3, 0, 0);
    assert_close(ww_distribution_quantile(&(struct ww_distribution){0}, 0.5), 0, 0, 0);
}

static void sum_and_mean_are_kept(void **state)
{
    (void)state;
    for (double offset = -5; offset < 5; offset += 1.7) {
        struct ww_distribution d = of_cosine(48, offset, 2, 1, 0.2);
        assert_close(total(&d), 1, 1e-12, 0);
        assert_close(mean(&d), offset, 0, 1e-11);
        ww_distribution_clear(&d);
    }
}

static void combining_adds_means_and_variances(void **state)
{
    (void)state;
    struct ww_error error = {0};
    for (int sign = -1; sign <= 1; sign += 2) {
        struct ww_distribution a = of_cosine(64, 1, 1, 0, 0), b = of_cosine(64, 0.25, 1, 1, 1), sum;
        assert_ok(ww_distribution_combine(&a, &b, sign, &sum, &error), error);
        assert_close(total(&sum), 1, 1e-12, 0);
        assert_close(mean(&sum), 1 + sign * 0.25, 0, 1e-10);
        assert_close(ww_distribution_deviation(&sum),
                     hypot(ww_distribution_deviation(&a), ww_distribution_deviation(&b)), 1e-10, 0);
        ww_distribution_clear(&a);
        ww_distribution_clear(&b);
        ww_distribution_clear(&sum);
    }
}

/* Difference is the sum with the mirror image, bin by bin. */
static void difference_runs_the_other_way(void **state)
{
    (void)state;
    double one[3] = {0.5, 0.25, 0.25}, other[2] = {0.75, 0.25};
    struct ww_distribution a = {3, 10, 1, one}, b = {2, 4, 1, other}, sum;
    struct ww_error error = {0};
    assert_ok(ww_distribution_combine(&a, &b, -1, &sum, &error), error);
    /* 10 .. 12 less 4 .. 5: 5 .. 8 */
    assert_int_equal(sum.count, 4);
    assert_close(sum.first, 5, 1e-15, 0);
    const double want[4] = {0.5 * 0.25, 0.5 * 0.75 + 0.25 * 0.25, 0.25 * 0.75 + 0.25 * 0.25, 0.25 * 0.75};
    for (int i = 0; i < 4; i++)
        assert_close(sum.probability[i], want[i], 1e-14, 0);
    ww_distribution_clear(&sum);
    assert_ok(ww_distribution_combine(&a, &b, 1, &sum, &error), error);
    assert_close(sum.first, 14, 1e-15, 0);
    assert_close(sum.probability[0], 0.5 * 0.75, 1e-14, 0);
    ww_distribution_clear(&sum);
}

static void edges_of_the_quantile(void **state)
{
    (void)state;
    struct ww_distribution d = of_cosine(64, 0, 1, 0, 0), empty = {0};
    assert_close(ww_distribution_quantile(&d, 0), 0, 0, STEP);
    assert_close(ww_distribution_quantile(&d, 1), AMPLITUDE, 2e-3, 0);
    assert_close(ww_distribution_exceed(&d, 1.01 * AMPLITUDE), 0, 0, 0);
    assert_close(ww_distribution_exceed(&d, 0), 1, 1e-3, 0);
    assert_close(ww_distribution_exceed(&empty, 1), 0, 0, 0);
    assert_close(ww_distribution_quantile(&empty, 0.5), 0, 0, 0);
    assert_close(ww_distribution_deviation(&empty), 0, 0, 0);
    for (double share = 0.1, before = 0; share < 1; share += 0.1) { /* one is the other's inverse */
        double v = ww_distribution_quantile(&d, share);
        assert_true(v > before);
        assert_close(1 - ww_distribution_exceed(&d, v), share, 0, 1e-9);
        before = v;
    }
    ww_distribution_clear(&d);
    ww_distribution_clear(&d);
}

/* Walked to from 0 outwards, quantiles are where the chance to exceed says, wherever 0 lies among the bins. */
static void quantile_is_where_the_chance_to_exceed_says(void **state)
{
    (void)state;
    for (double offset = -4; offset <= 4; offset += 1) {
        struct ww_distribution d = of_cosine(256, offset, 1, 2, 0.4);
        for (double share = 0.05; share < 1; share += 0.05)
            assert_close(1 - ww_distribution_exceed(&d, ww_distribution_quantile(&d, share)), share, 0, 1e-11);
        double most = ww_distribution_quantile(&d, 1);
        assert_close(most, AMPLITUDE + fabs(offset), 0, 3 * STEP);
        assert_close(ww_distribution_exceed(&d, most + STEP), 0, 0, 1e-12);
        ww_distribution_clear(&d);
    }
}

/* One value everywhere: all quantiles are that value, to a bin. */
static void constant_map(void **state)
{
    (void)state;
    struct ww_map map = cosine_map(8, -0.7, 0, 0, 0, 0);
    struct ww_distribution d;
    struct ww_error error = {0};
    assert_ok(ww_distribution_of_map(&d, &map, 8, 0.001, &error), error);
    assert_close(total(&d), 1, 1e-13, 0);
    for (double share = 0.1; share <= 1; share += 0.1)
        assert_close(ww_distribution_quantile(&d, share), 0.7, 0, 0.002);
    assert_close(ww_distribution_exceed(&d, 0.69), 1, 1e-13, 0);
    assert_close(ww_distribution_exceed(&d, 0.71), 0, 0, 0);
    ww_distribution_clear(&d);
    ww_map_clear(&map);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cosine_has_the_arcsine_law),
        cmocka_unit_test(median_does_not_hang_on_the_samples),
        cmocka_unit_test(one_value_is_its_own_quantile),
        cmocka_unit_test(sum_and_mean_are_kept),
        cmocka_unit_test(combining_adds_means_and_variances),
        cmocka_unit_test(difference_runs_the_other_way),
        cmocka_unit_test(edges_of_the_quantile),
        cmocka_unit_test(quantile_is_where_the_chance_to_exceed_says),
        cmocka_unit_test(constant_map),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
