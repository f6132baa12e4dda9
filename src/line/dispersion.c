/* dispersion.c - the effective permittivity of microstrip at a frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A microstrip has air above and a substrate below. As the frequency rises the field draws into the substrate, and the
 * effective permittivity grows from its static value to that of the substrate:
 *   eps_eff(f) = eps_r - (eps_r - eps_eff(0))/(1 + P),
 *   P = P1 P2 [(P3 P4 + 0.1844 P7) P15 f_n]^1.5763,   f_n = f h in GHz mm,   u = w/h,   g = s/h.
 *   P1 = 0.27488 + (0.6315 + 0.525/(1 + 0.0157 f_n)^20) u - 0.065683 exp(-8.7513 u)
 *   P2 = 0.33622 (1 - exp(-0.03442 eps_r))
 *   P3 = 0.0363 exp(-4.6 u) (1 - exp(-(f_n/38.7)^4.97))
 *   P4 = 1 + 2.751 (1 - exp(-(eps_r/15.916)^8))
 * A single trace has P7 = P15 = 1. M. Kirschning and R. H. Jansen, "Accurate model for effective dielectric constant of
 * microstrip with validity up to millimetre-wave frequencies", Electronics Letters 18 (6), 272, 1982: 0.6 % of eps_eff for
 * 0.1 <= u <= 100, 1 <= eps_r <= 20, h below 0.13 wavelengths in air.
 *
 * The even mode of a pair has P15 = 1 and
 *   P5 = 0.334 exp(-3.3 (eps_r/15)^3) + 0.746,   P6 = P5 exp(-(f_n/18)^0.368)
 *   P7 = 1 + 4.069 P6 g^0.479 exp(-1.347 g^0.595 - 0.17 g^2.5)
 * and the odd mode P7 = 1 and
 *   P8  = 0.7168 (1 + 1.076/(1 + 0.0576 (eps_r - 1)))
 *   P9  = P8 - 0.7913 (1 - exp(-(f_n/20)^1.424)) atan(2.481 (eps_r/8)^0.946)
 *   P10 = 0.242 (eps_r - 1)^0.55
 *   P11 = 0.6366 (exp(-0.3401 f_n) - 1) atan(1.263 (u/3)^1.629)
 *   P12 = P9 + (1 - P9)/(1 + 1.183 u^1.376)
 *   P13 = 1.695 P10/(0.414 + 1.605 P10)
 *   P14 = 0.8928 + 0.1072 (1 - exp(-0.42 (f_n/20)^3.215))
 *   P15 = |1 - 0.8928 (1 + P11) P12 exp(-P13 g^1.092)/P14|
 * M. Kirschning and R. H. Jansen, "Accurate wide-range design equations for the frequency-dependent characteristic of
 * parallel coupled microstrip lines", IEEE Trans. MTT-32, 83, 1984: 1.4 % of eps_eff for 0.1 <= u, g <= 10,
 * 1 <= eps_r <= 18, f_n <= 25 GHz mm. (Ranges and accuracies from memory.)
 *
 * eps_eff(0) is that of the solved cross-section, so that at f = 0 nothing changes. The substrate's eps_r is that of
 * the layers from plane to trace in series, as the field at high frequency meets them: h/eps_r = sum of dz/eps_z.
 *
 * Cloth is a change of the substrate from place to place. A small change d of eps_r moves eps_eff(0) by
 *   d eps_eff(0)/d eps_r = (share of the field's energy in the substrate) eps_eff(0)/eps_r,
 * exactly, where all of its layers change in proportion (C is stationary in the field). How eps_eff(f) follows eps_r is
 * the derivative of the formulas with that of eps_eff(0) put in. So slowness S = sqrt(eps_eff)/c has two factors:
 *   on its mean       S(f)/S(0)   = sqrt(eps_eff(f)/eps_eff(0)),
 *   on deviations   dS(f)/dS(0) = [d eps_eff(f)/d eps_r]/[d eps_eff(0)/d eps_r] / sqrt(eps_eff(f)/eps_eff(0)).
 * That takes each bundle's change to draw the field as the same change of all of the substrate would.
 *
 * The derivative is by a complex step (W. Squire and G. Trapp, SIAM Review 40, 110, 1998): with eps_r + i d the imaginary
 * part of eps_eff(f) is d times the derivative, without a difference of near-equal numbers.
 */
#include "line/dispersion.h"
#include "line/line.h"

#include <complex.h>
#include <math.h>
#include <stdio.h>

#define STEP 1e-8         /* of eps_r: its square is below rounding */
#define PER_GHZ_MM 1e-6   /* Hz m -> GHz mm */
#define SINGLE_MOST 38.97 /* f_n [GHz mm]: h is 0.13 wavelengths in air */
#define PAIR_MOST 25.0    /* f_n [GHz mm] */

/* P7 of the even mode. */
static double _Complex even_factor(double g, double _Complex eps_r, double fn)
{
    double _Complex scaled = eps_r / 15;
    double _Complex p5 = 0.334 * cexp(-3.3 * scaled * scaled * scaled) + 0.746;
    double _Complex p6 = p5 * exp(-pow(fn / 18, 0.368));
    return 1 + 4.069 * p6 * pow(g, 0.479) * exp(-1.347 * pow(g, 0.595) - 0.17 * pow(g, 2.5));
}

/* P15 of the odd mode. */
static double _Complex odd_factor(double u, double g, double _Complex eps_r, double fn)
{
    double _Complex p8 = 0.7168 * (1 + 1.076 / (1 + 0.0576 * (eps_r - 1)));
    double _Complex p9 = p8 - 0.7913 * (1 - exp(-pow(fn / 20, 1.424))) * catan(2.481 * cpow(eps_r / 8, 0.946));
    double _Complex p10 = 0.242 * cpow(eps_r - 1, 0.55);
    double p11 = 0.6366 * (exp(-0.3401 * fn) - 1) * atan(1.263 * pow(u / 3, 1.629));
    double _Complex p12 = p9 + (1 - p9) / (1 + 1.183 * pow(u, 1.376));
    double _Complex p13 = 1.695 * p10 / (0.414 + 1.605 * p10);
    double p14 = 0.8928 + 0.1072 * (1 - exp(-0.42 * pow(fn / 20, 3.215)));
    double _Complex p15 = 1 - 0.8928 * (1 + p11) * p12 * cexp(-p13 * pow(g, 1.092)) / p14;
    return creal(p15) < 0 ? -p15 : p15;
}

/* P of the mode. */
static double _Complex growth(enum ww_mode mode, double u, double g, double _Complex eps_r, double fn)
{
    double p1 = 0.27488 + (0.6315 + 0.525 / pow(1 + 0.0157 * fn, 20)) * u - 0.065683 * exp(-8.7513 * u);
    double _Complex p2 = 0.33622 * (1 - cexp(-0.03442 * eps_r));
    double p3 = 0.0363 * exp(-4.6 * u) * (1 - exp(-pow(fn / 38.7, 4.97)));
    double _Complex p4 = 1 + 2.751 * (1 - cexp(-cpow(eps_r / 15.916, 8)));
    double _Complex p7 = mode == WW_EVEN ? even_factor(g, eps_r, fn) : 1;
    double _Complex p15 = mode == WW_ODD ? odd_factor(u, g, eps_r, fn) : 1;
    double _Complex base = (p3 * p4 + 0.1844 * p7) * p15 * fn;
    return base == 0 ? 0 : p1 * p2 * cpow(base, 1.5763);
}

struct ww_dispersed ww_disperse(enum ww_mode mode, const struct ww_microstrip *strip)
{
    double step = STEP * strip->eps_r;
    double _Complex eps_r = strip->eps_r + I * step, eps_eff = strip->eps_eff + I * step * strip->eps_eff_rise;
    double _Complex p = growth(mode, strip->u, strip->g, eps_r, strip->frequency_h * PER_GHZ_MM);
    double _Complex at = eps_eff + (eps_r - eps_eff) * (p / (1 + p)); /* exact at p = 0 */
    return (struct ww_dispersed){creal(at), cimag(at) / step};
}

static bool is_within(const char *name, double value, double low, double high, char *why_not, size_t size)
{
    if (value >= low && value <= high)
        return true;
    snprintf(why_not, size, "%s is %.3g, and the formula is for %.3g to %.3g", name, value, low, high);
    return false;
}

bool ww_is_dispersion_known(enum ww_mode mode, const struct ww_microstrip *strip, char *why_not, size_t size)
{
    bool single = mode == WW_SINGLE;
    return is_within("width over height", strip->u, 0.1, single ? 100 : 10, why_not, size) &&
           (single || is_within("gap over height", strip->g, 0.1, 10, why_not, size)) &&
           is_within("Dk of the substrate", strip->eps_r, 1, single ? 20 : 18, why_not, size) &&
           is_within("frequency by height in GHz mm", strip->frequency_h * PER_GHZ_MM, 0,
                     single ? SINGLE_MOST : PAIR_MOST, why_not, size);
}

/* --- of a line ----------------------------------------------------------------------------------------------------------- */

static bool is_covered(const struct ww_mesh *mesh)
{
    for (size_t r = mesh->bottom; r < mesh->rows; r++)
        if (mesh->row[r].eps_z != 1 || mesh->row[r].eps_n != 1)
            return true;
    return false;
}

/* Height and Dk of what lies between plane and trace, in series. */
static void measure_substrate(const struct ww_mesh *mesh, double *height, double *eps_r)
{
    double series = 0;
    *height = 0;
    for (size_t r = 0; r < mesh->bottom; r++) {
        *height += mesh->row[r].dz;
        series += mesh->row[r].dz / creal(mesh->row[r].eps_z);
    }
    *eps_r = *height / series;
}

/* Share of the energy of a mode in the substrate. */
static double share_of_substrate(const struct ww_mesh *mesh, const double *potential)
{
    double all = 0, substrate = 0;
    for (size_t r = 0; r < mesh->rows; r++) {
        struct ww_row_energy energy = ww_background_energy(mesh, potential, r);
        double stored = creal(mesh->row[r].eps_z) * energy.z + creal(mesh->row[r].eps_n) * energy.n;
        all += stored;
        substrate += r < mesh->bottom ? stored : 0;
    }
    return substrate / all;
}

/* The factors of the driven mode, and of a pair's even mode. */
static void find_factors(struct ww_dispersion *d, const struct ww_line *line)
{
    bool pair = line->mesh.pair;
    double height, eps_r;
    measure_substrate(&line->mesh, &height, &eps_r);
    struct ww_microstrip strip = {.u = line->trace.width / height,
                                  .g = pair ? (line->summary.pitch - line->trace.width) / height : 0,
                                  .frequency_h = d->frequency * height,
                                  .eps_r = eps_r,
                                  .eps_eff = line->static_dk};
    enum ww_mode driven = pair ? WW_ODD : WW_SINGLE;
    if (!ww_is_dispersion_known(driven, &strip, d->why_not, sizeof d->why_not))
        return;
    strip.eps_eff_rise = line->substrate_share * strip.eps_eff / eps_r;
    struct ww_dispersed at = ww_disperse(driven, &strip);
    d->applied = true;
    d->mean = sqrt(at.eps_eff / strip.eps_eff);
    d->change = at.eps_eff_rise / strip.eps_eff_rise / d->mean;
    if (!pair)
        return;
    strip.eps_eff = line->static_dk_even;
    d->mean_even = sqrt(ww_disperse(WW_EVEN, &strip).eps_eff / line->static_dk_even);
}

void ww_line_dispersion_at(const struct ww_line *line, double frequency, struct ww_dispersion *d)
{
    *d = (struct ww_dispersion){.frequency = frequency, .mean = 1, .change = 1, .mean_even = line->mesh.pair ? 1 : 0};
    if (!(frequency > 0) || line->stack->layer[0].kind == WW_LAYER_PLANE)
        return;
    if (is_covered(&line->mesh))
        snprintf(d->why_not, sizeof d->why_not, "the trace is covered, and the formula is for bare copper under air");
    else
        find_factors(d, line);
}

double ww_line_dispersion_top(const struct ww_line *line)
{
    double height, eps_r;
    struct ww_dispersion d;
    measure_substrate(&line->mesh, &height, &eps_r);
    double top = (line->mesh.pair ? PAIR_MOST : SINGLE_MOST) / (height * PER_GHZ_MM) * (1 - 1e-9);
    ww_line_dispersion_at(line, top, &d);
    return d.applied ? top : 0;
}

void ww_line_disperse(struct ww_line *line, const double *potential)
{
    struct ww_line_summary *s = &line->summary;
    line->static_dk = s->dk_eff;
    line->static_dk_even = s->dk_even;
    line->substrate_share =
        line->stack->layer[0].kind == WW_LAYER_PLANE ? 1 : share_of_substrate(&line->mesh, potential);
    struct ww_dispersion *d = &s->dispersion;
    ww_line_dispersion_at(line, d->frequency, d);
    s->dk_eff *= d->mean * d->mean;
    s->delay *= d->mean;
    if (!line->mesh.pair)
        return;
    s->dk_odd = s->dk_eff;
    s->dk_even *= d->mean_even * d->mean_even;
}
