/* The range of an answer from how well its figures are known.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/chance.h"

#include <stdlib.h>

/* Of the order of the boards below, 4.5 ps. */
static const double worst = 5e-12;

/* A pair over one ply of T1 whose widths are closed, heights too, so that all may move. */
static void open_board(struct board *board, bool above)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 64, .ny = 64, .nz = 8};
    options.fineness = 0.5;
    options.above = above;
    board_open(board, &options);
    for (size_t i = 0; i < board->stack.count; i++) {
        struct ww_style *style = &board->layer[i].style;
        struct ww_datum *closed[] = {&style->warp.width, &style->fill.width, &style->warp.height,
                                     &style->fill.height};
        for (size_t n = 0; n < sizeof closed / sizeof *closed; n++)
            closed[n]->origin = board->layer[i].kind == WW_LAYER_PLY ? WW_CLOSED : WW_ABSENT;
        style->thickness.origin = WW_MEMORY;
        style->glass.dk_uncertainty = 0.06;
    }
}

static struct ww_doubts_request request_of(const struct board *board)
{
    return (struct ww_doubts_request){.stack = &board->stack,
                                      .trace = {100 * UM, 15 * UM, 220 * UM},
                                      .line = {.fineness = 0.5},
                                      .skew = {.length = 50e-3},
                                      .height_uncertainty = 0.5,
                                      .value = worst};
}

static struct ww_doubts solve(const struct ww_doubts_request *request)
{
    struct ww_doubts doubts;
    struct ww_error error = {0};
    assert_ok(ww_doubts_solve(&doubts, request, &error), error);
    return doubts;
}

static const struct ww_doubt *find(const struct ww_doubts *doubts, enum ww_doubt_kind kind, size_t ply)
{
    for (size_t i = 0; i < doubts->count; i++)
        if (doubts->of[i].kind == kind && doubts->of[i].ply == ply)
            return &doubts->of[i];
    fail_msg("no %s of ply %zu", ww_doubt_kind_name(kind), ply);
    return NULL;
}

/* --- each source ------------------------------------------------------------------------------------------------------ */

static void each_source_is_there_once(void **state)
{
    (void)state;
    for (int above = 0; above < 2; above++) {
        struct board board;
        open_board(&board, above);
        struct ww_doubts_request request = request_of(&board);
        struct ww_doubts doubts = solve(&request);
        assert_int_equal(doubts.count, above ? 6 : 5); /* one style on both plies, but a height of each */
        assert_close(find(&doubts, WW_DOUBT_WARP_WIDTH, 0)->share, 0.15, 1e-15, 0);
        assert_close(find(&doubts, WW_DOUBT_THICKNESS, 0)->share, 0.10, 1e-15, 0);
        assert_close(find(&doubts, WW_DOUBT_GLASS_DK, 0)->share, 0.06, 1e-15, 0);
        assert_close(find(&doubts, WW_DOUBT_HEIGHT, above ? 1 : 0)->share, 0.5, 1e-15, 0);
        ww_doubts_clear(&doubts);
        board_close(&board);
    }
}

/* The worst with full cross-sections, on the board as it is laid. */
static double full_worst(const struct ww_layer *layer, size_t count)
{
    const struct ww_cell_options cell = {.nx = 64, .ny = 64, .nz = 8};
    const struct ww_trace trace = {100 * UM, 15 * UM, 220 * UM};
    const struct ww_line_options options = {.fineness = 0.5};
    const struct ww_skew_request request = {.length = 50e-3, .sections = 12};
    struct ww_layer copy[5];
    struct ww_stack stack = {.layer = copy, .count = count};
    struct ww_line *line;
    struct ww_skew skew;
    struct ww_error error = {0};
    memcpy(copy, layer, count * sizeof *copy);
    assert_ok(ww_stack_build(&stack, &cell, &error), error);
    assert_ok(ww_line_create(&line, &stack, &trace, &options, &error), error);
    assert_ok(ww_skew_solve(&skew, line, &request, &error), error);
    double value = skew.worst;
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
    return value;
}

/* Of the source moved by hand, solved in full. A move of kernel and coarse grid is good to 0.03 of the worst. */
static void moves_are_those_of_the_full_answer(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_doubts_request request = request_of(&board);
    struct ww_layer *layer = board.layer, own = layer[3];
    double as_it_is = full_worst(layer, 5);
    request.value = as_it_is;
    struct ww_doubts doubts = solve(&request);
    print_message("  worst %.3f ps\n", as_it_is * 1e12);
    for (size_t i = 0; i < doubts.count; i++)
        for (int end = -1; end <= 1; end += 2) {
            const struct ww_doubt *doubt = &doubts.of[i];
            struct ww_error error = {0};
            double share = end * doubt->share;
            layer[3] = own;
            if (doubt->kind == WW_DOUBT_GLASS_DK)
                layer[3].style.glass.dk *= 1 + share;
            else if (doubt->kind == WW_DOUBT_HEIGHT)
                layer[3].cloth_height = 50 * UM + share * 24 * UM; /* 52 um of cloth in 100 */
            else
                assert_ok(
                    ww_style_move(&layer[3].style, &own.style, (enum ww_style_figure)doubt->kind, share, &error),
                    error);
            double full = full_worst(layer, 5) / as_it_is,
                   got = (end < 0 ? doubt->at_low : doubt->at_high) / as_it_is;
            print_message("  %-12s %+.2f: %+.3f, in full %+.3f\n", ww_doubt_kind_name(doubt->kind), share, got - 1,
                          full - 1);
            assert_close(got, full, 0, 0.03);
        }
    layer[3] = own;
    ww_doubts_clear(&doubts);
    board_close(&board);
}

/* What the field says: nearer cloth and more glass contrast skew more. */
static void moves_have_the_sign_of_the_field(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_doubts_request request = request_of(&board);
    struct ww_doubts doubts = solve(&request);
    const struct ww_doubt *height = find(&doubts, WW_DOUBT_HEIGHT, 0), *glass = find(&doubts, WW_DOUBT_GLASS_DK, 0);
    assert_true(height->at_low < worst && worst < height->at_high); /* the trace lies on top */
    assert_true(height->at_high - worst > worst - height->at_low);
    assert_true(glass->at_low < worst && worst < glass->at_high);
    ww_doubts_clear(&doubts);
    board_close(&board);
}

/* --- all of them ------------------------------------------------------------------------------------------------------ */

static bool is_height(const void *host, const struct ww_doubt *doubt)
{
    (void)host;
    return doubt->kind == WW_DOUBT_HEIGHT;
}

/* By hand: 3 and 4 up make 5, 1 and 2 down sqrt 5; a source that moves up at both ends counts once, by the larger. */
static void moves_add_by_the_root_of_their_squares(void **state)
{
    (void)state;
    struct ww_doubt of[] = {{.kind = WW_DOUBT_HEIGHT, .at_low = 9, .at_high = 13},
                            {.kind = WW_DOUBT_WARP_WIDTH, .at_low = 14, .at_high = 8},
                            {.kind = WW_DOUBT_FILL_WIDTH, .at_low = 10, .at_high = 10}};
    struct ww_doubts doubts = {.count = 3, .of = of, .value = 10};
    double low, high;
    ww_doubts_range(&doubts, NULL, NULL, &low, &high);
    assert_close(high, 15, 1e-15, 0);
    assert_close(low, 10 - sqrt(5), 1e-15, 0);
    ww_doubts_range(&doubts, is_height, NULL, &low, &high);
    assert_close(high, 13, 1e-15, 0);
    assert_close(low, 9, 1e-15, 0);
    of[2].at_low = 22;
    of[2].at_high = 16;
    ww_doubts_range(&doubts, NULL, NULL, &low, &high);
    assert_close(high, 23, 1e-15, 0);
    of[2].at_low = -90;
    ww_doubts_range(&doubts, NULL, NULL, &low, &high);
    assert_close(low, 0, 0, 0); /* a worst is not negative */
}

static void nothing_in_doubt_is_no_range(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_doubts_request request = request_of(&board);
    struct ww_style *style = &board.layer[3].style;
    struct ww_datum *figure[] = {&style->warp.width, &style->fill.width, &style->thickness};
    for (size_t n = 0; n < sizeof figure / sizeof *figure; n++)
        figure[n]->stated = true; /* as known to 0 % */
    style->glass.dk_uncertainty = 0;
    request.height_uncertainty = 0;
    struct ww_doubts doubts = solve(&request);
    assert_int_equal(doubts.count, 0);
    assert_close(doubts.low, worst, 0, 0);
    assert_close(doubts.high, worst, 0, 0);
    ww_doubts_clear(&doubts);

    request.height_uncertainty =
        0.5; /* glass like resin: wherever it lies, no skew; but it need not be quite like it */
    style->glass.dk = board.layer[3].resin.dk;
    request.value = 0;
    doubts = solve(&request);
    assert_int_equal(doubts.count, 1);
    assert_close(doubts.high, 0, 0, 1e-9 * worst);
    ww_doubts_clear(&doubts);
    style->glass.dk_uncertainty = 0.06;
    doubts = solve(&request);
    assert_close(doubts.low, 0, 0, 0);
    assert_true(doubts.high > 0.02 * worst && doubts.high < worst);
    ww_doubts_clear(&doubts);
    board_close(&board);
}

/* A ply only 2 um thicker than its cloth: the thickness cannot rise by 10 %, but by a part of it. A warp as wide as its
 * pitch cannot be wider at all. */
static void an_end_that_cannot_be_is_drawn_in(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_doubts_request request = request_of(&board);
    struct ww_error error = {0};
    board.layer[3].thickness = 54 * UM;
    board.layer[3].style.warp.width.value = 0.0254 / 60;
    board.layer[3].style.warp.packing *= 300 * UM / (0.0254 / 60);
    ww_stack_clear(&board.stack);
    assert_ok(ww_stack_build(&board.stack, &(struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8}, &error), error);
    struct ww_doubts doubts = solve(&request);
    const struct ww_doubt *thickness = find(&doubts, WW_DOUBT_THICKNESS, 0),
                          *warp = find(&doubts, WW_DOUBT_WARP_WIDTH, 0);
    assert_true(thickness->at_high != worst && thickness->at_low != worst);
    assert_true(fabs(thickness->at_high - worst) < fabs(thickness->at_low - worst));
    assert_close(warp->at_high, worst, 0, 0);
    assert_true(warp->at_low > 1.1 * worst);
    ww_doubts_clear(&doubts);
    board_close(&board);
}

/* A glass of Dk 1: less there is none. */
static void no_glass_has_less_than_vacuum(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_doubts_request request = request_of(&board);
    struct ww_error error = {0};
    board.layer[3].style.glass.dk = 1.0;
    ww_stack_clear(&board.stack);
    assert_ok(ww_stack_build(&board.stack, &(struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8}, &error), error);
    struct ww_doubts doubts = solve(&request);
    const struct ww_doubt *glass = find(&doubts, WW_DOUBT_GLASS_DK, 0);
    assert_close(glass->at_low, worst, 1e-12, 0);
    assert_true(fabs(glass->at_high - worst) > 1e-3 * worst); /* and is a number */
    ww_doubts_clear(&doubts);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_source_is_there_once),        cmocka_unit_test(moves_are_those_of_the_full_answer),
        cmocka_unit_test(moves_have_the_sign_of_the_field), cmocka_unit_test(moves_add_by_the_root_of_their_squares),
        cmocka_unit_test(nothing_in_doubt_is_no_range),     cmocka_unit_test(an_end_that_cannot_be_is_drawn_in),
        cmocka_unit_test(no_glass_has_less_than_vacuum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
