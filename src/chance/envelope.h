/* envelope.h - extremes of each ply over a range of angles, and the design worst.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_ENVELOPE_H
#define WW_CHANCE_ENVELOPE_H

#include "chance/angle_table.h"

/* One pair of yarn counts within their tolerances: each count's share of its tolerance, and its weight among all boards. It
 * speaks for pairs whose shear, warp less fill, halved, is up to `below` less and `above` more, too. */
struct ww_stretch {
    double warp, fill, weight, below, above;
};
/* Those that are tried within tolerances of warp and fill count, the study's own in the middle. Returns how many. */
size_t ww_stretches_within(double warp, double fill, const struct ww_stretch **stretch);
/* Angle tables over the tolerances of the yarn counts: one for each stretch of the cloth, the study's own in the middle. A
 * single one where the counts have no tolerance. Zeroed is valid and empty. */
enum { WW_STRETCHES = 9 };
struct ww_angle_tables {
    size_t count;
    const struct ww_stretch *stretch;
    double shear; /* mean of the tolerances of warp and fill; 0 for a route of several directions */
    struct ww_angle_table *table[WW_STRETCHES];
    enum ww_signal signal; /* of which the envelope is */
    double spacing;        /* of WW_APART [m] */
};
enum ww_status ww_angle_tables_create(struct ww_angle_tables *tables, const struct ww_line *line,
                                      const struct ww_skew_request *request, double from, double to, double longest,
                                      struct ww_progress_run *progress, struct ww_error *error);
void ww_angle_tables_destroy(struct ww_angle_tables *tables);
const struct ww_angle_table *ww_angle_tables_nominal(const struct ww_angle_tables *tables);

/* Width of a lobe of the slowest harmonic that counts, yarn pitch over length [rad]; at most half a turn. */
double ww_angle_lobe(const struct ww_angle_table *table, double length);

/* Zeroed is valid and empty. */
struct ww_envelope {
    size_t plies, count;
    double first, step, turn;
    enum ww_signal signal;
    double spacing; /* of WW_APART [m] */
    /* [angle][ply] greatest and least over all positions and stretches [s]; of the delay of a trace its range, and 0 */
    double *high, *low;
    double *conversion; /* [angle] worst over all positions and stretches, an amplitude; NULL: not asked for */
    double worst;       /* largest with one turn of all plies, over the whole range [s] */
};
/* Over from - turn .. to + turn, an eighth of a lobe apart. Angles are multiples of one step, so that ranges that overlap
 * share their angles. */
enum ww_status ww_envelope_solve(struct ww_envelope *envelope, const struct ww_angle_tables *tables, double from,
                                 double to, double turn, double length, struct ww_progress_run *progress,
                                 struct ww_error *error);
void ww_envelope_clear(struct ww_envelope *envelope);
/* Its steps, for a value that no evaluator has: an envelope without a sample yet, for delays that differ over `length`; its
 * angles; one table's extremes, [angle][ply], those at the angles that shear turns into each among them. */
enum ww_status ww_envelope_init(struct ww_envelope *envelope, const struct ww_angle_tables *tables, double from,
                                double to, double turn, double length, struct ww_error *error);
double ww_envelope_angle(const struct ww_envelope *envelope, size_t index);
void ww_envelope_add(struct ww_envelope *envelope, const struct ww_angle_tables *tables, size_t index,
                     const double *high, const double *low);
/* The design worst at an angle of from..to: largest within +- turn, every ply at its own turn and stretch [s]. */
double ww_envelope_design(const struct ww_envelope *envelope, double angle);
/* The angle within +- turn where the value is largest with one turn of all plies [rad]. */
double ww_envelope_worst_angle(const struct ww_envelope *envelope, double angle);

/* The conversion to design by at an angle of from..to: largest within +- turn, all plies turned alike; and where that is. */
double ww_envelope_conversion(const struct ww_envelope *envelope, double angle);
double ww_envelope_conversion_angle(const struct ww_envelope *envelope, double angle);

#endif
