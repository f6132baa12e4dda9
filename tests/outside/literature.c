/* literature.c - closed formulas of the literature; see the header for sources.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "outside/literature.h"

#include <gsl/gsl_sf_ellint.h>
#include <math.h>

static const double pi = 3.14159265358979323846;
static const double eta0 = 376.730313669; /* CODATA 2018 */

static double elliptic_k(double modulus)
{
    return gsl_sf_ellint_Kcomp(modulus, GSL_PREC_DOUBLE);
}

double literature_stripline(double w_over_b)
{
    double k = 1.0 / cosh(0.5 * pi * w_over_b), k_prime = tanh(0.5 * pi * w_over_b);
    return 0.25 * eta0 * elliptic_k(k) / elliptic_k(k_prime);
}

void literature_stripline_pair(double w_over_b, double s_over_b, double *z_even, double *z_odd)
{
    double strip = tanh(0.5 * pi * w_over_b), apart = tanh(0.5 * pi * (w_over_b + s_over_b));
    double k_even = strip * apart, k_odd = strip / apart;
    *z_even = 0.25 * eta0 * elliptic_k(sqrt(1.0 - k_even * k_even)) / elliptic_k(k_even);
    *z_odd = 0.25 * eta0 * elliptic_k(sqrt(1.0 - k_odd * k_odd)) / elliptic_k(k_odd);
}

double literature_stripline_thick(double w_over_b, double t_over_b)
{
    double k = 1.0 / (1.0 - t_over_b);
    double fringe = (2.0 * k * log(k + 1.0) - (k - 1.0) * log(k * k - 1.0)) / pi;
    return 0.25 * eta0 / (k * w_over_b + fringe);
}

/* --- microstrip ------------------------------------------------------------------------------------------------- */

static double z_in_air(double u)
{
    double f = 6.0 + (2.0 * pi - 6.0) * exp(-pow(30.666 / u, 0.7528));
    return eta0 / (2.0 * pi) * log(f / u + sqrt(1.0 + 4.0 / (u * u)));
}

static double dk_effective(double er, double u)
{
    double u4 = pow(u, 4.0), small = u / 52.0;
    double a = 1.0 + log((u4 + small * small) / (u4 + 0.432)) / 49.0 + log(1.0 + pow(u / 18.1, 3.0)) / 18.7;
    double b = 0.564 * pow((er - 0.9) / (er + 3.0), 0.053);
    return 0.5 * (er + 1.0) + 0.5 * (er - 1.0) * pow(1.0 + 10.0 / u, -a * b);
}

struct mode literature_microstrip(double er, double u, double t_over_h)
{
    double u_air = u, u_er = u;
    if (t_over_h > 0.0) {
        double coth = 1.0 / tanh(sqrt(6.517 * u));
        double wider = t_over_h / pi * log(1.0 + 4.0 * exp(1.0) / (t_over_h * coth * coth));
        u_air += wider;
        u_er += 0.5 * wider * (1.0 + 1.0 / cosh(sqrt(er - 1.0)));
    }
    double dk = dk_effective(er, u_er), ratio = z_in_air(u_air) / z_in_air(u_er);
    return (struct mode){z_in_air(u_er) / sqrt(dk), dk * ratio * ratio};
}

struct modes literature_microstrip_pair(double er, double u, double g)
{
    struct mode single = literature_microstrip(er, u, 0.0);
    double half = 0.5 * (er + 1.0);

    double v = u * (20.0 + g * g) / (10.0 + g * g) + g * exp(-g);
    double ee = dk_effective(er, v);
    double ao = 0.7287 * (single.dk - half) * (1.0 - exp(-0.179 * u));
    double bo = 0.747 * er / (0.15 + er);
    double co = bo - (bo - 0.207) * exp(-0.414 * u);
    double d_o = 0.593 + 0.694 * exp(-0.562 * u);
    double eo = (half + ao - single.dk) * exp(-co * pow(g, d_o)) + single.dk;

    double q1 = 0.8695 * pow(u, 0.194);
    double q2 = 1.0 + 0.7519 * g + 0.189 * pow(g, 2.31);
    double q3 =
        0.1975 + pow(16.6 + pow(8.4 / g, 6.0), -0.387) + log(pow(g, 10.0) / (1.0 + pow(g / 3.4, 10.0))) / 241.0;
    double q4 = 2.0 * q1 / q2 / (exp(-g) * pow(u, q3) + (2.0 - exp(-g)) * pow(u, -q3));
    double q5 = 1.794 + 1.14 * log(1.0 + 0.638 / (g + 0.517 * pow(g, 2.43)));
    double q6 =
        0.2305 + log(pow(g, 10.0) / (1.0 + pow(g / 5.8, 10.0))) / 281.3 + log(1.0 + 0.598 * pow(g, 1.154)) / 5.1;
    double q7 = (10.0 + 190.0 * g * g) / (1.0 + 82.3 * pow(g, 3.0));
    double q8 = exp(-6.5 - 0.95 * log(g) - pow(g / 0.15, 5.0));
    double q9 = log(q7) * (q8 + 1.0 / 16.5);
    double q10 = q4 - q5 / q2 * exp(q6 * log(u) * pow(u, -q9));

    double slow = single.z0 * sqrt(single.dk) / eta0;
    return (struct modes){{single.z0 * sqrt(single.dk / ee) / (1.0 - slow * q4), ee},
                          {single.z0 * sqrt(single.dk / eo) / (1.0 - slow * q10), eo}};
}
