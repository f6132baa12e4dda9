/* angle_table.h - harmonics of the slowness at a row of angles, so that any angle between and any length cost a small map.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_ANGLE_TABLE_H
#define WW_CHANCE_ANGLE_TABLE_H

#include "core/progress.h"
#include "chance/conversion.h"
#include "correct/correction.h"
#include "scan/coupling.h"
#include "weftwise/chance.h"

/* Harmonics of one ply at every scanned angle. */
struct ww_angle_table_ply {
    double lx, ly, turn;
    size_t harmonics;
    struct ww_order *order;       /* the first is the mean */
    size_t rows;                  /* of the small map that hold every value */
    double _Complex *slowness[2]; /* [leg][angle][harmonic] [s/m] */
};

struct ww_angle_table {
    size_t plies;
    bool pair;
    double from, to;    /* angles of the trace that it serves [rad] */
    double first, step; /* of the scanned angles [rad] */
    size_t count;
    const struct ww_route_segment *route; /* of the request, or the one segment below */
    size_t segments;
    struct ww_route_segment straight;
    double start[2]; /* of the route off the position that is asked for, turned with it [m] */
    double length;   /* of the route [m] */
    double pitch;    /* of the pair [m] */
    double spacing;  /* to the trace or pair beside it [m]; 0: none */
    bool bends;      /* count as skew */
    bool couples;    /* plies couple (scan/coupling.c) */
    double mean;     /* slowness [s/m] */
    double level[2]; /* of each leg with every ply at its mean, before the correction, in time of flight [s/m] */
    struct ww_angle_table_ply *ply;
    struct ww_modes *modes; /* [count] with the trace at the scanned angles; NULL: no conversion is asked for */
};

/* Scans for all angles in [from, to] and lengths up to `longest` [m]. The request, with its route, must outlive the
 * table. Statuses of ww_scan_create. */
enum ww_status ww_angle_table_create(struct ww_angle_table **table, const struct ww_line *line,
                                     const struct ww_skew_request *request, double from, double to, double longest,
                                     struct ww_progress_run *progress, struct ww_error *error);
void ww_angle_table_destroy(struct ww_angle_table *table);

/* Adds the directions of a route's segments to a list of `count`, each once, with the length of its first; returns how many there are
 * then. A table of them as its route serves all of the routes. direction[count + segments]. */
size_t ww_directions_add(struct ww_route_segment *direction, size_t count, const struct ww_route_segment *route,
                         size_t segments);

/* table := factor (table - other): what a small change of the line does, where `other` is the same request on the changed line. A
 * harmonic that the other has too faint to keep counts as unchanged. Modes stay. */
void ww_angle_table_subtract(struct ww_angle_table *table, const struct ww_angle_table *other, double factor);

/* The same table along another route, all of whose directions it serves, from another start. The route must outlive it; it
 * is a view, never destroyed. */
struct ww_angle_table ww_angle_table_along(const struct ww_angle_table *table, const struct ww_route_segment *route,
                                           size_t segments, const double start[2]);

/* Evaluates a table at one angle; each thread has its own. */
struct ww_evaluator;
enum ww_status ww_evaluator_create(struct ww_evaluator **evaluator, const struct ww_angle_table *table,
                                   struct ww_error *error);
void ww_evaluator_destroy(struct ww_evaluator *evaluator);
void ww_evaluator_turn(struct ww_evaluator *evaluator, double angle);
/* Evaluates another signal than the one that is judged. Of WW_APART the traces are `spacing` [m] apart. */
void ww_evaluator_judge(struct ww_evaluator *evaluator, enum ww_signal signal, double spacing);
/* Unit vector to the left of the line from the start of the trace to its end, in the frame of one ply. */
void ww_evaluator_left(const struct ww_evaluator *evaluator, size_t ply, double *x, double *y);

/* visit(host, evaluator, i) for i = 0..count-1, on all threads, each with an evaluator of its own: it writes by index. Counts
 * every i as progress. Statuses of ww_evaluator_create. */
typedef void ww_evaluator_visit(void *host, struct ww_evaluator *evaluator, size_t i);
enum ww_status ww_evaluate_all(const struct ww_angle_table *table, size_t count, ww_evaluator_visit *visit,
                               void *host, struct ww_progress_run *progress, struct ww_error *error);

/* What one ply has of the greatest and of the least value of all plies in place, over all positions, at the length of the
 * request times `lengthening` [s]. The coupling of two plies is halved between them: the plies' parts sum to the extremes. */
struct ww_reach {
    double high, low;
};
struct ww_reach ww_evaluator_reach(struct ww_evaluator *evaluator, size_t ply, double lengthening);
/* Of every ply, high[plies] and low[plies]. */
void ww_evaluator_reaches(struct ww_evaluator *evaluator, double lengthening, double *high, double *low);
enum { WW_EVALUATED = 64 };
/* Maps of all plies, of WW_EVALUATED by as many samples of which the first rows[ply] rows hold every value. */
struct ww_plies_maps {
    struct ww_map *map; /* [plies] */
    size_t *rows;       /* [plies] */
    double *work;       /* [1 + plies] maps, the first for the search, the others for the plies' values */
};
enum ww_status ww_plies_maps_init(struct ww_plies_maps *maps, size_t plies, struct ww_error *error);
void ww_plies_maps_clear(struct ww_plies_maps *maps);
/* Extremes of all in place, the coupling of each two plies halved between them; low may be NULL. */
void ww_maps_extremes(const struct ww_plies_maps *maps, size_t plies, const struct ww_coupling *coupling,
                      struct ww_extreme *high, struct ww_extreme *low);
/* The inter-ply coupling at the length of the request; valid until the next call. */
const struct ww_coupling *ww_evaluator_coupling(struct ww_evaluator *evaluator);
/* The map of one ply, of which the first `rows` rows hold every value; valid until the next call. */
struct ww_map ww_evaluator_map(struct ww_evaluator *evaluator, size_t ply, double lengthening, size_t *rows);
/* The worst of all plies [s], as in struct ww_placements. */
double ww_evaluator_worst(struct ww_evaluator *evaluator, double lengthening);
/* The modes at an angle of the trace, and the conversion at that of the evaluator, all plies together, the worst alone.
 * WW_NO_MEMORY. */
struct ww_modes ww_angle_table_modes(const struct ww_angle_table *table, double angle);
enum ww_status ww_evaluator_convert(struct ww_evaluator *evaluator, struct ww_converted *converted,
                                    struct ww_error *error);
/* A harmonic of the difference of the legs' slowness on one segment at the angle of the evaluator [s/m]; 0 if it is not kept. */
double ww_evaluator_difference(const struct ww_evaluator *evaluator, size_t ply, size_t segment, int m, int l);
/* Harmonic `w` of a ply, 0 the mean, along one segment at the angle of the evaluator: periods per length along it and across
 * it, k.u/2 pi and |k x u|/2 pi [1/m]; of the legs' slowness the mean, and leg 1 less leg 2 [s/m]. */
struct ww_harmonic_along {
    double along, across;
    double _Complex slowness, difference;
};
struct ww_harmonic_along ww_evaluator_along(const struct ww_evaluator *evaluator, size_t ply, size_t segment,
                                            size_t w);
/* Growth with length of one ply at the angle of the evaluator: harmonics (m, l), 2 (m, l) .. along the segments where
 * k.u = 0. Value per length of the route at the worst placement [s/m], and *harmonic, the multiple with the most of it.
 * 0 where it cannot exceed `worth`. */
double ww_evaluator_growth(const struct ww_evaluator *evaluator, size_t ply, int m, int l, double worth,
                           int *harmonic);

#endif
