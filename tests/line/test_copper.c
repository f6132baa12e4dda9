/* Charges that hold copper at a potential, by a layered problem without cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "line/background.h"
#include "line/copper.h"

#include <stdlib.h>

#define UM 1e-6
enum { COLUMNS = 24, ROWS = 11, NODES = COLUMNS - 1, LEVELS = ROWS - 1, FIRST = 4, SPAN = 4, BOTTOM = 5, TOP = 8 };
enum { ALONG = 6, PERIMETER = 2 * (SPAN + 1) + 2 * (TOP - BOTTOM - 1) };
static const struct ww_period period = {ALONG, 8 * UM};

/* Eleven rows of odd heights; copper of five by four nodes in the middle, to the left, and its mirror image. */
static struct ww_row rows[ROWS];
static struct ww_mesh mesh_of(bool pair)
{
    for (size_t r = 0; r < ROWS; r++)
        rows[r] = (struct ww_row){UM * (3 + (double)(r * r % 7)),
                                  1 + 0.7 * (double)(r * 5 % 4),
                                  1.3 + 0.5 * (double)(r * 3 % 5),
                                  WW_NO_PLY,
                                  0,
                                  false};
    return (struct ww_mesh){5 * UM, COLUMNS, ROWS, rows, BOTTOM, TOP, FIRST, SPAN, pair};
}

static bool on_leg(size_t column, size_t level)
{
    return level >= BOTTOM && level <= TOP && column >= FIRST && column <= FIRST + SPAN;
}

/* The perimeter of a leg, each node once, and nothing else. */
static void nodes_are_those_of_the_perimeter(void **state)
{
    (void)state;
    struct ww_mesh mesh = mesh_of(true);
    struct ww_layered layered;
    struct ww_copper copper;
    struct ww_error error = {0};
    bool met[COLUMNS + 1][ROWS + 1] = {{false}};
    assert_ok(ww_layered_create(&layered, &mesh, period, false, &error), error);
    assert_ok(ww_copper_create(&copper, &mesh, &layered, &error), error);
    assert_int_equal(copper.count, PERIMETER);
    assert_int_equal(copper.harmonics, ALONG / 2 + 1);
    for (size_t p = 0; p < copper.count; p++) {
        size_t column = copper.node[p].column, level = copper.node[p].level;
        assert_true(on_leg(column, level));
        assert_false(on_leg(column - 1, level) && on_leg(column + 1, level) && on_leg(column, level - 1) &&
                     on_leg(column, level + 1));
        assert_false(met[column][level]);
        met[column][level] = true;
    }
    ww_copper_destroy(&copper);
    ww_layered_destroy(&layered);
}

/* The charges for any potentials on the perimeter, of one harmonic along, put in place and solved for, give these back: on leg
 * 1, and on leg 2 the same or with the sign changed. */
static void charges_hold_the_potentials(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++)
        for (int odd = 0; odd <= pair; odd++)
            for (size_t wave = 0; wave <= ALONG / 2; wave++) {
                struct ww_mesh mesh = mesh_of(pair);
                struct ww_layered layered;
                struct ww_copper copper;
                struct ww_error error = {0};
                double wanted[PERIMETER], charge[PERIMETER];
                static double field[NODES * LEVELS * ALONG];
                assert_ok(ww_layered_create(&layered, &mesh, period, false, &error), error);
                assert_ok(ww_copper_create(&copper, &mesh, &layered, &error), error);
                for (size_t p = 0; p < PERIMETER; p++)
                    charge[p] = wanted[p] = 1 + 0.3 * (double)(p * 5 % 7);
                ww_copper_charge(&copper, wave, odd, charge);
                memset(field, 0, sizeof field);
                for (size_t p = 0; p < PERIMETER; p++)
                    for (size_t j = 0; j < ALONG; j++) {
                        double turn = cos(2 * WW_PI * (double)(wave * j) / ALONG);
                        double *row = field + ((copper.node[p].level - 1) * ALONG + j) * NODES;
                        row[copper.node[p].column - 1] = charge[p] * turn;
                        if (pair)
                            row[COLUMNS - copper.node[p].column - 1] = (odd ? -1 : 1) * charge[p] * turn;
                    }
                ww_layered_solve(&layered, field);
                for (size_t p = 0; p < PERIMETER; p++)
                    for (size_t j = 0; j < ALONG; j++) {
                        double turn = cos(2 * WW_PI * (double)(wave * j) / ALONG);
                        const double *row = field + ((copper.node[p].level - 1) * ALONG + j) * NODES;
                        assert_close(row[copper.node[p].column - 1], wanted[p] * turn, 0, 1e-11);
                        if (pair)
                            assert_close(row[COLUMNS - copper.node[p].column - 1], (odd ? -1 : 1) * wanted[p] * turn,
                                         0, 1e-11);
                    }
                ww_copper_destroy(&copper);
                ww_layered_destroy(&layered);
            }
}

/* At 1 V all round, the charges are the background's, and those of a period in its harmonic 0 too. */
static void sum_is_the_capacitance(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++)
        for (int along = 0; along < 2; along++) {
            struct ww_mesh mesh = mesh_of(pair);
            struct ww_background background;
            struct ww_layered layered;
            struct ww_copper copper;
            struct ww_error error = {0};
            assert_ok(ww_background_solve(&background, &mesh, false, false, &error), error);
            assert_ok(ww_layered_create(&layered, &mesh, along ? period : WW_CROSS_SECTION, false, &error), error);
            assert_ok(ww_copper_create(&copper, &mesh, &layered, &error), error);
            for (int odd = 0; odd <= pair; odd++) {
                double charge[PERIMETER], sum = 0;
                for (size_t p = 0; p < PERIMETER; p++)
                    charge[p] = 1;
                ww_copper_charge(&copper, 0, odd, charge);
                for (size_t p = 0; p < PERIMETER; p++)
                    sum += charge[p];
                assert_close(sum, odd ? background.c_odd : background.c_even, 1e-11, 0);
            }
            assert_true(!pair || background.c_odd > background.c_even);
            ww_background_clear(&background);
            ww_copper_destroy(&copper);
            ww_layered_destroy(&layered);
        }
}

/* A strip of no thickness over the whole window but one column to each side, half way between planes in one dielectric: nearly
 * two plate capacitors; exactly so much for its middle node, far from the edges. */
static void middle_of_a_wide_strip_is_a_plate(void **state)
{
    (void)state;
    enum { WIDE = 120, LOW = 6 };
    struct ww_row row[LOW];
    struct ww_layered layered;
    struct ww_copper copper;
    struct ww_error error = {0};
    for (size_t r = 0; r < LOW; r++)
        row[r] = (struct ww_row){4 * UM, 3.2, 3.2, WW_NO_PLY, 0, false};
    struct ww_mesh mesh = {5 * UM, WIDE, LOW, row, LOW / 2, LOW / 2, 1, WIDE - 2, false};
    assert_ok(ww_layered_create(&layered, &mesh, WW_CROSS_SECTION, false, &error), error);
    assert_ok(ww_copper_create(&copper, &mesh, &layered, &error), error);
    double *charge = calloc(copper.count, sizeof *charge), middle = 0, edge = 0;
    assert_non_null(charge);
    for (size_t p = 0; p < copper.count; p++)
        charge[p] = 1;
    ww_copper_charge(&copper, 0, false, charge);
    for (size_t p = 0; p < copper.count; p++) {
        middle += copper.node[p].column == WIDE / 2 ? charge[p] : 0;
        edge += copper.node[p].column == 1 ? charge[p] : 0;
    }
    assert_close(middle, 2 * 3.2 * 5.0 / 12.0, 1e-10, 0);
    assert_true(edge > 1.5 * middle);
    free(charge);
    ww_copper_destroy(&copper);
    ww_layered_destroy(&layered);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nodes_are_those_of_the_perimeter),
        cmocka_unit_test(charges_hold_the_potentials),
        cmocka_unit_test(sum_is_the_capacitance),
        cmocka_unit_test(middle_of_a_wide_strip_is_a_plate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
