/* constants.c - resistance, inductance, conductance and capacitance of a line over frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each mode of a symmetrical pair has its own. In series, with Rs and K of line/foil.c and the spread g of line/conductor.c:
 *   Z = j omega L + sqrt(R0^2 + [Rs (1 + j) K g_trace]^2) + Rs (1 + j) K g_planes,   L = 1/(c0^2 Ca).
 * R0 is the trace's resistance at direct current; the planes, wide and thick, have none. The root blends both ends: at high
 * frequency it is the skin's, at low frequency R0 + j omega mu g^2/(2 sigma R0), a constant internal inductance. Of a round wire both
 * ends are exact (mu/8 pi), and between them it is within 6.4 % in resistance and 10.3 % in reactance (tests/frequency). It is analytic to the right of
 * the axis of frequency: causal. The copper's reactance slows the line, rough copper more.
 *
 * Across: C of materials.c, Y = j omega C with its loss as G.
 *
 * Dispersion of bare microstrip (line/dispersion.c) multiplies the mean slowness by a factor m and its deviations by another; the
 * impedance stays. So L and C of a mode are multiplied by m, and deviations of C by that of deviations. Above the formula's range
 * its last factors are held: a factor that fell back to 1 would jump in phase, and ring before the front. m is real, and rises
 * with frequency: without the loss (radiation) that a causal rise has beside it, and so not causal by itself. What that does to an
 * impulse is measured (tests/outside/network.py): nothing above -60 dB comes before the line's own front.
 */
#include "frequency/wideband.h"

#include <math.h>

struct ww_at ww_wideband_at(const struct ww_wideband *w, double frequency, bool smooth, bool resistive)
{
    struct ww_at at = {.omega = 2 * WW_PI * frequency};
    struct ww_dispersion d;
    ww_line_dispersion_at(w->line, fmin(frequency, w->dispersed), &d);
    at.mean[WW_ODD_MODE] = d.mean;
    at.mean[WW_EVEN_MODE] = w->pair ? d.mean_even : d.mean;
    at.change[WW_ODD_MODE] = d.change;
    at.change[WW_EVEN_MODE] = w->pair ? d.mean_even : d.change;
    const struct ww_spread *spread[] = {&w->conductor.even, w->pair ? &w->conductor.odd : &w->conductor.even};
    double _Complex surface = 0;
    if (resistive && !w->lossless)
        surface = smooth ? (1 + I) * ww_foil_surface_resistance(&w->copper, frequency)
                         : ww_foil_impedance(&w->copper, frequency);
    for (int mode = 0; mode < 2; mode++) {
        at.series[mode] = I * at.omega * w->inductance[mode] * at.mean[mode];
        if (resistive && !w->lossless)
            at.series[mode] += ww_conductor_impedance(spread[mode], w->dc, surface);
    }
    return at;
}

double _Complex ww_group_change(const struct ww_wideband *w, size_t group, double frequency)
{
    return ww_permittivity_change(w->group[group].df, w->group[group].sheet, frequency) - 1;
}

double _Complex ww_wideband_dk(const struct ww_wideband *w, const struct ww_at *at, int mode, double frequency,
                               bool lossless)
{
    double _Complex dk = w->mean[mode];
    for (size_t g = 0; g < w->groups; g++) {
        double _Complex change = ww_group_change(w, g, frequency);
        dk += w->weight[g][mode] * (lossless ? creal(change) : change);
    }
    return dk * at->mean[mode];
}

void ww_wideband_constants(const struct ww_wideband *w, double frequency, struct ww_constants *k)
{
    struct ww_at at = ww_wideband_at(w, frequency, false, true);
    double _Complex z[2], y[2];
    for (int mode = 0; mode < 2; mode++) {
        z[mode] = at.series[mode];
        y[mode] = I * at.omega * w->air[mode] * ww_wideband_dk(w, &at, mode, frequency, false);
    }
    *k = (struct ww_constants){0};
    for (int i = 0; i < (w->pair ? 2 : 1); i++)
        for (int j = 0; j < (w->pair ? 2 : 1); j++) {
            double sign = i == j ? 1 : -1;
            double _Complex zij = w->pair ? 0.5 * (z[WW_EVEN_MODE] + sign * z[WW_ODD_MODE]) : z[WW_EVEN_MODE];
            double _Complex yij = w->pair ? 0.5 * (y[WW_EVEN_MODE] + sign * y[WW_ODD_MODE]) : y[WW_EVEN_MODE];
            k->r[i][j] = creal(zij);
            k->l[i][j] = cimag(zij) / at.omega;
            k->g[i][j] = creal(yij);
            k->c[i][j] = cimag(yij) / at.omega;
        }
}

/* Propagation constant of the driven mode of the mean line. */
static double _Complex propagation(const struct ww_wideband *w, double frequency, bool lossless, bool smooth,
                                   bool resistive)
{
    struct ww_at at = ww_wideband_at(w, frequency, smooth, resistive);
    double _Complex dk = ww_wideband_dk(w, &at, WW_ODD_MODE, frequency, lossless);
    return csqrt(at.series[WW_ODD_MODE] * I * at.omega * w->air[WW_ODD_MODE] * dk);
}

struct ww_line_loss ww_wideband_loss(const struct ww_wideband *w, double frequency)
{
    double _Complex all = propagation(w, frequency, false, false, true);
    double smooth = creal(propagation(w, frequency, false, true, true));
    double dielectric = creal(propagation(w, frequency, false, true, false));
    return (struct ww_line_loss){dielectric, smooth - dielectric, creal(all) - smooth,
                                 cimag(all) / (2 * WW_PI * frequency)};
}
