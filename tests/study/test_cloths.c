/* Several cloths in one ply, and a ply of another glass: what is typed, what it becomes, and what it is worth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "weftwise/study.h"

#include <stdio.h>
#include <stdlib.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

/* A pair between the plies of the text; coarse, for what is compared holds at any fineness. */
static enum ww_status read_plies(struct ww_study *study, const char *plies, struct ww_error *error)
{
    char text[4096];
    snprintf(text, sizeof text,
             "[study]\nfineness = 0.5\npositions = 64\nsections = 6\n[stackup]\nresin = r\nlayer = plane\n%s"
             "layer = trace\nlayer = ply 1080 100 um\nlayer = plane\n[trace]\nwidth = 105 um\nthickness = 17 um\n"
             "pitch = 255 um\nlength = 65 mm\n[resin r]\ndk = 3.1\ndf = 0.0035\ndensity = 1.45 g/cm3\n",
             plies);
    FILE *stream = fmemopen(text, strlen(text), "r");
    assert_non_null(stream);
    enum ww_status status = ww_study_read(study, stream, "cloths.ini", WEAVES, NULL, 0, error);
    fclose(stream);
    return status;
}

static struct ww_study of_plies(const char *plies)
{
    struct ww_study study;
    struct ww_error error = {0};
    assert_ok(read_plies(&study, plies, &error), error);
    assert_ok(ww_study_build(&study, &error), error);
    return study;
}

static void refuse(const char *plies, enum ww_status status, const char *says)
{
    struct ww_study study;
    struct ww_error error = {0};
    assert_int_equal(read_plies(&study, plies, &error), status);
    assert_contains(error.text, says);
    assert_int_equal(error.line, 8);
    assert_string_equal(error.file, "cloths.ini");
}

/* One 1035 in 110 um has 83 % resin by weight, which nobody presses; two have 69 %. */
static void two_cloths_halve_the_resin(void **state)
{
    (void)state;
    struct ww_study one = of_plies("layer = ply 1035 110 um\n"), two = of_plies("layer = ply 2x1035 110 um\n");
    assert_int_equal(two.stack.plies, one.stack.plies + 1);
    assert_close(one.stack.ply[0].resin_content, 0.83, 0, 0.01);
    assert_close(two.stack.ply[0].resin_content, 0.69, 0, 0.01);
    assert_close(two.stack.ply[0].thickness, 55e-6, 1e-12, 0);
    assert_close(two.stack.ply[1].thickness, 55e-6, 1e-12, 0);
    ww_study_clear(&one);
    ww_study_clear(&two);
}

static void two_cloths_are_two_plies_typed_by_hand(void **state)
{
    (void)state;
    struct ww_study typed[2] = {of_plies("layer = ply 2x1035 110 um\n"),
                                of_plies("layer = ply 1035 55 um\nlayer = ply 1035 55 um\n")};
    struct ww_solution solution[2];
    struct ww_error error = {0};
    for (int i = 0; i < 2; i++)
        assert_ok(ww_study_solve(&solution[i], &typed[i], &error), error);
    const struct ww_skew *a = &solution[0].skew, *b = &solution[1].skew;
    assert_true(a->worst > 1e-12);
    assert_close(a->worst, b->worst, 1e-9, 0);
    assert_close(a->median, b->median, 1e-9, 0);
    assert_close(a->mean_delay, b->mean_delay, 1e-9, 0);
    assert_close(solution[0].doubts.high, solution[1].doubts.high, 1e-9, 0);
    for (int i = 0; i < 2; i++) {
        ww_solution_clear(&solution[i]);
        ww_study_clear(&typed[i]);
    }
}

/* Different cloths: every ply has the same share of resin by volume, and together they fill the opening. */
static void different_cloths_share_the_resin(void **state)
{
    (void)state;
    struct ww_study study = of_plies("layer = ply 1035+1078 110 um turn=1 deg\n");
    const struct ww_ply *ply = study.stack.ply;
    assert_int_equal(study.stack.plies, 3);
    assert_string_equal(study.stack.layer[1].style.name, "1035");
    assert_string_equal(study.stack.layer[2].style.name, "1078");
    assert_close(ply[0].thickness + ply[1].thickness, 110e-6, 1e-12, 0);
    assert_close(ply[0].glass_fraction, ply[1].glass_fraction, 1e-9, 0);
    assert_close(ply[1].turn, WW_PI / 180, 1e-12, 0);
    assert_int_equal(study.stack.layer[2].line, 8);
    ww_study_clear(&study);
    struct ww_study tight = of_plies("layer = ply 1035+1078 82 um\n"); /* of which cloth is 81.85 */
    for (size_t p = 0; p < 2; p++)
        assert_true(tight.stack.ply[p].thickness >= tight.stack.ply[p].cell.thickness * (1 - 1e-12));
    assert_close(tight.stack.ply[0].thickness + tight.stack.ply[1].thickness, 82e-6, 1e-12, 0);
    ww_study_clear(&tight);
}

/* The text that a figure carries gives the same plies, whatever becomes of the weaves. */
static void they_come_back_as_written(void **state)
{
    (void)state;
    struct ww_study study = of_plies("layer = ply 1035+1078/NE 110 um\nlayer = ply 2x1080 130 um dk=3.5\n"), back;
    struct ww_error error = {0};
    char *text = ww_study_text(&study);
    assert_non_null(text);
    FILE *stream = fmemopen(text, strlen(text), "r");
    assert_non_null(stream);
    assert_ok(ww_study_read(&back, stream, "back.ini", WEAVES, NULL, 0, &error), error);
    fclose(stream);
    assert_ok(ww_study_build(&back, &error), error);
    assert_int_equal(back.stack.plies, 5);
    for (size_t p = 0; p < 5; p++) {
        assert_close(back.stack.ply[p].thickness, study.stack.ply[p].thickness, 1e-14, 0);
        assert_close(back.stack.ply[p].dk_bulk, study.stack.ply[p].dk_bulk, 1e-12, 0);
    }
    free(text);
    ww_study_clear(&study);
    ww_study_clear(&back);
}

static void what_cannot_be_pressed_is_refused(void **state)
{
    (void)state;
    refuse("layer = ply 3x1080 110 um\n", WW_UNPHYSICAL,
           "cannot hold its 3 fabrics, which are 159 um thick together");
    refuse("layer = ply 9x1080 600 um\n", WW_INVALID, "give 1 to 8 cloths");
    refuse("layer = ply 2x1035 110 um height=0.5\n", WW_INVALID, "height= is of one cloth");
    refuse("layer = ply 1035+1035/NE 110 um dk=3.4\n", WW_INVALID, "dk= of a ply with two glasses");
    refuse("layer = ply 1035/XX 110 um\n", WW_INVALID, "there is no glass \"XX\"");
    refuse("layer = ply 2131 110 um\n", WW_INVALID, "2113");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_cloths_halve_the_resin),        cmocka_unit_test(two_cloths_are_two_plies_typed_by_hand),
        cmocka_unit_test(different_cloths_share_the_resin),  cmocka_unit_test(they_come_back_as_written),
        cmocka_unit_test(what_cannot_be_pressed_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
