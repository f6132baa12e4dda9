/* test_sections.c - many cross-sections at one angle against the full solution, and a line on one grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "structure.h"

#include <math.h>

#include "line/full.h"
#include "line/sections.h"

#define ANGLE 0.3

static struct structure_options board(enum structure_kind kind, bool pair)
{
    struct structure_options options = pair ? structure_pair() : structure_single();
    options.kind = kind;
    options.turn_above = 0.2;
    return options;
}

static void place_at(double place[2][2], int i)
{
    for (int p = 0; p < 2; p++) {
        place[p][0] = (double)(37 * i + 11 + 60 * p) * UM;
        place[p][1] = (double)(91 * i + 23) * UM;
    }
}

static void legs_of(const struct ww_sections *sections, const double (*place)[2], double tolerance, double delay[2])
{
    struct ww_error error = {0};
    assert_ok(ww_sections_legs(sections, place, tolerance, delay, &error), error);
}

/* Delays from the full solution of ww_section_solve, whose background is the mean over all angles, on all levels. */
static void full_legs(const struct ww_line *line, const double (*place)[2], size_t ply, double delay[2])
{
    struct ww_full_options options = {.tolerance = 1e-12, .ply = ply};
    struct ww_error error = {0};
    struct ww_full full;
    assert_ok(ww_section_solve(line, ANGLE, place, &options, &full, &error), error);
    delay[0] = full.delay[0];
    delay[1] = full.delay[1];
}

/* All of the window sampled alike. */
static struct ww_laid everywhere(const struct ww_sections *sections)
{
    size_t nodes = sections->inverse.layered.nodes;
    return (struct ww_laid){0, nodes, 0, nodes + 1};
}

static void test_legs_are_those_of_the_full_section(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= COVERED; kind++)
        for (int pair = 0; pair < 2; pair++)
            for (size_t only = 0; only <= (kind == SANDWICH ? 2 : 1); only++) {
                struct structure_options options = board(kind, pair);
                struct structure s;
                struct ww_sections sections;
                struct ww_error error = {0};
                double place[2][2], got[2], want[2];
                assert_ok(structure_open(&s, &options, &error), error);
                assert_ok(ww_sections_create(&sections, s.line, ANGLE, only, &error), error);
                sections.laid = everywhere(&sections);
                place_at(place, 3);
                legs_of(&sections, (const double(*)[2])place, 1e-12, got);
                full_legs(s.line, (const double(*)[2])place, only, want);
                assert_close(got[0], want[0], 1e-10, 0);
                assert_close(got[1], want[1], 1e-10, 0);
                ww_sections_destroy(&sections);
                structure_close(&s);
            }
}

/* What is left out beyond the field, and the residual of the correction, move the skew by less than 0.1 % of the largest. */
static void test_cloth_where_there_is_field_is_enough(void **state)
{
    (void)state;
    enum { PLACES = 12 };
    for (enum structure_kind kind = STRIPLINE; kind <= MICROSTRIP; kind++) {
        struct structure_options options = board(kind, true);
        struct structure s;
        struct ww_sections near, all;
        struct ww_error error = {0};
        double largest = 0, off = 0;
        assert_ok(structure_open(&s, &options, &error), error);
        assert_ok(ww_sections_create(&near, s.line, ANGLE, 1, &error), error);
        assert_ok(ww_sections_create(&all, s.line, ANGLE, 1, &error), error);
        assert_true(near.laid.from > 0 && near.laid.to < near.inverse.layered.nodes);
        assert_int_equal(near.laid.from, near.inverse.layered.nodes - near.laid.to);
        assert_true(near.laid.near_from > near.laid.from && near.laid.near_to <= near.laid.to);
        all.laid = everywhere(&all);
        for (int i = 0; i < PLACES; i++) {
            double place[2][2], fast[2], slow[2];
            place_at(place, i);
            legs_of(&near, (const double(*)[2])place, 1e-2, fast);
            legs_of(&all, (const double(*)[2])place, 1e-10, slow);
            largest = fmax(largest, fabs(slow[0] - slow[1]));
            off = fmax(off, fabs(fast[0] - fast[1] - slow[0] + slow[1]));
        }
        assert_true(off < 1e-3 * largest);
        assert_true(largest > 1e-3 * s.line->summary.delay);
        ww_sections_destroy(&near);
        ww_sections_destroy(&all);
        structure_close(&s);
    }
}

/* The cloth turned by half a turn about the trace makes of leg 1 leg 2. */
static void test_half_a_turn_exchanges_the_legs(void **state)
{
    (void)state;
    struct structure_options options = board(MICROSTRIP, true);
    struct structure s;
    struct ww_sections sections;
    struct ww_error error = {0};
    assert_ok(structure_open(&s, &options, &error), error);
    assert_ok(ww_sections_create(&sections, s.line, ANGLE, 0, &error), error);
    double place[2][2] = {{37 * UM, 91 * UM}, {0, 0}}, turned[2][2] = {{-37 * UM, -91 * UM}, {0, 0}}, one[2],
           other[2];
    legs_of(&sections, (const double(*)[2])place, 1e-2, one);
    legs_of(&sections, (const double(*)[2])turned, 1e-2, other);
    assert_close(one[0], other[1], 1e-9, 0);
    assert_close(one[1], other[0], 1e-9, 0);
    assert_true(fabs(one[0] - one[1]) > 1e-5 * one[0]);
    ww_sections_destroy(&sections);
    structure_close(&s);
}

/* One grid is the coarsest of ww_line_create's three, in a narrower window: its z0 and dk_eff are not for people's eyes. */
static void test_single_grid_is_near_the_line(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= MICROSTRIP; kind += MICROSTRIP) {
        struct structure_options options = board(kind, true);
        options.fineness = 1;
        struct structure s;
        struct ww_line *single;
        struct ww_error error = {0};
        assert_ok(structure_open(&s, &options, &error), error);
        assert_ok(ww_line_create_single(&single, &s.stack, &s.line->trace, &(struct ww_line_options){.fineness = 1},
                                        &error),
                  error);
        const struct ww_line_summary *one = &single->summary, *whole = &s.line->summary;
        assert_close(one->step, 2 * whole->step, 1e-12, 0);
        assert_true(one->columns < whole->columns / 2);
        assert_close(one->z0, whole->z0, 0.02, 0);
        assert_close(one->dk_eff, whole->dk_eff, 0.02, 0);
        assert_close(one->df_eff, whole->df_eff, 0.01, 1e-9);
        assert_close(single->grid.dk_correction, 1, 1e-12, 0);
        assert_true(one->z0_grid_change < 1e-12 && one->dk_grid_change < 1e-12);
        ww_line_destroy(single);
        structure_close(&s);
    }
}

/* The skew of a section in the narrow window and on one grid is near that of the whole line. */
static void test_single_grid_sees_the_same_skew(void **state)
{
    (void)state;
    enum { PLACES = 8 };
    for (enum structure_kind kind = STRIPLINE; kind <= MICROSTRIP; kind++) {
        struct structure_options options = board(kind, true);
        struct structure s;
        struct ww_line *single;
        struct ww_sections narrow, whole;
        struct ww_error error = {0};
        double largest = 0, off = 0;
        assert_ok(structure_open(&s, &options, &error), error);
        assert_ok(ww_line_create_single(&single, &s.stack, &s.line->trace, &(struct ww_line_options){.fineness = 1},
                                        &error),
                  error);
        assert_ok(ww_sections_create(&narrow, single, ANGLE, 1, &error), error);
        assert_ok(ww_sections_create(&whole, s.line, ANGLE, 1, &error), error);
        for (int i = 0; i < PLACES; i++) {
            double place[2][2], one[2], other[2];
            place_at(place, i);
            legs_of(&narrow, (const double(*)[2])place, 1e-3, one);
            legs_of(&whole, (const double(*)[2])place, 1e-3, other);
            largest = fmax(largest, fabs(other[0] - other[1]));
            off = fmax(off, fabs(one[0] - one[1] - other[0] + other[1]));
        }
        assert_true(off < 5e-3 * largest);
        ww_sections_destroy(&narrow);
        ww_sections_destroy(&whole);
        ww_line_destroy(single);
        structure_close(&s);
    }
}

/* Two nested grids: on the fine one the same as alone; on the coarse one but for the cloth, which has twice as many columns there.
 * 1e-3 of the largest skew: those move it by 1.5e-4. */
static void test_nested_grids_share_the_cloth(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= MICROSTRIP; kind++) {
        struct structure_options options = board(kind, true);
        struct structure s;
        struct ww_line *line[2];
        struct ww_sections sections[2];
        struct ww_error error = {0};
        double largest = 0, off = 0;
        assert_ok(structure_open(&s, &options, &error), error);
        assert_ok(ww_line_create_bare(&line[0], &s.stack, &s.line->trace, &(struct ww_line_options){.fineness = 0.5},
                                      &error),
                  error);
        assert_ok(ww_line_create_refined(&line[1], line[0], &error), error);
        assert_close(2 * line[1]->mesh.step, line[0]->mesh.step, 1e-15, 0);
        assert_ok(ww_sections_create_nested(sections, (const struct ww_line *const[]){line[0], line[1]}, 2, ANGLE, 1,
                                            &error),
                  error);
        for (int i = 0; i < 4; i++) {
            double place[2][2], alone[2];
            struct ww_told told[2];
            place_at(place, i);
            assert_ok(ww_sections_nested(sections, 2, (const double(*)[2])place, 1e-6, true, told, &error), error);
            legs_of(&sections[1], (const double(*)[2])place, 1e-6, alone);
            assert_close(told[1].delay[0], alone[0], 1e-14, 0);
            assert_close(told[1].delay[1], alone[1], 1e-14, 0);
            legs_of(&sections[0], (const double(*)[2])place, 1e-6, alone);
            largest = fmax(largest, fabs(alone[0] - alone[1]));
            off = fmax(off, fabs(told[0].delay[0] - told[0].delay[1] - alone[0] + alone[1]));
            assert_true(fabs(told[0].apart - told[1].apart) < 0.1 * fabs(told[1].apart));
        }
        print_message("skew on the coarse grid, nested: off by %.2g of the largest\n", off / largest);
        assert_true(off > 0 && off < 1e-3 * largest);
        for (int g = 0; g < 2; g++) {
            ww_sections_destroy(&sections[g]);
            ww_line_destroy(line[g]);
        }
        structure_close(&s);
    }
}

static void test_refusals(void **state)
{
    (void)state;
    struct structure_options options = board(STRIPLINE, true);
    struct structure s;
    struct ww_sections sections;
    struct ww_error error = {0};
    assert_ok(structure_open(&s, &options, &error), error);
    assert_int_equal(ww_sections_create(&sections, s.line, (double)INFINITY, 0, &error), WW_INVALID);
    assert_int_equal(ww_sections_create(&sections, s.line, 0, 2, &error), WW_INVALID);
    double place[2][2] = {{37 * UM, 91 * UM}, {0, 0}}, delay[2] = {1, 1};
    assert_ok(ww_sections_create(&sections, s.line, ANGLE, 0, &error), error);
    assert_int_equal(ww_sections_legs(&sections, (const double(*)[2])place, 1e-300, delay, &error), WW_NOT_CONVERGED);
    assert_true(delay[0] == 0 && delay[1] == 0);
    ww_sections_destroy(&sections);
    structure_close(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_legs_are_those_of_the_full_section),
        cmocka_unit_test(test_cloth_where_there_is_field_is_enough),
        cmocka_unit_test(test_half_a_turn_exchanges_the_legs),
        cmocka_unit_test(test_single_grid_is_near_the_line),
        cmocka_unit_test(test_single_grid_sees_the_same_skew),
        cmocka_unit_test(test_nested_grids_share_the_cloth),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
