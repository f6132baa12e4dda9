/* What long traces see: without scatter the perfect cloth's figures, with little wander nearly those, with much the root of length.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "real_board.h"

#include <string.h>

/* Of a straight trace from random places on perfect cloth: never above the bound, near it at the worst; both grow with length. */
static void without_scatter_it_is_bounded_by_the_perfect_cloth(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair);
        struct board board;
        board_open(&board, &options);
        struct ww_real_request request = {
            .scatter = &none, .length = 20e-3, .longest = 40e-3, .boards = 20, .traces = 20};
        struct ww_real real = solved(&board, &request);
        assert_close(real.at[real.own].length, 20e-3, 1e-12, 0);
        assert_close(real.at[real.count - 1].length, 40e-3, 1e-12, 0);
        assert_true(real.pair == (pair == 1));
        for (size_t i = 0; i < real.count; i++) {
            const struct ww_at_length *at = &real.at[i];
            assert_true(at->square.worst <= at->bound * (1 + 1e-6));
            assert_true(at->square.worst > 0.9 * at->bound);
            assert_true(at->square.median.value <= at->square.p95 && at->square.p95 <= at->square.p99.value);
            assert_true(at->square.p99.low <= at->square.p99.value && at->square.p99.value <= at->square.p99.high);
        }
        assert_close(real.parts, 0, 0, 0);
        assert_close(real.kept, 1, 1e-12, 0);
        ww_real_clear(&real);
        board_close(&board);
    }
}

/* The root of length: 16 times as long, 4 times as much, within a fifth; the turning point is where wander has lost step, some
 * wander_lengths on. */
static void much_wander_loses_step_and_grows_as_the_root_of_length(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    board_open(&board, &options);
    struct ww_real_request request = {
        .scatter = &wild, .length = 10e-3, .longest = 160e-3, .boards = 24, .traces = 8};
    struct ww_real real = solved(&board, &request);
    const struct ww_at_length *last = &real.at[real.count - 1], *own = &real.at[real.own];
    assert_close(last->bound / own->bound, 16, 0.05, 0);
    assert_close(last->square.median.value / own->square.median.value, 4, 0.3, 0);
    assert_close(last->square.p99.value / own->square.p99.value, 4, 0.3, 0);
    assert_true(real.parts > 0.5e-3 && real.parts < 30e-3);
    assert_true(real.kept < 0.01);
    char sentence[1024];
    assert_contains(ww_real_sentence(&real, 0, sentence, sizeof sentence), "nearer to its root");
    ww_real_clear(&real);
    board_close(&board);
}

static void any_number_of_threads_has_the_same_digits(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    board_open(&board, &options);
    struct ww_real_request request = {.scatter = &wild,
                                      .length = 5e-3,
                                      .longest = 10e-3,
                                      .boards = 6,
                                      .traces = 4,
                                      .turn = 0.02,
                                      .lanes = 2,
                                      .lane_pitch = 1e-3,
                                      .budget = 0.1e-12};
    struct ww_real real[2];
    for (int i = 0; i < 2; i++) {
        ww_threads_set(i + 1);
        real[i] = solved(&board, &request);
    }
    ww_threads_set(0);
    assert_int_equal(real[0].count, real[1].count);
    assert_memory_equal(real[0].at, real[1].at, real[0].count * sizeof *real[0].at);
    assert_close(real[0].yield, real[1].yield, 0, 0);
    assert_close(real[0].correlation[0], 1, 1e-12, 0);
    assert_close(real[0].correlation[1], real[1].correlation[1], 0, 0);
    assert_true(fabs(real[0].correlation[1]) <= 1);
    ww_real_clear(&real[0]);
    ww_real_clear(&real[1]);
    board_close(&board);
}

/* A host that solves again from within its first report, and whose shares grow to the end. */
struct host {
    const struct board *board;
    double last, inner;
    bool grew;
};

static const struct ww_real_request few = {
    .scatter = &wild, .length = 5e-3, .longest = 10e-3, .boards = 6, .traces = 4};

static void solve_again(void *context, double share)
{
    struct host *host = context;
    host->grew = host->grew && share > host->last;
    host->last = share;
    if (host->inner > 0)
        return;
    struct ww_real real = solved(host->board, &few);
    host->inner = real.at[real.own].square.worst;
    ww_real_clear(&real);
}

static void a_report_may_solve_again(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    board_open(&board, &options);
    struct host host = {.board = &board, .grew = true};
    struct ww_real_request request = few;
    request.progress = (struct ww_progress){solve_again, &host};
    ww_threads_set(2);
    struct ww_real real = solved(&board, &request);
    ww_threads_set(0);
    assert_true(host.grew && host.last > 0.25);
    assert_true(host.inner == real.at[real.own].square.worst);
    ww_real_clear(&real);
    board_close(&board);
}

/* What is held is a patch for each ply and thread; where not all threads' boards fit, fewer draw; where not one does, it is said before
 * anything is solved. */
static void memory_is_that_of_all_plies_and_threads(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    struct ww_real real;
    struct ww_error error = {0};
    options.above = false;
    board_open(&board, &options);
    struct ww_scatter short_lengths = wild;
    short_lengths.yarn[WW_WARP].wander_length = 0.3e-3;
    struct ww_real_request request = {.scatter = &short_lengths, .length = 1, .longest = 1};
    double bytes[4], most;
    for (int threads = 1; threads < 4; threads++) {
        ww_threads_set(threads);
        bytes[threads] = ww_real_bytes(&board.stack, &board.line->trace, &request);
    }
    double one = bytes[2] - bytes[1], tables = bytes[1] - one;
    assert_close(bytes[3] - bytes[2], one, 1e-9, 0);
    assert_close(tables, 10e6, 0.5, 0); /* of a pair over one ply, one direction */
    board_close(&board);
    options.above = true;
    board_open(&board, &options);
    for (int threads = 1; threads < 3; threads++) {
        ww_threads_set(threads);
        bytes[threads] = ww_real_bytes(&board.stack, &board.line->trace, &request);
    }
    double two = bytes[2] - bytes[1];
    assert_true(two > 1.3 * one && two <= 2 * one);
    ww_threads_set(1000); /* far more than fit */
    most = ww_real_bytes(&board.stack, &board.line->trace, &request) - 2 * tables;
    assert_true(most <= WW_REAL_BYTES && most > 0.9 * WW_REAL_BYTES);
    ww_threads_set(0);
    request.length = request.longest = 10;
    short_lengths.yarn[WW_WARP].wander_length = 0.1e-3;
    short_lengths.yarn[WW_FILL] = short_lengths.yarn[WW_WARP];
    request.angle = 0.7;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_NO_MEMORY);
    assert_contains(error.text, "the cloth of a board, 2 plies of");
    assert_null(real.at);
    board_close(&board);
}

static void what_cannot_be_is_refused(void **state)
{
    (void)state;
    struct board_options options = coarse(false);
    struct board board;
    struct ww_real real;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_real_request request = {.scatter = &wild, .length = 0};
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    request = (struct ww_real_request){.scatter = &wild, .length = 5e-3, .lanes = 4, .lane_pitch = 1e-3};
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    struct ww_scatter apart = wild;
    apart.yarn[WW_WARP].together = 0.1;
    request = (struct ww_real_request){.scatter = &apart, .length = 5e-3, .boards = 4};
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "change places");
    assert_null(real.at);
    board_close(&board);
}

/* Over whole cells of perfect cloth its mean is the ply's, whichever way the trace runs. */
static void the_map_of_dk_has_the_ply_s_mean(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    struct ww_patch *patch;
    struct ww_error error = {0};
    board_open(&board, &options);
    const struct ww_ply *ply = &board.stack.ply[0];
    const double start[2] = {0, 0};
    assert_ok(ww_patch_create(&patch, ww_stack_cloth(&board.stack, 0).style, &none, 3e-3, 3e-3, 0, &error), error);
    for (int turned = 0; turned < 2; turned++) {
        struct ww_map map;
        double sum = 0;
        const struct ww_route_segment whole = {turned ? ply->cell.lx : ply->cell.ly, turned * 0.5 * WW_PI};
        assert_ok(ww_patch_dk_map(&board.stack, 0, patch, start, &whole, 1, turned ? ply->cell.ly : ply->cell.lx, 60,
                                  80, &map, &error),
                  error);
        for (size_t i = 0; i < map.nx * map.ny; i++)
            sum += map.value[i] / (double)(map.nx * map.ny);
        assert_close(sum, ply->dk_series, 2e-3, 0); /* the ply's cell has 24 by 24 samples */
        ww_map_clear(&map);
    }
    struct ww_map map;
    const struct ww_route_segment nothing = {0, 0};
    assert_int_equal(ww_patch_dk_map(&board.stack, 0, patch, start, &nothing, 1, 1e-3, 10, 10, &map, &error),
                     WW_INVALID);
    ww_patch_destroy(patch);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_scatter_it_is_bounded_by_the_perfect_cloth),
        cmocka_unit_test(much_wander_loses_step_and_grows_as_the_root_of_length),
        cmocka_unit_test(any_number_of_threads_has_the_same_digits),
        cmocka_unit_test(the_map_of_dk_has_the_ply_s_mean),
        cmocka_unit_test(a_report_may_solve_again),
        cmocka_unit_test(memory_is_that_of_all_plies_and_threads),
        cmocka_unit_test(what_cannot_be_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
