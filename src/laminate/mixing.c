/* mixing.c - what a bundle of glass filaments in resin is worth, across and along its fibres.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A yarn is some hundreds of parallel glass cylinders with resin between them; V is the glass's share of the
 * bundle's cross-section. Seen along the fibres, glass and resin lie side by side in the same field, and the
 * arithmetic mean is exact. Across the fibres, a lone cylinder in a uniform field keeps a uniform field inside,
 *   E_in = 2 eps_r / (eps_g + eps_r) E,
 * and averaging D and E over cylinders that only feel each other's mean field gives the 2-D form of Maxwell
 * Garnett's rule (J. C. Maxwell Garnett, Phil. Trans. R. Soc. A 203, 385, 1904; for cylinders it is the first
 * term of Lord Rayleigh, Phil. Mag. 34, 481, 1892):
 *   eps_t = eps_r [(eps_g + eps_r) + V (eps_g - eps_r)] / [(eps_g + eps_r) - V (eps_g - eps_r)].
 * Against the exact square array of cylinders the rule is low by 0.03 % at V = 0.4, 0.1 % at 0.5, 0.2 % at 0.6
 * and 0.5 % at 0.7, for glass 6.6 in resin 3.2 (held by tests/laminate/test_mixing.c). It is also the Hashin-Shtrikman
 * lower bound of a transversely isotropic bundle, so real bundles lie at or above it.
 *
 * The same formulas hold for complex permittivities and carry the loss with them; the time factor is exp(+j w t).
 * The packing is not checked here: V = 0 is resin, V = 1 is solid glass, and both are exact.
 */
#include "weftwise/laminate.h"

double _Complex ww_permittivity(double dk, double df)
{
    return dk - I * (dk * df);
}

double _Complex ww_bundle_across(double _Complex eps_g, double _Complex eps_r, double packing)
{
    double _Complex sum = eps_g + eps_r;
    double _Complex difference = packing * (eps_g - eps_r);
    return eps_r * (sum + difference) / (sum - difference);
}

double _Complex ww_bundle_along(double _Complex eps_g, double _Complex eps_r, double packing)
{
    return packing * eps_g + (1.0 - packing) * eps_r;
}
