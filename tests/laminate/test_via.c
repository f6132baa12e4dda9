/* Glass that a beam meets: its mean is the cell's, and a beam weighs a wave of glass as a disc does.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "laminate/ply.h"

#include <stdlib.h>

enum { N = 96 };
#define L 1e-3

/* One slice, whose glass goes up and down with x. */
static struct ww_ply wavy(double *warp, double *fill)
{
    for (int i = 0; i < N * N; i++)
        warp[i] = 0.5 + 0.4 * cos(2 * WW_PI * (i % N + 0.5) / N);
    struct ww_ply ply = {.thickness = 100e-6};
    ply.cell = (struct ww_cell){.nx = N,
                                .ny = N,
                                .nz = 1,
                                .lx = L,
                                .ly = L,
                                .thickness = 50e-6,
                                .warp_packing = 0.7,
                                .fill_packing = 0.7,
                                .warp = warp,
                                .fill = fill};
    return ply;
}

/* A disc weighs a wave of wave number k by 2 J1(k R)/(k R), exact; the mask's rim leaves 1e-3. */
static void a_beam_weighs_a_wave_as_a_disc_does(void **state)
{
    static double warp[N * N], fill[N * N];
    static const double diameter[] = {60e-6, 100e-6, 250e-6, 700e-6};
    struct ww_ply ply = wavy(warp, fill);
    (void)state;
    for (size_t i = 0; i < sizeof diameter / sizeof *diameter; i++) {
        struct ww_map map = {0};
        struct ww_error error = {0};
        double kr = 2 * WW_PI / L * diameter[i] / 2, wave = 0.4 * 2 * j1(kr) / kr;
        assert_ok(ww_ply_glass_map(&ply, diameter[i], &map, &error), error);
        struct ww_via via = ww_via_of_map(&map);
        assert_close(via.mean, 0.5 * 0.7 * 50e-6, 1e-12, 0);
        assert_close(via.most, (0.5 + wave * cos(WW_PI / N)) * 0.7 * 50e-6, 1e-3, 0);
        assert_close(via.least, (0.5 - wave * cos(WW_PI / N)) * 0.7 * 50e-6, 1e-3, 0);
        assert_close(via.without, 0, 0, 0);
        ww_map_clear(&map);
    }
}

/* Open cloth leaves windows for a narrow beam, and none for a wide one. */
static void windows_close_as_the_beam_widens(void **state)
{
    static double warp[N * N], fill[N * N];
    struct ww_ply ply = wavy(warp, fill);
    struct ww_map map = {0};
    struct ww_error error = {0};
    (void)state;
    for (int i = 0; i < N * N; i++)
        warp[i] = i % N < N / 2 ? 0.8 : 0;
    assert_ok(ww_ply_glass_map(&ply, 100e-6, &map, &error), error);
    assert_close(ww_via_of_map(&map).without, 0.5 - 0.1, 0,
                 2.0 / N); /* a stripe less the beam's width, to a sample */
    ww_map_clear(&map);
    assert_ok(ww_ply_glass_map(&ply, 600e-6, &map, &error), error);
    assert_close(ww_via_of_map(&map).without, 0, 0, 0);
    ww_map_clear(&map);
    assert_ok(ww_ply_glass_map(&ply, 1e-9, &map, &error), error); /* a point meets its own column */
    assert_close(ww_via_of_map(&map).without, 0.5, 1e-12, 0);
    ww_map_clear(&map);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_beam_weighs_a_wave_as_a_disc_does),
        cmocka_unit_test(windows_close_as_the_beam_widens),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
