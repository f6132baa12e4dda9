/* test_answer.c - the answer and the sections of choices, from a small board and results made for the purpose.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "board.h"
#include "check.h"
#include "report/sections.h"

#define DEG (WW_PI / 180.0)

static void assert_holds(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("'%s' is not in '%s'", part, text);
}

static void assert_holds_not(const char *text, const char *part)
{
    if (strstr(text, part))
        fail_msg("'%s' is in '%s'", part, text);
}

/* The page as text; the caller frees it. */
static char *page_of(const struct ww_report *report)
{
    char *text = NULL;
    size_t size = 0;
    struct ww_error error = {0};
    FILE *stream = open_memstream(&text, &size);
    assert_non_null(stream);
    if (ww_report_write(report, stream, &error))
        fail_msg("%s", error.text);
    assert_int_equal(fclose(stream), 0);
    return text;
}

static void a_budget_is_missed_or_met(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    struct ww_words worst, budget;
    board_solve(&board, "pitch = 220 um\n", "[signal]\nbudget = 2 ps\n");
    double judged = ww_report_judged(&board.report);
    assert_close(judged, fmax(board.skew.worst, board.skew.worst_with_turn), 0.0, 0.0);
    char verdict[128];
    ww_words_time(&worst, judged);
    board.study.budget = 0.5 * judged;
    ww_report_answer(&board.report, &answer);
    snprintf(verdict, sizeof verdict, "Misses the budget: %s at worst, %s allowed", worst.of,
             ww_words_time(&budget, board.study.budget));
    assert_holds(answer.verdict, verdict);
    assert_holds(answer.how_bad, "That is 2.0 times the budget");
    board.study.budget = 2.0 * judged;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.verdict, "Meets the budget");
    assert_string_equal(answer.what_to_do, "Nothing has to change for the weave's sake.");
    board.study.budget = 0.0;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.verdict, "No budget is given");
    assert_holds(answer.what_to_do, "Settle a budget");
    board_clear(&board);
}

static void a_pair_and_a_single_trace_have_words_of_their_own(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    board_solve(&board, "pitch = 220 um\n", "");
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.question, "two legs of this pair");
    board_clear(&board);
    board_solve(&board, "", "");
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.question, "two equal traces");
    assert_holds_not(answer.how_bad, "leg");
    assert_close(ww_report_judged(&board.report), fmax(board.skew.spread, board.skew.worst_with_turn), 0.0, 0.0);
    board_clear(&board);
}

/* The set is judged, not its first arm; the advice is not that of the first arm either. */
static void arms_are_judged_and_answered_together(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    struct ww_arms arms;
    struct ww_error error = {0};
    struct ww_words worst;
    char part[128];
    board_solve(&board, "",
                "[signal]\nbudget = 2 ps\n[route far]\nfrom = 2.3 mm, 1 mm\nsegment = 30 mm 2 deg\n"
                "segment = 20 mm 40 deg\n");
    struct ww_skew_request request = ww_study_request(&board.study);
    assert_ok(ww_arms_solve(&arms, board.line, &request, &board.skew, &error), error);
    board.report.arms = &arms;
    double judged = ww_report_judged(&board.report);
    assert_close(judged, arms.worst_with_turn, 0.0, 0.0);
    assert_true(fabs(judged - board.skew.worst_with_turn) > 0.01 * judged);
    board.study.budget = 0.5 * judged;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.question, "the delays of the 2 arms of this feed, on one cloth");
    snprintf(part, sizeof part, "Misses the budget: %s at worst", ww_words_time(&worst, judged));
    assert_holds(answer.verdict, part);
    assert_holds(answer.how_bad, "arms route and far differ by");
    assert_holds(answer.how_likely, "the arms' spread below");
    assert_holds(answer.how_likely, "all arms meet the budget on");
    assert_holds(answer.what_to_do, "those of the first arm alone");
    assert_holds_not(answer.what_to_do, "Turn the route");
    board.study.budget = 2.0 * judged;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.verdict, "Meets the budget");
    char *page = page_of(&board.report);
    assert_holds(page, "The 2 arms lie on one cloth: route and far differ most");
    assert_holds(page, "Correlation with each, in this order");
    free(page);
    char words[WW_ANSWER_SIZE];
    assert_string_equal(ww_words_arms(&board.study, NULL, words, sizeof words), "");
    ww_arms_clear(&arms);
    board_clear(&board);
}

/* And whether the verdict counts it. */
static void a_route_whose_legs_differ_in_length_says_so_beside_the_verdict(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    board_solve(&board, "pitch = 220 um\n", "");
    ww_report_answer(&board.report, &answer);
    assert_holds_not(answer.how_bad, "bends");
    board.skew.mismatch = -0.588e-12;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.how_bad, "at the bends differ by 0.588 ps, which is in it");
    board.study.compensated = true;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.how_bad, "at the bends differ by 0.588 ps, which is compensated and not in it");
    board_clear(&board);
}

static void a_single_trace_is_not_reported_as_skew(void **state)
{
    (void)state;
    static const char *const trace[] = {"pitch = 220 um\n", ""};
    static const char *const heading[] = {">Skew from the glass weave", ">Delay spread from the glass weave"};
    for (int i = 0; i < 2; i++) {
        struct board board;
        board_solve(&board, trace[i], "");
        char *page = page_of(&board.report);
        assert_holds(page, heading[i]);
        free(page);
        board_clear(&board);
    }
}

/* The angle advised is the nearest one in a safe window, a tenth of a degree inwards. */
static void the_angle_advised_is_told_with_its_window_and_margin(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    struct ww_at_angle at[] = {{.angle = 0.0}, {.angle = 0.5 * WW_PI}};
    struct ww_window window[] = {{7.1 * DEG, 40.0 * DEG}, {50.0 * DEG, 80.0 * DEG}};
    struct ww_angles angles = {.pair = true,
                               .budget = 1e-15,
                               .count = 2,
                               .at = at,
                               .windows = 2,
                               .window = window,
                               .advice = {true, 9.4 * DEG, window[0], 0.4e-15, 1.5e-15}};
    board_solve(&board, "pitch = 220 um\n", "[signal]\nbudget = 2 ps\n");
    board.study.budget = 1e-15;
    board.report.angles = &angles;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.what_to_do, "Turn the route by 9.4\xc2\xb0, to 9.4\xc2\xb0 from the warp");
    assert_holds(answer.what_to_do, "2.5 times within the budget");
    assert_holds(answer.what_to_do, "7.1\xc2\xb0 to 40\xc2\xb0 meet it");
    assert_holds(answer.what_to_do, "Traces across it, turned as much from the fill, do not hold");
    assert_null(strstr(answer.what_to_do, "reflects"));
    double row[] = {0.0, 9.0 * DEG, 90.0 * DEG}, frequency[] = {10e9, 20e9, 30e9};
    double reflection[] = {0, 0.01, 0, 0, 0.36, 0, 0, 0.9, 0}; /* -8.9 dB at 20 GHz */
    struct ww_notch_map map = {3, 3, row, frequency, reflection};
    struct ww_spectrum spectrum = {.at = 25e9};
    board.report.notches = &map;
    board.report.spectrum = &spectrum;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.what_to_do, "the cloth reflects at most -8.9 dB up to 25 GHz, at 20 GHz");
    reflection[4] = 0.05;
    ww_report_answer(&board.report, &answer);
    assert_null(strstr(answer.what_to_do, "reflects"));
    board.report.notches = NULL;
    angles.advice.found = false;
    angles.windows = 0;
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.what_to_do, "No routing angle from 0\xc2\xb0 to 90\xc2\xb0 meets the budget");
    board_clear(&board);
}

static void the_null_advised_is_the_one_of_the_loss_curves(void **state)
{
    (void)state;
    struct board board;
    struct ww_answer answer;
    double stretch[] = {-0.02, -0.01, 0.0, 0.01, 0.02}, worst[] = {4e-12, 3e-12, 0.0, 1e-12, 2e-12};
    struct ww_null null[] = {{.pitch = 200e-6, .worst = 1e-13, .impedance = 90.0},
                             {.pitch = 412e-6, .worst = 2e-13, .impedance = 100.0},
                             {.pitch = 412e-6, .width = 1e-4, .in_width = true}};
    double axis[] = {412e-6}, width[] = {1e-4}, value[] = {2e-13}, z[] = {100.0};
    struct ww_pitch pitch = {.pitches = 1,
                             .widths = 1,
                             .pitch = axis,
                             .width = width,
                             .worst = value,
                             .impedance = z,
                             .nulls = 3,
                             .null = null,
                             .null_pitch = 412e-6,
                             .count = 5,
                             .stretch = stretch,
                             .at_stretch = worst,
                             .angle = stretch,
                             .at_angle = worst};
    board_solve(&board, "pitch = 220 um\n", "");
    board.report.pitch = &pitch;
    assert_ptr_equal(ww_report_null(&board.report), &null[1]);
    assert_close(ww_report_null_off(&pitch, 0.01), 3e-12, 1e-9, 0.0);
    assert_close(ww_report_null_off(&pitch, 0.005), 1.5e-12, 1e-9, 0.0); /* straight between samples */
    ww_report_answer(&board.report, &answer);
    assert_holds(answer.what_to_do,
                 "legs 412 \xc2\xb5m apart, centre to centre, and 100 \xce\xa9 differential, 0.200 ps");
    assert_holds(answer.what_to_do, "yarn count is 1 % off, 3.00 ps");
    char *page = page_of(&board.report);
    assert_holds(page, "Which pitch of the pair?");
    free(page);
    board_clear(&board);
}

static void styles_that_cannot_be_used_are_told_and_not_counted(void **state)
{
    (void)state;
    struct board board;
    struct ww_compared of[2] = {{.name = "1080", .own = true}, {.name = "7628", .status = WW_UNPHYSICAL}};
    struct ww_comparison comparison = {.count = 2, .of = of};
    board_solve(&board, "pitch = 220 um\n", "");
    of[0].skew = board.skew;
    snprintf(of[1].error.text, sizeof of[1].error.text, "thicker than the ply");
    board.report.comparison = &comparison;
    assert_int_equal(ww_report_tried(&board.report), 1);
    char *page = page_of(&board.report);
    assert_holds(page, "1080 (own)");
    assert_holds(page, "cannot be used: thicker than the ply");
    free(page);
    of[0].status = WW_UNPHYSICAL;
    page = page_of(&board.report);
    assert_holds_not(page, "Which glass?");
    free(page);
    board_clear(&board);
}

static void a_part_that_is_missing_has_no_section(void **state)
{
    (void)state;
    struct board board;
    struct ww_error error = {0};
    board_solve(&board, "pitch = 220 um\n", "");
    char *page = page_of(&board.report);
    assert_holds(page, "How bad can it be, and where?");
    assert_holds(page, "Conditions and sources");
    for (const char *const *title = (const char *[]){"Which routing angle", "Which glass", "Which pitch",
                                                     "Can these numbers be trusted", "Files beside", "<img", NULL};
         *title; title++)
        assert_holds_not(page, *title);
    free(page);
    FILE *tmp = tmpfile();
    assert_non_null(tmp);
    board.report.figures = "nowhere/";
    assert_int_equal(ww_report_write(&board.report, tmp, &error), WW_IO);
    fclose(tmp);
    board.report.format = WW_FIGURE_PDF;
    assert_int_equal(ww_report_write(&board.report, stdout, &error), WW_INVALID);
    board.report.skew = NULL;
    assert_int_equal(ww_report_write(&board.report, stdout, &error), WW_INVALID);
    board_clear(&board);
}

static void alternatives_fit_the_ply_and_begin_with_its_own(void **state)
{
    (void)state;
    struct board board;
    struct ww_weaves weaves = {0};
    struct ww_alternatives alternatives = {0};
    struct ww_error error = {0};
    size_t spread = 0;
    board_solve(&board, "pitch = 220 um\n", "");
    assert_int_equal(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), WW_OK);
    assert_int_equal(ww_alternatives_choose(&alternatives, &board.study.stack, &weaves, &error), WW_OK);
    assert_int_equal(alternatives.count, WW_ALTERNATIVES_MOST);
    assert_string_equal(alternatives.candidate[0].name, "1080");
    for (size_t i = 0; i < alternatives.count; i++) {
        const struct ww_candidate *candidate = &alternatives.candidate[i];
        assert_true(candidate->style.thickness.value <= board.study.stack.ply[0].thickness);
        spread += candidate->style.kind == WW_SPREAD;
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(candidate->name, alternatives.candidate[k].name);
    }
    assert_true(spread >= 2);
    ww_alternatives_clear(&alternatives);
    ww_weaves_close(&weaves);
    board_clear(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_budget_is_missed_or_met),
        cmocka_unit_test(a_pair_and_a_single_trace_have_words_of_their_own),
        cmocka_unit_test(arms_are_judged_and_answered_together),
        cmocka_unit_test(a_route_whose_legs_differ_in_length_says_so_beside_the_verdict),
        cmocka_unit_test(a_single_trace_is_not_reported_as_skew),
        cmocka_unit_test(the_angle_advised_is_told_with_its_window_and_margin),
        cmocka_unit_test(the_null_advised_is_the_one_of_the_loss_curves),
        cmocka_unit_test(styles_that_cannot_be_used_are_told_and_not_counted),
        cmocka_unit_test(a_part_that_is_missing_has_no_section),
        cmocka_unit_test(alternatives_fit_the_ply_and_begin_with_its_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
