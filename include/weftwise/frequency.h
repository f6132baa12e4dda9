/* weftwise/frequency.h - a trace or pair over frequency: line constants, scattering, where the cloth reflects.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Time factor exp(+j w t). A pair has two modes, voltages and currents normalised to power: even (V1 + V2)/sqrt 2, odd
 * (V1 - V2)/sqrt 2. Leg 1 is left of travel. Ports of a trace: 1 near, 2 far. Of a pair: 1 leg 1 near, 2 leg 2 near, 3 leg 1
 * far, 4 leg 2 far; through from 1 to 3 and from 2 to 4.
 */
#ifndef WEFTWISE_FREQUENCY_H
#define WEFTWISE_FREQUENCY_H

#include <complex.h>
#include <stdio.h>

#include "weftwise/chance.h"
#include "weftwise/core.h"
#include "weftwise/correct.h"
#include "weftwise/fabric.h"
#include "weftwise/line.h"
#include "weftwise/sweep.h"

#ifdef __cplusplus
extern "C" {
#endif

struct ww_wideband_request {
    const struct ww_line *line;  /* must outlive what is made of it, as must its stack */
    struct ww_skew_request skew; /* length, angle, route, scan.stretch and correction are used */
    struct ww_foil copper;       /* of trace and planes */
    bool lossless;               /* neither the loss of dielectric and copper, nor what it does to delay */
};

/* Whether a stack (built or not), a trace and a foil have all that loss needs, before any long work. WW_INVALID: a material with a
 * loss tangent whose sheet states no frequency for it; a trace without thickness; a foil without conductivity. */
WW_API enum ww_status ww_wideband_check(const struct ww_stack *stack, const struct ww_trace *trace,
                                        const struct ww_foil *copper, struct ww_error *error);

/* Everything but where the cloth lies. */
struct ww_wideband;
/* Statuses of ww_wideband_check, unless lossless, and of ww_stack_build, ww_line_create, ww_scan_create. */
WW_API enum ww_status ww_wideband_create(struct ww_wideband **wideband, const struct ww_wideband_request *request,
                                         struct ww_error *error);
WW_API void ww_wideband_destroy(struct ww_wideband *wideband);

/* Of the mean line at a frequency [Hz] > 0, by legs: resistance, inductance, conductance, capacitance per length. Of a single
 * trace [0][0] alone. */
struct ww_constants {
    double r[2][2], l[2][2], g[2][2], c[2][2]; /* [ohm/m], [H/m], [S/m], [F/m] */
};
WW_API void ww_wideband_constants(const struct ww_wideband *wideband, double frequency,
                                  struct ww_constants *constants);

/* Attenuation of the mean line by its causes, and its phase delay; of a pair those of the odd mode. */
struct ww_line_loss {
    double dielectric, conductor, roughness; /* [Np/m]; conductor: as if it were smooth */
    double delay;                            /* [s/m] */
};
WW_API struct ww_line_loss ww_wideband_loss(const struct ww_wideband *wideband, double frequency);

/* S-parameters, s[(f*ports + to)*ports + from]. Zeroed is valid and empty. */
struct ww_network {
    size_t ports, count;
    double z0;         /* of every port [ohm] */
    double *frequency; /* [Hz] */
    double _Complex *s;
};
WW_API void ww_network_clear(struct ww_network *network);

/* What a line or pair does whose cloth lies at start[ply] = {x, y} in each ply's frame (NULL: the mean line, of the mean over
 * all placements), at `count` frequencies, ascending and
 * > 0 [Hz]. C and G vary along the path as delay has them, L and R do not. Sections of constant line, short against the yarn
 * pitch and the wavelength: second order, error below 1e-3 dB (tests/frequency). At a route's bends the outer leg has
 * its excess length, where bends count (scan.bends). WW_INVALID: frequencies outside the law of the materials (10 kHz to 1 THz), not ascending, more than
 * 1e6, a line that would take more than 1e6 sections. WW_NO_MEMORY. */
WW_API enum ww_status ww_wideband_solve(const struct ww_wideband *wideband, const double (*start)[2],
                                        const double *frequency, size_t count, struct ww_network *network,
                                        struct ww_error *error);
/* The same with ports matched to the mean line's modes (Ze and Zo, lossless) in place of 50 ohm, as waves of these modes: port
 * order even near, odd near, even far, odd far. */
WW_API enum ww_status ww_wideband_solve_modes(const struct ww_wideband *wideband, const double (*start)[2],
                                              const double *frequency, size_t count, struct ww_network *network,
                                              struct ww_error *error);

/* Attenuation by the dielectric alone [Np/m] with the cloth at start, the mean along the path; of a pair its odd mode. First
 * order in the loss: it differs from place to place as the glass has another loss tangent than the resin. Statuses of
 * ww_wideband_solve. */
WW_API enum ww_status ww_wideband_dielectric(const struct ww_wideband *wideband, const double (*start)[2],
                                             double frequency, double *attenuation, struct ww_error *error);

/* Of a pair, mixed mode at one frequency: differential ports of 2 z0, common ports of z0/2, near and far. Of a single trace
 * through and reflection stand in the fields of the differential mode, and the others are 0. */
struct ww_mixed {
    double _Complex dd11, dd21, cd11, cd21, cc11, cc21;
};
WW_API struct ww_mixed ww_network_mixed(const struct ww_network *network, size_t index);

/* Touchstone 1.1, "# Hz S RI R 50", with the map of the ports and a note, of lines of ASCII, as comments. WW_INVALID: neither 2 nor
 * 4 ports; WW_IO. */
WW_API enum ww_status ww_network_write_touchstone(const struct ww_network *network, const char *note, FILE *stream,
                                                  struct ww_error *error);

/* Even steps from and to a frequency [Hz]. WW_INVALID: a step so wide that the phase of the line would turn by half a turn or more
 * from one to the next (the message has the step needed), fewer than 2 points, more than 1e6, or none of 10 kHz to 1 THz. */
WW_API enum ww_status ww_frequency_steps(double from, double to, size_t points, double delay, double *frequency,
                                         struct ww_error *error);

/* A start position of every ply, drawn uniformly over its cell: the `index`th of a family, the same for a seed on any machine
 * (splitmix64). start[plies]. */
WW_API void ww_wideband_draw(const struct ww_wideband *wideband, unsigned seed, size_t index, double (*start)[2]);

/* Where the cloth's period along the trace is half a wavelength, it reflects: f = c0/(2 P sqrt(Dk)), Dk with what copper adds. A
 * pair's odd mode comes back as odd mode by what both legs meet alike, and as even mode by how they differ, then where
 * f = c0/[P (sqrt(Dk_odd) + sqrt(Dk_even))]. */
struct ww_notch {
    size_t ply;        /* from 0 */
    int warp, fill;    /* order of the harmonic over the cell, warp across x and fill across y */
    double period;     /* P along the trace [m] */
    double frequency;  /* [Hz] */
    bool even;         /* of a pair: it comes back as even mode */
    double reflection; /* |S11| of the lossless line there, tanh(kappa L); of a pair |Sdd11|, or |Scd11| where even */
    double depth;      /* by which the lossless line's transmission falls there, by this notch alone [dB] */
};
/* Up to `most` of them up to a frequency, the largest reflection first, those below -40 dB left out; of a route those of its longest
 * segment. Returns how many. */
WW_API size_t ww_wideband_notches(const struct ww_wideband *wideband, double top, struct ww_notch *notch,
                                  size_t most);

/* --- the notch over routing angle ---------------------------------------------------------------------------------------- */

struct ww_notch_map_request {
    struct ww_skew_request skew; /* of the study; its correction covers the angles (ww_angles_correct) */
    double from, to;             /* [rad] */
    size_t angles;               /* >= 2 */
    double lowest, highest;      /* [Hz] */
    size_t points;               /* >= 2 */
    struct ww_progress progress;
};

/* What the cloth reflects at each routing angle and frequency: amplitude, root mean square over all places of the cloth, of
 * the lossless line matched at both ends; of a pair's odd mode what comes back as odd and as even mode, root of both squares.
 * Zeroed is valid and empty. */
struct ww_notch_map {
    size_t angles, points;
    double *angle, *frequency; /* [rad], [Hz], ascending and even */
    double *reflection; /* [points][angles], the most within the cell of the sample: half a step to each side */
};
/* At a notch within 5 % of the solved line, elsewhere the envelope of its lobes (tests/frequency). WW_INVALID: no cloth, a range
 * that is empty, fewer than 2 of either, more than WW_SWEEP_MOST angles, frequencies outside the law of the materials.
 * WW_NO_MEMORY; statuses of ww_scan_create. */
WW_API enum ww_status ww_notch_map_solve(struct ww_notch_map *map, const struct ww_wideband *wideband,
                                         const struct ww_notch_map_request *request, struct ww_error *error);
WW_API void ww_notch_map_clear(struct ww_notch_map *map);

/* The largest of the map at angles from..to (at least the one nearest to them), up to a frequency. */
struct ww_notch_peak {
    double angle, frequency, reflection; /* [rad], [Hz] */
};
WW_API struct ww_notch_peak ww_notch_map_most(const struct ww_notch_map *map, double from, double to, double top);

/* --- the answer for a figure, a table, a file ------------------------------------------------------------------------------ */

struct ww_spectrum_request {
    double from, to;   /* [Hz] */
    size_t points;     /* 0: 1001, or as many as the phase needs */
    double at;         /* where loss is split into its causes [Hz]: Nyquist or the signal's frequency; 0: nowhere */
    size_t placements; /* drawn for the bands, which hold the one shown, too; 0: no bands */
    unsigned seed;
};

/* What the skew of a placement takes from Sdd21 at a frequency, as amplitudes at most 1 or nearly: |cos(pi f tau)| of legs that do
 * not couple, and solved, |Sdd21| over that of the mean line. In a coupled pair the modes' different velocities undo the skew's
 * part, and what is converted may come back. */
struct ww_skew_penalty {
    double skew; /* tau, leg 1 less leg 2, bends with it [s] */
    double uncoupled, solved;
};

/* S-parameters of one placement as amplitudes, of a pair in mixed mode; zeroed is valid and empty. */
struct ww_spectrum {
    bool pair;
    struct ww_network network; /* of the placement, frequencies with it */
    double *loss;              /* [count] |Sdd21|, single |S21| */
    double *conversion;        /* |Scd21|; 0 of a single trace */
    double *reflection;        /* |Sdd11| */
    double *phase;             /* of Sdd21 less that of the mean line [rad] */
    size_t placements;         /* of the bands, at `bands` of the frequencies */
    size_t bands;
    double *band_frequency;
    double *loss_least, *loss_most, *conversion_least, *conversion_most, *phase_least, *phase_most; /* [bands] */
    double at;
    struct ww_line_loss at_loss;                    /* of the mean line, there */
    double at_dielectric_least, at_dielectric_most; /* [Np/m] over the placements; 0 without bands */
    struct ww_skew_penalty at_penalty;              /* of a pair */
    size_t notches;
    struct ww_notch notch[8];
    bool lossless; /* neither dielectric nor copper has a loss: at_loss is its delay alone */
};
/* start: of the placement to show. Statuses of ww_frequency_steps and ww_wideband_solve. Some 0.2 s of CPU for 50 mm at 1001
 * frequencies, and for each placement of the bands a fifth of that. */
WW_API enum ww_status ww_spectrum_solve(struct ww_spectrum *spectrum, const struct ww_wideband *wideband,
                                        const struct ww_spectrum_request *request, const double (*start)[2],
                                        const struct ww_progress *progress, struct ww_error *error);
WW_API void ww_spectrum_clear(struct ww_spectrum *spectrum);

/* Placements by name: that whose leg 1 has the least delay; the middle one of 255 drawn by the size of its skew (of a single trace by
 * its delay). start[plies]. */
WW_API enum ww_status ww_wideband_fastest(const struct ww_wideband *wideband, double (*start)[2],
                                          struct ww_error *error);
WW_API enum ww_status ww_wideband_median(const struct ww_wideband *wideband, double (*start)[2],
                                         struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
