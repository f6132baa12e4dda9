/* foil.c - how rough copper raises the surface impedance of smooth copper.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * delta = sqrt(rho/(pi f mu0)) is the skin depth and Rs = rho/delta the surface resistance of smooth copper. Rough copper
 * has K_R times as much:
 *   Hammerstad  K_R = 1 + (2/pi) atan(1.4 (Rq/delta)^2)     E. Hammerstad and O. Jensen, IEEE MTT-S Digest 1980, 407
 *   Groiss      K_R = 1 + exp(-(delta/(2 Rq))^1.6)          S. Groiss et al., IEEE Trans. Magn. 32, 1996 (from memory)
 *   Huray       K_R = 1 + (3/2) SR/(1 + delta/a + delta^2/(2 a^2))   P. Huray et al., DesignCon 2010 (from memory)
 * with Rq the rms roughness, a the radius of the spheres and SR = N 4 pi a^2/A their surface over that of the foil.
 *
 * A foil's sheet gives Rz, peak to valley. Two rules take it from there (from memory; B. Simonovich's "cannonball" stack):
 *   triangle    Rq = Rz/(2 sqrt 3), the rms of a triangular profile;
 *   cannonball  9 spheres, 4 on them and 1 on top are 2 a (1 + sqrt 2) high, which is Rq; they stand on A = (6 a)^2, so that
 *               SR = 14 4 pi/36.
 *
 * A real factor is not causal: K_R on the resistance takes K_X on the reactance with it. With
 * Zs = Rs (1 + j) K, Huray's form is that of (J. E. Bracken, DesignCon 2012, from
 * memory; checked against the integral below)
 *   K = 1 + (3/2) SR/(1 + (1 - j) delta/(2 a)).
 * For the others the reactance is the Hilbert transform of the resistance,
 *   X(omega) = (2 omega/pi) P integral over 0..inf of R(x)/(x^2 - omega^2) dx,
 * which turns R = sqrt(omega) into X = sqrt(omega). With x = omega exp(u) the excess k(u) = K_R - 1 gives
 *   K_X - 1 = (1/pi) integral over 0..inf of [k(u) exp(u/2) - k(-u) exp(-u/2)]/sinh(u) du.
 * The integrand is even and analytic within |Im u| < pi/2, so that the trapezoidal rule errs by exp(-pi^2/step) only.
 */
#include "line/foil.h"

#include <math.h>

#define STEP 0.25 /* of u: error exp(-39) */
#define REACH 72  /* u up to which: the tail is exp(-u/2) = 2e-16 */

static const double CANNONBALL = 14 * 4 * WW_PI / 36; /* spheres' surface over that of the foil */

double ww_foil_skin_depth(const struct ww_foil *foil, double frequency)
{
    return 1 / sqrt(WW_PI * frequency * WW_MU0 * foil->conductivity);
}

double ww_foil_surface_resistance(const struct ww_foil *foil, double frequency)
{
    return sqrt(WW_PI * frequency * WW_MU0 / foil->conductivity);
}

double ww_foil_rms(const struct ww_foil *foil)
{
    return foil->rz / (2 * sqrt(3));
}

double ww_foil_sphere_radius(const struct ww_foil *foil)
{
    return foil->sphere_radius > 0 ? foil->sphere_radius : ww_foil_rms(foil) / (2 * (1 + sqrt(2)));
}

double ww_foil_surface_ratio(const struct ww_foil *foil)
{
    return foil->surface_ratio > 0 ? foil->surface_ratio : CANNONBALL;
}

/* K_R - 1 at a skin depth. */
static double excess(const struct ww_foil *foil, double depth)
{
    double ratio = depth / ww_foil_rms(foil);
    switch (foil->model) {
    case WW_FOIL_HAMMERSTAD:
        return 2 / WW_PI * atan(1.4 / (ratio * ratio));
    case WW_FOIL_GROISS:
        return exp(-pow(0.5 * ratio, 1.6));
    case WW_FOIL_HURAY:
    case WW_FOIL_SMOOTH:
    default:
        return 0;
    }
}

/* K_X - 1: the Hilbert transform of the excess. The skin depth falls as exp(-u/2). */
static double reactive_excess(const struct ww_foil *foil, double depth)
{
    double sum = 0;
    for (double u = 0.5 * STEP; /* between the nodes: no limit at u = 0 is needed */ u < REACH; u += STEP) {
        double up = exp(0.5 * u);
        sum += (excess(foil, depth / up) * up - excess(foil, depth * up) / up) / sinh(u);
    }
    return sum * STEP / WW_PI;
}

static double _Complex huray(const struct ww_foil *foil, double depth)
{
    double x = depth / (2 * ww_foil_sphere_radius(foil));
    return 1 + 1.5 * ww_foil_surface_ratio(foil) / (1 + (1 - I) * x);
}

double _Complex ww_foil_factor(const struct ww_foil *foil, double frequency)
{
    if (foil->model == WW_FOIL_SMOOTH || !(frequency > 0))
        return 1;
    double depth = ww_foil_skin_depth(foil, frequency);
    if (foil->model == WW_FOIL_HURAY)
        return huray(foil, depth);
    return 1 + (excess(foil, depth) + I * reactive_excess(foil, depth)) / (1 + I);
}

double _Complex ww_foil_impedance(const struct ww_foil *foil, double frequency)
{
    return (1 + I) * ww_foil_surface_resistance(foil, frequency) * ww_foil_factor(foil, frequency);
}

double ww_foil_loss_factor(const struct ww_foil *foil, double frequency)
{
    if (foil->model == WW_FOIL_SMOOTH || !(frequency > 0))
        return 1;
    double depth = ww_foil_skin_depth(foil, frequency);
    return foil->model == WW_FOIL_HURAY ? creal((1 + I) * huray(foil, depth)) : 1 + excess(foil, depth);
}
