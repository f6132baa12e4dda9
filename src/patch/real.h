/* patch/real.h - boards drawn at random, shared by what is told of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef PATCH_REAL_H
#define PATCH_REAL_H

#include "chance/envelope.h"
#include "core/random.h"
#include "scan/slowness.h"
#include "weftwise/patch.h"

enum { WW_RESAMPLED = 100 };

/* What all boards share. */
struct ww_boards {
    const struct ww_line *line;
    const struct ww_real_request *request;
    size_t walks;                   /* one for each pair of yarn counts, those as woven in the middle */
    struct ww_walk *const *walk;    /* [walks] */
    const double (*stretch)[2];     /* [walks] of the cells' width and length */
    const struct ww_stretch *share; /* [walks] of all boards */
    size_t plies, boards, traces;
    bool pair;
    struct ww_patch **laid; /* [plies] of measured cloth, which all boards have; NULL: each is drawn */
    double step;            /* of the walks [m] */
    double angle;           /* of the trace; by which a route is turned [rad] */
    double width, length;   /* of a patch, across the warp and along it [m] */
    const double *at;       /* [lengths] of a walk [m]; NULL: every step */
    size_t lengths;
    double *value;            /* [turned][board][trace][length] */
    struct ww_patch_fit *fit; /* [board][system]; NULL: not asked */
    struct ww_progress progress;
    double from, to; /* of the progress */
};

/* One board: a patch for each ply, and room to walk. Zeroed is valid and empty. */
struct ww_board_work {
    const struct ww_walk *walk;
    struct ww_patch **patch; /* [plies] */
    bool laid;               /* they are not the board's own */
    double (*first)[2], (*start)[2];
    double *value, *beside; /* [lengths] */
};
/* counts: the pair of yarn counts that it has, which of the walks. */
enum ww_status ww_board_init(struct ww_board_work *work, const struct ww_boards *b, size_t board, size_t counts,
                             struct ww_error *error);
/* The counts as woven, and those of a board within the tolerances. */
size_t ww_boards_as_woven(const struct ww_boards *b);
size_t ww_boards_counts(const struct ww_boards *b, size_t board);
void ww_board_clear(struct ww_board_work *work, size_t plies);

/* A turn of the cloth. Evenly likely ones are drawn one from each of as many equal parts as there are in all. */
double ww_boards_turn(const struct ww_real_request *request, size_t which, size_t of, struct ww_random *random);
/* Where the first of some traces starts on each ply's patch; of measured cloth so that all of a walk stays where it is known,
 * turned so, as do the others, up to `apart` to its left. */
void ww_boards_start(const struct ww_boards *b, struct ww_random *random, double turn, double apart,
                     double (*start)[2]);
/* The longest traces that fit on measured cloth, up to `apart` beside each other, square and turned [m]; else HUGE_VAL. */
double ww_boards_longest(const struct ww_boards *b, double apart);
/* The sides of patches for traces so long. */
void ww_boards_size(struct ww_boards *b, double longest);
/* From the start of the trace to its end: the angle from the warp of the panel; of a closed route of its first segment [rad]. */
double ww_boards_along(const struct ww_boards *b);
/* The start of a trace that lies so far to the left of the first. */
void ww_boards_beside(const struct ww_boards *b, const double (*first)[2], double turn, double apart,
                      double (*start)[2]);

/* Threads that draw boards at once: as many as hold them in WW_REAL_BYTES. WW_NO_MEMORY, said beforehand: not even one board fits. */
enum ww_status ww_boards_threads(const struct ww_boards *b, int *threads, struct ww_error *error);
/* All of them, by whichever thread, each into its own place; the progress moves on from `from` to `to`. */
typedef enum ww_status ww_each_board(const struct ww_boards *b, size_t board, void *context, struct ww_error *error);
enum ww_status ww_boards_each(const struct ww_boards *b, ww_each_board *each, void *context, struct ww_error *error);
/* Over all lengths of a trace from work->first, `apart` to its left: into work->value. Of a pair its skew, of single traces with a
 * spacing the difference of two, else the delay. */
void ww_boards_walk(const struct ww_boards *b, struct ww_board_work *work, double apart, double turn);

/* The figure and, of copies of it from boards drawn again, the 2.5 and 97.5 %. drawn[WW_RESAMPLED] is put in order. */
struct ww_bracketed ww_bracket(double value, double *drawn);

int ww_ascending(const void *a, const void *b);
/* Of ascending values: the least that `share` of them do not exceed. */
double ww_quantile(const double *value, size_t count, double share);
/* A share that was seen `good` times of `count`, and what holds it with 95 % (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209). */
struct ww_bracketed ww_share(size_t good, size_t count);

/* Of all |value| at one of the lengths, square or turned. */
enum ww_status ww_boards_spread(const struct ww_boards *b, int turned, size_t length, struct ww_real_spread *spread,
                                struct ww_error *error);

/* Arm `index` of a feed, 0: the request's own trace, which is `straight` where it has no route. */
struct ww_arm ww_boards_arm(const struct ww_real_request *request, size_t index, struct ww_route_segment *straight);
/* Where an arm starts off the first, in a ply's frame. */
void ww_boards_from(const struct ww_boards *b, size_t ply, double turn, const double from[2], double off[2]);
/* The arms of request->arm and the request's own, on all boards. */
enum ww_status ww_feed_solve(struct ww_real_arms *arms, const struct ww_boards *all,
                             const struct ww_correction *correction, struct ww_error *error);

/* The boards that panels are, for nets so long. */
struct ww_boards ww_panel_boards(const struct ww_boards *all, const double *length);
/* The worst of request->nets on one panel. */
enum ww_status ww_panel_solve(struct ww_real_panel *panel, const struct ww_boards *all, double length,
                              struct ww_error *error);
/* How alike traces side by side are. */
enum ww_status ww_alike_solve(struct ww_real_alike *alike, const struct ww_boards *all, double length,
                              struct ww_error *error);
/* The trace slid over the first board, laid square. */
enum ww_status ww_place_solve(struct ww_real_place *place, const struct ww_boards *all, double length, double step,
                              struct ww_error *error);

/* The worst over perfect cloth of the first `length` of a trace, of a scan of the whole [s]. A straight one has any length.
 * along: ww_boards_along at the scan's angle. */
enum ww_status ww_bound_find(const struct ww_scan *scan, double along, double whole, double length, double *bound,
                             struct ww_error *error);

#endif
