/* Colours: OKLab itself, the ramps' lightness, the gamut, and what is left of them in colour-blind eyes and in grey.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Colour blindness is simulated by the matrices for complete loss of one cone type of G. M. Machado, M. M. Oliveira and
 * L. A. F. Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions on
 * Visualization and Computer Graphics 15 (2009), applied to linear sRGB. Digits from memory; that each keeps white is
 * tested. Thresholds are distances in OKLab, where black to white is 1; 0.02 is about what an eye tells apart side by
 * side (common practice, no source), so each stands well above it.
 */
#include "check.h"

#include "figure/colour.h"

#define SAMPLES 257

enum eyes { FULL, PROTAN, DEUTAN, TRITAN, EYES };

static const double simulation[EYES][3][3] = {
    [FULL] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
    [PROTAN] = {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
    [DEUTAN] = {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
    [TRITAN] = {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}};

static double held(double value)
{
    return value < 0 ? 0 : value > 1 ? 1 : value;
}

static struct ww_oklab seen(struct ww_oklab colour, enum eyes eyes)
{
    const double(*m)[3] = simulation[eyes];
    struct ww_linear_rgb c = ww_oklab_to_linear(colour);
    struct ww_linear_rgb to = {held(m[0][0] * c.r + m[0][1] * c.g + m[0][2] * c.b),
                               held(m[1][0] * c.r + m[1][1] * c.g + m[1][2] * c.b),
                               held(m[2][0] * c.r + m[2][1] * c.g + m[2][2] * c.b)};

    return ww_linear_to_oklab(to);
}

static double distance(struct ww_oklab p, struct ww_oklab q)
{
    return sqrt((p.l - q.l) * (p.l - q.l) + (p.a - q.a) * (p.a - q.a) + (p.b - q.b) * (p.b - q.b));
}

static struct ww_oklab ramp_seen(enum ww_ramp ramp, int i, enum eyes eyes)
{
    return seen(ww_ramp_oklab(ramp, (double)i / (SAMPLES - 1)), eyes);
}

static void the_matrices_keep_white(void **state)
{
    (void)state;
    for (enum eyes e = FULL; e < EYES; e++)
        for (int row = 0; row < 3; row++)
            assert_close(simulation[e][row][0] + simulation[e][row][1] + simulation[e][row][2], 1, 0, 2e-6);
}

static void oklab_knows_white_and_black_and_returns(void **state)
{
    (void)state;
    struct ww_oklab white = ww_linear_to_oklab((struct ww_linear_rgb){1, 1, 1});
    struct ww_oklab black = ww_linear_to_oklab((struct ww_linear_rgb){0, 0, 0});

    assert_close(white.l, 1, 0, 1e-6);
    assert_close(white.a, 0, 0, 1e-6);
    assert_close(white.b, 0, 0, 1e-6);
    assert_close(black.l, 0, 0, 1e-12);
    for (int i = 0; i < 125; i++) {
        struct ww_linear_rgb c = {i % 5 / 4.0, i / 5 % 5 / 4.0, i / 25 / 4.0};
        struct ww_linear_rgb back = ww_oklab_to_linear(ww_linear_to_oklab(c));
        assert_close(back.r, c.r, 0, 1e-6);
        assert_close(back.g, c.g, 0, 1e-6);
        assert_close(back.b, c.b, 0, 1e-6);
    }
}

/* Any grey has no colour, and its encoded value is the sRGB curve's: 0.5 of light is 0.735 of signal. */
static void greys_have_no_colour(void **state)
{
    (void)state;
    for (int i = 1; i <= 16; i++) {
        struct ww_oklab grey = ww_linear_to_oklab((struct ww_linear_rgb){i / 16.0, i / 16.0, i / 16.0});
        assert_close(grey.a, 0, 0, 1e-6);
        assert_close(grey.b, 0, 0, 1e-6);
        assert_close(grey.l, cbrt(i / 16.0), 1e-6, 0);
    }
    assert_close(ww_rgb_encode((struct ww_linear_rgb){0.5, 0.5, 0.5}).g, 0.735357, 1e-5, 0);
    assert_close(ww_rgb_encode((struct ww_linear_rgb){0.002, 2, -1}).r, 12.92 * 0.002, 1e-12, 0);
    assert_close(ww_rgb_encode((struct ww_linear_rgb){0.002, 2, -1}).g, 1, 0, 0);
    assert_close(ww_rgb_encode((struct ww_linear_rgb){0.002, 2, -1}).b, 0, 0, 0);
}

static void sequential_lightness_is_linear(void **state)
{
    (void)state;
    double low = ww_ramp_oklab(WW_RAMP_SEQUENTIAL, 0).l, high = ww_ramp_oklab(WW_RAMP_SEQUENTIAL, 1).l;

    assert_true(high - low > 0.6);
    for (int i = 0; i < SAMPLES; i++) {
        double t = (double)i / (SAMPLES - 1);
        assert_close(ww_ramp_oklab(WW_RAMP_SEQUENTIAL, t).l, low + t * (high - low), 0, 1e-9);
    }
}

static void diverging_lightness_is_symmetric_and_falls_from_the_middle(void **state)
{
    (void)state;
    struct ww_oklab middle = ww_ramp_oklab(WW_RAMP_DIVERGING, 0.5);

    assert_true(middle.l > 0.95);
    assert_true(hypot(middle.a, middle.b) < 0.005);
    for (int i = 1; i < SAMPLES; i++) {
        double t = 0.5 * i / (SAMPLES - 1), nearer = 0.5 * (i - 1) / (SAMPLES - 1);
        struct ww_oklab negative = ww_ramp_oklab(WW_RAMP_DIVERGING, 0.5 - t);
        struct ww_oklab positive = ww_ramp_oklab(WW_RAMP_DIVERGING, 0.5 + t);
        assert_close(negative.l, positive.l, 0, 1e-12);
        assert_true(positive.l < ww_ramp_oklab(WW_RAMP_DIVERGING, 0.5 + nearer).l);
    }
}

/* Clipping to the gamut would bend the path that was designed. */
static void check_gamut(struct ww_oklab colour)
{
    struct ww_linear_rgb c = ww_oklab_to_linear(colour);

    assert_true(c.r > -1e-6 && c.r < 1 + 1e-6);
    assert_true(c.g > -1e-6 && c.g < 1 + 1e-6);
    assert_true(c.b > -1e-6 && c.b < 1 + 1e-6);
}

static void everything_lies_in_the_gamut(void **state)
{
    (void)state;
    for (int i = 0; i < SAMPLES; i++) {
        check_gamut(ww_ramp_oklab(WW_RAMP_SEQUENTIAL, (double)i / (SAMPLES - 1)));
        check_gamut(ww_ramp_oklab(WW_RAMP_DIVERGING, (double)i / (SAMPLES - 1)));
    }
    for (int ink = 0; ink < WW_INKS; ink++)
        check_gamut(ww_ink_oklab((enum ww_ink)ink));
}

/* Sixteen steps of the ramp stay apart in every eye, their lightness still rises, and so do the ends. */
static void sequential_survives_colour_blindness(void **state)
{
    (void)state;
    for (enum eyes e = FULL; e < EYES; e++) {
        for (int i = 0; i + 16 < SAMPLES; i++)
            assert_true(distance(ramp_seen(WW_RAMP_SEQUENTIAL, i, e), ramp_seen(WW_RAMP_SEQUENTIAL, i + 16, e)) >
                        0.03);
        for (int i = 0; i + 1 < SAMPLES; i++)
            assert_true(ramp_seen(WW_RAMP_SEQUENTIAL, i + 1, e).l > ramp_seen(WW_RAMP_SEQUENTIAL, i, e).l);
        assert_true(distance(ramp_seen(WW_RAMP_SEQUENTIAL, 0, e), ramp_seen(WW_RAMP_SEQUENTIAL, SAMPLES - 1, e)) >
                    0.6);
    }
}

/* The sign can be told from a quarter of full scale on, in every eye. */
static void diverging_signs_survive_colour_blindness(void **state)
{
    (void)state;
    for (enum eyes e = FULL; e < EYES; e++)
        for (int i = 32; i <= 128; i++)
            assert_true(distance(ramp_seen(WW_RAMP_DIVERGING, 128 - i, e), ramp_seen(WW_RAMP_DIVERGING, 128 + i, e)) >
                        0.10);
}

static void legs_survive_colour_blindness_and_grey(void **state)
{
    (void)state;
    struct ww_oklab leg1 = ww_ink_oklab(WW_INK_LEG1), leg2 = ww_ink_oklab(WW_INK_LEG2);

    for (enum eyes e = FULL; e < EYES; e++)
        assert_true(distance(seen(leg1, e), seen(leg2, e)) > 0.25);
    assert_true(fabs(leg1.l - leg2.l) > 0.2);
}

static void over_budget_survives_colour_blindness(void **state)
{
    (void)state;
    for (enum eyes e = FULL; e < EYES; e++)
        assert_true(distance(seen(ww_ink_oklab(WW_INK_ALARM), e), seen(ww_ink_oklab(WW_INK_BODY), e)) > 0.15);
}

static void nan_has_its_own_colour(void **state)
{
    (void)state;
    for (enum eyes e = FULL; e < EYES; e++)
        for (int i = 0; i < SAMPLES; i++) {
            assert_true(distance(seen(ww_ramp_oklab(WW_RAMP_SEQUENTIAL, NAN), e),
                                 ramp_seen(WW_RAMP_SEQUENTIAL, i, e)) > 0.15);
            assert_true(distance(seen(ww_ramp_oklab(WW_RAMP_DIVERGING, NAN), e), ramp_seen(WW_RAMP_DIVERGING, i, e)) >
                        0.15);
        }
}

static void ramps_hold_at_their_ends(void **state)
{
    (void)state;
    for (int r = 0; r <= WW_RAMP_DIVERGING; r++) {
        enum ww_ramp ramp = (enum ww_ramp)r;
        assert_close(distance(ww_ramp_oklab(ramp, -3), ww_ramp_oklab(ramp, 0)), 0, 0, 0);
        assert_close(distance(ww_ramp_oklab(ramp, INFINITY), ww_ramp_oklab(ramp, 1)), 0, 0, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_matrices_keep_white),
        cmocka_unit_test(oklab_knows_white_and_black_and_returns),
        cmocka_unit_test(greys_have_no_colour),
        cmocka_unit_test(sequential_lightness_is_linear),
        cmocka_unit_test(diverging_lightness_is_symmetric_and_falls_from_the_middle),
        cmocka_unit_test(everything_lies_in_the_gamut),
        cmocka_unit_test(sequential_survives_colour_blindness),
        cmocka_unit_test(diverging_signs_survive_colour_blindness),
        cmocka_unit_test(legs_survive_colour_blindness_and_grey),
        cmocka_unit_test(over_budget_survives_colour_blindness),
        cmocka_unit_test(nan_has_its_own_colour),
        cmocka_unit_test(ramps_hold_at_their_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
