/* Which glass: what must hold whatever the numbers, and that a style set beside itself is the study.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "../line/structure.h"
#include "weftwise/sweep.h"

#include <stdlib.h>

#define LENGTH 40e-3

static const struct ww_cell_options coarse = {.nx = 32, .ny = 32, .nz = 8};

/* A pair over one ply, or between two; coarse cells and grids hold these as well as fine ones. */
static void open_board(struct board *board, bool above)
{
    struct board_options options = board_pair();
    options.cell = coarse;
    options.fineness = 0.5;
    options.above = above;
    board_open(board, &options);
}

static struct ww_compare_request request_of(const struct board *board)
{
    return (struct ww_compare_request){
        .stack = &board->stack,
        .trace = {100 * UM, 15 * UM, 220 * UM},
        .cell = coarse,
        .line = {.fineness = 0.5},
        .skew = {.length = LENGTH, .turn = 1 * DEGREES, .budget = 1e-12, .sections = 2, .scan = {.positions = 64}},
        .from = 0,
        .to = 20 * DEGREES,
        .step = 5 * DEGREES};
}

static struct ww_candidate shipped(const char *name)
{
    struct ww_candidate candidate = {.name = name};
    struct ww_error error = {0};
    assert_ok(structure_cloth(name, &candidate.style, &error), error);
    return candidate;
}

static struct ww_candidate own(double glass_dk)
{
    return (struct ww_candidate){.name = "T1", .style = board_style(glass_dk)};
}

static struct ww_comparison solve(const struct ww_candidate *candidate, size_t count,
                                  const struct ww_compare_request *request)
{
    struct ww_comparison comparison;
    struct ww_error error = {0};
    assert_ok(ww_compare_solve(&comparison, candidate, count, request, &error), error);
    assert_true(comparison.count == count || comparison.count == count + 1); /* the study's own, named or not */
    for (size_t i = 0; i < comparison.count; i++) {
        const struct ww_compared *of = &comparison.of[i];
        assert_int_equal(of->own, i == 0);
        if (of->status)
            continue;
        assert_false(i > 0 && of[-1].status);
        if (i > 1) /* what nobody would press stands behind */
            assert_true(ww_compared_flag(&of[-1])
                            ? ww_compared_flag(of) != WW_RESIN_WITHIN
                            : ww_compared_flag(of) || ww_compared_design(&of[-1]) <= ww_compared_design(of));
        assert_true(0 <= of->skew.median && of->skew.median <= of->skew.p99 && of->skew.p99 <= of->skew.worst);
        assert_true(of->skew.worst <= of->skew.worst_with_turn);
        assert_true(of->angles.count >= 5);
        assert_true(of->resin_content > 0 && of->resin_content < 1);
        assert_true(of->mean_dk > of->resin_dk);
        assert_int_equal(of->dk.nx, coarse.nx);
    }
    return comparison;
}

static const struct ww_compared *find(const struct ww_comparison *comparison, const char *name)
{
    for (size_t i = 0; i < comparison->count; i++)
        if (strcmp(comparison->of[i].name, name) == 0)
            return &comparison->of[i];
    print_error("%s is not among them\n", name);
    fail();
    return NULL;
}

/* --- beside itself ----------------------------------------------------------------------------------------------------- */

static void assert_same(const struct ww_compared *of, const struct ww_skew *skew)
{
    const double rounding = 1e-12;
    assert_int_equal(of->status, WW_OK);
    assert_close(of->skew.worst, skew->worst, rounding, 0);
    assert_close(of->skew.p99, skew->p99, rounding, 0);
    assert_close(of->skew.median, skew->median, rounding, 0);
    assert_close(of->skew.over_budget, skew->over_budget, rounding, 0);
    assert_close(of->skew.worst_with_turn, skew->worst_with_turn, rounding, 0);
    assert_close(of->skew.mean_delay, skew->mean_delay, rounding, 0);
    assert_close(of->skew.correction_ratio, skew->correction_ratio, rounding, 0);
}

static void own_style_gives_the_numbers_of_skew(void **state)
{
    (void)state;
    for (int above = 0; above < 2; above++) {
        struct board board;
        open_board(&board, above);
        struct ww_compare_request request = request_of(&board);
        struct ww_candidate candidate = own(6.3);
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_ok(ww_skew_solve(&skew, board.line, &request.skew, &error), error);
        for (size_t ply = 0; ply <= board.stack.plies; ply++) {
            request.ply = ply;
            struct ww_comparison comparison = solve(&candidate, 1, &request);
            const struct ww_ply *of = &board.stack.ply[ply ? ply - 1 : 0];
            assert_same(comparison.of, &skew);
            assert_close(comparison.of->mean_dk, of->dk_bulk, 1e-12, 0);
            assert_close(comparison.of->resin_content, of->resin_content, 1e-12, 0);
            assert_close(comparison.of->glass_fraction, of->glass_fraction, 1e-12, 0);
            assert_close(comparison.of->line.z_diff, ww_line_summary(board.line)->z_diff, 1e-12, 0);
            ww_comparison_clear(&comparison);
        }
        ww_skew_clear(&skew);
        board_close(&board);
    }
}

/* The sheet's Dk is that of the study's cloth: another cloth gets the resin that was solved from it, not the sheet. */
static void a_resin_solved_from_a_sheet_stays(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[2] = {own(6.3), shipped("106")};
    struct ww_error error = {0};
    candidate[1].cloths = 1;
    board.layer[3].sheet_dk = 3.9;
    ww_stack_clear(&board.stack);
    assert_ok(ww_stack_build(&board.stack, &coarse, &error), error);
    double solved = creal(board.stack.ply[0].eps_resin);
    assert_true(solved > 3.2);
    struct ww_comparison comparison = solve(candidate, 2, &request);
    assert_close(find(&comparison, "T1")->mean_dk, 3.9, 1e-12, 0);
    assert_close(find(&comparison, "T1")->resin_dk, solved, 1e-12, 0);
    assert_close(find(&comparison, "106")->resin_dk, solved, 1e-12, 0);
    assert_true(find(&comparison, "106")->mean_dk < 3.9 - 0.05);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

/* --- told apart? ------------------------------------------------------------------------------------------------------- */

/* A style at itself; one of another glass, whose cloth is the same so that the glass alone tells; one far off. */
static void styles_are_told_apart_by_what_they_do_not_share(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[4] = {own(6.3), own(4.2), shipped("1080"), own(6.3)};
    candidate[1].name = "T1/low";
    strcpy(candidate[1].style.glass.name, "low");
    candidate[3].name = "near";
    strcpy(candidate[3].style.name, "near");
    candidate[3].style.warp.width.value *= 0.99;
    candidate[3].style.warp.packing /= 0.99;
    for (size_t i = 0; i < 4; i++)
        candidate[i].style.glass.dk_uncertainty = 0.06;
    request.height_uncertainty = 0;
    struct ww_comparison comparison = solve(candidate, 4, &request);
    const struct ww_compared *t1 = find(&comparison, "T1"), *low = find(&comparison, "T1/low"),
                             *near = find(&comparison, "near");
    for (size_t i = 0; i < comparison.count; i++) {
        const struct ww_compared *of = &comparison.of[i];
        double design = ww_compared_design(of);
        assert_true(of->doubts.low < design && design < of->doubts.high);
        assert_close(of->doubts.value, design, 1e-15, 0);
        for (size_t k = 0; k < comparison.count; k++)
            assert_int_equal(ww_compared_alike(of, &comparison.of[k]), ww_compared_alike(&comparison.of[k], of));
    }
    assert_true(ww_compared_alike(t1, near)); /* 3 % of the widths */
    assert_false(ww_compared_alike(t1, low));
    ww_comparison_clear(&comparison);
    board_close(&board);
}

/* --- resin ------------------------------------------------------------------------------------------------------------- */

static void resin_takes_the_room_that_glass_leaves(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[3] = {own(6.3), shipped("106"), shipped("2116")};
    candidate[1].cloths = 1;
    struct ww_comparison comparison = solve(candidate, 3, &request);
    for (size_t i = 0; i < 3; i++) {
        const struct ww_compared *of = find(&comparison, candidate[i].name);
        double glass = of->glass_fraction * candidate[i].style.glass.density, resin = 1200 * (1 - of->glass_fraction);
        assert_close(of->resin_dk, 3.2, 1e-12, 0);
        assert_close(of->resin_content, resin / (resin + glass), 1e-9, 0);
        /* the glass of the yarns, crimp aside */
        assert_close(of->glass_fraction,
                     ww_style_weight(&candidate[i].style) / (candidate[i].style.glass.density * 100 * UM), 0.01, 0);
    }
    assert_true(find(&comparison, "106")->resin_content > find(&comparison, "T1")->resin_content);
    assert_true(find(&comparison, "2116")->resin_content < find(&comparison, "T1")->resin_content);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

static void same_dk_keeps_the_mean(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[4] = {own(6.3), shipped("106"), shipped("1080"), shipped("2116")};
    request.same_dk = true;
    candidate[1].cloths = 1;
    struct ww_comparison comparison = solve(candidate, 4, &request);
    for (size_t i = 0; i < 4; i++)
        assert_close(find(&comparison, candidate[i].name)->mean_dk, board.stack.ply[0].dk_bulk, 1e-9, 0);
    assert_close(find(&comparison, "T1")->resin_dk, 3.2, 1e-9, 0);
    assert_true(find(&comparison, "106")->resin_dk > 3.3); /* less glass to bring the mean up */
    assert_true(find(&comparison, "2116")->resin_dk < 3.1);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

/* --- several cloths, and how much resin they leave ---------------------------------------------------------------------- */

/* As many thin cloths go in as bring the resin content nearest to that of the cloth that was there. */
static void a_thin_cloth_goes_in_more_than_once(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[4] = {shipped("1035"), shipped("1035"), shipped("1035"), shipped("1035")};
    const char *const name[4] = {"1035", "one", "two", "three"};
    for (size_t i = 0; i < 4; i++) {
        candidate[i].name = name[i];
        candidate[i].cloths = i;
    }
    request.skew.sections = 0;
    request.skew.turn = 0;
    request.step = 10 * DEGREES;
    request.from = -20 * DEGREES;
    struct ww_comparison comparison = solve(candidate, 4, &request);
    const struct ww_compared *chosen = find(&comparison, "1035"), *study = &comparison.of[0];
    double off = fabs(chosen->resin_content - study->resin_content);
    for (size_t i = 1; i < 4; i++) {
        const struct ww_compared *asked = find(&comparison, name[i]);
        assert_int_equal(asked->filling[0].cloths, i);
        assert_true(off <= fabs(asked->resin_content - study->resin_content) + 1e-12);
    }
    assert_int_equal(chosen->filling[0].cloths, 2);
    assert_string_equal(chosen->label, "2x1035");
    assert_close(chosen->skew.worst, find(&comparison, "two")->skew.worst, 1e-12, 0);
    assert_true(find(&comparison, "one")->resin_content > chosen->resin_content + 0.1);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

/* A single 1017 has the least skew of all, and leaves more resin than any prepreg has. */
static void what_nobody_presses_is_not_recommended(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[3] = {shipped("1017"), shipped("106"), shipped("2116")};
    candidate[0].cloths = 1;
    candidate[2].style.resin_least = (struct ww_datum){.value = 0.95, .origin = WW_USER};
    request.skew.sections = 0;
    struct ww_comparison comparison = solve(candidate, 3, &request);
    const struct ww_compared *rich = find(&comparison, "1017"), *starved = find(&comparison, "2116");
    const struct ww_compared *best = ww_comparison_best(&comparison);
    assert_int_equal(ww_compared_flag(rich), WW_RESIN_RICH);
    assert_int_equal(ww_compared_flag(starved), WW_RESIN_STARVED);
    assert_true(rich->skew.worst < comparison.of[0].skew.worst && rich->skew.worst < comparison.of[1].skew.worst);
    assert_ptr_equal(best,
                     comparison.of[0].skew.worst < comparison.of[1].skew.worst ? comparison.of : &comparison.of[1]);
    assert_ptr_equal(rich, &comparison.of[2]);
    assert_ptr_equal(starved, &comparison.of[3]);
    assert_string_equal(ww_resin_flag_name(ww_compared_flag(rich)), "resin-rich");
    ww_comparison_clear(&comparison);
    candidate[0].cloths = WW_CLOTHS_MOST + 1;
    struct ww_error error = {0};
    assert_int_equal(ww_compare_solve(&comparison, candidate, 1, &request, &error), WW_INVALID);
    assert_contains(error.text, "give at most 8");
    board_close(&board);
}

/* --- glass ------------------------------------------------------------------------------------------------------------- */

static void glass_of_the_resins_dk_has_no_skew(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[3] = {own(6.3), own(4.7), own(3.2)};
    candidate[1].name = "T1/low";
    candidate[2].name = "T1/none";
    request.skew.sections = 0;
    struct ww_error error = {0};
    struct ww_comparison comparison;
    assert_ok(ww_compare_solve(&comparison, candidate, 3, &request, &error), error);
    assert_string_equal(comparison.of[0].name, "T1");
    assert_string_equal(comparison.of[1].name, "T1/none");
    assert_string_equal(comparison.of[2].name, "T1/low");
    assert_close(comparison.of[1].skew.worst, 0, 0, 1e-9 * comparison.of[0].skew.worst);
    assert_true(comparison.of[2].skew.worst < 0.6 * comparison.of[0].skew.worst);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

/* --- what cannot be used --------------------------------------------------------------------------------------------------- */

static void too_thick_a_style_stands_last_with_its_reason(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate[4] = {shipped("7628"), shipped("1080"), shipped("1500"), own(6.3)};
    struct ww_comparison comparison = solve(candidate, 4, &request);
    for (size_t i = 2; i < 4; i++) {
        const struct ww_compared *of = &comparison.of[i];
        assert_string_equal(of->name, i == 2 ? "1500" : "7628");
        assert_int_equal(of->status, WW_UNPHYSICAL);
        assert_contains(of->error.text, "cannot hold its");
        assert_contains(of->error.text, of->name);
        assert_int_equal(of->angles.count, 0);
        assert_close(of->skew.worst, 0, 0, 0);
        assert_null(of->dk.value);
    }
    ww_comparison_clear(&comparison);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

static void a_resin_that_nothing_gives_is_told(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    options.cell = coarse;
    options.fineness = 0.5;
    options.resin_dk = 1.0; /* as in air: a mean kept with more glass asks for less than nothing */
    board_open(&board, &options);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate = shipped("2116");
    request.same_dk = true;
    struct ww_comparison comparison = solve(&candidate, 1, &request);
    assert_int_equal(comparison.of[1].status, WW_UNPHYSICAL);
    assert_contains(comparison.of[1].error.text, "no resin gives");
    ww_comparison_clear(&comparison);
    board_close(&board);
}

static void refuse(const struct board *board, const struct ww_candidate *candidate, size_t count, size_t ply,
                   enum ww_status status, const char *says)
{
    struct ww_compare_request request = request_of(board);
    struct ww_comparison comparison;
    struct ww_error error = {0};
    request.ply = ply;
    assert_int_equal(ww_compare_solve(&comparison, candidate, count, &request, &error), status);
    assert_contains(error.text, says);
    assert_int_equal(comparison.count, 0);
    assert_null(comparison.of);
}

static void what_is_no_question_is_refused(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_candidate candidate = own(6.3);
    struct ww_comparison comparison;
    struct ww_error error = {0};
    refuse(&board, &candidate, 0, 0, WW_INVALID, "no style");
    refuse(&board, &candidate, 1, 2, WW_INVALID, "there is no ply 2");
    struct ww_compare_request request = request_of(&board);
    request.to = request.from;
    assert_int_equal(ww_compare_solve(&comparison, &candidate, 1, &request, &error), WW_INVALID);
    assert_contains(error.text, "empty range");
    request = request_of(&board);
    request.trace.pitch = request.trace.width;
    assert_int_equal(ww_compare_solve(&comparison, &candidate, 1, &request, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "overlap");
    board.layer[3].kind = WW_LAYER_SOLID;
    ww_line_destroy(board.line); /* frees by the plies of its stack */
    board.line = NULL;
    ww_stack_clear(&board.stack);
    refuse(&board, &candidate, 1, 0, WW_INVALID, "no ply");
    board_close(&board);
}

/* --- order and threads -------------------------------------------------------------------------------------------------- */

/* Shares told never go down and end at 1. */
static void follow(void *context, double share)
{
    double *last = context;
    assert_true(share >= *last && share <= 1);
    *last = share;
}

static void neither_order_nor_threads_matter(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate one[3] = {own(6.3), shipped("106"), shipped("7628")};
    struct ww_candidate other[3] = {one[2], one[1], one[0]};
    double told = 0;
    request.progress = (struct ww_progress){follow, &told};
    ww_threads_set(1);
    struct ww_comparison a = solve(one, 3, &request);
    assert_close(told, 1, 0, 1e-12);
    ww_threads_set(3);
    told = 0;
    struct ww_comparison b = solve(other, 3, &request);
    ww_threads_set(0);
    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(a.of[i].name, b.of[i].name);
        assert_memory_equal(&a.of[i].skew.worst, &b.of[i].skew.worst, sizeof(double));
        assert_memory_equal(&a.of[i].skew.worst_with_turn, &b.of[i].skew.worst_with_turn, sizeof(double));
        assert_memory_equal(&a.of[i].angles.safe_from_warp, &b.of[i].angles.safe_from_warp, sizeof(double));
        assert_int_equal(a.of[i].angles.count, b.of[i].angles.count);
        for (size_t k = 0; k < a.of[i].angles.count; k++)
            assert_memory_equal(&a.of[i].angles.at[k], &b.of[i].angles.at[k], sizeof(struct ww_at_angle));
    }
    ww_comparison_clear(&a);
    ww_comparison_clear(&b);
    board_close(&board);
}

/* The quick curves against all positions at these very angles, as the header promises. */
static void curves_are_good_to_half_a_per_cent(void **state)
{
    (void)state;
    struct board board;
    open_board(&board, false);
    struct ww_compare_request request = request_of(&board);
    struct ww_candidate candidate = own(6.3);
    double budget = request.skew.budget;
    request.skew.sections = 0;
    request.skew.budget = 0; /* ends of windows are angles that are shown */
    struct ww_comparison comparison = solve(&candidate, 1, &request);
    struct ww_angles_request slow = {
        .skew = request.skew, .from = request.from, .to = request.to, .step = request.step};
    struct ww_angles angles;
    struct ww_error error = {0};
    assert_ok(ww_angles_solve(&angles, board.line, &slow, &error), error);
    const struct ww_angles *quick = &comparison.of->angles;
    assert_int_equal(quick->count, angles.count);
    for (size_t i = 0; i < angles.count; i++) {
        assert_close(quick->at[i].angle, angles.at[i].angle, 1e-12, 1e-15);
        assert_close(quick->at[i].worst, angles.at[i].worst, 0.005, 0.005 * angles.at[i].design);
        assert_close(quick->at[i].design, angles.at[i].design, 0.005, 0);
    }
    ww_angles_clear(&angles);
    ww_comparison_clear(&comparison);
    request.skew.budget = slow.skew.budget = budget;
    comparison = solve(&candidate, 1, &request);
    assert_ok(ww_angles_solve(&angles, board.line, &slow, &error), error);
    quick = &comparison.of->angles;
    assert_true(budget > 0 && angles.windows > 0);
    /* that of the full sweep is a tenth of a degree that was solved */
    assert_close(quick->safe_from_warp, angles.safe_from_warp, 0, 0.15 * DEGREES);
    ww_angles_clear(&angles);
    ww_comparison_clear(&comparison);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(own_style_gives_the_numbers_of_skew),
        cmocka_unit_test(a_resin_solved_from_a_sheet_stays),
        cmocka_unit_test(resin_takes_the_room_that_glass_leaves),
        cmocka_unit_test(same_dk_keeps_the_mean),
        cmocka_unit_test(a_thin_cloth_goes_in_more_than_once),
        cmocka_unit_test(what_nobody_presses_is_not_recommended),
        cmocka_unit_test(glass_of_the_resins_dk_has_no_skew),
        cmocka_unit_test(too_thick_a_style_stands_last_with_its_reason),
        cmocka_unit_test(a_resin_that_nothing_gives_is_told),
        cmocka_unit_test(what_is_no_question_is_refused),
        cmocka_unit_test(neither_order_nor_threads_matter),
        cmocka_unit_test(styles_are_told_apart_by_what_they_do_not_share),
        cmocka_unit_test(curves_are_good_to_half_a_per_cent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
