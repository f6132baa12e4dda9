/* test_side_by_side.c - two traces, or the lanes of a bus, side by side on one cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "chance/distribution.h"
#include "chance/lanes.h"
#include "chance/placements.h"

#include <stdlib.h>

#define LENGTH 25e-3

static void open(struct board *board, bool pair, bool both)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.above = both;
    options.turn = both ? 3 * DEGREES : 0;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.5;
    board_open(board, &options);
}

static struct ww_skew solve(const struct board *board, const struct ww_skew_request *request)
{
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, request, &error), error);
    return skew;
}

static double value(const struct ww_scan *scan, size_t ply, enum ww_signal signal, double x, double y)
{
    double value;
    struct ww_error error = {0};
    assert_ok(ww_scan_value(scan, ply, signal, WW_MEAN, LENGTH, x, y, &value, &error), error);
    return value;
}

/* The delay at the start less that a spacing to the left of the line from start to end, on every ply in its own frame. */
static void check_difference(bool pair, const struct ww_route_segment *route, size_t segments, double chord)
{
    const double spacing = 1.234e-3, angle = 17 * DEGREES;
    struct board board;
    struct ww_scan *scan;
    struct ww_error error = {0};
    open(&board, pair, true);
    struct ww_scan_options options = {.positions = 32, .spacing = spacing, .route = route, .segments = segments};
    assert_ok(ww_scan_create(&scan, board.line, angle, &options, &error), error);
    for (size_t p = 0; p < 2; p++) {
        double theta = angle + chord - board.stack.ply[p].turn, x = 77e-6, y = 313e-6;
        double beside_x = x - spacing * cos(theta), beside_y = y + spacing * sin(theta);
        double here = value(scan, p, WW_LEG1, x, y), there = value(scan, p, WW_LEG1, beside_x, beside_y);
        if (pair) {
            here = 0.5 * (here + value(scan, p, WW_LEG2, x, y));
            there = 0.5 * (there + value(scan, p, WW_LEG2, beside_x, beside_y));
        }
        assert_true(fabs(here - there) > 1e-17);
        assert_close(value(scan, p, WW_APART, x, y), here - there, 1e-9, 1e-21);
        struct ww_map map;
        assert_ok(ww_scan_map(scan, p, WW_APART, WW_MEAN, LENGTH, &map, &error), error);
        size_t at = 5 * map.nx + 9;
        double mx = 9.5 * map.lx / 32, my = 5.5 * map.ly / 32;
        assert_close(map.value[at], value(scan, p, WW_APART, mx, my), 1e-6, 1e-18);
        ww_map_clear(&map);
    }
    ww_scan_destroy(scan);
    board_close(&board);
}

static void the_difference_is_that_of_two_delays(void **state)
{
    (void)state;
    const struct ww_route_segment bent[] = {{10e-3, 0}, {15e-3, 40 * DEGREES}};
    double x = 15 * sin(40 * DEGREES), y = 10 + 15 * cos(40 * DEGREES);
    check_difference(false, NULL, 0, 0);
    check_difference(true, NULL, 0, 0);
    check_difference(false, bent, 2, atan2(x, y));
}

static void no_spacing_and_whole_cells_make_no_difference(void **state)
{
    (void)state;
    struct board board;
    struct ww_scan *scan;
    struct ww_extreme high, low;
    struct ww_error error = {0};
    open(&board, false, false);
    struct ww_skew_request request = {.length = LENGTH};
    struct ww_skew anywhere = solve(&board, &request);
    assert_ok(ww_scan_create(&scan, board.line, 0, NULL, &error), error);
    assert_ok(ww_scan_extremes(scan, 0, WW_APART, WW_MEAN, LENGTH, &high, &low, &error), error);
    assert_close(high.value, 0, 0, 0);
    assert_close(low.value, 0, 0, 0);
    ww_scan_destroy(scan);
    const struct ww_cell *cell = &board.stack.ply[0].cell;
    for (int fill = 0; fill < 2; fill++)
        for (int cells = 1; cells < 8; cells += 3) {
            request.angle = fill * 0.5 * WW_PI;
            request.scan.spacing = cells * (fill ? cell->ly : cell->lx);
            struct ww_skew skew = solve(&board, &request);
            assert_close(skew.worst, 0, 0, 1e-9 * anywhere.worst);
            ww_skew_clear(&skew);
        }
    ww_skew_clear(&anywhere);
    board_close(&board);
}

static void what_cannot_lie_side_by_side_is_refused(void **state)
{
    (void)state;
    struct board board;
    struct ww_error error = {0};
    open(&board, false, false);
    struct ww_skew skew;
    struct ww_skew_request request = {.length = LENGTH, .scan = {.averaging = WW_QUASI_STATIC, .spacing = 1e-3}};
    assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), WW_INVALID);
    request.scan = (struct ww_scan_options){.spacing = -1e-3};
    assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), WW_INVALID);
    request.scan.spacing = 0;
    request.lane_pitch = 1e-3;
    request.lanes = WW_LANES_MOST + 1;
    assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), WW_INVALID);
    request.lanes = 2;
    request.lane_pitch = NAN;
    assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), WW_INVALID);
    board_close(&board);
}

/* Along the warp the difference hangs on the spacing modulo a cell: over all of it, two traces lie as if independent. */
static void all_spacings_are_independent_places(void **state)
{
    (void)state;
    enum { SPACINGS = 64 };
    struct board board;
    open(&board, false, false);
    struct ww_skew_request request = {.length = LENGTH, .budget = 1e-12};
    struct ww_skew anywhere = solve(&board, &request);
    double over = 0, square = 0;
    assert_true(anywhere.over_budget > 0.1 && anywhere.over_budget < 0.9);
    for (int i = 0; i < SPACINGS; i++) {
        request.scan.spacing = (20 + (i + 0.5) / SPACINGS) * board.stack.ply[0].cell.lx;
        struct ww_skew skew = solve(&board, &request);
        over += skew.over_budget / SPACINGS;
        square += skew.deviation * skew.deviation / SPACINGS;
        assert_true(skew.worst <= anywhere.worst * (1 + 1e-9));
        assert_close(skew.spread, anywhere.worst, 1e-9, 0);
        ww_skew_clear(&skew);
    }
    assert_close(over, anywhere.over_budget, 0, 0.01);
    assert_close(sqrt(square), anywhere.deviation, 1e-3, 0);
    ww_skew_clear(&anywhere);
    board_close(&board);
}

/* The design worst at a spacing is the most of all turns, taken one by one. */
static void the_design_worst_holds_every_turn(void **state)
{
    (void)state;
    struct board board;
    open(&board, false, false);
    struct ww_skew_request request = {
        .length = LENGTH, .angle = 1.5 * DEGREES, .turn = 1 * DEGREES, .scan = {.positions = 64, .spacing = 1.5e-3}};
    struct ww_skew skew = solve(&board, &request);
    double most = 0;
    for (int i = -60; i <= 60; i++) {
        struct ww_placements placements;
        struct ww_error error = {0};
        double angle = request.angle + request.turn * i / 60;
        assert_ok(ww_placements_solve(&placements, board.line, &request, angle, false, &error), error);
        most = fmax(most, placements.worst);
        ww_placements_clear(&placements);
    }
    assert_close(skew.worst_with_turn, most, 5e-3, 0);
    assert_true(skew.worst < 0.9 * skew.worst_with_turn);
    ww_skew_clear(&skew);
    board_close(&board);
}

/* Two pairs are told apart beside their skew, which the spacing leaves alone. */
static void two_pairs_differ_by_their_delays(void **state)
{
    (void)state;
    struct board board;
    open(&board, true, false);
    struct ww_skew_request request = {.length = LENGTH, .turn = 0.5 * DEGREES};
    struct ww_skew alone = solve(&board, &request);
    request.scan.spacing = 1e-3;
    struct ww_skew skew = solve(&board, &request);
    assert_close(skew.worst, alone.worst, 0, 0);
    assert_close(skew.tolerant_p99, alone.tolerant_p99, 0, 0);
    assert_close(alone.apart.worst, 0, 0, 0);
    assert_true(skew.apart.worst > 1e-14 && skew.apart_with_turn >= skew.apart.worst);
    assert_true(skew.apart.median < skew.apart.p95 && skew.apart.p95 <= skew.apart.p99);
    assert_true(skew.apart.p99 <= skew.apart.worst);
    ww_skew_clear(&skew);
    request.scan.spacing = 3 * board.stack.ply[0].cell.lx;
    skew = solve(&board, &request);
    assert_close(skew.apart.worst, 0, 0, 1e-9 * alone.worst);
    ww_skew_clear(&skew);
    ww_skew_clear(&alone);
    board_close(&board);
}

/* Lanes a whole number of cells apart lie alike: all of them are as one. Places are a sequence here, a map there. */
static void lanes_on_whole_cells_are_one_lane(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board board;
        open(&board, pair, false);
        double cell = board.stack.ply[0].cell.lx;
        struct ww_skew_request request = {.length = LENGTH, .budget = 1e-12, .lanes = 1};
        struct ww_skew one = solve(&board, &request);
        request.lanes = 16;
        struct ww_skew apart = solve(&board, &request);
        request.lane_pitch = 2 * cell;
        struct ww_skew alike = solve(&board, &request);
        request.lane_pitch = 1.37 * cell;
        struct ww_skew beside = solve(&board, &request);
        if (pair) {
            assert_true(one.yield > 0.1 && one.yield < 0.9);
            assert_close(alike.yield, one.yield, 0, 2e-3);
            assert_close(alike.expected_worst, one.expected_worst, 2e-3, 0);
            assert_true(beside.yield < one.yield && beside.expected_worst > one.expected_worst);
        } else {
            assert_close(alike.yield, 1, 0, 0);
            assert_close(alike.expected_worst, 0, 0, 1e-9 * one.worst);
            assert_true(beside.expected_worst <= one.worst);
        }
        assert_true(apart.expected_worst > one.expected_worst);
        ww_skew_clear(&one);
        ww_skew_clear(&apart);
        ww_skew_clear(&alike);
        ww_skew_clear(&beside);
        board_close(&board);
    }
}

/* By hand: three values -1, 0, 1, each a third. Two: range 0 in 3 of 9, 1 in 4 of 9, 2 in 2 of 9. Three: 3, 12, 12 of 27. */
static void ranges_by_hand(void **state)
{
    (void)state;
    double third[] = {1.0 / 3, 1.0 / 3, 1.0 / 3};
    struct ww_distribution d = {3, -1, 1, third};
    assert_close(ww_distribution_within_range(&d, 0.5, 2), 3.0 / 9, 1e-12, 0);
    assert_close(ww_distribution_within_range(&d, 1.5, 2), 7.0 / 9, 1e-12, 0);
    assert_close(ww_distribution_within_range(&d, 2.5, 2), 1, 1e-12, 0);
    assert_close(ww_distribution_expected_range(&d, 2), 8.0 / 9, 1e-12, 0);
    assert_close(ww_distribution_within_range(&d, 0.5, 3), 3.0 / 27, 1e-12, 0);
    assert_close(ww_distribution_within_range(&d, 1.5, 3), 15.0 / 27, 1e-12, 0);
    assert_close(ww_distribution_expected_range(&d, 3), (12 + 24) / 27.0, 1e-12, 0);
    assert_close(ww_distribution_expected_range(&d, 1), 0, 0, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_difference_is_that_of_two_delays),
        cmocka_unit_test(no_spacing_and_whole_cells_make_no_difference),
        cmocka_unit_test(what_cannot_lie_side_by_side_is_refused),
        cmocka_unit_test(all_spacings_are_independent_places),
        cmocka_unit_test(the_design_worst_holds_every_turn),
        cmocka_unit_test(two_pairs_differ_by_their_delays),
        cmocka_unit_test(lanes_on_whole_cells_are_one_lane),
        cmocka_unit_test(ranges_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
