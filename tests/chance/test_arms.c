/* test_arms.c - several traces on one cloth: arms of a feed and lanes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/chance.h"

#include <stdlib.h>
#include <string.h>

#define LENGTH 25e-3

static struct ww_route_segment straight[] = {{LENGTH, 0}};
static struct ww_route_segment bent[] = {{9e-3, 20 * DEGREES}, {14e-3, 65 * DEGREES}};
static struct ww_route_segment other[] = {{8e-3, -30 * DEGREES}, {12e-3, 10 * DEGREES}, {5e-3, -30 * DEGREES}};

static void open(struct board *board, bool pair, bool both)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.above = both;
    options.turn = both ? 3 * DEGREES : 0;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.5;
    board_open(board, &options);
}

static struct ww_arm arm(const char *name, double x, double y, struct ww_route_segment *route, size_t segments)
{
    struct ww_arm arm = {.from = {x, y}, .route = route, .segments = segments};
    (void)snprintf(arm.name, sizeof arm.name, "%s", name);
    return arm;
}

/* The set, and the answer for its first arm where that is wanted. */
static struct ww_arms solve(const struct board *board, const struct ww_skew_request *request, struct ww_skew *keep)
{
    struct ww_arms arms;
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, request, &error), error);
    assert_ok(ww_arms_solve(&arms, board->line, request, &skew, &error), error);
    if (keep)
        *keep = skew;
    else
        ww_skew_clear(&skew);
    return arms;
}

static void nothing_is_solved_for_a_trace_alone(void **state)
{
    (void)state;
    struct board board;
    open(&board, false, false);
    struct ww_skew_request request = {.length = LENGTH};
    struct ww_arms arms = solve(&board, &request, NULL);
    assert_int_equal(arms.count, 0);
    ww_arms_clear(&arms);
    request.lanes = 4; /* anywhere */
    arms = solve(&board, &request, NULL);
    assert_int_equal(arms.count, 0);
    board_close(&board);
}

/* At the same place, and a whole cell of the only ply away: nothing tells two equal arms apart. */
static void equal_arms_at_one_place_do_not_differ(void **state)
{
    (void)state;
    struct board board;
    open(&board, false, false);
    const struct ww_cell *cell = &board.stack.ply[0].cell;
    const double at[][2] = {{0, 0}, {3 * cell->lx, -2 * cell->ly}, {0.5 * cell->lx, 0.5 * cell->ly}};
    struct ww_skew_request request = {
        .length = 23e-3, .route = bent, .segments = 2, .angle = 0, .budget = 1e-15, .arms = 1};
    for (size_t i = 0; i < sizeof at / sizeof *at; i++) {
        struct ww_arm same = arm("same", at[i][0], at[i][1], bent, 2);
        request.arm = &same;
        struct ww_skew skew;
        struct ww_arms arms = solve(&board, &request, &skew);
        double nothing = 1e-9 * skew.spread;
        assert_true(skew.spread > 1e-14);
        assert_close(arms.worst, 0, 0, nothing);
        assert_close(arms.worst_with_turn, 0, 0, nothing);
        assert_close(arms.p99, 0, 0, nothing);
        assert_close(arms.rms, 0, 0, 1e-6 * skew.spread); /* a root of rounding */
        assert_close(arms.yield, 1, 1e-12, 0);
        assert_close(arms.correlation[1], 1, 1e-9, 0);
        assert_close(arms.mean_delay[1], arms.mean_delay[0], 1e-15, 0);
        assert_close(arms.deviation[1], arms.deviation[0], 1e-9, 0);
        ww_arms_clear(&arms);
        ww_skew_clear(&skew);
    }
    board_close(&board);
}

/* `spacing` lies to the left of travel. */
static void two_arms_are_two_feeds(void **state)
{
    (void)state;
    const double spacing = 1.234e-3;
    struct board board;
    open(&board, false, true);
    for (int tolerances = 0; tolerances < 2; tolerances++) {
        struct ww_arm left = arm("left", -spacing, 0, straight, 1);
        struct ww_skew_request request = {.length = LENGTH,
                                          .angle = 4 * DEGREES,
                                          .turn = tolerances ? 1 * DEGREES : 0,
                                          .warp_tolerance = tolerances ? 0.01 : 0,
                                          .fill_tolerance = tolerances ? 0.01 : 0,
                                          .scan = {.spacing = spacing},
                                          .arm = &left,
                                          .arms = 1};
        struct ww_skew skew;
        struct ww_arms arms = solve(&board, &request, &skew);
        assert_true(skew.worst > 1e-15);
        assert_close(arms.worst, skew.worst, 1e-9, 0);
        assert_close(arms.worst_with_turn, skew.worst_with_turn, 1e-9, 0);
        print_message("median %g for %g, 99 of 100 %g for %g\n", arms.median, skew.tolerant_median, arms.p99,
                      skew.tolerant_p99);
        assert_close(arms.median, skew.tolerant_median, 0.01, 0); /* placements drawn, and bins */
        assert_close(arms.p99, skew.tolerant_p99, 0.01, 0);
        ww_arms_clear(&arms);
        ww_skew_clear(&skew);
    }
    board_close(&board);
}

static void lanes_are_arms_side_by_side(void **state)
{
    (void)state;
    const double pitch = 0.7e-3;
    struct board board;
    open(&board, false, false);
    struct ww_arm beside[] = {arm("b", -pitch, 0, straight, 1), arm("c", -2 * pitch, 0, straight, 1)};
    struct ww_skew_request request = {.length = LENGTH, .turn = 1 * DEGREES, .lanes = 3, .lane_pitch = pitch};
    struct ww_arms lanes = solve(&board, &request, NULL);
    request.lanes = 1;
    request.arm = beside;
    request.arms = 2;
    struct ww_arms arms = solve(&board, &request, NULL);
    assert_true(lanes.lanes && !arms.lanes);
    assert_string_equal(lanes.name[2], "3");
    assert_string_equal(arms.name[0], "route");
    assert_string_equal(arms.name[2], "c");
    assert_close(arms.worst, lanes.worst, 1e-9, 0);
    assert_close(arms.worst_with_turn, lanes.worst_with_turn, 1e-9, 0);
    assert_close(arms.p99, lanes.p99, 1e-9, 0);
    assert_close(arms.rms, lanes.rms, 1e-9, 0);
    assert_close(arms.expected, lanes.expected, 0.01, 0);
    assert_close(arms.correlation[1], arms.correlation[5], 1e-6, 1e-6); /* neighbours */
    ww_arms_clear(&arms);
    ww_arms_clear(&lanes);
    board_close(&board);
}

/* --- a set of three, two of them with bends ---------------------------------------------------------------------------------- */

static struct ww_skew_request three(const struct ww_arm *arm)
{
    return (struct ww_skew_request){.length = 23e-3,
                                    .route = bent,
                                    .segments = 2,
                                    .turn = 0.5 * DEGREES,
                                    .budget = 0.2e-12,
                                    .arm = arm,
                                    .arms = 2};
}

/* The first arm at another place is the whole set moved. */
static void the_order_of_arms_does_not_matter(void **state)
{
    (void)state;
    struct board board;
    open(&board, false, true);
    struct ww_arm one[] = {arm("p", 3e-3, 1.2e-3, other, 3), arm("q", -2.1e-3, 0.4e-3, straight, 1)};
    struct ww_arm two[] = {arm("p", 5.1e-3, 0.8e-3, other, 3), arm("r", 2.1e-3, -0.4e-3, bent, 2)};
    struct ww_skew_request request = three(one), swapped = three(two);
    swapped.route = straight;
    swapped.segments = 1;
    swapped.length = LENGTH;
    struct ww_arms first = solve(&board, &request, NULL), again = solve(&board, &swapped, NULL);
    assert_true(first.worst > 0 && first.worst_with_turn >= first.worst);
    assert_close(again.worst, first.worst, 1e-9, 0);
    assert_close(again.worst_with_turn, first.worst_with_turn, 2e-3, 0); /* tops lie otherwise between samples */
    assert_close(again.rms, first.rms, 1e-9, 0);
    assert_close(again.correlation[0 * 3 + 1], first.correlation[2 * 3 + 1], 0, 1e-9);
    assert_close(again.p99, first.p99, 5e-3, 0);
    assert_close(again.yield, first.yield, 0, 5e-3);
    ww_arms_clear(&again);
    struct ww_arm turned[] = {one[1], one[0]};
    request.arm = turned;
    again = solve(&board, &request, NULL);
    assert_close(again.worst, first.worst, 1e-12, 0);
    assert_close(again.worst_with_turn, first.worst_with_turn, 1e-12, 0);
    assert_close(again.yield, first.yield, 1e-12, 0);
    assert_close(again.correlation[1], first.correlation[2], 0, 1e-12);
    ww_arms_clear(&again);
    ww_arms_clear(&first);
    board_close(&board);
}

static void threads_do_not_change_the_set(void **state)
{
    (void)state;
    struct board board;
    open(&board, false, false);
    struct ww_arm one[] = {arm("p", 3e-3, 1.2e-3, other, 3), arm("q", -2.1e-3, 0.4e-3, straight, 1)};
    struct ww_skew_request request = three(one);
    ww_threads_set(1);
    struct ww_arms alone = solve(&board, &request, NULL);
    ww_threads_set(3);
    struct ww_arms many = solve(&board, &request, NULL);
    ww_threads_set(0);
    assert_memory_equal(alone.correlation, many.correlation, 9 * sizeof *alone.correlation);
    assert_memory_equal(alone.deviation, many.deviation, 3 * sizeof *alone.deviation);
    const double a[] = {alone.worst, alone.worst_with_turn, alone.median, alone.p99, alone.rms, alone.yield};
    const double b[] = {many.worst, many.worst_with_turn, many.median, many.p99, many.rms, many.yield};
    assert_memory_equal(a, b, sizeof a);
    ww_arms_clear(&many);
    ww_arms_clear(&alone);
    board_close(&board);
}

/* The worst is reached where some arm is slowest and some other fastest: no placement of a fine grid exceeds it, and one of them
 * comes near. */
static void the_worst_is_the_most_of_all_placements(void **state)
{
    (void)state;
    enum { ACROSS = 80 };
    struct board board;
    struct ww_error error = {0};
    open(&board, false, false);
    struct ww_arm one[] = {arm("p", 3e-3, 1.2e-3, other, 3), arm("q", -2.1e-3, 0.4e-3, straight, 1)};
    struct ww_skew_request request = three(one);
    const struct ww_route_segment *route[] = {bent, other, straight};
    const size_t segments[] = {2, 3, 1};
    request.turn = 0;
    struct ww_arms arms = solve(&board, &request, NULL);
    double most = 0, lx = board.stack.ply[0].cell.lx, ly = board.stack.ply[0].cell.ly;
    struct ww_scan *scan[3];
    for (size_t i = 0; i < 3; i++) {
        struct ww_scan_options options = {.route = route[i], .segments = segments[i]};
        assert_ok(ww_scan_create(&scan[i], board.line, 0, &options, &error), error);
    }
    for (size_t k = 0; k < ACROSS * ACROSS; k++) {
        double high = -1, low = 1;
        for (size_t i = 0; i < 3; i++) {
            double x = (double)(k % ACROSS) * lx / ACROSS, y = (double)(k / ACROSS) * ly / ACROSS, value = 0;
            const double length[] = {23e-3, 25e-3, 25e-3};
            x += i ? one[i - 1].from[0] : 0;
            y += i ? one[i - 1].from[1] : 0;
            assert_ok(ww_scan_value(scan[i], 0, WW_LEG1, WW_MEAN, length[i], x, y, &value, &error), error);
            high = fmax(high, value);
            low = fmin(low, value);
        }
        most = fmax(most, high - low);
    }
    print_message("worst %g, of the grid %g\n", arms.worst, most);
    assert_true(most <= arms.worst * (1 + 1e-12));
    assert_close(most, arms.worst, 0.01, 0);
    for (size_t i = 0; i < 3; i++)
        ww_scan_destroy(scan[i]);
    ww_arms_clear(&arms);
    board_close(&board);
}

/* Of pairs, the skews. Two of which one is a mirror image along the warp have the same worst. */
static void pairs_are_judged_by_their_skews(void **state)
{
    (void)state;
    struct board board;
    open(&board, true, true);
    struct ww_arm beside = arm("b", 1.7e-3, 0.3e-3, straight, 1);
    struct ww_skew_request request = {
        .length = LENGTH, .turn = 0.5 * DEGREES, .budget = 1e-12, .arm = &beside, .arms = 1};
    struct ww_skew skew;
    struct ww_arms arms = solve(&board, &request, &skew);
    assert_true(arms.pair);
    assert_close(arms.worst, skew.worst, 1e-9, 0);
    assert_close(arms.worst_with_turn, skew.worst_with_turn, 1e-9, 0);
    assert_int_equal(arms.between[0], arms.between[1]);
    assert_true(arms.median >= skew.tolerant_median && arms.p99 >= 0.99 * skew.tolerant_p99);
    assert_true(arms.yield <= 1 - skew.tolerant_over_budget + 0.01);
    assert_close(arms.rms, arms.deviation[0], 1e-6, 0);
    ww_arms_clear(&arms);
    ww_skew_clear(&skew);
    board_close(&board);
}

static void what_is_no_set_is_refused(void **state)
{
    (void)state;
    struct board board;
    struct ww_arms arms;
    struct ww_error error = {0};
    open(&board, false, false);
    const struct ww_skew none = {0};
    struct ww_arm list[WW_ARMS_MOST] = {{.name = "empty"}};
    struct ww_skew_request request = {.length = LENGTH, .arm = list, .arms = 1};
    assert_int_equal(ww_arms_solve(&arms, board.line, &request, &none, &error), WW_INVALID);
    list[0] = arm("far", 11, 0, straight, 1);
    assert_int_equal(ww_arms_solve(&arms, board.line, &request, &none, &error), WW_INVALID);
    list[0] = arm("nowhere", NAN, 0, straight, 1);
    assert_int_equal(ww_arms_solve(&arms, board.line, &request, &none, &error), WW_INVALID);
    request.arms = WW_ARMS_MOST;
    assert_int_equal(ww_arms_solve(&arms, board.line, &request, &none, &error), WW_INVALID);
    assert_int_equal(arms.count, 0);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_is_solved_for_a_trace_alone),
                                       cmocka_unit_test(equal_arms_at_one_place_do_not_differ),
                                       cmocka_unit_test(two_arms_are_two_feeds),
                                       cmocka_unit_test(lanes_are_arms_side_by_side),
                                       cmocka_unit_test(the_order_of_arms_does_not_matter),
                                       cmocka_unit_test(threads_do_not_change_the_set),
                                       cmocka_unit_test(the_worst_is_the_most_of_all_placements),
                                       cmocka_unit_test(pairs_are_judged_by_their_skews),
                                       cmocka_unit_test(what_is_no_set_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
