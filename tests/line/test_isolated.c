/* Resistance of an isolated strip, of any width, with square and with round corners: its conformal map.
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

/* A bar with round corners: the image of a circle a little larger than the unit circle, a level line of the square bar's field, so
 * that its charge is known, too. */
struct round_bar {
    double width, thickness, radius; /* the smallest along it */
    double spread;                   /* integral of sigma^2 over the square of the charge */
};

/* One quarter, from the middle of a side (theta = 0) to that of the other, points crowded about the corner. */
static struct round_bar round_bar(double alpha, double circle)
{
    enum { STEPS = 4000 };
    struct round_bar bar = {0};
    double _Complex corner = cexp(2 * alpha * I);
    double sum = 0, sharpest = 0;
    for (int side = 0; side < 2; side++)
        for (int i = 0; i < STEPS; i++) {
            double u = (i + 0.5) / STEPS, reach = side ? 0.5 * WW_PI - alpha : -alpha;
            double theta = alpha + reach * pow(u, 4), step = fabs(reach) * 4 * pow(u, 3) / STEPS;
            double _Complex z = circle * cexp(theta * I), of = corner / (z * z), other = conj(corner) / (z * z);
            double _Complex slope = csqrt(1 - of) * csqrt(1 - other), along = slope * I * z;
            double size = circle * cabs(slope);
            double turn = 1 + creal(of / (1 - of) + other / (1 - other));
            bar.width -= 2 * creal(along) * step;
            bar.thickness += 2 * cimag(along) * step;
            sum += step / size;
            sharpest = fmax(sharpest, turn / size);
        }
    bar.radius = 1 / sharpest;
    bar.spread = 4 * sum / pow(2 * WW_PI, 2);
    return bar;
}

/* Of a ratio of sides and a radius over the thickness; in units of the thickness. */
static struct round_bar round_bar_of(double ratio, double radius)
{
    double alpha = 0.4, circle = 1.001;
    struct round_bar bar = {0};
    for (int i = 0; i < 60; i++) { /* by turns: the radius goes as (circle - 1)^(3/2), the ratio as 1/alpha^2 or so */
        bar = round_bar(alpha, circle);
        circle = 1 + (circle - 1) * pow(radius * bar.thickness / bar.radius, 2.0 / 3);
        bar = round_bar(alpha, circle);
        alpha *= sqrt(bar.width / bar.thickness / ratio);
    }
    assert_close(bar.width / bar.thickness, ratio, 1e-6, 0);
    assert_close(bar.radius / bar.thickness, radius, 1e-6, 0);
    bar.spread *= bar.thickness;
    return bar;
}

/* The solver's copper has square corners: what strips with round ones tend to as the radius vanishes, as its cube root. With a
 * radius of 1 to 10 % of the thickness they have 5 to 8 % less, which README tells. */
static void round_corners_have_less_and_square_ones_are_their_limit(void **state)
{
    (void)state;
    for (double ratio = 1.5; ratio < 7; ratio += 4.5) {
        struct board board;
        struct ww_conductor of;
        double t = 50 * UM, round[4];
        solve(ratio * t, t, 20 * ratio * t, &board, &of);
        board_close(&board);
        for (int i = 0; i < 4; i++) /* each the eighth of the radius before */
            round[i] = round_bar_of(ratio, 1e-3 * pow(8, -i)).spread;
        /* x is halved: terms x, x^2 are taken out */
        double first[2] = {2 * round[2] - round[1], 2 * round[3] - round[2]};
        double limit = first[1] + (first[1] - first[0]) / 3;
        assert_close(of.even.trace * t, limit, 3e-3, 0);
        for (double radius = 0.01; radius < 0.11; radius += 0.03) {
            double share = round_bar_of(ratio, radius).spread / (of.even.trace * t);
            assert_true(share > 0.92 && share < 0.952);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(isolated_strips_have_the_resistance_of_their_conformal_map),
        cmocka_unit_test(round_corners_have_less_and_square_ones_are_their_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
