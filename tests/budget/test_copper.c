/* Loss of the copper by every cause that moves its shape, against the frequency command's line of that shape.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budgeted.h"
#include "frequency/wideband.h"

/* A line in one material whose figures hold at the signal's frequency; layer above, trace, tolerance. */
#define IN_RESIN                                                                                                     \
    "[study]\nsections = 0\nfineness = 0.5\n[stackup]\ncopper = rough\nlayer = %s\nlayer = trace\n"                  \
    "layer = resin 90 um dk=3.4 df=0.003 frequency=28GHz\nlayer = plane\n"                                           \
    "[foil rough]\nmodel = huray\nrz = 2 um\nconductivity = 58 MS/m\n[trace]\n%s\nlength = 25.4 mm\n"                \
    "[signal]\nfrequency = 28 GHz\n[tolerance]\n%s\n"
#define STRIPLINE "plane\nlayer = resin 90 um dk=3.4 df=0.003 frequency=28GHz"

static void open_shape(struct budgeted *b, const char *above, const char *trace, const char *tolerance)
{
    char text[1024];
    snprintf(text, sizeof text, IN_RESIN, above, trace, tolerance);
    open_budget(b, text, 0);
}

/* [dB/m] over frequency. */
static double loss_of(const char *above, const char *trace)
{
    struct budgeted b;
    open_shape(&b, above, trace, "foil.rz = 1 um");
    struct ww_wideband_request request = {
        .line = b.solution.line, .skew = ww_study_request(&b.study), .copper = b.study.copper};
    struct ww_wideband *wideband = NULL;
    struct ww_error error = {0};
    request.skew.correction = b.solution.skew.correction;
    assert_ok(ww_wideband_create(&wideband, &request, &error), error);
    struct ww_line_loss loss = ww_wideband_loss(wideband, 28e9);
    ww_wideband_destroy(wideband);
    close_budget(&b);
    return 20 / log(10) * (loss.dielectric + loss.conductor + loss.roughness);
}

static void copper_loses_by_its_shape(void **state)
{
    static const struct {
        enum ww_cause_kind kind;
        const char *above, *own, *tolerance, *end[2];
    } row[] = {
        {WW_CAUSE_WIDTH,
         "air",
         "width = 180 um\nthickness = 18 um",
         "trace.width = 20 um",
         {"width = 160 um\nthickness = 18 um", "width = 200 um\nthickness = 18 um"}},
        {WW_CAUSE_WIDTH,
         STRIPLINE,
         "width = 100 um\nthickness = 15 um\npitch = 250 um",
         "trace.width = 10 um",
         {"width = 90 um\nthickness = 15 um\npitch = 250 um", "width = 110 um\nthickness = 15 um\npitch = 250 um"}},
        {WW_CAUSE_GAP,
         STRIPLINE,
         "width = 100 um\nthickness = 15 um\npitch = 160 um",
         "trace.gap = 20 um",
         {"width = 100 um\nthickness = 15 um\npitch = 140 um", "width = 100 um\nthickness = 15 um\npitch = 180 um"}},
        {WW_CAUSE_COPPER,
         STRIPLINE,
         "width = 100 um\nthickness = 15 um",
         "trace.thickness = 5 um",
         {"width = 100 um\nthickness = 10 um", "width = 100 um\nthickness = 20 um"}},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct budgeted b;
        double own = loss_of(row[i].above, row[i].own);
        open_shape(&b, row[i].above, row[i].own, row[i].tolerance);
        assert_close(b.budget.nominal[WW_OBSERVED_LOSS], own, 1e-4, 0);
        for (int end = 0; end < 2; end++)
            assert_close(b.budget.cause[row[i].kind].at[2 * end][WW_OBSERVED_LOSS],
                         loss_of(row[i].above, row[i].end[end]) - own, 0.01, 1e-4 * own);
        close_budget(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(copper_loses_by_its_shape)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
