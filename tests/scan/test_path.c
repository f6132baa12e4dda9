/* The integral along a straight segment, on maps made by hand.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "scan/path.h"

#include <stdlib.h>

/* A scan of one ply over a cell of 0.5 by 0.6 (mm, say): a mean and up to four harmonics a cos(k.r + p). */
struct by_hand {
    struct ww_scan scan;
    struct ww_ply_scan ply;
    struct ww_order order[8];
    double _Complex c1[8], c2[8];
};

static void start_by_hand(struct by_hand *b, double mean, double angle_from_x)
{
    memset(b, 0, sizeof *b);
    b->ply = (struct ww_ply_scan){
        .lx = 0.5, .ly = 0.6, .ux = cos(angle_from_x), .uy = sin(angle_from_x), .harmonics = 1, .order = b->order};
    b->c1[0] = mean;
    for (int e = 0; e < WW_ESTIMATES; e++) {
        b->ply.coefficient[0][e] = b->c1;
        b->ply.coefficient[1][e] = b->c2;
    }
    b->scan = (struct ww_scan){.plies = 1, .positions = 64, .ply = &b->ply, .level = {{mean, mean, mean}}};
}

static void add_wave(struct by_hand *b, double _Complex *c, double a, int m, int l, double p)
{
    double _Complex half = 0.5 * a * (cos(p) + I * sin(p));
    b->order[b->ply.harmonics] = (struct ww_order){m, l};
    c[b->ply.harmonics++] = half;
    if (m == 0) { /* both signs of l are kept there */
        b->order[b->ply.harmonics] = (struct ww_order){0, -l};
        c[b->ply.harmonics++] = conj(half);
    }
}

/* eps = 3.7 + 0.20 cos(k10.r + 0.3) - 0.15 cos(k01.r - 0.4) + 0.05 cos(k11.r + 0.7) + 0.03 cos(k(2,-1).r + 1.1):
 * integrals by adaptive quadrature to 1e-12, computed once for this purpose. */
static void integrals_are_those_of_quadrature(void **state)
{
    (void)state;
    static const struct {
        double x, y, degrees, length, integral;
    } table[] = {{0.1, 0.2, 0, 10, 37.184926479794},
                 {0.1, 0.2, 10, 10, 36.993110906351},
                 {0, 0, 45, 3, 11.099210567177},
                 {0.05, 0.25, 0, 5, 18.952214786065}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct by_hand b;
        start_by_hand(&b, 3.7, table[i].degrees * WW_PI / 180);
        add_wave(&b, b.c1, 0.20, 1, 0, 0.3);
        add_wave(&b, b.c1, -0.15, 0, 1, -0.4);
        add_wave(&b, b.c1, 0.05, 1, 1, 0.7);
        add_wave(&b, b.c1, 0.03, 2, -1, 1.1);
        double mean = ww_scan_average_at(&b.scan, 0, WW_LEG1, WW_MEAN, table[i].length, table[i].x, table[i].y);
        assert_close(mean * table[i].length, table[i].integral, 2e-13, 0);
        /* the same through a segment: value is the delay less its mean */
        struct ww_path segment;
        struct ww_error error = {0};
        assert_ok(ww_path_init(&segment, &b.scan, 0, WW_LEG1, WW_MEAN, table[i].length, &error), error);
        struct ww_expansion local = ww_path_expand(&segment, table[i].x, table[i].y);
        assert_close(local.value, table[i].integral - 3.7 * table[i].length, 0, 1e-11);
        ww_path_clear(&segment);
    }
}

static void single_wave(void **state)
{
    (void)state;
    struct by_hand b;
    start_by_hand(&b, 0, 12 * WW_PI / 180);
    add_wave(&b, b.c1, 0.3, 1, 0, 0);
    assert_close(1.7 * ww_scan_average_at(&b.scan, 0, WW_LEG1, WW_MEAN, 1.7, 0.1, 0), -0.027136337292, 0, 1e-12);
}

/* Harmonics for both legs of a pair, in both kinds of averaging. */
static void start_pair(struct by_hand *b, enum ww_averaging averaging)
{
    start_by_hand(b, 3.7, 0.2);
    b->c2[0] = 3.8;
    add_wave(b, b->c1, 0.3, 1, 2, 0.1);
    add_wave(b, b->c2, 0.2, 2, -1, 0.4);
    add_wave(b, b->c1, 0.1, 0, 3, 0.2);
    b->scan.pair = true;
    b->scan.averaging = averaging;
    for (int e = 0; e < WW_ESTIMATES; e++)
        b->scan.level[1][e] = 3.8;
}

static void map_holds_the_values_at_its_positions(void **state)
{
    (void)state;
    for (int averaging = WW_FLIGHT; averaging <= WW_QUASI_STATIC; averaging++)
        for (int signal = WW_LEG1; signal <= WW_SKEW; signal++) {
            struct by_hand b;
            struct ww_map map;
            struct ww_path segment;
            struct ww_error error = {0};
            start_pair(&b, (enum ww_averaging)averaging);
            assert_ok(ww_scan_map(&b.scan, 0, (enum ww_signal)signal, WW_MEAN, 1.3, &map, &error), error);
            assert_ok(ww_path_init(&segment, &b.scan, 0, (enum ww_signal)signal, WW_MEAN, 1.3, &error), error);
            double scale = averaging == WW_FLIGHT ? 1 : 1 / WW_C0;
            for (size_t i = 0; i < map.nx * map.ny; i += 37) {
                double x = ((double)(i % map.nx) + 0.5) * map.lx / (double)map.nx;
                double y = ((double)(i / map.nx) + 0.5) * map.ly / (double)map.ny;
                double value;
                assert_close(map.value[i], ww_path_expand(&segment, x, y).value, 0, 1e-13 * scale);
                assert_ok(ww_scan_value(&b.scan, 0, (enum ww_signal)signal, WW_MEAN, 1.3, x, y, &value, &error),
                          error);
                assert_close(map.value[i], value, 0, 1e-13 * scale);
            }
            ww_path_clear(&segment);
            ww_map_clear(&map);
        }
}

static void derivatives_are_those_of_the_value(void **state)
{
    (void)state;
    double h = 1e-4, x = 0.123, y = 0.456;
    for (int averaging = WW_FLIGHT; averaging <= WW_QUASI_STATIC; averaging++)
        for (int signal = WW_LEG1; signal <= WW_SKEW; signal++) {
            struct by_hand b;
            struct ww_path segment;
            struct ww_error error = {0};
            double scale = averaging == WW_FLIGHT ? 1 : 1 / WW_C0;
            start_pair(&b, (enum ww_averaging)averaging);
            assert_ok(ww_path_init(&segment, &b.scan, 0, (enum ww_signal)signal, WW_MEAN, 0.2, &error), error);
            struct ww_expansion at = ww_path_expand(&segment, x, y);
            struct ww_expansion right = ww_path_expand(&segment, x + h, y), left = ww_path_expand(&segment, x - h, y);
            struct ww_expansion above = ww_path_expand(&segment, x, y + h),
                                below = ww_path_expand(&segment, x, y - h);
            assert_close((right.value - left.value) / (2 * h), at.dx, 1e-5, 1e-5 * scale);
            assert_close((above.value - below.value) / (2 * h), at.dy, 1e-5, 1e-5 * scale);
            assert_close((right.dx - left.dx) / (2 * h), at.xx, 1e-5, 1e-4 * scale);
            assert_close((above.dx - below.dx) / (2 * h), at.xy, 1e-5, 1e-4 * scale);
            assert_close((above.dy - below.dy) / (2 * h), at.yy, 1e-5, 1e-4 * scale);
            ww_path_clear(&segment);
        }
}

/* The profile's running value is the value of a segment as long as that, and its dk the local one. */
static void profile_runs_with_the_segments(void **state)
{
    (void)state;
    enum { POINTS = 301 };
    static double dk1[POINTS], dk2[POINTS], running[POINTS];
    const double start[1][2] = {{0.11, 0.37}};
    for (int averaging = WW_FLIGHT; averaging <= WW_QUASI_STATIC; averaging++) {
        struct by_hand b;
        struct ww_error error = {0};
        double scale = averaging == WW_FLIGHT ? 1 : 1 / WW_C0;
        start_pair(&b, (enum ww_averaging)averaging);
        assert_ok(ww_scan_profile(&b.scan, start, 0, 0, 50, POINTS, dk1, dk2, running, &error), error);
        assert_close(running[0], 0, 0, 0);
        for (size_t i = 0; i < POINTS; i += 23) {
            double s = 50 * (double)i / (POINTS - 1);
            double x = start[0][0] + s * b.ply.ux, y = start[0][1] + s * b.ply.uy;
            double here1 = ww_scan_average_at(&b.scan, 0, WW_LEG1, WW_MEAN, 0, x, y);
            double here2 = ww_scan_average_at(&b.scan, 0, WW_LEG2, WW_MEAN, 0, x, y);
            assert_close(dk1[i], averaging == WW_FLIGHT ? pow(here1 * WW_C0, 2) : here1, 1e-12, 0);
            assert_close(dk2[i], averaging == WW_FLIGHT ? pow(here2 * WW_C0, 2) : here2, 1e-12, 0);
            struct ww_path segment;
            assert_ok(ww_path_init(&segment, &b.scan, 0, WW_SKEW, WW_MEAN, s, &error), error);
            assert_close(running[i], ww_path_expand(&segment, start[0][0], start[0][1]).value, 1e-11, 1e-11 * scale);
            ww_path_clear(&segment);
        }
    }
}

/* Along a yarn, across it, and along the diagonal some harmonic has k.u = 0 and its integral grows with length for ever; in
 * any other direction it stays within a bound. The cell is square here, as in p = 0.5, slope 1: cos(k(1,-1).r). */
static void growth_and_saturation(void **state)
{
    (void)state;
    static const struct {
        double degrees_from_warp;
        bool grows;
    } table[] = {{0, true}, {90, true}, {45, true}, {-45, false}, {10, false}, {33, false}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct by_hand b;
        struct ww_error error = {0};
        start_by_hand(&b, 1, (90 - table[i].degrees_from_warp) * WW_PI / 180);
        b.ply.ly = 0.5;
        add_wave(&b, b.c1, 0.1, 1, 0, 0);
        add_wave(&b, b.c1, 0.1, 0, 1, 0);
        add_wave(&b, b.c1, 0.05, 1, -1, 0);
        struct ww_extreme high, low, high10, low10;
        assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, 100.1, &high, &low, &error), error);
        assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, 1001.0 / 1.01, &high10, &low10, &error), error);
        double ratio = (high10.value - low10.value) / (high.value - low.value);
        if (table[i].grows)
            assert_close(ratio, 9.9, 0.02, 0);
        else /* 2 a/|k.u| from each harmonic at most */
            assert_true(high10.value - low10.value <=
                        4 * (0.1 / fabs(4 * WW_PI * b.ply.ux) + 0.1 / fabs(4 * WW_PI * b.ply.uy) +
                             0.05 / fabs(4 * WW_PI * (b.ply.ux - b.ply.uy))));
    }
}

static void asks_that_make_no_sense_are_refused(void **state)
{
    (void)state;
    struct by_hand b;
    struct ww_map map;
    struct ww_error error = {0};
    double out[2];
    const double start[1][2] = {{0, 0}};
    start_by_hand(&b, 1, 0);
    assert_int_equal(ww_scan_map(&b.scan, 1, WW_LEG1, WW_MEAN, 1, &map, &error), WW_INVALID);
    assert_int_equal(ww_scan_map(&b.scan, 0, WW_SKEW, WW_MEAN, 1, &map, &error), WW_INVALID);
    assert_int_equal(ww_scan_map(&b.scan, 0, WW_LEG1, WW_MEAN, -1, &map, &error), WW_INVALID);
    assert_int_equal(ww_scan_map(&b.scan, 0, WW_LEG1, WW_MEAN, NAN, &map, &error), WW_INVALID);
    assert_null(map.value);
    assert_int_equal(ww_scan_profile(&b.scan, start, 0, 0, 1, 1, out, NULL, out, &error), WW_INVALID);
    assert_int_equal(ww_scan_profile(&b.scan, start, 0, 0, NAN, 2, out, NULL, out, &error), WW_INVALID);
    assert_int_equal(ww_scan_profile(&b.scan, start, 0, 1, 1, 2, out, NULL, out, &error), WW_INVALID);
    assert_int_equal(ww_scan_profile(&b.scan, start, 0, -1, 1, 2, out, NULL, out, &error), WW_INVALID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(integrals_are_those_of_quadrature),     cmocka_unit_test(single_wave),
        cmocka_unit_test(map_holds_the_values_at_its_positions), cmocka_unit_test(derivatives_are_those_of_the_value),
        cmocka_unit_test(profile_runs_with_the_segments),        cmocka_unit_test(growth_and_saturation),
        cmocka_unit_test(asks_that_make_no_sense_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
