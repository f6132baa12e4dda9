/* Real cloth: its statistics are those stated, without scatter it is the perfect cloth, and what does not fit is refused.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "cloth.h"

#include <stdlib.h>

static const struct ww_scatter typical = {.yarn = {{10 * UM, 10e-3, 0.9, 0.02}, {15 * UM, 8e-3, 0.8, 0.03}},
                                          .seed = 7};

static struct ww_patch *drawn(const struct ww_style *style, const struct ww_scatter *scatter, double width,
                              double length, uint64_t draw)
{
    struct ww_patch *patch;
    struct ww_error error = {0};
    assert_ok(ww_patch_create(&patch, style, scatter, width, length, draw, &error), error);
    return patch;
}

/* --- without scatter ------------------------------------------------------------------------------------------ */

static void without_scatter_it_is_the_perfect_cloth(void **state)
{
    (void)state;
    enum { NZ = 12 };
    const struct recipe *recipes[] = {&open_cloth, &spread_cloth};
    for (int r = 0; r < 2; r++) {
        struct ww_style style = cloth_closed(recipes[r]);
        struct ww_scatter none = {0};
        assert_true(ww_scatter_is_none(&none) && !ww_scatter_is_none(&typical));
        struct ww_patch *patch = drawn(&style, &none, 3e-3, 2e-3, 0);
        struct ww_cloth real = {&style, patch}, perfect = {&style, NULL};
        double warp[2][NZ], fill[2][NZ];
        for (int n = 0; n < 500; n++) {
            double x = -1e-3 + 17.31e-6 * n, y = 2e-3 - 11.7e-6 * n;
            ww_cloth_column(&real, x, y, NZ, NULL, warp[0], fill[0]);
            ww_cloth_column(&perfect, x, y, NZ, NULL, warp[1], fill[1]);
            for (int z = 0; z < NZ; z++) {
                assert_close(warp[0][z], warp[1][z], 0, 1e-9);
                assert_close(fill[0][z], fill[1][z], 0, 1e-9);
            }
        }
        assert_int_equal(ww_cloth_symmetries(&real), 0);
        assert_int_equal(ww_cloth_symmetries(&perfect), WW_HALF_CELL | WW_HALF_TURN | WW_MIRROR);
        double lx, ly;
        ww_cloth_period(&perfect, &lx, &ly);
        assert_close(lx, 2 / style.warp_count.value, 1e-15, 0);
        ww_cloth_period(&real, &lx, &ly);
        assert_true(lx >= 3e-3 && lx < 3e-3 + 2 / style.warp_count.value && ly >= 2e-3);
        ww_patch_destroy(patch);
    }
}

/* --- statistics ----------------------------------------------------------------------------------------------- */

/* A mean over draws and its standard error. */
struct estimate {
    double sum, squares;
    int count;
};

static void add(struct estimate *e, double value)
{
    e->sum += value;
    e->squares += value * value;
    e->count++;
}

static void assert_within_errors(const struct estimate *e, double want, double errors)
{
    double mean = e->sum / e->count, variance = e->squares / e->count - mean * mean;
    assert_close(mean, want, 0, errors * sqrt(variance / (e->count - 1)));
}

static double displacement(const struct ww_patch *patch, enum ww_system system, double pitch, long i, double s)
{
    return ww_patch_axis(patch, system, i, s) - ((double)i + 0.5) * pitch;
}

/* Covariance of (yarn i, s) and (yarn i + apart, s + lag) as stated, wrapped. */
static double stated(const struct ww_yarn_scatter *scatter, long count, double side, long apart, double lag)
{
    double n = (double)count, rho = scatter->together, along = 0, scale = 0;
    for (int m = -3; m <= 3; m++) {
        along += exp(-pow((lag + m * side) / scatter->wander_length, 2));
        scale += exp(-pow(m * side / scatter->wander_length, 2));
    }
    return scatter->wander * scatter->wander * (pow(rho, (double)apart) + pow(rho, n - (double)apart)) /
           (1 + pow(rho, n)) * along / scale;
}

/* Within four standard errors of 400 draws: the variance, the covariance along the yarn (its variogram is their difference) and
 * across it, and both together. */
static void its_covariance_is_the_stated_one(void **state)
{
    (void)state;
    enum { DRAWS = 400, LAGS = 9 };
    static const struct {
        long apart;
        double lag;
    } lag[LAGS] = {{0, 0}, {0, 2.3e-3}, {0, 5e-3}, {0, 10e-3}, {0, 15e-3}, {1, 0}, {3, 0}, {2, 4e-3}, {6, 7e-3}};
    struct ww_style style = cloth_closed(&open_cloth);
    const double pitch[WW_SYSTEMS] = {1 / style.warp_count.value, 1 / style.fill_count.value};
    struct estimate path[WW_SYSTEMS][LAGS] = {0}, wider[WW_SYSTEMS][2] = {0}, other = {0};
    double side[WW_SYSTEMS];
    for (uint64_t draw = 0; draw < DRAWS; draw++) {
        struct ww_patch *patch = drawn(&style, &typical, 20e-3, 30e-3, draw);
        struct ww_cloth cloth = {&style, patch};
        ww_cloth_period(&cloth, &side[WW_FILL], &side[WW_WARP]);
        for (int s = 0; s < WW_SYSTEMS; s++) {
            for (int k = 0; k < LAGS; k++) {
                double here = displacement(patch, (enum ww_system)s, pitch[s], 3, 1.7e-3);
                add(&path[s][k],
                    here * displacement(patch, (enum ww_system)s, pitch[s], 3 + lag[k].apart, 1.7e-3 + lag[k].lag));
            }
            double here = ww_patch_wider(patch, (enum ww_system)s, 5, 3e-3);
            add(&wider[s][0], here * here);
            add(&wider[s][1], here * ww_patch_wider(patch, (enum ww_system)s, 6, 3e-3));
        }
        add(&other,
            displacement(patch, WW_WARP, pitch[0], 3, 1.7e-3) * displacement(patch, WW_FILL, pitch[1], 3, 1.7e-3));
        ww_patch_destroy(patch);
    }
    for (int s = 0; s < WW_SYSTEMS; s++) {
        const struct ww_yarn_scatter *scatter = &typical.yarn[s];
        long count = lround(side[1 - s] / pitch[s]);
        for (int k = 0; k < LAGS; k++)
            assert_within_errors(&path[s][k], stated(scatter, count, side[s], lag[k].apart, lag[k].lag), 4);
        assert_within_errors(&wider[s][0], scatter->width_variation * scatter->width_variation, 4);
        assert_within_errors(&wider[s][1], 0, 4);
    }
    assert_within_errors(&other, 0, 4);
}

/* Of a normal variable 4.55 % lie beyond two standard deviations, and its fourth moment is three times the square of the second. */
static void its_paths_are_normal(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    double pitch = 1 / style.warp_count.value;
    struct estimate beyond = {0}, fourth = {0};
    for (uint64_t draw = 0; draw < 2000; draw++) {
        struct ww_patch *patch = drawn(&style, &typical, 2e-3, 20e-3, draw);
        double sigmas = displacement(patch, WW_WARP, pitch, 0, 0) / typical.yarn[WW_WARP].wander;
        add(&beyond, fabs(sigmas) > 2);
        add(&fourth, pow(sigmas, 4));
        ww_patch_destroy(patch);
    }
    assert_within_errors(&beyond, 0.0455, 4);
    assert_within_errors(&fourth, 3, 4);
}

static void a_seed_draws_the_same_cloth_and_another_seed_another(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter other = typical;
    other.seed++;
    struct ww_patch *a = drawn(&style, &typical, 10e-3, 10e-3, 3), *b = drawn(&style, &typical, 10e-3, 10e-3, 3);
    struct ww_patch *c = drawn(&style, &other, 10e-3, 10e-3, 3), *d = drawn(&style, &typical, 10e-3, 10e-3, 4);
    for (long i = 0; i < 5; i++) {
        double at = ww_patch_axis(a, WW_FILL, i, 1e-3);
        assert_close(ww_patch_axis(b, WW_FILL, i, 1e-3), at, 0, 0);
        assert_true(fabs(ww_patch_axis(c, WW_FILL, i, 1e-3) - at) > 1e-9);
        assert_true(fabs(ww_patch_axis(d, WW_FILL, i, 1e-3) - at) > 1e-9);
    }
    ww_patch_destroy(a);
    ww_patch_destroy(b);
    ww_patch_destroy(c);
    ww_patch_destroy(d);
}

static void it_is_periodic_and_smooth_between_samples(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_patch *patch = drawn(&style, &typical, 10e-3, 40e-3, 0);
    struct ww_cloth cloth = {&style, patch};
    double lx, ly, most = 0;
    ww_cloth_period(&cloth, &lx, &ly);
    long count = lround(lx * style.warp_count.value);
    for (int n = 0; n < 400; n++) {
        double y = 0.1e-3 * n, axis = ww_patch_axis(patch, WW_WARP, 2, y);
        assert_close(ww_patch_axis(patch, WW_WARP, 2 + count, y + ly) - lx, axis, 0, 1e-12);
        assert_close(ww_patch_axis(patch, WW_WARP, 2 - 3 * count, y - 2 * ly) + 3 * lx, axis, 0, 1e-12);
        /* third differences of a smooth process: within some standard deviations of l^-3, whatever the sample */
        double h = 0.1e-3, third = ww_patch_axis(patch, WW_WARP, 2, y + 3 * h) -
                                   3 * ww_patch_axis(patch, WW_WARP, 2, y + 2 * h) +
                                   3 * ww_patch_axis(patch, WW_WARP, 2, y + h) - axis;
        most = fmax(most, fabs(third));
    }
    const struct ww_yarn_scatter *s = &typical.yarn[WW_WARP];
    assert_true(most < 4 * sqrt(120) * s->wander * pow(0.1e-3 / s->wander_length, 3) + 1e-4 * s->wander);
    ww_patch_destroy(patch);
}

/* --- geometry ------------------------------------------------------------------------------------------------- */

/* A yarn is where its path says: the thickest columns beside it are at its axis. */
static void columns_follow_the_paths(void **state)
{
    (void)state;
    enum { NZ = 40 };
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_patch *patch = drawn(&style, &typical, 10e-3, 10e-3, 1);
    struct ww_cloth cloth = {&style, patch};
    double pitch = 1 / style.warp_count.value;
    for (long i = 0; i < 6; i++) {
        /* amid two fill yarns, where nothing presses on the warp */
        double y = 0.5 * (ww_patch_axis(patch, WW_FILL, 3, 2e-3) + ww_patch_axis(patch, WW_FILL, 4, 2e-3));
        double axis = ww_patch_axis(patch, WW_WARP, i, y), mass = 0, moment = 0;
        for (int n = -200; n < 200; n++) {
            double x = axis + (n + 0.5) * pitch / 400, warp[NZ], fill[NZ], sum = 0;
            ww_cloth_column(&cloth, x, y, NZ, NULL, warp, fill);
            for (int z = 0; z < NZ; z++)
                sum += warp[z];
            mass += sum;
            moment += sum * (x - axis);
        }
        assert_close(moment / mass, 0, 0, 1.5 * UM);
        double area = mass / NZ * pitch / 400 * (style.warp.height.value + style.fill.height.value);
        assert_close(
            area, ww_superellipse_area_factor(style.shape.value) * style.warp.width.value * style.warp.height.value,
            0.02, 0); /* whatever its width: the glass stays */
    }
    ww_patch_destroy(patch);
}

static void bunching_draws_pairs_together(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter pairs = {.bunching = 0.05};
    struct ww_patch *patch = drawn(&style, &pairs, 5e-3, 5e-3, 0);
    double pitch = 1 / style.warp_count.value;
    for (long i = 0; i < 6; i++) {
        double apart = ww_patch_axis(patch, WW_WARP, i + 1, 1e-3) - ww_patch_axis(patch, WW_WARP, i, 1e-3);
        assert_close(apart, pitch * (i % 2 ? 1.05 : 0.95), 1e-12, 0);
        assert_close(ww_patch_axis(patch, WW_FILL, i, 1e-3), ((double)i + 0.5) / style.fill_count.value, 1e-12, 0);
    }
    ww_patch_destroy(patch);
}

/* Around the patch as well: its end is the end of a group. */
static void bunching_draws_threes_together(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter threes = {.bunching = 0.05, .bunching_ends = 3};
    struct ww_patch *patch = drawn(&style, &threes, 5e-3, 5e-3, 0);
    const struct ww_cloth cloth = {&style, patch};
    double pitch = 1 / style.warp_count.value, lx, ly;
    ww_cloth_period(&cloth, &lx, &ly);
    long count = lround(lx / pitch);
    assert_close((double)count * pitch, lx, 1e-12, 0);
    assert_true(lx >= 5e-3 && count % 6 == 0);
    for (long i = 0; i < count; i++) {
        double apart = ww_patch_axis(patch, WW_WARP, i + 1, 1e-3) - ww_patch_axis(patch, WW_WARP, i, 1e-3);
        assert_close(apart, pitch * (i % 3 == 2 ? 1.1 : 0.95), 1e-12, 0);
    }
    ww_patch_destroy(patch);
    struct ww_error error = {0};
    threes.bunching_ends = 4;
    assert_int_equal(ww_patch_create(&patch, &style, &threes, 5e-3, 5e-3, 0, &error), WW_INVALID);
}

static void bow_and_hook_bend_the_fill_over_the_panel(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter bent = {.bow = 0.01, .hook = 0.005, .panel = 0.4};
    struct ww_patch *patch = drawn(&style, &bent, 5e-3, 5e-3, 0);
    double straight = 2.5 / style.fill_count.value;
    assert_close(ww_patch_axis(patch, WW_FILL, 2, 0), straight, 0, 1e-12);
    assert_close(ww_patch_axis(patch, WW_FILL, 2, 0.2) - straight, 0.01 * 0.4, 1e-12, 0);
    assert_close(ww_patch_axis(patch, WW_FILL, 2, 0.3) - straight, 0.75 * 0.01 * 0.4, 1e-12, 0);
    assert_close(ww_patch_axis(patch, WW_FILL, 2, 0.4) - straight, 0.005 * 0.4, 1e-12, 0);
    assert_close(ww_patch_axis(patch, WW_WARP, 2, 0.2), 2.5 / style.warp_count.value, 1e-12, 0);
    ww_patch_destroy(patch);
}

/* --- what is refused ------------------------------------------------------------------------------------------ */

static void yarns_that_do_not_fit_are_refused_with_the_wander_that_does(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter wild = typical;
    struct ww_patch *patch;
    struct ww_error error = {0};
    wild.yarn[WW_WARP].wander = 200 * UM;
    wild.yarn[WW_WARP].together = 0.2;
    assert_int_equal(ww_patch_create(&patch, &style, &wild, 20e-3, 20e-3, 0, &error), WW_UNPHYSICAL);
    assert_null(patch);
    assert_contains(error.text, "overlap with their neighbours on ");
    assert_contains(error.text, "a wander of up to ");
    double fits = 1e-6 * strtod(strstr(error.text, "up to ") + 6, NULL);
    assert_true(fits > 1e-6 && fits < 200 * UM);
    wild.yarn[WW_WARP].wander = 0.95 * fits; /* it is told to two digits */
    patch = drawn(&style, &wild, 20e-3, 20e-3, 0);
    assert_close(ww_patch_fit(patch, WW_WARP).overlap, 0, 0, 0);
    assert_close(ww_patch_fit(patch, WW_WARP).largest_wander, fits, 0.05, 0);
    ww_patch_destroy(patch);
}

static void a_patch_too_large_for_memory_is_refused_beforehand(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_scatter fine = typical;
    struct ww_patch *patch;
    struct ww_error error = {0};
    fine.yarn[WW_FILL].wander_length = 1e-3;
    assert_int_equal(ww_patch_create(&patch, &style, &fine, 10, 10, 0, &error), WW_NO_MEMORY);
    assert_contains(error.text, "would need ");
    fine.yarn[WW_FILL].together = 1.1;
    assert_int_equal(ww_patch_create(&patch, &style, &fine, 10e-3, 10e-3, 0, &error), WW_INVALID);
    assert_int_equal(ww_patch_create(&patch, &style, &typical, 0, 10e-3, 0, &error), WW_INVALID);
    assert_int_equal(ww_patch_create(&patch, &style, &typical, 10e-3, NAN, 0, &error), WW_INVALID);
    assert_null(patch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_scatter_it_is_the_perfect_cloth),
        cmocka_unit_test(its_covariance_is_the_stated_one),
        cmocka_unit_test(its_paths_are_normal),
        cmocka_unit_test(a_seed_draws_the_same_cloth_and_another_seed_another),
        cmocka_unit_test(it_is_periodic_and_smooth_between_samples),
        cmocka_unit_test(columns_follow_the_paths),
        cmocka_unit_test(bunching_draws_pairs_together),
        cmocka_unit_test(bunching_draws_threes_together),
        cmocka_unit_test(bow_and_hook_bend_the_fill_over_the_panel),
        cmocka_unit_test(yarns_that_do_not_fit_are_refused_with_the_wander_that_does),
        cmocka_unit_test(a_patch_too_large_for_memory_is_refused_beforehand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
