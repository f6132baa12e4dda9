/* The arms of a feed on one board of real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "real_board.h"

static const struct ww_route_segment straight[] = {{4e-3, 0}}, bent[] = {{2e-3, 0.3}, {2.5e-3, -0.2}};

/* Two plies that couple: an equal arm a cell beside the first has nearly its delay, the second ply being turned, and with another at its own
 * angles the set is within what perfect cloth allows of it, and near. */
static void without_scatter_arms_are_within_their_bound(void **state)
{
    (void)state;
    struct board_options options = coarse(false);
    options.turn_above = 0.02;
    options.above = true;
    struct board board;
    board_open(&board, &options);
    const struct ww_arm arm[] = {
        {"equal", {board.stack.ply[0].cell.lx, 0}, (struct ww_route_segment *)straight, 1},
        {"bent", {-1.3e-3, 0.4e-3}, (struct ww_route_segment *)bent, 2},
    };
    struct ww_real_request request = {.scatter = &none,
                                      .length = 4e-3,
                                      .longest = 4e-3,
                                      .turn = 0.01,
                                      .boards = 20,
                                      .traces = 20,
                                      .budget = 1,
                                      .arm = arm,
                                      .arms = 2,
                                      .design = true};
    struct ww_real real = solved(&board, &request);
    const struct ww_real_arms *arms = &real.arms;
    assert_int_equal(arms->count, 3);
    assert_close(arms->yield, 1, 0, 0);
    assert_true(arms->bound > 0 && arms->design >= arms->bound);
    assert_true(arms->square.worst <= 1.002 * arms->bound && arms->square.worst > 0.8 * arms->bound);
    assert_true(arms->turned.worst <= 1.005 * arms->design && arms->turned.worst > 0.6 * arms->design);
    assert_close(arms->deviation[0], arms->deviation[1], 0.02, 0);
    assert_true(arms->correlation[1] > 0.95 && fabs(arms->correlation[2]) < 0.95);
    assert_close(arms->correlation[0], 1, 1e-12, 0);
    ww_real_clear(&real);
    board_close(&board);
}

/* Over one ply without turn a trace a cell beside another is no different: delays do not lie apart, and the larger skew of two pairs is that of
 * either. */
static void an_equal_arm_a_cell_on_is_the_same(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair);
        struct board board;
        board_open(&board, &options);
        const struct ww_arm arm[] = {
            {"equal", {board.stack.ply[0].cell.lx, 0}, (struct ww_route_segment *)straight, 1}};
        struct ww_real_request request = {
            .scatter = &none, .length = 4e-3, .longest = 4e-3, .boards = 16, .traces = 20, .arm = arm, .arms = 1};
        struct ww_real real = solved(&board, &request);
        if (pair)
            assert_close(real.arms.square.worst, real.at[real.own].bound, 0.05, 0);
        else
            assert_close(real.arms.square.worst, 0, 0, 1e-9 * real.arms.deviation[0]);
        assert_close(real.arms.deviation[0], real.arms.deviation[1], 1e-9, 0);
        ww_real_clear(&real);
        board_close(&board);
    }
}

/* Yarns that wander past their neighbours' places within millimetres: an equal arm farther along no longer has the first one's delay. */
static void arms_far_apart_see_other_cloth(void **state)
{
    (void)state;
    struct board_options options = coarse(false);
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    double cell = board.stack.ply[0].cell.ly, far = ceil(15e-3 / cell) * cell;
    struct ww_arm arm[] = {{"beside", {0, cell}, (struct ww_route_segment *)straight, 1},
                           {"far", {0, far}, (struct ww_route_segment *)straight, 1}};
    struct ww_real_request request = {
        .scatter = &wild, .length = 4e-3, .longest = 4e-3, .boards = 24, .traces = 20, .arm = arm, .arms = 2};
    struct ww_real real = solved(&board, &request);
    assert_true(real.arms.correlation[1] > 0.6);
    assert_true(fabs(real.arms.correlation[2]) < 0.3);
    ww_real_clear(&real);
    request.arms = WW_ARMS_MOST;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    assert_contains(error.text, "up to 16 arms");
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_scatter_arms_are_within_their_bound),
        cmocka_unit_test(an_equal_arm_a_cell_on_is_the_same),
        cmocka_unit_test(arms_far_apart_see_other_cloth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
