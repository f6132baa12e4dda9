/* Up to which frequency the model of a line holds.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"

#include <math.h>

/* Between planes 215 um apart, Dk 3.2: half a wave across a strip of 100 um and its fringes, 311.7 GHz; of a pair across both
 * legs. (Values by the formulas in line/limits.c, on paper.) */
static void stripline_has_the_cutoff_of_a_wave_across_it(void **state)
{
    struct board board;
    struct board_options plain = board_plain(), pair = board_pair();
    (void)state;
    plain.below = false;
    board_open(&board, &plain);
    struct ww_line_limits limits = ww_line_limits(board.line);
    assert_close(limits.higher_mode, 311.665e9, 1e-3, 0);
    assert_true(limits.surface_wave == 0 && limits.cell == 0 && limits.yarn_period == 0);
    board_close(&board);
    pair.below = false;
    board_open(&board, &pair);
    assert_close(ww_line_limits(board.line).higher_mode, WW_C0 / (sqrt(3.2) * (640 + 0.5 * WW_PI * 215) * UM), 1e-3,
                 0);
    board_close(&board);
}

/* Bare microstrip 2 mm wide and 1 mm high, Dk 10: 19.75 GHz across, 33.09 GHz the surface wave. */
static void microstrip_has_both(void **state)
{
    struct ww_layer layer[4] = {{.kind = WW_LAYER_AIR},
                                {.kind = WW_LAYER_TRACE},
                                {.kind = WW_LAYER_SOLID, .thickness = 1e-3, .dk = 10},
                                {.kind = WW_LAYER_PLANE}};
    struct ww_stack stack = {.layer = layer, .count = 4};
    struct ww_trace trace = {.width = 2e-3, .thickness = 20 * UM};
    const struct ww_line_options options = {.fineness = 0.35};
    struct ww_line *line = NULL;
    struct ww_error error = {0};
    (void)state;
    assert_ok(ww_stack_build(&stack, NULL, &error), error);
    assert_ok(ww_line_create(&line, &stack, &trace, &options, &error), error);
    struct ww_line_limits limits = ww_line_limits(line);
    assert_close(limits.higher_mode, 19.75e9, 1e-3, 0);
    assert_close(limits.surface_wave, 33.09e9, 1e-3, 0);
    assert_true(limits.cell == 0);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
}

/* The fill at 47 per inch, 540 um, a quarter of the guided wavelength. */
static void cloth_has_the_yarn_period(void **state)
{
    struct board board;
    struct board_options plain = board_plain();
    (void)state;
    board_open(&board, &plain);
    struct ww_line_limits limits = ww_line_limits(board.line);
    double wavelength = WW_C0 / (limits.cell * sqrt(ww_line_summary(board.line)->dk_eff));
    assert_close(limits.yarn_period, 25.4e-3 / 47, 1e-9, 0);
    assert_close(limits.yarn_period / wavelength, 0.25, 1e-12, 0);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stripline_has_the_cutoff_of_a_wave_across_it),
        cmocka_unit_test(microstrip_has_both),
        cmocka_unit_test(cloth_has_the_yarn_period),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
