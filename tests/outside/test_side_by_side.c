/* test_side_by_side.c - traces on the same cloth, a feed of an array and the lanes of a link.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Source: independent full solution, this project (issue 12): cross-sections solved in full along each trace, at many
 * placements, static fields. Two feeds at 0 deg differ by at most 0.20 ps 1900 um apart, 0.72 at 1950, 1.12 at 2000, 0 at a
 * multiple of the pitch, 1.49 with places independent, where 99 of 100 stay within 1.47. Sixteen lanes of a link, 0.5
 * to 1.0 mm apart on one cloth: yield 79 %, expected worst 2.5 ps; with places independent 72 % and 3.4; at a multiple of the
 * warp pitch 86 % and 1.6. The cloths are those of that solution, with the widths they had there (a spread cloth of 54 by
 * 54, yarns 0.85 and 0.95 of the pitch wide, shape 3; plain cloths closed at packing 0.70, fill 1.3 times as wide as the
 * warp where yarns are equal), so the styles shipped may change. That solution had a grid of its own, and a finer one has
 * moved the feeds' worst since by 1.3 % (the resolution of issue 12): feeds are compared by their share of the worst with
 * places independent, that itself within 2 %. Tolerances: half of the last digit printed, and besides 0.6 %, by which the
 * worst agrees along the yarns, or half a point, to which yields are promised.
 */
#include "check.h"
#include "weftwise/study.h"

#define YARN(side, count, code, width)                                                                               \
    side "_count = " count " /in\n" side "_yarn = " code " 1/0\n" side "_width = " width " um\n"

/* A bare microstrip at 77 GHz, 24 mm long. */
static const char feed[] =
    "[stackup]\nresin = low-loss\nlayer = air\nlayer = trace\nlayer = ply wide 100 um\nlayer = plane\n"
    "[trace]\nwidth = 220 um\nthickness = 18 um\nlength = 24 mm\nangle = 0 deg\n"
    "[fabric]\nturn = 2 deg\n"
    "[signal]\nfrequency = 77 GHz\nbudget = 0.36 ps\ndispersion = no\n"
    "[resin low-loss]\ndk = 2.9\ndf = 0.002\ndensity = 1.4 g/cm3\n"
    "[style wide]\nkind = spread\nglass = E\nshape = 3\nthickness = 43 um\n" /**/
    YARN("warp", "54", "D450", "400") YARN("fill", "54", "D450", "445");

/* Stripline between connectors, sixteen pairs of 65 mm. */
static const char link[] =
    "[stackup]\nresin = low-loss\nlayer = plane\nlayer = ply thick 110 um\nlayer = trace\n"
    "layer = ply thin 100 um\nlayer = plane\n"
    "[trace]\nwidth = 105 um\nthickness = 17 um\npitch = 255 um\nlength = 65 mm\nangle = 0 deg\n"
    "[fabric]\nturn = 1.5 deg\n"
    "[signal]\nlanes = 16\nfrequency = 28 GHz\nbudget = 3 ps\n"
    "[resin low-loss]\ndk = 3.1\ndf = 0.0035\ndensity = 1.45 g/cm3\n"
    "[style thick]\nkind = plain\nglass = E\nshape = 2\nthickness = 79 um\n"      /**/
    YARN("warp", "60", "E225", "303.7664") YARN("fill", "56", "D450", "279.2339") /**/
    "[style thin]\nkind = open\nglass = E\nshape = 2\nthickness = 53 um\n"        /**/
    YARN("warp", "60", "D450", "259.4289") YARN("fill", "47", "D450", "337.2575");

static struct ww_skew solve(const char *text, const char *assignment)
{
    struct ww_study study;
    struct ww_solution solution;
    struct ww_error error = {0};
    FILE *stream = fmemopen((void *)text, strlen(text), "r");
    assert_non_null(stream);
    assert_ok(ww_study_read(&study, stream, "side by side", WW_SOURCE_ROOT "/weaves", &assignment, assignment ? 1 : 0,
                            &error),
              error);
    fclose(stream);
    assert_ok(ww_study_build(&study, &error), error);
    assert_ok(ww_study_solve(&solution, &study, &error), error);
    struct ww_skew skew = solution.skew;
    solution.skew = (struct ww_skew){0};
    ww_solution_clear(&solution);
    ww_study_clear(&study);
    return skew;
}

static void two_feeds_of_an_array(void **state)
{
    (void)state;
    const struct {
        const char *spacing;
        double worst; /* [ps] */
    } row[] = {
        {"signal.spacing = 1900 um", 0.20}, {"signal.spacing = 1950 um", 0.72}, {"signal.spacing = 2000 um", 1.12}};
    const double apart = 1.49, digit = 0.005; /* [ps] with places independent; of every number */
    struct ww_skew anywhere = solve(feed, NULL);
    print_message("independent: %.4f ps, 99 of 100 %.4f ps\n", anywhere.worst * 1e12, anywhere.p99 * 1e12);
    assert_close(anywhere.worst * 1e12, apart, 0.02, 0);
    assert_close(anywhere.p99 / anywhere.worst, 1.47 / apart, 0, 2 * digit / apart);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct ww_skew skew = solve(feed, row[i].spacing);
        double share = row[i].worst / apart;
        print_message("%s: %.4f ps\n", row[i].spacing, skew.worst * 1e12);
        assert_close(skew.worst / anywhere.worst, share, 0, digit * (1 + share) / apart + 0.006 * share);
        ww_skew_clear(&skew);
    }
    struct ww_skew skew = solve(feed, "signal.spacing = 1881.4814815 um"); /* 4 warps, 54 an inch */
    assert_close(skew.worst * 1e12, 0, 0, digit);
    ww_skew_clear(&skew);
    ww_skew_clear(&anywhere);
}

static void sixteen_lanes_of_a_link(void **state)
{
    (void)state;
    const struct {
        const char *pitch;
        double yield, expected; /* [ps] */
    } row[] = {{NULL, 0.72, 3.4},
               {"signal.lane_pitch = 0.5 mm", 0.79, 2.5},
               {"signal.lane_pitch = 0.75 mm", 0.79, 2.5},
               {"signal.lane_pitch = 1.0 mm", 0.79, 2.5},
               {"signal.lane_pitch = 846.6667 um", 0.86, 1.6}}; /* 2 warps, 60 an inch */
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct ww_skew skew = solve(link, row[i].pitch);
        print_message("%s: yield %.4f, expected worst %.3f ps\n", row[i].pitch ? row[i].pitch : "independent",
                      skew.yield, skew.expected_worst * 1e12);
        assert_close(skew.yield, row[i].yield, 0, 0.005 + 0.005);
        assert_close(skew.expected_worst * 1e12, row[i].expected, 0.006, 0.05);
        ww_skew_clear(&skew);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_feeds_of_an_array),
        cmocka_unit_test(sixteen_lanes_of_a_link),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
