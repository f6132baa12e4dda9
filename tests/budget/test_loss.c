/* Loss by the weave: over all places, against the line over frequency and against full sections.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budgeted.h"
#include "budget/moved.h"
#include "scan/slowness.h"
#include "weftwise/frequency.h"

/* One ply, whose materials' figures hold at the signal's frequency; its glass has less loss than its resin. Then the trace. */
#define WOVEN                                                                                                        \
    "[study]\npositions = 32\nfineness = 0.5\nsections = 0\n[stackup]\nresin = low\nlayer = air\nlayer = trace\n"    \
    "layer = ply 2116 120 um\nlayer = plane\n[resin low]\ndk = 3.1\ndf = 0.01\nfrequency = 28 GHz\n"                 \
    "[glass E]\ndk = 4.7\ndf = 0.003\nfrequency = 28 GHz\ndensity = 2.58 g/cm3\n[signal]\n"                          \
    "frequency = 28 GHz\ndispersion = no\n[fabric]\nturn = 0 deg\n[trace]\nthickness = 15 um\n"

static const double decibels = 8.685889638065035; /* of a neper */
static const double share = 2;                    /* of a loss tangent that Dk is moved by, either way */

/* A budget, its line with all Dk lowered and raised along their loss tangents, and where its loss is least and greatest. */
struct woven {
    struct budgeted b;
    struct ww_shifted_line shifted[2];
    double place[2][1][2];
};

static double kernel_delay(const struct ww_scan *scan, double length, double x, double y)
{
    struct ww_error error = {0};
    double value, sum = 0;
    for (int leg = 0; leg < 2; leg++) {
        assert_ok(
            ww_scan_value(scan, 0, leg && scan->pair ? WW_LEG2 : WW_LEG1, WW_MEAN, length, x, y, &value, &error),
            error);
        sum += 0.5 * value;
    }
    return sum;
}

static void find_places(struct woven *w)
{
    enum { SAMPLES = 48 };
    const struct ww_cell *cell = &w->b.study.stack.ply[0].cell;
    struct ww_skew_request request = ww_study_request(&w->b.study);
    struct ww_scan *scan[2];
    struct ww_error error = {0};
    double found[2] = {HUGE_VAL, -HUGE_VAL};
    for (int i = 0; i < 2; i++)
        assert_ok(ww_scan_create(&scan[i], w->shifted[i].line, request.angle, &request.scan, &error), error);
    for (int i = 0; i < SAMPLES * SAMPLES; i++) {
        double x = i % SAMPLES * cell->lx / SAMPLES, y = i / SAMPLES * cell->ly / SAMPLES; /* NOLINT: whole rows */
        double loss = kernel_delay(scan[1], request.length, x, y) - kernel_delay(scan[0], request.length, x, y);
        for (int end = 0; end < 2; end++)
            if (end ? loss > found[1] : loss < found[0]) {
                found[end] = loss;
                w->place[end][0][0] = x;
                w->place[end][0][1] = y;
            }
    }
    for (int i = 0; i < 2; i++)
        ww_scan_destroy(scan[i]);
}

static void open_woven(struct woven *w, const char *trace)
{
    struct ww_error error = {0};
    char text[1024];
    snprintf(text, sizeof text, "%s%s", WOVEN, trace);
    open_budget(&w->b, text, 0);
    for (int i = 0; i < 2; i++)
        assert_ok(ww_shifted_line_create(&w->shifted[i], &w->b.study, i ? share : -share, &error), error);
    find_places(w);
}

static void close_woven(struct woven *w)
{
    for (int i = 0; i < 2; i++)
        ww_shifted_line_clear(&w->shifted[i]);
    close_budget(&w->b);
}

/* Greatest less least of one circuit [dB/m]. */
static double range_of_weave(const struct woven *w)
{
    const struct ww_cause *weave = &w->b.budget.cause[WW_CAUSE_WEAVE];
    return weave->at[2][WW_OBSERVED_LOSS] - weave->at[0][WW_OBSERVED_LOSS];
}

static double range_over_frequency(const struct woven *w)
{
    struct ww_wideband_request request = {
        .line = w->b.solution.line, .skew = ww_study_request(&w->b.study), .copper = w->b.study.copper};
    struct ww_wideband *wideband = NULL;
    struct ww_error error = {0};
    double nepers[2];
    assert_ok(ww_wideband_create(&wideband, &request, &error), error);
    for (int end = 0; end < 2; end++)
        assert_ok(ww_wideband_dielectric(wideband, (const double(*)[2])w->place[end], 28e9, &nepers[end], &error),
                  error);
    ww_wideband_destroy(wideband);
    return decibels * (nepers[1] - nepers[0]);
}

/* Which has the weights of each material from a coarse grid of its own: within 4 %. */
static void the_weave_spreads_loss_as_over_frequency(void **state)
{
    static const char *const trace[] = {"width = 150 um\nlength = 3 mm\nangle = 15 deg\n",
                                        "width = 120 um\npitch = 300 um\nlength = 10 mm\nangle = 90 deg\n"};
    (void)state;
    for (size_t i = 0; i < sizeof trace / sizeof *trace; i++) {
        struct woven w;
        open_woven(&w, trace[i]);
        double range = range_of_weave(&w);
        assert_true(range > 1e-3 * w.b.budget.nominal[WW_OBSERVED_LOSS]);
        assert_close(range, range_over_frequency(&w), 0.04, 0);
        close_woven(&w);
    }
}

/* Loss of a cross-section [dB/m], of the field solved in full. */
static double loss_in_full(const struct woven *w, int end)
{
    struct ww_full full[2];
    struct ww_error error = {0};
    for (int i = 0; i < 2; i++)
        assert_ok(ww_section_solve(w->shifted[i].line, 0, (const double(*)[2])w->place[end], NULL, &full[i], &error),
                  error);
    return decibels * 2 * WW_PI * 28e9 * (full[1].delay[0] - full[0].delay[0]) / (2 * share);
}

/* A trace so short that it has one cross-section. The kernel alone, of sections = 0, is within 5 %. */
static void a_short_trace_has_the_loss_of_its_section(void **state)
{
    struct woven w;
    (void)state;
    open_woven(&w, "width = 150 um\nlength = 10 um\nangle = 0 deg\n");
    assert_close(range_of_weave(&w), loss_in_full(&w, 1) - loss_in_full(&w, 0), 0.05, 0);
    close_woven(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_weave_spreads_loss_as_over_frequency),
        cmocka_unit_test(a_short_trace_has_the_loss_of_its_section),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
