/* Which pitch and width null the skew: the nulls that geometry gives, and how they are lost.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "chance/placements.h"
#include "weftwise/sweep.h"

#include <stdlib.h>

#define WARP (25.4e-3 / 60) /* pitches of the cloth */
#define FILL (25.4e-3 / 47)
#define LENGTH 40e-3

static void open_board(struct board *board, double pitch)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.5;
    options.pitch = pitch;
    board_open(board, &options);
}

/* About the warp pitch, at one width. */
static struct ww_pitch_request request_of(const struct board *board)
{
    return (struct ww_pitch_request){.stack = &board->stack,
                                     .trace = {100 * UM, 15 * UM, 220 * UM},
                                     .line = {.fineness = 0.5},
                                     .skew = {.length = LENGTH, .scan = {.positions = 64}},
                                     .pitch_from = 200 * UM,
                                     .pitch_to = 1000 * UM,
                                     .width_from = 100 * UM,
                                     .width_to = 100 * UM,
                                     .pitches = 33,
                                     .widths = 1};
}

static struct ww_pitch solve(const struct ww_pitch_request *request)
{
    struct ww_pitch pitch;
    struct ww_error error = {0};
    assert_ok(ww_pitch_solve(&pitch, request, &error), error);
    for (size_t i = 1; i < pitch.pitches; i++)
        assert_true(pitch.pitch[i] > pitch.pitch[i - 1]);
    for (size_t i = 1; i < pitch.widths; i++)
        assert_true(pitch.width[i] > pitch.width[i - 1]);
    return pitch;
}

static double largest(const double *value, size_t count)
{
    double most = value[0];
    for (size_t i = 1; i < count; i++)
        most = fmax(most, value[i]);
    return most;
}

/* --- where nulls are ------------------------------------------------------------------------------------------------------ */

/* Legs a cell apart see the same in every point. */
static void a_pitch_of_the_cell_nulls_whatever_the_length(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    const double lengths[] = {LENGTH, 1.37 * LENGTH, 10.3 * FILL};
    for (size_t i = 0; i < 3; i++) {
        struct ww_pitch_request request = request_of(&board);
        request.skew.length = lengths[i];
        struct ww_pitch pitch = solve(&request);
        double most = largest(pitch.worst, pitch.pitches);
        assert_true(pitch.nulls >= 2);
        const struct ww_null *null = &pitch.null[pitch.nulls - 1];
        assert_false(null->in_width);
        /* a whole tenth of a um; the grid moves a pitch by 5e-4 of the width */
        assert_close(null->pitch / (0.1 * UM), round(null->pitch / (0.1 * UM)), 1e-9, 0);
        assert_close(null->pitch, 2 * WARP, 0, 0.5 * UM);
        assert_true(null->worst < 1e-3 * most);
        assert_close(null->width, 100 * UM, 1e-12, 0);
        assert_true(null->impedance > 50 && null->impedance < 200);
        ww_pitch_clear(&pitch);
    }
    board_close(&board);
}

/* The same, on a pitch that is the cell's to the last digit: width 100 um and pitch 2 warp pitches share a step where the
 * cloth has 63.5 ends an inch, 400 um apart. */
static void at_the_cell_itself_nothing_is_left(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    struct ww_error error = {0};
    board.layer[3].style.warp_count.value = 1 / (400 * UM);
    ww_stack_clear(&board.stack);
    assert_ok(ww_stack_build(&board.stack, &(struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8}, &error), error);
    request.skew.budget = 1e-12;
    struct ww_pitch pitch = solve(&request);
    double most = largest(pitch.worst, pitch.pitches);
    assert_int_equal(pitch.nulls, 2);
    assert_close(pitch.null[1].pitch, 800 * UM, 1e-9, 0);
    assert_close(pitch.null[1].worst, 0, 0, 1e-6 * most);
    /* both meet the budget, and one warp pitch is nearer to the study's own */
    assert_close(pitch.null_pitch, 400 * UM, 1e-9, 0);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* One warp pitch apart a leg crosses over where the other crosses under: what an odd fill pitch at the end leaves over. It
 * is nothing for whole cells, and grows no further with length. */
static void a_pitch_of_one_warp_leaves_only_the_end(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, WARP);
    const double cells[] = {10, 10.5, 40, 40.5};
    double left[4], most = 0;
    for (size_t i = 0; i < 4; i++) {
        struct ww_skew_request request = {.length = cells[i] * 2 * FILL, .scan = {.positions = 64}};
        struct ww_placements turned;
        struct ww_error error = {0};
        assert_ok(ww_placements_solve(&turned, board.line, &request, 0, false, &error), error);
        left[i] = turned.worst;
        ww_placements_clear(&turned);
    }
    board_close(&board);
    open_board(&board, 0.5 * WARP);
    struct ww_skew_request request = {.length = 20 * FILL, .scan = {.positions = 64}};
    struct ww_placements turned;
    struct ww_error error = {0};
    assert_ok(ww_placements_solve(&turned, board.line, &request, 0, false, &error), error);
    most = turned.worst;
    ww_placements_clear(&turned);
    board_close(&board);
    /* the grid moves the pitch by up to 0.05 um, 7e-4 of what changes over half a warp pitch */
    assert_true(left[0] < 1e-3 * most && left[2] < 4e-3 * most);
    assert_true(left[1] > 1e-3 * most && left[1] < 0.02 * most);
    assert_close(left[3] - left[2], left[1] - left[0], 0.1, 0);
}

static void both_are_found(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.skew.turn = 1 * DEGREES;
    request.skew.budget = 1e-12;
    struct ww_pitch pitch = solve(&request);
    assert_int_equal(pitch.nulls, 2);
    assert_close(pitch.null[0].pitch, WARP, 0, 0.5 * UM);
    assert_close(pitch.null[1].pitch, 2 * WARP, 0, 0.5 * UM);
    assert_true(pitch.null[0].worst > pitch.null[1].worst);
    /* both meet the budget: the one nearer to the study's own is looked into */
    assert_true(pitch.null[0].worst < 0.01 * largest(pitch.worst, pitch.pitches));
    assert_close(pitch.null_pitch, pitch.null[0].pitch, 1e-12, 0);
    assert_close(pitch.null_width, 100 * UM, 1e-12, 0);
    ww_pitch_clear(&pitch);
    /* where neither does, the one with the least design worst */
    request.skew.budget = 1e-18;
    pitch = solve(&request);
    const struct ww_null *least = &pitch.null[pitch.null[1].design < pitch.null[0].design];
    assert_close(pitch.null_pitch, least->pitch, 1e-12, 0);
    assert_close(pitch.null_with_turn, least->design, 1e-12, 0);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* A null at the end of the range has no choice beyond it to be below. */
static void no_null_where_there_is_none(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.pitch_to = 400 * UM;
    request.pitches = 9;
    struct ww_pitch pitch = solve(&request);
    assert_int_equal(pitch.nulls, 0);
    assert_close(pitch.null_pitch, 400 * UM, 1e-9, 0); /* the least */
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* Wide enough, a single trace averages the warps away; fringes make it look wider than it is. */
static void a_trace_as_wide_as_a_warp_pitch_averages(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.trace.pitch = 0;
    request.width_to = 600 * UM;
    request.widths = 26;
    struct ww_pitch pitch = solve(&request);
    assert_int_equal(pitch.pitches, 1);
    assert_int_equal(pitch.widths, 26);
    assert_close(pitch.pitch[0], 0, 0, 0);
    assert_int_equal(pitch.nulls, 1);
    assert_true(pitch.null[0].in_width);
    assert_true(pitch.null[0].width > 0.7 * WARP && pitch.null[0].width < WARP);
    assert_true(pitch.null[0].worst < 0.1 * pitch.worst[0]);
    assert_close(pitch.null_width, pitch.null[0].width, 1e-12, 0);
    for (size_t i = 1; i < pitch.widths; i++)
        assert_true(pitch.impedance[i] < pitch.impedance[i - 1]);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* --- the map ---------------------------------------------------------------------------------------------------------------- */

/* What ww_skew_solve says of a pair. */
static struct ww_null skew_at(const struct ww_pitch_request *request, double width, double pitch)
{
    struct ww_trace trace = {width, 15 * UM, pitch};
    struct ww_line *line = NULL;
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_line_create(&line, request->stack, &trace, &request->line, &error), error);
    assert_ok(ww_skew_solve(&skew, line, &request->skew, &error), error);
    struct ww_null null = {.worst = skew.worst,
                           .design = fmax(skew.worst, skew.worst_with_turn),
                           .impedance = ww_line_summary(line)->z_diff};
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    return null;
}

static void the_map_is_what_skew_says_within_its_share(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.pitch_from = 150 * UM;
    request.pitch_to = 550 * UM;
    request.width_from = 80 * UM;
    request.width_to = 200 * UM;
    request.pitches = 30;
    request.widths = 20;
    struct ww_pitch pitch = solve(&request);
    double most = largest(pitch.worst, pitch.pitches * pitch.widths);
    size_t touching = 0;
    request.skew.turn = 0;
    for (size_t i = 0; i < pitch.widths; i++)
        for (size_t k = 0; k < pitch.pitches; k++) {
            double worst = pitch.worst[i * pitch.pitches + k], z = pitch.impedance[i * pitch.pitches + k];
            if (pitch.pitch[k] - pitch.width[i] < pitch.gap * (1 - 1e-9)) {
                assert_true(worst < 0 && z < 0);
                touching++;
            } else if ((5 * i + k) % 19 == 0) {
                struct ww_null skew = skew_at(&request, pitch.width[i], pitch.pitch[k]);
                assert_close(worst, skew.worst, 0.01, 2e-3 * most);
                assert_close(z, skew.impedance, 5e-3, 0);
            }
        }
    assert_true(touching > 0 && touching < pitch.widths * pitch.pitches / 2);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

static size_t index_of(const double *list, size_t count, double value)
{
    for (size_t i = 0; i < count; i++)
        if (fabs(list[i] - value) < 1e-12 * value)
            return i;
    fail_msg("no place of the map at %.6g um", value * 1e6);
    return 0;
}

/* Of many rows most are interpolated: at 13 widths all are solved, at 25 in the same range every fourth. */
static void a_row_between_is_what_it_says_when_solved(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.width_from = 80 * UM;
    request.width_to = 200 * UM;
    request.widths = 13;
    struct ww_pitch all = solve(&request);
    request.widths = 25;
    struct ww_pitch some = solve(&request);
    double most = largest(all.worst, all.pitches * all.widths);
    size_t differ = 0;
    assert_int_equal(some.pitches, all.pitches);
    for (size_t i = 0; i < all.widths; i++)
        for (size_t k = 0; k < all.pitches; k++) {
            size_t at = i * all.pitches + k,
                   other = index_of(some.width, some.widths, all.width[i]) * all.pitches + k;
            assert_close(some.worst[other], all.worst[at], 0.01, 5e-4 * most);
            assert_close(some.impedance[other], all.impedance[at], 1e-3, 0);
            differ += some.worst[other] != all.worst[at];
        }
    assert_true(differ > 0);
    ww_pitch_clear(&some);
    ww_pitch_clear(&all);
    board_close(&board);
}

/* The figure's marks lie on places of the map, and their colour is what is told of them (issue 13: 0.60 against 0.41 ps). */
static void a_marker_tells_other_than_the_colour_under_it(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.skew.turn = 1 * DEGREES;
    request.width_from = 90 * UM;
    request.width_to = 110 * UM;
    request.pitches = 40;
    request.widths = 4;
    struct ww_pitch pitch = solve(&request);
    double most = largest(pitch.worst, pitch.pitches * pitch.widths);
    assert_int_equal(pitch.nulls, 2);
    for (size_t i = 0; i <= pitch.nulls; i++) {
        const struct ww_null *told = i < pitch.nulls ? &pitch.null[i] : &pitch.own;
        size_t at = index_of(pitch.width, pitch.widths, told->width) * pitch.pitches +
                    index_of(pitch.pitch, pitch.pitches, told->pitch);
        struct ww_null skew = skew_at(&request, told->width, told->pitch);
        assert_close(told->worst, skew.worst, 1e-9, 0);
        assert_close(told->design, skew.design, 1e-9, 0);
        assert_close(pitch.worst[at], skew.worst, 0.01, 2e-3 * most);
    }
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* --- losing it --------------------------------------------------------------------------------------------------------------- */

/* Stretched by s, the cell is no longer the pitch: the skew is that of a pitch off by s, straight in s. */
static void stretching_loses_the_null_in_proportion(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    struct ww_pitch pitch = solve(&request);
    double most = largest(pitch.worst, pitch.pitches);
    size_t middle = pitch.count / 2, half = middle / 2;
    assert_int_equal(pitch.count % 2, 1);
    assert_close(pitch.stretch[middle], 0, 0, 1e-15);
    assert_close(pitch.stretch[pitch.count - 1], 0.03, 1e-12, 0);
    assert_close(pitch.stretch[0], -0.03, 1e-12, 0);
    assert_true(pitch.at_stretch[middle] < 1e-3 * most);
    assert_true(pitch.at_stretch[pitch.count - 1] > 0.05 * most);
    assert_close(pitch.at_stretch[middle + half], 0.5 * pitch.at_stretch[middle + 2 * half], 0.05, 0);
    assert_close(pitch.at_stretch[middle - half], pitch.at_stretch[middle + half], 0.05, 0);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* Turned by an angle, legs stay a pitch apart but for 1 - cos(angle): a null along the warp is hardly lost, while off the
 * null the skew of the study's own pitch is there at once. */
static void turning_hardly_loses_it(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    request.skew.turn = 1 * DEGREES;
    struct ww_pitch pitch = solve(&request);
    double most = largest(pitch.worst, pitch.pitches);
    assert_close(pitch.angle[pitch.count / 2], 0, 0, 1e-15);
    assert_close(pitch.angle[pitch.count - 1], 3 * DEGREES, 1e-12, 0);
    for (size_t i = 0; i < pitch.count; i++)
        assert_true(pitch.at_angle[i] < 0.02 * most);
    assert_close(pitch.at_angle[pitch.count / 2], pitch.at_stretch[pitch.count / 2], 1e-9, 1e-20);
    assert_true(pitch.null_with_turn >= pitch.at_angle[pitch.count / 2] * (1 - 1e-9));
    assert_true(pitch.null_with_turn < 0.02 * most);
    ww_pitch_clear(&pitch);
    board_close(&board);
}

/* --- what is refused, and what does not matter ----------------------------------------------------------------------------- */

static void refuse(const struct ww_pitch_request *request, const char *says)
{
    struct ww_pitch pitch;
    struct ww_error error = {0};
    assert_int_equal(ww_pitch_solve(&pitch, request, &error), WW_INVALID);
    assert_contains(error.text, says);
    assert_null(pitch.worst);
}

static void what_is_no_question_is_refused(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    const struct ww_pitch_request good = request_of(&board);
    struct ww_pitch_request request = good;
    request.pitch_to = 150 * UM;
    refuse(&request, "is no range");
    request = good;
    request.width_from = 0;
    refuse(&request, "is no range");
    request = good;
    request.width_to = NAN;
    refuse(&request, "is no range");
    request = good;
    request.pitch_to = 21e-3;
    refuse(&request, "is no range");
    request = good;
    request.pitches = 1;
    refuse(&request, "give 2 or more");
    request = good;
    request.widths = 0;
    refuse(&request, "give 2 or more");
    request = good;
    request.pitches = WW_PITCH_MOST + 1;
    refuse(&request, "more than 200000 points");
    request = good;
    request.width_to = 200 * UM;
    request.widths = (size_t)-1;
    refuse(&request, "more than 200000 points");
    request = good;
    request.pitch_from = 50 * UM;
    request.pitch_to = 90 * UM;
    refuse(&request, "no pair can be built");
    board_close(&board);
}

static void follow(void *context, double share)
{
    double *last = context;
    assert_true(share >= *last && share <= 1);
    *last = share;
}

static void threads_do_not_matter(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, 220 * UM);
    struct ww_pitch_request request = request_of(&board);
    double told = 0;
    request.progress = (struct ww_progress){follow, &told};
    ww_threads_set(1);
    struct ww_pitch a = solve(&request);
    assert_close(told, 1, 0, 1e-12);
    ww_threads_set(3);
    told = 0;
    struct ww_pitch b = solve(&request);
    ww_threads_set(0);
    assert_int_equal(a.pitches, b.pitches);
    assert_int_equal(a.nulls, b.nulls);
    assert_memory_equal(a.worst, b.worst, a.pitches * sizeof *a.worst);
    assert_memory_equal(&a.null[0].worst, &b.null[0].worst, sizeof(double));
    assert_memory_equal(a.at_angle, b.at_angle, a.count * sizeof *a.at_angle);
    assert_memory_equal(a.at_stretch, b.at_stretch, a.count * sizeof *a.at_stretch);
    ww_pitch_clear(&a);
    ww_pitch_clear(&a);
    ww_pitch_clear(&b);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pitch_of_the_cell_nulls_whatever_the_length),
        cmocka_unit_test(at_the_cell_itself_nothing_is_left),
        cmocka_unit_test(a_pitch_of_one_warp_leaves_only_the_end),
        cmocka_unit_test(both_are_found),
        cmocka_unit_test(no_null_where_there_is_none),
        cmocka_unit_test(a_trace_as_wide_as_a_warp_pitch_averages),
        cmocka_unit_test(the_map_is_what_skew_says_within_its_share),
        cmocka_unit_test(a_row_between_is_what_it_says_when_solved),
        cmocka_unit_test(a_marker_tells_other_than_the_colour_under_it),
        cmocka_unit_test(stretching_loses_the_null_in_proportion),
        cmocka_unit_test(turning_hardly_loses_it),
        cmocka_unit_test(what_is_no_question_is_refused),
        cmocka_unit_test(threads_do_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
