/* dispersion.h - the effective permittivity of microstrip at a frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_DISPERSION_H
#define WW_LINE_DISPERSION_H

#include <stddef.h>

#include "weftwise/line.h"

enum ww_mode { WW_SINGLE, WW_EVEN, WW_ODD };

/* Microstrip on one even substrate, bare copper under air. */
struct ww_microstrip {
    double u, g;         /* width and gap over the height of the substrate; a single trace has no g */
    double frequency_h;  /* frequency by height [Hz m] */
    double eps_r;        /* of the substrate */
    double eps_eff;      /* of the mode, static */
    double eps_eff_rise; /* d eps_eff/d eps_r, static */
};

/* Permittivity of the mode at the frequency, and its derivative with respect to eps_r. At frequency 0: eps_eff and
 * eps_eff_rise to rounding; at high frequency eps_r and 1. */
struct ww_dispersed {
    double eps_eff, eps_eff_rise;
};
struct ww_dispersed ww_disperse(enum ww_mode mode, const struct ww_microstrip *strip);

/* Whether the formula is stated for it; where it is not, `why_not` says so in a phrase. */
bool ww_is_dispersion_known(enum ww_mode mode, const struct ww_microstrip *strip, char *why_not, size_t size);

#endif
