/* The map of angle by length.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "chance/placements.h"
#include "weftwise/sweep.h"

#define LENGTH 40e-3

static void open_pair(struct board *board)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    board_open(board, &options);
}

static struct ww_lengths_request request_of(double from, double to, double step)
{
    return (struct ww_lengths_request){
        .angles = {.skew = {.length = LENGTH}, .from = from * DEGREES, .to = to * DEGREES, .step = step * DEGREES},
        .from = 2e-3,
        .to = 120e-3,
        .count = 60};
}

static double worst_at(const struct board *board, double angle, double length)
{
    struct ww_skew_request request = {.length = length};
    struct ww_placements turned;
    struct ww_error error = {0};
    assert_ok(ww_placements_solve(&turned, board->line, &request, angle, false, &error), error);
    double worst = turned.worst;
    ww_placements_clear(&turned);
    return worst;
}

static void every_point_is_the_full_answer(void **state)
{
    (void)state;
    struct board board;
    struct ww_lengths lengths;
    struct ww_error error = {0};
    open_pair(&board);
    struct ww_lengths_request request = request_of(0, 90, 3);
    assert_ok(ww_lengths_solve(&lengths, board.line, &request, &error), error);
    assert_int_equal(lengths.lengths, 60);
    assert_true(lengths.angles > 31); /* those asked for, and the diagonal */
    assert_close(lengths.length[0], 2e-3, 1e-12, 0);
    assert_close(lengths.length[59], 120e-3, 1e-12, 0);
    double most = lengths.worst[59 * lengths.angles];
    for (size_t a = 0; a < lengths.angles; a += 3)
        for (size_t k = 1; k < lengths.lengths; k += 9) {
            double want = worst_at(&board, lengths.angle[a], lengths.length[k]);
            assert_close(lengths.worst[k * lengths.angles + a], want, 0.01, 1e-5 * most);
        }
    ww_lengths_clear(&lengths);
    board_close(&board);
}

static void grows_along_the_yarns_and_saturates_beside_them(void **state)
{
    (void)state;
    struct board board;
    struct ww_lengths lengths;
    struct ww_error error = {0};
    open_pair(&board);
    struct ww_lengths_request request = request_of(0, 20, 10);
    request.from =
        board.stack.ply[0].cell.ly; /* along the warp, all harmonics but those with k.u = 0 end where they began */
    request.to = 60 * request.from;
    assert_ok(ww_lengths_solve(&lengths, board.line, &request, &error), error);
    size_t angles = lengths.angles, last = angles - 1;
    double most = 0, most_later = 0;
    for (size_t k = 0; k < lengths.lengths; k++) {
        assert_close(lengths.worst[k * angles], lengths.worst[0] * lengths.length[k] / lengths.length[0], 1e-9, 0);
        assert_true(lengths.reached[k * angles + last] >= lengths.worst[k * angles + last]);
        assert_true(k == 0 || lengths.reached[k * angles + last] >= lengths.reached[(k - 1) * angles + last]);
        if (k < 30)
            most = fmax(most, lengths.worst[k * angles + last]);
        else
            most_later = fmax(most_later, lengths.worst[k * angles + last]);
    }
    assert_true(most_later < 1.3 * most);
    assert_close(lengths.reached[59 * angles + last], fmax(most, most_later), 1e-15, 0);
    assert_true(most_later < 0.1 * lengths.worst[59 * angles]);
    ww_lengths_clear(&lengths);
    board_close(&board);
}

/* A revival between two columns has a column of its own. */
static void diagonal_is_among_the_angles(void **state)
{
    (void)state;
    struct board board;
    struct ww_lengths lengths;
    struct ww_error error = {0};
    open_pair(&board);
    struct ww_lengths_request request = request_of(20, 60, 20);
    assert_ok(ww_lengths_solve(&lengths, board.line, &request, &error), error);
    double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
    bool found = false;
    for (size_t a = 0; a < lengths.angles; a++) {
        assert_true(a == 0 || lengths.angle[a] > lengths.angle[a - 1]);
        found |= fabs(lengths.angle[a] - diagonal) < 1e-9;
    }
    assert_true(found);
    ww_lengths_clear(&lengths);
    board_close(&board);
}

static void requests_out_of_range_are_refused(void **state)
{
    (void)state;
    struct board board;
    open_pair(&board);
    struct ww_lengths_request bad[] = {request_of(0, 90, 0.01), request_of(0, 90, 3), request_of(0, 90, 3),
                                       request_of(0, 90, 3),    request_of(0, 90, 3), request_of(9, 9, 3)};
    bad[1].from = 0;
    bad[2].to = bad[2].from;
    bad[3].count = 1;
    bad[4].to = NAN;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_lengths lengths;
        struct ww_error error = {0};
        assert_int_equal(ww_lengths_solve(&lengths, board.line, &bad[i], &error), WW_INVALID);
        assert_true(error.text[0] != '\0');
        assert_null(lengths.worst);
    }
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_point_is_the_full_answer),
        cmocka_unit_test(grows_along_the_yarns_and_saturates_beside_them),
        cmocka_unit_test(diagonal_is_among_the_angles),
        cmocka_unit_test(requests_out_of_range_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
