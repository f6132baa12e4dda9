/* test_cylinders.c - the section against the square array of cylinders, and the bundle's mixing rule against both.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A cloth whose warp yarns are round rods and whose fill is thin as breath and elsewhere, in a ply as thick as its warp
 * pitch, between a plane and a wide strip: planes and their images make of the one row of rods the square array, with
 * the field across it. A strip two pitches wider, its edges again midway between rods, holds the charge of two more
 * cells: edges drop out of the difference but for exp(-5 pi).
 *
 * Exact values: Lord Rayleigh's multipoles (Phil. Mag. 34, 481, 1892) as set up by W. T. Perrins, D. R. McKenzie,
 * R. C. McPhedran (Proc. R. Soc. Lond. A 369, 207, 1979), evaluated here and held to the table published there.
 */
#include "support/check.h"
#include "weftwise/line.h"

#define PITCH 400e-6 /* of the rods [m] */

/* --- the exact array --------------------------------------------------------------------------------------------- */

/* Permittivity over the host's of rods that fill `fraction`, at the given contrast (INFINITY: metal). Cell 1, radius a;
 * the odd moments B_m a^-m = x_m of a rod feel each other through the lattice sums S_n:
 *   T x_l + sum_m C(m+l-1, l) S_(m+l) a^(m+l) x_m = a [l = 1],  T = (1 + contrast)/(1 - contrast)
 * S_2 = pi (Rayleigh); from S_4 = gamma(1/4)^8/(960 pi^2) the others follow as the coefficients (n-1) S_n of
 * Weierstrass's function on the square lattice. */
static double exact_array(double contrast, double fraction)
{
    enum { ORDERS = 14, SUMS = 4 * ORDERS };
    double a = sqrt(fraction / WW_PI), t = isinf(contrast) ? -1 : (1 + contrast) / (1 - contrast);
    double c[SUMS] = {0}, matrix[ORDERS][ORDERS + 1] = {{0}}; /* c[k] = (2k-1) S_2k */
    c[2] = 3 * pow(tgamma(0.25), 8) / (960 * WW_PI * WW_PI);
    for (int k = 4; k < SUMS; k++) {
        for (int m = 2; m <= k - 2; m++)
            c[k] += c[m] * c[k - m];
        c[k] *= 3.0 / ((2 * k + 1) * (k - 3));
    }
    c[1] = WW_PI;
    for (int i = 0; i < ORDERS; i++)
        for (int j = 0; j < ORDERS; j++) {
            int l = 2 * i + 1, m = 2 * j + 1, k = i + j + 1;
            double choose = exp(lgamma(m + l) - lgamma(l + 1) - lgamma(m));
            matrix[i][j] = choose * c[k] / (2 * k - 1) * pow(a, m + l) + (i == j ? t : 0);
        }
    matrix[0][ORDERS] = a;
    for (int pivot = ORDERS - 1; pivot > 0; pivot--) /* from the highest moment down: x_1 is left */
        for (int i = 0; i < pivot; i++) {
            double factor = matrix[i][pivot] / matrix[pivot][pivot];
            for (int j = 0; j <= ORDERS; j++)
                matrix[i][j] -= factor * matrix[pivot][j];
        }
    return 1 - 2 * WW_PI * a * matrix[0][ORDERS] / matrix[0][0];
}

/* Conducting cylinders, four digits each: the published table (from memory). At contrast 2, 5 and 10: the same system in
 * 40 digits with lattice sums from their q-series, by another program. */
static void test_series_gives_the_published_table(void **state)
{
    (void)state;
    static const struct {
        double contrast, fraction, want, within;
    } row[] = {
        {INFINITY, 0.1, 1.222, 5e-4},    {INFINITY, 0.2, 1.500, 5e-4},   {INFINITY, 0.3, 1.860, 5e-4},
        {INFINITY, 0.4, 2.351, 5e-4},    {INFINITY, 0.5, 3.080, 5e-4},   {INFINITY, 0.6, 4.342, 5e-4},
        {INFINITY, 0.7, 7.433, 5e-4},    {2, 0.1, 1.06896575968, 1e-11}, {2, 0.5, 1.40102548281, 1e-11},
        {2, 0.7, 1.61538449847, 1e-11},  {5, 0.5, 2.01297636481, 1e-11}, {5, 0.7, 2.87089067021, 1e-10},
        {10, 0.3, 1.65203601108, 1e-11}, {10, 0.7, 4.06170739857, 1e-9},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        assert_close(exact_array(row[i].contrast, row[i].fraction), row[i].want, 0, row[i].within);
}

/* --- the section ------------------------------------------------------------------------------------------------- */

/* Permittivity of rods eps_rod filling `fraction` of a host, on a grid of `steps` per pitch across and at least as many
 * up. */
static double array_permittivity(double eps_rod, double eps_host, double fraction, int steps)
{
    double fineness = 0.9995 * steps / 5; /* the coarsest grid takes a fifth of the distance to the plane */
    size_t slices = (size_t)ceil(steps * sqrt(4 * fraction / WW_PI));
    double diameter = PITCH * sqrt(4 * fraction / WW_PI), far = 20 * PITCH, charge[2];
    struct ww_style rods = {.name = "rods", .kind = WW_PLAIN};
    rods.warp_count = (struct ww_datum){.value = 1 / PITCH, .origin = WW_USER};
    rods.fill_count = (struct ww_datum){.value = 1 / far, .origin = WW_USER};
    rods.shape = (struct ww_datum){.value = 2, .origin = WW_USER};
    rods.glass = (struct ww_glass){.name = "rod", .dk = eps_rod, .density = 2500};
    rods.warp.width = rods.warp.height = (struct ww_datum){.value = diameter, .origin = WW_USER};
    rods.fill.width = (struct ww_datum){.value = 0.3 * far, .origin = WW_USER};
    rods.fill.height = (struct ww_datum){.value = 1e-6 * PITCH, .origin = WW_USER};
    rods.thickness = (struct ww_datum){.value = diameter + rods.fill.height.value, .origin = WW_USER};
    struct ww_yarn *yarn[] = {&rods.warp, &rods.fill};
    for (int i = 0; i < 2; i++) {
        yarn[i]->packing = 0.5;
        yarn[i]->glass_area = 0.5 * 0.25 * WW_PI * yarn[i]->width.value * yarn[i]->height.value;
        yarn[i]->tex = (struct ww_datum){.value = yarn[i]->glass_area * rods.glass.density, .origin = WW_USER};
    }
    struct ww_layer layer[] = {
        {.kind = WW_LAYER_PLANE},
        {.kind = WW_LAYER_SOLID, .thickness = PITCH, .dk = eps_host},
        {.kind = WW_LAYER_TRACE, .dk = eps_host},
        {.kind = WW_LAYER_PLY, .thickness = PITCH, .style = rods, .resin = {.name = "host", .dk = eps_host}},
        {.kind = WW_LAYER_PLANE},
    };
    struct ww_stack stack = {.layer = layer, .count = sizeof layer / sizeof *layer};
    struct ww_cell_options cell = {.nz = slices};
    struct ww_error error = {0};
    assert_ok(ww_stack_build(&stack, &cell, &error), error);
    stack.ply[0].warp_t = stack.ply[0].warp_a = eps_rod; /* solid rods, not bundles */
    for (int n = 0; n < 2; n++) {
        struct ww_trace strip = {.width = (10 + 2 * n) * PITCH};
        struct ww_line_options options = {.fineness = fineness};
        struct ww_line *line;
        struct ww_full full;
        double place[1][2] = {{0, 0}}; /* midway between two rods, the fill far away */
        assert_ok(ww_line_create(&line, &stack, &strip, &options, &error), error);
        assert_ok(ww_section_solve(line, 0, (const double(*)[2])place, NULL, &full, &error), error);
        charge[n] = full.c[0][0] / WW_EPS0;
        ww_line_destroy(line);
    }
    ww_stack_clear(&stack);
    return 0.5 * (charge[1] - charge[0]) - eps_host;
}

/* Round rods are cut by the grid at every slope. On 40 steps per pitch what they add is good to 0.2 % at the contrast of
 * glass in resin; metal-like rods, which bundles of glass are far from, are drawn too large by part of a step: up to 2 %
 * at ten times the host's. Each tolerance is at least about twice what is seen. */
static void test_section_gives_the_exact_array(void **state)
{
    (void)state;
    static const struct {
        double contrast, fraction, tolerance;
    } row[] = {{2, 0.1, 2e-3},   {2, 0.3, 2e-3}, {2, 0.5, 2e-3}, {2, 0.7, 4e-3},  {5, 0.1, 2.5e-2},
               {5, 0.3, 1.5e-2}, {5, 0.5, 1e-2}, {5, 0.7, 1e-2}, {10, 0.3, 4e-2}, {10, 0.5, 4e-2}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        double exact = exact_array(row[i].contrast, row[i].fraction);
        double got = array_permittivity(row[i].contrast, 1, row[i].fraction, 40);
        print_message("contrast %2.0f, fraction %.1f: %.6f, exact %.6f, %+.2f %% of what the rods add\n",
                      row[i].contrast, row[i].fraction, got, exact, 100 * (got - exact) / (exact - 1));
        assert_close(got - 1, exact - 1, row[i].tolerance, 0);
    }
}

/* The error halves with the step: the averages are exact where an edge follows the grid, and where it cuts it at a slope
 * they leave out what couples the two directions, the more the higher the contrast. Yarns of cloth, wide and flat, keep
 * the second order (tests/line/test_order.c); round rods are the worst there is. At the contrast of glass in resin that
 * error is gone in how outlines happen to fall on the grid: of both signs, below 2e-4 of what the rods add from 18 steps
 * per pitch up, since rows of cloth are lower beside the copper. There the test is that it stays that small. */
static void test_section_converges_to_the_exact_array(void **state)
{
    (void)state;
    for (int contrast = 5; contrast <= 10; contrast += 5) {
        double exact = exact_array(contrast, 0.5), error[3];
        for (int n = 0; n < 3; n++) {
            error[n] = array_permittivity(contrast, 1, 0.5, 20 << n) - exact;
            print_message("contrast %d, %d steps per pitch: off by %+.1e\n", contrast, 20 << n, error[n]);
        }
        assert_true(error[0] > 0 && error[1] > 0 && error[2] > 0); /* one error that falls, no change of sign */
        assert_true(error[1] < 0.7 * error[0] && error[2] < 0.35 * error[0]);
    }
    double exact = exact_array(2, 0.5);
    for (int steps = 20; steps <= 80; steps *= 2) {
        double error = array_permittivity(2, 1, 0.5, steps) - exact;
        print_message("contrast 2, %d steps per pitch: off by %+.1e\n", steps, error);
        assert_close(error, 0, 0, 5e-4 * (exact - 1));
    }
}

/* Glass in resin: what the rule for bundles says (src/laminate/mixing.c: low by 0.03 % at a packing of 0.4, 0.1 % at 0.5,
 * 0.2 % at 0.6, 0.5 % at 0.7) holds against the exact array; and our own field solution of the filaments finds the rule
 * low by the same, where that is well above the grid's 0.03 %. */
static void test_mixing_rule_is_off_by_what_it_says(void **state)
{
    (void)state;
    static const struct {
        double packing, low_by;
        bool field;
    } row[] = {{0.4, 0.000267, false}, {0.5, 0.000827, false}, {0.6, 0.002103, true}, {0.7, 0.004698, true}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        double exact = 3.2 * exact_array(6.6 / 3.2, row[i].packing);
        double rule = creal(ww_bundle_across(6.6, 3.2, row[i].packing));
        print_message("packing %.1f: exact %.5f, rule %.5f, low by %.3f %%\n", row[i].packing, exact, rule,
                      100 * (1 - rule / exact));
        assert_close(1 - rule / exact, row[i].low_by, 0, 1e-6);
        if (!row[i].field)
            continue;
        double field = array_permittivity(6.6, 3.2, row[i].packing, 80);
        print_message("  field %.5f, low by %.3f %%\n", field, 100 * (1 - rule / field));
        assert_close(1 - rule / field, row[i].low_by, 0, 5e-4);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_series_gives_the_published_table),
        cmocka_unit_test(test_section_gives_the_exact_array),
        cmocka_unit_test(test_section_converges_to_the_exact_array),
        cmocka_unit_test(test_mixing_rule_is_off_by_what_it_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
