/* Sensitivities and sums against full solutions, and ends that cannot be.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budgeted.h"
#include "budget/moved.h"
#include "budget/sums.h"

/* Of a pair the causes that both legs share move the size of the skew, and add none of their own. */
static void a_pair_has_its_skew_from_the_weave(void **state)
{
    struct budgeted b, plain;
    (void)state;
    open_budget(&b, CLOTH PAIR TEN, 0);
    open_budget(&plain, CLOTH PAIR, 0);
    assert_close(plain.budget.judged, plain.solution.skew.tolerant_p99, 0.002, 0);
    assert_true(b.budget.judged > plain.budget.judged && b.budget.judged < 1.5 * plain.budget.judged);
    assert_close(b.budget.skew_drawn, b.budget.skew_p99, 0.02, 0);
    assert_ptr_equal(ww_budget_leading(&b.budget), &b.budget.cause[WW_CAUSE_WEAVE]);
    close_budget(&b);
    close_budget(&plain);
}

/* With the tolerance as the step, the parabola is off between its points by less than 1 % of what the cause does: truncation.
 * Half the tolerance has the same slope at its middle to 1 %: rounding and the grid. The copper's loss scatters by 0.3 % of all loss
 * from mesh to mesh (line/conductor.c), which is more than 5 um of a wide gap do. */
static void check_parabolas(const char *study, int causes)
{
    struct budgeted b;
    struct ww_error error = {0};
    double nominal[WW_OBSERVABLES], half[2][WW_OBSERVABLES];
    struct ww_position at = ww_position_nominal();
    struct ww_conductor conductor;
    int checked = 0;
    open_budget(&b, study, 0);
    assert_ok(ww_conductor_solve(&conductor, b.solution.line, &error), error);
    at.conductor = &conductor;
    assert_ok(ww_moved_solve(nominal, &b.study, &at, &error), error);
    for (int i = 1; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &b.budget.cause[i];
        if (!cause->given)
            continue;
        checked++;
        for (int end = 0; end < 2; end++) {
            struct ww_position position = at;
            position.of[i] = end - 0.5;
            assert_ok(ww_moved_solve(half[end], &b.study, &position, &error), error);
        }
        for (int o = 0; o < WW_OBSERVED_SKEW; o++) {
            struct ww_part part = ww_cause_part(cause, (enum ww_observable)o, false);
            double range = ww_part_range(&part), scale = b.budget.nominal[o] / nominal[o];
            double slope = scale * (half[1][o] - half[0][o]),
                   whole = ww_part_value(&part, 0.5) - ww_part_value(&part, -0.5);
            double off = 0.01 * range + (o == WW_OBSERVED_LOSS ? 0.003 * nominal[o] : 0.0);
            assert_close(slope, whole, 0, off);
            assert_close(scale * (half[1][o] - nominal[o]), ww_part_value(&part, 0.5), 0, off);
        }
    }
    assert_int_equal(checked, causes);
    close_budget(&b);
}

/* Every cause: those that stand in place of others in a study of their own. */
static void the_parabola_is_good_to_one_percent(void **state)
{
    (void)state;
    check_parabolas(FINE PAIR TEN "trace.gap = 5 um\nfoil.rz = 0.5 um\n", 9);
    check_parabolas(FINE PAIR "[tolerance]\nlaminate.dk = 0.05 normal boards\nresin_content = 3 % uniform boards\n",
                    2);
}

/* The sum of the causes against all of them at once: what is left out are their products. */
static void corners_in_full_are_the_sum(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, CLOTH SINGLE TEN "foil.rz = 0.5 um\n", 8);
    assert_int_equal(b.budget.check.corners, 8);
    assert_true(b.budget.check.deviation > 0);
    assert_true(b.budget.check.rms > 0 && b.budget.check.rms < 0.05 * b.budget.check.deviation);
    assert_true(b.budget.check.largest >= b.budget.check.rms);
    close_budget(&b);
}

/* The check that --check makes: 200 random corners of a demonstration study, all of its causes at once. */
static void two_hundred_corners_of_a_study(void **state)
{
    struct budgeted b = {0};
    struct ww_error error = {0};
    (void)state;
    assert_ok(ww_study_load(&b.study, WEAVES "/studies/antenna-feed.ini", WEAVES, NULL, 0, &error), error);
    assert_ok(ww_study_build(&b.study, &error), error);
    assert_ok(ww_study_solve(&b.solution, &b.study, &error), error);
    struct ww_budget_request request = {.study = &b.study, .solution = &b.solution, .corners = 200};
    assert_ok(ww_budget_solve(&b.budget, &request, &error), error);
    assert_int_equal(b.budget.check.corners, 200);
    assert_true(b.budget.check.rms > 0 && b.budget.check.rms < 0.02 * b.budget.check.deviation);
    assert_true(b.budget.check.largest < 0.06 * b.budget.check.deviation);
    close_budget(&b);
}

static void elements_have_what_one_board_has(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, CLOTH SINGLE "elements = 4\n" TEN, 0);
    const struct ww_array *array = &b.budget.array;
    assert_int_equal(array->elements, 4);
    assert_close(array->rms, ww_budget_phase(28e9, b.budget.level[WW_BOARD].deviation) / sqrt(2.0), 1e-6, 0);
    assert_true(array->peak > array->rms && array->peak < 4 * array->rms);
    close_budget(&b);
}

static void an_end_that_cannot_be_is_named(void **state)
{
    static const struct {
        const char *text, *says[3];
    } slip[] = {
        {CLOTH SINGLE "[tolerance]\nthickness = 40 %\n",
         {"tolerance.thickness: give a smaller one; at its lower end, -40 %", "cannot hold its 2116 fabric", ""}},
        {CLOTH PAIR "[tolerance]\ntrace.width = 160 um\n",
         {"tolerance.trace.width: give a smaller one; at its lower end", "nothing is left", ""}},
        {CLOTH PAIR "[tolerance]\ntrace.gap = 160 um\n",
         {"tolerance.trace.gap: give a smaller one; at its lower end, -160 um", "the gap would be closed", ""}},
        {CLOTH SINGLE "[tolerance]\nresin.dk = 2.5\n",
         {"tolerance.resin.dk: give a smaller one; at its lower end, -2.5", "below 1", ""}},
        {CLOTH SINGLE "[tolerance]\nresin_content = 80 %\n",
         {"tolerance.resin_content: give a smaller one; at its lower end", "outside 0 to 100 %", ""}},
        {CLOTH SINGLE "[tolerance]\nfoil.rz = 3 um\n",
         {"tolerance.foil.rz: give a smaller one; at its lower end, -3 um", "rz would be -1 um, below 0", ""}},
    };
    (void)state;
    for (size_t i = 0; i < sizeof slip / sizeof *slip; i++) {
        struct budgeted b;
        struct ww_error error = {0};
        assert_int_equal(try_budget(&b, slip[i].text, 0, &error), WW_UNPHYSICAL);
        for (int k = 0; k < 3; k++)
            assert_contains(error.text, slip[i].says[k]);
        assert_string_equal(error.file, "test.ini");
        assert_true(error.line > 0);
        close_budget(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pair_has_its_skew_from_the_weave), cmocka_unit_test(the_parabola_is_good_to_one_percent),
        cmocka_unit_test(corners_in_full_are_the_sum),        cmocka_unit_test(two_hundred_corners_of_a_study),
        cmocka_unit_test(elements_have_what_one_board_has),   cmocka_unit_test(an_end_that_cannot_be_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
