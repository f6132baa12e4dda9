/* debye.c - permittivity and loss of a material over frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The loss tangent of a board's materials is nearly constant over decades, which one relaxation cannot give. A continuous band
 * of relaxations between f1 and f2 does (A. R. Djordjevic, R. M. Biljic, V. D. Likar-Smiljanic, T. K. Sarkar, IEEE Trans. EMC
 * 43, 662, 2001):
 *   eps(f) = eps_inf + k F(f),   F(f) = ln[(f2 + j f)/(f1 + j f)].
 * It is causal. With dk and df stated at one frequency fm,
 *   k = -dk df/Im F(fm),   eps_inf = dk - k Re F(fm),
 * so that eps'(fm) = dk and eps''(fm) = dk df exactly, and eps(f)/dk depends on df and fm alone.
 */
#include "weftwise/laminate.h"

/* ln[(f2 + j f)/(f1 + j f)] */
static double _Complex band(double f)
{
    return clog((WW_DEBYE_MOST + I * f) / (WW_DEBYE_LEAST + I * f));
}

double _Complex ww_permittivity_change(double df, double sheet, double f)
{
    if (!(df > 0.0))
        return 1.0;
    double _Complex at_sheet = band(sheet);
    double k = -df / cimag(at_sheet);
    return 1.0 + k * (band(f) - creal(at_sheet));
}
