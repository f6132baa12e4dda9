/* place.c - traces side by side on real cloth, and one slid over it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Of lanes on one cloth the values are not independent. With v_i the value of trace i of many, d apart, on a board,
 *   rho(n d) = <v_i v_(i+n)> / sqrt(<v_i^2> <v_(i+n)^2>),
 * means over the traces of all boards, turn included; its interval by boards drawn again (bootstrap).
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "line/line.h"
#include "patch/real.h"

enum { SAMPLES_A_PITCH = 8, FEWEST_TRACES = 49, MOST_TRACES = 121, ROWS_A_PITCH = 16, PITCHES = 6, MOST_ROUTES = 60 };
#define LANE_PITCHES 2.0   /* that the curve goes to, as far as it has traces */
#define WANDER_LENGTHS 2.0 /* that the trace is slid along */
#define LEAST_ALONG 5e-3   /* [m] */
#define MOST_ALONG 60e-3   /* [m] */

static double shortest_pitch(const struct ww_boards *b)
{
    double pitch = HUGE_VAL;
    for (size_t p = 0; p < b->plies; p++)
        pitch = fmin(pitch, 0.5 * fmin(b->line->stack->ply[p].cell.lx, b->line->stack->ply[p].cell.ly));
    return pitch;
}

/* --- how alike ------------------------------------------------------------------------------------------------- */

/* Sums over the traces of one board at one distance. */
struct sums {
    double product, left, right;
};

struct comb {
    size_t traces;
    double apart;
    struct sums *sums; /* [board][trace] */
};

static enum ww_status walk_comb(const struct ww_boards *b, size_t board, void *context, struct ww_error *error)
{
    const struct comb *comb = context;
    struct ww_board_work work = {0};
    struct ww_random random = ww_random_of(b->request->scatter->seed, (UINT64_C(3) << 32) + board);
    double turn = ww_boards_turn(b->request, board, b->boards, &random), *value = calloc(comb->traces, sizeof *value);
    enum ww_status status = value ? ww_board_init(&work, b, board, ww_boards_counts(b, board), error)
                                  : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for traces");
    if (!status)
        ww_boards_start(b, &random, turn, (double)(comb->traces - 1) * comb->apart, work.first);
    for (size_t i = 0; i < comb->traces && !status; i++) {
        ww_boards_walk(b, &work, (double)i * comb->apart, turn);
        value[i] = work.value[0];
    }
    for (size_t n = 0; n < comb->traces && !status; n++)
        for (size_t i = 0; i + n < comb->traces; i++) {
            struct sums *sums = &comb->sums[board * comb->traces + n];
            sums->product += value[i] * value[i + n];
            sums->left += value[i] * value[i];
            sums->right += value[i + n] * value[i + n];
        }
    ww_board_clear(&work, b->plies);
    free(value);
    return status;
}

/* Of the boards that are listed; all of them where board is NULL. */
static double correlation_of(const struct comb *comb, size_t boards, const size_t *board, size_t n)
{
    struct sums all = {0};
    for (size_t i = 0; i < boards; i++) {
        const struct sums *one = &comb->sums[(board ? board[i] : i) * comb->traces + n];
        all.product += one->product;
        all.left += one->left;
        all.right += one->right;
    }
    double scale = sqrt(all.left * all.right);
    return scale > 0 ? all.product / scale : 0;
}

static enum ww_status bracket_all(struct ww_real_alike *alike, const struct comb *comb, size_t boards,
                                  struct ww_error *error)
{
    double *drawn = calloc(alike->count * WW_RESAMPLED, sizeof *drawn);
    size_t *board = calloc(boards, sizeof *board);
    struct ww_random random = ww_random_of(3, boards);
    enum ww_status status = WW_OK;
    if (!drawn || !board)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu boards", boards);
    for (size_t r = 0; r < WW_RESAMPLED && !status; r++) {
        for (size_t i = 0; i < boards; i++)
            board[i] = (size_t)(ww_random_share(&random) * (double)boards);
        for (size_t n = 0; n < alike->count; n++)
            drawn[n * WW_RESAMPLED + r] = correlation_of(comb, boards, board, n);
    }
    for (size_t n = 0; n < alike->count && !status; n++) {
        alike->spacing[n] = (double)n * comb->apart;
        alike->correlation[n] = ww_bracket(correlation_of(comb, boards, NULL, n), drawn + n * WW_RESAMPLED);
    }
    free(drawn);
    free(board);
    return status;
}

enum ww_status ww_alike_solve(struct ww_real_alike *alike, const struct ww_boards *all, double length,
                              struct ww_error *error)
{
    struct ww_real_request request = *all->request;
    struct ww_boards b = *all;
    if (!b.pair)
        request.spacing = 0; /* delays are compared, not differences */
    b.request = &request;
    b.at = &length;
    b.lengths = 1;
    b.fit = NULL;
    struct comb comb = {.apart = shortest_pitch(&b) / SAMPLES_A_PITCH};
    double wanted = 1 + ceil(LANE_PITCHES * request.lane_pitch / comb.apart);
    comb.traces = (size_t)fmin(fmax(wanted, FEWEST_TRACES), MOST_TRACES);
    while (comb.traces > 1 && ww_boards_longest(&b, (double)(comb.traces - 1) * comb.apart) < length)
        comb.traces--;
    comb.sums = calloc(b.boards * comb.traces, sizeof *comb.sums);
    alike->spacing = calloc(comb.traces, sizeof *alike->spacing);
    alike->correlation = calloc(comb.traces, sizeof *alike->correlation);
    enum ww_status status = WW_OK;
    if (!comb.sums || !alike->spacing || !alike->correlation)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu traces", comb.traces);
    if (!status)
        status = ww_boards_each(&b, walk_comb, &comb, error);
    alike->count = comb.traces;
    if (!status)
        status = bracket_all(alike, &comb, b.boards, error);
    free(comb.sums);
    return status;
}

/* --- slid over one board --------------------------------------------------------------------------------------- */

static void start_at(const struct ww_boards *b, struct ww_board_work *work, const double (*first)[2], double along)
{
    for (size_t p = 0; p < b->plies; p++) {
        double theta = ww_boards_along(b) - b->line->stack->ply[p].turn;
        work->first[p][0] = first[p][0] + along * sin(theta);
        work->first[p][1] = first[p][1] + along * cos(theta);
    }
}

/* Along a straight trace one walk tells all values of a row: those over `steps` steps from the middle of each. */
static void slide_row(const struct ww_boards *b, struct ww_board_work *work, const double (*first)[2], double across,
                      double step, size_t steps, size_t nx, double *row)
{
    start_at(b, work, first, 0.5 * step);
    ww_boards_walk(b, work, across, 0);
    for (size_t i = 0; i < nx; i++)
        row[i] = work->value[i + steps - 1] - (i > 0 ? work->value[i - 1] : 0);
}

/* A route is walked from every place. */
static void walk_row(const struct ww_boards *b, struct ww_board_work *work, const double (*first)[2], double across,
                     double apart, size_t nx, double *row)
{
    for (size_t i = 0; i < nx; i++) {
        start_at(b, work, first, ((double)i + 0.5) * apart);
        ww_boards_walk(b, work, across, 0);
        row[i] = work->value[0];
    }
}

static void find_worst(struct ww_real_place *place)
{
    const struct ww_map *map = &place->map;
    for (size_t i = 0; i < map->nx * map->ny; i++) {
        if (fabs(map->value[i]) <= place->worst)
            continue;
        place->worst = fabs(map->value[i]);
        place->worst_x = ((double)(i % map->nx) + 0.5) * map->lx / (double)map->nx;
        place->worst_y = ((double)(i / map->nx) + 0.5) * map->ly / (double)map->ny;
    }
}

/* How far to slide along the trace and across it [pitches]: as the yarns wander, or over half of what measured cloth has room for. */
static void choose_window(const struct ww_boards *b, double length, double pitch, double *along, double *across)
{
    const struct ww_scatter *scatter = b->request->scatter;
    double reach = WANDER_LENGTHS * fmax(scatter->yarn[WW_WARP].wander_length, scatter->yarn[WW_FILL].wander_length);
    *across = PITCHES;
    *along = fmin(fmax(reach, LEAST_ALONG), MOST_ALONG);
    if (!b->laid)
        return;
    while (ROWS_A_PITCH * *across > 1 && ww_boards_longest(b, *across * pitch) < length)
        *across /= 2;
    *along = fmin(fmax(0.5 * (ww_boards_longest(b, *across * pitch) - length), 0), MOST_ALONG);
}

enum ww_status ww_place_solve(struct ww_real_place *place, const struct ww_boards *all, double length, double step,
                              struct ww_error *error)
{
    bool route = all->request->segments > 0;
    double pitch = shortest_pitch(all), along, across;
    struct ww_boards b = *all;
    struct ww_board_work work = {0};
    struct ww_random random = ww_random_of(all->request->scatter->seed, UINT64_C(4) << 32);
    choose_window(all, length, pitch, &along, &across);
    size_t nx = all->laid ? 1 + (size_t)(along / step) : (size_t)ceil(along / step);
    size_t rows = route ? ROWS_A_PITCH / 2 : ROWS_A_PITCH, ny = (size_t)fmax(floor((double)rows * across), 1);
    size_t steps = (size_t)lround(length / step), apart = route ? (nx + MOST_ROUTES - 1) / MOST_ROUTES : 1;
    nx = (nx + apart - 1) / apart;
    b.at = route ? &length : NULL;
    b.lengths = route ? 1 : steps + nx - 1;
    b.fit = NULL;
    place->angle = ww_boards_along(all);
    place->start = calloc(b.plies, sizeof *place->start);
    enum ww_status status =
        ww_map_init(&place->map, nx, ny, (double)(nx * apart) * step, (double)ny / (double)rows * pitch, error);
    if (!status && !place->start)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", b.plies);
    if (!status)
        status = ww_board_init(&work, &b, 0, ww_boards_as_woven(&b), error);
    if (!status) {
        ww_boards_start(&b, &random, 0, across * pitch, place->start);
        start_at(&b, &work, (const double(*)[2])place->start, -0.5 * (double)apart * step);
        memcpy(place->start, work.first, b.plies * sizeof *place->start);
    }
    for (size_t iy = 0; iy < ny && !status; iy++) {
        const double(*start)[2] = (const double(*)[2])place->start;
        double beside = ((double)iy + 0.5) * pitch / (double)rows, *row = place->map.value + iy * nx;
        if (route)
            walk_row(&b, &work, start, beside, (double)apart * step, nx, row);
        else
            slide_row(&b, &work, start, beside, step, steps, nx, row);
    }
    place->width = b.width;
    place->length = b.length;
    if (!status)
        find_worst(place);
    ww_board_clear(&work, b.plies);
    return status;
}
