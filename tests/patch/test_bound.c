/* What walks over real cloth are bounded by: skew's worst of the same route, and its design worst with turn and counts.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "real_board.h"

/* Over two plies that couple, a zigzag of a pair, bends counted, and an odd single trace with another beside it. The bound of the whole is the worst that `skew`
 * has of that route, of its first part the worst of a route cut there. */
static void a_route_is_bounded_by_what_skew_tells_of_it(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{4e-3, 0.2},
                                                    {3.1e-3, -0.25},
                                                    {2.7e-3, 0.2},
                                                    {1.9e-3, 0.614},
                                                    {3e-3, -0.25}}; /* one along the diagonal of the cell */
    enum { SEGMENTS = sizeof route / sizeof *route };
    const double whole = 14.7e-3;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair);
        options.above = true;
        struct board board;
        struct ww_error error = {0};
        board_open(&board, &options);
        struct ww_real_request request = {.scatter = &none,
                                          .length = whole,
                                          .angle = 0.05,
                                          .route = route,
                                          .segments = SEGMENTS,
                                          .bends = true,
                                          .spacing = pair ? 0 : 1.9e-3,
                                          .boards = 16,
                                          .traces = 16};
        struct ww_real real = solved(&board, &request);
        assert_true(real.route && real.own == real.count - 1);
        for (size_t i = (real.count - 1) % 5; i < real.count; i += 5) {
            const struct ww_at_length *at = &real.at[i];
            struct ww_route_segment part[SEGMENTS];
            size_t segments = 0;
            double left = at->length;
            for (; segments < SEGMENTS && left > 1e-12; segments++) {
                part[segments] = route[segments];
                part[segments].length = fmin(left, route[segments].length);
                left -= part[segments].length;
            }
            /* to the left of the whole, as the second trace is; of a part its own chord is another one */
            if (!pair && i + 1 < real.count)
                continue;
            const struct ww_skew_request asked = {.length = at->length,
                                                  .angle = 0.05,
                                                  .route = part,
                                                  .segments = segments,
                                                  .scan = {.bends = true, .spacing = request.spacing},
                                                  .design_only = true};
            struct ww_skew skew;
            assert_ok(ww_skew_solve(&skew, board.line, &asked, &error), error);
            assert_close(at->bound, skew.worst, 1e-9, 0);
            ww_skew_clear(&skew);
            assert_true(at->square.worst <= at->bound * (1 + 1e-6));
            assert_true(at->square.worst > 0.7 * at->bound);
        }
        ww_real_clear(&real);
        request.longest = 20e-3;
        assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
        board_close(&board);
    }
}

/* Along a diagonal the counts decide: what boards without scatter have within the turn and the counts is within skew's design worst and near
 * it, and more than as woven. */
static void counts_are_bounded_by_the_design_worst(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    struct ww_error error = {0};
    struct ww_skew skew;
    board_open(&board, &options);
    const double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
    struct ww_real_request request = {.scatter = &none,
                                      .length = 20e-3,
                                      .longest = 20e-3,
                                      .angle = diagonal + 0.02,
                                      .turn = 0.004,
                                      .boards = 24,
                                      .traces = 10,
                                      .design = true};
    struct ww_real woven = solved(&board, &request);
    request.warp_tolerance = 0.03;
    struct ww_real real = solved(&board, &request);
    const struct ww_skew_request asked = {
        .length = request.length, .angle = request.angle, .turn = request.turn, .warp_tolerance = 0.03};
    assert_ok(ww_skew_solve(&skew, board.line, &asked, &error), error);
    const struct ww_at_length *own = &real.at[real.own];
    assert_true(real.counts && !woven.counts);
    assert_close(real.design, fmax(skew.worst, skew.worst_with_turn), 1e-12, 0);
    assert_true(own->turned.worst <= 1.005 * real.design && own->turned.worst > 0.7 * real.design);
    assert_close(own->square.worst, woven.at[woven.own].square.worst, 1e-12, 0);
    assert_true(woven.at[woven.own].turned.worst < 0.7 * own->turned.worst);
    assert_true(own->turned.median.low <= skew.tolerant_median && skew.tolerant_median <= own->turned.median.high);
    assert_close(own->turned.median.value, skew.tolerant_median, 0.2, 0);
    ww_skew_clear(&skew);
    ww_real_clear(&real);
    ww_real_clear(&woven);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_route_is_bounded_by_what_skew_tells_of_it),
        cmocka_unit_test(counts_are_bounded_by_the_design_worst),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
