/* The section [tolerance]: laws, scopes and ranges as they are read, written back, and refused.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "weftwise/study.h"

#include <stdlib.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static const char plain[] = "[stackup]\nresin = ppe\nlayer = plane\nlayer = ply 1080 100 um\nlayer = trace\n"
                            "layer = ply 1080 100 um\nlayer = plane\n"
                            "[trace]\nwidth = 100 um\nthickness = 15 um\nlength = 50 mm\n";

static enum ww_status read_with(struct ww_study *study, const char *more, const char *const *set, size_t count,
                                struct ww_error *error)
{
    FILE *stream = tmpfile();
    assert_non_null(stream);
    fputs(plain, stream);
    fputs(more, stream);
    rewind(stream);
    enum ww_status status = ww_study_read(study, stream, "some/test.ini", WEAVES, set, count, error);
    fclose(stream);
    return status;
}

static void check_tolerance(const struct ww_tolerance *t, double from, double to, enum ww_law law,
                            enum ww_scope scope)
{
    assert_true(t->given);
    assert_close(t->from, from, 1e-15, 1e-18);
    assert_close(t->to, to, 1e-15, 0);
    assert_int_equal(t->law, law);
    assert_int_equal(t->scope, scope);
}

static void check_all(const struct ww_tolerances *t)
{
    check_tolerance(&t->resin_dk, -0.05, 0.05, WW_NORMAL, WW_BOARDS);
    check_tolerance(&t->thickness, -0.08, 0.08, WW_UNIFORM, WW_BOARD);
    check_tolerance(&t->width, -10e-6, 10e-6, WW_UNIFORM, WW_BOARD);
    check_tolerance(&t->copper, -3e-6, 3e-6, WW_NORMAL, WW_BOARD);
    check_tolerance(&t->temperature, -40, 125, WW_UNIFORM, WW_LIFE);
    check_tolerance(&t->moisture, -0.001, 0.001, WW_UNIFORM, WW_LIFE);
    assert_close(t->resin_tcdk, -60e-6, 1e-15, 0);
    assert_close(t->reference, 23, 0, 0);
    assert_close(t->moisture_state, 1, 0, 0);
    assert_false(t->glass_dk.given);
    assert_int_equal(t->between, WW_BOARDS);
}

static void laws_and_scopes_are_read_and_come_back(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    const char *const set[] = {"tolerance.trace.thickness=3 um board normal"};
    (void)state;
    assert_ok(read_with(&study,
                        "[tolerance]\nresin.dk = 0.05 normal boards\nthickness = 8 % uniform board\n"
                        "trace.width = 10 um\ntemperature = -40 degC to 125 degC life\nmoisture = 0.1 %\n"
                        "resin.tcdk = -60 ppm/degC\nbetween = boards\n",
                        set, 1, &error),
              error);
    check_all(&study.tolerance);
    assert_int_equal(study.tolerance.resin_dk.line, 13);
    assert_ok(ww_study_settle(&study, WEAVES, &error), error);
    check_all(&study.tolerance);
    ww_study_clear(&study);
}

static void a_study_without_tolerances_has_no_such_section(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_with(&study, "", NULL, 0, &error), error);
    char *text = ww_study_text(&study);
    assert_null(strstr(text, "[tolerance]"));
    free(text);
    ww_study_clear(&study);
}

static void slips_are_refused_with_the_remedy(void **state)
{
    static const struct {
        const char *line, *says;
        enum ww_status status;
    } slip[] = {
        {"resin.dk = 0.05 normal panel", "'panel' is neither a law (uniform, normal) nor a scope", WW_MALFORMED},
        {"resin.dk = 0.05 bords", "did you mean boards?", WW_MALFORMED},
        {"resin.dk = 0.05 normal uniform", "a second law, 'uniform'", WW_MALFORMED},
        {"resin.dk = -0.05", "is outside 0 to 10", WW_INVALID},
        {"thickness = 8 um", "'um' is neither a law", WW_MALFORMED},
        {"temperature = -40 to 125", "is not a unit for a temperature; give it in degC", WW_MALFORMED},
        {"temperature = 125 degC to -40 degC", "is reversed or empty; give the lower end first", WW_INVALID},
        {"temperature = 125 degC", "is no range", WW_MALFORMED},
        {"temperature = -300 degC to 20 degC", "is outside -273.15 degC", WW_INVALID},
        {"moisture = 0.1 %\nmoisture.state = 120 %", "120 % is outside 0 to 100 %", WW_INVALID},
        {"moisture = 0.1 %\nmoisture.state = soaked", "'soaked' is no state; give dry, saturated", WW_MALFORMED},
        {"between = panels", "the scope 'panels' is not known; give board, boards or life", WW_MALFORMED},
        {"laminate.dk = 0.05\nresin.dk = 0.05", "laminate.dk beside resin.dk", WW_INVALID},
        {"resin_content = 2 %\nthickness = 8 %", "resin content and thickness are one variable", WW_INVALID},
        {"trace.gap = 5 um", "a single trace has no gap; leave out the key", WW_INVALID},
        {"moisture.dk = 0.02", "moisture.dk without moisture", WW_INVALID},
    };
    (void)state;
    for (size_t i = 0; i < sizeof slip / sizeof *slip; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        char more[256];
        snprintf(more, sizeof more, "[tolerance]\n%s\n", slip[i].line);
        assert_int_equal(read_with(&study, more, NULL, 0, &error), slip[i].status);
        assert_contains(error.text, slip[i].says);
        assert_string_equal(error.file, "some/test.ini");
        assert_true(error.line >= 13);
    }
}

/* Every key of the section reads its own example. */
static void every_example_is_read(void **state)
{
    const struct ww_study_key *key = NULL;
    (void)state;
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        char more[256];
        if (strcmp(key->section, "tolerance") != 0)
            continue;
        bool measured = strcmp(key->key, "moisture.dk") == 0 || strcmp(key->key, "moisture.df") == 0;
        const char *const set[] = {"trace.pitch=300 um", "tolerance.moisture=0.1 %", "tolerance.moisture.dk=0.02"};
        snprintf(more, sizeof more, "[tolerance]\n%s = %s\n", key->key, key->example);
        assert_ok(read_with(&study, more, set, measured ? 3 : 1, &error), error);
        ww_study_clear(&study);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(laws_and_scopes_are_read_and_come_back),
        cmocka_unit_test(a_study_without_tolerances_has_no_such_section),
        cmocka_unit_test(slips_are_refused_with_the_remedy),
        cmocka_unit_test(every_example_is_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
