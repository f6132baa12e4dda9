/* coupling.h - inter-ply coupling: what two plies in place do to a delay beyond the sum of what each does alone.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_COUPLING_H
#define WW_SCAN_COUPLING_H

#include "scan/beat.h"

/* One product of a harmonic of one ply and one of another: 2 Re value exp(i k.r + i l.r') [s], r and r' the starts of the two. */
struct ww_coupled {
    size_t ply[2];
    struct ww_order order[2]; /* of the first m > 0, or m = 0 and l > 0; of the second of any sign */
    double k[2][2];           /* k and l [rad/m] */
    double _Complex value;
};

/* All of them that count; where plies do not couple, none. */
struct ww_coupling {
    size_t count, room;
    struct ww_coupled *of;
    struct ww_map_harmonic *added; /* work */
    double _Complex *sum;          /* likewise */
};

/* Empty, with room for so many plies. WW_NO_MEMORY. */
enum ww_status ww_coupling_init(struct ww_coupling *coupling, size_t plies, struct ww_error *error);
void ww_coupling_clear(struct ww_coupling *coupling);

/* Adds plies p < q over all segments of a route of given length, in time of flight: leg j counts share[j]. A product fades away
 * from 4e-4 to 2e-4 of the largest harmonic times the length: each is some 5e-5 of the worst along the yarns. */
void ww_coupling_add(struct ww_coupling *coupling, size_t p, size_t q, const struct ww_beat_segment *of_p,
                     const struct ww_beat_segment *of_q, size_t segments, const double share[2], double length);
/* The same with the start moved by (x, y) of shift[ply] in each ply's frame; and the value less that. */
void ww_coupling_shift(struct ww_coupling *coupling, const struct ww_extreme *shift);
void ww_coupling_apart(struct ww_coupling *coupling, const struct ww_extreme *shift);
/* Adds sign times another's products. */
void ww_coupling_combine(struct ww_coupling *coupling, const struct ww_coupling *other, double sign);

/* With the plies' starts at at[ply] [s]. */
double ww_coupling_value(const struct ww_coupling *coupling, const struct ww_extreme *at);

/* The highest top (sign 1) or lowest bottom (-1) of one ply's own map with so many harmonics added to it; near: it is the one
 * beside top, which is where it was before the harmonics changed by little. */
typedef enum ww_status ww_find_top(void *host, size_t ply, double sign, const struct ww_map_harmonic *added,
                                   size_t count, bool near, struct ww_extreme *top, struct ww_error *error);
/* From the extremes of each ply alone, top[plies], to that of all in place: the plies in turn, each to its top given where the
 * others lie, until a round gains less than `settled` of it; across: again with one after the other moved across, for another top. The values
 * then sum to the extreme, the coupling of two plies halved between them. */
enum ww_status ww_coupling_climb(const struct ww_coupling *coupling, size_t plies, double sign, double settled,
                                 bool across, struct ww_extreme *top, ww_find_top *find_top, void *host,
                                 struct ww_error *error);

#endif
