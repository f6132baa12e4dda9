/* A cloth measured from its picture, drawn anew with each seed: wander, scatter, blur, noise, light; and the cell of a shipped style.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "expect.h"

#include <stdlib.h>

#include "random.h"
#include "weftwise/fabric.h"

/* Pitches, widths, turns, blur, noise and light at random. */
static void any_cloth_comes_back(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 24; seed++) {
        struct random random = random_of(seed);
        struct rendering r = rendering_of_cloth();
        double turn = random_between(&random, -44.0, 44.0);
        for (int f = 0; f < 2; f++) {
            r.pitch[f] = random_between(&random, 380e-6, 560e-6);
            r.width[f] = r.pitch[f] * random_between(&random, 0.45, 0.82);
            r.height[f] = random_between(&random, 25e-6, 60e-6);
            r.albedo[f] = random_between(&random, 0.6, 0.9);
            r.turn[f] = turn * degree;
            turn += random_between(&random, -0.6, 0.6);
        }
        r.ground = random_between(&random, 0.02, 0.25);
        r.scatter = 0.02;
        r.blur = random_between(&random, 0.0, 1.3);
        r.noise = random_between(&random, 0.0, 0.06);
        r.gradient = random_between(&random, 0.0, 0.5);
        r.seed = seed;
        struct ww_cloth_picture cloth = expect_measured(&r);
        ww_cloth_picture_clear(&cloth);
    }
}

/* 27 by 22 mm, 12 um of wander, neighbours on their own. Its correlation falls to 1/e after sqrt(2) of the length. */
static void wander_and_its_correlation_come_back(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct rendering r = rendering_of_cloth();
        r.nx = 1100;
        r.ny = 900;
        r.pixel = 25e-6;
        r.turn[0] = r.turn[1] = 1.0 * degree;
        r.wander = 12e-6;
        r.length = 2e-3;
        r.scatter = 0.025;
        r.noise = 0.03;
        r.gradient = 0.4;
        r.seed = seed;
        struct ww_cloth_picture cloth = expect_measured(&r);
        const struct ww_picture_yarns *of[2] = {&cloth.warp, &cloth.fill};
        for (int f = 0; f < 2; f++) {
            /* of the draw: some 600 patches of correlation; steps of two pitches take off 1 - exp(-(0.87/2)^2/3) = 6 % of the square */
            assert_close(of[f]->wander, rendering_wander(&r, f), 0.08, 0.0);
            assert_close(of[f]->correlation_length, sqrt(2.0) * r.length, 0.2, 0.0);
            assert_true(fabs(of[f]->together) < 0.15);
            /* some 55 yarns: the scatter itself is known to 10 % */
            assert_close(of[f]->width_scatter, r.scatter * r.width[f], 0.35, 0.0);
        }
        ww_cloth_picture_clear(&cloth);
    }
}

/* How often the truth lies within twice the standard uncertainty that is told. */
static void uncertainties_are_fair(void **state)
{
    (void)state;
    int within = 0, all = 0;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        struct rendering r = rendering_of_cloth();
        struct ww_picture_options how = {0};
        struct ww_cloth_picture cloth;
        struct ww_error error = {0};
        r.wander = 10e-6;
        r.length = 0.8e-3;
        r.seed = seed;
        struct ww_picture picture = render(&r);
        assert_ok(ww_picture_measure(&cloth, &picture, &how, &error), error);
        const struct ww_picture_yarns *of[2] = {&cloth.warp, &cloth.fill};
        for (int f = 0; f < 2; f++) {
            within += fabs(of[f]->pitch.value - r.pitch[f]) <= 2.0 * of[f]->pitch.error;
            within += fabs(of[f]->turn.value) <= 2.0 * of[f]->turn.error;
            all += 2;
            /* and no excuse for anything: small against pitch and a right angle */
            assert_true(of[f]->pitch.error < 0.01 * r.pitch[f]);
            assert_true(of[f]->turn.error < 0.5 * degree);
        }
        ww_cloth_picture_clear(&cloth);
        ww_picture_clear(&picture);
    }
    /* 95 of 100 of a normal error; of 48 under 41 but once in a thousand draws */
    assert_true(within >= 41);
    assert_int_equal(all, 48);
}

/* --- the cell of a shipped style -------------------------------------------------------------------------------------------- */

enum { TILE = 240, SLICES = 48 };

/* Light by height, and fill darker than warp. */
static void draw_tile(const struct ww_style *style, double *tile)
{
    double warp[SLICES], fill[SLICES], px = 1.0 / style->warp_count.value, py = 1.0 / style->fill_count.value;
    for (size_t y = 0; y < TILE; y++)
        for (size_t x = 0; x < TILE; x++) {
            ww_style_column(style, ((double)x + 0.5) / TILE * 2.0 * px, ((double)y + 0.5) / TILE * 2.0 * py, SLICES,
                            NULL, warp, fill);
            size_t top = SLICES;
            while (top > 0 && !(warp[top - 1] + fill[top - 1] > 0.0))
                top--;
            double albedo = top > 0 && warp[top - 1] > fill[top - 1] ? 0.8 : 0.7;
            tile[y * TILE + x] = top > 0 ? albedo * (0.7 + 0.3 * (double)top / SLICES) : 0.15;
        }
}

static void a_cell_of_the_library_comes_back(void **state)
{
    (void)state;
    static const char *const name[] = {"2116", "1080", "1067"};
    struct ww_weaves weaves = {0};
    struct ww_error error = {0};
    double *tile = malloc((size_t)TILE * TILE * sizeof *tile);
    assert_non_null(tile);
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    for (size_t n = 0; n < sizeof name / sizeof *name; n++) {
        enum { SUB = 4, SIDE = 500 };
        struct ww_style style;
        assert_ok(ww_weaves_style(&weaves, name[n], &style, &error), error);
        double px = 1.0 / style.warp_count.value, py = 1.0 / style.fill_count.value, turn = 1.7 * degree;
        struct ww_picture picture = blank_picture(SIDE, SIDE, px / 38.0);
        draw_tile(&style, tile);
        for (size_t i = 0; i < (size_t)SIDE * SIDE; i++) {
            double sum = 0.0;
            for (int k = 0; k < SUB * SUB; k++) {
                double x = ((double)(i % SIDE) + (k % SUB + 0.5) / SUB) * picture.pixel;
                double y = ((double)(i / SIDE) + ((double)(k / SUB) + 0.5) / SUB) * picture.pixel;
                double u = (x * cos(turn) + y * sin(turn)) / (2.0 * px),
                       v = (y * cos(turn) - x * sin(turn)) / (2.0 * py);
                sum += tile[(size_t)((v - floor(v)) * TILE) * TILE + (size_t)((u - floor(u)) * TILE)];
            }
            picture.value[i] = sum / (SUB * SUB);
        }
        struct rendering r = {
            .pitch = {px, py}, .width = {style.warp.width.value, style.fill.width.value}, .turn = {turn, turn}};
        struct ww_picture_options how = {0};
        struct ww_cloth_picture cloth;
        assert_ok(ww_picture_measure(&cloth, &picture, &how, &error), error);
        expect_cloth(&cloth, &r);
        ww_cloth_picture_clear(&cloth);
        ww_picture_clear(&picture);
    }
    ww_weaves_close(&weaves);
    free(tile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_cloth_comes_back),
        cmocka_unit_test(wander_and_its_correlation_come_back),
        cmocka_unit_test(uncertainties_are_fair),
        cmocka_unit_test(a_cell_of_the_library_comes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
