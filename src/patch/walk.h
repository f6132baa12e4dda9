/* patch/walk.h - inside a walk: what is tabulated of each direction of the trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef PATCH_WALK_H
#define PATCH_WALK_H

#include "fabric/patch.h"
#include "patch/table.h"
#include "scan/slowness.h"
#include "weftwise/patch.h"

enum {
    WW_CELL_SAMPLES = 256,  /* of the table over one cell, along x and y */
    WW_WIDE_SAMPLES = 512,  /* of a yarn's table across it */
    WW_ALONG_SAMPLES = 256, /* and along it; half as many either way of its change with width */
    WW_WHOLE_SAMPLES = 64,  /* of a ply's whole deviation over one cell, third degree */
};
_Static_assert(WW_CELL_SAMPLES == WW_ALONG_SAMPLES, "knots along a yarn serve the cell's table as well");

/* Tables of both legs over one ply. */
struct ww_walk_tables {
    struct ww_table cell[2]; /* what the yarns' tables do not have, over one cell */
    struct ww_table yarn[WW_SYSTEMS][2], wider[WW_SYSTEMS][2], contact[WW_SYSTEMS][2];
};

/* One ply under one direction of the trace. */
struct ww_walk_ply {
    double theta;                 /* of the trace from the warp of that cloth [rad] */
    double share[WW_SYSTEMS];     /* of the contact, summed over this system's yarns */
    struct ww_walk_tables step;   /* averaged over a step */
    struct ww_walk_tables *point; /* at the place itself; NULL: steps fill all segments */
    /* What couples with other plies, where there are any: */
    double mean;              /* slowness, of both legs */
    struct ww_table whole[2]; /* less that of the leg on average, on perfect cloth at a place itself */
    double largest;           /* of these */
};

/* A straight segment of the trace, where each leg of it begins and how long it is. */
struct ww_walk_segment {
    size_t direction;
    double length;
    struct ww_leg_span span[2];
    double mismatch; /* that the bend behind it adds to the value [s] */
};

struct ww_walk {
    size_t plies, directions, segments;
    int legs;
    double pitch, step, change; /* change: of deviations by dispersion */
    struct cloth_of_ply {
        double px, py, shift_x, shift_y;
        double taller[WW_SYSTEMS]; /* height of the other system's yarns over that of this one's */
    } * cloth;                     /* [plies] */
    struct ww_walk_ply *ply;       /* [direction][ply] */
    struct ww_walk_segment *segment;
};

/* Walks of one line at one angle, for cloth whose counts are off: walk[i] of cells wider by stretch[i][0] and longer by [i][1], in place
 * of the options'. What ww_walk_create does for one; the yarns are taken up once for all. */
enum ww_status ww_walks_create(struct ww_walk **walk, size_t count, const struct ww_line *line,
                               const struct ww_correction *correction, double angle, double step,
                               const struct ww_scan_options *options, const double (*stretch)[2],
                               struct ww_error *error);

/* The directions of a walk as the scan has them, and the stretch of the cloth: what its tables are filled from. */
struct ww_walk_source {
    struct ww_walk *walk;
    struct ww_scan *scan;
    const struct ww_scan **of; /* [directions] */
    const double *stretch;
};
/* What the tables of so many directions over plies hold. */
double ww_walk_bytes(int legs, size_t directions, bool points);
/* Fills the tables of all directions of all walks of one line. */
enum ww_status ww_walk_tabulate(const struct ww_walk_source *source, size_t count, const struct ww_line *line,
                                struct ww_error *error);
void ww_walk_tables_clear(struct ww_walk_tables *tables);

#endif
