/* Dispersion of microstrip: the formulas, their limits and derivative, and what a solved line makes of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "line/dispersion.h"

#define GHZ_MM 1e6 /* [Hz m] */

static const enum ww_mode modes[] = {WW_SINGLE, WW_EVEN, WW_ODD};
#define MODES (sizeof modes / sizeof *modes)

/* Any microstrip will do: a third of the way from the mean of air and substrate to the substrate. */
static struct ww_microstrip strip_of(double u, double g, double eps_r, double fn)
{
    double filling = 0.5 + 0.5 / 3;
    return (struct ww_microstrip){u, g, fn * GHZ_MM, eps_r, 1 + filling * (eps_r - 1), filling};
}

static void nothing_changes_at_frequency_0(void **state)
{
    (void)state;
    for (size_t m = 0; m < MODES; m++) {
        struct ww_microstrip strip = strip_of(0.7, 0.4, 4.3, 0);
        struct ww_dispersed at = ww_disperse(modes[m], &strip);
        assert_true(at.eps_eff == strip.eps_eff);
        assert_close(at.eps_eff_rise, strip.eps_eff_rise, 1e-15, 0);
    }
}

static void high_frequency_has_the_dk_of_the_substrate(void **state)
{
    (void)state;
    for (size_t m = 0; m < MODES; m++) {
        struct ww_microstrip strip = strip_of(2, 0.5, 3.4, 1e6);
        struct ww_dispersed at = ww_disperse(modes[m], &strip);
        assert_close(at.eps_eff, 3.4, 1e-6, 0);
        assert_close(at.eps_eff_rise, 1, 1e-5, 0);
    }
}

static void dk_rises_with_frequency(void **state)
{
    static const double most[] = {39, 25, 25}; /* GHz mm */
    (void)state;
    for (size_t m = 0; m < MODES; m++)
        for (double u = 0.1; u < 10; u *= 2.1)
            for (double eps_r = 1.5; eps_r < 18; eps_r *= 1.7) {
                double before = 0;
                for (double fn = 0.1; fn < most[m]; fn *= 1.3) {
                    struct ww_microstrip strip = strip_of(u, 1, eps_r, fn);
                    double here = ww_disperse(modes[m], &strip).eps_eff;
                    assert_true(here > before && here < eps_r);
                    before = here;
                }
            }
}

/* Far from each other the legs are single traces. */
static void modes_of_a_wide_gap_are_the_single_trace(void **state)
{
    (void)state;
    struct ww_microstrip strip = strip_of(1.5, 60, 3.4, 8);
    struct ww_dispersed alone = ww_disperse(WW_SINGLE, &strip);
    for (size_t m = 1; m < MODES; m++) {
        struct ww_dispersed at = ww_disperse(modes[m], &strip);
        assert_close(at.eps_eff, alone.eps_eff, 1e-9, 0);
        assert_close(at.eps_eff_rise, alone.eps_eff_rise, 1e-9, 0);
    }
}

static void derivative_is_that_of_a_central_difference(void **state)
{
    (void)state;
    for (size_t m = 0; m < MODES; m++)
        for (double u = 0.2; u < 10; u *= 2.3)
            for (double fn = 0.5; fn < 25; fn *= 2.7)
                for (double eps_r = 2; eps_r < 12; eps_r *= 1.9) {
                    double step = 1e-4;
                    struct ww_microstrip here = strip_of(u, 0.6, eps_r, fn);
                    struct ww_microstrip more = strip_of(u, 0.6, eps_r + step, fn);
                    struct ww_microstrip less = strip_of(u, 0.6, eps_r - step, fn);
                    double difference = ww_disperse(modes[m], &more).eps_eff - ww_disperse(modes[m], &less).eps_eff;
                    assert_close(ww_disperse(modes[m], &here).eps_eff_rise, difference / (2 * step), 2e-8, 0);
                }
}

/* Second-hand: a line calculator, w = h = 0.6 mm, t 25 um, eps_r 9.9 at 1 GHz; its static value is given to 8 digits. */
static void single_gives_a_calculators_digits(void **state)
{
    (void)state;
    struct ww_microstrip strip = {1, 0, 0.6 * GHZ_MM, 9.9, 6.4766008, 0.6};
    assert_close(ww_disperse(WW_SINGLE, &strip).eps_eff, 6.490417899, 1e-8, 0);
}

static void what_is_outside_of_the_range_is_told(void **state)
{
    static const struct {
        enum ww_mode mode;
        double u, g, eps_r, fn;
        const char *says; /* NULL: inside */
    } row[] = {{WW_SINGLE, 2, 0, 3.3, 7.7, NULL},
               {WW_SINGLE, 50, 0, 3.3, 38, NULL},
               {WW_SINGLE, 0.09, 0, 3.3, 7.7, "width over height is 0.09"},
               {WW_SINGLE, 2, 0, 21, 7.7, "Dk of the substrate is 21"},
               {WW_SINGLE, 2, 0, 3.3, 40, "GHz mm is 40, and the formula is for 0 to 39"},
               {WW_ODD, 1, 1, 3.3, 25, NULL},
               {WW_ODD, 11, 1, 3.3, 7.7, "0.1 to 10"},
               {WW_ODD, 1, 0.05, 3.3, 7.7, "gap over height is 0.05"},
               {WW_EVEN, 1, 1, 3.3, 26, "0 to 25"}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct ww_microstrip strip = strip_of(row[i].u, row[i].g, row[i].eps_r, row[i].fn);
        char why_not[160] = "";
        bool known = ww_is_dispersion_known(row[i].mode, &strip, why_not, sizeof why_not);
        assert_true(known == !row[i].says);
        if (row[i].says)
            assert_contains(why_not, row[i].says);
    }
}

/* --- of a line ----------------------------------------------------------------------------------------------------------- */

static struct ww_line_summary solve(const struct ww_layer *layer, size_t count, struct ww_trace trace,
                                    double frequency)
{
    struct ww_stack stack = {.layer = (struct ww_layer *)layer, .count = count};
    struct ww_line_options options = {.fineness = 0.5, .frequency = frequency};
    struct ww_line *line;
    struct ww_error error = {0};
    assert_ok(ww_stack_build(&stack, NULL, &error), error);
    assert_ok(ww_line_create(&line, &stack, &trace, &options, &error), error);
    struct ww_line_summary summary = *ww_line_summary(line);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
    return summary;
}

#define COUNT(layers) (sizeof(layers) / sizeof *(layers))
static const struct ww_layer bare[] = {{.kind = WW_LAYER_AIR},
                                       {.kind = WW_LAYER_TRACE, .thickness = 18 * UM, .dk = 1},
                                       {.kind = WW_LAYER_SOLID, .thickness = 60 * UM, .dk = 3.6},
                                       {.kind = WW_LAYER_SOLID, .thickness = 40 * UM, .dk = 3.0},
                                       {.kind = WW_LAYER_PLANE}};
static const struct ww_trace single = {220 * UM, 18 * UM, 0}, pair = {120 * UM, 18 * UM, 240 * UM};

/* The layers' Dk times a factor, and a loss tangent of all of them. */
static struct ww_line_summary solve_scaled(struct ww_trace trace, double factor, double df)
{
    struct ww_layer layer[COUNT(bare)];
    memcpy(layer, bare, sizeof layer);
    for (size_t i = 0; i < COUNT(bare); i++)
        if (layer[i].kind == WW_LAYER_SOLID) {
            layer[i].dk *= factor;
            layer[i].df = df;
        }
    return solve(layer, COUNT(bare), trace, 0);
}

/* Exact: df_eff = df d ln C/d ln Dk of the lossy layers. Both sides are limits over the grids, which leave 2.3e-4 at this fineness,
 * 1.2e-4 at 1 and 6e-5 at 2; on the last but one grid alone the loss tangent was 6e-3 high. */
static void the_loss_tangent_is_the_slope_of_the_capacitance(void **state)
{
    const double step = 0.01, df = 0.004;
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct ww_trace trace = i ? pair : single;
        double dk = solve_scaled(trace, 1, df).dk_eff, got = solve_scaled(trace, 1, df).df_eff;
        double slope =
            (solve_scaled(trace, 1 + step, df).dk_eff - solve_scaled(trace, 1 - step, df).dk_eff) / (2 * step);
        assert_close(got, df * slope / dk, 3e-4, 0);
    }
}

static void line_at_a_frequency_has_its_static_figures_times_a_factor(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct ww_trace trace = i ? pair : single;
        struct ww_line_summary still = solve(bare, COUNT(bare), trace, 0), at = solve(bare, COUNT(bare), trace, 77e9);
        const struct ww_dispersion *d = &at.dispersion;
        assert_true(still.dispersion.frequency == 0 && !still.dispersion.applied);
        assert_true(still.dispersion.mean == 1 && still.dispersion.change == 1);
        assert_true(d->applied && d->why_not[0] == '\0');
        assert_true(d->mean > 1 && d->change > d->mean);
        assert_close(at.dk_eff, still.dk_eff * d->mean * d->mean, 1e-14, 0);
        assert_close(at.delay, still.delay * d->mean, 1e-14, 0);
        assert_close(at.delay, sqrt(at.dk_eff) / WW_C0, 1e-14, 0);
        assert_true(at.z0 == still.z0 && at.c[0][0] == still.c[0][0] && at.df_eff == still.df_eff);
        if (i) {
            assert_true(at.dk_odd == at.dk_eff && d->mean_even > 1);
            assert_close(at.dk_even, still.dk_even * d->mean_even * d->mean_even, 1e-14, 0);
        }
    }
}

/* The substrate's Dk is that of its layers in series: 60 um of 3.6 on 40 um of 3.0. */
static void mean_is_the_formula_of_the_line(void **state)
{
    (void)state;
    struct ww_line_summary still = solve(bare, COUNT(bare), single, 0), at = solve(bare, COUNT(bare), single, 77e9);
    struct ww_microstrip strip = {2.2, 0, 7.7 * GHZ_MM, 100 / (60 / 3.6 + 40 / 3.0), still.dk_eff, 0.6};
    assert_close(at.dk_eff, ww_disperse(WW_SINGLE, &strip).eps_eff, 1e-12, 0);
}

/* The substrate with all of its Dk raised a little: the change of delay is the static one times `change`. That takes the share
 * of energy from one grid, the delay is extrapolated over three: single 1.0e-3 apart at fineness 1/2, 6e-4 at 1, 4e-4 at 2,
 * 2e-4 at 4. */
static void change_is_that_of_the_delay_with_the_substrate(void **state)
{
    const double step = 0.01, grid = 1.2e-3;
    (void)state;
    for (int i = 0; i < 2; i++) {
        double delay[2][2];
        struct ww_trace trace = i ? pair : single;
        for (int f = 0; f < 2; f++)
            for (int s = 0; s < 2; s++) {
                struct ww_layer layer[COUNT(bare)];
                memcpy(layer, bare, sizeof bare);
                layer[2].dk *= 1 + (s ? step : -step);
                layer[3].dk *= 1 + (s ? step : -step);
                delay[f][s] = solve(layer, COUNT(layer), trace, f ? 77e9 : 0).delay;
            }
        double change = (delay[1][1] - delay[1][0]) / (delay[0][1] - delay[0][0]);
        assert_close(solve(bare, COUNT(bare), trace, 77e9).dispersion.change, change, grid, 0);
    }
}

static void stripline_has_none(void **state)
{
    (void)state;
    struct ww_layer layer[COUNT(bare) + 1];
    memcpy(layer + 1, bare, sizeof bare);
    layer[0] = (struct ww_layer){.kind = WW_LAYER_PLANE};
    layer[1] = (struct ww_layer){.kind = WW_LAYER_SOLID, .thickness = 100 * UM, .dk = 3.0};
    layer[2].dk = 3.0;
    struct ww_line_summary still = solve(layer, COUNT(layer), pair, 0), at = solve(layer, COUNT(layer), pair, 77e9);
    assert_true(!at.dispersion.applied && at.dispersion.why_not[0] == '\0');
    assert_true(at.dk_eff == still.dk_eff && at.dk_even == still.dk_even && at.delay == still.delay);
}

static void covered_and_thick_lines_say_why_they_are_static(void **state)
{
    (void)state;
    struct ww_layer layer[COUNT(bare) + 1];
    memcpy(layer + 1, bare, sizeof bare);
    layer[0] = bare[0];
    layer[1] = (struct ww_layer){.kind = WW_LAYER_MASK, .thickness = 25 * UM, .dk = 3.5, .df = 0.02};
    layer[2].dk = 3.5;
    struct ww_line_summary still = solve(layer, COUNT(layer), single, 0);
    struct ww_line_summary covered = solve(layer, COUNT(layer), single, 77e9);
    assert_contains(covered.dispersion.why_not, "covered");
    assert_true(covered.delay == still.delay && covered.dispersion.change == 1);
    struct ww_line_summary high = solve(bare, COUNT(bare), single, 400e9);
    assert_contains(high.dispersion.why_not, "GHz mm is 40");
    assert_true(!high.dispersion.applied && high.dispersion.mean == 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_changes_at_frequency_0),
        cmocka_unit_test(high_frequency_has_the_dk_of_the_substrate),
        cmocka_unit_test(dk_rises_with_frequency),
        cmocka_unit_test(modes_of_a_wide_gap_are_the_single_trace),
        cmocka_unit_test(derivative_is_that_of_a_central_difference),
        cmocka_unit_test(single_gives_a_calculators_digits),
        cmocka_unit_test(what_is_outside_of_the_range_is_told),
        cmocka_unit_test(the_loss_tangent_is_the_slope_of_the_capacitance),
        cmocka_unit_test(line_at_a_frequency_has_its_static_figures_times_a_factor),
        cmocka_unit_test(mean_is_the_formula_of_the_line),
        cmocka_unit_test(change_is_that_of_the_delay_with_the_substrate),
        cmocka_unit_test(stripline_has_none),
        cmocka_unit_test(covered_and_thick_lines_say_why_they_are_static),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
