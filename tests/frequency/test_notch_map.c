/* What the cloth reflects over angle and frequency, against the line solved section by section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "frequency/wideband.h"
#include "line/board.h"

#include <math.h>
#include <stdlib.h>

#define LENGTH 30e-3
enum { PLACES = 16, POINTS = 121 };

static struct ww_skew_request skew_at(double angle)
{
    return (struct ww_skew_request){.length = LENGTH, .angle = angle};
}

/* Root mean square over places of |S11|, or of |Sdd11| and |Scd11|, of the line solved in sections. */
static void solve_places(const struct board *board, double angle, double from, double to, double *rms)
{
    double f[POINTS];
    struct ww_wideband *w = NULL;
    struct ww_error error = {0};
    const struct ww_wideband_request request = {.line = board->line, .skew = skew_at(angle), .lossless = true};
    assert_ok(ww_wideband_create(&w, &request, &error), error);
    for (size_t i = 0; i < POINTS; i++) {
        f[i] = from + (to - from) * (double)i / (POINTS - 1);
        rms[i] = 0;
    }
    for (size_t place = 0; place < PLACES; place++) {
        double start[2][2];
        struct ww_network network;
        ww_wideband_draw(w, 3, place, start);
        assert_ok(ww_wideband_solve_modes(w, (const double(*)[2])start, f, POINTS, &network, &error), error);
        for (size_t i = 0; i < POINTS; i++)
            rms[i] += (network.ports == 4 ? pow(cabs(network.s[16 * i + 5]), 2) + pow(cabs(network.s[16 * i + 1]), 2)
                                          : pow(cabs(network.s[4 * i]), 2)) /
                      PLACES;
        ww_network_clear(&network);
    }
    for (size_t i = 0; i < POINTS; i++)
        rms[i] = sqrt(rms[i]);
    ww_wideband_destroy(w);
}

static struct ww_notch_map map_at(const struct board *board, double angle, double from, double to)
{
    struct ww_wideband *w = NULL;
    struct ww_notch_map map;
    struct ww_error error = {0};
    const struct ww_wideband_request request = {.line = board->line, .skew = skew_at(0), .lossless = true};
    const struct ww_notch_map_request wanted = {.skew = skew_at(0),
                                                .from = angle - 1e-4 * DEGREES,
                                                .to = angle + 1e-4 * DEGREES,
                                                .angles = 2,
                                                .lowest = from,
                                                .highest = to,
                                                .points = POINTS};
    assert_ok(ww_wideband_create(&w, &request, &error), error);
    assert_ok(ww_notch_map_solve(&map, w, &wanted, &error), error);
    ww_wideband_destroy(w);
    return map;
}

/* Where the solved line reflects most, the map has it within a step of frequency and 4 %; nowhere is the map below the solved
 * line, but for the chance of so few places, and in all it is not far above: an envelope of sines has up to twice their mean
 * square. */
static void compare(const struct board *board, double angle, double highest, double least)
{
    double rms[POINTS], solved = 0, ours = 0;
    size_t most = 0, top = 0;
    solve_places(board, angle, 2e9, highest, rms);
    struct ww_notch_map map = map_at(board, angle, 2e9, highest);
    for (size_t i = 0; i < POINTS; i++) {
        double here = map.reflection[2 * i];
        most = rms[i] > rms[most] ? i : most;
        top = here > map.reflection[2 * top] ? i : top;
        solved += rms[i] * rms[i];
        ours += here * here;
        assert_true(here > 0.7 * rms[i]);
    }
    assert_true(rms[most] > least);
    assert_true(labs((long)most - (long)top) <= 1);
    assert_close(map.reflection[2 * top], rms[most], 0.04, 0);
    assert_true(ours < 2.5 * solved);
    ww_notch_map_clear(&map);
}

static void the_map_is_the_solved_line(void **state)
{
    struct board board;
    struct board_options pair = board_pair(), plain = board_plain();
    (void)state;
    board_open(&board, &plain);
    compare(&board, 3 * DEGREES, 20e9, 0.04);
    compare(&board, 10 * DEGREES, 60e9, 0.15);
    compare(&board, 17 * DEGREES, 60e9, 0.25);
    board_close(&board);
    pair.pitch = 310 * UM;
    board_open(&board, &pair);
    compare(&board, 10 * DEGREES, 60e9, 0.02);
    board_close(&board);
}

/* A cell of a coarse map has the most of what a fine map has in it: no notch falls between two samples. */
static void a_coarse_map_misses_no_notch(void **state)
{
    enum { COARSE = 10, FINE = 10 * COARSE, ROWS = 20 };
    struct board board;
    struct board_options plain = board_plain();
    struct ww_wideband *w = NULL;
    struct ww_notch_map coarse, fine;
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    struct ww_wideband_request request = {.line = board.line, .skew = skew_at(0), .lossless = true};
    request.skew.length = 0.5;
    assert_ok(ww_wideband_create(&w, &request, &error), error);
    struct ww_notch_map_request wanted = {.skew = request.skew,
                                          .to = 20 * DEGREES,
                                          .angles = COARSE + 1,
                                          .lowest = 5e9,
                                          .highest = 60e9,
                                          .points = ROWS + 1};
    assert_ok(ww_notch_map_solve(&coarse, w, &wanted, &error), error);
    wanted.angles = FINE + 1;
    wanted.points = 10 * ROWS + 1;
    assert_ok(ww_notch_map_solve(&fine, w, &wanted, &error), error);
    for (size_t k = 0; k < fine.points; k++)
        for (size_t i = 0; i < fine.angles; i++) {
            if (k % 10 == 5 || i % 10 == 5) /* lies in two of the coarse cells */
                continue;
            double most = coarse.reflection[(k + 5) / 10 * coarse.angles + (i + 5) / 10];
            assert_true(fine.reflection[k * fine.angles + i] < 1.02 * most);
        }
    struct ww_notch_peak a = ww_notch_map_most(&coarse, 0, 20 * DEGREES, 60e9),
                         b = ww_notch_map_most(&fine, 0, 20 * DEGREES, 60e9);
    assert_true(a.reflection > 0.5);
    assert_close(b.reflection, a.reflection, 0.05, 0);
    assert_true(ww_notch_map_most(&fine, 9 * DEGREES, 11 * DEGREES, 20e9).reflection < 0.2 * b.reflection);
    ww_notch_map_clear(&coarse);
    ww_notch_map_clear(&fine);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Segments of a zig-zag that are equal are added up once, times their number: as if none were quite equal. */
static void equal_segments_count_each(void **state)
{
    enum { SEGMENTS = 4 };
    struct board board;
    struct board_options plain = board_plain();
    struct ww_notch_map map[2];
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    for (int k = 0; k < 2; k++) {
        struct ww_route_segment route[SEGMENTS];
        struct ww_wideband *w = NULL;
        struct ww_wideband_request request = {.line = board.line, .skew = skew_at(0), .lossless = true};
        for (int i = 0; i < SEGMENTS; i++)
            route[i] = (struct ww_route_segment){.length = LENGTH / SEGMENTS * (1 + k * i * 1e-10),
                                                 .angle = (i % 2 ? -9 : 9) * DEGREES};
        request.skew.route = route;
        request.skew.segments = SEGMENTS;
        assert_ok(ww_wideband_create(&w, &request, &error), error);
        const struct ww_notch_map_request wanted = {
            .skew = request.skew, .to = 20 * DEGREES, .angles = 11, .lowest = 5e9, .highest = 60e9, .points = 41};
        assert_ok(ww_notch_map_solve(&map[k], w, &wanted, &error), error);
        ww_wideband_destroy(w);
    }
    for (size_t i = 0; i < map[0].points * map[0].angles; i++)
        assert_close(map[0].reflection[i], map[1].reflection[i], 1e-6, 1e-9);
    assert_true(ww_notch_map_most(&map[0], 0, 20 * DEGREES, 60e9).reflection > 0.1);
    ww_notch_map_clear(&map[0]);
    ww_notch_map_clear(&map[1]);
    board_close(&board);
}

static void slips_are_refused(void **state)
{
    struct board board;
    struct board_options plain = board_plain();
    struct ww_wideband *w = NULL;
    struct ww_notch_map map;
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    const struct ww_wideband_request request = {.line = board.line, .skew = skew_at(0), .lossless = true};
    assert_ok(ww_wideband_create(&w, &request, &error), error);
    const struct ww_notch_map_request good = {
        .skew = skew_at(0), .to = 1, .angles = 2, .lowest = 1e9, .highest = 2e9, .points = 2};
    struct ww_notch_map_request bad[] = {good, good, good, good};
    bad[0].to = 0;
    bad[1].angles = 1;
    bad[2].points = 1;
    bad[3].highest = 2e12;
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(ww_notch_map_solve(&map, w, &bad[i], &error), WW_INVALID);
        assert_null(map.reflection);
    }
    ww_wideband_destroy(w);
    board_close(&board);
    plain.below = false;
    board_open(&board, &plain);
    struct ww_wideband_request even = request;
    even.line = board.line;
    assert_ok(ww_wideband_create(&w, &even, &error), error);
    assert_int_equal(ww_notch_map_solve(&map, w, &good, &error), WW_INVALID);
    assert_contains(error.text, "without cloth");
    ww_wideband_destroy(w);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_map_is_the_solved_line),
        cmocka_unit_test(a_coarse_map_misses_no_notch),
        cmocka_unit_test(equal_segments_count_each),
        cmocka_unit_test(slips_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
