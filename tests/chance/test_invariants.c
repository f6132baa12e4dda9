/* What must hold whatever the numbers: symmetry, shifts, turns, and no skew without weave.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/chance.h"
#include "chance/distribution.h"
#include "scan/extremes.h"
#include "scan/path.h"
#include "scan/plies.h"

#include <stdlib.h>

#define LENGTH 7.7e-3

/* Coarse cells and grids hold these to rounding just as well as fine ones. */
static struct board_options pair_options(void)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    return options;
}

static const double angles[] = {0, 0.3, -0.8, 0.5 * WW_PI, 2.0, 3.0};
#define ANGLES (sizeof angles / sizeof *angles)

/* Value of one ply from one start. */
static double value(const struct ww_scan *scan, size_t ply, enum ww_signal signal, double length, double x, double y)
{
    struct ww_path segment;
    struct ww_error error = {0};
    assert_ok(ww_path_init(&segment, scan, ply, signal, WW_MEAN, length, &error), error);
    double here = ww_path_expand(&segment, x, y).value;
    ww_path_clear(&segment);
    return here;
}

static struct ww_scan *scan_at(const struct board *board, double angle)
{
    struct ww_scan *scan;
    struct ww_error error = {0};
    assert_ok(ww_scan_create(&scan, board->line, angle, NULL, &error), error);
    return scan;
}

static void uniform_dk_has_no_skew(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    options.glass_dk = options.resin_dk;
    struct board board;
    board_open(&board, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_skew_request request = {.length = 50e-3, .angle = angles[i], .turn = 0.02, .budget = 1e-12};
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
        assert_close(skew.mean_delay, 50e-3 * sqrt(3.2) / WW_C0, 1e-10, 0);
        assert_close(skew.worst, 0, 0, 1e-12 * skew.mean_delay);
        assert_close(skew.worst_with_turn, 0, 0, 1e-12 * skew.mean_delay);
        assert_close(skew.p99, 0, 0, 1e-12 * skew.mean_delay);
        assert_close(skew.spread, 0, 0, 1e-12 * skew.mean_delay);
        assert_close(skew.over_budget, 0, 0, 0);
        ww_skew_clear(&skew);
    }
    board_close(&board);
}

static double worst_at_height(double height)
{
    struct board_options options = pair_options();
    struct ww_skew_request request = {.length = 50e-3};
    struct ww_skew skew;
    struct ww_error error = {0};
    struct board board;
    options.cloth_height = height;
    board_open(&board, &options);
    assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
    double worst = skew.worst;
    ww_skew_clear(&skew);
    board_close(&board);
    return worst;
}

/* The trace lies on top of the ply of 100 um. Cloth 20 um nearer to it gives more skew, 20 um farther less. An independent
 * full solution (this project) has +18 and -12 % on a stackup that is not stated; near the copper the field is steeper, so
 * that nearer counts for more than farther in either. */
static void cloth_nearer_to_the_copper_skews_more(void **state)
{
    (void)state;
    double middle = worst_at_height(0), nearer = worst_at_height(70 * UM), farther = worst_at_height(30 * UM);
    print_message("  20 um nearer %+.1f %%, farther %+.1f %%\n", 100 * (nearer / middle - 1),
                  100 * (farther / middle - 1));
    assert_close(worst_at_height(50 * UM), middle, 1e-12, 0);
    assert_true(nearer / middle - 1 > 0.1 && farther / middle - 1 < -0.05);
    assert_true(nearer - middle > middle - farther);
}

/* The ply's cloth moved by (sx, sy) carries the map along. */
static void moved_cloth_moves_the_map(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board still, moved, whole;
    board_open(&still, &options);
    options.shift_x = 123 * UM;
    options.shift_y = -45 * UM;
    board_open(&moved, &options);
    options.shift_x = still.stack.ply[0].cell.lx;
    options.shift_y = -2 * still.stack.ply[0].cell.ly;
    board_open(&whole, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan *a = scan_at(&still, angles[i]), *b = scan_at(&moved, angles[i]),
                       *c = scan_at(&whole, angles[i]);
        double delay = ww_scan_mean_delay(a, WW_LEG1, LENGTH);
        assert_close(ww_scan_mean_delay(b, WW_LEG1, LENGTH), delay, 1e-7, 0);
        for (int signal = WW_LEG1; signal <= WW_SKEW; signal++)
            for (int n = 0; n < 9; n++) {
                double x = n * 97 * UM, y = n * n * 31 * UM;
                double here = value(a, 0, (enum ww_signal)signal, LENGTH, x, y);
                assert_close(value(c, 0, (enum ww_signal)signal, LENGTH, x, y), here, 0, 1e-12 * delay);
                /* the grid on which the legs are combined does not move with the cloth: its rounding remains */
                assert_close(value(b, 0, (enum ww_signal)signal, LENGTH, x + 123 * UM, y - 45 * UM), here, 0,
                             1e-7 * delay);
            }
        ww_scan_destroy(a);
        ww_scan_destroy(b);
        ww_scan_destroy(c);
    }
    board_close(&still);
    board_close(&moved);
    board_close(&whole);
}

/* The cloth is its own mirror image in the plane x = px/2, through the axis of a warp yarn: it swaps the legs and turns
 * theta into -theta. */
static void mirror_swaps_the_legs(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    double px = 0.5 * board.stack.ply[0].cell.lx;
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan *plus = scan_at(&board, angles[i]), *minus = scan_at(&board, -angles[i]);
        double small = 1e-12 * ww_scan_mean_delay(plus, WW_LEG1, LENGTH), largest = 0;
        for (int n = 0; n < 16; n++) {
            double x = n * 61 * UM, y = n * n * 17 * UM, skew = value(plus, 0, WW_SKEW, LENGTH, x, y);
            assert_close(value(minus, 0, WW_SKEW, LENGTH, px - x, y), -skew, 0, small);
            assert_close(value(minus, 0, WW_LEG2, LENGTH, px - x, y), value(plus, 0, WW_LEG1, LENGTH, x, y), 0,
                         small);
            largest = fmax(largest, fabs(skew));
        }
        assert_true(largest > 1e6 * small); /* or it would hold of anything */
        ww_scan_destroy(plus);
        ww_scan_destroy(minus);
    }
    board_close(&board);
}

/* Travelled backwards from its end, the same pair has left and right the other way round. */
static void way_back_flips_the_sign(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan *there = scan_at(&board, angles[i]), *back = scan_at(&board, angles[i] + WW_PI);
        double small = 1e-12 * ww_scan_mean_delay(there, WW_LEG1, LENGTH);
        for (int n = 0; n < 9; n++) {
            double x = n * 97 * UM, y = n * n * 31 * UM;
            double end_x = x + LENGTH * sin(angles[i]), end_y = y + LENGTH * cos(angles[i]);
            assert_close(value(back, 0, WW_SKEW, LENGTH, end_x, end_y), -value(there, 0, WW_SKEW, LENGTH, x, y), 0,
                         small);
        }
        ww_scan_destroy(there);
        ww_scan_destroy(back);
    }
    board_close(&board);
}

static void turned_ply_is_turned_trace(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board straight, turned;
    board_open(&straight, &options);
    options.turn = 0.35;
    board_open(&turned, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan *a = scan_at(&straight, angles[i]), *b = scan_at(&turned, angles[i] + 0.35);
        double small = 1e-12 * ww_scan_mean_delay(a, WW_LEG1, LENGTH);
        for (int n = 0; n < 9; n++) {
            double x = n * 97 * UM, y = n * n * 31 * UM;
            assert_close(value(b, 0, WW_SKEW, LENGTH, x, y), value(a, 0, WW_SKEW, LENGTH, x, y), 0, small);
        }
        ww_scan_destroy(a);
        ww_scan_destroy(b);
    }
    board_close(&straight);
    board_close(&turned);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static struct ww_extreme place_of(const struct ww_map *map, size_t sample)
{
    return (struct ww_extreme){((double)(sample % map->nx) + 0.5) * map->lx / (double)map->nx,
                               ((double)(sample / map->nx) + 0.5) * map->ly / (double)map->ny, 0};
}

/* Two plies: all pairs of registrations make the distribution; the worst is that of both in place. */
static void two_plies_combine(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    options.above = true;
    options.turn_above = 0.1;
    struct board board;
    board_open(&board, &options);
    struct ww_skew_request request = {.length = LENGTH, .angle = 0.05, .scan = {.positions = 32}};
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
    assert_int_equal(skew.plies, 2);
    request.budget = 0.4 * skew.worst;
    ww_skew_clear(&skew);
    assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
    double highs = skew.high[0].value + skew.high[1].value, lows = skew.low[0].value + skew.low[1].value;
    assert_close(skew.worst, fmax(highs, -lows), 1e-14, 0);

    enum { SAMPLES = 32 * 32 };
    double *sum = malloc((size_t)SAMPLES * SAMPLES * sizeof *sum);
    assert_non_null(sum);
    size_t over = 0;
    double most = 0;
    struct ww_scan *scan = scan_at(&board, request.angle);
    struct ww_coupling coupling;
    assert_ok(ww_coupling_of_scan(&coupling, scan, WW_SKEW, WW_MEAN, LENGTH, &error), error);
    assert_true(coupling.count > 0);
    for (size_t i = 0; i < SAMPLES; i++)
        for (size_t j = 0; j < SAMPLES; j++) {
            struct ww_extreme at[2] = {place_of(&skew.map[0], i), place_of(&skew.map[1], j)};
            double both = skew.map[0].value[i] + skew.map[1].value[j];
            sum[i * SAMPLES + j] = fabs(both);
            most = fmax(most, fabs(both + ww_coupling_value(&coupling, at)));
            over += sum[i * SAMPLES + j] > request.budget;
        }
    qsort(sum, (size_t)SAMPLES * SAMPLES, sizeof *sum, ascending);
    double fine = 0.01 * skew.worst;
    assert_close(skew.median, sum[(size_t)SAMPLES * SAMPLES / 2], 0, fine);
    assert_close(skew.p95, sum[(size_t)SAMPLES * SAMPLES * 95 / 100], 0, fine);
    assert_close(skew.p99, sum[(size_t)SAMPLES * SAMPLES * 99 / 100], 0, fine);
    assert_close(skew.over_budget, (double)over / ((double)SAMPLES * SAMPLES), 0, 0.01);
    assert_true(skew.worst >= most && skew.worst < 1.02 * most);
    free(sum);
    ww_coupling_clear(&coupling);
    ww_scan_destroy(scan);
    ww_skew_clear(&skew);
    board_close(&board);
}

static void worst_lies_between_its_bounds(void **state)
{
    (void)state;
    struct board_options options = board_plain();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    struct board board;
    board_open(&board, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan *scan = scan_at(&board, angles[i]);
        for (int n = 0; n < 16; n++) {
            double x = n * 61 * UM, y = n * n * 17 * UM, at[WW_ESTIMATES];
            for (int e = 0; e < WW_ESTIMATES; e++)
                at[e] = ww_scan_average_at(scan, 0, WW_LEG1, (enum ww_estimate)e, 0, x, y);
            assert_true(at[WW_LOWER] < at[WW_MEAN] && at[WW_MEAN] < at[WW_UPPER]);
            assert_close(at[WW_UPPER], at[WW_LOWER], 0.01, 0);
        }
        ww_scan_destroy(scan);
    }
    board_close(&board);
}

/* Adding slowness and adding eps differ in second order, by the variance of eps along the way: at most m^2/8 of the delay
 * for a swing of +-m about the mean, 0.08 % where eps runs from 3.4 to 4.0. */
static void flight_and_quasi_static_nearly_agree(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    options.glass_dk = 9; /* more than any glass of a board */
    struct board board;
    board_open(&board, &options);
    double period = board.stack.ply[0].cell.ly, length = 40 * period;
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_scan_options quasi = {.averaging = WW_QUASI_STATIC};
        struct ww_scan *flight = scan_at(&board, angles[i]), *slow;
        struct ww_error error = {0};
        assert_ok(ww_scan_create(&slow, board.line, angles[i], &quasi, &error), error);
        for (int n = 0; n < 8; n++) {
            double x = n * 97 * UM, y = n * n * 31 * UM, least = INFINITY, most = 0;
            for (int k = 0; k < 4000; k++) {
                double s = length * k / 4000;
                double eps =
                    ww_scan_average_at(slow, 0, WW_LEG1, WW_MEAN, 0, x + s * sin(angles[i]), y + s * cos(angles[i]));
                least = fmin(least, eps);
                most = fmax(most, eps);
                k += 18;
            }
            double m = (most - least) / (most + least), limit = 1.05 * m * m / 8;
            double by_flight = length * ww_scan_average_at(flight, 0, WW_LEG1, WW_MEAN, length, x, y);
            double by_eps = ww_scan_delay(slow, ww_scan_average_at(slow, 0, WW_LEG1, WW_MEAN, length, x, y), length);
            assert_true(by_eps > by_flight); /* the root is concave */
            assert_true(by_eps - by_flight < limit * by_flight);
            assert_true(limit < 0.0008 * (m / 0.081) * (m / 0.081) * 1.1);
            double skews = value(slow, 0, WW_SKEW, length, x, y) - value(flight, 0, WW_SKEW, length, x, y);
            assert_true(fabs(skews) < 0.5 * limit * by_flight);
        }
        ww_scan_destroy(flight);
        ww_scan_destroy(slow);
    }
    board_close(&board);
}

static double worst_skew(const struct board *board, double angle, double length)
{
    struct ww_skew_request request = {.length = length, .angle = angle};
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, &request, &error), error);
    double worst = skew.worst;
    ww_skew_clear(&skew);
    return worst;
}

static void skew_grows_along_yarns_and_diagonals_only(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    board_open(&board, &options);
    double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
    const double grows[] = {0, 0.5 * WW_PI, diagonal, -diagonal, WW_PI - diagonal};
    const double saturates[] = {7 * DEGREES, 10 * DEGREES, 30 * DEGREES, -75 * DEGREES};
    for (size_t i = 0; i < sizeof grows / sizeof *grows; i++)
        assert_close(worst_skew(&board, grows[i], 10.0), 10 * worst_skew(&board, grows[i], 1.0), 0.02, 0);
    double along_warp = worst_skew(&board, 0, 0.1);
    for (size_t i = 0; i < sizeof saturates / sizeof *saturates; i++)
        for (double length = 0.1; length < 11; length *= 1.7) /* 100 times as long, and never that of 2 mm along it */
            assert_true(worst_skew(&board, saturates[i], length) < 0.02 * along_warp);
    board_close(&board);
}

static void worst_does_not_hang_on_the_positions(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    board_open(&board, &options);
    for (size_t i = 0; i < ANGLES; i++) {
        double worst[2], spread[2];
        for (int fine = 0; fine < 2; fine++) {
            struct ww_skew_request request = {
                .length = LENGTH, .angle = angles[i], .scan = {.positions = fine ? 512 : 64}};
            struct ww_skew skew;
            struct ww_error error = {0};
            assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
            worst[fine] = skew.worst;
            spread[fine] = skew.spread;
            ww_skew_clear(&skew);
        }
        assert_close(worst[0], worst[1], 1e-6, 0);
        assert_close(spread[0], spread[1], 1e-6, 0);
    }
    board_close(&board);
}

static void threads_do_not_change_a_digit(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct ww_skew skew[2];
    struct board board[2];
    for (int i = 0; i < 2; i++) {
        struct ww_skew_request request = {.length = 50e-3, .angle = 0.1, .turn = 0.03, .budget = 1e-13};
        struct ww_error error = {0};
        ww_threads_set(i ? 3 : 1);
        board_open(&board[i], &options);
        assert_ok(ww_skew_solve(&skew[i], board[i].line, &request, &error), error);
        ww_threads_set(0);
    }
    assert_memory_equal(skew[0].map[0].value, skew[1].map[0].value, 256 * 256 * sizeof(double));
    assert_memory_equal(&skew[0].worst, &skew[1].worst,
                        offsetof(struct ww_skew, mean_delay) - offsetof(struct ww_skew, worst));
    for (int i = 0; i < 2; i++) {
        ww_skew_clear(&skew[i]);
        board_close(&board[i]);
    }
}

/* The figures of one answer fit each other. */
static void figures_fit_each_other(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = pair_options();
        options.pitch = pair ? options.pitch : 0;
        struct board board;
        board_open(&board, &options);
        struct ww_skew_request request = {
            .length = 50e-3, .angle = 0.1, .turn = 0.03, .budget = 1e-11, .frequency = 28e9, .rate = 112e9};
        struct ww_skew s;
        struct ww_error error = {0};
        assert_ok(ww_skew_solve(&s, board.line, &request, &error), error);
        assert_true(s.pair == (pair == 1));
        assert_true(0 < s.median && s.median < s.p95 && s.p95 < s.p99 && s.p99 <= s.worst);
        assert_true(s.worst_with_turn >= s.worst);
        assert_true(fabs(s.worst_angle - request.angle) <= request.turn * (1 + 1e-12));
        assert_true(s.fastest < s.mean_delay && s.mean_delay < s.slowest);
        assert_close(s.spread, s.slowest - s.fastest, 1e-9, 0);
        assert_close(s.worst_degrees, 360 * 28e9 * s.worst, 1e-14, 0);
        assert_close(s.spread_degrees, 360 * 28e9 * s.spread, 1e-14, 0);
        assert_close(s.unit_interval_share, 112e9 * s.worst, 1e-14, 0);
        assert_close(s.over_budget, 0, 0, 0);
        /* the angle it names for the worst over the turn has that worst */
        request.angle = s.worst_angle;
        request.turn = 0;
        struct ww_skew there;
        assert_ok(ww_skew_solve(&there, board.line, &request, &error), error);
        assert_close(there.worst, s.worst_with_turn, 0.005, 0); /* small maps, tops by parabola */
        ww_skew_clear(&there);
        /* a budget at the median is exceeded by half of all */
        request = (struct ww_skew_request){.length = 50e-3, .angle = 0.1, .budget = s.median};
        assert_ok(ww_skew_solve(&there, board.line, &request, &error), error);
        assert_close(there.over_budget, 0.5, 0, 1e-6);
        ww_skew_clear(&there);
        ww_skew_clear(&s);
        board_close(&board);
    }
}

static void requests_out_of_range_are_refused(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    const struct ww_skew_request bad[] = {
        {.length = 0},
        {.length = -1},
        {.length = NAN},
        {.length = INFINITY},
        {.length = 0.1, .angle = NAN},
        {.length = 0.1, .angle = 7},
        {.length = 0.1, .turn = -0.1},
        {.length = 0.1, .turn = 1},
        {.length = 0.1, .turn = NAN},
        {.length = 0.1, .budget = NAN},
        {.length = 0.1, .budget = -1},
        {.length = 0.1, .frequency = NAN},
        {.length = 0.1, .rate = -1},
        {.length = 0.1, .scan = {.positions = 100000}},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_int_equal(ww_skew_solve(&skew, board.line, &bad[i], &error), WW_INVALID);
        assert_true(error.text[0] != '\0');
        assert_null(skew.map);
        assert_close(skew.worst, 0, 0, 0);
    }
    struct ww_scan *scan;
    assert_int_equal(ww_scan_create(&scan, board.line, NAN, NULL, NULL), WW_INVALID);
    assert_null(scan);
    board_close(&board);
}

/* Warp and fill of a plain weave change places half a cell on: half the rows of a map tell its extremes and chances. Not
 * of a map with a harmonic of odd m + l, nor of an odd number of positions. */
static void half_the_rows_tell_all_of_a_plain_weave(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    for (size_t i = 0; i < ANGLES; i++)
        for (size_t n = 32; n <= 33; n++) {
            struct ww_scan *scan;
            struct ww_map map;
            struct ww_extreme high, low;
            struct ww_distribution half, whole;
            struct ww_scan_options scan_options = {.positions = n};
            assert_ok(ww_scan_create(&scan, board.line, angles[i], &scan_options, &error), error);
            assert_ok(ww_map_and_extremes(scan, 0, WW_LEG1, WW_MEAN, LENGTH, &map, &high, &low, &error), error);
            size_t rows = ww_scan_rows(scan, 0);
            double range = high.value - low.value;
            assert_int_equal(rows, n == 32 ? 16 : 33);
            for (size_t k = 0; k < n * n; k++) {
                size_t ix = k % n, iy = k / n;
                assert_true(map.value[k] <= high.value + 1e-9 * range && map.value[k] >= low.value - 1e-9 * range);
                if (n == 32)
                    assert_close(map.value[(iy + 16) % n * n + (ix + 16) % n], map.value[k], 0, 1e-7 * range);
            }
            assert_ok(ww_distribution_of_map(&half, &map, rows, range / 100, &error), error);
            assert_ok(ww_distribution_of_map(&whole, &map, n, range / 100, &error), error);
            for (double share = 0.1; share < 1; share += 0.2)
                assert_close(ww_distribution_quantile(&half, share), ww_distribution_quantile(&whole, share), 0,
                             1e-6 * range);
            ww_distribution_clear(&half);
            ww_distribution_clear(&whole);
            ww_map_clear(&map);
            ww_scan_destroy(scan);
        }
    const struct ww_order order[] = {{0, 0}, {0, 2}, {1, -1}, {2, 1}};
    assert_int_equal(ww_orders_rows(order, 3, 32), 16);
    assert_int_equal(ww_orders_rows(order, 4, 32), 32);
    board_close(&board);
}

/* Along the warp over whole cells a ridge is as high everywhere, and half a cell on stands its twin: which of them is taken
 * was for rounding to say, and the place told with it. */
static void place_of_the_worst_does_not_hang_on_rounding(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_scan *scan = scan_at(&board, 0);
    const struct ww_cell *cell = &board.stack.ply[0].cell;
    struct ww_extreme first[2], here[2];
    for (int signal = WW_LEG1; signal <= WW_SKEW; signal++)
        for (int cells = 1; cells <= 9; cells++) {
            assert_ok(ww_scan_extremes(scan, 0, (enum ww_signal)signal, WW_MEAN, cells * cell->ly, &here[0], &here[1],
                                       &error),
                      error);
            for (int i = 0; i < 2; i++) {
                first[i] = cells == 1 ? here[i] : first[i];
                assert_close(here[i].x, first[i].x, 0, 1e-6 * cell->lx);
                assert_close(here[i].value, cells * first[i].value, 1e-9, 0);
            }
        }
    ww_scan_destroy(scan);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_dk_has_no_skew),
        cmocka_unit_test(cloth_nearer_to_the_copper_skews_more),
        cmocka_unit_test(moved_cloth_moves_the_map),
        cmocka_unit_test(mirror_swaps_the_legs),
        cmocka_unit_test(way_back_flips_the_sign),
        cmocka_unit_test(turned_ply_is_turned_trace),
        cmocka_unit_test(two_plies_combine),
        cmocka_unit_test(worst_lies_between_its_bounds),
        cmocka_unit_test(flight_and_quasi_static_nearly_agree),
        cmocka_unit_test(skew_grows_along_yarns_and_diagonals_only),
        cmocka_unit_test(worst_does_not_hang_on_the_positions),
        cmocka_unit_test(threads_do_not_change_a_digit),
        cmocka_unit_test(figures_fit_each_other),
        cmocka_unit_test(half_the_rows_tell_all_of_a_plain_weave),
        cmocka_unit_test(place_of_the_worst_does_not_hang_on_rounding),
        cmocka_unit_test(requests_out_of_range_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
