/* Spread of the current on copper: Wheeler's rule on closed forms. By differences of the tool's own solution: test_wheeler.c.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "line/conductor.h"
#include "line/foil.h"

#include <math.h>

/* A stripline of copper t thick between planes b apart, without cloth. */
static void solve(double width, double thickness, double b, double pitch, struct board *board,
                  struct ww_conductor *of)
{
    struct ww_error error = {0};
    struct board_options options = board_plain();
    options.width = width;
    options.thickness = thickness;
    options.pitch = pitch;
    options.height = 0.5 * (b - thickness);
    options.below = false;
    options.fineness = pitch > 0 ? 0.5 : 1; /* a pair takes longer */
    board_open(board, &options);
    assert_ok(ww_conductor_solve(of, board->line, &error), error);
}

/* L/mu0 of a wide strip between planes with the exact fringing of its corners (S. B. Cohn, IRE Trans. MTT-2, 52, 1954; from
 * memory; good to 3e-5 at w/b = 1, t/b = 0.1 against boundary elements). */
static double wide_strip(double w, double t, double b)
{
    double k = 1 / (1 - t / b), fringe = (2 * k * log(k + 1) - (k - 1) * log(k * k - 1)) / WW_PI;
    return 0.25 / (k * w / b + fringe);
}

/* All copper recedes by n from where the field is: Wheeler, Proc. IRE 30, 412, 1942. */
static void wide_strips_follow_wheelers_rule(void **state)
{
    static const double size[][2] = {{1, 0.1}, {1, 0.05}, {2, 0.1}, {1, 0.2}};
    (void)state;
    for (size_t i = 0; i < sizeof size / sizeof *size; i++) {
        double b = 200 * UM, w = size[i][0] * b, t = size[i][1] * b, n = 1e-5 * b;
        double trace = (wide_strip(w - 2 * n, t - 2 * n, b) - wide_strip(w + 2 * n, t + 2 * n, b)) / (2 * n);
        double planes = (wide_strip(w, t, b + 2 * n) - wide_strip(w, t, b - 2 * n)) / (2 * n);
        struct board board;
        struct ww_conductor of;
        solve(w, t, b, 0, &board, &of);
        assert_close(of.even.trace, trace, 3e-3, 0);
        assert_close(of.even.planes, planes, 2e-3, 0);
        board_close(&board);
    }
}

/* Far from each other, the legs of a pair are single traces; near, the odd mode crowds on the inner edges. */
static void legs_far_apart_are_single_traces(void **state)
{
    struct board single, far, near;
    struct ww_conductor alone, apart, tight;
    (void)state;
    solve(100 * UM, 15 * UM, 215 * UM, 0, &single, &alone);
    solve(100 * UM, 15 * UM, 215 * UM, 1000 * UM, &far, &apart);
    solve(100 * UM, 15 * UM, 215 * UM, 140 * UM, &near, &tight);
    assert_close(apart.odd.trace, alone.even.trace, 5e-3, 0);
    assert_close(apart.even.trace, alone.even.trace, 5e-3, 0);
    assert_close(apart.even.planes, alone.even.planes, 5e-3, 0);
    assert_true(tight.odd.trace > 1.2 * tight.even.trace);
    assert_true(tight.odd.planes < 0.7 * tight.even.planes);
    board_close(&single);
    board_close(&far);
    board_close(&near);
}

static void a_foil_without_thickness_is_refused(void **state)
{
    struct board board;
    struct board_options options = board_plain();
    struct ww_conductor of;
    struct ww_error error = {0};
    (void)state;
    options.thickness = 0;
    options.below = false;
    board_open(&board, &options);
    assert_int_equal(ww_conductor_solve(&of, board.line, &error), WW_INVALID);
    assert_contains(error.text, "give [trace] thickness");
    board_close(&board);
}

/* Arithmetic done apart: a current as if spread evenly over 0.15 mm, 10 GHz; 50 ohm at er 3.7. Smooth copper adds 0.86 % of apparent
 * Dk, copper of twice the surface impedance twice as much. */
static void copper_adds_to_the_apparent_dk(void **state)
{
    const struct ww_spread even = {.trace = 1 / 0.15e-3}, halves = {0.5 / 0.15e-3, 0.5 / 0.15e-3};
    const struct ww_foil foil = {.conductivity = 5.8e7};
    const double omega = 2 * WW_PI * 10e9, outside = 3.208116740e-7;
    (void)state;
    double _Complex surface = ww_foil_impedance(&foil, 10e9);
    double inside = cimag(ww_conductor_impedance(&even, 0, surface)) / omega;
    assert_close(inside, 2.768182662e-9, 1e-8, 0);
    assert_close(inside / outside, 0.00862868, 1e-6, 0);
    assert_close(sqrt(1 + inside / outside), 1.004305075, 1e-9, 0);
    assert_close(cimag(ww_conductor_impedance(&halves, 0, 2 * surface)) / omega / outside, 0.01725737, 1e-6, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wide_strips_follow_wheelers_rule),
        cmocka_unit_test(legs_far_apart_are_single_traces),
        cmocka_unit_test(copper_adds_to_the_apparent_dk),
        cmocka_unit_test(a_foil_without_thickness_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
