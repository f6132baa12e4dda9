/* water.c - what water does to the resin that takes it up.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Water of weight M per dry weight, in resin of density r, swells it by its own volume, so its share of the wet volume is
 *   f = M r / (1 + M r),   r relative to water.
 * Drops that do not touch (J. C. Maxwell Garnett, Phil. Trans. R. Soc. A 203, 385, 1904), eps_w in eps_r:
 *   eps = eps_r (1 + 3 f b/(1 - f b)),   b = (eps_w - eps_r)/(eps_w + 2 eps_r).
 * Bulk water relaxes by P. Debye: eps_w = e_inf + (e_s - e_inf)/(1 + j w tau). Water bound to resin relaxes at lower
 * frequencies, so at some GHz this is an upper estimate; measured changes (moisture.dk, moisture.df) come first. Near 70 GHz
 * the Dk hardly tells one mixing rule from another; the loss does, and is that of drops that do not touch (tests/budget).
 */
#include "weftwise/budget.h"

static const double water_static = 78.36, water_high = 5.2, water_time = 8.27e-12, water_density = 1000.0;

double _Complex ww_water_permittivity(double frequency)
{
    return water_high + (water_static - water_high) / (1.0 + I * (2.0 * WW_PI * frequency * water_time));
}

double ww_water_share(double uptake, double density)
{
    double volume = uptake * density / water_density;
    return volume / (1.0 + volume);
}

double _Complex ww_wet_permittivity(double _Complex resin, double _Complex water, double share)
{
    double _Complex drop = (water - resin) / (water + 2.0 * resin);
    return resin * (1.0 + 3.0 * share * drop / (1.0 - share * drop));
}
