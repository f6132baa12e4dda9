/* The sweep over angle: what must hold whatever the numbers, and every curve, window and revival against the slow way.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "chance/placements.h"
#include "sweep/angles.h"

#include <stdlib.h>

#define LENGTH 40e-3
#define PITCH (25.4e-3 / 60) /* of the warp, the shorter */

/* Coarse cells and grids hold these just as well as fine ones. */
static struct board_options pair_options(void)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    return options;
}

static struct ww_angles_request request_of(double from, double to, double step)
{
    return (struct ww_angles_request){.skew = {.length = LENGTH, .scan = {.positions = 64}},
                                      .from = from * DEGREES,
                                      .to = to * DEGREES,
                                      .step = step * DEGREES};
}

static struct ww_angles solve(const struct board *board, const struct ww_angles_request *request)
{
    struct ww_angles angles;
    struct ww_error error = {0};
    assert_ok(ww_angles_solve(&angles, board->line, request, &error), error);
    assert_true(angles.count >= ww_angles_asked(request));
    for (size_t i = 0; i < angles.count; i++) {
        const struct ww_at_angle *at = &angles.at[i];
        assert_true(i == 0 || at->angle > at[-1].angle);
        assert_true(0 <= at->median && at->median <= at->p99 && at->p99 <= at->worst * (1 + 1e-12));
        assert_true(at->worst <= at->design);
    }
    assert_close(angles.at[0].angle, request->from, 0, 1e-12);
    assert_close(angles.at[angles.count - 1].angle, request->to, 0, 1e-12);
    return angles;
}

/* The angle must be one of those shown. */
static const struct ww_at_angle *at_angle(const struct ww_angles *angles, double angle)
{
    for (size_t i = 0; i < angles->count; i++)
        if (fabs(angles->at[i].angle - angle) < 1e-9)
            return &angles->at[i];
    print_error("%g deg is not shown\n", angle / DEGREES);
    fail();
    return NULL;
}

/* The slow way: all positions at that very angle. */
static double worst_at(const struct board *board, const struct ww_skew_request *request, double angle)
{
    struct ww_placements turned;
    struct ww_error error = {0};
    assert_ok(ww_placements_solve(&turned, board->line, request, angle, false, &error), error);
    double worst = turned.worst;
    ww_placements_clear(&turned);
    return worst;
}

static double converted_at(const struct board *board, const struct ww_skew_request *request, double angle)
{
    struct ww_placements turned;
    struct ww_error error = {0};
    assert_ok(ww_placements_solve(&turned, board->line, request, angle, true, &error), error);
    double worst = turned.conversion.worst;
    ww_placements_clear(&turned);
    return worst;
}

/* At a phase-matched angle k.u = +-b; a coarse step does not miss what it converts, nor does the design curve; windows keep to
 * their budget. */
static void phase_matched_angles_are_found(void **state)
{
    (void)state;
    enum { FINE = 400 };
    struct board_options options = pair_options();
    struct board board;
    double fine[FINE + 1], most = 0;
    options.pitch = 160 * UM;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 4, 2);
    request.skew.frequency = 56e9;
    request.skew.turn = 0.3 * DEGREES;
    for (int i = 0; i <= FINE; i++) {
        fine[i] = converted_at(&board, &request.skew, i * request.to / FINE);
        most = fmax(most, fine[i]);
    }
    request.skew.conversion = 0.3 * most;
    struct ww_angles angles = solve(&board, &request);
    const struct ww_angles_conversion *conversion = &angles.conversion;
    double largest = 0;
    for (size_t i = 0; i < angles.count; i++)
        largest = fmax(largest, angles.at[i].conversion);
    assert_close(largest, most, 0.01, 0);
    assert_true(conversion->matches > 0 && conversion->windows > 0);
    for (size_t i = 0; i < conversion->matches; i++) {
        const struct ww_phase_match *match = &conversion->match[i];
        const struct ww_cell *cell = &board.stack.ply[match->ply].cell;
        double advance =
            2 * WW_PI * (match->m / cell->lx * sin(match->angle) + match->l / cell->ly * cos(match->angle));
        assert_close(fabs(advance), fabs(ww_modes_of(board.line, &request.skew, match->angle).beat), 1e-6, 0);
        assert_close(match->conversion, converted_at(&board, &request.skew, match->angle), 1e-9, 0);
        assert_close(at_angle(&angles, match->angle)->conversion, match->conversion, 0, 0);
    }
    for (size_t i = 0; i < angles.count; i++) {
        const struct ww_at_angle *at = &angles.at[i];
        double within = 0;
        for (int k = 0; k <= FINE; k++)
            if (fabs(k * request.to / FINE - at->angle) <= request.skew.turn)
                within = fmax(within, fine[k]);
        assert_true(at->conversion_design >= 0.98 * within - 0.005 * most);
        assert_true(at->conversion <= at->conversion_design);
        if (at->angle > request.skew.turn && at->angle < request.to - request.skew.turn)
            assert_close(at->conversion_design, within, 0.03, 0.02 * most);
        for (size_t w = 0; w < conversion->windows; w++)
            if (at->angle >= conversion->window[w].from && at->angle <= conversion->window[w].to)
                assert_true(within <= 1.03 * request.skew.conversion);
    }
    ww_angles_clear(&angles);
    request.quick = true;
    angles = solve(&board, &request);
    for (size_t i = 0; i < angles.count; i++)
        assert_close(angles.at[i].conversion, converted_at(&board, &request.skew, angles.at[i].angle), 0.01,
                     0.005 * most);
    ww_angles_clear(&angles);
    board_close(&board);
}

static void uniform_dk_has_no_skew(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    options.glass_dk = options.resin_dk;
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 90, 5);
    request.skew.turn = 1 * DEGREES;
    request.skew.budget = 1e-15;
    struct ww_angles angles = solve(&board, &request);
    for (size_t i = 0; i < angles.count; i++)
        assert_close(angles.at[i].design, 0, 0, 1e-12 * LENGTH / WW_C0);
    assert_int_equal(angles.revivals, 0);
    assert_int_equal(angles.windows, 1);
    assert_close(angles.window[0].from, 0, 0, 1e-12);
    assert_close(angles.window[0].to, 90 * DEGREES, 1e-12, 0);
    assert_close(angles.safe_from_warp, 0, 0, 0);
    assert_close(angles.safe_from_fill, 0, 0, 0);
    assert_close(angles.safe_from_diagonal, 0, 0, 0);
    ww_angles_clear(&angles);
    board_close(&board);
}

static void symmetric_about_the_warp_and_periodic(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(-45, 45, 5);
    request.skew.turn = 1 * DEGREES;
    struct ww_angles near = solve(&board, &request);
    request.from += WW_PI;
    request.to += WW_PI;
    struct ww_angles far = solve(&board, &request);
    for (int angle = -45; angle <= 45; angle += 5) {
        const struct ww_at_angle *here = at_angle(&near, angle * DEGREES);
        const struct ww_at_angle *mirrored = at_angle(&near, -angle * DEGREES);
        const struct ww_at_angle *behind = at_angle(&far, angle * DEGREES + WW_PI);
        assert_close(mirrored->worst, here->worst, 1e-6, 0);
        assert_close(mirrored->p99, here->p99, 1e-4, 0);
        assert_close(mirrored->design, here->design, 1e-3, 0);
        assert_close(behind->worst, here->worst, 1e-6, 0);
        assert_close(behind->median, here->median, 1e-4, 0);
        assert_close(behind->design, here->design, 1e-3, 0);
    }
    assert_int_equal(near.revivals, far.revivals);
    assert_true(near.revivals >= 3);
    for (size_t i = 0; i < near.revivals; i++) {
        assert_close(far.revival[i].angle, near.revival[i].angle + WW_PI, 0, 1e-9);
        assert_close(near.revival[near.revivals - 1 - i].angle, -near.revival[i].angle, 0, 1e-9);
        assert_close(near.revival[near.revivals - 1 - i].growth, near.revival[i].growth, 1e-3, 0);
    }
    ww_angles_clear(&near);
    ww_angles_clear(&far);
    board_close(&board);
}

static void warp_is_the_answer_for_one_angle_and_grows_with_length(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    double worst[2];
    for (int longer = 0; longer < 2; longer++) {
        struct ww_angles_request request = request_of(0, 5, 1);
        request.skew.length =
            (longer ? 80 : 40) * board.stack.ply[0].cell.ly; /* all other harmonics end where they began */
        struct ww_angles angles = solve(&board, &request);
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_ok(ww_skew_solve(&skew, board.line, &request.skew, &error), error);
        assert_close(angles.at[0].worst, skew.worst, 1e-12, 0);
        assert_close(angles.at[0].p99, skew.p99, 1e-9, 0);
        assert_close(angles.at[0].median, skew.median, 1e-9, 0);
        assert_close(angles.at[0].design, angles.at[0].worst, 1e-3, 0); /* without a turn */
        assert_true(angles.revivals > 0 && angles.revival[0].l == 0);
        assert_close(angles.revival[0].growth * request.skew.length, skew.worst, 1e-3, 0);
        worst[longer] = skew.worst;
        ww_skew_clear(&skew);
        ww_angles_clear(&angles);
    }
    assert_close(worst[1], 2 * worst[0], 1e-9, 0);
    board_close(&board);
}

/* Not one angle of a sweep forty times a lobe has more than the design curve says, and it says no more than they have. */
static void design_is_the_most_within_the_turn(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 90, 2.5);
    request.skew.turn = 0.8 * DEGREES;
    struct ww_angles angles = solve(&board, &request);
    const double tried[] = {0, 5, 20, 37.5, 47.5, 65, 85, 90};
    for (size_t t = 0; t < sizeof tried / sizeof *tried; t++) {
        const struct ww_at_angle *at = at_angle(&angles, tried[t] * DEGREES);
        double most = 0, step = PITCH / LENGTH / 40;
        int each_side = (int)ceil(request.skew.turn / step);
        for (int i = -each_side; i <= each_side; i++)
            most = fmax(most, worst_at(&board, &request.skew, at->angle + i * request.skew.turn / each_side));
        assert_true(at->design >= 0.995 * most);
        assert_true(at->design <= 1.01 * most);
    }
    ww_angles_clear(&angles);
    board_close(&board);
}

/* What each ply reaches at most by a sweep forty times a lobe, added. */
static double each_ply_turned(const struct board *board, const struct ww_skew_request *request, double angle,
                              bool pair)
{
    double high[2] = {0}, low[2] = {0}, spread[2] = {0}, step = PITCH / LENGTH / 40;
    int each_side = (int)ceil(request->turn / step);
    for (int i = -each_side; i <= each_side; i++) {
        struct ww_placements turned;
        struct ww_error error = {0};
        assert_ok(
            ww_placements_solve(&turned, board->line, request, angle + i * request->turn / each_side, false, &error),
            error);
        for (int p = 0; p < 2; p++) {
            high[p] = fmax(high[p], turned.high[p].value);
            low[p] = fmin(low[p], turned.low[p].value);
            spread[p] = fmax(spread[p], turned.high[p].value - turned.low[p].value);
        }
        ww_placements_clear(&turned);
    }
    return pair ? fmax(high[0] + high[1], -low[0] - low[1]) : spread[0] + spread[1];
}

/* Plies are turned each on its own; `skew` tells the same for one angle, from four angles a lobe. */
static void design_of_two_plies_adds_what_each_reaches(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    options.above = true;
    options.turn_above = 3 * DEGREES;
    for (int pair = 0; pair < 2; pair++) {
        options.pitch = pair ? 220 * UM : 0;
        struct board board;
        board_open(&board, &options);
        struct ww_angles_request request = request_of(0, 10, 5);
        request.skew.turn = 1 * DEGREES;
        struct ww_angles angles = solve(&board, &request);
        for (int angle = 0; angle <= 10; angle += 5) {
            struct ww_skew skew;
            struct ww_error error = {0};
            double design = at_angle(&angles, angle * DEGREES)->design;
            assert_close(design, each_ply_turned(&board, &request.skew, angle * DEGREES, pair), 0.01, 0);
            request.skew.angle = angle * DEGREES;
            assert_ok(ww_skew_solve(&skew, board.line, &request.skew, &error), error);
            assert_true(design >= 0.998 * skew.worst_with_turn && design < 1.1 * skew.worst_with_turn);
            ww_skew_clear(&skew);
        }
        ww_angles_clear(&angles);
        board_close(&board);
    }
}

/* Safe is whatever is further than the turn from all that is over the budget. */
static void windows_are_what_a_fine_sweep_finds(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(10, 80, 5);
    double turn = 0.5 * DEGREES;
    request.skew.turn = turn;
    request.skew.budget = 1.3 * worst_at(&board, &request.skew, 20 * DEGREES);
    struct ww_angles angles = solve(&board, &request);
    assert_true(angles.windows >= 2); /* the diagonal lies between */
    double step = PITCH / LENGTH / 24, allowed = 1.5 * step;
    size_t count = (size_t)((request.to - request.from + 2 * turn) / step) + 1, exceeded = 0;
    for (size_t i = 0; i < count; i++) {
        double angle = request.from - turn + (double)i * step;
        bool over = worst_at(&board, &request.skew, angle) > request.skew.budget;
        for (size_t w = 0; w < angles.windows; w++) {
            double from = angles.window[w].from - turn, to = angles.window[w].to + turn;
            if (over) /* never inside a window */
                assert_true(angle < from + allowed || angle > to - allowed);
        }
        exceeded += over;
    }
    assert_true(exceeded > 0);
    for (size_t w = 0; w < angles.windows;
         w++) { /* and within a tenth of a degree outside each end lies something over */
        const double ends[2] = {angles.window[w].from - turn, angles.window[w].to + turn};
        for (int end = 0; end < 2; end++) {
            double most = 0;
            if (end ? angles.window[w].to >= request.to - 1e-9 : angles.window[w].from <= request.from + 1e-9)
                continue;
            for (int i = 0; i < 24; i++)
                most = fmax(most, worst_at(&board, &request.skew, ends[end] + (end ? i : -i) * 0.11 * DEGREES / 23));
            assert_true(most >= 0.99 * request.skew.budget);
        }
        assert_true(at_angle(&angles, angles.window[w].from)->design <= 1.005 * request.skew.budget);
    }
    ww_angles_clear(&angles);
    board_close(&board);
}

/* Issue 13: "turn the route to 3.3 deg", and skew --gate failed there. The ends of windows and the angle to use are typed back
 * as they are printed, in tenths of a degree, with the tolerances of turn and counts. */
static void what_is_advised_meets_the_budget_when_solved_there(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 90, 2);
    request.skew.turn = 0.5 * DEGREES;
    request.skew.warp_tolerance = request.skew.fill_tolerance = 0.005;
    request.skew.budget = 1.3 * worst_at(&board, &request.skew, 20 * DEGREES);
    request.quick = false;
    struct ww_angles angles = solve(&board, &request);
    assert_true(angles.windows >= 1 && angles.advice.found);
    double typed[64] = {angles.advice.angle};
    size_t count = 1;
    for (size_t w = 0; w < angles.windows && count + 2 <= 64; w++) {
        assert_true(angles.window[w].to - angles.window[w].from >= request.step * (1 - 1e-6));
        typed[count++] = angles.window[w].from;
        typed[count++] = angles.window[w].to;
    }
    for (size_t i = 0; i < count; i++) {
        struct ww_skew skew;
        struct ww_skew_request own = request.skew;
        own.angle = round(typed[i] / DEGREES * 10) / 10 * DEGREES;
        assert_close(own.angle, typed[i], 0, 1e-9);
        assert_ok(ww_skew_solve(&skew, board.line, &own, &error), error);
        assert_true(skew.worst_with_turn <= request.skew.budget);
        if (i == 0)
            assert_close(skew.worst_with_turn, angles.advice.worst, 1e-9, 0);
        ww_skew_clear(&skew);
    }
    ww_angles_clear(&angles);
    board_close(&board);
}

/* The diagonal, a quarter of a degree wide, between angles ten degrees apart. */
static void revival_between_two_steps_is_found(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(20, 60, 10);
    struct ww_angles angles = solve(&board, &request);
    double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
    const struct ww_revival *found = NULL;
    for (size_t i = 0; i < angles.revivals; i++)
        if (angles.revival[i].m == 1 && angles.revival[i].l == -1)
            found = &angles.revival[i];
    assert_non_null(found);
    assert_close(found->angle, diagonal, 1e-9, 0);
    double there = worst_at(&board, &request.skew, diagonal);
    assert_close(at_angle(&angles, diagonal)->worst, there, 1e-6, 0);
    for (int angle = 20; angle <= 60; angle += 10)
        assert_true(at_angle(&angles, angle * DEGREES)->worst < 0.5 * there);
    /* and its flanks: no step about it is longer than a quarter of pitch/length */
    for (size_t i = 1; i < angles.count; i++)
        if (fabs(angles.at[i].angle - diagonal) < PITCH / LENGTH)
            assert_true(angles.at[i].angle - angles.at[i - 1].angle < 0.26 * PITCH / LENGTH);
    /* what it grows by is what twice the length adds */
    struct ww_skew_request longer = request.skew;
    longer.length *= 50;
    assert_close(found->growth * longer.length, worst_at(&board, &longer, diagonal), 0.02, 0);
    ww_angles_clear(&angles);
    board_close(&board);
}

static void turned_ply_shifts_its_revivals(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board straight, turned;
    board_open(&straight, &options);
    options.turn = 7 * DEGREES;
    board_open(&turned, &options);
    struct ww_angles_request request = request_of(-5, 60, 5);
    struct ww_angles before = solve(&straight, &request);
    request.from += 7 * DEGREES;
    request.to += 7 * DEGREES;
    struct ww_angles after = solve(&turned, &request);
    assert_true(before.revivals >= 2);
    assert_int_equal(before.revivals, after.revivals);
    for (size_t i = 0; i < before.revivals; i++) {
        assert_int_equal(after.revival[i].m, before.revival[i].m);
        assert_int_equal(after.revival[i].l, before.revival[i].l);
        assert_close(after.revival[i].angle, before.revival[i].angle + 7 * DEGREES, 0, 1e-9);
        assert_close(after.revival[i].growth, before.revival[i].growth, 1e-6, 0);
    }
    ww_angles_clear(&before);
    ww_angles_clear(&after);
    board_close(&straight);
    board_close(&turned);
}

/* The quick evaluator, harmonics between the scanned angles and small maps, against all positions at the very angle. */
static void quick_look_is_the_full_answer(void **state)
{
    (void)state;
    const struct ww_route_segment zigzag[] = {
        {9e-3, 5 * DEGREES}, {11e-3, -5 * DEGREES}, {8e-3, 5 * DEGREES}, {12e-3, -5 * DEGREES}};
    for (int kind = 0; kind < 3; kind++) { /* pair, single, pair on a route */
        struct board_options options = pair_options();
        options.pitch = kind == 1 ? 0 : options.pitch;
        struct board board;
        board_open(&board, &options);
        struct ww_skew_request request = {.length = LENGTH};
        if (kind == 2) {
            request.route = zigzag;
            request.segments = 4;
        }
        struct ww_progress_run progress = {0};
        struct ww_angle_table *table;
        struct ww_evaluator *evaluator;
        struct ww_error error = {0};
        assert_ok(ww_angle_table_create(&table, board.line, &request, 0, 90 * DEGREES, 2 * LENGTH, &progress, &error),
                  error);
        assert_ok(ww_evaluator_create(&evaluator, table, &error), error);
        double most = 0, tried[60];
        for (int i = 0; i < 60; i++)
            most = fmax(most, tried[i] = worst_at(&board, &request, i * 1.517 * DEGREES));
        for (int i = 0; i < 60; i++) {
            ww_evaluator_turn(evaluator, i * 1.517 * DEGREES);
            assert_close(ww_evaluator_worst(evaluator, 1), tried[i], 0.005, 1e-5 * most);
            assert_true(tried[i] > 1e-4 * most);
        }
        ww_evaluator_destroy(evaluator);
        ww_angle_table_destroy(table);
        board_close(&board);
    }
}

/* A zigzag of plus and minus five degrees stands still on the yarns where one of its ways does. */
static void routes_revive_where_a_segment_does(void **state)
{
    (void)state;
    const struct ww_route_segment zigzag[] = {{20e-3, 5 * DEGREES}, {20e-3, -5 * DEGREES}};
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(-10, 10, 1);
    request.skew.route = zigzag;
    request.skew.segments = 2;
    struct ww_angles angles = solve(&board, &request);
    struct ww_angles_request straight = request_of(-1, 1, 0.5);
    struct ww_angles along = solve(&board, &straight);
    assert_true(angles.revivals == 2);
    assert_close(angles.revival[0].angle, -5 * DEGREES, 0, 1e-9);
    assert_close(angles.revival[1].angle, 5 * DEGREES, 0, 1e-9);
    for (int i = 0; i < 2; i++) /* half the route each */
        assert_close(angles.revival[i].growth, 0.5 * along.revival[0].growth, 1e-3, 0);
    ww_angles_clear(&along);
    ww_angles_clear(&angles);
    board_close(&board);
}

static void budget_beyond_all_and_below_all(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 90, 5);
    request.skew.budget = 1;
    struct ww_angles all = solve(&board, &request);
    assert_int_equal(all.windows, 1);
    assert_close(all.window[0].to - all.window[0].from, 90 * DEGREES, 1e-12, 0);
    assert_close(all.safe_from_warp, 0, 0, 0);
    request.skew.budget = 1e-18;
    request.skew.turn = 1 * DEGREES;
    struct ww_angles none = solve(&board, &request);
    assert_int_equal(none.windows, 0);
    assert_true(none.safe_from_warp < 0 && none.safe_from_fill < 0 && none.safe_from_diagonal < 0);
    request.skew.budget = 0;
    struct ww_angles without = solve(&board, &request);
    assert_int_equal(without.windows, 0);
    assert_true(without.safe_from_warp < 0);
    assert_close(without.at[0].design, none.at[0].design, 1e-12, 0);
    ww_angles_clear(&all);
    ww_angles_clear(&none);
    ww_angles_clear(&without);
    board_close(&board);
}

/* The turn away from each direction is the way to the nearest window, wherever the range lies. */
static void safe_turns_are_measured_from_the_windows(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles_request request = request_of(0, 90, 5);
    request.skew.turn = 1 * DEGREES;
    request.skew.budget = worst_at(&board, &request.skew, 8 * DEGREES);
    request.skew.budget = fmax(request.skew.budget, 0.02 * worst_at(&board, &request.skew, 0));
    struct ww_angles angles = solve(&board, &request);
    assert_true(angles.windows >= 1);
    assert_close(angles.safe_from_warp, angles.window[0].from, 0, 1e-12);
    assert_close(angles.safe_from_fill, 90 * DEGREES - angles.window[angles.windows - 1].to, 0, 1e-12);
    assert_true(angles.safe_from_warp > request.skew.turn);
    request.from += WW_PI;
    request.to += WW_PI;
    struct ww_angles far = solve(&board, &request);
    assert_close(far.safe_from_warp, angles.safe_from_warp, 0, 1e-3 * DEGREES);
    assert_close(far.safe_from_fill, angles.safe_from_fill, 0, 1e-3 * DEGREES);
    ww_angles_clear(&far);
    ww_angles_clear(&angles);
    board_close(&board);
}

struct told {
    double last;
    int count;
    bool fell;
};

static void listen(void *context, double share)
{
    struct told *told = context;
    told->fell |= !(share >= told->last) || share > 1;
    told->last = share;
    told->count++;
}

static void threads_do_not_change_a_digit_and_progress_rises(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    struct ww_angles angles[2];
    for (int i = 0; i < 2; i++) {
        struct told told = {0};
        struct ww_angles_request request = request_of(0, 45, 1.5);
        request.skew.turn = 1 * DEGREES;
        request.skew.budget = 1e-13;
        request.progress = (struct ww_progress){listen, &told};
        ww_threads_set(i ? 3 : 1);
        angles[i] = solve(&board, &request);
        ww_threads_set(0);
        assert_false(told.fell);
        assert_true(told.count > 20);
        assert_close(told.last, 1, 1e-12, 0);
    }
    assert_int_equal(angles[0].count, angles[1].count);
    assert_memory_equal(angles[0].at, angles[1].at, angles[0].count * sizeof *angles[0].at);
    assert_int_equal(angles[0].windows, angles[1].windows);
    if (angles[0].windows)
        assert_memory_equal(angles[0].window, angles[1].window, angles[0].windows * sizeof *angles[0].window);
    ww_angles_clear(&angles[0]);
    ww_angles_clear(&angles[1]);
    board_close(&board);
}

static void requests_out_of_range_are_refused(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    board_open(&board, &options);
    const struct {
        struct ww_angles_request request;
        const char *says;
    } bad[] = {
        {request_of(0, 90, 90e-6), "20000 at most"}, /* a million */
        {request_of(0, 90, 1e-300), "20000 at most"},
        {request_of(50, 40, 1), "empty range"},
        {request_of(45, 45, 1), "empty range"},
        {request_of(0, 90, 0), "a step of 0 deg"},
        {request_of(0, 90, -1), "a step of -1 deg"},
        {request_of(NAN, 90, 1), "within 360 deg"},
        {request_of(0, INFINITY, 1), "within 360 deg"},
        {request_of(0, 90, NAN), "a step of"},
        {{.skew = {.length = 0}, .to = 1, .step = 0.1}, "length 0 m"},
        {{.skew = {.length = NAN}, .to = 1, .step = 0.1}, "length"},
        {{.skew = {.length = 0.1, .turn = -1}, .to = 1, .step = 0.1}, "turn"},
        {{.skew = {.length = 0.1, .budget = NAN}, .to = 1, .step = 0.1}, "budget"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_angles angles;
        struct ww_error error = {0};
        assert_int_equal(ww_angles_solve(&angles, board.line, &bad[i].request, &error), WW_INVALID);
        assert_contains(error.text, bad[i].says);
        assert_null(angles.at);
        assert_int_equal(angles.count, 0);
    }
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(phase_matched_angles_are_found),
        cmocka_unit_test(uniform_dk_has_no_skew),
        cmocka_unit_test(symmetric_about_the_warp_and_periodic),
        cmocka_unit_test(warp_is_the_answer_for_one_angle_and_grows_with_length),
        cmocka_unit_test(design_is_the_most_within_the_turn),
        cmocka_unit_test(design_of_two_plies_adds_what_each_reaches),
        cmocka_unit_test(windows_are_what_a_fine_sweep_finds),
        cmocka_unit_test(what_is_advised_meets_the_budget_when_solved_there),
        cmocka_unit_test(revival_between_two_steps_is_found),
        cmocka_unit_test(turned_ply_shifts_its_revivals),
        cmocka_unit_test(quick_look_is_the_full_answer),
        cmocka_unit_test(routes_revive_where_a_segment_does),
        cmocka_unit_test(budget_beyond_all_and_below_all),
        cmocka_unit_test(safe_turns_are_measured_from_the_windows),
        cmocka_unit_test(threads_do_not_change_a_digit_and_progress_rises),
        cmocka_unit_test(requests_out_of_range_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
