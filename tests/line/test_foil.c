/* Copper foil: roughness factors against tabulated values, and their causal partners.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "line/foil.h"

#include <math.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/check.h"

static const double frequency[] = {1e9, 10e9, 50e9};
#define FREQUENCIES (sizeof frequency / sizeof *frequency)

static struct ww_foil foil_of_rms(enum ww_foil_model model, double rms)
{
    return (struct ww_foil){.model = model, .rz = rms * 2 * sqrt(3), .conductivity = 5.8e7};
}

static struct ww_foil foil_of_spheres(double radius)
{
    return (struct ww_foil){.model = WW_FOIL_HURAY, .rz = 1e-6, .conductivity = 5.8e7, .sphere_radius = radius};
}

static double reactive(const struct ww_foil *foil, double f)
{
    return cimag((1 + I) * ww_foil_factor(foil, f));
}

/* Closed forms. The table of skin depths has mu0 = 4 pi 1e-7, which is 1.3e-10 off that of eta0 and c0 here. */
static void skin_depth_and_surface_resistance(void **state)
{
    struct ww_foil foil = foil_of_rms(WW_FOIL_SMOOTH, 0);
    (void)state;
    assert_close(ww_foil_skin_depth(&foil, 1e6), 66.0854931e-6, 1e-8, 0);
    assert_close(ww_foil_skin_depth(&foil, 28e9), 0.394936360e-6, 1e-8, 0);
    assert_close(ww_foil_surface_resistance(&foil, 10e9), 0.0260895069, 1e-8, 0);
    foil.conductivity = 1 / 1.72e-8;
    assert_close(ww_foil_surface_resistance(&foil, 100e9), 0.0824032028, 1e-8, 0);
}

/* The formulas as published (foil.c), evaluated apart from this code. */
static void losses_are_those_of_the_formulas(void **state)
{
    static const struct {
        double rms, hammerstad[FREQUENCIES], groiss[FREQUENCIES];
    } row[] = {
        {0.3e-6, {1.018361914, 1.178814316, 1.614105409}, {1.000633508, 1.311251794, 1.724646636}},
        {0.5e-6, {1.050910658, 1.430101114, 1.844305662}, {1.038691151, 1.597243637, 1.867420987}},
        {1.0e-6, {1.197489100, 1.807496859, 1.960332776}, {1.342046853, 1.843640740, 1.954164984}},
        {2.0e-6, {1.578336340, 1.950451990, 1.990071145}, {1.701949010, 1.945455459, 1.984641766}},
    };
    static const double spheres[][1 + FREQUENCIES] = {{0.5e-6, 1.526827537, 3.294208653, 5.151360787},
                                                      {0.36e-6, 1.309898505, 2.621543576, 4.396941614}};
    (void)state;
    for (size_t f = 0; f < FREQUENCIES; f++) {
        for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
            struct ww_foil hammerstad = foil_of_rms(WW_FOIL_HAMMERSTAD, row[i].rms);
            struct ww_foil groiss = foil_of_rms(WW_FOIL_GROISS, row[i].rms);
            assert_close(ww_foil_loss_factor(&hammerstad, frequency[f]), row[i].hammerstad[f], 1e-9, 0);
            assert_close(ww_foil_loss_factor(&groiss, frequency[f]), row[i].groiss[f], 1e-9, 0);
        }
        for (size_t i = 0; i < 2; i++) {
            struct ww_foil huray = foil_of_spheres(spheres[i][0]);
            assert_close(ww_foil_loss_factor(&huray, frequency[f]), spheres[i][1 + f], 1e-9, 0);
        }
    }
}

/* Huray's reactance by its closed form. */
static void rough_copper_has_more_inductance_than_resistance(void **state)
{
    static const double spheres[][1 + FREQUENCIES] = {{0.5e-6, 3.728763061, 6.326486856, 7.605174602},
                                                      {0.36e-6, 3.108865168, 5.598224320, 7.185673191}};
    (void)state;
    for (size_t i = 0; i < 2; i++)
        for (size_t f = 0; f < FREQUENCIES; f++) {
            struct ww_foil huray = foil_of_spheres(spheres[i][0]);
            assert_close(reactive(&huray, frequency[f]), spheres[i][1 + f], 1e-9, 0);
        }
    for (enum ww_foil_model model = WW_FOIL_HAMMERSTAD; model <= WW_FOIL_GROISS; model++)
        for (double f = 1e6; f < 1e12; f *= 3) {
            struct ww_foil foil = foil_of_rms(model, 1e-6);
            assert_true(reactive(&foil, f) >= ww_foil_loss_factor(&foil, f));
            assert_close(creal((1 + I) * ww_foil_factor(&foil, f)), ww_foil_loss_factor(&foil, f), 1e-14, 0);
        }
}

/* The Hilbert transform, here by the midpoint rule straight from its definition, of a resistance with a known reactance and of
 * the formulas: (2 omega/pi) P integral over x of R(x)/(x^2 - omega^2), in v = ln(x/omega). */
static double hilbert(double (*factor)(const struct ww_foil *, double), const struct ww_foil *foil, double f)
{
    double sum = 0, step = 1e-3;
    for (double v = 0.5 * step; v < 45; v += step) {
        double above = factor(foil, f * exp(v)) * exp(1.5 * v) / (exp(2 * v) - 1);
        double below = factor(foil, f * exp(-v)) * exp(-1.5 * v) / (1 - exp(-2 * v));
        sum += above - below;
    }
    return 2 / WW_PI * sum * step;
}

static void reactance_is_the_hilbert_transform_of_the_resistance(void **state)
{
    struct ww_foil huray = foil_of_spheres(0.3e-6), smooth = foil_of_rms(WW_FOIL_SMOOTH, 0);
    (void)state;
    assert_close(hilbert(ww_foil_loss_factor, &smooth, 1e9), 1, 1e-6, 0);
    for (size_t f = 0; f < FREQUENCIES; f++) {
        assert_close(reactive(&huray, frequency[f]), hilbert(ww_foil_loss_factor, &huray, frequency[f]), 1e-6, 0);
        for (enum ww_foil_model model = WW_FOIL_HAMMERSTAD; model <= WW_FOIL_GROISS; model++) {
            struct ww_foil foil = foil_of_rms(model, 0.6e-6);
            assert_close(reactive(&foil, frequency[f]), hilbert(ww_foil_loss_factor, &foil, frequency[f]), 1e-6, 0);
        }
    }
}

/* The stack of spheres is as high as the rms roughness, and saturates at 1 + 7 pi/3. */
static void cannonball_rule(void **state)
{
    struct ww_foil foil = foil_of_rms(WW_FOIL_HURAY, 1e-6);
    (void)state;
    double a = ww_foil_sphere_radius(&foil);
    assert_close(2 * a + 2 * sqrt(2) * a, 1e-6, 1e-12, 0);
    assert_close(a / foil.rz, 0.0598, 1e-3, 0); /* the 0.06 Rz of the trade */
    assert_close(ww_foil_loss_factor(&foil, 1e22), 1 + 7 * WW_PI / 3, 1e-5, 0);
    assert_close(ww_foil_loss_factor(&foil, 0), 1, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(skin_depth_and_surface_resistance),
        cmocka_unit_test(losses_are_those_of_the_formulas),
        cmocka_unit_test(rough_copper_has_more_inductance_than_resistance),
        cmocka_unit_test(reactance_is_the_hilbert_transform_of_the_resistance),
        cmocka_unit_test(cannonball_rule),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
