/* JSON results: the keys scripts rely on, the units in them, null for what is not known, and never a NaN.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "weftwise/result.h"

#include <jansson.h>
#include <stdio.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static const double digits = 1e-11; /* of the 12 that are written */

/* A study that is built, and an answer with numbers that can be told apart. */
struct fixture {
    struct ww_study study;
    struct ww_line_summary line;
    struct ww_skew skew;
    struct ww_extreme high[2], low[2];
};

static void prepare(struct fixture *f, bool pair, const char *const *set, size_t count)
{
    struct ww_error error = {0};
    memset(f, 0, sizeof *f);
    assert_ok(ww_study_load(&f->study,
                            pair ? WEAVES "/studies/mezzanine-link.ini" : WEAVES "/studies/antenna-feed.ini", WEAVES,
                            set, count, &error),
              error);
    assert_ok(ww_study_build(&f->study, &error), error);
    f->line = (struct ww_line_summary){
        .dk_eff = 3.5, .df_eff = 0.004, .delay = 6.24e-9, .z0 = 47.6, .z_odd = 45, .z_even = 50.3, .z_diff = 90};
    f->high[0] = (struct ww_extreme){10e-6, 20e-6, 1.25e-12};
    f->high[1] = (struct ww_extreme){30e-6, 40e-6, 0.5e-12};
    f->low[0] = (struct ww_extreme){50e-6, 60e-6, -1.5e-12};
    f->low[1] = (struct ww_extreme){70e-6, 80e-6, -0.5e-12};
    f->skew = (struct ww_skew){.pair = pair,
                               .plies = pair ? 2 : 1,
                               .high = f->high,
                               .low = f->low,
                               .worst = 2e-12,
                               .worst_upper = 2.1e-12,
                               .worst_lower = 1.9e-12,
                               .median = 0.8e-12,
                               .p95 = 1.7e-12,
                               .p99 = 1.8e-12,
                               .over_budget = 0.125,
                               .worst_with_turn = 2.2e-12,
                               .worst_angle = WW_PI / 180,
                               .tolerant_median = 0.3e-12,
                               .tolerant_p99 = 1.5e-12,
                               .tolerant_over_budget = 0.0625,
                               .yield = 0.75,
                               .expected_worst = 1.25e-12,
                               .mismatch = -0.5e-12,
                               .worst_degrees = 19,
                               .unit_interval_share = 0.11,
                               .fastest = 303e-12,
                               .slowest = 305.25e-12,
                               .spread = 2.25e-12,
                               .spread_degrees = 19.5,
                               .mean_delay = 304e-12};
    if (pair)
        f->skew.conversion = (struct ww_conversion){.frequency = 28e9,
                                                    .beat_length = 50e-3,
                                                    .worst = 0.1,
                                                    .median = 0.01,
                                                    .p99 = 0.05,
                                                    .worst_with_turn = 0.2,
                                                    .worst_angle = WW_PI / 360,
                                                    .weak = 0.5};
}

static json_t *parse(FILE *stream)
{
    json_error_t error;
    rewind(stream);
    json_t *document = json_loadf(stream, JSON_REJECT_DUPLICATES, &error);
    fclose(stream);
    if (!document)
        fail_msg("no JSON: %s in line %d", error.text, error.line);
    return document;
}

static json_t *skew_document(const struct fixture *f)
{
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_ok(ww_result_skew_json(stream, &f->study, &f->line, &f->skew, NULL, NULL, NULL, NULL, &error), error);
    return parse(stream);
}

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("\"%s\" is not there or no number", key);
    return json_number_value(value);
}

static void pair_has_its_keys_and_units(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, true, NULL, 0);
    json_t *o = skew_document(&f);
    assert_string_equal(json_string_value(json_object_get(o, "command")), "skew");
    assert_string_equal(json_string_value(json_object_get(o, "study")), f.study.title);
    assert_string_equal(json_string_value(json_object_get(o, "version")), ww_version());
    assert_contains(json_string_value(json_object_get(o, "caution")), "do not qualify");

    const json_t *fabric = json_object_get(o, "fabric"), *ply = json_array_get(fabric, 1);
    assert_int_equal(json_array_size(fabric), 2);
    assert_close(number_of(ply, "ply"), 2, 0, 0);
    assert_string_equal(json_string_value(json_object_get(ply, "style")), "1080");
    assert_close(number_of(ply, "glass_fraction"), f.study.stack.ply[1].glass_fraction, digits, 0);
    assert_close(number_of(ply, "resin_content"), f.study.stack.ply[1].resin_content, digits, 0);
    assert_close(number_of(ply, "dk_low"), f.study.stack.ply[1].dk_low, digits, 0);
    assert_close(number_of(ply, "dk_high"), f.study.stack.ply[1].dk_high, digits, 0);
    assert_close(number_of(ply, "dk_series"), f.study.stack.ply[1].dk_series, digits, 0);
    assert_close(number_of(ply, "dk_parallel"), f.study.stack.ply[1].dk_parallel, digits, 0);

    const json_t *line = json_object_get(o, "line");
    assert_close(number_of(line, "dk_eff"), 3.5, digits, 0);
    assert_close(number_of(line, "z0_ohm"), 47.6, digits, 0);
    assert_close(number_of(line, "z_odd_ohm"), 45, digits, 0);
    assert_close(number_of(line, "delay_ps_per_mm"), 6.24, digits, 0);

    const json_t *skew = json_object_get(o, "skew"), *at = json_object_get(skew, "worst_at_um");
    assert_close(number_of(skew, "worst_ps"), 2, digits, 0);
    assert_close(number_of(skew, "worst_ps_upper"), 2.1, digits, 0);
    assert_close(number_of(skew, "worst_ps_lower"), 1.9, digits, 0);
    assert_close(number_of(skew, "median_ps"), 0.8, digits, 0);
    assert_close(number_of(skew, "p95_ps"), 1.7, digits, 0);
    assert_close(number_of(skew, "p99_ps"), 1.8, digits, 0);
    assert_close(number_of(skew, "over_budget"), 0.125, digits, 0);
    assert_close(number_of(skew, "worst_ps_with_turn"), 2.2, digits, 0);
    assert_close(number_of(skew, "worst_deg_at_frequency"), 19, digits, 0);
    assert_close(number_of(skew, "unit_interval_share"), 0.11, digits, 0);
    assert_close(number_of(skew, "bend_mismatch_ps"), -0.5, digits, 0);
    const json_t *tolerant = json_object_get(skew, "with_tolerances"), *lanes = json_object_get(skew, "lanes");
    assert_close(number_of(tolerant, "median_ps"), 0.3, digits, 0);
    assert_close(number_of(tolerant, "p99_ps"), 1.5, digits, 0);
    assert_close(number_of(tolerant, "over_budget"), 0.0625, digits, 0);
    assert_close(number_of(lanes, "count"), 16, 0, 0);
    assert_close(number_of(lanes, "yield"), 0.75, digits, 0);
    assert_close(number_of(lanes, "expected_worst_ps"), 1.25, digits, 0);
    /* 2 ps on 56 Gbaud at 28 GHz: 0.112 of a unit interval, null at 250 GHz, sin(pi 28e9 2e-12) */
    const json_t *terms = json_object_get(json_object_get(skew, "in_signal_terms"), "worst");
    assert_close(number_of(terms, "skew_ps"), 2, digits, 0);
    assert_close(number_of(terms, "deg_at_frequency"), 20.16, digits, 0);
    assert_close(number_of(terms, "unit_interval_share"), 0.112, digits, 0);
    assert_close(number_of(terms, "first_null_ghz"), 250, digits, 0);
    assert_close(number_of(terms, "weak_coupling_conversion_at_nyquist"), 0.175023058975, digits, 0);
    const json_t *conversion = json_object_get(skew, "conversion"), *ends = json_object_get(skew, "termination");
    assert_close(number_of(conversion, "frequency_ghz"), 28, digits, 0);
    assert_close(number_of(conversion, "worst_db"), -20, digits, 0);
    assert_close(number_of(conversion, "median_db"), -40, digits, 0);
    assert_close(number_of(conversion, "p99_db"), -26.0205999132796, digits, 0);
    assert_close(number_of(conversion, "worst_db_with_turn"), -13.9794000867204, digits, 0);
    assert_close(number_of(conversion, "worst_angle_deg"), 0.5, digits, 0);
    assert_close(number_of(conversion, "weak_coupling_db"), -6.02059991327962, digits, 0);
    assert_close(number_of(conversion, "beat_length_mm"), 50, digits, 0);
    assert_close(number_of(ends, "times_with_modes_matched_most"), 50.3 / 45, digits, 0);
    assert_close(number_of(ends, "times_with_legs_matched_most"), 2 * 50.3 / 95.3, digits, 0);
    const json_t *signal = json_object_get(o, "signal");
    assert_close(number_of(signal, "rate_gbit_per_s"), 112, digits, 0);
    assert_close(number_of(signal, "symbol_rate_gbaud"), 56, digits, 0);
    assert_close(number_of(signal, "levels"), 4, 0, 0);
    assert_close(number_of(signal, "lanes"), 16, 0, 0);
    /* lows sum to -2 ps, highs to 1.75: the worst is where the lows are */
    assert_close(json_number_value(json_array_get(at, 0)), 50, digits, 0);
    assert_close(json_number_value(json_array_get(at, 1)), 60, digits, 0);

    const json_t *delay = json_object_get(o, "delay");
    assert_close(number_of(delay, "fastest_ps"), 303, digits, 0);
    assert_close(number_of(delay, "slowest_ps"), 305.25, digits, 0);
    assert_close(number_of(delay, "spread_ps"), 2.25, digits, 0);
    assert_close(number_of(delay, "spread_deg_at_frequency"), 19.5, digits, 0);
    json_decref(o);
    ww_study_clear(&f.study);
}

/* A pair's two worst are equal but for rounding, which must not choose between them. */
static void rounding_does_not_choose_the_worst(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, true, NULL, 0);
    f.low[0].value = -(f.high[0].value * (1 + 1e-13));
    f.low[1].value = -f.high[1].value;
    json_t *o = skew_document(&f);
    const json_t *at = json_object_get(json_object_get(o, "skew"), "worst_at_um");
    assert_close(json_number_value(json_array_get(at, 0)), 10, digits, 0);
    assert_close(json_number_value(json_array_get(at, 1)), 20, digits, 0);
    json_decref(o);
    ww_study_clear(&f.study);
}

static void single_trace_has_delay_only(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, false, NULL, 0);
    json_t *o = skew_document(&f);
    assert_null(json_object_get(o, "skew"));
    assert_null(json_object_get(json_object_get(o, "line"), "z_odd_ohm"));
    const json_t *delay = json_object_get(o, "delay");
    assert_close(number_of(delay, "spread_ps"), 2.25, digits, 0);
    assert_close(number_of(delay, "worst_ps"), 2, digits, 0);
    assert_close(number_of(delay, "worst_ps_with_turn"), 2.2, digits, 0);
    assert_string_equal(json_string_value(json_object_get(delay, "places")), "independent");
    assert_true(json_is_null(json_object_get(o, "spacing")));
    assert_true(json_is_null(json_object_get(delay, "unit_interval_share"))); /* the study has no rate */
    json_decref(o);
    ww_study_clear(&f.study);
}

/* Where traces and lanes lie, and how far apart to keep them. */
static void distances_are_told(void **state)
{
    struct fixture f;
    (void)state;
    double at[] = {1e-3, 2e-3}, worst[] = {1e-12, 0.25e-12}, turned[] = {1.5e-12, 0.5e-12}, yield[] = {0.5, 0.75};
    struct ww_spacing spacing = {.count = 2,
                                 .spacing = at,
                                 .worst = worst,
                                 .with_turn = turned,
                                 .apart = 2e-12,
                                 .apart_with_turn = 2.5e-12,
                                 .nulls = 1,
                                 .null = {{2e-3, 0.25e-12, 0.5e-12, 4}},
                                 .lanes = 8,
                                 .pitches = 2,
                                 .pitch = at,
                                 .yield = yield,
                                 .expected = turned,
                                 .best_pitch = 2e-3,
                                 .best_yield = 0.75,
                                 .best_expected = 0.5e-12};
    static const char *const set[] = {"signal.spacing = 1.9 mm", "signal.lanes = 8", "signal.lane_pitch = 0.8 mm"};
    struct ww_error error = {0};
    for (int pair = 0; pair < 2; pair++) {
        prepare(&f, pair, set, 3);
        f.skew.apart = (struct ww_apart){.worst = 3e-12, .median = 1e-12, .p95 = 2e-12, .p99 = 2.5e-12};
        f.skew.apart_with_turn = 3.5e-12;
        FILE *stream = tmpfile();
        assert_non_null(stream);
        assert_ok(ww_result_skew_json(stream, &f.study, &f.line, &f.skew, &spacing, "far apart", NULL, NULL, &error),
                  error);
        json_t *o = parse(stream);
        const json_t *signal = json_object_get(o, "signal"), *told = json_object_get(o, "spacing");
        assert_close(number_of(signal, "spacing_mm"), 1.9, digits, 0);
        assert_close(number_of(signal, "lane_pitch_mm"), 0.8, digits, 0);
        const json_t *value = json_object_get(o, pair ? "skew" : "delay");
        assert_string_equal(json_string_value(json_object_get(json_object_get(value, "lanes"), "places")),
                            "one cloth");
        if (pair) {
            const json_t *apart = json_object_get(value, "pair_to_pair");
            assert_close(number_of(apart, "worst_ps"), 3, digits, 0);
            assert_close(number_of(apart, "worst_ps_with_turn"), 3.5, digits, 0);
            assert_close(number_of(apart, "p99_ps"), 2.5, digits, 0);
        } else
            assert_string_equal(json_string_value(json_object_get(value, "places")), "one cloth");
        assert_string_equal(json_string_value(json_object_get(told, "sentence")), "far apart");
        const json_t *feeds = json_object_get(told, "feeds"), *lanes = json_object_get(told, "lanes");
        assert_close(number_of(feeds, "independent_ps_with_turn"), 2.5, digits, 0);
        const json_t *least = json_array_get(json_object_get(feeds, "least"), 0);
        assert_close(number_of(least, "spacing_mm"), 2, digits, 0);
        assert_close(number_of(least, "yarn_pitches"), 4, digits, 0);
        assert_close(number_of(json_array_get(json_object_get(feeds, "curve"), 1), "worst_ps_with_turn"), 0.5, digits,
                     0);
        assert_close(number_of(json_object_get(lanes, "best"), "yield"), 0.75, digits, 0);
        assert_close(number_of(json_array_get(json_object_get(lanes, "curve"), 0), "yield"), 0.5, digits, 0);
        json_decref(o);
        ww_study_clear(&f.study);
    }
}

static void what_is_not_known_is_null(void **state)
{
    static const char *const set[] = {"resin low-loss.density=1 g/cm3"};
    struct fixture f;
    (void)state;
    prepare(&f, true, set, 1);
    f.study.frequency = f.study.rate = f.study.budget = 0;
    f.skew.conversion = (struct ww_conversion){0};
    f.study.stack.ply[0].resin_content = -1; /* a resin without density */
    json_t *o = skew_document(&f);
    const json_t *skew = json_object_get(o, "skew");
    assert_true(json_is_null(json_object_get(skew, "worst_deg_at_frequency")));
    assert_true(json_is_null(json_object_get(skew, "unit_interval_share")));
    assert_true(json_is_null(json_object_get(skew, "over_budget")));
    assert_true(json_is_null(json_object_get(skew, "conversion")));
    assert_true(json_is_null(json_object_get(json_object_get(o, "signal"), "conversion_budget_db")));
    assert_true(json_is_null(json_object_get(json_object_get(o, "signal"), "budget_ps")));
    assert_true(json_is_null(json_object_get(json_array_get(json_object_get(o, "fabric"), 0), "resin_content")));
    json_decref(o);
    ww_study_clear(&f.study);
}

static void nan_and_infinity_become_null(void **state)
{
    struct fixture f;
    (void)state;
    prepare(&f, true, NULL, 0);
    f.skew.worst = NAN;
    f.skew.median = INFINITY;
    f.high[0].x = NAN;
    json_t *o = skew_document(&f);
    const json_t *skew = json_object_get(o, "skew");
    assert_true(json_is_null(json_object_get(skew, "worst_ps")));
    assert_true(json_is_null(json_object_get(skew, "median_ps")));
    json_decref(o);
    ww_study_clear(&f.study);
}

static void map_has_its_fabric(void **state)
{
    struct fixture f;
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    (void)state;
    prepare(&f, true, NULL, 0);
    assert_non_null(stream);
    assert_ok(ww_result_map_json(stream, &f.study, NULL, &error), error);
    json_t *o = parse(stream);
    assert_string_equal(json_string_value(json_object_get(o, "command")), "map");
    assert_int_equal(json_array_size(json_object_get(o, "fabric")), 2);
    json_decref(o);
    ww_study_clear(&f.study);
}

static void styles_carry_their_sources(void **state)
{
    struct ww_weaves weaves = {0};
    static struct ww_style style;
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    (void)state;
    assert_non_null(stream);
    assert_ok(ww_weaves_open(&weaves, WEAVES, NULL, &error), error);
    assert_ok(ww_weaves_style(&weaves, "1080", &style, &error), error);
    assert_ok(ww_result_styles_json(stream, &style, 1, &error), error);
    json_t *o = parse(stream);
    const json_t *one = json_array_get(json_object_get(o, "styles"), 0);
    const json_t *count = json_object_get(one, "warp_count_per_inch");
    const json_t *width = json_object_get(json_object_get(one, "warp"), "width_um");
    assert_string_equal(json_string_value(json_object_get(one, "style")), "1080");
    assert_close(number_of(count, "value"), 60, digits, 0);
    assert_true(strlen(json_string_value(json_object_get(count, "source"))) > 0);
    assert_close(number_of(width, "value"), style.warp.width.value * 1e6, digits, 0);
    assert_string_equal(json_string_value(json_object_get(width, "origin")), ww_origin_name(style.warp.width.origin));
    json_decref(o);
    ww_weaves_close(&weaves);
}

static void a_full_disk_is_told(void **state)
{
    struct fixture f;
    struct ww_error error = {0};
    FILE *stream = fopen("/dev/full", "w");
    (void)state;
    if (!stream)
        skip();
    prepare(&f, true, NULL, 0);
    assert_int_equal(ww_result_skew_json(stream, &f.study, &f.line, &f.skew, NULL, NULL, NULL, NULL, &error), WW_IO);
    assert_contains(error.text, "could not write");
    fclose(stream);
    ww_study_clear(&f.study);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pair_has_its_keys_and_units), cmocka_unit_test(single_trace_has_delay_only),
        cmocka_unit_test(distances_are_told),          cmocka_unit_test(rounding_does_not_choose_the_worst),
        cmocka_unit_test(what_is_not_known_is_null),   cmocka_unit_test(nan_and_infinity_become_null),
        cmocka_unit_test(map_has_its_fabric),          cmocka_unit_test(styles_carry_their_sources),
        cmocka_unit_test(a_full_disk_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
