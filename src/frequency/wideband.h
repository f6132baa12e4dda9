/* wideband.h - inside a line over frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FREQUENCY_WIDEBAND_H
#define WW_FREQUENCY_WIDEBAND_H

#include "line/conductor.h"
#include "line/foil.h"
#include "scan/slowness.h"
#include "weftwise/frequency.h"

enum { WW_EVEN_MODE, WW_ODD_MODE, WW_CROSS, WW_TERMS }; /* of the symmetric matrices over both modes */

/* Materials with one loss tangent at one frequency: eps(f)/dk is one function of them all. */
struct ww_group {
    double df, sheet;
};

/* A line whose group's permittivities are a factor lower or higher, and its scans; the derivative of capacitances by the
 * logarithm of permittivity is their difference. */
struct ww_moved {
    struct ww_stack stack;
    struct ww_line *line;
    struct ww_scan *odd, *even; /* odd: of a single trace its own */
};

struct ww_wideband {
    const struct ww_line *line;
    double length;
    bool pair, lossless;
    struct ww_foil copper;
    struct ww_conductor conductor;
    double dc;            /* resistance of a leg at direct current [ohm/m] */
    double inductance[2]; /* of the copper in air, even and odd mode [H/m] */
    double air[2];        /* capacitance of a leg in air [F/m] */
    double mean[2];       /* effective Dk of the mean line */
    double dispersed;     /* up to here the dispersion is known; above, its factors are held [Hz] */
    struct ww_scan *odd, *even;
    size_t groups;
    struct ww_group *group;
    struct ww_moved (*moved)[2]; /* [groups] lower, higher */
    double (*weight)[2];         /* [groups][mode] of the mean line: d Dk/d ln eps */
};

/* Lists the groups of a stack. WW_INVALID: a loss without its frequency. */
enum ww_status ww_groups_list(struct ww_group **group, size_t *groups, const struct ww_stack *stack,
                              struct ww_error *error);
/* The stack with the permittivities of one group times a factor, on a coarse cell; ww_moved_clear in any case. */
enum ww_status ww_moved_create(struct ww_moved *moved, const struct ww_wideband_request *request,
                               const struct ww_group *group, double factor, struct ww_error *error);
void ww_moved_clear(struct ww_moved *moved);
#define WW_MOVE 0.02 /* of permittivity, either way */

/* What one frequency makes of the constants. */
struct ww_at {
    double omega;
    double _Complex series[2]; /* Z of each mode [ohm/m] */
    double mean[2], change[2]; /* factors of dispersion on C of the mean, and on its deviations */
};
struct ww_at ww_wideband_at(const struct ww_wideband *w, double frequency, bool smooth, bool resistive);
/* eps(f)/dk - 1 of a group. */
double _Complex ww_group_change(const struct ww_wideband *w, size_t group, double frequency);
/* Of a pair's odd mode that comes back as even mode: kappa over omega and the difference of the legs' slowness, sqrt(Ze/Zo)/2 (0 of
 * a single trace); and the mean phase constant of both modes over that of the odd one. */
double ww_wideband_even_coupling(const struct ww_wideband *w);
double ww_wideband_even_share(const struct ww_wideband *w);
/* ww_wideband_solve, and of the same sections ww_wideband_dielectric at a frequency [Hz]; at 0 the attenuation is 0. */
enum ww_status ww_wideband_solve_with_loss(const struct ww_wideband *w, const double (*start)[2],
                                           const double *frequency, size_t count, struct ww_network *network,
                                           double at, double *attenuation, struct ww_error *error);
/* Effective Dk of a mode of the mean line. */
double _Complex ww_wideband_dk(const struct ww_wideband *w, const struct ww_at *at, int mode, double frequency,
                               bool lossless);

#endif
