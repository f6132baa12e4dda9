/* feed.c - the arms of a feed on one board of real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * All arms lie on the same patches, each from its own start off the first's, and share the turn and counts of their board. Judged is, as
 * for perfect cloth (chance/arms.c), of single traces the largest less the least delay of the set, each less its mean over perfect cloth,
 * and of pairs the largest |skew|. Arms are walked one after the other, so that the tables of one are held at a time; the boards and where
 * the first arm starts are drawn again for each, the same.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "correct/correction.h"
#include "patch/real.h"
#include "patch/walk.h"

/* What is walked, and found. */
struct feed {
    const struct ww_arm *arm; /* the one at hand */
    double length;
    double *value; /* its own, [turned][board][trace] */
};

static double length_of(const struct ww_arm *arm)
{
    double length = 0;
    for (size_t i = 0; i < arm->segments; i++)
        length += arm->route[i].length;
    return length;
}

struct ww_arm ww_boards_arm(const struct ww_real_request *request, size_t index, struct ww_route_segment *straight)
{
    if (index > 0)
        return request->arm[index - 1];
    *straight = (struct ww_route_segment){request->length, 0};
    return (struct ww_arm){.name = "route",
                           .route = request->segments ? (struct ww_route_segment *)request->route : straight,
                           .segments = request->segments ? request->segments : 1};
}

void ww_boards_from(const struct ww_boards *b, size_t ply, double turn, const double from[2], double off[2])
{
    double by = b->angle - b->line->stack->ply[ply].turn + turn;
    off[0] = cos(by) * from[0] + sin(by) * from[1];
    off[1] = cos(by) * from[1] - sin(by) * from[0];
}

/* --- walking ----------------------------------------------------------------------------------------------------- */

static void walk_sets(const struct ww_boards *b, struct ww_board_work *work, const struct feed *feed, size_t board,
                      bool turned)
{
    const struct ww_patch *const *patch = (const struct ww_patch *const *)work->patch;
    struct ww_random random = ww_random_of(b->request->scatter->seed, (UINT64_C(5) << 32) + board);
    double *value = feed->value + ((size_t)turned * b->boards + board) * b->traces;
    for (size_t t = 0; t < b->traces; t++) {
        double turn = turned ? ww_boards_turn(b->request, t * b->boards + board, b->traces * b->boards, &random) : 0;
        ww_boards_start(b, &random, turn, 0, work->first);
        for (size_t p = 0; p < b->plies; p++) {
            double off[2];
            ww_boards_from(b, p, turn, feed->arm->from, off);
            work->start[p][0] = work->first[p][0] + off[0];
            work->start[p][1] = work->first[p][1] + off[1];
        }
        ww_walk_along(work->walk, patch, (const double(*)[2])work->start, turn, &feed->length, 1, &value[t]);
    }
}

static enum ww_status walk_board(const struct ww_boards *b, size_t board, void *context, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (int turned = 0; turned < 2 && !status; turned++) {
        struct ww_board_work work = {0};
        status = ww_board_init(&work, b, board, turned ? ww_boards_counts(b, board) : ww_boards_as_woven(b), error);
        if (!status)
            walk_sets(b, &work, context, board, turned);
        ww_board_clear(&work, b->plies);
    }
    return status;
}

static enum ww_status correct(struct ww_correction **own, const struct ww_boards *b,
                              const struct ww_correction *correction, const struct ww_arm *arm,
                              struct ww_error *error)
{
    double *angle = calloc(arm->segments, sizeof *angle);
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for an arm of %zu segments", arm->segments);
    for (size_t i = 0; i < arm->segments; i++)
        angle[i] = b->angle + arm->route[i].angle;
    const struct ww_correction_request wanted = {
        .side = b->request->sections, .angle = angle, .angles = arm->segments};
    enum ww_status status = ww_correction_create(own, b->line, correction, &wanted, error);
    free(angle);
    return status;
}

static enum ww_status walk_arm(struct ww_boards *b, struct feed *feed, const struct ww_correction *correction,
                               struct ww_error *error)
{
    const struct ww_scan_options options = {
        .route = feed->arm->route, .segments = feed->arm->segments, .bends = b->request->bends};
    struct ww_walk *walk[WW_STRETCHES] = {0};
    struct ww_correction *own = NULL;
    enum ww_status status = correct(&own, b, correction, feed->arm, error);
    if (!status)
        status = ww_walks_create(walk, b->walks, b->line, own, b->angle, b->step, &options, b->stretch, error);
    b->walk = walk;
    if (!status)
        status = ww_boards_each(b, walk_board, feed, error);
    for (size_t i = 0; i < b->walks; i++)
        ww_walk_destroy(walk[i]);
    b->walk = NULL;
    ww_correction_release(own);
    return status;
}

/* --- judging ----------------------------------------------------------------------------------------------------- */

/* value: of all arms, [arm][turned][board][trace]; judged: [turned][board][trace] */
static void judge(const struct ww_boards *b, size_t arms, const double *value, double *judged)
{
    size_t sets = 2 * b->boards * b->traces;
    for (size_t i = 0; i < sets; i++) {
        double least = value[i], most = value[i];
        for (size_t a = 1; a < arms; a++) {
            least = fmin(least, value[a * sets + i]);
            most = fmax(most, value[a * sets + i]);
        }
        judged[i] = b->pair ? fmax(fabs(least), fabs(most)) : most - least;
    }
}

/* Over the sets that are turned. */
static void correlate(struct ww_real_arms *arms, size_t sets, const double *value)
{
    size_t count = arms->count;
    double mean[WW_ARMS_MOST] = {0};
    for (size_t a = 0; a < count; a++)
        for (size_t i = 0; i < sets; i++)
            mean[a] += value[(2 * a + 1) * sets + i] / (double)sets;
    for (size_t a = 0; a < count; a++)
        for (size_t c = 0; c < count; c++)
            for (size_t i = 0; i < sets; i++)
                arms->correlation[a * count + c] += (value[(2 * a + 1) * sets + i] - mean[a]) *
                                                    (value[(2 * c + 1) * sets + i] - mean[c]) / (double)sets;
    for (size_t a = 0; a < count; a++)
        arms->deviation[a] = sqrt(arms->correlation[a * count + a]);
    for (size_t a = 0; a < count; a++)
        for (size_t c = 0; c < count; c++) {
            double scale = arms->deviation[a] * arms->deviation[c];
            arms->correlation[a * count + c] = scale > 0 ? arms->correlation[a * count + c] / scale : 0;
        }
}

static enum ww_status take(struct ww_real_arms *arms, struct ww_boards *b, const double *value,
                           struct ww_error *error)
{
    size_t sets = b->boards * b->traces, good = 0;
    double budget = b->request->budget;
    judge(b, arms->count, value, b->value);
    correlate(arms, sets, value);
    for (size_t i = 0; i < sets; i++)
        good += b->value[sets + i] <= budget;
    arms->yield = budget > 0 ? (double)good / (double)sets : 0;
    enum ww_status status = ww_boards_spread(b, 0, 0, &arms->square, error);
    return status ? status : ww_boards_spread(b, 1, 0, &arms->turned, error);
}

enum ww_status ww_feed_solve(struct ww_real_arms *arms, const struct ww_boards *all,
                             const struct ww_correction *correction, struct ww_error *error)
{
    struct ww_boards b = *all;
    size_t count = b.request->arms + 1, sets = 2 * b.boards * b.traces;
    double *value = calloc((count + 1) * sets, sizeof *value), span = (all->to - all->from) / (double)count;
    arms->count = count;
    arms->deviation = calloc(count, sizeof *arms->deviation);
    arms->correlation = calloc(count * count, sizeof *arms->correlation);
    enum ww_status status = WW_OK;
    if (!value || !arms->deviation || !arms->correlation)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu arms", count);
    b.lengths = 1;
    b.fit = NULL;
    for (size_t a = 0; a < count && !status; a++) {
        struct ww_route_segment straight;
        const struct ww_arm arm = ww_boards_arm(b.request, a, &straight);
        struct feed feed = {&arm, length_of(&arm), value + a * sets};
        b.from = all->from + (double)a * span;
        b.to = b.from + span;
        status = walk_arm(&b, &feed, correction, error);
    }
    b.value = value ? value + count * sets : NULL;
    if (!status)
        status = take(arms, &b, value, error);
    free(value);
    return status;
}
