/* Resistance of an isolated strip, of any width: its conformal map.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "line/conductor.h"

#include <math.h>

/* A stripline of copper t thick between planes b apart, without cloth. */
static void solve(double width, double thickness, double b, struct board *board, struct ww_conductor *of)
{
    struct ww_error error = {0};
    struct board_options options = board_plain();
    options.width = width;
    options.thickness = thickness;
    options.height = 0.5 * (b - thickness);
    options.below = false;
    board_open(board, &options);
    assert_ok(ww_conductor_solve(of, board->line, &error), error);
}

/* Sides of a rectangle as the unit circle is mapped on its outside, |dz/dtheta| = |cos 2 theta - cos 2 alpha|^(1/2), corners at
 * +-alpha and pi -+ alpha (Schwarz and Christoffel): half a side is integrated from its middle, with power 1/2; -1/2 gives the
 * integral of sigma^2, for the charge is even in theta. theta = limit sin(phi) takes the corner's root away. */
static double half_side(double limit, double about, double alpha, double power)
{
    enum { STEPS = 20000 };
    double sum = 0;
    for (int i = 0; i < STEPS; i++) {
        double phi = 0.5 * WW_PI * (i + 0.5) / STEPS, theta = about + limit * sin(phi);
        sum += limit * cos(phi) * pow(fabs(cos(2 * theta) - cos(2 * alpha)), power) * 0.5 * WW_PI / STEPS;
    }
    return sum;
}

/* Integral of sigma^2 over the square of the charge of an isolated bar [1/m]. */
static double isolated_bar(double width, double thickness)
{
    double low = 1e-3, high = 0.5 * WW_PI - 1e-3, alpha = 0, tall = 0, flat = 0;
    for (int i = 0; i < 40; i++) {
        alpha = 0.5 * (low + high);
        tall = half_side(alpha, 0, alpha, 0.5);
        flat = half_side(0.5 * WW_PI - alpha, 0.5 * WW_PI, alpha, 0.5);
        *(flat / tall > width / thickness ? &low : &high) = alpha;
    }
    double size = 0.5 * width / flat;
    double sum = half_side(alpha, 0, alpha, -0.5) + half_side(0.5 * WW_PI - alpha, 0.5 * WW_PI, alpha, -0.5);
    return 4 * sum / size / pow(2 * WW_PI, 2);
}

/* Far from its planes a strip is alone, of any width. */
static void isolated_strips_have_the_resistance_of_their_conformal_map(void **state)
{
    static const double width[] = {1, 4};
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct board board;
        struct ww_conductor of;
        double t = 50 * UM, w = width[i] * t;
        solve(w, t, 20 * w, &board, &of);
        assert_close(of.even.trace, isolated_bar(w, t), 3e-3, 0);
        board_close(&board);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(isolated_strips_have_the_resistance_of_their_conformal_map),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
