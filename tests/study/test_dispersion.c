/* The same study static and at its frequency: one factor on the mean, one on all that differs from it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "weftwise/study.h"

#include <stdio.h>
#include <stdlib.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static const char feed[] = "[study]\nfineness = 0.5\nsections = 7\n[stackup]\nresin = r\nlayer = air\nlayer = trace\n"
                           "layer = ply 1078 100 um\nlayer = plane\n[trace]\nwidth = 200 um\nthickness = 18 um\n"
                           "length = 24 mm\nangle = 3 deg\n[fabric]\nturn = 2 deg\n[resin r]\ndk = 2.9\ndf = 0.002\n";

static void load(struct ww_study *study, const char *const *set, size_t count)
{
    struct ww_error error = {0};
    FILE *stream = fmemopen((void *)(uintptr_t)feed, strlen(feed), "r");
    assert_non_null(stream);
    assert_ok(ww_study_read(study, stream, "feed.ini", WEAVES, set, count, &error), error);
    fclose(stream);
    assert_ok(ww_study_build(study, &error), error);
}

static void solve(struct ww_solution *solution, struct ww_study *study, const char *const *set, size_t count)
{
    struct ww_error error = {0};
    load(study, set, count);
    assert_ok(ww_study_solve(solution, study, &error), error);
}

static const char *const at_77[] = {"signal.frequency=77 GHz", "trace.pitch=400 um"};
static const char *const off[] = {"signal.frequency=77 GHz", "trace.pitch=400 um", "signal.dispersion=no"};

static void check_factors(bool pair)
{
    struct ww_study study[2];
    struct ww_solution solution[2];
    const char *const static_single[] = {off[0], off[2]};
    solve(&solution[0], &study[0], pair ? off : static_single, pair ? 3 : 2);
    solve(&solution[1], &study[1], at_77, pair ? 2 : 1);
    const struct ww_skew *still = &solution[0].skew, *at = &solution[1].skew;
    const struct ww_dispersion *d = &solution[1].summary.dispersion;
    assert_true(d->applied && d->change > 1.02 && !solution[0].summary.dispersion.applied);
    assert_close(at->mean_delay, still->mean_delay * d->mean, 1e-13, 0);
    assert_close(solution[1].summary.delay, solution[0].summary.delay * d->mean, 1e-13, 0);
    assert_close(at->worst, still->worst * d->change, 1e-10, 0);
    assert_close(at->worst_upper, still->worst_upper * d->change, 1e-10, 0);
    assert_close(at->worst_lower, still->worst_lower * d->change, 1e-10, 0);
    assert_close(at->spread, still->spread * d->change, 1e-10, 0);
    assert_close(at->worst_with_turn, still->worst_with_turn * d->change, 1e-10, 0);
    assert_close(at->median, still->median * d->change, 1e-6, 0);
    assert_close(at->correction_ratio, still->correction_ratio, 1e-10, 0);
    for (int i = 0; i < 2; i++) {
        ww_solution_clear(&solution[i]);
        ww_study_clear(&study[i]);
    }
}

static void a_trace_has_a_factor_on_delay_and_one_on_spread(void **state)
{
    (void)state;
    check_factors(false);
}

static void a_pair_has_a_factor_on_delay_and_one_on_skew(void **state)
{
    (void)state;
    check_factors(true);
}

/* eps is c0^2 S^2: what dispersion makes of the one it must make of the other, but for second order in the cloth. */
static void both_averages_disperse_alike(void **state)
{
    (void)state;
    struct ww_study study;
    struct ww_solution solution;
    struct ww_error error = {0};
    double spread[2][2], mean[2][2];
    solve(&solution, &study, at_77, 1);
    for (int i = 0; i < 2; i++)
        for (int s = 0; s < 2; s++) {
            struct ww_scan *scan;
            struct ww_scan_options options = {.averaging = i ? WW_QUASI_STATIC : WW_FLIGHT, .without_dispersion = s};
            struct ww_extreme high, low;
            assert_ok(ww_corrected_scan_create(&scan, solution.line, solution.skew.correction, study.angle, &options,
                                               &error),
                      error);
            assert_ok(ww_scan_extremes(scan, 0, WW_LEG1, WW_MEAN, study.length, &high, &low, &error), error);
            spread[i][s] = high.value - low.value;
            mean[i][s] = ww_scan_mean_delay(scan, WW_LEG1, study.length);
            ww_scan_destroy(scan);
        }
    const struct ww_dispersion *d = &solution.summary.dispersion;
    for (int i = 0; i < 2; i++) {
        assert_close(mean[i][0] / mean[i][1], d->mean, 1e-12, 0);
        assert_close(spread[i][0] / spread[i][1], d->change, i ? 1e-4 : 1e-10, 0);
    }
    ww_solution_clear(&solution);
    ww_study_clear(&study);
}

static void the_frequency_is_that_given_or_half_the_symbol_rate(void **state)
{
    static const struct {
        const char *set[3];
        size_t count;
        double frequency, of_line;
    } row[] = {{{NULL}, 0, 0, 0},
               {{"signal.rate=112 Gb/s"}, 1, 56e9, 56e9},
               {{"signal.rate=112 Gb/s", "signal.levels=4"}, 2, 28e9, 28e9},
               {{"signal.rate=112 Gb/s", "signal.frequency=10 GHz"}, 2, 10e9, 10e9},
               {{"signal.rate=112 Gb/s", "signal.dispersion=no"}, 2, 56e9, 0}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct ww_study study;
        load(&study, row[i].set, row[i].count);
        assert_close(ww_study_frequency(&study), row[i].frequency, 1e-14, 0);
        assert_close(ww_study_line_options(&study).frequency, row[i].of_line, 1e-14, 0);
        ww_study_clear(&study);
    }
}

static void the_switch_is_yes_or_no(void **state)
{
    struct ww_study study = {0};
    struct ww_error error = {0};
    static const char *const wrong[] = {"signal.dispersion=1"};
    (void)state;
    FILE *stream = fmemopen((void *)(uintptr_t)feed, strlen(feed), "r");
    assert_int_equal(ww_study_read(&study, stream, "feed.ini", WEAVES, wrong, 1, &error), WW_MALFORMED);
    assert_contains(error.text, "yes");
    fclose(stream);
    load(&study, off, 3);
    assert_ok(ww_study_settle(&study, WEAVES, &error), error); /* written and read again */
    assert_false(study.dispersion);
    ww_study_clear(&study);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_trace_has_a_factor_on_delay_and_one_on_spread),
        cmocka_unit_test(a_pair_has_a_factor_on_delay_and_one_on_skew),
        cmocka_unit_test(both_averages_disperse_alike),
        cmocka_unit_test(the_frequency_is_that_given_or_half_the_symbol_rate),
        cmocka_unit_test(the_switch_is_yes_or_no),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
