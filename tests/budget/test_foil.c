/* Roughness of the copper as a cause: against closed forms and the line over frequency, and what it needs.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budgeted.h"
#include "frequency/wideband.h"
#include "line/conductor.h"
#include "line/foil.h"

/* A line in one material whose figures hold at the signal's frequency; layer above, copper, trace, tolerance. */
#define IN_RESIN                                                                                                     \
    "[study]\nsections = 0\nfineness = 0.5\n[stackup]\n%s\nlayer = %s\nlayer = trace\nlayer = resin 90 um dk=3.4 "   \
    "df=0.003 "                                                                                                      \
    "frequency=28GHz\nlayer = plane\n[foil rough]\nmodel = %s\nrz = 2 um\nconductivity = 58 MS/m\n[trace]\nwidth = " \
    "%s\nlength = 25.4 mm\n[signal]\n%s\n[tolerance]\n%s\n"
#define STRIPLINE "plane\nlayer = resin 90 um dk=3.4 df=0.003 frequency=28GHz"
#define AT_28_GHZ "frequency = 28 GHz"

static void open_line(struct budgeted *b, const char *copper, const char *model, const char *above, const char *trace,
                      const char *signal, const char *tolerance)
{
    char text[1024];
    snprintf(text, sizeof text, IN_RESIN, copper, above, model, trace, signal, tolerance);
    open_budget(b, text, 0);
}

static const struct ww_cause *foil_of(const struct budgeted *b)
{
    const struct ww_cause *foil = &b->budget.cause[WW_CAUSE_FOIL];
    assert_true(foil->given);
    return foil;
}

/* L/mu0 of a wide strip between planes with the exact fringing of its corners (S. B. Cohn, IRE Trans. MTT-2, 52, 1954; from
 * memory). */
static double wide_strip(double w, double t, double b)
{
    double k = 1 / (1 - t / b), fringe = (2 * k * log(k + 1) - (k - 1) * log(k * k - 1)) / WW_PI;
    return 0.25 / (k * w / b + fringe);
}

/* Its change as all copper recedes, per length: H. A. Wheeler, Proc. IRE 30, 412, 1942. */
static double recession(double w, double t, double b)
{
    double n = 1e-5 * b;
    return (wide_strip(w - 2 * n, t - 2 * n, b + 2 * n) - wide_strip(w + 2 * n, t + 2 * n, b - 2 * n)) / (2 * n);
}

/* p = sqrt((1 + Z/(j omega L)) (1 - j df)): delay as its real part, loss [dB/m] by its imaginary one. */
static void closed_form(double rz, double *slow, double *loss)
{
    const double w = 200e-6, t = 20e-6, b = 200e-6, omega = 2 * WW_PI * 28e9;
    struct ww_foil foil = {.model = WW_FOIL_HURAY, .rz = rz, .conductivity = 58e6};
    double _Complex z = ww_foil_impedance(&foil, 28e9) * recession(w, t, b);
    double _Complex p = csqrt((1 + z / (I * omega * WW_MU0 * wide_strip(w, t, b))) * (1 - 0.003 * I));
    *slow = creal(p);
    *loss = -20 / log(10) * omega * sqrt(3.4) / WW_C0 * cimag(p);
}

static void a_wide_strip_has_the_closed_form(void **state)
{
    struct budgeted b;
    (void)state;
    open_line(&b, "copper = rough", "huray", STRIPLINE, "200 um\nthickness = 20 um", AT_28_GHZ, "foil.rz = 0.5 um");
    const struct ww_cause *foil = foil_of(&b);
    const double *nominal = b.budget.nominal;
    double own, own_loss;
    closed_form(2e-6, &own, &own_loss);
    for (int end = 0; end < 3; end += 2) {
        const double *at = foil->at[end];
        double slow, loss, sign = end - 1;
        closed_form(2e-6 + sign * 0.5e-6, &slow, &loss);
        assert_true(sign * (slow - own) > 1e-4 && sign * at[WW_OBSERVED_DELAY] > 0);
        assert_close(at[WW_OBSERVED_DELAY], nominal[WW_OBSERVED_DELAY] * (slow - own), 0.01, 0);
        assert_close(at[WW_OBSERVED_IMPEDANCE], nominal[WW_OBSERVED_IMPEDANCE] * (slow - own), 0.01, 0);
        assert_close(at[WW_OBSERVED_DK], nominal[WW_OBSERVED_DK] * (slow * slow - own * own), 0.01, 0);
        assert_close(at[WW_OBSERVED_LOSS], loss - own_loss, 0.01, 0);
    }
    close_budget(&b);
}

/* The same study over frequency. */
static struct ww_wideband *open_wideband(const struct budgeted *b)
{
    struct ww_wideband_request request = {
        .line = b->solution.line, .skew = ww_study_request(&b->study), .copper = b->study.copper};
    struct ww_wideband *wideband = NULL;
    struct ww_error error = {0};
    request.skew.correction = b->solution.skew.correction;
    assert_ok(ww_wideband_create(&wideband, &request, &error), error);
    return wideband;
}

static struct ww_line_loss with_roughness(struct ww_wideband *wideband, double rz)
{
    wideband->copper.rz = rz;
    return ww_wideband_loss(wideband, 28e9);
}

static void delay_and_loss_are_those_of_the_frequency_command(void **state)
{
    static const struct {
        const char *model, *above, *trace;
    } row[] = {{"huray", "air", "180 um\nthickness = 18 um"},
               {"hammerstad", STRIPLINE, "100 um\nthickness = 15 um\npitch = 250 um"}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct budgeted b;
        open_line(&b, "copper = rough", row[i].model, row[i].above, row[i].trace, AT_28_GHZ, "foil.rz = 1 um");
        const struct ww_cause *foil = foil_of(&b);
        struct ww_wideband *wideband = open_wideband(&b);
        struct ww_line_loss own = with_roughness(wideband, 2e-6);
        for (int end = 0; end < 3; end += 2) {
            struct ww_line_loss moved = with_roughness(wideband, 2e-6 + (end - 1) * 1e-6);
            double nepers =
                moved.dielectric + moved.conductor + moved.roughness - own.dielectric - own.conductor - own.roughness;
            assert_close(foil->at[end][WW_OBSERVED_DELAY], (moved.delay - own.delay) * 25.4e-3, 0.01, 0);
            assert_close(foil->at[end][WW_OBSERVED_LOSS], 20 / log(10) * nepers, 0.01, 0);
        }
        ww_wideband_destroy(wideband);
        close_budget(&b);
    }
}

/* Skin deep, resistance goes as the root of resistivity, and the reactance that delays is the same. */
static void the_copper_loses_more_when_hot(void **state)
{
    struct budgeted b;
    (void)state;
    open_line(&b, "copper = rough", "smooth", STRIPLINE, "200 um\nthickness = 20 um", AT_28_GHZ,
              "temperature = 25 degC to 125 degC\nexpansion = 1 ppm/degC");
    const struct ww_cause *temperature = &b.budget.cause[WW_CAUSE_TEMPERATURE];
    double dielectric = 20 / log(10) * WW_PI * 28e9 * sqrt(3.4) / WW_C0 * 0.003;
    double copper = b.budget.nominal[WW_OBSERVED_LOSS] - dielectric;
    double ref = b.study.tolerance.reference, hot = sqrt(1 + 3.93e-3 * (125 - ref)),
           cold = sqrt(1 + 3.93e-3 * (25 - ref));
    double lost = temperature->at[2][WW_OBSERVED_LOSS] - temperature->at[0][WW_OBSERVED_LOSS];
    double later = temperature->at[2][WW_OBSERVED_DELAY] - temperature->at[0][WW_OBSERVED_DELAY];
    double longer = b.budget.nominal[WW_OBSERVED_DELAY] * 1e-6 * 100;
    assert_true(temperature->given);
    assert_close(lost, copper * (hot - cold), 0.01, 0);
    assert_close(later, longer + lost / (20 / log(10)) * 25.4e-3 / (2 * WW_PI * 28e9), 0.01, 0);
    close_budget(&b);
}

/* All of one panel's copper is from one foil: it moves boards against each other, and nothing within one. */
static void one_board_has_one_foil(void **state)
{
    struct budgeted b;
    (void)state;
    open_line(&b, "copper = rough", "huray", STRIPLINE, "200 um\nthickness = 20 um", AT_28_GHZ, "foil.rz = 2 um");
    const struct ww_cause *foil = foil_of(&b);
    assert_int_equal(foil->tolerance.scope, WW_BOARDS);
    assert_close(b.budget.level[WW_BOARD].p99, 0, 0, 0);
    assert_true(b.budget.level[WW_BOARDS].p99 > 0);
    assert_close(foil->share, 1, 1e-12, 0);
    /* its lower end is smooth copper */
    double rough, smooth, loss;
    closed_form(2e-6, &rough, &loss);
    closed_form(0, &smooth, &loss);
    assert_close(foil->at[0][WW_OBSERVED_DELAY], b.budget.nominal[WW_OBSERVED_DELAY] * (smooth - rough), 0.01, 0);
    close_budget(&b);
}

static void without_what_it_needs_it_is_left_out(void **state)
{
    static const struct {
        const char *copper, *model, *trace, *signal, *tolerance, *why;
    } row[] = {
        {"", "huray", "15 um", AT_28_GHZ, "foil.rz = 0.5 um", "[stackup] copper with a model that takes rz"},
        {"copper = smooth", "huray", "15 um", AT_28_GHZ, "foil.rz = 0.5 um", "a model that takes rz"},
        {"copper = rough", "huray\nsphere_radius = 0.5 um", "15 um", AT_28_GHZ, "foil.rz = 0.5 um", "takes rz"},
        {"copper = rough", "huray", "15 um", "budget = 1 ps", "foil.rz = 0.5 um", "needs a frequency"},
        {"copper = rough", "huray", "0 um", AT_28_GHZ, "foil.rz = 0.5 um", "copper of some thickness"},
        {"copper = rough", "huray", "15 um", AT_28_GHZ, "trace.width = 1 um", "tolerance.foil.rz is not given"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct budgeted b;
        char trace[64];
        snprintf(trace, sizeof trace, "100 um\nthickness = %s", row[i].trace);
        open_line(&b, row[i].copper, row[i].model, STRIPLINE, trace, row[i].signal, row[i].tolerance);
        assert_false(b.budget.cause[WW_CAUSE_FOIL].given);
        assert_contains(b.budget.cause[WW_CAUSE_FOIL].why, row[i].why);
        close_budget(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wide_strip_has_the_closed_form),
        cmocka_unit_test(delay_and_loss_are_those_of_the_frequency_command),
        cmocka_unit_test(the_copper_loses_more_when_hot),
        cmocka_unit_test(one_board_has_one_foil),
        cmocka_unit_test(without_what_it_needs_it_is_left_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
