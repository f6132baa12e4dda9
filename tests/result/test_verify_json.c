/* JSON of a verification: the keys scripts rely on, the units in them, null for what could not be had.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "weftwise/result.h"

#include <jansson.h>
#include <stdio.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static const double digits = 1e-11; /* of the 12 that are written */

/* A study that is built, and a verification with numbers that can be told apart. */
struct fixture {
    struct ww_study study;
    struct ww_line_summary line;
    struct ww_verify verify;
    struct ww_verify_place place[2];
    struct ww_verify_mean mean[2];
    double start[2][2];
};

static void prepare(struct fixture *f, bool pair)
{
    struct ww_error error = {0};
    memset(f, 0, sizeof *f);
    assert_ok(ww_study_load(&f->study,
                            pair ? WEAVES "/studies/mezzanine-link.ini" : WEAVES "/studies/antenna-feed.ini", WEAVES,
                            NULL, 0, &error),
              error);
    assert_ok(ww_study_build(&f->study, &error), error);
    f->line = (struct ww_line_summary){.dk_eff = 3.5, .delay = 6.24e-9, .z0 = 47.6, .z_odd = 45};
    f->start[0][0] = 10e-6;
    f->start[0][1] = 20e-6;
    f->start[1][0] = 30e-6;
    f->start[1][1] = 40e-6;
    f->mean[0] = (struct ww_verify_mean){.ply = 2,
                                         .span = 900e-6,
                                         .periodic = true,
                                         .kernel = {6.3e-9, pair ? 6.1e-9 : 0},
                                         .section = {6.31e-9, pair ? 6.12e-9 : 0},
                                         .sections = 16,
                                         .settled = 1e-12,
                                         .iterations = 12,
                                         .residual = 5e-9,
                                         .seconds = 1.5,
                                         .has_volume = true};
    f->mean[0].volume = (struct ww_full){.delay = {6.32e-9, pair ? 6.13e-9 : 0},
                                         .unknowns = 1000000,
                                         .iterations = 13,
                                         .residual = 6e-9,
                                         .seconds = 2.5};
    f->mean[1] = f->mean[0];
    f->mean[1].ply = 0;
    f->mean[1].has_volume = false;
    f->mean[1].settled = INFINITY;
    f->place[0] = (struct ww_verify_place){.name = "slowest", .start = f->start, .mean = f->mean, .means = 2};
    f->place[0].kernel[0] = 6.5e-9;
    f->place[0].kernel[1] = pair ? 6.2e-9 : 0;
    f->place[0].section = (struct ww_full){
        .delay = {6.4e-9, pair ? 6.0e-9 : 0}, .unknowns = 70000, .iterations = 11, .residual = 4e-9, .seconds = 0.25};
    f->place[1] = (struct ww_verify_place){.name = "1/2 between", .start = f->start};
    f->verify = (struct ww_verify){.pair = pair,
                                   .length = 50e-3,
                                   .place = f->place,
                                   .places = 2,
                                   .periodic = true,
                                   .resolutions = 3,
                                   .limit = {2.3e-12, 1.5, true, 0.1e-12},
                                   .worst = 2e-12,
                                   .correction_ratio = 0.99,
                                   .sections = 8,
                                   .worst_kernel = 0.04e-9,
                                   .worst_section = 0.041e-9,
                                   .worst_volume = 0.042e-9,
                                   .error = {0.05e-12, 0.1e-12, 0.02e-12},
                                   .largest = WW_AGAINST_VOLUME};
    for (int i = 0; i < 3; i++)
        f->verify.resolution[i] = (struct ww_verify_resolution){
            .factor = 0.5 * (1 << i), .worst = (2 + 0.1 * i) * 1e-12, .z = 45, .dk_eff = 3.5};
}

static json_t *document(const struct fixture *f)
{
    struct ww_error error = {0};
    json_error_t trouble;
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_ok(ww_result_verify_json(stream, &f->study, &f->line, &f->verify, &error), error);
    rewind(stream);
    json_t *o = json_loadf(stream, JSON_REJECT_DUPLICATES, &trouble);
    fclose(stream);
    if (!o)
        fail_msg("no JSON: %s in line %d", trouble.text, trouble.line);
    return o;
}

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("\"%s\" is not there or no number", key);
    return json_number_value(value);
}

/* Number i of the array of that key. */
static double leg_of(const json_t *object, const char *key, size_t i)
{
    const json_t *value = json_array_get(json_object_get(object, key), i);
    if (!json_is_number(value))
        fail_msg("\"%s\"[%zu] is not there or no number", key, i);
    return json_number_value(value);
}

static void pair_has_its_keys_and_units(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, true);
    json_t *o = document(&f);
    assert_string_equal(json_string_value(json_object_get(o, "command")), "verify");
    assert_true(json_is_null(json_object_get(o, "no_volume")));
    const json_t *worst = json_object_get(o, "worst"), *error = json_object_get(o, "error");
    assert_close(number_of(worst, "worst_ps"), 2, digits, 0);
    assert_close(number_of(worst, "correction_ratio"), 0.99, digits, 0);
    assert_close(number_of(worst, "full_sections"), 8, digits, 0);
    assert_close(number_of(worst, "kernel_ps_per_mm"), 0.04, digits, 0);
    assert_close(number_of(worst, "section_ps_per_mm"), 0.041, digits, 0);
    assert_close(number_of(worst, "volume_ps_per_mm"), 0.042, digits, 0);
    assert_close(number_of(error, "section_ps"), 0.05, digits, 0);
    assert_close(number_of(error, "volume_ps"), 0.1, digits, 0);
    assert_close(number_of(error, "resolution_ps"), 0.02, digits, 0);
    assert_close(number_of(error, "largest_ps"), 0.1, digits, 0);
    assert_close(number_of(error, "largest_share"), 0.05, digits, 0);
    assert_string_equal(json_string_value(json_object_get(error, "largest_against")), "volume");
    assert_contains(json_string_value(json_object_get(error, "not_covered")), "quasi-TEM");

    const json_t *place = json_array_get(json_object_get(o, "places"), 0),
                 *start = json_object_get(place, "at_start");
    assert_string_equal(json_string_value(json_object_get(place, "place")), "slowest");
    const json_t *second = json_array_get(json_object_get(place, "start_um"), 1);
    assert_close(json_number_value(json_array_get(second, 1)), 40, digits, 0);
    assert_close(leg_of(start, "kernel_ps_per_mm", 1), 6.2, digits, 0);
    assert_close(leg_of(start, "section_ps_per_mm", 0), 6.4, digits, 0);
    assert_close(leg_of(start, "difference_ps", 0), -5, 1e-9, 0); /* 0.1 ps/mm over 50 mm */
    assert_close(leg_of(start, "difference_share", 1), 6.0 / 6.2 - 1, 1e-9, 0);
    assert_close(number_of(json_object_get(start, "solution"), "iterations"), 11, 0, 0);
    assert_close(number_of(json_object_get(start, "solution"), "unknowns"), 70000, 0, 0);

    const json_t *means = json_object_get(place, "means"), *mean = json_array_get(means, 0);
    assert_int_equal(json_array_size(means), 2);
    assert_close(number_of(mean, "ply"), 2, 0, 0);
    assert_close(number_of(mean, "span_um"), 900, digits, 0);
    assert_close(number_of(mean, "sections"), 16, 0, 0);
    assert_close(number_of(mean, "settled_ps_per_mm"), 1e-3, digits, 0);
    assert_close(leg_of(mean, "volume_ps_per_mm", 1), 6.13, digits, 0);
    assert_close(leg_of(mean, "section_difference_ps", 0), 0.5, 1e-9, 0);
    assert_close(leg_of(mean, "volume_difference_ps", 1), 1.5, 1e-9, 0);
    assert_close(number_of(json_object_get(mean, "volume_solution"), "residual"), 6e-9, digits, 0);

    const json_t *limit = json_object_get(o, "limit");
    assert_close(number_of(limit, "worst_ps"), 2.3, digits, 0);
    assert_close(number_of(limit, "uncertainty_ps"), 0.1, digits, 0);
    assert_close(number_of(limit, "order"), 1.5, digits, 0);
    assert_true(json_is_true(json_object_get(limit, "order_observed")));
    const json_t *resolution = json_array_get(json_object_get(o, "resolution"), 2);
    assert_close(number_of(resolution, "factor"), 2, 0, 0);
    assert_close(number_of(resolution, "worst_ps"), 2.2, digits, 0);
    assert_close(number_of(resolution, "z_odd_ohm"), 45, digits, 0);
    json_decref(o);
    ww_study_clear(&f.study);
}

static void what_could_not_be_had_is_null(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, true);
    f.verify.error[WW_AGAINST_VOLUME] = -1;
    f.verify.largest = WW_AGAINST_SECTION;
    snprintf(f.verify.no_volume, sizeof f.verify.no_volume, "it is too large");
    json_t *o = document(&f);
    const json_t *mean = json_array_get(json_object_get(json_array_get(json_object_get(o, "places"), 0), "means"), 1);
    assert_true(json_is_null(json_object_get(json_object_get(o, "error"), "volume_ps")));
    assert_true(json_is_null(json_object_get(json_object_get(o, "worst"), "volume_ps_per_mm")));
    assert_true(json_is_null(json_object_get(mean, "volume_ps_per_mm")));
    assert_true(json_is_null(json_object_get(mean, "volume_solution")));
    assert_true(json_is_null(json_object_get(mean, "ply"))); /* all of them */
    assert_true(json_is_null(json_object_get(mean, "settled_ps_per_mm")));
    assert_string_equal(json_string_value(json_object_get(o, "no_volume")), "it is too large");
    json_decref(o);
    f.verify.periodic = false;
    o = document(&f);
    assert_true(json_is_null(json_object_get(json_object_get(o, "worst"), "kernel_ps_per_mm")));
    json_decref(o);
    ww_study_clear(&f.study);
}

static void single_trace_has_one_leg(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, false);
    json_t *o = document(&f);
    const json_t *place = json_array_get(json_object_get(o, "places"), 0);
    assert_int_equal(json_array_size(json_object_get(json_object_get(place, "at_start"), "kernel_ps_per_mm")), 1);
    assert_int_equal(json_array_size(json_object_get(place, "start_um")), 1);
    assert_close(number_of(json_object_get(o, "worst"), "worst_ps"), 2, digits, 0);
    assert_close(number_of(json_array_get(json_object_get(o, "resolution"), 0), "z0_ohm"), 45, digits, 0);
    json_decref(o);
    ww_study_clear(&f.study);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pair_has_its_keys_and_units),
        cmocka_unit_test(what_could_not_be_had_is_null),
        cmocka_unit_test(single_trace_has_one_leg),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
