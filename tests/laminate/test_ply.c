/* The Dk of a ply on cells made by hand: exact layers first, then the bounds, the report and the resin solved for.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "support/check.h"
#include "laminate/ply.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { NX = 6, NY = 4, NZ = 8, LEVEL = NX * NY, SAMPLES = LEVEL * NZ };

/* A ply of 100 um around a fabric of 60 um, empty of yarn. */
static void setup_ply(struct ww_ply *ply, double glass, double resin, double packing)
{
    *ply = (struct ww_ply){.thickness = 100e-6, .eps_glass = glass, .eps_resin = resin};
    ply->cell = (struct ww_cell){.nx = NX, .ny = NY, .nz = NZ, .lx = 1e-3, .ly = 0.8e-3, .thickness = 60e-6};
    ply->cell.warp_packing = packing;
    ply->cell.fill_packing = packing;
    ply->cell.warp = calloc(SAMPLES, sizeof(double));
    ply->cell.fill = calloc(SAMPLES, sizeof(double));
    assert_non_null(ply->cell.warp);
    assert_non_null(ply->cell.fill);
    ply->warp_t = ply->fill_t = ww_bundle_across(glass, resin, packing);
    ply->warp_a = ply->fill_a = ww_bundle_along(glass, resin, packing);
}

static void fill_levels(double *fraction, size_t from, size_t to, double value)
{
    for (size_t i = from * LEVEL; i < to * LEVEL; i++)
        fraction[i] = value;
}

/* Any fractions that sum to at most 1, the same on every run. */
static void scatter(struct ww_cell *cell)
{
    unsigned state = 12345;
    for (size_t i = 0; i < SAMPLES; i++) {
        state = state * 1664525u + 1013904223u;
        double share = (double)(state >> 8) / 16777216.0;
        state = state * 1664525u + 1013904223u;
        double filled = (double)(state >> 8) / 16777216.0;
        cell->warp[i] = filled * share;
        cell->fill[i] = filled * (1.0 - share);
    }
}

static void assert_map_is(const struct ww_ply *ply, enum ww_bound bound, double want, double tolerance)
{
    struct ww_map map = {0};
    assert_int_equal(ww_ply_dk_map(ply, bound, &map, NULL), WW_OK);
    assert_int_equal(map.nx, NX);
    assert_int_equal(map.ny, NY);
    assert_close(map.lx, ply->cell.lx, 0.0, 0.0);
    assert_close(map.ly, ply->cell.ly, 0.0, 0.0);
    for (size_t i = 0; i < LEVEL; i++)
        assert_close(map.value[i], want, tolerance, 0.0);
    ww_map_clear(&map);
}

static const double rounding = 1e-14;

static void test_ply_without_yarn_is_resin(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 6.3, 3.2, 0.7);
    assert_map_is(&ply, WW_SERIES, 3.2, rounding);
    assert_map_is(&ply, WW_PARALLEL, 3.2, rounding);
    assert_close(ww_ply_bulk_dk(&ply.cell, ply.thickness, 6.3, 3.2), 3.2, rounding, 0.0);
    ww_cell_clear(&ply.cell);
}

/* Parallel plates with layers: the series permittivity is exact, and everything agrees on it. */
static void test_whole_layers_in_series_are_exact(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 6.3, 3.2, 0.7);
    ply.cell.fill_packing = 0.55;
    ply.fill_t = ww_bundle_across(6.3, 3.2, 0.55);
    fill_levels(ply.cell.warp, 0, 5, 1.0);
    fill_levels(ply.cell.fill, 5, 8, 1.0);
    double warp = creal(ply.warp_t), fill = creal(ply.fill_t);
    double series = 100.0 / (40.0 / 3.2 + 37.5 / warp + 22.5 / fill);
    double parallel = (40.0 * 3.2 + 37.5 * warp + 22.5 * fill) / 100.0;
    assert_map_is(&ply, WW_SERIES, series, 1e-9);
    assert_map_is(&ply, WW_PARALLEL, parallel, 1e-9);
    assert_close(ww_ply_bulk_dk(&ply.cell, ply.thickness, 6.3, 3.2), series, 1e-9, 0.0);
    ww_cell_clear(&ply.cell);
}

/* Full-height walls of bundle and resin side by side: each column is uniform, the bulk is their mean, exactly. */
static void test_whole_columns_in_parallel_are_exact(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 6.3, 3.2, 0.7);
    ply.thickness = ply.cell.thickness;
    for (size_t i = 0; i < SAMPLES; i++)
        ply.cell.warp[i] = i % NX < NX / 2 ? 1.0 : 0.0;
    struct ww_map map = {0};
    assert_int_equal(ww_ply_dk_map(&ply, WW_SERIES, &map, NULL), WW_OK);
    for (size_t i = 0; i < LEVEL; i++)
        assert_close(map.value[i], i % NX < NX / 2 ? creal(ply.warp_t) : 3.2, rounding, 0.0);
    assert_close(ww_ply_bulk_dk(&ply.cell, ply.thickness, 6.3, 3.2), 0.5 * (creal(ply.warp_t) + 3.2), rounding, 0.0);
    ww_map_clear(&map);
    ww_cell_clear(&ply.cell);
}

/* Common practice, no source: over solid glass of 6 and over resin of 3 the local Dk differs by 3. That is the ceiling:
 * it takes a column of glass without any resin in it. */
static void test_column_of_solid_glass_differs_from_resin_by_three(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 6.0, 3.0, 1.0);
    ply.thickness = ply.cell.thickness;
    for (size_t iz = 0; iz < NZ; iz++)
        ply.cell.fill[iz * LEVEL + 7] = 1.0;
    assert_int_equal(ww_ply_report(&ply, 2580.0, 0.0, NULL), WW_OK);
    assert_close(ply.dk_high - ply.dk_low, 3.0, rounding, 0.0);
    assert_close(ply.dk_low, 3.0, rounding, 0.0);
    ww_cell_clear(&ply.cell);
}

static void test_no_contrast_gives_flat_maps(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 3.7, 3.7, 0.7);
    scatter(&ply.cell);
    assert_map_is(&ply, WW_SERIES, 3.7, rounding);
    assert_map_is(&ply, WW_PARALLEL, 3.7, rounding);
    assert_close(ww_ply_bulk_dk(&ply.cell, ply.thickness, 3.7, 3.7), 3.7, rounding, 0.0);
    ww_cell_clear(&ply.cell);
}

static void test_series_never_exceeds_parallel(void **state)
{
    (void)state;
    struct ww_ply ply;
    struct ww_map series = {0}, parallel = {0};
    setup_ply(&ply, 6.8, 2.4, 0.75);
    scatter(&ply.cell);
    assert_int_equal(ww_ply_dk_map(&ply, WW_SERIES, &series, NULL), WW_OK);
    assert_int_equal(ww_ply_dk_map(&ply, WW_PARALLEL, &parallel, NULL), WW_OK);
    for (size_t i = 0; i < LEVEL; i++)
        assert_true(2.4 <= series.value[i] && series.value[i] <= parallel.value[i] && parallel.value[i] <= 6.8);
    ww_map_clear(&series);
    ww_map_clear(&parallel);
    ww_cell_clear(&ply.cell);
}

static void test_report_is_in_order_and_adds_up(void **state)
{
    (void)state;
    struct ww_ply ply;
    setup_ply(&ply, 6.8, 2.4, 0.75);
    scatter(&ply.cell);
    assert_int_equal(ww_ply_report(&ply, 2580.0, 1200.0, NULL), WW_OK);
    assert_true(ply.dk_low < ply.dk_series && ply.dk_series < ply.dk_high);
    assert_true(ply.dk_series < ply.dk_bulk && ply.dk_bulk < ply.dk_parallel);

    double bundle = 0.0;
    for (size_t i = 0; i < SAMPLES; i++)
        bundle += ply.cell.warp[i] + ply.cell.fill[i];
    double v = 0.75 * bundle / SAMPLES * 60.0 / 100.0;
    assert_close(ply.glass_fraction, v, 1e-12, 0.0);
    assert_close(ply.resin_content, 1200.0 * (1.0 - v) / (1200.0 * (1.0 - v) + 2580.0 * v), 1e-12, 0.0);

    assert_int_equal(ww_ply_report(&ply, 2580.0, 0.0, NULL), WW_OK);
    assert_true(ply.resin_content < 0.0); /* density not known: negative, never NaN */
    ww_cell_clear(&ply.cell);
}

static void test_resin_solved_from_sheet_gives_the_sheet_back(void **state)
{
    (void)state;
    static const double resin[] = {1.8, 2.05, 3.2, 5.0, 6.3};
    struct ww_ply ply;
    setup_ply(&ply, 6.3, 3.2, 0.7);
    scatter(&ply.cell);
    for (size_t i = 0; i < sizeof resin / sizeof resin[0]; i++) {
        double solved = 0.0, sheet = ww_ply_bulk_dk(&ply.cell, ply.thickness, 6.3, resin[i]);
        assert_int_equal(ww_resin_dk_solve(&ply.cell, ply.thickness, 6.3, sheet, &solved, NULL), WW_OK);
        assert_close(solved, resin[i], 1e-11, 0.0);
    }
    ww_cell_clear(&ply.cell);
}

static void test_sheet_that_no_resin_gives_is_refused(void **state)
{
    (void)state;
    struct ww_ply ply;
    struct ww_error error = {0};
    double solved = 7.0;
    setup_ply(&ply, 6.3, 3.2, 0.7);
    scatter(&ply.cell);
    assert_int_equal(ww_resin_dk_solve(&ply.cell, ply.thickness, 6.3, 1.1, &solved, &error), WW_UNPHYSICAL);
    assert_close(solved, 0.0, 0.0, 0.0);
    assert_non_null(strstr(error.text, "1.1"));
    char least[32]; /* what can be reached is told: a resin of Dk 1.8, or as the glass */
    snprintf(least, sizeof least, "can be %.4g", ww_ply_bulk_dk(&ply.cell, ply.thickness, 6.3, 1.8));
    assert_non_null(strstr(error.text, least));
    assert_non_null(strstr(error.text, "to 6.3 (resin as the glass, Dk 6.3)"));
    assert_int_equal(ww_resin_dk_solve(&ply.cell, ply.thickness, 6.3, 6.4, &solved, NULL), WW_UNPHYSICAL);
    assert_int_equal(ww_resin_dk_solve(&ply.cell, ply.thickness, 6.3, 1e4, &solved, NULL), WW_UNPHYSICAL);
    assert_int_equal(ww_resin_dk_solve(&ply.cell, ply.thickness, 6.3, NAN, &solved, NULL), WW_UNPHYSICAL);
    ww_cell_clear(&ply.cell);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ply_without_yarn_is_resin),
        cmocka_unit_test(test_whole_layers_in_series_are_exact),
        cmocka_unit_test(test_whole_columns_in_parallel_are_exact),
        cmocka_unit_test(test_column_of_solid_glass_differs_from_resin_by_three),
        cmocka_unit_test(test_no_contrast_gives_flat_maps),
        cmocka_unit_test(test_series_never_exceeds_parallel),
        cmocka_unit_test(test_report_is_in_order_and_adds_up),
        cmocka_unit_test(test_resin_solved_from_sheet_gives_the_sheet_back),
        cmocka_unit_test(test_sheet_that_no_resin_gives_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
