/* The bundle's permittivity: limits, identities, published and exact values.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "support/check.h"
#include "weftwise/laminate.h"

/* Rounding of a few operations on numbers of order 1 to 10. */
static const double rounding = 1e-14;

static const double packings[] = {0.0, 0.1, 0.3, 0.5, 0.7, 0.9069, 1.0};
enum { PACKINGS = sizeof packings / sizeof packings[0] };

static void assert_complex_close(double _Complex got, double _Complex want, double tolerance)
{
    assert_close(creal(got), creal(want), tolerance, tolerance);
    assert_close(cimag(got), cimag(want), tolerance, tolerance);
}

static void test_limits_are_resin_and_glass(void **state)
{
    (void)state;
    double _Complex glass = ww_permittivity(6.3, 0.004), resin = ww_permittivity(3.2, 0.02);
    assert_complex_close(ww_bundle_across(glass, resin, 0.0), resin, rounding);
    assert_complex_close(ww_bundle_along(glass, resin, 0.0), resin, rounding);
    assert_complex_close(ww_bundle_across(glass, resin, 1.0), glass, rounding);
    assert_complex_close(ww_bundle_along(glass, resin, 1.0), glass, rounding);
}

/* Common practice, no source: solid glass of 6 beside resin of 3 differs by 3. */
static void test_solid_glass_and_resin_differ_by_their_dk(void **state)
{
    (void)state;
    double _Complex glass = ww_permittivity(6.0, 0.0), resin = ww_permittivity(3.0, 0.0);
    assert_close(creal(ww_bundle_across(glass, resin, 1.0) - ww_bundle_across(glass, resin, 0.0)), 3.0, rounding,
                 0.0);
    assert_close(creal(ww_bundle_along(glass, resin, 1.0) - ww_bundle_along(glass, resin, 0.0)), 3.0, rounding, 0.0);
}

static void test_no_contrast_no_change(void **state)
{
    (void)state;
    double _Complex eps = ww_permittivity(3.4, 0.01);
    for (size_t i = 0; i < PACKINGS; i++) {
        assert_complex_close(ww_bundle_across(eps, eps, packings[i]), eps, rounding);
        assert_complex_close(ww_bundle_along(eps, eps, packings[i]), eps, rounding);
    }
}

/* Series bound <= across <= along: the bounds of Wiener hold the bundle, and strictly inside. */
static void test_bundle_lies_between_wiener_bounds(void **state)
{
    (void)state;
    double glass = 6.6, resin = 3.0;
    for (size_t i = 0; i < PACKINGS; i++) {
        double v = packings[i];
        double series = 1.0 / (v / glass + (1.0 - v) / resin);
        double across = creal(ww_bundle_across(glass, resin, v));
        double along = creal(ww_bundle_along(glass, resin, v));
        bool inside = v > 0.0 && v < 1.0;
        assert_true(inside ? across > series : across >= series - rounding * series);
        assert_true(inside ? across < along : across <= along + rounding * along);
    }
}

static void test_lossless_stays_lossless(void **state)
{
    (void)state;
    for (size_t i = 0; i < PACKINGS; i++) {
        assert_close(cimag(ww_bundle_across(6.3, 3.2, packings[i])), 0.0, 0.0, 0.0);
        assert_close(cimag(ww_bundle_along(6.3, 3.2, packings[i])), 0.0, 0.0, 0.0);
    }
}

/* Loss is a negative imaginary part, and a mixture's loss tangent lies between those of its parts. */
static void test_loss_lies_between_its_parts(void **state)
{
    (void)state;
    double _Complex eps = ww_permittivity(3.2, 0.02);
    assert_complex_close(eps, 3.2 - I * 0.064, rounding);
    double _Complex glass = ww_permittivity(6.3, 0.004);
    for (size_t i = 0; i < PACKINGS; i++) {
        double _Complex both[2] = {ww_bundle_across(glass, eps, packings[i]),
                                   ww_bundle_along(glass, eps, packings[i])};
        for (int k = 0; k < 2; k++) {
            double df = -cimag(both[k]) / creal(both[k]);
            assert_true(df >= 0.004 * (1.0 - 1e-12) && df <= 0.02 * (1.0 + 1e-12));
        }
    }
}

/* The rule is an analytic function of eps: to first order the loss is the slope of the real rule times the loss put
 * in. Central difference of step 1e-4: its error is of order 1e-9, and so is the second order of the loss. */
static void test_small_loss_follows_the_slope(void **state)
{
    (void)state;
    double glass = 6.3, resin = 3.2, v = 0.62, step = 1e-4, loss = 1e-5;
    double by_glass = creal(ww_bundle_across(glass + step, resin, v) - ww_bundle_across(glass - step, resin, v));
    double by_resin = creal(ww_bundle_across(glass, resin + step, v) - ww_bundle_across(glass, resin - step, v));
    assert_close(-cimag(ww_bundle_across(glass - I * loss, resin, v)), loss * by_glass / (2.0 * step), 1e-7, 0.0);
    assert_close(-cimag(ww_bundle_across(glass, resin - I * loss, v)), loss * by_resin / (2.0 * step), 1e-7, 0.0);
}

/* J. B. Keller's theorem on exchanging the phases of a plane composite: the product of the two is eps_g eps_r
 * (J. Math. Phys. 5, 548, 1964; citation from memory, the identity is exact for this rule). */
static void test_exchanging_the_phases_keeps_the_product(void **state)
{
    (void)state;
    double _Complex glass = ww_permittivity(6.6, 0.004), resin = ww_permittivity(3.2, 0.02);
    for (size_t i = 0; i < PACKINGS; i++)
        assert_complex_close(ww_bundle_across(glass, resin, packings[i]) *
                                 ww_bundle_across(resin, glass, packings[i]),
                             glass * resin, 20.0 * rounding);
}

/* Exact evaluations of the rules (2-D Maxwell Garnett, equal to the lower bound of Hashin and Shtrikman in two
 * dimensions; the bounds of Wiener 1912), worked out to ten digits with high precision. */
static void test_values_of_the_rules(void **state)
{
    (void)state;
    static const struct {
        double glass, resin, packing, across, along;
    } row[] = {
        {6.6, 3.2, 0.3, 3.943507973, 4.220000000},
        {6.6, 3.2, 0.5, 4.543209877, 4.900000000},
        {4.4, 2.6, 0.55, 3.456572379, 3.590000000},
        {6.6, 3.0, 0.4, 4.058823529, 4.440000000},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        /* half a unit of the last digit given */
        assert_close(creal(ww_bundle_across(row[i].glass, row[i].resin, row[i].packing)), row[i].across, 0.0, 1e-9);
        assert_close(creal(ww_bundle_along(row[i].glass, row[i].resin, row[i].packing)), row[i].along, 0.0, 1e-9);
    }
}

/* A square array of cylinders, solved exactly with the multipole series of Lord Rayleigh (Phil. Mag. 34, 481, 1892)
 * as W. T. Perrins, D. R. McKenzie and R. C. McPhedran set it up (Proc. R. Soc. Lond. A 369, 207, 1979; evaluated to 12
 * digits for glass 6.6 in resin 3.2). The rule is the first term of that series: never above it, and low by no more
 * than the figure stated beside each packing, rounded up. */
static void test_error_against_exact_cylinders_is_as_stated(void **state)
{
    (void)state;
    static const struct {
        double packing, exact, error;
    } row[] = {
        {0.2, 3.67722318795, 0.00001}, {0.3, 3.94375559398, 0.0001}, {0.4, 4.23241070073, 0.0003},
        {0.5, 4.54697211198, 0.0009},  {0.6, 4.89276263699, 0.0022}, {0.7, 5.27762374781, 0.0048},
    };
    double last = 0.0;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double low_by = 1.0 - creal(ww_bundle_across(6.6, 3.2, row[i].packing)) / row[i].exact;
        print_message("packing %.1f: low against exact cylinders by %.4f %%\n", row[i].packing, 100.0 * low_by);
        assert_true(low_by > last && low_by < row[i].error);
        last = low_by;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_limits_are_resin_and_glass),
        cmocka_unit_test(test_solid_glass_and_resin_differ_by_their_dk),
        cmocka_unit_test(test_no_contrast_no_change),
        cmocka_unit_test(test_bundle_lies_between_wiener_bounds),
        cmocka_unit_test(test_lossless_stays_lossless),
        cmocka_unit_test(test_loss_lies_between_its_parts),
        cmocka_unit_test(test_small_loss_follows_the_slope),
        cmocka_unit_test(test_exchanging_the_phases_keeps_the_product),
        cmocka_unit_test(test_values_of_the_rules),
        cmocka_unit_test(test_error_against_exact_cylinders_is_as_stated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
