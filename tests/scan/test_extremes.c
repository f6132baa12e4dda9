/* The greatest and the least value over all positions, on maps made by hand whose tops are known.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "scan/extremes.h"

#define LX 0.5
#define LY 0.6
#define ANGLE 0.3 /* of the trace from x [rad] */

/* A scan of one ply over a cell of LX by LY: a mean and some harmonics a cos(k.r + p) of leg 1, each
 * order once, by m. */
struct by_hand {
    struct ww_scan scan;
    struct ww_ply_scan ply;
    struct ww_order order[8];
    double _Complex c1[8], c2[8];
};

static void start(struct by_hand *b)
{
    memset(b, 0, sizeof *b);
    b->ply = (struct ww_ply_scan){
        .lx = LX, .ly = LY, .ux = cos(ANGLE), .uy = sin(ANGLE), .harmonics = 1, .order = b->order};
    b->c1[0] = b->c2[0] = 3.7;
    for (int e = 0; e < WW_ESTIMATES; e++) {
        b->ply.coefficient[0][e] = b->c1;
        b->ply.coefficient[1][e] = b->c2;
    }
    b->scan =
        (struct ww_scan){.plies = 1, .positions = 64, .ply = &b->ply, .level = {{3.7, 3.7, 3.7}, {3.7, 3.7, 3.7}}};
}

static void add(struct by_hand *b, double a, int m, int l, double p)
{
    double _Complex half = 0.5 * a * (cos(p) + I * sin(p));
    b->order[b->ply.harmonics] = (struct ww_order){m, l};
    b->c1[b->ply.harmonics++] = half;
    if (m == 0) { /* both signs of l are kept there */
        b->order[b->ply.harmonics] = (struct ww_order){0, -l};
        b->c1[b->ply.harmonics++] = conj(half);
    }
}

/* Half the turn of phase along the path, k.u length/2. */
static double half_turn(int m, int l, double length)
{
    return WW_PI * (m * cos(ANGLE) / LX + l * sin(ANGLE) / LY) * length;
}

/* How far a is from b where all repeats with the period. */
static double apart(double a, double b, double period)
{
    return fabs(remainder(a - b, period));
}

/* Over a length the harmonic is a length sinc(h) cos(k.r0 + p + h), h half the turn of phase along it. */
static void one_harmonic_along_x(void **state)
{
    (void)state;
    for (double length = 0; length < 2; length += 0.37)
        for (double p = 0; p < 6; p += 0.7) {
            struct by_hand b;
            struct ww_extreme high, low;
            struct ww_error error = {0};
            start(&b);
            add(&b, 0.3, 1, 0, p);
            assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, length, &high, &low, &error), error);
            double h = half_turn(1, 0, length), top = 0.3 * length * ww_sinc(h);
            assert_close(high.value, fabs(top), 1e-9, 1e-13);
            assert_close(low.value, -fabs(top), 1e-9, 1e-13);
            assert_true(high.x >= 0 && high.x < LX && high.y >= 0 && high.y < LY);
            if (length == 0)
                continue; /* flat */
            double at = -(p + h) / (2 * WW_PI) * LX + (top < 0 ? 0.5 * LX : 0);
            assert_true(apart(high.x, at, LX) < 1e-6 * LX);
            assert_true(apart(low.x, at + 0.5 * LX, LX) < 1e-6 * LX);
        }
}

/* One along x and one along y: each has its own top, and the values add. Leg 2 carries nothing: the skew is leg 1's. */
static void two_harmonics_at_right_angles(void **state)
{
    (void)state;
    for (double p = 0; p < 6; p += 0.43) {
        struct by_hand b;
        struct ww_extreme high, low, leg_high, leg_low;
        struct ww_error error = {0};
        start(&b);
        add(&b, 0.1, 0, 1, 2 * p + 1);
        add(&b, 0.2, 2, 0, p);
        double length = 0.21, hx = half_turn(2, 0, length), hy = half_turn(0, 1, length);
        double top = length * (fabs(0.2 * ww_sinc(hx)) + fabs(0.1 * ww_sinc(hy)));
        assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, length, &high, &low, &error), error);
        assert_close(high.value, top, 1e-9, 0);
        assert_close(low.value, -top, 1e-9, 0);
        double x = -(p + hx) / (4 * WW_PI) * LX + (ww_sinc(hx) < 0 ? 0.25 * LX : 0);
        double y = -(2 * p + 1 + hy) / (2 * WW_PI) * LY + (ww_sinc(hy) < 0 ? 0.5 * LY : 0);
        assert_true(apart(high.x, x, 0.5 * LX) < 1e-5 * LX); /* 2 along x: half the cell repeats */
        assert_true(apart(high.y, y, LY) < 1e-5 * LY);
        b.scan.pair = true;
        assert_ok(ww_scan_extremes(&b.scan, 0, WW_SKEW, WW_MEAN, length, &leg_high, &leg_low, &error), error);
        assert_close(leg_high.value, high.value, 1e-12, 0);
        assert_close(leg_low.value, low.value, 1e-12, 0);
    }
}

/* cos(q + o) + e cos(2 (q + o)) with q = 2 pi y/LY: top 1 + e, and where 4 e > 1 a second top at half the cell of -1 + e, and
 * bottoms of -e - 1/(8 e). */
static void bottoms_are_not_the_mirror_of_tops(void **state)
{
    (void)state;
    double length = 1e-7, e = 0.4; /* so short that no harmonic turns: sinc is 1 to 1e-12 */
    for (double o = 0; o < 6; o += 0.31) {
        struct by_hand b;
        struct ww_extreme high, low;
        struct ww_error error = {0};
        start(&b);
        add(&b, 1, 0, 1, o);
        add(&b, e, 0, 2, 2 * o);
        assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, length, &high, &low, &error), error);
        assert_close(high.value, length * (1 + e), 1e-9, 0);
        assert_close(low.value, -length * (e + 1 / (8 * e)), 1e-9, 0);
        double at = 2 * WW_PI * low.y / LY + o;
        assert_close(cos(at), -1 / (4 * e), 0, 1e-5);
    }
}

/* Two tops, the lower one nearer to a sample than the higher: the higher one wins, though its samples are lower. cos(2 q) +
 * e cos(q) has tops of 1 + e at 0 and 1 - e at half the cell; -s sin(q) moves them apart, and o all to other places between
 * the samples, whose own tops are short by up to (2 pi/64)^2/2 = 0.5 %. */
static void a_near_tie_goes_to_the_higher_top(void **state)
{
    (void)state;
    double length = 1e-7, e = 2e-4;
    int highest_sample_is_elsewhere = 0;
    for (int i = 0; i < 64; i++) {
        struct by_hand b;
        struct ww_extreme high, low;
        struct ww_map map = {0};
        struct ww_error error = {0};
        double o = 2 * WW_PI * i / 64 / 64, s = 0.05;
        start(&b);
        add(&b, hypot(e, s), 1, 0, o + atan2(s, e));
        add(&b, 1, 2, 0, 2 * o);
        assert_ok(ww_map_and_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, length, &map, &high, &low, &error), error);
        double top = -INFINITY, at = 0, sample = -INFINITY, sample_at = 0;
        for (int k = 0; k < 200000; k++) {
            double q = 2 * WW_PI * k / 200000;
            double value = cos(2 * (q + o)) + e * cos(q + o) - s * sin(q + o);
            at = value > top ? q : at;
            top = value > top ? value : top;
        }
        for (size_t ix = 0; ix < map.nx; ix++)
            if (map.value[ix] > sample) {
                sample = map.value[ix];
                sample_at = 2 * WW_PI * ((double)ix + 0.5) / (double)map.nx;
            }
        highest_sample_is_elsewhere += apart(sample_at, at, 2 * WW_PI) > 1;
        assert_close(high.value, length * top, 1e-8, 0);
        assert_true(apart(high.x, at / (2 * WW_PI) * LX, LX) < 1e-4 * LX);
        ww_map_clear(&map);
    }
    assert_true(highest_sample_is_elsewhere > 0); /* else this tests nothing */
}

/* cos(q) - b cos(2 q) has a valley at 0 where 4 b > 1, between tops of b + 1/(8 b) at cos(q) = 1/(4 b). Closer than a sample
 * of 2 pi/64 they show in the map as one, on a ridge along x. o moves them and the valley over all places between samples. */
static void two_tops_closer_than_a_sample(void **state)
{
    (void)state;
    double length = 1e-7;
    for (double b = 0.2503; b < 0.2520; b += 0.0004)
        for (int i = 0; i < 64; i++) {
            struct by_hand hand;
            struct ww_extreme high, low;
            struct ww_error error = {0};
            double o = 2 * WW_PI * i / 64 / 64;
            start(&hand);
            add(&hand, 1, 0, 1, 0.3);
            add(&hand, 1, 1, 0, o);
            add(&hand, -b, 2, 0, 2 * o);
            assert_ok(ww_scan_extremes(&hand.scan, 0, WW_LEG1, WW_MEAN, length, &high, &low, &error), error);
            assert_close(high.value, length * (1 + b + 1 / (8 * b)), 1e-10, 0);
            assert_close(cos(2 * WW_PI * high.x / LX + o), 1 / (4 * b), 0, 1e-6);
        }
}

/* cos(2 q) + s sin(r) sin(2 q) + e cos(2 r) + d cos(r) has a ridge that winds about q = 0, with tops of 1 + e + d at r = 0 and
 * 1 + e - d at half the cell, where it crosses q = 0 aslant. Samples beside the ridge lie on its flank: along r their values
 * change more by the winding than by the crest, so that the one beside the top may be lower than the next. */
static void the_higher_top_of_a_ridge_aslant(void **state)
{
    (void)state;
    double length = 1e-7, s = 0.03, e = 3e-4, d = 1e-4;
    for (int i = 0; i < 32; i++)
        for (int j = 0; j < 8; j++) {
            struct by_hand b;
            struct ww_extreme high, low;
            struct ww_error error = {0};
            double q = 2 * WW_PI * i / 32 / 64, r = 2 * WW_PI * j / 8 / 64 + 1;
            start(&b);
            add(&b, d, 0, 1, r);
            add(&b, e, 0, 2, 2 * r);
            add(&b, 0.5 * s, 2, -1, 2 * q - r);
            add(&b, 1, 2, 0, 2 * q);
            add(&b, -0.5 * s, 2, 1, 2 * q + r);
            assert_ok(ww_scan_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, length, &high, &low, &error), error);
            assert_close(high.value, length * (1 + e + d), 1e-9, 0);
            assert_true(apart(high.y, -r / (2 * WW_PI) * LY, LY) < 1e-4 * LY);
        }
}

static void a_flat_map_is_zero(void **state)
{
    (void)state;
    struct by_hand b;
    struct ww_extreme high, low;
    struct ww_map map = {0};
    struct ww_error error = {0};
    start(&b);
    assert_ok(ww_map_and_extremes(&b.scan, 0, WW_LEG1, WW_MEAN, 3, &map, &high, &low, &error), error);
    assert_close(high.value, 0, 0, 1e-15);
    assert_close(low.value, 0, 0, 1e-15);
    assert_true(high.x >= 0 && high.x < LX && high.y >= 0 && high.y < LY);
    assert_true(low.x >= 0 && low.x < LX && low.y >= 0 && low.y < LY);
    assert_int_equal(map.nx, 64);
    ww_map_clear(&map);
}

static void what_is_not_there_is_refused(void **state)
{
    (void)state;
    struct by_hand b;
    struct ww_extreme high = {1, 1, 1}, low = {1, 1, 1};
    struct ww_map map = {0};
    struct ww_error error = {0};
    start(&b);
    assert_int_equal(ww_map_and_extremes(&b.scan, 1, WW_LEG1, WW_MEAN, 1, &map, &high, &low, &error), WW_INVALID);
    assert_null(map.value);
    assert_close(high.value, 0, 0, 0);
    assert_close(low.value, 0, 0, 0);
    assert_int_equal(ww_scan_extremes(&b.scan, 0, WW_SKEW, WW_MEAN, 1, &high, &low, &error), WW_INVALID);
}

/* Wherever the extremes lie among so few or so many samples that the lanes hold all, some or none of them. */
static void range_of_rows_is_that_of_their_samples(void **state)
{
    (void)state;
    enum { N = 9, MOST = N * N };
    double value[MOST];
    struct ww_map map = {N, N, 1, 1, value};
    for (size_t rows = 1; rows <= N; rows++)
        for (size_t at = 0; at < N * rows; at++) {
            double range[2];
            size_t other = (at * 7 + 3) % (N * rows);
            if (other == at)
                continue;
            for (size_t i = 0; i < MOST; i++)
                value[i] = i < N * rows ? 0.25 : 99; /* beyond the rows: not looked at */
            value[at] = 2.5;
            value[other] = -1.5;
            ww_map_row_range(&map, rows, range);
            assert_close(range[0], -1.5, 0, 0);
            assert_close(range[1], 2.5, 0, 0);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_harmonic_along_x),
        cmocka_unit_test(two_harmonics_at_right_angles),
        cmocka_unit_test(bottoms_are_not_the_mirror_of_tops),
        cmocka_unit_test(a_near_tie_goes_to_the_higher_top),
        cmocka_unit_test(two_tops_closer_than_a_sample),
        cmocka_unit_test(the_higher_top_of_a_ridge_aslant),
        cmocka_unit_test(a_flat_map_is_zero),
        cmocka_unit_test(what_is_not_there_is_refused),
        cmocka_unit_test(range_of_rows_is_that_of_their_samples),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
