/* test_route.c - routes of several segments: against straight ones, mirror images, and the slow way leg by leg.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * At a bend by b to the right, legs a pitch P apart are mitred: with the corner of the centre line between them, the
 * left leg runs P/2 tan(b/2) further on either side of the corner and the right one as much less. So the left leg is
 * 2 P tan(b/2) longer than the right.
 */
#include "direct.h"
#include "weftwise/chance.h"

#include <stdlib.h>

#define PITCH (220 * UM)

static const double places[][2] = {
    {0, 0}, {100 * UM, 50 * UM}, {-333 * UM, 812 * UM}, {423 * UM, -77 * UM}, {7e-3, 3e-3}};
#define PLACES (sizeof places / sizeof *places)

/* A zig-zag without any symmetry of its own. */
static const struct ww_route_segment crooked[] = {
    {1.7e-3, 10 * DEGREES}, {2.3e-3, -10 * DEGREES}, {1.1e-3, 35 * DEGREES}, {0.9e-3, -55 * DEGREES}};
enum { CROOKED = sizeof crooked / sizeof *crooked };

static struct board_options coarse(double pitch)
{
    struct board_options options = board_plain();
    options.pitch = pitch;
    options.cell = (struct ww_cell_options){.nx = 36, .ny = 36, .nz = 3};
    options.fineness = 0.5;
    return options;
}

static double length_of(const struct ww_route_segment *route, size_t segments)
{
    double sum = 0;
    for (size_t i = 0; i < segments; i++)
        sum += route[i].length;
    return sum;
}

static struct ww_scan *scan_of(const struct board *board, double angle, const struct ww_route_segment *route,
                               size_t segments)
{
    struct ww_scan_options options = {.positions = 64, .route = route, .segments = segments};
    struct ww_scan *scan;
    struct ww_error error = {0};
    assert_ok(ww_scan_create(&scan, board->line, angle, &options, &error), error);
    return scan;
}

static double value_at(const struct ww_scan *scan, size_t ply, enum ww_signal signal, double length, double x,
                       double y)
{
    double value;
    struct ww_error error = {0};
    assert_ok(ww_scan_value(scan, ply, signal, WW_MEAN, length, x, y, &value, &error), error);
    return value;
}

static struct ww_skew solve(const struct board *board, double angle, const struct ww_route_segment *route,
                            size_t segments, double length)
{
    struct ww_skew_request request = {.length = length,
                                      .angle = angle,
                                      .route = route,
                                      .segments = segments,
                                      .budget = 0.2e-12,
                                      .scan = {.positions = 64}};
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, &request, &error), error);
    return skew;
}

#define ROUNDING 1e-14 /* of the delay */
/* The means of the two legs are equal but for what the field's solver leaves; a straight trace counts that as skew, a
 * route as length. */
#define MEANS 1e-11

/* Both legs, skew and the whole answer of two descriptions of one and the same trace. */
static void check_same(const struct board *board, double angle, const struct ww_route_segment *one, size_t ones,
                       double other_angle, const struct ww_route_segment *other, size_t others, double length)
{
    struct ww_scan *a = scan_of(board, angle, one, ones), *b = scan_of(board, other_angle, other, others);
    bool pair = board->line->mesh.pair;
    double delay = ww_scan_mean_delay(a, WW_LEG1, length), within = MEANS * delay;
    assert_close(ww_scan_mean_delay(b, WW_LEG1, length), delay, 0, ROUNDING * delay);
    for (size_t i = 0; i < PLACES; i++)
        for (int signal = WW_LEG1; signal <= (pair ? WW_SKEW : WW_LEG1); signal++)
            assert_close(value_at(b, 0, (enum ww_signal)signal, length, places[i][0], places[i][1]),
                         value_at(a, 0, (enum ww_signal)signal, length, places[i][0], places[i][1]), 0,
                         (signal == WW_SKEW ? MEANS : ROUNDING) * delay);
    ww_scan_destroy(a);
    ww_scan_destroy(b);

    struct ww_skew s = solve(board, angle, one, ones, length), t = solve(board, other_angle, other, others, length);
    assert_close(t.worst, s.worst, 0, within);
    assert_close(t.worst_upper, s.worst_upper, 0, within);
    assert_close(t.worst_lower, s.worst_lower, 0, within);
    assert_close(t.spread, s.spread, 0, within);
    assert_close(t.high[0].value, s.high[0].value, 0, within);
    assert_close(t.low[0].value, s.low[0].value, 0, within);
    assert_close(t.deviation, s.deviation, 0, within);
    assert_close(t.over_budget, s.over_budget, 0, 1e-6);
    assert_close(t.mismatch, s.mismatch, 0, within);
    ww_skew_clear(&s);
    ww_skew_clear(&t);
}

static void one_segment_is_straight(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair ? PITCH : 0);
        options.turn = 3 * DEGREES;
        options.shift_x = 31 * UM;
        struct board board;
        board_open(&board, &options);
        for (int degrees = -60; degrees < 120; degrees += 30) {
            double angle = degrees * DEGREES, length = 4.4e-3;
            struct ww_route_segment segment = {length, angle}, along = {length, 0}, turned = {length, angle - 0.1};
            check_same(&board, angle, NULL, 0, 0, &segment, 1, length);
            check_same(&board, angle, NULL, 0, angle, &along, 1, length);
            check_same(&board, angle, NULL, 0, 0.1, &turned, 1, length);
        }
        board_close(&board);
    }
}

static void straight_route_in_segments_is_the_whole(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair ? PITCH : 0);
        struct board board;
        board_open(&board, &options);
        for (int degrees = 0; degrees <= 90; degrees += 18) {
            double angle = degrees * DEGREES;
            struct ww_route_segment cut[7];
            for (int i = 0; i < 7; i++)
                cut[i] = (struct ww_route_segment){(0.3 + 0.1 * i) * 1e-3, angle};
            check_same(&board, angle, NULL, 0, 0, cut, 7, length_of(cut, 7));
        }
        board_close(&board);
    }
}

/* A segment cut in two, within a route that bends. */
static void bent_route_may_be_cut_anywhere(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    struct ww_route_segment cut[CROOKED + 2] = {
        crooked[0], crooked[1], {0.4e-3, crooked[2].angle}, {0.7e-3, crooked[2].angle}, crooked[3], crooked[3]};
    cut[4].length = cut[5].length = 0.5 * crooked[3].length;
    check_same(&board, 0.2, crooked, CROOKED, 0.2, cut, CROOKED + 2, length_of(crooked, CROOKED));
    board_close(&board);
}

/* The cloth is its own mirror image in x when it is moved on by one fill pitch; the legs change places. */
static void mirror_image_has_the_other_sign(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    double length = length_of(crooked, CROOKED), pitch = 0.5 * board.stack.ply[0].cell.ly;
    struct ww_route_segment mirrored[CROOKED];
    for (int i = 0; i < CROOKED; i++)
        mirrored[i] = (struct ww_route_segment){crooked[i].length, -crooked[i].angle};
    struct ww_skew skew = solve(&board, 0, crooked, CROOKED, length),
                   other = solve(&board, 0, mirrored, CROOKED, length);
    struct ww_scan *a = scan_of(&board, 0, crooked, CROOKED), *b = scan_of(&board, 0, mirrored, CROOKED);
    for (size_t i = 0; i < PLACES; i++) {
        double x = places[i][0], y = places[i][1];
        assert_close(value_at(b, 0, WW_SKEW, length, -x, y + pitch), -value_at(a, 0, WW_SKEW, length, x, y), 0,
                     1e-9 * skew.worst);
        assert_close(value_at(b, 0, WW_LEG2, length, -x, y + pitch), value_at(a, 0, WW_LEG1, length, x, y), 0,
                     1e-9 * skew.worst);
    }
    assert_close(other.high[0].value, -skew.low[0].value, 1e-9, 0);
    assert_close(other.low[0].value, -skew.high[0].value, 1e-9, 0);
    assert_true(skew.mismatch != 0);
    assert_close(other.mismatch, -skew.mismatch, 1e-9, 0);
    ww_scan_destroy(a);
    ww_scan_destroy(b);
    ww_skew_clear(&skew);
    ww_skew_clear(&other);
    board_close(&board);
}

/* Run from its end the route has its legs exchanged. */
static void way_back_has_the_other_sign(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    options.turn = -4 * DEGREES;
    struct board board;
    board_open(&board, &options);
    double length = length_of(crooked, CROOKED), dx = 0, dy = 0;
    struct ww_route_segment back[CROOKED];
    for (int i = 0; i < CROOKED; i++) {
        back[i] = (struct ww_route_segment){crooked[CROOKED - 1 - i].length, crooked[CROOKED - 1 - i].angle + WW_PI};
        dx += crooked[i].length * sin(crooked[i].angle - options.turn);
        dy += crooked[i].length * cos(crooked[i].angle - options.turn);
    }
    struct ww_scan *a = scan_of(&board, 0, crooked, CROOKED), *b = scan_of(&board, 0, back, CROOKED);
    double delay = ww_scan_mean_delay(a, WW_LEG1, length);
    for (size_t i = 0; i < PLACES; i++) {
        double x = places[i][0], y = places[i][1];
        assert_close(value_at(b, 0, WW_SKEW, length, x + dx, y + dy), -value_at(a, 0, WW_SKEW, length, x, y), 0,
                     1e-12 * delay);
        assert_close(value_at(b, 0, WW_LEG1, length, x + dx, y + dy), value_at(a, 0, WW_LEG2, length, x, y), 0,
                     1e-12 * delay);
    }
    ww_scan_destroy(a);
    ww_scan_destroy(b);
    board_close(&board);
}

/* --- the slow way ------------------------------------------------------------------------------------------------- */

/* Delay of both legs less what their lengths alone make [s], corner by corner, by quadrature of sums over the
 * cross-section. A leg's way over one segment of the centre line starts where its mitre puts it. */
static void delays_by_quadrature(const struct board *board, const struct ww_route_segment *route, size_t segments,
                                 double x, double y, double value[2])
{
    double turn = board->stack.ply[0].turn;
    bool pair = board->line->mesh.pair;
    value[0] = value[1] = 0;
    for (size_t i = 0; i < segments; i++) {
        double before = i ? route[i].angle - route[i - 1].angle : 0,
               after = i + 1 < segments ? route[i + 1].angle - route[i].angle : 0;
        double ux = sin(route[i].angle - turn), uy = cos(route[i].angle - turn);
        struct direct *direct = direct_open(board, route[i].angle);
        struct ww_scan *straight = scan_of(board, route[i].angle, NULL, 0);
        for (int leg = 0; leg < (pair ? 2 : 1); leg++) {
            double outside = pair ? (leg ? -0.5 : 0.5) * PITCH : 0;
            double early = outside * tan(0.5 * before), late = outside * tan(0.5 * after), delay[2];
            double length = early + route[i].length + late;
            direct_delay(direct, x - early * ux, y - early * uy, length, delay);
            value[leg] += delay[leg] - ww_scan_mean_delay(straight, leg ? WW_LEG2 : WW_LEG1, length);
        }
        x += route[i].length * ux;
        y += route[i].length * uy;
        ww_scan_destroy(straight);
        direct_close(direct);
    }
}

/* Against quadrature to what the scan's own grid of capacitances leaves open (tests/scan/test_direct.c: 1e-6 of the delay
 * of 30 um, less of more). */
static void check_against_quadrature(double pitch, const struct ww_route_segment *route, size_t segments)
{
    struct board_options options = coarse(pitch);
    options.turn = 3 * DEGREES;
    struct board board;
    board_open(&board, &options);
    double length = length_of(route, segments);
    struct ww_scan *scan = scan_of(&board, 0, route, segments);
    double delay = ww_scan_mean_delay(scan, WW_LEG1, length);
    for (size_t i = 0; i < 3; i++) {
        double x = places[i][0], y = places[i][1], want[2];
        delays_by_quadrature(&board, route, segments, x, y, want);
        assert_close(value_at(scan, 0, WW_LEG1, length, x, y), want[0], 0, 1e-6 * delay);
        if (pitch > 0) {
            double skew = value_at(scan, 0, WW_SKEW, length, x, y);
            print_message("%zu segments: skew %.5f fs, by quadrature %.5f fs\n", segments, skew * 1e15,
                          (want[0] - want[1]) * 1e15);
            assert_close(value_at(scan, 0, WW_LEG2, length, x, y), want[1], 0, 1e-6 * delay);
            assert_close(skew, want[0] - want[1], 0, 1e-6 * delay);
            assert_true(fabs(skew) > 1e-5 * delay); /* or the comparison would say nothing */
        }
    }
    ww_scan_destroy(scan);
    board_close(&board);
}

static void zig_zag_agrees_with_quadrature(void **state)
{
    (void)state;
    static const struct ww_route_segment zig_zag[] = {
        {1.3e-3, 10 * DEGREES}, {1.3e-3, -10 * DEGREES}, {1.3e-3, 10 * DEGREES}, {1.3e-3, -10 * DEGREES}};
    check_against_quadrature(PITCH, zig_zag, 4);
    check_against_quadrature(0, zig_zag, 4);
}

static void sharp_bends_agree_with_quadrature(void **state)
{
    (void)state;
    check_against_quadrature(PITCH, crooked, CROOKED);
}

/* The running skew of the profile ends in what the scan says of the whole. */
static void profile_ends_in_the_value(void **state)
{
    (void)state;
    enum { COUNT = 2001 };
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    double length = length_of(crooked, CROOKED);
    struct ww_scan *scan = scan_of(&board, 0, crooked, CROOKED);
    double *dk1 = calloc(3 * COUNT, sizeof *dk1), *dk2 = dk1 + COUNT, *running = dk2 + COUNT;
    struct ww_error error = {0};
    assert_non_null(dk1);
    for (size_t i = 0; i < PLACES; i++) {
        double start[1][2] = {{places[i][0], places[i][1]}};
        assert_ok(
            ww_scan_profile(scan, (const double(*)[2])start, length, 0, length, COUNT, dk1, dk2, running, &error),
            error);
        assert_close(running[0], 0, 0, 1e-20);
        assert_close(running[COUNT - 1], value_at(scan, 0, WW_SKEW, length, places[i][0], places[i][1]), 0, 1e-18);
        for (int n = 0; n < COUNT; n++)
            assert_true(dk1[n] > 3.2 && dk1[n] < 4.5 && dk2[n] > 3.2 && dk2[n] < 4.5);
    }
    free(dk1);
    ww_scan_destroy(scan);
    board_close(&board);
}

/* --- lengths ------------------------------------------------------------------------------------------------------ */

static double slowness_at(const struct board *board, double angle)
{
    struct ww_scan *scan = scan_of(board, angle, NULL, 0);
    double slowness = 0.5 * (ww_scan_mean_delay(scan, WW_LEG1, 1) + ww_scan_mean_delay(scan, WW_LEG2, 1));
    ww_scan_destroy(scan);
    return slowness;
}

static double mismatch_of(const struct board *board, const struct ww_route_segment *route, size_t segments)
{
    struct ww_skew skew = solve(board, 0, route, segments, length_of(route, segments));
    double mismatch = skew.mismatch;
    ww_skew_clear(&skew);
    return mismatch;
}

static void one_bend_makes_the_outer_leg_longer(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    for (int degrees = -120; degrees <= 120; degrees += 15) {
        double bend = degrees * DEGREES, first = 20 * DEGREES;
        struct ww_route_segment route[] = {{5e-3, first}, {3e-3, first + bend}};
        double slowness = 0.5 * (slowness_at(&board, first) + slowness_at(&board, first + bend));
        assert_close(mismatch_of(&board, route, 2), 2 * PITCH * tan(0.5 * bend) * slowness, 1e-9, 1e-24);
    }
    /* by hand: 45 deg to the right, 220 um: 2 x 220 um x 0.41421356 = 182.254 um, at an index near 1.87 some 1.14 ps */
    struct ww_route_segment route[] = {{5e-3, 0}, {5e-3, 45 * DEGREES}};
    double index = slowness_at(&board, 0) * WW_C0;
    assert_close(mismatch_of(&board, route, 2), 182.254e-6 * index / WW_C0, 1e-3, 0);
    board_close(&board);
}

static void jog_and_zig_zag_make_none(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    struct ww_route_segment jog[] = {{5e-3, 0}, {2e-3, 30 * DEGREES}, {5e-3, 0}};
    assert_close(mismatch_of(&board, jog, 3), 0, 0, 1e-24);
    struct ww_route_segment turned[] = {{5e-3, 70 * DEGREES}, {2e-3, 15 * DEGREES}, {5e-3, 70 * DEGREES}};
    assert_close(mismatch_of(&board, turned, 3), 0, 0, 1e-24);
    struct ww_route_segment straight[] = {{5e-3, 0.3}, {2e-3, 0.3}};
    assert_close(mismatch_of(&board, straight, 2), 0, 0, 1e-24);
    board_close(&board);
    options.pitch = 0; /* nor a single trace any */
    board_open(&board, &options);
    struct ww_route_segment bent[] = {{5e-3, 0}, {5e-3, 45 * DEGREES}};
    assert_close(mismatch_of(&board, bent, 2), 0, 0, 0);
    board_close(&board);
}

/* Bends are no skew of the weave: in resin alone there is a mismatch and no skew. */
static void bends_without_weave_have_no_skew(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    options.glass_dk = options.resin_dk;
    struct board board;
    board_open(&board, &options);
    struct ww_skew skew = solve(&board, 0, crooked, CROOKED, length_of(crooked, CROOKED));
    assert_close(skew.worst, 0, 0, 1e-12 * skew.mean_delay);
    assert_true(fabs(skew.mismatch) > 1e-3 * skew.mean_delay);
    ww_skew_clear(&skew);
    board_close(&board);
}

/* Where bends count, their mismatch is added to the skew of every placement, at the study's angle and within tolerances. */
static void bends_that_count_are_added_to_every_placement(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    struct ww_skew_request request = {.length = length_of(crooked, CROOKED),
                                      .route = crooked,
                                      .segments = CROOKED,
                                      .turn = 1 * DEGREES,
                                      .budget = 1e-12,
                                      .scan = {.positions = 64}};
    struct ww_skew apart, counted;
    assert_int_equal(ww_skew_solve(&apart, board.line, &request, NULL), WW_OK);
    request.scan.bends = true;
    assert_int_equal(ww_skew_solve(&counted, board.line, &request, NULL), WW_OK);
    double m = apart.mismatch, high = 0, low = 0;
    assert_true(m != 0);
    assert_close(counted.mismatch, m, 1e-12, 0);
    assert_close(counted.high[0].value, apart.high[0].value + m, 1e-9, 1e-9 * fabs(m));
    assert_close(counted.low[0].value, apart.low[0].value + m, 1e-9, 1e-9 * fabs(m));
    for (size_t p = 0; p < apart.plies; p++) {
        high += apart.high[p].value;
        low += apart.low[p].value;
        for (size_t i = 0; i < apart.map[p].nx * apart.map[p].ny; i++)
            assert_close(counted.map[p].value[i], apart.map[p].value[i] + (p == 0 ? m : 0), 1e-9, 1e-9 * fabs(m));
    }
    assert_close(counted.worst, fmax(high + m, -(low + m)), 1e-9, 0);
    assert_true(counted.worst_with_turn >= counted.worst * (1 - 1e-9));
    assert_true(counted.worst_with_turn > apart.worst_with_turn - fabs(m) - 1e-15);
    ww_skew_clear(&apart);
    ww_skew_clear(&counted);
    board_close(&board);
}

/* Bends that leave nothing of the inner leg: between two of 90 deg a segment must be longer than the pitch. */
static void a_segment_too_short_for_its_bends_is_refused(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    for (int enough = 0; enough < 2; enough++) {
        struct ww_route_segment route[] = {
            {5e-3, 0}, {(enough ? 1.01 : 0.99) * PITCH, 90 * DEGREES}, {5e-3, 180 * DEGREES}};
        struct ww_skew_request request = {.length = length_of(route, 3), .route = route, .segments = 3};
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), enough ? WW_OK : WW_INVALID);
        ww_skew_clear(&skew);
    }
    board_close(&board);
}

/* --- what is refused ---------------------------------------------------------------------------------------------- */

static void bad_routes_are_refused(void **state)
{
    (void)state;
    struct board_options options = coarse(PITCH);
    struct board board;
    board_open(&board, &options);
    static const struct ww_route_segment bad[][2] = {
        {{0, 0}, {1e-3, 0}},        {{1e-3, 0}, {-1e-3, 0}},    {{1e-3, NAN}, {1e-3, 0}},
        {{NAN, 0}, {1e-3, 0}},      {{INFINITY, 0}, {1e-3, 0}}, {{1e-3, 0}, {1e-3, 170 * DEGREES}},
        {{1e-3, 0}, {1e-3, WW_PI}},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_skew_request request = {.length = 2e-3, .route = bad[i], .segments = 2};
        struct ww_skew skew;
        struct ww_error error = {0};
        assert_int_equal(ww_skew_solve(&skew, board.line, &request, &error), WW_INVALID);
        assert_true(strlen(error.text) > 0);
        assert_null(skew.map);
    }
    struct ww_skew_request none = {.length = 2e-3, .route = crooked, .segments = 0};
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_int_equal(ww_skew_solve(&skew, board.line, &none, &error), WW_INVALID);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_segment_is_straight),
        cmocka_unit_test(straight_route_in_segments_is_the_whole),
        cmocka_unit_test(bent_route_may_be_cut_anywhere),
        cmocka_unit_test(mirror_image_has_the_other_sign),
        cmocka_unit_test(way_back_has_the_other_sign),
        cmocka_unit_test(zig_zag_agrees_with_quadrature),
        cmocka_unit_test(sharp_bends_agree_with_quadrature),
        cmocka_unit_test(profile_ends_in_the_value),
        cmocka_unit_test(one_bend_makes_the_outer_leg_longer),
        cmocka_unit_test(jog_and_zig_zag_make_none),
        cmocka_unit_test(bends_without_weave_have_no_skew),
        cmocka_unit_test(bends_that_count_are_added_to_every_placement),
        cmocka_unit_test(a_segment_too_short_for_its_bends_is_refused),
        cmocka_unit_test(bad_routes_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
