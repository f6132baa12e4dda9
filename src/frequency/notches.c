/* notches.c - where the cloth's period along the trace reflects.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Over a harmonic k of the cloth, C has along the trace the part 2 |C^| cos(k.u s + ..), of period P = 2 pi/|k.u|. Where P is half a
 * wavelength, f = c0/(2 P sqrt(Dk)), what each period reflects adds up: the coupled-mode equations of the waves there and back
 * give (A. Yariv, IEEE J. Quantum Electron. 9, 919, 1973)
 *   |S11| = tanh(kappa L),   kappa = pi m/(4 P),   m = 2 |C^|/C.
 * With slowness S = sqrt(C ..), m is 4 |S^|/S, so that kappa = omega |S^|. In a pair the mean of the legs' S^ does that to the odd
 * mode, and their difference sends it back as even mode, in the way that it converts forwards (chance/conversion.c):
 *   kappa = (omega/2) sqrt(Ze/Zo) |S1^ - S2^|,   where 2 pi/P = beta_odd + beta_even.
 * A turned pair whose pitch is near half a yarn's period has hardly anything of the first, and much of the second. Plies
 * reflect each on its own, harmonics of one period (such as those along the yarns) at their worst together.
 */
#include "frequency/wideband.h"

#include <math.h>
#include <stdlib.h>

#define LEAST 1e-2 /* of |S11|, -40 dB */
#define ALIKE 1e-3 /* share by which periods of one notch may differ */
#define MOST_FOUND 4096

struct found {
    struct ww_notch notch;
    double kappa;
};

static int by_kappa(const void *a, const void *b)
{
    double x = ((const struct found *)a)->kappa, y = ((const struct found *)b)->kappa;
    return (x < y) - (x > y);
}

double ww_wideband_even_coupling(const struct ww_wideband *w)
{
    if (!w->pair)
        return 0;
    double odd = w->air[WW_ODD_MODE] * sqrt(w->mean[WW_ODD_MODE]);
    double even = w->air[WW_EVEN_MODE] * sqrt(w->mean[WW_EVEN_MODE]);
    return 0.5 * sqrt(odd / even);
}

double ww_wideband_even_share(const struct ww_wideband *w)
{
    return 0.5 * (1 + sqrt(w->mean[WW_EVEN_MODE] / w->mean[WW_ODD_MODE]));
}

/* kappa over omega [s/m]. */
static double coupling(const struct ww_wideband *w, const struct ww_ply_scan *ply, size_t h, bool even)
{
    double _Complex leg1 = ply->coefficient[0][WW_MEAN][h];
    double _Complex leg2 = w->pair ? ply->coefficient[1][WW_MEAN][h] : leg1;
    return even ? ww_wideband_even_coupling(w) * cabs(leg1 - leg2) : cabs(0.5 * (leg1 + leg2));
}

/* Adds a harmonic to the notch of its ply and period, or starts one. */
static size_t add(struct found *found, size_t count, const struct found *next)
{
    for (size_t i = 0; i < count; i++)
        if (found[i].notch.ply == next->notch.ply && found[i].notch.even == next->notch.even &&
            fabs(found[i].notch.period / next->notch.period - 1) < ALIKE) {
            found[i].kappa += next->kappa;
            return count;
        }
    if (count < MOST_FOUND)
        found[count++] = *next;
    return count;
}

/* Where the period is half a wavelength of the line with its copper and dispersion, which changes slowly with frequency. */
static double half_wave(const struct ww_wideband *w, const struct ww_notch *notch)
{
    double f = notch->frequency, share = notch->even ? ww_wideband_even_share(w) : 1;
    for (int i = 0; i < 3; i++)
        f = 0.5 / (notch->period * ww_wideband_loss(w, f).delay * share);
    return f;
}

size_t ww_wideband_notches(const struct ww_wideband *w, double top, struct ww_notch *notch, size_t most)
{
    struct found *found = calloc(MOST_FOUND, sizeof *found);
    struct ww_scan_segment longest = ww_scan_segment_at(w->odd, 0);
    size_t count = 0, kept = 0;
    for (size_t i = 1; i < ww_scan_segments(w->odd); i++)
        if (ww_scan_segment_at(w->odd, i).share > longest.share)
            longest = ww_scan_segment_at(w->odd, i);
    double length = longest.share * w->length;
    for (size_t p = 0; found && p < w->odd->plies; p++) {
        const struct ww_ply_scan *ply = &longest.scan->ply[p];
        for (size_t i = 2; i < 2 * ply->harmonics; i++) {
            size_t h = i / 2;
            bool even = i % 2 == 1;
            struct ww_order order = ply->order[h];
            double along = fabs(order.m / ply->lx * ply->ux + order.l / ply->ly * ply->uy); /* 1/P */
            double slowness = sqrt(w->mean[WW_ODD_MODE]) / WW_C0 * (even ? ww_wideband_even_share(w) : 1);
            double f = 0.5 * along / slowness, kappa = 2 * WW_PI * f * coupling(w, ply, h, even);
            if (!(along * length >= 1) || f > top || kappa * length < 0.01 * LEAST)
                continue;
            count = add(found, count, &(struct found){{p, order.m, order.l, 1 / along, f, even, 0, 0}, kappa});
        }
    }
    if (found)
        qsort(found, count, sizeof *found, by_kappa);
    for (size_t i = 0; i < count && kept < most; i++) {
        double phase = found[i].kappa * length;
        if (tanh(phase) < LEAST)
            continue;
        notch[kept] = found[i].notch;
        notch[kept].frequency = half_wave(w, &found[i].notch);
        notch[kept].reflection = tanh(phase);
        notch[kept++].depth = 20 * log10(cosh(phase));
    }
    free(found);
    return kept;
}
