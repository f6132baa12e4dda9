/* The wideband Debye law: values evaluated apart from this code, and causality.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "support/check.h"
#include "weftwise/laminate.h"

/* The formulas of Djordjevic, Biljic, Likar-Smiljanic and Sarkar, IEEE Trans. EMC 43, 662, 2001, in extended precision. */
static void values_of_the_formula(void **state)
{
    static const struct {
        double dk, df, sheet, f, at, tangent; /* tangent 0: not listed */
    } row[] = {
        {4.3, 0.02, 1e9, 1e6, 4.6784353329, 0.0182769333},
        {4.3, 0.02, 1e9, 1e8, 4.4261460057, 0.0194400219},
        {4.3, 0.02, 1e9, 1e9, 4.3, 0.02},
        {4.3, 0.02, 1e9, 10e9, 4.1738566786, 0.0204864367},
        {4.3, 0.02, 1e9, 28e9, 4.1174681948, 0.0205276016},
        {4.3, 0.02, 1e9, 100e9, 4.0479804685, 0.0199099347},
        {3.7, 0.002, 10e9, 1e9, 3.7109167163, 0},
        {3.7, 0.002, 10e9, 28e9, 3.6951200185, 0.0019795555},
        {3.7, 0.002, 10e9, 50e9, 3.6923750608, 0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        double _Complex eps = row[i].dk * ww_permittivity_change(row[i].df, row[i].sheet, row[i].f);
        assert_close(creal(eps), row[i].at, 1e-9, 0);
        if (row[i].tangent > 0)
            assert_close(-cimag(eps) / creal(eps), row[i].tangent, 0, 5.1e-11); /* half of the last digit listed */
    }
}

static void no_loss_no_change(void **state)
{
    (void)state;
    assert_true(ww_permittivity_change(0, 0, 5e9) == 1);
}

/* Kramers and Kronig: eps'(f) - eps'(0) from the loss, (2/pi) P integral of eps''(x) [x/(x^2 - f^2) - 1/x] dx, in v = ln x by
 * the midpoint rule around the pole. */
static void the_law_is_causal(void **state)
{
    double f = 3e9, sum = 0, step = 1e-3;
    (void)state;
    for (double v = 0.5 * step; v < 40; v += step)
        for (int side = -1; side <= 1; side += 2) {
            double x = f * exp(side * v), loss = -cimag(ww_permittivity_change(0.02, 1e9, x));
            sum += loss * (x * x / (x * x - f * f) - 1);
        }
    double change = creal(ww_permittivity_change(0.02, 1e9, f) - ww_permittivity_change(0.02, 1e9, 1e-9));
    assert_close(2 / WW_PI * sum * step, change, 1e-5, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_of_the_formula),
        cmocka_unit_test(no_loss_no_change),
        cmocka_unit_test(the_law_is_causal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
