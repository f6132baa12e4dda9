/* test_spacing.c - the worst over spacing, and the yield over lane pitch, against the answer at each.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/sweep.h"

static void open(struct board *board, bool pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.5;
    board_open(board, &options);
}

static struct ww_skew answer(const struct board *board, const struct ww_skew_request *request)
{
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, request, &error), error);
    return skew;
}

/* What is told at a spacing is what the answer is when that spacing is typed back; the nulls are multiples of the warp pitch. */
static void what_is_told_is_what_comes_back(void **state)
{
    (void)state;
    struct board board;
    struct ww_spacing spacing;
    struct ww_error error = {0};
    open(&board, false);
    struct ww_skew_request request = {
        .length = 25e-3, .turn = 1 * DEGREES, .warp_tolerance = 0.01, .fill_tolerance = 0.01};
    request.scan.spacing = 1.9e-3;
    struct ww_skew own = answer(&board, &request);
    struct ww_spacing_request sweep = {.skew = request, .answer = &own, .least = 200e-6};
    assert_ok(ww_spacing_solve(&spacing, board.line, &sweep, &error), error);
    assert_int_equal(spacing.nulls, 3);
    assert_int_equal(spacing.pitches, 0);
    for (size_t i = 0; i < spacing.nulls; i++) {
        double warps = spacing.null[i].spacing / (25.4e-3 / 60);
        assert_close(spacing.null[i].yarns, round(warps), 0, 0);
        assert_close(warps, round(warps), 0, 0.01);
        request.scan.spacing = spacing.null[i].spacing;
        struct ww_skew back = answer(&board, &request);
        assert_close(spacing.null[i].with_turn, back.worst_with_turn, 1e-6, 1e-4 * own.spread);
        assert_close(spacing.null[i].worst, back.worst, 0, 5e-3 * own.spread);
        assert_true(back.worst_with_turn < 0.5 * own.worst_with_turn);
        ww_skew_clear(&back);
    }
    for (size_t i = 3; i < spacing.count; i += 60) {
        request.scan.spacing = spacing.spacing[i];
        struct ww_skew back = answer(&board, &request);
        assert_close(spacing.with_turn[i], back.worst_with_turn, 0.01, 5e-3 * own.spread);
        assert_close(spacing.worst[i], back.worst, 0, 5e-3 * own.spread);
        ww_skew_clear(&back);
    }
    assert_close(spacing.apart, own.spread, 1e-12, 0);
    assert_true(spacing.apart_with_turn >= spacing.apart);
    ww_spacing_clear(&spacing);
    ww_skew_clear(&own);
    board_close(&board);
}

static void the_best_lane_pitch_comes_back(void **state)
{
    (void)state;
    struct board board;
    struct ww_spacing spacing;
    struct ww_error error = {0};
    open(&board, true);
    struct ww_skew_request request = {
        .length = 25e-3, .turn = 2 * DEGREES, .budget = 0.8e-12, .lanes = 8, .lane_pitch = 0.7e-3};
    struct ww_skew own = answer(&board, &request);
    struct ww_spacing_request sweep = {.skew = request, .answer = &own, .least = 420e-6};
    assert_ok(ww_spacing_solve(&spacing, board.line, &sweep, &error), error);
    assert_int_equal(spacing.count, 0); /* a pair: no feeds */
    assert_true(spacing.pitches > 20 && spacing.lanes == 8);
    double warps = spacing.best_pitch / (12.7e-3 / 60); /* half pitches: of a pair the skew changes sign alone */
    assert_close(warps, round(warps), 0, 0.01);
    request.lane_pitch = spacing.best_pitch;
    struct ww_skew back = answer(&board, &request);
    assert_close(spacing.best_yield, back.yield, 0, 5e-3);
    assert_close(spacing.best_expected, back.expected_worst, 0.01, 0);
    assert_true(back.yield > own.yield + 0.01);
    for (size_t i = 0; i < spacing.pitches; i++)
        if (fabs(spacing.pitch[i] - 0.7e-3) < 20e-6)
            assert_close(spacing.yield[i], own.yield, 0, 0.02);
    ww_skew_clear(&back);
    ww_spacing_clear(&spacing);
    sweep.least = 0;
    assert_int_equal(ww_spacing_solve(&spacing, board.line, &sweep, &error), WW_INVALID);
    assert_int_equal(spacing.count + spacing.pitches, 0);
    ww_skew_clear(&own);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_told_is_what_comes_back),
        cmocka_unit_test(the_best_lane_pitch_comes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
