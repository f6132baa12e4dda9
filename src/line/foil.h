/* foil.h - how rough copper raises the surface impedance of smooth copper.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_FOIL_H
#define WW_LINE_FOIL_H

#include <complex.h>

#include "weftwise/fabric.h"

#define WW_MU0 (WW_ETA0 / WW_C0) /* magnetic constant [H/m] */

/* Of smooth copper at a frequency [Hz]: surface resistance [ohm], and skin depth [m]. */
double ww_foil_surface_resistance(const struct ww_foil *foil, double frequency);
double ww_foil_skin_depth(const struct ww_foil *foil, double frequency);

/* Surface impedance of the foil as it is, Rs (1 + j) K [ohm]. */
double _Complex ww_foil_impedance(const struct ww_foil *foil, double frequency);
/* K: the surface impedance is Rs (1 + j) K. With Zs = Rs (K_R + j K_X) the factor on the resistance is K_R, that on the
 * inductance K_X >= K_R: K = (K_R + j K_X)/(1 + j). Causal. 1 at frequency 0 and of smooth copper. */
double _Complex ww_foil_factor(const struct ww_foil *foil, double frequency);
/* K_R alone. */
double ww_foil_loss_factor(const struct ww_foil *foil, double frequency);

/* The figures that the models take from Rz [m]: rms roughness, and of Huray's spheres the radius and surface per area. */
double ww_foil_rms(const struct ww_foil *foil);
double ww_foil_sphere_radius(const struct ww_foil *foil);
double ww_foil_surface_ratio(const struct ww_foil *foil);

#endif
