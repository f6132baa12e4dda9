/* fan.h - the waves of the cloth over a range of angles, so that any angle and length among them costs a small map.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_FAN_H
#define WW_SWEEP_FAN_H

#include "scan/together.h"
#include "sweep/progress.h"

#define WW_LOOK_POSITIONS WW_TOGETHER_SIDE /* across, of the small map */

/* Waves of one ply at every scanned angle. */
struct ww_fan_ply {
    double lx, ly, turn;
    size_t waves;
    struct ww_wave *wave;     /* wave 0 is the mean */
    size_t rows;              /* of the small map that tell all */
    double _Complex *seen[2]; /* [angle][wave]: slowness of each leg [s/m] */
};

struct ww_fan {
    size_t plies;
    bool pair;
    double from, to;    /* angles that can be looked from [rad] */
    double first, step; /* of the scanned angles [rad] */
    size_t count;
    const struct ww_route_piece *route; /* of the request, or the one piece below */
    size_t pieces;
    struct ww_route_piece straight;
    double length;  /* of the route [m] */
    double pitch;   /* of the pair [m] */
    double between; /* interplay of the plies, see ww_scales */
    double mean;    /* slowness [s/m] */
    struct ww_fan_ply *ply;
};

/* Scans for all angles in [from, to] and lengths up to `longest` [m]. The request, with its route, must outlive the
 * fan. Statuses of ww_scan_create. */
enum ww_status ww_fan_create(struct ww_fan **fan, const struct ww_line *line, const struct ww_skew_request *request,
                             double from, double to, double longest, struct ww_progress_run *progress,
                             struct ww_error *error);
void ww_fan_destroy(struct ww_fan *fan);

/* What a value is the sum of: one part for each ply, and one for what several of them do to each other. */
size_t ww_fan_parts(const struct ww_fan *fan);

/* A fan looked at from one angle; each thread has its own. */
struct ww_look;
enum ww_status ww_look_create(struct ww_look **look, const struct ww_fan *fan, struct ww_error *error);
void ww_look_destroy(struct ww_look *look);
void ww_look_at(struct ww_look *look, double angle);

/* Greatest and least value of one part over all positions at the length of the request times `stretch` [s]. */
struct ww_reach {
    double high, low;
};
struct ww_reach ww_look_reach(struct ww_look *look, size_t part, double stretch);
/* The worst of all plies together [s], as ww_turned_solve judges it. */
double ww_look_worst(struct ww_look *look, double stretch);
/* What stands still of one ply at the angle looked at: waves (m, l), 2 (m, l) .. along the pieces where k.u = 0. Value per
 * length of the route at the worst placement [s/m], as one ply is judged, and the harmonic that has the most of it; 0
 * where it cannot be above `worth`. */
double ww_look_still(const struct ww_look *look, size_t ply, int m, int l, double worth, int *harmonic);

#endif
