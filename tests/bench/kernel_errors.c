/* kernel_errors.c - the fast answer against full cross-sections, over all shipped styles.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * For each case the worst skew of a pair over one period of the cloth (at an angle: over three cells) is taken from the
 * kernel, as it is and corrected as `weftwise skew` does, and from full cross-sections of every ply in place along the
 * placement where that is worst. Plies are 1.25 times their fabric, the trace 0.9 plies wide in stripline, 1.8 in microstrip.
 * At an angle the skew is small and the error is also told against the worst skew along the warp over the same length.
 *
 * The sections are at the limit of their grids: what they differ from the kernel by is found on two nested grids of fineness 1 and
 * 2 in the correction's window, section and kernel on the same one, taken to its limit by the ratio of the line's own
 * capacitance, and added to the kernel at its limit. With one ply in place the kernel is that over the very cloth of each
 * section (line/first_order.c). The fast answer is
 * their control variate: it is integrated exactly along the path, and sections give the mean of what they differ from it by, so
 * that few of them do. To it two plies in place are
 *   S = sqrt(S_1^2 + S_2^2 - S_0^2) = S_0 + d_1 + d_2 - d_1 d_2/S_0 + ..,   d_p = S_p - S_0,
 * S_p the slowness of a leg with ply p alone in place, S_0 with none. This chooses the placement as well: of all pairs of
 * STARTS starts of each ply, and of where the answer has its worst, uphill from there by code of its own. The pairs tell what the
 * coupling does to the quantiles, which leave it out, too.
 *
 *   kernel_errors WEAVES sample=N                  N seeded cases of it; fails where one is not held
 *   kernel_errors WEAVES [sections=N] [STYLE...]   prints a table
 *   kernel_errors WEAVES "only=stripline 45 deg" [STYLE...]
 *   kernel_errors WEAVES "only=stripline diagonal" [STYLE...]   of one condition; fails where a case is not held
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "correct/correction.h"
#include "line/sections.h"
#include "scan/slowness.h"
#include "random.h"
#include "weftwise/chance.h"

#define UM 1e-6
#define DEGREES (WW_PI / 180)
#define FINEST 0.005  /* of a cell, to which the worst placement of two plies is climbed to */
#define REFERENCE 1.0 /* fineness of the coarser of the two grids that the reference's limit is taken from */
#define RESIDUAL 1e-2 /* the delay is off by its square: 1.2e-4 of the three studies (DEVELOPERS.md) */

struct condition {
    const char *name, *glass;
    bool microstrip;
    double pitch; /* in widths */
    double angle; /* [deg], or DIAGONAL */
};
#define DIAGONAL (-1.0) /* along that of the cell, whose harmonics (m, -m) are constant along the trace */

static const struct condition condition[] = {
    {"stripline", "E", false, 2.2, 0},        {"stripline", "E", false, 2.2, 90},
    {"stripline, tight", "E", false, 1.5, 0}, {"stripline, loose", "E", false, 4, 0},
    {"stripline, NE", "NE", false, 2.2, 0},   {"microstrip", "E", true, 2.2, 0},
    {"microstrip", "E", true, 2.2, 90},       {"microstrip, tight", "E", true, 1.5, 0},
    {"microstrip, NE", "NE", true, 2.2, 0},   {"stripline", "E", false, 2.2, 15},
    {"stripline", "E", false, 2.2, 30},       {"stripline", "E", false, 2.2, 45},
    {"stripline", "E", false, 2.2, 60},       {"stripline", "E", false, 2.2, 75},
    {"microstrip", "E", true, 2.2, 15},       {"microstrip", "E", true, 2.2, 30},
    {"microstrip", "E", true, 2.2, 45},       {"microstrip", "E", true, 2.2, 60},
    {"microstrip", "E", true, 2.2, 75},       {"stripline", "E", false, 2.2, DIAGONAL},
    {"microstrip", "E", true, 2.2, DIAGONAL},
};
enum { CONDITIONS = sizeof condition / sizeof *condition };
enum { SIDE = 24, STARTS = SIDE * SIDE }; /* of a ply over its cell */
enum { FEWER = 4 };                       /* places along the path to choose it by the coupling, than sections */
enum { ALONG = 64, AT_AN_ANGLE = 192 };   /* sections over a period of a yarn, and over three cells at an angle */

static size_t side = 16; /* of the correction's lattice, as a study has it by default */

static const char *wanted; /* this condition; NULL: all */

struct board {
    struct ww_layer layer[5];
    struct ww_stack stack;
    struct ww_line *line;
};

static void board_close(struct board *board)
{
    ww_line_destroy(board->line);
    ww_stack_clear(&board->stack);
    memset(board, 0, sizeof *board);
}

static enum ww_status board_open(struct board *board, const struct ww_style *style, const struct condition *c,
                                 struct ww_error *error)
{
    memset(board, 0, sizeof *board);
    struct ww_resin resin = {.name = "resin", .dk = 3.2};
    double fabric = style->warp.height.value + style->fill.height.value;
    double ply = fmax(1.25 * fabric, fabric + 10 * UM);
    struct ww_layer cloth = {.kind = WW_LAYER_PLY, .thickness = ply, .dk = 3.2, .style = *style, .resin = resin};
    size_t n = 0;
    board->layer[n++].kind = c->microstrip ? WW_LAYER_AIR : WW_LAYER_PLANE;
    if (!c->microstrip)
        board->layer[n++] = cloth;
    board->layer[n++] = (struct ww_layer){.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2, .resin = resin};
    board->layer[n++] = cloth;
    board->layer[n++].kind = WW_LAYER_PLANE;
    board->stack.layer = board->layer;
    board->stack.count = n;
    enum ww_status status = ww_stack_build(&board->stack, NULL, error);
    double width = round((c->microstrip ? 1.8 : 0.9) * ply / UM) * UM;
    struct ww_trace trace = {width, 15 * UM, c->pitch * width};
    return status ? status : ww_line_create(&board->line, &board->stack, &trace, NULL, error);
}

static double angle_of(const struct board *board, const struct condition *c)
{
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    return c->angle == DIAGONAL ? atan2(cell->lx, cell->ly) : c->angle * DEGREES;
}

static double stretch_of(const struct board *board, double angle)
{
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    double along = fabs(sin(angle)) * cell->lx + fabs(cos(angle)) * cell->ly;
    return fmod(angle, 90 * DEGREES) == 0 ? along : 3 * along;
}

/* A straight path of the trace over the plies. */
struct path {
    double angle, stretch, from[2][2];
    size_t sections;
};

static void place_at(const struct path *path, size_t i, double place[2][2])
{
    double s = ((double)i + 0.5) * path->stretch / (double)path->sections;
    for (size_t p = 0; p < 2; p++) {
        place[p][0] = path->from[p][0] + s * sin(path->angle);
        place[p][1] = path->from[p][1] + s * cos(path->angle);
    }
}

/* Slowness of both legs by the fast answer with one ply in place [s/m]. */
static void legs_at(const struct ww_ply_scan *ply, const double place[2], double slowness[2])
{
    struct ww_stepper stepper = ww_stepper_of(2 * WW_PI * place[0] / ply->lx, 2 * WW_PI * place[1] / ply->ly);
    slowness[0] = slowness[1] = 0;
    for (size_t h = 0; h < ply->harmonics; h++) {
        double _Complex turn = (ply->order[h].m ? 2 : 1) * ww_stepper_to(&stepper, ply->order[h]);
        for (int leg = 0; leg < 2; leg++)
            slowness[leg] += creal(turn * ply->coefficient[leg][WW_MEAN][h]);
    }
}

/* Leg 1 less leg 2 by the fast answer [s/m]: of all plies in place (of_ply 0), or of one (from 1) with the others at their
 * mean. Sum: of what each ply does alone. */
static double fast_at(const struct ww_scan *scan, const double place[2][2], size_t of_ply, double *sum)
{
    const double level[2] = {scan->level[0][WW_MEAN], scan->level[1][WW_MEAN]};
    double square[2] = {level[0] * level[0], level[1] * level[1]};
    *sum = 0;
    for (size_t p = 0; p < scan->plies; p++) {
        double one[2];
        if (of_ply && of_ply != p + 1)
            continue;
        legs_at(&scan->ply[p], place[p], one);
        *sum += one[0] - one[1];
        for (int leg = 0; leg < 2; leg++)
            square[leg] += one[leg] * one[leg] - level[leg] * level[leg];
    }
    return sqrt(square[0]) - sqrt(square[1]);
}

/* The fast answer over the path: each ply alone, exactly. */
static enum ww_status add_plies(const struct ww_scan *scan, const struct path *path, size_t of_ply, double *sum,
                                struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < scan->plies && !status; p++) {
        double value = 0;
        if (of_ply == 0 || of_ply == p + 1)
            status = ww_scan_value(scan, p, WW_SKEW, WW_MEAN, path->stretch, path->from[p][0], path->from[p][1],
                                   &value, error);
        *sum += value;
    }
    return status;
}

/* The kernel over the path, each ply alone, on the line's grid or at its limit. */
static enum ww_status skew_of_kernel(const struct ww_line *line, const struct path *path, size_t of_ply, double *skew,
                                     struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    *skew = 0;
    enum ww_status status = ww_scan_create_with(&scan, line, path->angle, false, NULL, error);
    if (!status)
        status = add_plies(scan, path, of_ply, skew, error);
    ww_scan_destroy(scan);
    return status;
}

/* What sections of one ply differ in skew over the path from the kernel of their own grid: at each place from the kernel over the very
 * same cloth (line/first_order.c), with what the correction says of it for a control variate. */
static enum ww_status residual_on_grid(const struct ww_sections *sections, const struct ww_scan *scan,
                                       const struct ww_scan *kernel, const struct path *path, size_t of_ply,
                                       double *residual, struct ww_error *error)
{
    double part[AT_AN_ANGLE], by_kernel = 0;
    int failed = 0;
    *residual = 0;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic) reduction(+ : failed)
#endif
    for (size_t i = 0; i < path->sections; i++) {
        double place[2][2], first_order[2], fast[2], of_kernel[2];
        struct ww_told told;
        place_at(path, i, place);
        failed += ww_sections_nested(sections, 1, (const double(*)[2])place, RESIDUAL, false, &told, NULL) != WW_OK;
        ww_slowness_of_change(sections->line, told.change, first_order);
        legs_at(&scan->ply[of_ply - 1], place[of_ply - 1], fast);
        legs_at(&kernel->ply[of_ply - 1], place[of_ply - 1], of_kernel);
        part[i] = (told.delay[0] - told.delay[1] - first_order[0] + first_order[1] - fast[0] + fast[1] +
                   of_kernel[0] - of_kernel[1]) *
                  path->stretch / (double)path->sections;
    }
    for (size_t i = 0; i < path->sections; i++)
        *residual += part[i];
    enum ww_status status = add_plies(scan, path, of_ply, residual, error);
    if (!status)
        status = add_plies(kernel, path, of_ply, &by_kernel, error);
    *residual -= by_kernel;
    return failed ? ww_error_set(error, WW_NOT_CONVERGED, NULL, 0, "%d sections did not converge", failed) : status;
}

/* Skew over the path by sections of all plies (of_ply 0) or of one, on one grid. */
static enum ww_status skew_on_grid(const struct ww_sections *sections, const struct ww_scan *scan,
                                   const struct path *path, size_t of_ply, double *skew, struct ww_error *error)
{
    double part[AT_AN_ANGLE];
    int failed = 0;
    *skew = 0;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic) reduction(+ : failed)
#endif
    for (size_t i = 0; i < path->sections; i++) {
        double place[2][2], delay[2] = {0}, sum;
        place_at(path, i, place);
        failed += ww_sections_legs(sections, (const double(*)[2])place, RESIDUAL, delay, NULL) != WW_OK;
        fast_at(scan, (const double(*)[2])place, of_ply, &sum);
        part[i] = (delay[0] - delay[1] - sum) * path->stretch / (double)path->sections;
    }
    for (size_t i = 0; i < path->sections; i++)
        *skew += part[i];
    enum ww_status status = add_plies(scan, path, of_ply, skew, error);
    return failed ? ww_error_set(error, WW_NOT_CONVERGED, NULL, 0, "%d sections did not converge", failed) : status;
}

/* The same at the limit of the grids. */
static enum ww_status skew_of_sections(const struct ww_line *line, const struct ww_scan *scan,
                                       const struct path *path, size_t of_ply, double *skew, struct ww_error *error)
{
    struct ww_line *grid[2] = {NULL, NULL};
    const double weight[2] = {-1 / (line->ratio - 1), line->ratio / (line->ratio - 1)};
    struct ww_scan *kernel_alone = NULL;
    enum ww_status status = ww_line_create_single(&grid[0], line->stack, &line->trace,
                                                  &(struct ww_line_options){.fineness = REFERENCE}, error);
    of_ply = line->stack->plies == 1 ? 1 : of_ply;
    if (!status)
        status = ww_line_create_refined(&grid[1], grid[0], error);
    if (!status)
        status = skew_of_kernel(line, path, of_ply, skew, error);
    if (!status)
        status = ww_scan_create_with(&kernel_alone, line, path->angle, false, NULL, error);
    for (int g = 0; g < 2 && !status; g++) {
        struct ww_sections sections = {0};
        double full = 0, kernel = 0;
        status = ww_sections_create(&sections, grid[g], path->angle, of_ply, error);
        if (!status && of_ply)
            status = residual_on_grid(&sections, scan, kernel_alone, path, of_ply, &full, error);
        else if (!status) {
            status = skew_on_grid(&sections, scan, path, of_ply, &full, error);
            if (!status)
                status = skew_of_kernel(grid[g], path, of_ply, &kernel, error);
        }
        *skew += weight[g] * (full - kernel);
        ww_sections_destroy(&sections);
    }
    ww_scan_destroy(kernel_alone);
    ww_line_destroy(grid[0]);
    ww_line_destroy(grid[1]);
    return status;
}

/* Skew over the path by the fast answer and the coupling of the plies. */
static enum ww_status skew_of_coupling(const struct ww_scan *scan, const struct path *path, double *skew,
                                       struct ww_error *error)
{
    *skew = 0;
    for (size_t i = 0; i < path->sections; i++) {
        double place[2][2], sum;
        place_at(path, i, place);
        double both = fast_at(scan, (const double(*)[2])place, 0, &sum);
        *skew += (both - sum) * path->stretch / (double)path->sections;
    }
    return add_plies(scan, path, 0, skew, error);
}

/* Two plies from everywhere: one random start in each square of a lattice over the cell, and what the legs see from there. */
struct everywhere {
    double from[2][STARTS][2];
    double leg[2][STARTS][2][AT_AN_ANGLE / FEWER]; /* slowness less the level, along the path [s/m] */
    double alone[2][STARTS];                       /* skew of each ply alone [s] */
};

static void see(struct everywhere *all, const struct ww_scan *scan, const struct path *path, size_t p, size_t start)
{
    struct path from = *path;
    memcpy(from.from[p], all->from[p][start], sizeof from.from[p]);
    for (size_t i = 0; i < path->sections; i++) {
        double place[2][2], slowness[2];
        place_at(&from, i, place);
        legs_at(&scan->ply[p], place[p], slowness);
        for (int leg = 0; leg < 2; leg++)
            all->leg[p][start][leg][i] = slowness[leg] - scan->level[leg][WW_MEAN];
        all->alone[p][start] += (slowness[0] - slowness[1]) * path->stretch / (double)path->sections;
    }
}

static void see_all(struct everywhere *all, const struct ww_scan *scan, const struct path *path)
{
    struct random random = random_of(1);
    memset(all, 0, sizeof *all);
    for (size_t i = 0; i < 2 * STARTS; i++) {
        size_t start = i % STARTS;
        const struct ww_ply_scan *ply = &scan->ply[i / STARTS];
        double *from = all->from[i / STARTS][start];
        from[0] = ((double)(start % SIDE) + random_share(&random)) * ply->lx / SIDE;
        from[1] = ((double)(start / SIDE) + random_share(&random)) * ply->ly / SIDE;
    }
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads())
#endif
    for (size_t i = 0; i < 2 * STARTS; i++)
        see(all, scan, path, i / STARTS, i % STARTS);
}

/* The coupling, to second order: -1/S integral of d_1 d_2 of leg 1 less that of leg 2 [s]. */
static double coupling_of(const struct everywhere *all, const struct ww_scan *scan, const struct path *path, size_t a,
                          size_t b)
{
    double sum = 0;
    for (size_t i = 0; i < path->sections; i++)
        sum += all->leg[0][a][0][i] * all->leg[1][b][0][i] - all->leg[0][a][1][i] * all->leg[1][b][1][i];
    return -sum * path->stretch / ((double)path->sections * scan->level[0][WW_MEAN]);
}

static int ascending(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

static const double share_of[] = {0.5, 0.95, 0.99};
enum { SHARES = sizeof share_of / sizeof *share_of };

/* The best start of all, and by how much the coupling moves the quantiles of |skew|, relative. */
static enum ww_status choose_starts(struct path *path, const struct everywhere *all, const struct ww_scan *scan,
                                    double moved[SHARES], struct ww_error *error)
{
    double most = -INFINITY, *value[2];
    for (int i = 0; i < 2; i++)
        value[i] = malloc(sizeof *value[i] * STARTS * STARTS);
    enum ww_status status =
        value[0] && value[1] ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the starts");
    for (size_t a = 0; a < STARTS && !status; a++)
        for (size_t b = 0; b < STARTS; b++) {
            double sum = all->alone[0][a] + all->alone[1][b], both = sum + coupling_of(all, scan, path, a, b);
            value[0][a * STARTS + b] = fabs(sum);
            value[1][a * STARTS + b] = fabs(both);
            if (both > most) {
                most = both;
                memcpy(path->from[0], all->from[0][a], sizeof path->from[0]);
                memcpy(path->from[1], all->from[1][b], sizeof path->from[1]);
            }
        }
    for (int i = 0; i < 2 && !status; i++)
        qsort(value[i], STARTS * STARTS, sizeof *value[i], ascending);
    for (size_t i = 0; i < SHARES && !status; i++) {
        size_t at = (size_t)(share_of[i] * STARTS * STARTS);
        moved[i] = value[1][at] / value[0][at] - 1;
    }
    free(value[0]);
    free(value[1]);
    return status;
}

/* From there uphill, along each coordinate of each ply in turn, in steps that halve. */
static enum ww_status climb(struct path *path, const struct ww_scan *scan, double *most, struct ww_error *error)
{
    enum ww_status status = skew_of_coupling(scan, path, most, error);
    for (double step = 0.5 / SIDE; step > FINEST; step /= 2)
        for (int i = 0; i < 8 && !status; i++) {
            struct path there = *path;
            const struct ww_ply_scan *ply = &scan->ply[i / 4];
            double value;
            there.from[i / 4][i / 2 % 2] += (i % 2 ? -step : step) * (i / 2 % 2 ? ply->ly : ply->lx);
            status = skew_of_coupling(scan, &there, &value, error);
            if (value > *most) {
                *most = value;
                *path = there;
            }
        }
    return status;
}

/* The fast answer with the coupling of two plies. */
struct coupled {
    double worst;         /* [s] */
    double moved[SHARES]; /* by which the coupling moves the quantiles, relative */
};

/* The worst placement of two plies, which couple: climbed to from the best start of all, and from where the answer has its worst,
 * since near a null the ridges are narrower than the starts are apart. */
static enum ww_status choose_path(struct path *path, const struct ww_scan *scan, const struct ww_skew *skew,
                                  struct coupled *coupled, struct ww_error *error)
{
    static struct everywhere all;
    size_t sections = path->sections;
    double there = 0;
    path->sections /= FEWER;
    see_all(&all, scan, path);
    struct path answer = *path;
    for (size_t p = 0; p < 2; p++) {
        answer.from[p][0] = skew->high[p].x;
        answer.from[p][1] = skew->high[p].y;
    }
    enum ww_status status = choose_starts(path, &all, scan, coupled->moved, error);
    if (!status)
        status = climb(path, scan, &coupled->worst, error);
    if (!status)
        status = climb(&answer, scan, &there, error);
    if (there > coupled->worst) {
        coupled->worst = there;
        *path = answer;
    }
    path->sections = sections;
    return status;
}

/* The worst by full sections of all plies in place; or, alone, the sum over the plies of each one's worst with the others at
 * their mean, which is what the answer adds. The plies of a stripline here are mirror images of each other: alone, one stands
 * for both. */
static enum ww_status worst_of_sections(const struct board *board, const struct ww_skew *skew, double angle,
                                        double stretch, bool alone, double *worst, struct coupled *coupled,
                                        struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    struct ww_scan_options options = {.positions = SIDE};
    struct path path = {angle, stretch, {{0}}, fmod(angle, 90 * DEGREES) == 0 ? ALONG : AT_AN_ANGLE};
    enum ww_status status =
        ww_corrected_scan_create_with(&scan, board->line, skew->correction, angle, false, &options, error);
    path.from[0][0] = skew->high[0].x;
    path.from[0][1] = skew->high[0].y;
    coupled->worst = skew->worst;
    if (!status && !alone && scan->plies > 1)
        status = choose_path(&path, scan, skew, coupled, error);
    if (!status)
        status = skew_of_sections(board->line, scan, &path, alone ? 1 : 0, worst, error);
    *worst *= alone ? (double)board->stack.plies : 1;
    ww_scan_destroy(scan);
    return status;
}

/* What is asked of the answer: 2 % of the worst where it is a tenth of the worst along the warp over the same length or
 * more, else 0.2 % of that. */
static bool is_good(double error, double share)
{
    return fabs(error) * (share < 0.1 ? share / 0.1 : 1) <= 0.02;
}

/* Of one case, errors relative to the worst by full sections: of the kernel as it is, of the corrected answer, of that with the
 * coupling of two plies, and, where the answer is not good, of that against the plies alone; and what share the worst is of
 * that along the warp. */
struct errors {
    double kernel, corrected, coupled, alone, share;
    double moved[SHARES]; /* as in struct coupled */
};

static enum ww_status measure(const struct ww_style *style, const struct condition *c, struct errors *errors,
                              struct ww_error *error)
{
    struct board board;
    struct ww_skew plain = {0}, better = {0}, warp = {0};
    struct coupled coupled = {0}, none;
    double sections = 0, alone = 0;
    enum ww_status status = board_open(&board, style, c, error);
    if (status)
        goto done;
    double angle = angle_of(&board, c);
    double stretch = stretch_of(&board, angle);
    struct ww_skew_request request = {.length = stretch, .angle = angle};
    status = ww_skew_solve(&plain, board.line, &request, error);
    request.sections = side;
    if (!status)
        status = ww_skew_solve(&better, board.line, &request, error);
    request.sections = 0;
    request.angle = 0;
    if (!status)
        status = ww_skew_solve(&warp, board.line, &request, error);
    if (!status)
        status = worst_of_sections(&board, &better, angle, stretch, false, &sections, &coupled, error);
    *errors = (struct errors){.kernel = plain.worst / sections - 1,
                              .corrected = better.worst / sections - 1,
                              .coupled = coupled.worst / sections - 1,
                              .share = fabs(sections) / warp.worst};
    memcpy(errors->moved, coupled.moved, sizeof errors->moved);
    errors->alone = errors->corrected;
    if (!status && !is_good(errors->corrected, errors->share) && board.stack.plies > 1) {
        status = worst_of_sections(&board, &better, angle, stretch, true, &alone, &none, error);
        errors->alone = better.worst / alone - 1;
    }
done:
    ww_skew_clear(&plain);
    ww_skew_clear(&better);
    ww_skew_clear(&warp);
    board_close(&board);
    return status;
}

/* "0 deg", "diagonal" */
static const char *angle_name(const struct condition *c, char text[16])
{
    snprintf(text, 16, c->angle == DIAGONAL ? "diagonal" : "%g deg", c->angle);
    return text;
}

/* "microstrip, tight 0 deg" */
static bool is_wanted(const struct condition *c)
{
    char text[64], angle[16];
    snprintf(text, sizeof text, "%s %s", c->name, angle_name(c, angle));
    return strcmp(text, wanted) == 0;
}

enum { MOST_CASES = 64 * CONDITIONS };
static struct errors of_case[MOST_CASES];
static size_t cases;

/* Is it held? */
static bool measure_case(const struct ww_weaves *weaves, const char *name, const struct condition *c)
{
    struct ww_error error = {0};
    struct ww_style style;
    struct errors e = {0};
    char angle[16];
    enum ww_status status = ww_weaves_style(weaves, name, &style, &error);
    if (!status)
        status = ww_weaves_glass(weaves, c->glass, &style.glass, &error);
    if (!status)
        status = measure(&style, c, &e, &error);
    if (status) {
        printf("%-12s %-18s %8s  %s\n", name, c->name, angle_name(c, angle), error.text);
        return false;
    }
    bool good = is_good(e.corrected, e.share);
    printf("%-12s %-18s %8s  kernel %+6.2f %%  corrected %+6.2f %%  (%.3f of the worst along the warp)", name,
           c->name, angle_name(c, angle), 100 * e.kernel, 100 * e.corrected, e.share);
    printf(good ? "" : "  beyond");
    if (!good && !c->microstrip)
        printf("; plies alone %+.2f %%, coupled %+.2f %%; the coupling moves p50 %+.1f, p95 %+.1f, p99 %+.1f %%",
               100 * e.alone, 100 * e.coupled, 100 * e.moved[0], 100 * e.moved[1], 100 * e.moved[2]);
    printf("\n");
    if (cases < MOST_CASES)
        of_case[cases++] = e;
    return is_good(e.corrected, e.share);
}

/* How many of its cases are not held. */
static size_t measure_style(const struct ww_weaves *weaves, const char *name)
{
    size_t beyond = 0;
    for (size_t c = 0; c < CONDITIONS; c++)
        if (!wanted || is_wanted(&condition[c]))
            beyond += !measure_case(weaves, name, &condition[c]);
    return beyond;
}

/* A seeded sample of the table's cases, each once or more; how many are not held. */
static size_t measure_sample(const struct ww_weaves *weaves, const struct ww_names *names, size_t count)
{
    struct random random = random_of(2026);
    size_t beyond = 0;
    for (size_t i = 0; i < count; i++) {
        size_t style = random_below(&random, (unsigned)names->count);
        beyond += !measure_case(weaves, names->name[style], &condition[random_below(&random, CONDITIONS)]);
    }
    return beyond;
}

static void print_errors(const char *what, double *error)
{
    double sum = 0;
    for (size_t i = 0; i < cases; i++)
        sum += error[i];
    qsort(error, cases, sizeof *error, ascending);
    printf("%-44s mean %5.2f %%  95 %% of them within %5.2f %%  worst %5.2f %%\n", what, 100 * sum / (double)cases,
           100 * error[(size_t)(0.95 * (double)(cases - 1))], 100 * error[cases - 1]);
}

static void print_summary(void)
{
    static double own[MOST_CASES], of_warp[MOST_CASES], kernel[MOST_CASES];
    size_t beyond = 0, by_plies = 0, coupled = 0;
    for (size_t i = 0; i < cases; i++) {
        const struct errors *e = &of_case[i];
        own[i] = fabs(e->corrected);
        of_warp[i] = fabs(e->corrected) * e->share;
        kernel[i] = fabs(e->kernel) * e->share;
        beyond += !is_good(e->corrected, e->share);
        by_plies += !is_good(e->corrected, e->share) && is_good(e->alone, e->share);
        coupled += !is_good(e->coupled, e->share);
    }
    printf("\n%zu cases, errors of the worst skew against full sections\n", cases);
    if (cases == 0)
        return;
    print_errors("corrected, of the worst itself", own);
    print_errors("corrected, of the worst along the warp", of_warp);
    print_errors("kernel, of the worst along the warp", kernel);
    printf("%zu beyond 2 %%, or 0.2 %% of the worst along the warp where less than a tenth of it; %zu of them by the "
           "coupling of plies; with it %zu would be\n",
           beyond, by_plies, coupled);
}

int main(int argc, char **argv)
{
    struct ww_error error = {0};
    struct ww_weaves weaves = {0};
    struct ww_names names = {0};
    size_t beyond = 0;
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (argc < 2 || ww_weaves_open(&weaves, argv[1], NULL, &error) || ww_weaves_styles(&weaves, &names, &error)) {
        fprintf(stderr, "kernel_errors: %s\n", argc < 2 ? "give the weaves folder" : error.text);
        return 2;
    }
    int first = 2;
    if (argc > first && strncmp(argv[first], "sections=", 9) == 0)
        side = strtoul(argv[first++] + 9, NULL, 10);
    if (argc > first && strncmp(argv[first], "only=", 5) == 0)
        wanted = argv[first++] + 5;
    if (argc > first && strncmp(argv[first], "sample=", 7) == 0) {
        beyond = measure_sample(&weaves, &names, strtoul(argv[first] + 7, NULL, 10));
        printf("%zu not held\n", beyond);
    } else {
        for (int i = first; i < argc; i++)
            beyond += measure_style(&weaves, argv[i]);
        for (size_t i = 0; argc == first && i < names.count; i++)
            beyond += measure_style(&weaves, names.name[i]);
        print_summary();
        beyond = wanted ? beyond : 0;
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
    return beyond > 0;
}
