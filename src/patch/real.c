/* real.c - what long traces see of real cloth: boards drawn at random, traces walked on each.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A board is one patch for each ply, each drawn on its own. Traces start anywhere on it, with all cloth square, or
 * each with all cloth turned off square and its yarn counts off as some board has them; lanes on one cloth share the turn. A walk tells the value over every length up to the longest, so one set of walks is the whole curve. Quantiles are those
 * of all traces of all boards. Traces of one board are not independent of each other, boards are: the interval of a figure comes
 * of boards drawn again from those drawn, WW_RESAMPLED times, each figure's 2.5 and 97.5 % (bootstrap; B. Efron 1979).
 *
 * While a trace keeps step with the cloth its value grows with length L; where the cloth has lost step, as the root of L. Between
 * them the growth d ln(p99)/d ln(L) passes 3/4. A wander sigma that is small against the pitch never loses step: of a harmonic k of
 * the cloth that is constant along the trace exp(-k^2 sigma^2/2) is kept however long the trace (tests/patch/test_walk.c derives
 * it), and it is the turn that parts them.
 *
 * Where the cloth was measured, all boards have that very cloth, and differ by where traces lie on it, each ply's on its own. A trace and
 * what is beside it stay where the yarns are known: lengths, angles and distances are told as far as they fit. The interval then holds
 * for places on this cloth; of how other cloth differs it tells nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/progress.h"
#include "correct/correction.h"
#include "fabric/patch.h"
#include "patch/real.h"
#include "patch/walk.h"

enum { BOARDS = 48, TRACES = 24, LENGTHS = 22, MOST_LANES = 64, ANGLES = 6, TRACES_AT_ANGLE = 8, BESIDE_IT = 2 };
#define LONGEST 0.25      /* [m], told where nothing is asked */
#define SHORTEST 1e-3     /* [m] */
#define MOST_LENGTH 10    /* [m] */
#define LEAST_SKEW 1e-21  /* [s], that has a logarithm */
#define SAME 1e-9         /* share by which lengths differ */
#define LOST_STEP 0.75    /* growth between L and its root */
#define BESIDE 20e-3      /* room for traces across a patch [m] */
#define SHARE_LENGTHS 0.5 /* of the progress, where all is asked */
#define SHARE_NETS 0.1
#define SHARE_ALIKE 0.1
#define SHARE_ARMS 0.1
#define LENGTHS_BESIDE 3 /* of the longest wander_length, that a patch is longer than the trace */

static const double turn_by[ANGLES] = {0, 0.5, 1, 2, 4, 8}; /* [deg] */

static double *values_of(const struct ww_boards *b, int turned, size_t board, size_t trace)
{
    return b->value + (((size_t)turned * b->boards + board) * b->traces + trace) * b->lengths;
}

/* --- one board ------------------------------------------------------------------------------------------------- */

/* Evenly likely ones are drawn one from each of as many equal parts as there are in all. */
double ww_boards_turn(const struct ww_real_request *request, size_t which, size_t of, struct ww_random *random)
{
    if (request->turn_law == WW_UNIFORM)
        return request->turn * (2 * ((double)which + ww_random_share(random)) / (double)of - 1);
    double sigmas = ww_random_normal(random);
    while (fabs(sigmas) > 3)
        sigmas = ww_random_normal(random);
    return request->turn * sigmas / 3;
}

/* What traces take up beside the first one's middle: to its left, and to its right. */
static void beside(const struct ww_boards *b, double apart, double *left, double *right)
{
    *right = b->pair ? 0.5 * b->line->trace.pitch : 0;
    *left = apart + (b->pair ? *right : b->request->spacing);
}

/* Where a trace of that length may start on measured cloth, low above high where it does not fit. */
static void find_starts(const struct ww_boards *b, size_t ply, double turn, double length, double apart,
                        double low[2], double high[2])
{
    const struct ww_ply *p = &b->line->stack->ply[ply];
    double theta = b->angle - p->turn + turn, left, right;
    const double along[2] = {length * sin(theta), length * cos(theta)}, shift[2] = {p->shift_x, p->shift_y};
    const double to_left[2] = {-cos(theta), sin(theta)};
    beside(b, apart, &left, &right);
    (void)ww_patch_room(b->laid[ply], low, high);
    for (int k = 0; k < 2; k++) {
        double a = left * to_left[k], c = -right * to_left[k];
        low[k] += shift[k] - fmin(along[k], 0) - fmin(a, c);
        high[k] += shift[k] - fmax(along[k], 0) - fmax(a, c);
    }
}

double ww_boards_longest(const struct ww_boards *b, double apart)
{
    enum { TURNS = 16 };
    double longest = HUGE_VAL, low[2], high[2];
    for (size_t p = 0; b->laid && p < b->plies; p++)
        for (int t = -TURNS; t <= TURNS; t++) {
            double turn = b->request->turn * t / TURNS, theta = b->angle - b->line->stack->ply[p].turn + turn;
            const double share[2] = {fabs(sin(theta)), fabs(cos(theta))};
            find_starts(b, p, turn, 0, apart, low, high);
            for (int k = 0; k < 2; k++)
                longest = high[k] < low[k] ? 0 : fmin(longest, (high[k] - low[k]) / fmax(share[k], 1e-12));
        }
    return longest;
}

/* The longest length of a walk. */
static double whole_walk(const struct ww_boards *b)
{
    return b->at ? b->at[b->lengths - 1] : (double)b->lengths * b->step;
}

void ww_boards_start(const struct ww_boards *b, struct ww_random *random, double turn, double apart,
                     double (*start)[2])
{
    const struct ww_scatter *scatter = b->request->scatter;
    double width = scatter->bow != 0 || scatter->hook != 0 ? scatter->panel : b->width;
    for (size_t p = 0; p < b->plies; p++) {
        double low[2] = {0, 0}, high[2] = {width, b->length};
        if (b->laid)
            find_starts(b, p, turn, whole_walk(b), apart, low, high);
        for (int k = 0; k < 2; k++)
            start[p][k] = low[k] + (high[k] - low[k]) * ww_random_share(random);
    }
}

double ww_boards_along(const struct ww_boards *b)
{
    const double closed = 1e-9; /* of the route's length */
    const struct ww_real_request *r = b->request;
    double x = 0, y = 0;
    for (size_t i = 0; i < r->segments; i++) {
        x += r->route[i].length * sin(r->route[i].angle);
        y += r->route[i].length * cos(r->route[i].angle);
    }
    if (r->segments == 0)
        return b->angle;
    return b->angle + (hypot(x, y) > closed * r->length ? atan2(x, y) : r->route[0].angle);
}

/* The start of a trace that lies so far to the left of the first. */
void ww_boards_beside(const struct ww_boards *b, const double (*first)[2], double turn, double apart,
                      double (*start)[2])
{
    double along = ww_boards_along(b);
    for (size_t p = 0; p < b->plies; p++) {
        double theta = along - b->line->stack->ply[p].turn + turn;
        start[p][0] = first[p][0] - apart * cos(theta);
        start[p][1] = first[p][1] + apart * sin(theta);
    }
}

void ww_board_clear(struct ww_board_work *work, size_t plies)
{
    for (size_t p = 0; work->patch && !work->laid && p < plies; p++)
        ww_patch_destroy(work->patch[p]);
    free(work->patch);
    free(work->first);
    free(work->start);
    free(work->value);
    free(work->beside);
}

size_t ww_boards_as_woven(const struct ww_boards *b)
{
    return b->walks / 2;
}

/* As many boards to each pair of counts as its share is, in an order that has nothing to do with that of the turns: the fractional
 * parts of i times the golden ratio fill 0 .. 1 evenly. */
size_t ww_boards_counts(const struct ww_boards *b, size_t board)
{
    const double golden = 0.6180339887498949;
    double at = ((double)board + 0.5) * golden, sum = 0;
    at -= floor(at);
    for (size_t i = 0; i + 1 < b->walks; i++) {
        sum += b->share[i].weight;
        if (at < sum)
            return i;
    }
    return b->walks - 1;
}

/* A ply's style with its counts off: cells as much wider and longer, yarns with them. */
static struct ww_style style_of(const struct ww_boards *b, size_t ply, size_t counts)
{
    struct ww_style style = *ww_stack_cloth(b->line->stack, ply).style;
    style.warp_count.value /= 1 + b->stretch[counts][0];
    style.fill_count.value /= 1 + b->stretch[counts][1];
    style.warp.width.value *= 1 + b->stretch[counts][0];
    style.fill.width.value *= 1 + b->stretch[counts][1];
    return style;
}

enum ww_status ww_board_init(struct ww_board_work *work, const struct ww_boards *b, size_t board, size_t counts,
                             struct ww_error *error)
{
    *work = (struct ww_board_work){.walk = b->walk[counts],
                                   .patch = calloc(b->plies, sizeof(struct ww_patch *)),
                                   .laid = b->laid != NULL,
                                   .first = calloc(b->plies, sizeof *work->first),
                                   .start = calloc(b->plies, sizeof *work->start),
                                   .value = calloc(b->lengths, sizeof *work->value),
                                   .beside = calloc(b->lengths, sizeof *work->beside)};
    if (!work->patch || !work->first || !work->start || !work->value || !work->beside)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for walks of %zu lengths", b->lengths);
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < b->plies && !status; p++) {
        const struct ww_style style = style_of(b, p, counts);
        if (b->laid)
            work->patch[p] = b->laid[p];
        else
            status = ww_patch_create(&work->patch[p], &style, b->request->scatter, b->width, b->length,
                                     board * b->plies + p, error);
        for (int s = 0; b->fit && s < WW_SYSTEMS && !status; s++) {
            struct ww_patch_fit fit = ww_patch_fit(work->patch[p], (enum ww_system)s),
                                *worst = &b->fit[board * WW_SYSTEMS + (size_t)s];
            *worst = p == 0 || fit.overlap > worst->overlap ? fit : *worst;
        }
    }
    return status;
}

void ww_boards_walk(const struct ww_boards *b, struct ww_board_work *work, double apart, double turn)
{
    const struct ww_patch *const *patch = (const struct ww_patch *const *)work->patch;
    const double(*first)[2] = (const double(*)[2])work->first, (*start)[2] = (const double(*)[2])work->start;
    ww_boards_beside(b, first, turn, apart, work->start);
    ww_walk_along(work->walk, patch, start, turn, b->at, b->lengths, work->value);
    if (b->pair || !(b->request->spacing > 0))
        return;
    ww_boards_beside(b, first, turn, apart + b->request->spacing, work->start);
    ww_walk_along(work->walk, patch, start, turn, b->at, b->lengths, work->beside);
    for (size_t i = 0; i < b->lengths; i++)
        work->value[i] -= work->beside[i];
}

/* From the first to the last of the lanes on one cloth. */
static double lanes_apart(const struct ww_boards *b)
{
    return b->request->lanes > 1 ? (double)(b->request->lanes - 1) * b->request->lane_pitch : 0;
}

/* All traces of one board, each or each group of lanes at a turn of its own. */
static void walk_board(const struct ww_boards *b, struct ww_board_work *work, size_t board, bool turned,
                       struct ww_random random)
{
    const struct ww_real_request *request = b->request;
    size_t lanes = request->lanes > 1 ? request->lanes : 1;
    size_t groups = b->traces / lanes;
    double turn = 0;
    for (size_t t = 0; t < b->traces; t++) {
        if (t % lanes == 0) {
            turn = turned ? ww_boards_turn(request, t / lanes * b->boards + board, groups * b->boards, &random) : 0;
            ww_boards_start(b, &random, turn, lanes_apart(b), work->first);
        }
        ww_boards_walk(b, work, (double)(t % lanes) * request->lane_pitch, turn);
        memcpy(values_of(b, turned, board, t), work->value, b->lengths * sizeof *work->value);
    }
    if (b->pair || request->spacing > 0)
        return;
    for (size_t i = 0; i < b->lengths; i++) { /* of a single trace each less the next one, which lies anywhere */
        double first = values_of(b, turned, board, 0)[i];
        for (size_t t = 0; t < b->traces; t++)
            values_of(b, turned, board, t)[i] -= t + 1 < b->traces ? values_of(b, turned, board, t + 1)[i] : first;
    }
}

/* What one board holds of its own: its plies' patches, what drawing one of them takes, and its walks. */
static double board_bytes(const struct ww_boards *b)
{
    double bytes = 2 * sizeof(double) * (double)b->lengths, most = 0;
    for (size_t p = 0; p < b->plies && !b->laid; p++) {
        double drawing;
        bytes += ww_patch_bytes(ww_stack_cloth(b->line->stack, p).style, b->request->scatter, b->width, b->length,
                                &drawing);
        most = fmax(most, drawing);
    }
    return bytes + most;
}

enum ww_status ww_boards_threads(const struct ww_boards *b, int *threads, struct ww_error *error)
{
    double bytes = board_bytes(b);
    *threads = (int)fmin(fmax(floor(WW_REAL_BYTES / bytes), 1), ww_threads());
    if (bytes <= WW_REAL_BYTES)
        return WW_OK;
    return ww_error_set(
        error, WW_NO_MEMORY, NULL, 0,
        "the cloth of a board, %zu plies of %.3g by %.3g mm, would need %.2g GB (limit %.2g GB); give a "
        "longer wander_length, a shorter trace or a smaller panel",
        b->plies, 1e3 * b->width, 1e3 * b->length, 1e-9 * bytes, 1e-9 * WW_REAL_BYTES);
}

enum ww_status ww_boards_each(const struct ww_boards *b, ww_each_board *each, void *context, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    struct ww_progress_run progress = {.host = b->progress, .to = b->from};
    int threads;
    enum ww_status fits = ww_boards_threads(b, &threads, error);
    if (fits)
        return fits;
    atomic_store(&progress.told, b->from);
    ww_progress_part(&progress, b->to, b->boards);
#ifdef _OPENMP
#pragma omp parallel for schedule(dynamic) num_threads(threads)
#endif
    for (size_t board = 0; board < b->boards; board++) {
        struct ww_error own = {0};
        enum ww_status status = each(b, board, context, &own);
        ww_failure_keep(&failure, board, status, &own);
        ww_progress_step(&progress);
    }
    return failure.status;
}

/* context: whether turned alone is walked, or laid square too. */
static enum ww_status walk_both(const struct ww_boards *b, size_t board, void *context, struct ww_error *error)
{
    const bool *turned_alone = context;
    struct ww_board_work work = {0};
    struct ww_random random = ww_random_of(b->request->scatter->seed, (UINT64_C(1) << 32) + board);
    size_t own = ww_boards_counts(b, board), laid = *turned_alone ? own : ww_boards_as_woven(b);
    enum ww_status status = ww_board_init(&work, b, board, laid, error);
    for (int turned = *turned_alone; turned <= 1 && !status; turned++) {
        if (turned && own != laid) { /* the same cloth, its counts off */
            ww_board_clear(&work, b->plies);
            status = ww_board_init(&work, b, board, own, error);
        }
        if (!status)
            walk_board(b, &work, board, turned, random);
    }
    ww_board_clear(&work, b->plies);
    return status;
}

/* turned: 0 and 1, or at_angle: 1 alone. */
static enum ww_status walk_boards(const struct ww_boards *b, bool turned_alone, struct ww_error *error)
{
    return ww_boards_each(b, walk_both, &turned_alone, error);
}

/* --- figures of many values ------------------------------------------------------------------------------------- */

int ww_ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of ascending values: the least that `share` of them do not exceed. */
double ww_quantile(const double *value, size_t count, double share)
{
    double place = ceil(share * (double)count);
    return value[place < 1 ? 0 : (size_t)place - 1];
}

struct ww_bracketed ww_bracket(double value, double *drawn)
{
    qsort(drawn, WW_RESAMPLED, sizeof *drawn, ww_ascending);
    return (struct ww_bracketed){value, ww_quantile(drawn, WW_RESAMPLED, 0.025),
                                 ww_quantile(drawn, WW_RESAMPLED, 0.975)};
}

struct ww_bracketed ww_share(size_t good, size_t count)
{
    const double z = 1.959964; /* of the normal law, 95 % */
    double n = (double)count, share = (double)good / n, scale = 1 + z * z / n, middle = share + 0.5 * z * z / n;
    double half = z * sqrt(share * (1 - share) / n + 0.25 * z * z / (n * n));
    return (struct ww_bracketed){share, fmax((middle - half) / scale, 0), fmin((middle + half) / scale, 1)};
}

/* The sizes of the values at one length, of the boards that are listed, ascending. */
static void gather(const struct ww_boards *b, int turned, size_t length, const size_t *board, double *out)
{
    for (size_t i = 0; i < b->boards; i++)
        for (size_t t = 0; t < b->traces; t++)
            out[i * b->traces + t] = fabs(values_of(b, turned, board[i], t)[length]);
    qsort(out, b->boards * b->traces, sizeof *out, ww_ascending);
}

enum ww_status ww_boards_spread(const struct ww_boards *b, int turned, size_t length, struct ww_real_spread *spread,
                                struct ww_error *error)
{
    size_t count = b->boards * b->traces, *board = calloc(b->boards, sizeof *board);
    double *value = calloc(count + 2 * WW_RESAMPLED, sizeof *value);
    struct ww_random random = ww_random_of(1, length);
    if (!board || !value) {
        free(board);
        free(value);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu traces", count);
    }
    double *median = value + count, *p99 = median + WW_RESAMPLED;
    for (size_t r = 0; r < WW_RESAMPLED; r++) {
        for (size_t i = 0; i < b->boards; i++)
            board[i] = (size_t)(ww_random_share(&random) * (double)b->boards);
        gather(b, turned, length, board, value);
        median[r] = ww_quantile(value, count, 0.5);
        p99[r] = ww_quantile(value, count, 0.99);
    }
    for (size_t i = 0; i < b->boards; i++)
        board[i] = i;
    gather(b, turned, length, board, value);
    spread->median = ww_bracket(ww_quantile(value, count, 0.5), median);
    spread->p99 = ww_bracket(ww_quantile(value, count, 0.99), p99);
    spread->p95 = ww_quantile(value, count, 0.95);
    spread->worst = value[count - 1];
    free(board);
    free(value);
    return WW_OK;
}

/* d ln(p99)/d ln(length) by least squares over the lengths from..to. */
static double find_growth(const struct ww_real *real, bool turned, size_t from, size_t to)
{
    double n = (double)(to - from + 1), x = 0, y = 0, xx = 0, xy = 0;
    for (size_t i = from; i <= to; i++) {
        double p99 = turned ? real->at[i].turned.p99.value : real->at[i].square.p99.value;
        double u = log(real->at[i].length), v = log(fmax(p99, LEAST_SKEW));
        x += u;
        y += v;
        xx += u * u;
        xy += u * v;
    }
    return (n * xy - x * y) / (n * xx - x * x);
}

/* The first length around which, and from which on, the 99 % figure grows with less than the power 3/4. */
static double find_parting(const struct ww_real *real, bool turned)
{
    for (size_t i = BESIDE_IT; i + BESIDE_IT < real->count; i++)
        if (find_growth(real, turned, i - BESIDE_IT, i + BESIDE_IT) < LOST_STEP &&
            find_growth(real, turned, i, real->count - 1) < LOST_STEP)
            return real->at[i].length;
    return 0;
}

/* --- perfect cloth ----------------------------------------------------------------------------------------------- */

static struct ww_scan_options scan_options(const struct ww_real_request *request)
{
    return (struct ww_scan_options){
        .route = request->segments ? request->route : NULL, .segments = request->segments, .bends = request->bends};
}

static enum ww_status scan_at(struct ww_scan **scan, const struct ww_boards *b,
                              const struct ww_correction *correction, double angle, struct ww_error *error)
{
    struct ww_scan_options options = scan_options(b->request);
    options.positions = 128;
    options.spacing = b->pair ? 0 : b->request->spacing;
    return ww_corrected_scan_create_with(scan, b->line, correction, angle, false, &options, error);
}

/* What wander leaves of the amplitude of the largest harmonic that is constant along the trace; 0 where there is none. */
static double find_kept(const struct ww_scan *scan, const struct ww_scatter *scatter)
{
    const double constant = 1e-9;
    double largest = 0, kept = 0;
    for (size_t p = 0; p < scan->plies; p++) {
        const struct ww_ply_scan *s = &scan->ply[p];
        for (size_t w = 1; w < s->harmonics; w++) {
            double kx = 2 * WW_PI * s->order[w].m / s->lx, ky = 2 * WW_PI * s->order[w].l / s->ly;
            double size = cabs(s->coefficient[0][WW_MEAN][w] - (scan->pair ? s->coefficient[1][WW_MEAN][w] : 0));
            if (fabs(kx * s->ux + ky * s->uy) > constant * hypot(kx, ky) || size <= largest)
                continue;
            double x = kx * scatter->yarn[WW_WARP].wander, y = ky * scatter->yarn[WW_FILL].wander;
            largest = size;
            kept = exp(-0.5 * (x * x + y * y));
        }
    }
    return kept;
}

/* --- lanes ------------------------------------------------------------------------------------------------------- */

static enum ww_status judge_lanes(struct ww_real *real, const struct ww_boards *b, struct ww_error *error)
{
    const struct ww_real_request *request = b->request;
    size_t lanes = request->lanes, groups = b->traces / lanes, own = real->own, within = 0, good = 0;
    double *sums = calloc(lanes, sizeof *sums), square = 0;
    real->correlation = calloc(lanes, sizeof *real->correlation);
    if (!sums || !real->correlation) {
        free(sums);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu lanes", lanes);
    }
    real->lanes = lanes;
    for (size_t g = 0; g < b->boards * groups; g++) {
        double most = 0;
        for (size_t i = 0; i < lanes; i++) {
            double value = values_of(b, 1, g / groups, g % groups * lanes + i)[own];
            most = fmax(most, fabs(value));
            within += fabs(value) <= request->budget;
            square += value * value;
            for (size_t d = 0; i + d < lanes; d++)
                sums[d] += value * values_of(b, 1, g / groups, g % groups * lanes + i + d)[own] / (double)(lanes - d);
        }
        good += most <= request->budget;
        real->expected_worst += most / (double)(b->boards * groups);
    }
    square /= (double)lanes;
    for (size_t d = 0; d < lanes; d++)
        real->correlation[d] = square > 0 ? sums[d] / square : 0;
    if (request->budget > 0) {
        real->yield = (double)good / (double)(b->boards * groups);
        real->yield_independent = pow((double)within / (double)(b->boards * groups * lanes), (double)lanes);
    }
    free(sums);
    return WW_OK;
}

/* --- the whole --------------------------------------------------------------------------------------------------- */

static enum ww_status check(const struct ww_line *line, const struct ww_real_request *r, struct ww_error *error)
{
    if (!(r->length > 0 && r->length <= MOST_LENGTH && r->longest >= 0 && r->longest <= MOST_LENGTH &&
          isfinite(r->angle) && r->turn >= 0 && r->turn <= 0.25 * WW_PI && r->spacing >= 0 &&
          r->warp_tolerance >= 0 && r->warp_tolerance <= 0.1 && r->fill_tolerance >= 0 && r->fill_tolerance <= 0.1))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a trace of %g m at %g rad is out of range", r->length,
                            r->angle);
    double route = 0;
    for (size_t i = 0; i < r->segments; i++)
        route += r->route[i].length;
    if (r->segments > 0 && (fabs(route - r->length) > SAME * r->length || r->longest > route * (1 + SAME)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a route is told over its own length, %.6g mm", 1e3 * route);
    if (line->stack->plies == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "the stackup has no ply, and without cloth there is none to wander");
    if (r->paths && (!ww_scatter_is_none(r->scatter) || r->nets > 1))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "measured cloth has no other scatter, and is no whole panel: leave nets out");
    if (r->paths && r->segments > 0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "measured cloth takes a straight trace: leave the route out");
    if (r->arms > (r->paths ? 0 : WW_ARMS_MOST - 1))
        return ww_error_set(error, WW_INVALID, NULL, 0, "up to %d arms lie on one board, and none on measured cloth",
                            WW_ARMS_MOST);
    if (r->lanes > MOST_LANES || (r->lanes > 1 && (!(r->lane_pitch > 0) || !line->mesh.pair)))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "lanes on one cloth are pairs, up to %d of them, and need a pitch", MOST_LANES);
    return WW_OK;
}

/* Steps of at most half the shortest yarn pitch; over a straight trace a whole number of them. */
static void choose_step(struct ww_real *real, const struct ww_line *line, const struct ww_real_request *request)
{
    double pitch = HUGE_VAL;
    for (size_t p = 0; p < line->stack->plies; p++)
        pitch = fmin(pitch, 0.5 * fmin(line->stack->ply[p].cell.lx, line->stack->ply[p].cell.ly));
    real->step = request->segments ? 0.5 * pitch : request->length / ceil(2 * request->length / pitch);
}

/* Along a route a length that a leg's mitre at the bend before has not ended at is that of the bend. */
static double clear_of_bends(const struct ww_real_request *request, double pitch, double length)
{
    double passed = 0;
    for (size_t i = 0; i + 1 < request->segments; i++) {
        passed += request->route[i].length;
        double mitre = 0.5 * pitch * fabs(tan(0.5 * (request->route[i + 1].angle - request->route[i].angle)));
        if (length > passed && length <= passed + 2 * mitre)
            return passed;
    }
    return length;
}

/* Along a route its bends, or every other one and so on where they are many, and what lies between them in equal parts. */
static void choose_along(struct ww_real *real, const struct ww_real_request *request, double pitch, double *at)
{
    size_t segments = request->segments, bends = (segments + LENGTHS - 1) / LENGTHS, parts = LENGTHS / segments;
    double passed = 0;
    real->count = 0;
    for (size_t i = 0; i < segments; i++) {
        double length = request->route[i].length;
        for (size_t n = 1; n < parts; n++) {
            double part = clear_of_bends(request, pitch, passed + length * (double)n / (double)parts);
            if (part > passed * (1 + SAME))
                at[real->count++] = part;
        }
        passed += length;
        if ((i + 1) % bends == 0 && i + 1 < segments)
            at[real->count++] = passed;
    }
    real->own = real->count;
    at[real->count++] = request->length;
}

/* Of a straight trace in whole steps from about a millimetre to the longest, evenly on a logarithmic axis, and the request's own.
 * at[LENGTHS + 1] */
static void choose_lengths(struct ww_real *real, const struct ww_real_request *request, double longest, double *at)
{
    double own = request->length, last = fmax(longest, own), first = fmin(fmax(SHORTEST, real->step), last);
    bool has_own = false;
    real->count = 0;
    for (int i = 0; i <= LENGTHS; i++) {
        double length = first * pow(last / first, (double)i / (LENGTHS - 1));
        length = (double)lround(length / real->step) * real->step;
        if (!has_own && (i == LENGTHS || length >= own * (1 - SAME))) {
            real->own = real->count;
            at[real->count++] = own;
            has_own = true;
        }
        if (i < LENGTHS && (real->count == 0 || length > at[real->count - 1] * (1 + SAME)))
            at[real->count++] = length;
    }
}

/* How far traces go across the warp of a ply's cloth, and along it: a straight one `longest`, or the whole route; and all arms. */
static void find_extent(const struct ww_boards *b, size_t ply, double longest, double *across, double *along)
{
    const struct ww_real_request *r = b->request;
    double low[2] = {0, 0}, high[2] = {0, 0};
    for (size_t a = 0; a <= r->arms; a++) {
        struct ww_route_segment straight;
        const struct ww_arm arm = ww_boards_arm(r, a, &straight);
        double at[2];
        straight.length = longest;
        ww_boards_from(b, ply, 0, arm.from, at);
        for (size_t i = 0; i <= arm.segments; i++) {
            for (int k = 0; k < 2; k++) {
                low[k] = fmin(low[k], at[k]);
                high[k] = fmax(high[k], at[k]);
            }
            if (i == arm.segments)
                break;
            double theta = b->angle - b->line->stack->ply[ply].turn + arm.route[i].angle;
            at[0] += arm.route[i].length * sin(theta);
            at[1] += arm.route[i].length * cos(theta);
        }
    }
    *across = high[0] - low[0];
    *along = high[1] - low[1];
}

void ww_boards_size(struct ww_boards *b, double longest)
{
    const struct ww_scatter *scatter = b->request->scatter;
    double room = LENGTHS_BESIDE * fmax(scatter->yarn[WW_WARP].wander_length, scatter->yarn[WW_FILL].wander_length);
    double lanes = (double)b->request->lanes * b->request->lane_pitch, along = 0, across = 0;
    for (size_t p = 0; p < b->plies; p++) {
        double theta = ww_boards_along(b) - b->line->stack->ply[p].turn, x, y;
        find_extent(b, p, longest, &x, &y);
        along = fmax(along, y + fabs(sin(theta)) * lanes + fabs(sin(theta)) * BESIDE);
        across = fmax(across, x + fabs(cos(theta)) * lanes + fabs(cos(theta)) * BESIDE);
    }
    b->length = along + fmin(room, along + BESIDE);
    b->width = across + (across > room ? room : 0);
}

static enum ww_status solve_lengths(struct ww_real *real, struct ww_boards *b, const struct ww_correction *correction,
                                    struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    real->at = calloc(real->count, sizeof *real->at);
    enum ww_status status = real->at ? scan_at(&scan, b, correction, b->angle, error)
                                     : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the lengths");
    if (!status)
        status = walk_boards(b, false, error);
    for (size_t i = 0; i < real->count && !status; i++) {
        struct ww_at_length *at = &real->at[i];
        at->length = b->at[i];
        status = ww_bound_find(scan, ww_boards_along(b), b->request->length, at->length, &at->bound, error);
        if (!status)
            status = ww_boards_spread(b, 0, i, &at->square, error);
        if (!status)
            status = ww_boards_spread(b, 1, i, &at->turned, error);
    }
    if (!status && !real->route) {
        real->kept = b->laid ? 0 : find_kept(scan, b->request->scatter);
        real->parts = find_parting(real, false);
        real->parts_turned = find_parting(real, true);
    }
    if (!status) {
        for (size_t i = 0; i < b->boards * WW_SYSTEMS; i++)
            if (b->fit[i].overlap >= real->fit[i % WW_SYSTEMS].overlap)
                real->fit[i % WW_SYSTEMS] = b->fit[i];
    }
    if (!status && b->request->lanes > 1)
        status = judge_lanes(real, b, error);
    ww_scan_destroy(scan);
    return status;
}

/* What else the boards tell at the request's length. */
static enum ww_status solve_board(struct ww_real *real, const struct ww_boards *all, struct ww_error *error)
{
    const struct ww_real_request *request = all->request;
    double length = all->at[real->own];
    struct ww_boards b = *all;
    double share[] = {request->nets > 1 ? SHARE_NETS : 0, request->neighbours ? SHARE_ALIKE : 0};
    enum ww_status status = WW_OK;
    b.from = all->to;
    b.to = b.from + share[0];
    if (request->nets > 1)
        status = ww_panel_solve(&real->panel, &b, length, error);
    b.from = b.to;
    b.to += share[1];
    if (!status && request->neighbours)
        status = ww_alike_solve(&real->alike, &b, length, error);
    if (!status && request->neighbours)
        status = ww_place_solve(&real->place, &b, length, real->step, error);
    return status;
}

static void destroy_walks(struct ww_walk *walk[WW_STRETCHES])
{
    for (size_t i = 0; i < WW_STRETCHES; i++)
        ww_walk_destroy(walk[i]);
}

static enum ww_status solve_feed(struct ww_real *real, const struct ww_boards *all,
                                 const struct ww_correction *correction, struct ww_error *error)
{
    struct ww_boards b = *all;
    b.from = SHARE_LENGTHS + SHARE_NETS + SHARE_ALIKE;
    b.to = b.from + SHARE_ARMS;
    return ww_feed_solve(&real->arms, &b, correction, error);
}

/* What perfect cloth has at worst, turned and its counts off, as skew has it. */
static enum ww_status solve_design(struct ww_real *real, const struct ww_boards *b,
                                   const struct ww_correction *correction, struct ww_error *error)
{
    const struct ww_real_request *r = b->request;
    const struct ww_skew_request request = {.length = r->length,
                                            .angle = r->angle,
                                            .route = r->segments ? r->route : NULL,
                                            .segments = r->segments,
                                            .turn = r->turn,
                                            .turn_law = r->turn_law,
                                            .warp_tolerance = r->warp_tolerance,
                                            .fill_tolerance = r->fill_tolerance,
                                            .scan = {.spacing = b->pair ? 0 : r->spacing, .bends = r->bends},
                                            .sections = r->sections,
                                            .correction = correction,
                                            .design_only = true,
                                            .arm = r->arm,
                                            .arms = r->arms};
    struct ww_skew skew;
    struct ww_arms arms;
    enum ww_status status = ww_skew_solve(&skew, b->line, &request, error);
    if (status)
        return status;
    real->design = fmax(skew.worst, skew.worst_with_turn);
    if (r->arms > 0) {
        status = ww_arms_solve(&arms, b->line, &request, &skew, error);
        real->arms.bound = status ? 0 : arms.worst;
        real->arms.design = status ? 0 : arms.worst_with_turn;
        ww_arms_clear(&arms);
    }
    ww_skew_clear(&skew);
    return status;
}

/* The same boards at other angles, at the request's length alone, with fewer traces. */
static enum ww_status solve_angles(struct ww_real *real, const struct ww_boards *all,
                                   const struct ww_correction *correction, struct ww_error *error)
{
    struct ww_real_request request = *all->request;
    struct ww_boards b = *all;
    request.lanes = 0;
    double at = all->at[real->own];
    const struct ww_scan_options options = scan_options(all->request);
    const double start = SHARE_LENGTHS + SHARE_NETS + SHARE_ALIKE + SHARE_ARMS;
    size_t told = 0;
    b.request = &request;
    b.traces = TRACES_AT_ANGLE;
    b.at = &at;
    b.lengths = 1;
    real->at_turn = calloc(ANGLES, sizeof *real->at_turn);
    enum ww_status status = WW_OK;
    if (!real->at_turn)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the angles");
    for (size_t i = 0; i < ANGLES && !status; i++) {
        struct ww_at_turn *turn = &real->at_turn[i];
        struct ww_scan *scan = NULL;
        struct ww_walk *walk[WW_STRETCHES] = {0};
        struct ww_real_spread spread;
        turn->angle = b.angle = all->angle + turn_by[i] * WW_PI / 180;
        b.from = start + (1 - start) * (double)i / ANGLES;
        b.to = b.from + (1 - start) / ANGLES;
        if (ww_boards_longest(&b, 0) < at)
            break; /* it would leave the measured cloth, as would larger ones */
        told++;
        ww_boards_size(&b, at);
        status = ww_walks_create(walk, b.walks, b.line, correction, b.angle, real->step, &options, b.stretch, error);
        b.walk = walk;
        if (!status)
            status = walk_boards(&b, true, error);
        if (!status)
            status = ww_boards_spread(&b, 1, 0, &spread, error);
        if (!status)
            status = scan_at(&scan, &b, correction, b.angle, error);
        if (!status)
            status = ww_bound_find(scan, ww_boards_along(&b), at, at, &turn->bound, error);
        turn->median = status ? 0 : spread.median.value;
        turn->p99 = status ? 0 : spread.p99.value;
        ww_scan_destroy(scan);
        destroy_walks(walk);
    }
    real->angles = status ? 0 : told;
    return status;
}

static enum ww_status find_correction(struct ww_correction **correction, const struct ww_line *line,
                                      const struct ww_real_request *request, struct ww_error *error)
{
    size_t angles = request->segments ? request->segments : 1;
    double *angle = calloc(angles, sizeof *angle);
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", angles);
    for (size_t i = 0; i < angles; i++)
        angle[i] = request->angle + (request->segments ? request->route[i].angle : 0);
    const struct ww_correction_request wanted = {.side = request->sections,
                                                 .angle = angle,
                                                 .angles = angles,
                                                 .after = request->angles ? turn_by[ANGLES - 1] * WW_PI / 180 : 0};
    enum ww_status status = ww_correction_create(correction, line, request->correction, &wanted, error);
    free(angle);
    return status;
}

/* --- measured cloth ---------------------------------------------------------------------------------------------- */

static void take_up(struct ww_boards *b)
{
    for (size_t p = 0; b->laid && p < b->plies; p++)
        ww_patch_destroy(b->laid[p]);
    free(b->laid);
    b->laid = NULL;
}

static enum ww_status lay_down(struct ww_boards *b, struct ww_error *error)
{
    if (!b->request->paths)
        return WW_OK;
    b->laid = calloc(b->plies, sizeof(struct ww_patch *));
    enum ww_status status =
        b->laid ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", b->plies);
    for (size_t p = 0; p < b->plies && !status; p++)
        status = ww_patch_lay(&b->laid[p], ww_stack_cloth(b->line->stack, p).style, b->request->paths, error);
    return status;
}

/* The longest length to tell. */
static enum ww_status choose_longest(const struct ww_boards *b, double *longest, struct ww_error *error)
{
    const struct ww_real_request *request = b->request;
    double asked = fmax(request->longest, request->length), room = ww_boards_longest(b, lanes_apart(b));
    *longest = request->longest > 0 ? request->longest : fmax(LONGEST, 2 * request->length);
    if (!b->laid)
        return WW_OK;
    if (asked > room)
        return ww_error_set(
            error, WW_INVALID, request->paths->file, 0,
            "a trace of %.4g mm does not fit on the cloth of %s, which takes one of up to %.4g mm at this "
            "angle, turn%s included; give a picture of more cloth, or a shorter trace",
            1e3 * asked, request->paths->picture, 1e3 * floor(1e4 * room) / 1e4,
            request->lanes > 1 ? " and lanes" : "");
    *longest = fmax(asked, fmin(*longest, b->step * floor(room / b->step)));
    return WW_OK;
}

/* --- all boards -------------------------------------------------------------------------------------------------- */

/* As asked; measured cloth has the counts that it has. */
static struct ww_real_request taken(const struct ww_real_request *asked)
{
    struct ww_real_request request = *asked;
    if (request.paths)
        request.warp_tolerance = request.fill_tolerance = 0;
    return request;
}

/* The boards of a request, which is checked; at[LENGTHS + 1] holds its lengths. Measured cloth is then laid: take_up. */
static enum ww_status set_up(struct ww_boards *b, struct ww_real *real, const struct ww_line *line,
                             const struct ww_real_request *request, double *at, struct ww_error *error)
{
    size_t lanes = request->lanes > 1 ? request->lanes : 1;
    double longest = 0;
    enum ww_status status = check(line, request, error);
    if (status)
        return status;
    *b = (struct ww_boards){.line = line,
                            .request = request,
                            .plies = line->stack->plies,
                            .boards = request->boards ? request->boards : BOARDS,
                            .traces = request->traces ? request->traces : TRACES,
                            .pair = line->mesh.pair,
                            .angle = request->angle,
                            .at = at,
                            .progress = request->progress,
                            .to = request->angles || request->neighbours || request->nets > 1 ? SHARE_LENGTHS : 1};
    b->traces = (b->traces + lanes - 1) / lanes * lanes;
    choose_step(real, line, request);
    b->step = real->step;
    status = lay_down(b, error);
    if (!status)
        status = choose_longest(b, &longest, error);
    if (status)
        return status;
    if (request->segments)
        choose_along(real, request, line->summary.pitch, at);
    else
        choose_lengths(real, request, longest, at);
    b->lengths = real->count;
    ww_boards_size(b, at[real->count - 1]);
    real->route = request->segments > 0;
    real->pair = b->pair;
    real->measured = b->laid != NULL;
    real->boards = b->boards;
    real->traces = b->traces;
    real->counts = request->warp_tolerance > 0 || request->fill_tolerance > 0;
    return WW_OK;
}

static enum ww_status raise_to(double *most, const struct ww_boards *b, struct ww_error *error)
{
    int threads;
    enum ww_status status = ww_boards_threads(b, &threads, error);
    *most = fmax(*most, threads * board_bytes(b));
    return status;
}

/* Of all that a request draws: what the boards of a time hold at most, and whether they fit. */
static enum ww_status find_bytes(double *most, const struct ww_real *real, const struct ww_boards *all,
                                 struct ww_error *error)
{
    const struct ww_real_request *request = all->request;
    double own = all->at[real->own];
    *most = 0;
    enum ww_status status = raise_to(most, all, error);
    if (!status && request->nets > 1) {
        struct ww_boards panels = ww_panel_boards(all, &own);
        status = raise_to(most, &panels, error);
    }
    for (int i = 0; i < ANGLES && request->angles && !status; i++) {
        struct ww_boards turned = *all;
        turned.angle += turn_by[i] * WW_PI / 180;
        ww_boards_size(&turned, own);
        status = raise_to(most, &turned, error);
    }
    if (all->laid)
        *most += (double)all->plies * ww_patch_laid_bytes(request->paths);
    return status;
}

/* Directions of the trace, each once; of the arm that has most. */
static size_t count_directions(const struct ww_real_request *request)
{
    size_t most = 1;
    for (size_t a = 0; a <= request->arms; a++) {
        struct ww_route_segment straight;
        const struct ww_arm arm = ww_boards_arm(request, a, &straight);
        size_t count = 0;
        for (size_t i = 0; i < arm.segments; i++) {
            size_t same = 0;
            while (same < i && arm.route[same].angle != arm.route[i].angle)
                same++;
            count += same == i;
        }
        most = count > most ? count : most;
    }
    return most;
}

double ww_real_bytes(const struct ww_stack *stack, const struct ww_trace *trace, const struct ww_real_request *asked)
{
    /* What boards need of a line that is not solved yet. */
    const struct ww_line line = {
        .stack = stack, .trace = *trace, .mesh.pair = trace->pitch > 0, .summary.pitch = trace->pitch};
    struct ww_real real = {0};
    struct ww_boards b = {0};
    const struct ww_real_request request = taken(asked);
    const struct ww_stretch *stretch;
    double at[LENGTHS + 1], most = 0;
    if (set_up(&b, &real, &line, &request, at, NULL) == WW_OK) {
        size_t walks = ww_stretches_within(request.warp_tolerance, request.fill_tolerance, &stretch);
        (void)find_bytes(&most, &real, &b, NULL);
        most += ww_walk_bytes(b.pair ? 2 : 1, walks * b.plies * count_directions(&request),
                              request.segments + request.arms > 0);
    }
    take_up(&b);
    return most;
}

/* All that the boards tell. */
static enum ww_status solve_all(struct ww_real *real, struct ww_boards *b, struct ww_error *error)
{
    const struct ww_real_request *request = b->request;
    const struct ww_scan_options options = scan_options(request);
    struct ww_correction *correction = NULL;
    struct ww_walk *walk[WW_STRETCHES] = {0};
    enum ww_status status = find_correction(&correction, b->line, request, error);
    if (!status)
        status = ww_walks_create(walk, b->walks, b->line, correction, request->angle, real->step, &options,
                                 b->stretch, error);
    b->walk = walk;
    if (!status)
        status = solve_lengths(real, b, correction, error);
    if (!status)
        status = solve_board(real, b, error);
    destroy_walks(walk);
    if (!status && request->arms > 0)
        status = solve_feed(real, b, correction, error);
    if (!status && request->angles)
        status = solve_angles(real, b, correction, error);
    if (!status && request->design)
        status = solve_design(real, b, correction, error);
    ww_correction_release(correction);
    return status;
}

enum ww_status ww_real_solve(struct ww_real *real, const struct ww_line *line, const struct ww_real_request *asked,
                             struct ww_error *error)
{
    memset(real, 0, sizeof *real);
    const struct ww_real_request request = taken(asked);
    struct ww_boards b = {0};
    double at[LENGTHS + 1], stretch[WW_STRETCHES][2], bytes;
    enum ww_status status = set_up(&b, real, line, &request, at, error);
    b.walks = ww_stretches_within(request.warp_tolerance, request.fill_tolerance, &b.share);
    b.stretch = (const double(*)[2])stretch;
    for (size_t i = 0; i < b.walks; i++) {
        stretch[i][0] = b.share[i].warp * request.warp_tolerance;
        stretch[i][1] = b.share[i].fill * request.fill_tolerance;
    }
    if (!status)
        status = find_bytes(&bytes, real, &b, error);
    if (!status) {
        b.value = calloc(2 * b.boards * b.traces * b.lengths, sizeof *b.value);
        b.fit = calloc(b.boards * WW_SYSTEMS, sizeof *b.fit);
        if (!b.value || !b.fit)
            status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu traces", b.boards * b.traces);
    }
    if (!status)
        status = solve_all(real, &b, error);
    take_up(&b);
    free(b.value);
    free(b.fit);
    if (status)
        ww_real_clear(real);
    return status;
}

void ww_real_clear(struct ww_real *real)
{
    free(real->at);
    free(real->at_turn);
    free(real->correlation);
    free(real->panel.worst);
    free(real->alike.spacing);
    free(real->alike.correlation);
    ww_map_clear(&real->place.map);
    free(real->place.start);
    free(real->arms.deviation);
    free(real->arms.correlation);
    memset(real, 0, sizeof *real);
}

/* --- in words ---------------------------------------------------------------------------------------------------- */

char *ww_real_sentence(const struct ww_real *real, double turn, char *out, size_t size)
{
    const struct ww_at_length *own = &real->at[real->own];
    char length[48], tilt[48];
    size_t used = (size_t)snprintf(
        out, size,
        "Over %s%s perfect cloth allows %.3g ps of %s; on %s, laid "
        "square, half have up to %.3g ps "
        "and 99 of 100 up to %.3g ps (%.3g to %.3g%s)",
        ww_number_format(length, sizeof length, own->length, WW_LENGTH, 4), real->route ? " of route" : "",
        1e12 * own->bound, real->pair ? "skew" : "difference between two traces",
        real->measured ? "the cloth of the picture" : "cloth whose yarns wander as told",
        1e12 * own->square.median.value, 1e12 * own->square.p99.value, 1e12 * own->square.p99.low,
        1e12 * own->square.p99.high, real->measured ? ", over places on it alone" : "");
    if ((turn > 0 || real->counts) && used < size)
        used += (size_t)snprintf(out + used, size - used, "; with the cloth up to %s off square%s %.3g and %.3g ps",
                                 ww_number_format(tilt, sizeof tilt, turn, WW_ANGLE, 4),
                                 real->counts ? " and its counts off" : "", 1e12 * own->turned.median.value,
                                 1e12 * own->turned.p99.value);
    if (real->design > 0 && used < size)
        used +=
            (size_t)snprintf(out + used, size - used, ", where perfect cloth allows %.3g ps", 1e12 * real->design);
    if (used < size)
        used += (size_t)snprintf(out + used, size - used, ".");
    if (real->arms.count > 0 && used < size)
        used +=
            (size_t)snprintf(out + used, size - used,
                             " Of %zu arms on one board %s is up to %.3g ps on half of boards and %.3g ps on 99 of "
                             "100, turn included; perfect cloth allows %.3g ps.",
                             real->arms.count, real->pair ? "the largest skew" : "the spread of delays",
                             1e12 * real->arms.turned.median.value, 1e12 * real->arms.turned.p99.value,
                             1e12 * fmax(real->arms.bound, real->arms.design));
    if (real->parts > 0 && used < size)
        (void)snprintf(out + used, size - used, " From %s on it grows no longer with length but nearer to its root.",
                       ww_number_format(length, sizeof length, real->parts, WW_LENGTH, 2));
    else if (real->kept > 0.5 && used < size)
        (void)snprintf(
            out + used, size - used,
            " This wander is small against the yarn pitch: %.0f %% of the growth with length stays, however long the "
            "trace.",
            100 * real->kept);
    return out;
}
