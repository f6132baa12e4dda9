/* A cloth measured from its picture: renderings of which everything is known, turned and scaled; and what is no cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "expect.h"

#include <stdlib.h>

#include "random.h"

static enum ww_status measure(const struct ww_picture *picture, struct ww_cloth_picture *cloth,
                              struct ww_error *error)
{
    const struct ww_picture_options how = {0};
    return ww_picture_measure(cloth, picture, &how, error);
}

/* --- what is known ---------------------------------------------------------------------------------------------------------- */

static void clean_cloth_comes_back(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    struct ww_cloth_picture cloth = expect_measured(&r);
    assert_true(cloth.warp.wander < 0.01 * cloth.warp.pitch.value);
    assert_true(cloth.warp.width_scatter < 0.02 * cloth.warp.width.value);
    ww_cloth_picture_clear(&cloth);
}

static void a_poor_photograph_does(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    r.turn[0] = 3.0 * degree;
    r.turn[1] = 2.2 * degree;
    r.blur = 1.5;
    r.noise = 0.05;
    r.gradient = 0.5;
    r.perspective = 0.02;
    struct ww_cloth_picture cloth = expect_measured(&r);
    /* the pitch on the picture, 1 - 0.02 x/half/2 of the cloth's, changes by 0.02 from the middle to the edge */
    assert_close(cloth.warp.perspective, -0.04, 0.25, 0.0);
    assert_close(cloth.warp.blur, 1.5 * r.pixel, 0.2, 0.0);
    ww_cloth_picture_clear(&cloth);
}

/* Gaps of a tenth of the pitch, hardly wider than blur; the light comes aslant, so that what is followed lies off the yarns' middle. */
static void narrow_blurred_gaps(void **state)
{
    (void)state;
    for (int narrow = 0; narrow < 2; narrow++) {
        struct rendering r = rendering_of_cloth();
        r.width[narrow] = 0.9 * r.pitch[narrow];
        r.width[1 - narrow] = 0.7 * r.pitch[1 - narrow];
        r.nx = r.ny = 520;
        r.blur = narrow == 0 ? 1.6 : 1.2;
        r.noise = 0.02;
        r.gradient = 0.3;
        struct ww_cloth_picture cloth = expect_measured(&r);
        ww_cloth_picture_clear(&cloth);
    }
}

/* Counts far apart: the reading of the lines hangs on geometry, not on phases. */
static void uneven_counts_and_a_large_turn(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    r.pitch[1] = 540e-6;
    r.width[0] = 300e-6;
    r.width[1] = 330e-6;
    r.turn[0] = -30.0 * degree;
    r.turn[1] = -31.0 * degree;
    struct ww_cloth_picture cloth = expect_measured(&r);
    ww_cloth_picture_clear(&cloth);
}

/* Yarns alike and far from each other: no checkerboard to see, and the lines of the diagonals are weak. */
static void open_cloth(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    r.pitch[0] = r.pitch[1] = 453e-6;
    r.width[0] = 150e-6;
    r.width[1] = 190e-6;
    r.albedo[1] = r.albedo[0];
    r.turn[0] = r.turn[1] = 5.0 * degree;
    struct ww_cloth_picture cloth = expect_measured(&r);
    ww_cloth_picture_clear(&cloth);
}

/* --- properties ------------------------------------------------------------------------------------------------------------- */

static void expect_same(struct ww_measure got, double want, double relative)
{
    assert_close(got.value, want, relative, 0.0);
}

static void a_quarter_turn_exchanges_the_families(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    struct ww_error error = {0};
    struct ww_cloth_picture upright, turned, named;
    r.turn[0] = 2.0 * degree;
    r.turn[1] = 1.0 * degree;
    struct ww_picture picture = render(&r), quarter = turn_quarter(&picture);
    const struct ww_picture_options horizontal = {.warp_horizontal = true};
    assert_ok(measure(&picture, &upright, &error), error);
    assert_ok(measure(&quarter, &turned, &error), error);
    assert_ok(ww_picture_measure(&named, &quarter, &horizontal, &error), error);
    expect_same(turned.warp.pitch, upright.fill.pitch.value, 1e-4);
    expect_same(turned.fill.pitch, upright.warp.pitch.value, 1e-4);
    expect_same(turned.fill.width, upright.warp.width.value, 5e-3);
    assert_close(turned.warp.turn.value, upright.fill.turn.value, 0.0, 0.01 * degree);
    assert_close(turned.fill.turn.value, upright.warp.turn.value, 0.0, 0.01 * degree);
    /* and the warp by name is the warp again */
    expect_same(named.warp.pitch, turned.fill.pitch.value, 0.0);
    expect_same(named.fill.width, turned.warp.width.value, 0.0);
    ww_cloth_picture_clear(&upright);
    ww_cloth_picture_clear(&turned);
    ww_cloth_picture_clear(&named);
    ww_picture_clear(&picture);
    ww_picture_clear(&quarter);
}

static void the_scale_scales_lengths_and_nothing_else(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    struct ww_error error = {0};
    struct ww_cloth_picture small, large;
    struct ww_picture picture = render(&r);
    assert_ok(measure(&picture, &small, &error), error);
    picture.pixel *= 2.5;
    assert_ok(measure(&picture, &large, &error), error);
    expect_same(large.warp.pitch, 2.5 * small.warp.pitch.value, 1e-12);
    expect_same(large.fill.width, 2.5 * small.fill.width.value, 1e-12);
    expect_same(large.warp.turn, small.warp.turn.value, 1e-12);
    assert_close(large.fill.wander, 2.5 * small.fill.wander, 1e-12, 0.0);
    ww_cloth_picture_clear(&small);
    ww_cloth_picture_clear(&large);
    ww_picture_clear(&picture);
}

/* The same cloth seen by transmitted light: gaps are bright. */
static void light_from_behind(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    struct ww_error error = {0};
    struct ww_cloth_picture cloth;
    struct ww_picture picture = render(&r);
    const struct ww_picture_options how = {.light_behind = true};
    for (size_t i = 0; i < picture.nx * picture.ny; i++)
        picture.value[i] = 1.0 - picture.value[i];
    assert_ok(ww_picture_measure(&cloth, &picture, &how, &error), error);
    expect_cloth(&cloth, &r);
    ww_cloth_picture_clear(&cloth);
    ww_picture_clear(&picture);
}

/* --- what is no cloth ------------------------------------------------------------------------------------------------------- */

static void expect_refused(struct ww_picture *picture, enum ww_status status, const char *why)
{
    struct ww_error error = {0};
    struct ww_cloth_picture cloth;
    assert_int_equal(measure(picture, &cloth, &error), status);
    assert_contains(error.text, why);
    assert_null(cloth.warp.path);
    assert_null(cloth.spectrum.value);
    ww_picture_clear(picture);
}

static void add_lines(struct ww_picture *picture, double direction, double period)
{
    for (size_t y = 0; y < picture->ny; y++)
        for (size_t x = 0; x < picture->nx; x++)
            picture->value[y * picture->nx + x] +=
                0.1 * cos(2.0 * WW_PI * ((double)x * cos(direction) + (double)y * sin(direction)) / period);
}

/* A pattern of its own: f(x, y) of the pixel, from 0 to 1, under a little noise. */
static struct ww_picture pattern(double (*f)(double x, double y))
{
    struct ww_picture picture = blank_picture(300, 280, 1e-5);
    struct random random = random_of(11);
    for (size_t y = 0; y < picture.ny; y++)
        for (size_t x = 0; x < picture.nx; x++)
            picture.value[y * picture.nx + x] =
                0.2 + 0.6 * f((double)x, (double)y) + random_between(&random, -0.02, 0.02);
    return picture;
}

static double wrapped(double x, double period)
{
    return x - period * floor(x / period);
}

static double stripes(double x, double y)
{
    double in = 6.0 - fabs(remainder(x + 0.1 * y, 19.0)); /* edges three pixels wide, as a lens leaves them */
    return fmax(0.0, fmin(1.0, 0.5 + in / 3.0));
}

static double chessboard(double x, double y)
{
    return (wrapped(x, 40.0) < 20.0) == (wrapped(y, 40.0) < 20.0) ? 1.0 : 0.0;
}

/* Round dots, each with six neighbours 22 pixels away. */
static double hexagons(double x, double y)
{
    const double a = 22.0, row = a * sqrt(0.75);
    double least = 1e9;
    for (int odd = 0; odd < 2; odd++) {
        double dx = remainder(x - 0.5 * odd * a, a), dy = remainder(y - odd * row, 2.0 * row);
        least = fmin(least, hypot(dx, dy));
    }
    return least < 7.0 ? 1.0 : 0.0;
}

/* Bricks of 40 by 20 pixels in running bond, joints of 4. */
static double bricks(double x, double y)
{
    double course = floor(y / 20.0), along = wrapped(x + (wrapped(course, 2.0) < 1.0 ? 0.0 : 20.0), 40.0);
    return wrapped(y, 20.0) < 4.0 || along < 4.0 ? 0.0 : 1.0;
}

static void other_patterns_are_refused_with_the_reason(void **state)
{
    (void)state;
    static const struct {
        double (*of)(double x, double y);
        const char *why;
    } other[] = {{stripes, "one family of lines"},
                 {hexagons, "every other crossing is dark"},
                 {bricks, "every other crossing is dark"},
                 {chessboard, "between their crossings they are gone"}};
    for (size_t i = 0; i < sizeof other / sizeof *other; i++) {
        struct ww_picture picture = pattern(other[i].of);
        expect_refused(&picture, WW_UNPHYSICAL, other[i].why);
    }
}

static void what_is_no_cloth_is_refused(void **state)
{
    (void)state;
    struct ww_picture picture = blank_picture(200, 200, 1e-5);
    expect_refused(&picture, WW_UNPHYSICAL, "one grey");

    picture = blank_picture(1, 1, 1e-5);
    expect_refused(&picture, WW_INVALID, "1 by 1");

    picture = blank_picture(300, 280, 1e-5);
    struct random random = random_of(7);
    for (size_t i = 0; i < picture.nx * picture.ny; i++)
        picture.value[i] = random_share(&random);
    expect_refused(&picture, WW_UNPHYSICAL, "no lines");

    picture = blank_picture(300, 280, 1e-5);
    add_lines(&picture, 0.2, 17.0);
    expect_refused(&picture, WW_UNPHYSICAL, "one family of lines, 17 pixels apart");

    picture = blank_picture(300, 280, 1e-5);
    add_lines(&picture, 0.0, 17.0);
    add_lines(&picture, 40.0 * degree, 25.0);
    expect_refused(&picture, WW_UNPHYSICAL, "yarns near 90");
}

static void under_four_yarns_are_refused(void **state)
{
    (void)state;
    for (double yarns = 1.6; yarns < 3.9; yarns += 0.75) {
        struct rendering r = rendering_of_cloth();
        r.nx = r.ny = 150;
        r.pixel = yarns * r.pitch[0] / 150.0;
        struct ww_picture picture = render(&r);
        expect_refused(&picture, WW_INVALID, "four yarns");
    }
}

/* Half of the picture is something else. */
static void a_picture_half_of_cloth_is_refused(void **state)
{
    (void)state;
    struct rendering r = rendering_of_cloth();
    struct random random = random_of(3);
    struct ww_error error = {0};
    struct ww_cloth_picture cloth;
    struct ww_picture picture = render(&r);
    double mean = 0.0;
    for (size_t i = 0; i < picture.nx * picture.ny; i++)
        mean += picture.value[i] / (double)(picture.nx * picture.ny);
    for (size_t y = 0; y < picture.ny; y++)
        for (size_t x = 0; x < picture.nx / 2; x++)
            picture.value[y * picture.nx + x] = mean + random_between(&random, -0.1, 0.1);
    assert_int_equal(measure(&picture, &cloth, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "crop it");
    ww_picture_clear(&picture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clean_cloth_comes_back),
        cmocka_unit_test(a_poor_photograph_does),
        cmocka_unit_test(narrow_blurred_gaps),
        cmocka_unit_test(uneven_counts_and_a_large_turn),
        cmocka_unit_test(open_cloth),
        cmocka_unit_test(a_quarter_turn_exchanges_the_families),
        cmocka_unit_test(the_scale_scales_lengths_and_nothing_else),
        cmocka_unit_test(light_from_behind),
        cmocka_unit_test(what_is_no_cloth_is_refused),
        cmocka_unit_test(other_patterns_are_refused_with_the_reason),
        cmocka_unit_test(under_four_yarns_are_refused),
        cmocka_unit_test(a_picture_half_of_cloth_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
