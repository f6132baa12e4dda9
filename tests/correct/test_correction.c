/* test_rest.c - what full sections on a lattice add to the kernel away from yarns and diagonal.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <math.h>

#include "../line/structure.h"
#include "line/full.h"
#include "correct/correction.h"

#define SECTIONS 9

static void open_structure(struct structure *structure, const struct structure_options *options)
{
    struct ww_error error = {0};
    if (structure_open(structure, options, &error))
        fail_msg("%s", error.text);
}

/* The kernel as it is, and what is lacking at one angle. */
static struct ww_scales rest_at(const struct structure *structure, size_t sections, double angle)
{
    struct ww_scales scales = {0};
    struct ww_error error = {0};
    if (ww_calibrate_at(&scales, structure->line, sections, &angle, 1, &error))
        fail_msg("%s", error.text);
    return scales;
}

static struct ww_scan *scan_at(const struct structure *structure, const struct ww_scales *scales, double angle,
                               enum ww_averaging averaging)
{
    struct ww_scan *scan = NULL;
    struct ww_error error = {0};
    struct ww_scan_options options = {.averaging = averaging};
    if (scales)
        options.scales = *scales;
    if (ww_scan_create(&scan, structure->line, angle, &options, &error))
        fail_msg("%s", error.text);
    return scan;
}

static double seen(const struct ww_scan *scan, enum ww_signal signal, double x, double y)
{
    return ww_scan_average_at(scan, 0, signal, WW_MEAN, 0, x, y);
}

/* Places of no symmetry, in cells. */
static const double place[][2] = {{0.13, 0.41}, {0.37, 0.08}, {0.71, 0.93}, {0.92, 0.55}, {0.26, 0.67}};
enum { PLACES = sizeof place / sizeof *place };

/* Over three cells at 60 deg an eleventh is left of the worst along the warp, and without the rest 4 % of that is missed.
 * 1.5 %: of the 2 that are promised. As many sections as the `kernel errors` benchmark takes. */
static void tells_the_skew_at_an_angle(void **state)
{
    enum { MANY = 192 };
    (void)state;
    struct structure_options options = structure_pair();
    options.kind = MICROSTRIP;
    options.style = "2157";
    options.ply = 162.5 * UM;
    options.width = 292 * UM;
    options.pitch = 642.4 * UM;
    struct structure structure;
    open_structure(&structure, &options);
    const struct ww_cell *cell = &structure.stack.ply[0].cell;
    double angle = 60 * DEGREES, length = 3 * (sin(angle) * cell->lx + cos(angle) * cell->ly), sum = 0;
    struct ww_skew skew, without;
    struct ww_inverse inverse;
    struct ww_error error = {0};
    struct ww_skew_request request = {.length = length, .angle = angle, .sections = SECTIONS};
    assert_int_equal(ww_skew_solve(&skew, structure.line, &request, &error), WW_OK);
    assert_int_equal(ww_inverse_create(&inverse, structure.line, WW_CROSS_SECTION, &error), WW_OK);
    for (int i = 0; i < MANY; i++) {
        double s = (i + 0.5) * length / MANY, delay[2];
        double at[1][2] = {{skew.high[0].x + s * sin(angle), skew.high[0].y + s * cos(angle)}};
        if (ww_section_legs(structure.line, &inverse, angle, (const double(*)[2])at, 0, 1e-3, delay, &error))
            fail_msg("%s", error.text);
        sum += (delay[0] - delay[1]) * length / MANY;
    }
    ww_inverse_destroy(&inverse);
    assert_close(skew.worst, sum, 0.015, 0);
    request.sections = 0;
    request.scan.scales = skew.scales;
    request.scan.scales.rest = NULL;
    assert_int_equal(ww_skew_solve(&without, structure.line, &request, &error), WW_OK);
    assert_true(fabs(without.worst / sum - 1) > 0.025);
    ww_skew_clear(&skew);
    ww_skew_clear(&without);
    structure_close(&structure);
}

/* Found at 30 deg, and used at the angles that the cloth cannot tell from it: a trace turned by half a turn has its legs
 * exchanged, and the cloth's mirror image is the cloth half a cell on, with the legs exchanged too. */
static void serves_all_angles_that_are_alike(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure structure;
    open_structure(&structure, &options);
    double angle = 30 * DEGREES;
    struct ww_scales scales = rest_at(&structure, 5, angle);
    struct ww_scan *plain = scan_at(&structure, NULL, angle, WW_FLIGHT);
    struct ww_scan *here = scan_at(&structure, &scales, angle, WW_FLIGHT);
    struct ww_scan *back = scan_at(&structure, &scales, angle + WW_PI, WW_FLIGHT);
    struct ww_scan *mirror = scan_at(&structure, &scales, WW_PI - angle, WW_FLIGHT);
    struct ww_scan *negative = scan_at(&structure, &scales, -angle, WW_FLIGHT);
    double lx = here->ply[0].lx, ly = here->ply[0].ly, most = 0;
    for (int i = 0; i < PLACES; i++) {
        double x = place[i][0] * lx, y = place[i][1] * ly;
        for (int leg = 0; leg < 2; leg++) {
            enum ww_signal one = leg ? WW_LEG2 : WW_LEG1, other = leg ? WW_LEG1 : WW_LEG2;
            double added = seen(here, one, x, y) - seen(plain, one, x, y);
            double value = seen(here, one, x, y);
            most = fmax(most, fabs(added) / value);
            assert_close(seen(back, other, x, y), value, 1e-9, 0);
            assert_close(seen(mirror, other, x + 0.5 * lx, -y), value, 1e-9, 0);
            assert_close(seen(negative, other, -x + 0.5 * lx, y), value, 1e-9, 0);
        }
    }
    assert_true(most > 1e-4);
    ww_scan_destroy(plain);
    ww_scan_destroy(here);
    ww_scan_destroy(back);
    ww_scan_destroy(mirror);
    ww_scan_destroy(negative);
    ww_scales_clear(&scales);
    structure_close(&structure);
}

/* What it adds at one place falls off linearly over 22.5 deg: compared by what one leg sees across the trace. */
static void fades_away_from_its_angle(void **state)
{
    (void)state;
    struct structure_options options = structure_single();
    struct structure structure;
    open_structure(&structure, &options);
    struct ww_scales scales = rest_at(&structure, 5, 40 * DEGREES);
    const double angle[] = {40, 47.5, 62.5, 17.5, 32.5};
    const double weight[] = {1, 2 / 3.0, 0, 0, 2 / 3.0};
    double own = 0;
    for (int a = 0; a < 5; a++) {
        struct ww_scan *plain = scan_at(&structure, NULL, angle[a] * DEGREES, WW_FLIGHT);
        struct ww_scan *rest = scan_at(&structure, &scales, angle[a] * DEGREES, WW_FLIGHT);
        double x = 0.3 * rest->ply[0].lx, y = 0.2 * rest->ply[0].ly;
        double added = seen(rest, WW_LEG1, x, y) - seen(plain, WW_LEG1, x, y);
        own = a ? own : added;
        assert_close(added, weight[a] * own, 1e-6, 1e-9 * fabs(own));
        ww_scan_destroy(plain);
        ww_scan_destroy(rest);
    }
    assert_true(own != 0);
    ww_scales_clear(&scales);
    structure_close(&structure);
}

/* There it is the families that count, which have factors of their own. */
static void adds_nothing_along_the_yarns(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure structure;
    open_structure(&structure, &options);
    const double along[] = {0, 90 * DEGREES, -WW_PI, 3 * DEGREES, 88 * DEGREES};
    struct ww_scales scales = {0};
    struct ww_error error = {0};
    assert_int_equal(ww_calibrate_at(&scales, structure.line, SECTIONS, along, 5, &error), WW_OK);
    assert_null(scales.rest);
    structure_close(&structure);
}

/* A ply's own angle counts: cloth turned by 20 deg under a trace at 50 is as cloth laid square under one at 30. */
static void goes_with_the_turn_of_the_ply(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure square, turned;
    open_structure(&square, &options);
    options.turn = 20 * DEGREES;
    open_structure(&turned, &options);
    struct ww_scales of_square = rest_at(&square, 5, 30 * DEGREES), of_turned = rest_at(&turned, 5, 50 * DEGREES);
    struct ww_scan *one = scan_at(&square, &of_square, 30 * DEGREES, WW_FLIGHT);
    struct ww_scan *other = scan_at(&turned, &of_turned, 50 * DEGREES, WW_FLIGHT);
    for (int i = 0; i < PLACES; i++) {
        double x = place[i][0] * one->ply[0].lx, y = place[i][1] * one->ply[0].ly;
        assert_close(seen(other, WW_LEG1, x, y), seen(one, WW_LEG1, x, y), 1e-9, 0);
    }
    ww_scan_destroy(one);
    ww_scan_destroy(other);
    ww_scales_clear(&of_square);
    ww_scales_clear(&of_turned);
    structure_close(&square);
    structure_close(&turned);
}

/* Where permittivity is averaged instead of slowness, the rest is as much of it: to the first order, of which second is a
 * twentieth here. */
static void adds_as_much_to_permittivity(void **state)
{
    (void)state;
    struct structure_options options = structure_single();
    struct structure structure;
    open_structure(&structure, &options);
    double angle = 30 * DEGREES;
    struct ww_scales scales = rest_at(&structure, 5, angle);
    double added[2][PLACES];
    for (int averaging = 0; averaging < 2; averaging++) {
        struct ww_scan *plain = scan_at(&structure, NULL, angle, averaging ? WW_QUASI_STATIC : WW_FLIGHT);
        struct ww_scan *rest = scan_at(&structure, &scales, angle, averaging ? WW_QUASI_STATIC : WW_FLIGHT);
        for (int i = 0; i < PLACES; i++) {
            double x = place[i][0] * rest->ply[0].lx, y = place[i][1] * rest->ply[0].ly;
            double before = seen(plain, WW_LEG1, x, y), after = seen(rest, WW_LEG1, x, y);
            added[averaging][i] = averaging ? (sqrt(after) - sqrt(before)) / WW_C0 : after - before;
        }
        ww_scan_destroy(plain);
        ww_scan_destroy(rest);
    }
    for (int i = 0; i < PLACES; i++)
        assert_close(added[1][i], added[0][i], 0.05, 0);
    ww_scales_clear(&scales);
    structure_close(&structure);
}

/* What is known at other angles is kept, and the one it came from can go. */
static void keeps_what_it_has(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure structure;
    open_structure(&structure, &options);
    double first = 30 * DEGREES, second = 70 * DEGREES;
    struct ww_scales one = rest_at(&structure, 5, first), both = one;
    struct ww_error error = {0};
    struct ww_scan *before = scan_at(&structure, &one, first, WW_FLIGHT);
    assert_int_equal(ww_calibrate_at(&both, structure.line, 5, &second, 1, &error), WW_OK);
    ww_scales_clear(&one);
    struct ww_scan *after = scan_at(&structure, &both, first, WW_FLIGHT);
    struct ww_scan *there = scan_at(&structure, &both, second, WW_FLIGHT);
    struct ww_scan *plain = scan_at(&structure, NULL, second, WW_FLIGHT);
    double x = 0.3 * after->ply[0].lx, y = 0.2 * after->ply[0].ly;
    assert_close(seen(after, WW_LEG1, x, y), seen(before, WW_LEG1, x, y), 1e-12, 0);
    assert_true(fabs(seen(there, WW_LEG1, x, y) / seen(plain, WW_LEG1, x, y) - 1) > 1e-6);
    ww_scan_destroy(before);
    ww_scan_destroy(after);
    ww_scan_destroy(there);
    ww_scan_destroy(plain);
    ww_scales_clear(&both);
    structure_close(&structure);
}

/* A range has the angles that fade into it, whichever quarter it lies in. */
static void serves_a_range(void **state)
{
    (void)state;
    double angle[WW_REST_ANGLES];
    assert_int_equal(ww_rest_angles(0, 90 * DEGREES, angle), 3);
    assert_int_equal(ww_rest_angles(-5 * DEGREES, 20 * DEGREES, angle), 1);
    assert_close(angle[0], 22.5 * DEGREES, 1e-12, 0);
    assert_int_equal(ww_rest_angles(100 * DEGREES, 110 * DEGREES, angle), 1);
    assert_close(angle[0], 67.5 * DEGREES, 1e-12, 0);
    assert_int_equal(ww_rest_angles(-50 * DEGREES, -40 * DEGREES, angle), 3);
    assert_int_equal(ww_rest_angles(-1e-3, 1e-3, angle), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_the_skew_at_an_angle),
        cmocka_unit_test(serves_all_angles_that_are_alike),
        cmocka_unit_test(fades_away_from_its_angle),
        cmocka_unit_test(adds_nothing_along_the_yarns),
        cmocka_unit_test(goes_with_the_turn_of_the_ply),
        cmocka_unit_test(adds_as_much_to_permittivity),
        cmocka_unit_test(keeps_what_it_has),
        cmocka_unit_test(serves_a_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
