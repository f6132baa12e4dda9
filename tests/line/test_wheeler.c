/* Resistance of strips against H. A. Wheeler's incremental inductance rule (Proc. IRE 30, 412, 1942), by differences of this
 * program's own solution: all copper recedes from where the field is, and R = (Rs/mu0) dL/dn.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * ww_conductor_solve takes the charges of one cross-section, squared; here no charge is looked at, only the capacitance of
 * other cross-sections, whose trace is narrower and thinner by 2n or whose planes are 2n further apart.
 */
#include "board.h"
#include "line/conductor.h"

#include <math.h>

/* A stripline of copper t thick between planes b apart, without cloth; pitch 0: single. */
static void open_strip(struct board *board, double width, double thickness, double b, double pitch)
{
    struct board_options options = board_plain();
    options.width = width;
    options.thickness = thickness;
    options.pitch = pitch;
    options.height = 0.5 * (b - thickness);
    options.below = false;
    options.fineness = 1;
    board_open(board, &options);
}

/* L/mu0 of a leg, driven even (single) and odd. */
struct inductance {
    double even, odd;
};

static struct inductance inductance_of(double width, double thickness, double b, double pitch)
{
    struct board board;
    open_strip(&board, width, thickness, b, pitch);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    struct inductance of = {WW_EPS0 / (s->ca[0][0] + s->ca[0][1]), WW_EPS0 / (s->ca[0][0] - s->ca[0][1])};
    board_close(&board);
    return of;
}

static struct inductance slope(struct inductance before, struct inductance after, double step)
{
    return (struct inductance){(after.even - before.even) / step, (after.odd - before.odd) / step};
}

static struct inductance trace_recedes(double w, double t, double b, double pitch, double n)
{
    return slope(inductance_of(w + 2 * n, t + 2 * n, b, pitch), inductance_of(w - 2 * n, t - 2 * n, b, pitch), 2 * n);
}

static struct inductance planes_recede(double w, double t, double b, double pitch, double n)
{
    return slope(inductance_of(w, t, b - 2 * n, pitch), inductance_of(w, t, b + 2 * n, pitch), 2 * n);
}

/* A rectangle whose faces recede is a rectangle: L is smooth in n, what differences over n are off by falls as n^2, and two of them
 * have a limit. */
static struct inductance limit_of(struct inductance far, struct inductance near)
{
    return (struct inductance){near.even + (near.even - far.even) / 3, near.odd + (near.odd - far.odd) / 3};
}

/* n is t/10 and t/20. The grid's capacitance is good to some 1e-4, and L changes by some 10 % over 2n: 0.1 % in all, and halving
 * the grid moves it by less. */
static void single_strips_follow_wheelers_rule(void **state)
{
    static const double size[][3] = {{200, 20, 200}, {400, 40, 200}, {105, 15, 225}};
    (void)state;
    for (size_t i = 0; i < sizeof size / sizeof *size; i++) {
        double w = size[i][0] * UM, t = size[i][1] * UM, b = size[i][2] * UM;
        struct board board;
        struct ww_conductor of;
        struct ww_error error = {0};
        open_strip(&board, w, t, b, 0);
        assert_ok(ww_conductor_solve(&of, board.line, &error), error);
        board_close(&board);
        struct inductance far = trace_recedes(w, t, b, 0, t / 10), near = trace_recedes(w, t, b, 0, t / 20);
        double limit = limit_of(far, near).even;
        assert_close(of.even.trace, limit, 1e-3, 0);
        assert_true(far.even < 1.01 * limit); /* it has converged */
        assert_close(of.even.planes, planes_recede(w, t, b, 0, t / 20).even, 1e-3, 0);
    }
}

/* Both modes of a pair. The pitch is a whole multiple of one step with each width, so that all grids are alike. */
static void both_modes_of_a_pair_follow_wheelers_rule(void **state)
{
    double w = 100 * UM, t = 20 * UM, b = 200 * UM, pitch = 200 * UM;
    struct board board;
    struct ww_conductor of;
    struct ww_error error = {0};
    (void)state;
    open_strip(&board, w, t, b, pitch);
    assert_ok(ww_conductor_solve(&of, board.line, &error), error);
    board_close(&board);
    struct inductance far = trace_recedes(w, t, b, pitch, t / 5), near = trace_recedes(w, t, b, pitch, t / 10);
    struct inductance trace = limit_of(far, near), planes = planes_recede(w, t, b, pitch, t / 10);
    assert_close(of.even.trace, trace.even, 1e-3, 0);
    assert_close(of.odd.trace, trace.odd, 1e-3, 0);
    assert_close(of.even.planes, planes.even, 1e-3, 0);
    assert_close(of.odd.planes, planes.odd, 1e-3, 0);
    assert_true(of.odd.trace > 1.05 * of.even.trace && of.even.planes > 2 * of.odd.planes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(single_strips_follow_wheelers_rule),
        cmocka_unit_test(both_modes_of_a_pair_follow_wheelers_rule),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
