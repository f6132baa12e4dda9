/* A picture folded on its cell: what repeats comes out, noise is averaged down, and holes tell where the yarns are.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "picture/picture.h"
#include "random.h"

#include <stdlib.h>

enum { BINS = WW_FOLD * WW_FOLD, SMOOTHED = 5 /* bins each way */ };
static const double PITCH[2] = {13.71828, 11.31416}; /* pixels; no common measure with them */
static const double DARK_P = 0.3, DARK_Q = 0.7;

static double bin_middle(size_t k)
{
    return ((double)k + 0.5) / WW_FOLD;
}

/* The unit, with each harmonic times what smoothing leaves of it: 1 for the picture's own. */
static double unit_at(double p, double q, double of_first, double of_both)
{
    double x = 2.0 * WW_PI * (p - DARK_P), y = 2.0 * WW_PI * (q - DARK_Q);
    return 0.5 - of_first * (0.2 * cos(x) + 0.15 * cos(y)) - of_both * 0.1 * cos(x + y);
}

static struct ww_fold fold_picture(size_t nx, size_t ny, double noise, uint64_t seed)
{
    struct ww_fold fold = {.mean = 0.0};
    struct random random = random_of(seed);
    for (size_t iy = 0; iy < ny; iy++)
        for (size_t ix = 0; ix < nx; ix++) {
            double p = ((double)ix + 0.5 - 0.5 * (double)nx) / PITCH[0];
            double q = ((double)iy + 0.5 - 0.5 * (double)ny) / PITCH[1];
            double off = random_between(&random, -sqrt(3.0), sqrt(3.0)); /* standard deviation 1 */
            ww_fold_add(&fold, p, q, unit_at(p, q, 1.0, 1.0) + noise * off);
        }
    assert_true(ww_fold_smooth(&fold));
    return fold;
}

/* Means over five bins, 5/32 of the cell, leave sin(a)/a of a harmonic, a = pi 5/32, in each direction. Pixels lie unevenly in the bins:
 * one more at the end of the 47 across or the 42 along that a mean takes in, where the unit is up to 0.15 and 0.12 off, moves it by
 * 0.15/47 + 0.12/42 = 0.006. Measured: 0.0053. */
static void a_picture_that_repeats_folds_to_its_unit(void **state)
{
    (void)state;
    struct ww_fold fold = fold_picture(300, 270, 0.0, 1);
    double a = WW_PI * SMOOTHED / WW_FOLD, first = sin(a) / a, p, q;
    for (size_t i = 0; i < BINS; i++)
        assert_close(fold.sum[i], unit_at(bin_middle(i % WW_FOLD), bin_middle(i / WW_FOLD), first, first * first),
                     0.0, 6e-3);
    assert_close(fold.mean, 0.5, 0.0, 1e-3);
    assert_close(ww_fold_darkest(&fold, &p, &q), unit_at(DARK_P, DARK_Q, first, first * first), 0.0, 6e-3);
    assert_close(p, DARK_P, 0.0, 1.0 / WW_FOLD);
    assert_close(q, DARK_Q, 0.0, 1.0 / WW_FOLD);
}

/* A smoothed bin is the mean of nx ny 25/1024 pixels. 20 folds have about 800 such means that are independent, so that their root mean
 * square is known to 2.5 %. */
static void noise_is_averaged_down(void **state)
{
    (void)state;
    enum { SEEDS = 20 };
    const double noise = 0.3;
    for (size_t size = 100; size <= 200; size += 100) {
        struct ww_fold clean = fold_picture(size, size, 0.0, 1);
        double squares = 0.0;
        for (uint64_t seed = 1; seed <= SEEDS; seed++) {
            struct ww_fold noisy = fold_picture(size, size, noise, seed);
            for (size_t i = 0; i < BINS; i++)
                squares += pow(noisy.sum[i] - clean.sum[i], 2) / (BINS * SEEDS);
        }
        double pixels = (double)(size * size * SMOOTHED * SMOOTHED) / BINS;
        assert_close(sqrt(squares), noise / sqrt(pixels), 0.1, 0.0);
    }
}

/* Five by five bins without a sample, as four rows of bins never are. */
static void places_without_samples_are_told(void **state)
{
    (void)state;
    for (size_t empty = 4; empty <= 5; empty++) {
        struct ww_fold fold = {.mean = 0.0};
        for (size_t i = 0; i < BINS; i++)
            if (i % WW_FOLD >= empty || i / WW_FOLD >= empty)
                ww_fold_add(&fold, bin_middle(i % WW_FOLD), bin_middle(i / WW_FOLD), 1.0);
        assert_int_equal(ww_fold_smooth(&fold), empty == 4);
    }
}

/* Two holes half a cell apart, across and along; one of them alone is not there half a cell on. */
static void what_is_dark_twice_is_alike(void **state)
{
    (void)state;
    const size_t half = WW_FOLD / 2;
    for (int holes = 1; holes <= 2; holes++) {
        struct ww_fold fold = {.mean = 0.0};
        for (size_t i = 0; i < BINS; i++) {
            size_t p = i % WW_FOLD, q = i / WW_FOLD;
            bool hole = p >= 5 && p < 9 && q >= 3 && q < 8, twin = p >= 21 && p < 25 && q >= 19 && q < 24;
            ww_fold_add(&fold, bin_middle(p), bin_middle(q), hole || (holes == 2 && twin) ? 0.0 : 1.0);
        }
        assert_true(ww_fold_smooth(&fold));
        assert_close(ww_fold_alike(&fold, 0, 0), 1.0, 1e-12, 0.0);
        assert_close(ww_fold_alike(&fold, half, half), holes == 2 ? 1.0 : 0.0, 0.0, 1e-12);
        assert_close(ww_fold_alike(&fold, half, 0), 0.0, 0.0, 1e-12);
    }
}

/* Holes of 0.05 by 0.15 pitches in the middle between yarns that lie `off` what was followed, on a picture that is turned, with noise: to
 * 0.02 of the pitch, as the page of constants says of SMOOTH. */
static void holes_tell_where_the_yarns_are(void **state)
{
    (void)state;
    enum { NX = 420, NY = 400 };
    static const double pitch[2] = {21.3, 25.9}, off[2] = {4.1, -6.3}, turn = 0.07;
    struct ww_level level = {.nx = NX, .ny = NY, .value = calloc((size_t)NX * NY, sizeof(double))};
    struct ww_follow follow[2] = {{.pitch = pitch[0], .step = 1.0, .across = {cos(turn), sin(turn)}},
                                  {.pitch = pitch[1], .step = 1.0, .across = {-sin(turn), cos(turn)}}};
    struct ww_trend trend[2] = {{.c = {1.7, pitch[0]}}, {.c = {-2.2, pitch[1]}}};
    struct random random = random_of(5);
    double aside[2];
    assert_non_null(level.value);
    for (int f = 0; f < 2; f++) {
        follow[f].along[0] = -follow[f].across[1];
        follow[f].along[1] = follow[f].across[0];
    }
    for (size_t i = 0; i < (size_t)NX * NY; i++) {
        double x = (double)(i % NX) + 0.5 - 0.5 * NX, y = (double)(i / NX) + 0.5 - 0.5 * NY, from[2];
        for (int f = 0; f < 2; f++) {
            double across = x * follow[f].across[0] + y * follow[f].across[1];
            from[f] = fabs(remainder((across - trend[f].c[0] - off[f]) / pitch[f] - 0.5, 1.0));
        }
        bool hole = from[0] < 0.025 && from[1] < 0.075;
        level.value[i] = (hole ? -0.5 : 0.0) + random_between(&random, -0.05, 0.05);
    }
    ww_holes_find(aside, &level, follow, trend);
    for (int f = 0; f < 2; f++)
        assert_close(aside[f], off[f], 0.0, 0.02 * pitch[f]);
    free(level.value);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_picture_that_repeats_folds_to_its_unit), cmocka_unit_test(noise_is_averaged_down),
        cmocka_unit_test(places_without_samples_are_told),          cmocka_unit_test(what_is_dark_twice_is_alike),
        cmocka_unit_test(holes_tell_where_the_yarns_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
