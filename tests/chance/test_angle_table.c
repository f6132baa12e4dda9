/* Harmonics interpolated between scanned angles, and what they reach, against all positions at the very angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "chance/angle_table.h"
#include "chance/placements.h"

#define LENGTH 15e-3

/* Two plies, one of them turned, or one; coarse cells and grids hold these just as well as fine ones. */
static void open(struct board *board, bool pair, bool both)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    options.above = both;
    options.turn_above = both ? 3 * DEGREES : 0;
    board_open(board, &options);
}

static struct ww_angle_table *table_of(const struct board *board, const struct ww_skew_request *request, double from,
                                       double to)
{
    struct ww_angle_table *table;
    struct ww_progress_run silent = {0};
    struct ww_error error = {0};
    assert_ok(ww_angle_table_create(&table, board->line, request, from * DEGREES, to * DEGREES, 2 * LENGTH, &silent,
                                    &error),
              error);
    return table;
}

static struct ww_evaluator *evaluator_of(const struct ww_angle_table *table)
{
    struct ww_evaluator *evaluator;
    struct ww_error error = {0};
    assert_ok(ww_evaluator_create(&evaluator, table, &error), error);
    return evaluator;
}

/* Every ply's greatest and least, and the worst of all, at the length of the request and at others. */
static void reach_is_that_of_all_positions(void **state)
{
    (void)state;
    for (int kind = 0; kind < 2; kind++) {
        struct board board;
        open(&board, kind == 0, kind == 0);
        struct ww_skew_request request = {.length = LENGTH};
        struct ww_angle_table *table = table_of(&board, &request, -1, 20);
        struct ww_evaluator *evaluator = evaluator_of(table);
        double most = 0;
        for (int i = 0; i < 14; i++) {
            double angle = (-1 + 1.573 * i) * DEGREES, stretch = i % 3 == 0 ? 1 : i % 3 == 1 ? 0.37 : 1.9;
            struct ww_skew_request here = request;
            struct ww_placements placements;
            struct ww_error error = {0};
            here.length = stretch * LENGTH;
            assert_ok(ww_placements_solve(&placements, board.line, &here, angle, false, &error), error);
            most = fmax(most, placements.worst);
            ww_evaluator_turn(evaluator, angle);
            for (size_t p = 0; p < placements.plies; p++) {
                struct ww_reach reach = ww_evaluator_reach(evaluator, p, stretch);
                double size = fmax(placements.high[p].value, -placements.low[p].value);
                assert_close(reach.high, placements.high[p].value, 0, fmax(0.005 * size, 1e-5 * most));
                assert_close(reach.low, placements.low[p].value, 0, fmax(0.005 * size, 1e-5 * most));
            }
            assert_close(ww_evaluator_worst(evaluator, stretch), placements.worst, 0.005, 1e-5 * most);
            ww_placements_clear(&placements);
        }
        assert_true(most > 1e-14);
        ww_evaluator_destroy(evaluator);
        ww_angle_table_destroy(table);
        board_close(&board);
    }
}

/* Whatever range it was made for, a table has the same angles, the same harmonics at them, and so the same values. */
static void ranges_agree_where_they_meet(void **state)
{
    (void)state;
    struct board board;
    open(&board, true, true);
    struct ww_skew_request request = {.length = LENGTH};
    struct ww_angle_table *wide = table_of(&board, &request, 0, 20), *narrow = table_of(&board, &request, 7.3, 9.1);
    assert_close(narrow->step, wide->step, 0, 0);
    double apart = (narrow->first - wide->first) / wide->step;
    size_t offset = (size_t)round(apart);
    assert_close(apart, (double)offset, 0, 1e-9);
    assert_true(wide->first < 0 && narrow->first < 7.3 * DEGREES);
    assert_true(narrow->first + (double)(narrow->count - 1) * narrow->step > 9.1 * DEGREES);
    for (size_t p = 0; p < 2; p++) {
        const struct ww_angle_table_ply *a = &wide->ply[p], *b = &narrow->ply[p];
        double size = cabs(a->slowness[0][0]);
        size_t both = 0;
        for (size_t w = 0; w < b->harmonics; w++)
            for (size_t v = 0; v < a->harmonics; v++)
                if (a->order[v].m == b->order[w].m && a->order[v].l == b->order[w].l)
                    for (size_t i = 0; i < narrow->count; i++, both++)
                        assert_close(cabs(b->slowness[1][i * b->harmonics + w] -
                                          a->slowness[1][(offset + i) * a->harmonics + v]),
                                     0, 0, 1e-13 * size);
        assert_true(both > 20 * narrow->count);
    }
    struct ww_evaluator *of_wide = evaluator_of(wide), *of_narrow = evaluator_of(narrow);
    for (double angle = 7.3; angle < 9.1; angle += 0.37) {
        ww_evaluator_turn(of_wide, angle * DEGREES);
        ww_evaluator_turn(of_narrow, angle * DEGREES);
        assert_close(ww_evaluator_worst(of_narrow, 1), ww_evaluator_worst(of_wide, 1), 1e-3, 0);
    }
    ww_evaluator_destroy(of_wide);
    ww_evaluator_destroy(of_narrow);
    ww_angle_table_destroy(wide);
    ww_angle_table_destroy(narrow);
    board_close(&board);
}

/* The first rows of a map hold every value: of plain weave half of them, and the other half repeats these half a cell on. */
static void rows_of_a_map_hold_every_value(void **state)
{
    (void)state;
    struct board board;
    open(&board, true, false);
    struct ww_skew_request request = {.length = LENGTH};
    struct ww_angle_table *table = table_of(&board, &request, 4, 6);
    struct ww_evaluator *evaluator = evaluator_of(table);
    size_t rows;
    ww_evaluator_turn(evaluator, 5.3 * DEGREES);
    struct ww_reach reach = ww_evaluator_reach(evaluator, 0, 1);
    struct ww_map map = ww_evaluator_map(evaluator, 0, 1, &rows);
    assert_int_equal(rows, map.ny / 2);
    double high = -INFINITY, low = INFINITY;
    for (size_t iy = 0; iy < map.ny; iy++)
        for (size_t ix = 0; ix < map.nx; ix++) {
            double here = map.value[iy * map.nx + ix];
            high = fmax(high, here);
            low = fmin(low, here);
            size_t there = (iy + rows) % map.ny * map.nx + (ix + map.nx / 2) % map.nx;
            assert_close(map.value[there], here, 0, 1e-12 * reach.high);
        }
    double range = high - low; /* tops rise over their samples, but little */
    assert_true(reach.high >= high && reach.high < high + 0.01 * range);
    assert_true(reach.low <= low && reach.low > low - 0.01 * range);
    ww_evaluator_destroy(evaluator);
    ww_angle_table_destroy(table);
    board_close(&board);
}

/* Along the warp the harmonics (m, 0) grow for ever: from a length to its double the worst grows by that. Others saturate. */
static void growth_is_what_a_longer_trace_adds(void **state)
{
    (void)state;
    for (int kind = 0; kind < 2; kind++) {
        struct board board;
        open(&board, kind == 0, false);
        struct ww_skew_request request = {.length = LENGTH};
        struct ww_angle_table *table = table_of(&board, &request, 0, 0);
        struct ww_evaluator *evaluator = evaluator_of(table);
        int harmonic = 0;
        ww_evaluator_turn(evaluator, 0);
        double growth = ww_evaluator_growth(evaluator, 0, 1, 0, 0, &harmonic);
        double added = ww_evaluator_worst(evaluator, 2) - ww_evaluator_worst(evaluator, 1);
        assert_close(growth * LENGTH, added, 0.01, 0);
        assert_int_equal(harmonic, 2); /* plain weave repeats along x with every yarn */
        assert_close(ww_evaluator_growth(evaluator, 0, 1, 0, 100 * growth, &harmonic), 0, 0, 0);
        assert_close(ww_evaluator_growth(evaluator, 0, 0, 1, 0, &harmonic), 0, 0, 0);
        ww_evaluator_turn(evaluator, 0.01 * DEGREES);
        assert_close(ww_evaluator_growth(evaluator, 0, 1, 0, 0, &harmonic), 0, 0, 0);
        ww_evaluator_destroy(evaluator);
        ww_angle_table_destroy(table);
        board_close(&board);
    }
}

/* Segments of a zig-zag that are equal are summed up as one: as if none were quite equal, and bends count as much. */
static void equal_segments_count_each(void **state)
{
    enum { SEGMENTS = 7, KINDS = 2 };
    struct board board;
    struct ww_route_segment route[KINDS][SEGMENTS];
    double worst[KINDS][4];
    (void)state;
    open(&board, true, true);
    for (int k = 0; k < KINDS; k++) {
        for (int i = 0; i < SEGMENTS; i++)
            route[k][i] = (struct ww_route_segment){.length = LENGTH / (i == 2 ? 5 : SEGMENTS) * (1 + k * i * 1e-10),
                                                    .angle = ((i % 2 ? -9 : 9) + k * i * 1e-9) * DEGREES};
        struct ww_skew_request request = {
            .length = LENGTH, .scan = {.spacing = 0.8e-3, .bends = true}, .route = route[k], .segments = SEGMENTS};
        struct ww_angle_table *table = table_of(&board, &request, 0, 12);
        struct ww_evaluator *evaluator = evaluator_of(table);
        for (int i = 0; i < 4; i++) {
            ww_evaluator_judge(evaluator, i < 2 ? WW_SKEW : i == 2 ? WW_APART : WW_LEG2, request.scan.spacing);
            ww_evaluator_turn(evaluator, 3.7 * i * DEGREES);
            worst[k][i] = ww_evaluator_worst(evaluator, i == 1 ? 1.7 : 1);
        }
        ww_evaluator_destroy(evaluator);
        ww_angle_table_destroy(table);
    }
    for (int i = 0; i < 4; i++) {
        assert_true(worst[0][i] > 1e-14);
        assert_close(worst[0][i], worst[1][i], 1e-6, 0);
    }
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reach_is_that_of_all_positions),     cmocka_unit_test(ranges_agree_where_they_meet),
        cmocka_unit_test(rows_of_a_map_hold_every_value),     cmocka_unit_test(equal_segments_count_each),
        cmocka_unit_test(growth_is_what_a_longer_trace_adds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
