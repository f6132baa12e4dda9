/* test_words.c - numbers, tolerances, conditions, and the sentence on angles.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "board.h"
#include "report/words.h"

#define DEG (WW_PI / 180.0)

static void times_keep_three_digits(void **state)
{
    (void)state;
    struct ww_words words;
    assert_string_equal(ww_words_time(&words, 17.44e-12), "17.4 ps");
    assert_string_equal(ww_words_time(&words, 1.744e-12), "1.74 ps");
    assert_string_equal(ww_words_time(&words, 0.1744e-12), "0.174 ps");
    assert_string_equal(ww_words_time(&words, 9.96e-12), "10.0 ps");
    assert_string_equal(ww_words_time(&words, 0.0), "0.000 ps");
}

static void numbers_have_the_signs_of_print(void **state)
{
    (void)state;
    struct ww_words words;
    assert_string_equal(ww_words_number(&words, 105e-6, WW_LENGTH, 4), "105 \xc2\xb5m");
    assert_string_equal(ww_words_number(&words, 1.5 * DEG, WW_ANGLE, 3), "1.5\xc2\xb0");
    assert_string_equal(ww_words_number(&words, 28e9, WW_FREQUENCY, 4), "28 GHz");
}

static void a_share_is_never_rounded_to_none_or_all(void **state)
{
    (void)state;
    struct ww_words words;
    assert_string_equal(ww_words_share(&words, 0.779), "77.9 %");
    assert_string_equal(ww_words_share(&words, 1e-5), "under 0.1 %");
    assert_string_equal(ww_words_share(&words, 0.99999), "over 99.9 %");
    assert_string_equal(ww_words_share(&words, 0.0), "0.0 %");
    assert_string_equal(ww_words_share(&words, 1.0), "100 %");
}

/* Whoever turns by the angle that is printed is within the window. */
static void tenths_of_a_degree_lie_within(void **state)
{
    (void)state;
    struct ww_words words;
    assert_string_equal(ww_words_angle_up(&words, 5.51 * DEG), "5.6\xc2\xb0");
    assert_string_equal(ww_words_angle_down(&words, 5.59 * DEG), "5.5\xc2\xb0");
    assert_string_equal(ww_words_angle_up(&words, 5.5 * DEG), "5.5\xc2\xb0");
    assert_string_equal(ww_words_angle_up(&words, 0.0), "0\xc2\xb0"); /* not -0 */
    assert_string_equal(ww_words_angle_down(&words, 5.5 * DEG), "5.5\xc2\xb0");
}

static void units_are_set_at_the_end_of_a_word_only(void **state)
{
    (void)state;
    char out[64], small[8];
    assert_string_equal(ww_words_typeset("100 um; at 10 deg, 3 umbrellas of 2 degrees", out, sizeof out),
                        "100 \xc2\xb5m; at 10\xc2\xb0, 3 umbrellas of 2 degrees");
    ww_words_typeset("123456789", small, sizeof small);
    assert_true(strlen(small) < sizeof small);
}

static void what_may_vary_is_named_with_its_limit(void **state)
{
    (void)state;
    char out[WW_TOLERANCES_SIZE];
    struct ww_study study = {0};
    assert_string_equal(ww_words_varies(&study), "");
    assert_string_equal(ww_words_tolerances(&study, out, sizeof out), "");
    study.turn = 1.5 * DEG;
    assert_string_equal(ww_words_varies(&study), "turn");
    assert_string_equal(ww_words_tolerances(&study, out, sizeof out), "the cloth up to 1.5\xc2\xb0 off square");
    study.warp_tolerance = study.fill_tolerance = 0.01;
    assert_string_equal(ww_words_varies(&study), "turn and yarn counts");
    assert_string_equal(ww_words_tolerances(&study, out, sizeof out),
                        "the cloth up to 1.5\xc2\xb0 off square and its yarn counts up to 1 % off");
    study.turn = 0.0;
    assert_string_equal(ww_words_tolerances(&study, out, sizeof out), "the cloth's yarn counts up to 1 % off");
}

static void conditions_name_cloth_and_trace(void **state)
{
    (void)state;
    char out[256], cut[16];
    struct board board;
    board_solve(&board, "pitch = 220 um\n", "");
    assert_string_equal(ww_words_conditions(&board.study, false, out, sizeof out),
                        "1080 100 um; pair 100 um wide, 220 um pitch; 50 mm at 0 deg from the warp");
    assert_string_equal(ww_words_conditions(&board.study, false, cut, sizeof cut), "1080 100 um; pa");
    assert_string_equal(ww_words_ply(&board.study, 0, out, sizeof out), "ply 1, 1080");
    struct ww_line_summary line = *board.report.line;
    assert_string_equal(ww_words_pitch_solved(&board.study, &line, out, sizeof out), "");
    line.pitch = 220.05e-6;
    assert_string_equal(ww_words_pitch_solved(&board.study, &line, out, sizeof out),
                        "pitch solved on the grid: 220.05 um, 50 nm from the one given");
    board_clear(&board);
}

/* A sweep from 0 to 90 deg of three angles. */
static struct ww_at_angle at[] = {
    {.design = 8e-12}, {.angle = 0.5, .design = 1e-12}, {.angle = 0.5 * WW_PI, .design = 4e-12}};

static void the_sentence_on_angles_says_what_is_safe(void **state)
{
    (void)state;
    char out[512];
    struct ww_window window[] = {{5.01 * DEG, 40.0 * DEG}, {50.0 * DEG, 80.0 * DEG}};
    struct ww_angles angles = {.count = 3, .at = at};
    assert_non_null(strstr(ww_words_angles(&angles, out, sizeof out), "no budget"));
    angles.budget = 0.5e-12;
    assert_non_null(strstr(ww_words_angles(&angles, out, sizeof out),
                           "No angle from 0 to 90 deg meets the budget of 0.5 ps: the least is 1 ps at 28.6 deg."));
    angles = (struct ww_angles){.count = 3,
                                .at = at,
                                .budget = 2e-12,
                                .windows = 2,
                                .window = window,
                                .safe_from_warp = 5.01 * DEG,
                                .safe_from_fill = 10.0 * DEG,
                                .safe_from_diagonal = 5.0 * DEG};
    assert_string_equal(
        ww_words_angles(&angles, out, sizeof out),
        "Turn at least 5.1 deg away from the warp and 10.0 deg from the fill; 45 deg is not safe: turn "
        "at least 5.0 deg away from it; in all, safe are 5.1 to 40.0 deg and 50.0 to 80.0 deg.");
    window[0] = (struct ww_window){0.0, 0.5 * WW_PI};
    angles.windows = 1;
    assert_string_equal(ww_words_angles(&angles, out, sizeof out),
                        "Every angle from 0 to 90 deg meets the budget of 2 ps; the most is 8 ps at 0.0 deg.");
}

/* Told is only what gains something; what the yarn count does to it is told where the study does not count it in. */
static void the_sentence_on_spacing_says_what_gains(void **state)
{
    (void)state;
    char text[1024];
    struct ww_study study = {.turn = 2.0 * DEG, .lanes = 16};
    struct ww_skew skew = {.worst_with_turn = 1.5e-12, .yield = 0.72};
    struct ww_spacing spacing = {.nulls = 2,
                                 .null = {{0.47e-3, 0, 0.9e-12, 1}, {0.941e-3, 0, 0.02e-12, 2}},
                                 .lanes = 16,
                                 .best_pitch = 0.847e-3,
                                 .best_yield = 0.86};
    assert_string_equal(
        ww_words_spacing(&study, &skew, &spacing, text, sizeof text),
        "Two feeds on one cloth differ least 0.941 mm (2 yarn pitches, 0.02 ps) apart, tolerances of the "
        "cloth included; with places independent it is 1.5 ps. This takes the yarn count as woven to the "
        "letter: a count 1 % off moves the yarns by 9 um over that distance. At a lane pitch of 0.847 mm on one "
        "cloth all 16 lanes meet the "
        "budget on 86.0 % of boards; with places independent it is 72.0 %. This takes the yarn count as "
        "woven to the letter: a count 1 % off moves the yarns by 127 um over that distance.");
    study.warp_tolerance = study.fill_tolerance = 0.01;
    study.spacing = 0.8e-3;
    study.lane_pitch = 0.8e-3;
    assert_string_equal(
        ww_words_spacing(&study, &skew, &spacing, text, sizeof text),
        "Near 0.8 mm two feeds on one cloth differ least 0.941 mm (2 yarn pitches, 0.02 ps) apart, tolerances of the "
        "cloth included; at the study's spacing it is 1.5 ps. At a lane pitch of 0.847 mm on one cloth all "
        "16 lanes meet the budget on 86.0 % of boards; at the study's it is 72.0 %.");
    skew.worst_with_turn = 0.03e-12;
    skew.yield = 0.855;
    assert_string_equal(ww_words_spacing(&study, &skew, &spacing, text, sizeof text), "");
}

static void places_are_named(void **state)
{
    (void)state;
    char text[80];
    struct ww_study study = {.spacing = 1.9e-3};
    assert_string_equal(ww_words_feeds(&study, text, sizeof text), "1.9 mm apart on one cloth");
    assert_string_equal(ww_words_lanes(&study, text, sizeof text), "places independent");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_keep_three_digits),
        cmocka_unit_test(numbers_have_the_signs_of_print),
        cmocka_unit_test(a_share_is_never_rounded_to_none_or_all),
        cmocka_unit_test(tenths_of_a_degree_lie_within),
        cmocka_unit_test(units_are_set_at_the_end_of_a_word_only),
        cmocka_unit_test(what_may_vary_is_named_with_its_limit),
        cmocka_unit_test(conditions_name_cloth_and_trace),
        cmocka_unit_test(the_sentence_on_angles_says_what_is_safe),
        cmocka_unit_test(the_sentence_on_spacing_says_what_gains),
        cmocka_unit_test(places_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
