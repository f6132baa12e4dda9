/* test_calibrate.c - the kernel scaled to full cross-sections along its worst placements.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <math.h>

#include "../line/structure.h"
#include "weftwise/scan.h"

#define LENGTH 50e-3
#define MANY 24

static void solve(const struct structure *structure, double angle, size_t sections, struct ww_skew *skew)
{
    struct ww_error error = {0};
    struct ww_skew_request request = {.length = LENGTH, .angle = angle, .sections = sections};
    if (ww_skew_solve(skew, structure->line, &request, &error))
        fail_msg("%s", error.text);
}

static void open_structure(struct structure *structure, const struct structure_options *options)
{
    struct ww_error error = {0};
    if (structure_open(structure, options, &error))
        fail_msg("%s", error.text);
}

/* Mean over one period along the warp of the full sections' delay from this placement, times the length. */
static double delay_of_sections(const struct structure *structure, const struct ww_extreme *start, bool pair)
{
    double sum = 0, period = structure->stack.ply[0].cell.ly;
    for (size_t i = 0; i < MANY; i++) {
        double place[1][2] = {{start->x, start->y + ((double)i + 0.5) * period / MANY}};
        struct ww_full full;
        struct ww_error error = {0};
        if (ww_section_solve(structure->line, 0, (const double(*)[2])place, NULL, &full, &error))
            fail_msg("%s", error.text);
        sum += full.delay[0] - (pair ? full.delay[1] : 0);
    }
    return LENGTH * sum / MANY;
}

/* What remains is what a handful of sections does not see of the period: 1 %, half of what is promised over all styles. */
static void agrees_with_many_sections(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct structure_options options = pair ? structure_pair() : structure_single();
        options.kind = MICROSTRIP;
        options.style = "3313";
        struct structure structure;
        struct ww_skew skew;
        open_structure(&structure, &options);
        solve(&structure, 0, 8, &skew);
        double sections = delay_of_sections(&structure, &skew.high[0], pair);
        sections -= pair ? 0 : delay_of_sections(&structure, &skew.low[0], pair);
        assert_close(pair ? skew.worst : skew.spread, sections, 0.01, 0);
        ww_skew_clear(&skew);
        structure_close(&structure);
    }
}

/* Along the warp one factor on all that lasts, none on the bounds and on the mean. */
static void scales_what_varies(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure structure;
    struct ww_skew plain, scaled;
    open_structure(&structure, &options);
    solve(&structure, 0, 0, &plain);
    solve(&structure, 0, 8, &scaled);
    assert_close(plain.scale, 1, 0, 0);
    assert_true(fabs(scaled.scale - 1) > 1e-6 && fabs(scaled.scale - 1) < 0.1);
    assert_int_equal(scaled.sections, 8);
    assert_close(scaled.worst, scaled.scale * plain.worst, 1e-9, 0);
    assert_close(scaled.median, scaled.scale * plain.median, 1e-3, 0);
    assert_close(scaled.spread, scaled.scale * plain.spread, 0.01, 0); /* legs may have a factor of their own */
    assert_close(scaled.worst_upper, plain.worst_upper, 1e-12, 0);
    assert_close(scaled.worst_lower, plain.worst_lower, 1e-12, 0);
    assert_close(scaled.mean_delay, plain.mean_delay, 1e-12, 0);
    assert_close(scaled.high[0].x, plain.high[0].x, 0, 1e-9);
    ww_skew_clear(&plain);
    ww_skew_clear(&scaled);
    structure_close(&structure);
}

/* Nothing varies in a uniform dielectric: there is nothing to scale. */
static void leaves_a_uniform_dielectric_alone(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    options.glass_dk = options.resin_dk = 3.2;
    struct structure structure;
    struct ww_skew skew;
    open_structure(&structure, &options);
    solve(&structure, 0, 8, &skew);
    assert_true(isfinite(skew.scale) && skew.scale > 0);
    assert_close(skew.worst, 0, 0, 1e-12 * skew.mean_delay);
    ww_skew_clear(&skew);
    structure_close(&structure);
}

/* At an angle the mean along the way is small, and the local values decide. */
static void stays_near_one_at_an_angle(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure structure;
    struct ww_skew skew;
    open_structure(&structure, &options);
    solve(&structure, 10 * DEGREES, 8, &skew);
    assert_close(skew.scale, 1, 0.05, 0);
    ww_skew_clear(&skew);
    structure_close(&structure);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_many_sections),
        cmocka_unit_test(scales_what_varies),
        cmocka_unit_test(leaves_a_uniform_dielectric_alone),
        cmocka_unit_test(stays_near_one_at_an_angle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
