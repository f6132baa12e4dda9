/* The unit cell: where the yarns lie, how much of each, and that it stays so at any fineness.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "cloth.h"

#include <stdio.h>

static struct ww_cell woven(const struct ww_style *style, size_t nx, size_t ny, size_t nz, size_t supersample)
{
    struct ww_cell cell;
    struct ww_error error = {0};
    struct ww_cell_options options = {nx, ny, nz, supersample, 0};
    assert_ok(ww_cell_build(&cell, style, &options, &error), error);
    return cell;
}

static double at(const struct ww_cell *cell, const double *fraction, size_t ix, size_t iy, size_t iz)
{
    return fraction[(iz * cell->ny + iy) * cell->nx + ix];
}

/* Room of a yarn [m], volume per area, as its section and pitch give it. */
static double room(const struct ww_style *style, const struct ww_yarn *yarn, double count)
{
    return ww_superellipse_area_factor(style->shape.value) * yarn->width.value * yarn->height.value * count;
}

/* --- where the yarns are -------------------------------------------------------------------------------------- */

static void the_warp_is_on_top_where_i_plus_j_is_even(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_cell cell = woven(&style, 40, 40, 20, 2);
    for (size_t j = 0; j < 2; j++)
        for (size_t i = 0; i < 2; i++) {
            const double *upper = (i + j) % 2 == 0 ? cell.warp : cell.fill;
            const double *lower = (i + j) % 2 == 0 ? cell.fill : cell.warp;
            size_t ix = 10 + 20 * i, iy = 10 + 20 * j; /* beside the axes of warp i and fill j */
            double sum = 0.0;
            assert_close(at(&cell, lower, ix, iy, 19), 0.0, 0.0, 0.0);
            assert_close(at(&cell, upper, ix, iy, 0), 0.0, 0.0, 0.0);
            assert_true(at(&cell, upper, ix, iy, 19) > 0.6);
            assert_true(at(&cell, lower, ix, iy, 0) > 0.6);
            for (size_t iz = 0; iz < 20; iz++)
                sum += at(&cell, cell.warp, ix, iy, iz) + at(&cell, cell.fill, ix, iy, iz);
            assert_close(sum / 20.0, 1.0, 0.02, 0.0); /* faces flush: the crossing fills the thickness */
        }
    ww_cell_clear(&cell);
}

/* Narrow yarns never meet, so the centroid of one along its axis is its centre line. */
static void yarns_ride_along_their_cosines(void **state)
{
    (void)state;
    struct recipe recipe = {60, 47, 11.2, 11.2, 150, 50, 160, 45, 2, 0};
    struct ww_style style = cloth_closed(&recipe);
    size_t n = 60, nz = 64;
    struct ww_cell cell = woven(&style, n, n, nz, 4);
    double dz = cell.thickness / (double)nz, middle = 0.5 * cell.thickness;
    assert_close(cell.thickness, 95e-6, 1e-12, 0.0);
    for (size_t k = 0; k < n; k++) {
        double warp[2] = {0}, warp_z[2] = {0}, fill[2] = {0}, fill_z[2] = {0};
        for (size_t i = 0; i < 2; i++)
            for (size_t iz = 0; iz < nz; iz++) {
                double z = ((double)iz + 0.5) * dz;
                double w = at(&cell, cell.warp, 15 + 30 * i, k, iz), f = at(&cell, cell.fill, k, 15 + 30 * i, iz);
                warp[i] += w;
                warp_z[i] += w * z;
                fill[i] += f;
                fill_z[i] += f * z;
            }
        double wave = cos(WW_PI * (2.0 * ((double)k + 0.5) / (double)n - 0.5)); /* pi (y - py/2)/py */
        for (size_t i = 0; i < 2; i++) {
            double sign = i == 0 ? 1.0 : -1.0;
            assert_close(warp_z[i] / warp[i], middle + sign * 22.5e-6 * wave, 0.0, 0.2e-6);
            assert_close(fill_z[i] / fill[i], middle - sign * 25e-6 * wave, 0.0, 0.2e-6);
        }
    }
    ww_cell_clear(&cell);
}

/* The rule itself, point by point: an independent and slow reading of the same geometry. */
static void slow_column(const struct ww_style *style, double x, double y, size_t nz, double *warp, double *fill)
{
    double px = 1.0 / style->warp_count.value, py = 1.0 / style->fill_count.value, p = style->shape.value;
    double aw = style->warp.width.value, bw = style->warp.height.value;
    double af = style->fill.width.value, bf = style->fill.height.value;
    int i = (int)floor(x / px), j = (int)floor(y / py), points = 400;
    double zw = (i % 2 ? -1.0 : 1.0) * bf / 2.0 * cos(WW_PI * (y - py / 2.0) / py);
    double zf = -(j % 2 ? -1.0 : 1.0) * bw / 2.0 * cos(WW_PI * (x - px / 2.0) / px);
    for (size_t iz = 0; iz < nz; iz++) {
        warp[iz] = fill[iz] = 0.0;
        for (int k = 0; k < points; k++) {
            double z = (((double)iz + (k + 0.5) / points) / (double)nz - 0.5) * (bw + bf);
            double rw = pow(fabs(2.0 * (x - (i + 0.5) * px) / aw), p) + pow(fabs(2.0 * (z - zw) / bw), p);
            double rf = pow(fabs(2.0 * (y - (j + 0.5) * py) / af), p) + pow(fabs(2.0 * (z - zf) / bf), p);
            if (rw <= 1.0 && (rf > 1.0 || rw < rf))
                warp[iz] += 1.0 / points;
            else if (rf <= 1.0)
                fill[iz] += 1.0 / points;
        }
    }
}

static void each_column_is_what_the_rule_says_point_by_point(void **state)
{
    (void)state;
    static const struct recipe recipes[] = {
        {60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 0},
        {60, 58, 22.05, 22.05, 360, 0, 415, 0, 3, 75},
        {60, 58, 22.05, 22.05, 423, 0, 437, 0, 2.4, 80}, /* neighbours touch */
        {60, 35, 22.05, 66.14, 0, 0, 0, 0, 2, 130},      /* unequal yarns */
    };
    enum { NX = 34, NY = 28, NZ = 11 }; /* rows in fours repeat */
    for (size_t n = 0; n < sizeof recipes / sizeof *recipes; n++) {
        struct ww_style style = cloth_closed(&recipes[n]);
        struct ww_cell cell = woven(&style, NX, NY, NZ, 1); /* one column a sample: no averaging in the plane */
        for (size_t iy = 0; iy < NY; iy++)
            for (size_t ix = 0; ix < NX; ix++) {
                double warp[NZ], fill[NZ];
                slow_column(&style, ((double)ix + 0.5) * cell.lx / NX, ((double)iy + 0.5) * cell.ly / NY, NZ, warp,
                            fill);
                for (size_t iz = 0; iz < NZ; iz++) { /* 1/400 of the slow sampling, and the border's 16 steps */
                    assert_close(at(&cell, cell.warp, ix, iy, iz), warp[iz], 0.0, 0.006);
                    assert_close(at(&cell, cell.fill, ix, iy, iz), fill[iz], 0.0, 0.006);
                }
            }
        ww_cell_clear(&cell);
    }
}

/* Slices of unlike height hold what the even ones within them hold. */
static void a_column_is_cut_at_the_edges_that_are_given(void **state)
{
    (void)state;
    static const struct recipe recipe = {60, 35, 22.05, 66.14, 0, 0, 0, 0, 2, 130};
    static const size_t ends[] = {0, 1, 3, 10, 30, 48, 60}; /* in even slices */
    enum { EVEN = 60, UNEVEN = sizeof ends / sizeof *ends - 1 };
    struct ww_style style = cloth_closed(&recipe);
    double height = style.warp.height.value + style.fill.height.value, edge[UNEVEN + 1], none[2] = {0, height};
    for (size_t i = 0; i <= UNEVEN; i++)
        edge[i] = height * (double)ends[i] / EVEN;
    for (int place = 0; place < 50; place++) {
        double x = place * 37e-6, y = place * 61e-6, warp[EVEN], fill[EVEN], w[UNEVEN], f[UNEVEN], whole[2];
        ww_style_column(&style, x, y, EVEN, NULL, warp, fill);
        ww_style_column(&style, x, y, UNEVEN, edge, w, f);
        ww_style_column(&style, x, y, 1, none, &whole[0], &whole[1]);
        double sum[2] = {0, 0};
        for (size_t i = 0; i < UNEVEN; i++) {
            double of_warp = 0, of_fill = 0, count = (double)(ends[i + 1] - ends[i]);
            for (size_t k = ends[i]; k < ends[i + 1]; k++) {
                of_warp += warp[k] / count;
                of_fill += fill[k] / count;
            }
            assert_close(w[i], of_warp, 0, 1e-9);
            assert_close(f[i], of_fill, 0, 1e-9);
            sum[0] += of_warp * count / EVEN;
            sum[1] += of_fill * count / EVEN;
        }
        assert_close(whole[0], sum[0], 0, 1e-9);
        assert_close(whole[1], sum[1], 0, 1e-9);
    }
}

static void the_cell_has_the_symmetries_of_a_plain_weave(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&spread_cloth);
    enum { N = 24, NZ = 8 };
    struct ww_cell cell = woven(&style, N, N, NZ, 3);
    for (size_t iz = 0; iz < NZ; iz++)
        for (size_t iy = 0; iy < N; iy++)
            for (size_t ix = 0; ix < N; ix++) {
                size_t half_x = (ix + N / 2) % N, half_y = (iy + N / 2) % N;
                double warp = at(&cell, cell.warp, ix, iy, iz), fill = at(&cell, cell.fill, ix, iy, iz);
                assert_true(warp + fill <= 1.0 + 1e-12);
                assert_true(warp >= 0.0 && fill >= 0.0);
                /* one pitch along both axes */
                assert_close(at(&cell, cell.warp, half_x, half_y, iz), warp, 0.0, 1e-12);
                assert_close(at(&cell, cell.fill, half_x, half_y, iz), fill, 0.0, 1e-12);
                /* one pitch along one axis turns it over */
                assert_close(at(&cell, cell.warp, half_x, iy, NZ - 1 - iz), warp, 0.0, 1e-12);
                assert_close(at(&cell, cell.fill, ix, half_y, NZ - 1 - iz), fill, 0.0, 1e-12);
                /* mirrored at the axis of a yarn */
                assert_close(at(&cell, cell.warp, (N + N / 2 - 1 - ix) % N, iy, iz), warp, 0.0, 1e-12);
                assert_close(at(&cell, cell.fill, ix, (N + N / 2 - 1 - iy) % N, iz), fill, 0.0, 1e-12);
            }
    ww_cell_clear(&cell);
}

/* --- how much of each -------------------------------------------------------------------------------------------- */

static void bundles_that_stay_clear_have_the_room_of_their_sections(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    double want_warp = room(&style, &style.warp, style.warp_count.value);
    double want_fill = room(&style, &style.fill, style.fill_count.value);
    double warp, fill, glass;
    struct ww_cell cell = woven(&style, 0, 0, 0, 0);
    assert_int_equal(cell.nx, 96);
    assert_int_equal(cell.ny, 96);
    assert_int_equal(cell.nz, 24);
    assert_close(cell.lx, 2 * 0.0254 / 60, 1e-14, 0.0);
    assert_close(cell.ly, 2 * 0.0254 / 47, 1e-14, 0.0);
    ww_cell_volume(&cell, &warp, &fill, &glass);
    assert_close(warp, want_warp, 1e-3, 0.0);
    assert_close(fill, want_fill, 1e-3, 0.0);
    ww_cell_clear(&cell);
    cell = woven(&style, 0, 0, 0, 16);
    ww_cell_volume(&cell, &warp, &fill, &glass);
    assert_close(warp, want_warp, 2e-4, 0.0);
    assert_close(fill, want_fill, 2e-4, 0.0);
    ww_cell_clear(&cell);
}

/* Ellipses give up under 1 % of their room where they cross, flat spread yarns about a tenth; the glass stays. */
static void what_yarns_lose_where_they_cross_is_made_up_by_packing(void **state)
{
    (void)state;
    static const struct {
        struct recipe recipe;
        double least, most; /* share of the room that is left */
    } loss[] = {
        {{60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 0}, 0.99, 1.0},
        {{44, 31, 66.14, 66.14, 450, 0, 530, 0, 2, 173}, 0.99, 1.0},
        {{60, 58, 22.05, 22.05, 360, 0, 415, 0, 3, 75}, 0.88, 0.93},
    };
    for (size_t n = 0; n < sizeof loss / sizeof *loss; n++) {
        struct ww_style style = cloth_closed(&loss[n].recipe);
        double want =
            room(&style, &style.warp, style.warp_count.value) + room(&style, &style.fill, style.fill_count.value);
        double warp, fill, glass;
        struct ww_cell cell = woven(&style, 0, 0, 0, 8);
        ww_cell_volume(&cell, &warp, &fill, &glass);
        assert_true((warp + fill) / want > loss[n].least && (warp + fill) / want < loss[n].most);
        assert_close(glass * style.glass.density, ww_style_weight(&style), 1e-12, 0.0);
        assert_close(cell.warp_packing * warp, style.warp.glass_area * style.warp_count.value, 1e-12, 0.0);
        assert_close(cell.fill_packing * fill, style.fill.glass_area * style.fill_count.value, 1e-12, 0.0);
        assert_true(cell.warp_packing > style.warp.packing && cell.fill_packing > style.fill.packing);
        ww_cell_clear(&cell);
    }
}

/* `styles` showed 1078, then assumed nearly touching, packed 0.534, and its cell was packed 0.589. */
static void the_packing_that_is_shown_is_the_one_of_the_cell(void **state)
{
    (void)state;
    static const struct recipe recipe = {54, 54, 11.02, 11.02, 400, 0, 445, 0, 3, 43};
    struct ww_style style = cloth_closed(&recipe);
    struct ww_error error = {0};
    struct ww_cell cell;
    double warp, fill;
    assert_ok(ww_style_packing(&style, &warp, &fill, &error), error);
    assert_ok(ww_cell_build(&cell, &style, NULL, &error), error);
    assert_close(warp, cell.warp_packing, 1e-12, 0.0);
    assert_close(fill, cell.fill_packing, 1e-12, 0.0);
    assert_close(style.warp.packing, 0.534, 0.0, 0.001);
    assert_close(warp, 0.589, 0.0, 0.001);
    ww_cell_clear(&cell);
    style.warp.width.value *= 2.0; /* wider than its pitch */
    assert_int_equal(ww_style_packing(&style, &warp, &fill, &error), WW_UNPHYSICAL);
}

/* Finer columns go to one limit, about as fast as the ellipse's edge allows (error ~ step^1.5). */
static void finer_columns_converge(void **state)
{
    (void)state;
    static const struct recipe *const recipes[] = {&open_cloth, &spread_cloth};
    for (size_t n = 0; n < 2; n++) {
        struct ww_style style = cloth_closed(recipes[n]);
        struct ww_cell fine = woven(&style, 32, 32, 8, 64);
        double error[4];
        for (size_t k = 0; k < 4; k++) {
            struct ww_cell cell = woven(&style, 32, 32, 8, (size_t)2 << k);
            error[k] = 0.0;
            for (size_t m = 0; m < (size_t)32 * 32 * 8; m++)
                error[k] += fabs(cell.warp[m] - fine.warp[m]) + fabs(cell.fill[m] - fine.fill[m]);
            error[k] /= 32 * 32 * 8;
            ww_cell_clear(&cell);
        }
        assert_true(error[0] < 0.02);
        for (size_t k = 1; k < 4; k++)
            assert_true(error[k] < 0.6 * error[k - 1]);
        assert_true(error[3] < 0.001);
        ww_cell_clear(&fine);
    }
}

/* Slices are exact: fewer of them hold the sums of more. */
static void slices_add_up(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&spread_cloth);
    struct ww_cell fine = woven(&style, 20, 16, 24, 2), coarse = woven(&style, 20, 16, 8, 2);
    for (size_t iz = 0; iz < 8; iz++)
        for (size_t n = 0; n < 20 * 16; n++) {
            double warp = 0.0, fill = 0.0;
            for (size_t k = 0; k < 3; k++) {
                warp += fine.warp[(3 * iz + k) * 320 + n] / 3.0;
                fill += fine.fill[(3 * iz + k) * 320 + n] / 3.0;
            }
            assert_close(coarse.warp[iz * 320 + n], warp, 0.0, 1e-12);
            assert_close(coarse.fill[iz * 320 + n], fill, 0.0, 1e-12);
        }
    ww_cell_clear(&fine);
    ww_cell_clear(&coarse);
}

static void threads_do_not_change_a_digit(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&spread_cloth);
    size_t bytes = 40 * 30 * 8 * sizeof(double);
    ww_threads_set(1);
    struct ww_cell one = woven(&style, 40, 30, 8, 2);
    ww_threads_set(3);
    struct ww_cell three = woven(&style, 40, 30, 8, 2);
    ww_threads_set(0);
    assert_memory_equal(one.warp, three.warp, bytes);
    assert_memory_equal(one.fill, three.fill, bytes);
    ww_cell_clear(&one);
    ww_cell_clear(&three);
}

/* --- what is refused ----------------------------------------------------------------------------------------------- */

static void refused(const struct ww_style *style, struct ww_cell_options options, enum ww_status status,
                    const char *part)
{
    struct ww_cell cell = {.nx = 7};
    struct ww_error error = {0};
    assert_int_equal(ww_cell_build(&cell, style, &options, &error), status);
    assert_contains(error.text, part);
    assert_null(cell.warp);
    assert_null(cell.fill);
    assert_int_equal(cell.nx, 0);
    ww_cell_clear(&cell); /* an empty one is fine, twice as well */
    ww_cell_clear(&cell);
}

static void what_cannot_be_woven_is_refused(void **state)
{
    (void)state;
    struct ww_style given = cloth_given(&open_cloth), style = cloth_closed(&open_cloth), wide = style;
    struct ww_cell_options usual = {8, 8, 4, 1, 0};
    refused(&given, usual, WW_UNPHYSICAL, "close the style");
    wide.warp.width.value = 0.5e-3;
    refused(&wide, usual, WW_UNPHYSICAL, "wider than the warp pitch");
    wide.warp.width.value = NAN;
    refused(&wide, usual, WW_UNPHYSICAL, "needs a width");
    refused(&style, (struct ww_cell_options){100000, 8, 4, 1, 0}, WW_INVALID, "at most 4096");
    refused(&style, (struct ww_cell_options){8, 100000, 4, 1, 0}, WW_INVALID, "at most 4096");
    refused(&style, (struct ww_cell_options){8, 8, 5000, 1, 0}, WW_INVALID, "at most 1024");
    refused(&style, (struct ww_cell_options){8, 8, 4, 1000, 0}, WW_INVALID, "at most 64");
    /* Nearly rectangular yarns as wide as the pitch, closely packed: nothing gives where they cross. */
    struct recipe stiff = {60, 58, 22.05, 22.05, 423, 0, 437, 0, 10, 48};
    struct ww_style squeezed = cloth_closed(&stiff);
    assert_true(squeezed.warp.packing < 0.9);
    refused(&squeezed, (struct ww_cell_options){32, 32, 8, 2, 0}, WW_UNPHYSICAL, "where the yarns cross");
}

static void options_may_be_left_out(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_cell cell, usual = woven(&style, 96, 96, 24, 6);
    assert_int_equal(ww_cell_build(&cell, &style, NULL, NULL), WW_OK);
    assert_memory_equal(cell.warp, usual.warp, 96 * 96 * 24 * sizeof(double));
    ww_cell_clear(&cell);
    ww_cell_clear(&usual);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_warp_is_on_top_where_i_plus_j_is_even),
        cmocka_unit_test(yarns_ride_along_their_cosines),
        cmocka_unit_test(each_column_is_what_the_rule_says_point_by_point),
        cmocka_unit_test(a_column_is_cut_at_the_edges_that_are_given),
        cmocka_unit_test(the_cell_has_the_symmetries_of_a_plain_weave),
        cmocka_unit_test(bundles_that_stay_clear_have_the_room_of_their_sections),
        cmocka_unit_test(what_yarns_lose_where_they_cross_is_made_up_by_packing),
        cmocka_unit_test(the_packing_that_is_shown_is_the_one_of_the_cell),
        cmocka_unit_test(finer_columns_converge),
        cmocka_unit_test(slices_add_up),
        cmocka_unit_test(threads_do_not_change_a_digit),
        cmocka_unit_test(what_cannot_be_woven_is_refused),
        cmocka_unit_test(options_may_be_left_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
