/* rest.c - what the kernel, set right along warp, fill and diagonal, still lacks in between.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Factors and products (calibrate.c) leave a few per cent of the modulation, in waves such as (2, 2) and (4, -2). Where one
 * of these is all that keeps step with the trace, that is as much of the skew. So at some angles the difference between
 * full sections and the kernel is taken on a lattice of places over the cell of each ply, the others at their lateral
 * mean, and wave by wave it is added. The kernel being near, the difference is smooth where the cloth is not: what a lattice
 * of 15 by 15 cannot tell apart hardly matters up to its tenth order, and a grid half as fine tells it as well.
 *
 * The cloth looks the same half a cell on along both axes: with an odd number of places to a side the lattice sees it there as
 * well, between its places, and waves that it takes for each other differ by 15 in both orders, or by 30 in one. The cloth
 * looks the same turned by half a turn, which makes of leg 1 leg 2: half of the places tell all. Seen from the leg itself,
 * a(k) = S^(k) exp(-i k.n pitch/2), what is lacking changes little over ten degrees. It is interpolated between the angles,
 * and fades towards where yarns run along the trace, for there it is the families that count, and they have factors of
 * their own. Angles are folded into the first quarter:
 *   a(k; theta + pi) = conj a(k; theta),   a(m, l; pi - theta) = (-1)^m conj a(m, -l; theta),
 * the latter because the cloth's mirror image is the cloth half a cell on.
 */
#include "scan/rest.h"

#include <math.h>
#include <stdlib.h>

#include "core/parallel.h"
#include "line/full.h"

#define COARSE 0.5 /* of the line's fineness */
#define COARSEST 0.25
#define RESIDUAL 1e-2   /* of the sections, as in calibrate.c */
#define PER_SECTION 1.6 /* places across the lattice for a section along a way */
#define REACHED 0.7     /* of the lattice's places across: sum of the orders of the waves it tells, 10 of 15 */
#define LEAST_SIDE 9
#define MOST_SIDE 25 /* more tell no more */
#define DEGREES (WW_PI / 180)
#define FADES (22.5 * DEGREES) /* without a nearer neighbour */
#define ALONG (4 * DEGREES)    /* of a yarn: no angle of its own */
#define SAME (1 * DEGREES)     /* one angle */

enum { ORDER = 10, SIDE = 2 * ORDER + 1, WAVES = (ORDER + 1) * SIDE };

/* At one angle of the trace from the warp of one ply, within the first quarter. */
struct node {
    double angle;
    bool wanted;                 /* still to be found */
    double _Complex lack[WAVES]; /* slowness [s/m] as the leg itself sees it; 0 for a wave that was not told */
};

struct rest_of_ply {
    size_t nodes;
    struct node *node; /* by angle */
};

struct ww_rest {
    size_t plies;
    struct rest_of_ply *ply;
};

static size_t place_of(int m, int l)
{
    return (size_t)(m * SIDE + l + ORDER);
}

/* An angle as it lies to the cloth: in the first quarter, and what of the symmetries above leads there. */
struct folded {
    double angle;
    bool conjugate, mirror;
};

static struct folded fold(double theta)
{
    double half = theta - WW_PI * floor(theta / WW_PI);
    bool turned = fmod(floor(theta / WW_PI), 2) != 0, mirror = half > 0.5 * WW_PI;
    return (struct folded){mirror ? WW_PI - half : half, turned != mirror, mirror};
}

/* --- finding it ------------------------------------------------------------------------------------------------------- */

/* A lattice over the cell of one ply: its first places, row by row, of which the last is its own image turned by half a
 * turn. */
struct lattice {
    size_t side, places;
    int reach;
    double (*lack)[2]; /* [places]: of either leg */
};

static struct lattice lattice_of(size_t sections)
{
    size_t side = (size_t)fmin(fmax(round(PER_SECTION * (double)sections), LEAST_SIDE), MOST_SIDE) | 1;
    return (struct lattice){side, (side * side + 1) / 2, (int)fmin(ORDER, floor(REACHED * (double)side)), NULL};
}

/* In cells. */
static void lattice_place(const struct lattice *lattice, size_t i, double place[2])
{
    place[0] = ((double)(i % lattice->side) + 0.5) / (double)lattice->side;
    place[1] = ((double)(i / lattice->side) + 0.5) / (double)lattice->side;
}

static enum ww_status see_place(struct lattice *lattice, size_t i, const struct ww_line *line,
                                const struct ww_inverse *inverse, const struct ww_scan *scan, size_t ply,
                                struct ww_error *error)
{
    double(*place)[2] = calloc(line->stack->plies, sizeof *place), full[2], cell[2];
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", line->stack->plies);
    lattice_place(lattice, i, cell);
    double x = place[ply][0] = cell[0] * scan->ply[ply].lx, y = place[ply][1] = cell[1] * scan->ply[ply].ly;
    enum ww_status status =
        ww_section_legs(line, inverse, scan->angle, (const double(*)[2])place, ply + 1, RESIDUAL, full, error);
    free(place);
    for (int leg = 0; leg < (scan->pair ? 2 : 1) && !status; leg++)
        lattice->lack[i][leg] = full[leg] - ww_scan_average_at(scan, ply, leg ? WW_LEG2 : WW_LEG1, WW_MEAN, 0, x, y);
    if (!scan->pair)
        lattice->lack[i][1] = lattice->lack[i][0];
    return status;
}

/* Every section fills its own place, so that the result is the same on any number of threads. */
static enum ww_status see_lattice(struct lattice *lattice, const struct ww_line *line,
                                  const struct ww_inverse *inverse, const struct ww_scan *scan, size_t ply,
                                  struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < lattice->places; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, see_place(lattice, i, line, inverse, scan, ply, &mine), &mine);
    }
    return failure.status;
}

static double transverse(const struct ww_ply_scan *ply, int m, int l)
{
    return 2 * WW_PI * (l * ply->ux / ply->ly - m * ply->uy / ply->lx);
}

/* Leg 2 sees at r what leg 1 sees at -r. */
static double _Complex wave_of(const struct lattice *lattice, int m, int l)
{
    double _Complex sum = 0;
    for (size_t i = 0; i < lattice->places; i++) {
        double place[2];
        lattice_place(lattice, i, place);
        double _Complex turn = ww_turned(2 * WW_PI * (m * place[0] + l * place[1]));
        double _Complex both = lattice->lack[i][0] * conj(turn) + lattice->lack[i][1] * turn;
        sum += i + 1 < lattice->places ? both : 0.5 * both;
    }
    return sum / (double)(lattice->side * lattice->side);
}

/* Of the waves that the cloth has, those not too short for the lattice. */
static bool is_told(const struct lattice *lattice, int m, int l)
{
    return (m || l) && (m + l) % 2 == 0 && m + abs(l) <= lattice->reach;
}

static enum ww_status find_node(struct node *node, struct lattice *lattice, const struct ww_line *line,
                                const struct ww_inverse *inverse, const struct ww_scales *scales, size_t ply,
                                struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    struct ww_scan_options options = {.scales = *scales};
    options.scales.rest = NULL;
    enum ww_status status =
        ww_scan_create_with(&scan, line, node->angle + line->stack->ply[ply].turn, false, &options, error);
    if (!status)
        status = see_lattice(lattice, line, inverse, scan, ply, error);
    for (int m = 0; m <= lattice->reach && !status; m++)
        for (int l = -lattice->reach; l <= lattice->reach; l++)
            if (is_told(lattice, m, l)) {
                double phase = scan->pair ? 0.5 * scan->pitch * transverse(&scan->ply[ply], m, l) : 0;
                node->lack[place_of(m, l)] = wave_of(lattice, m, l) * ww_turned(-phase);
            }
    node->wanted = false;
    ww_scan_destroy(scan);
    return status;
}

static int by_angle(const void *one, const void *other)
{
    double a = ((const struct node *)one)->angle, b = ((const struct node *)other)->angle;
    return (a > b) - (a < b);
}

/* What is known, and the angles as they lie to one ply: none along its yarns, none twice. */
static enum ww_status choose_nodes(struct rest_of_ply *rest, const struct rest_of_ply *known, double turn,
                                   const double *angle, size_t angles, struct ww_error *error)
{
    size_t had = known ? known->nodes : 0;
    rest->node = calloc(had + angles + 1, sizeof *rest->node);
    if (!rest->node)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for sections at %zu angles", angles);
    for (; rest->nodes < had; rest->nodes++)
        rest->node[rest->nodes] = known->node[rest->nodes];
    for (size_t i = 0; i < angles; i++) {
        double at = fold(angle[i] - turn).angle;
        bool taken = at < ALONG || 0.5 * WW_PI - at < ALONG;
        for (size_t n = 0; n < rest->nodes; n++)
            taken = taken || fabs(rest->node[n].angle - at) < SAME;
        if (!taken)
            rest->node[rest->nodes++] = (struct node){.angle = at, .wanted = true};
    }
    qsort(rest->node, rest->nodes, sizeof *rest->node, by_angle);
    return WW_OK;
}

static enum ww_status find_all(struct ww_rest *rest, const struct ww_line *line, const struct ww_scales *scales,
                               size_t sections, struct ww_error *error)
{
    struct ww_line *coarse = NULL;
    struct ww_inverse inverse = {0};
    struct ww_line_options options = {.fineness = fmax(COARSE * line->fineness, COARSEST)};
    struct lattice lattice = lattice_of(sections);
    lattice.lack = calloc(lattice.places, sizeof *lattice.lack);
    if (!lattice.lack)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", lattice.places);
    enum ww_status status = ww_line_create(&coarse, line->stack, &line->trace, &options, error);
    if (!status)
        status = ww_inverse_create(&inverse, coarse, WW_CROSS_SECTION, error);
    for (size_t p = 0; p < rest->plies && !status; p++)
        for (size_t n = 0; n < rest->ply[p].nodes && !status; n++)
            if (rest->ply[p].node[n].wanted)
                status = find_node(&rest->ply[p].node[n], &lattice, coarse, &inverse, scales, p, error);
    ww_inverse_destroy(&inverse);
    ww_line_destroy(coarse);
    free(lattice.lack);
    return status;
}

static size_t wanted(const struct rest_of_ply *rest)
{
    size_t count = 0;
    for (size_t n = 0; n < rest->nodes; n++)
        count += rest->node[n].wanted;
    return count;
}

enum ww_status ww_rest_create(struct ww_rest **out, const struct ww_line *line, const struct ww_scales *scales,
                              size_t sections, const double *angle, size_t angles, struct ww_error *error)
{
    const struct ww_rest *known = scales->rest;
    size_t plies = line->stack->plies, nodes = 0, to_find = 0;
    struct ww_rest *rest = calloc(1, sizeof *rest);
    enum ww_status status = WW_OK;
    if (rest)
        rest->ply = calloc(plies + 1, sizeof *rest->ply);
    if (!rest || !rest->ply)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for sections over %zu plies", plies);
    for (size_t p = 0; p < plies && !status; p++) {
        rest->plies = p + 1;
        status = choose_nodes(&rest->ply[p], known ? &known->ply[p] : NULL, line->stack->ply[p].turn, angle, angles,
                              error);
        nodes += rest->ply[p].nodes;
        to_find += wanted(&rest->ply[p]);
    }
    if (!status && to_find > 0)
        status = find_all(rest, line, scales, sections, error);
    if (status || nodes == 0) {
        ww_rest_destroy(rest);
        rest = NULL;
    }
    *out = rest;
    return status;
}

void ww_rest_destroy(struct ww_rest *rest)
{
    for (size_t p = 0; rest && p < rest->plies; p++)
        free(rest->ply[p].node);
    if (rest)
        free(rest->ply);
    free(rest);
}

/* --- adding it -------------------------------------------------------------------------------------------------------- */

/* 1 at node n, 0 at its neighbours and along the yarns. */
static double weight_of(const struct rest_of_ply *rest, size_t n, double angle)
{
    double at = rest->node[n].angle;
    double below = n > 0 ? rest->node[n - 1].angle : 0;
    double above = n + 1 < rest->nodes ? rest->node[n + 1].angle : 0.5 * WW_PI;
    double side = angle < at ? at - below : above - at;
    return fmax(0, 1 - fabs(angle - at) / fmin(side, FADES));
}

static double _Complex lack_of(const struct node *node, struct folded at, struct ww_wave wave)
{
    double _Complex lack = node->lack[place_of(wave.m, at.mirror ? -wave.l : wave.l)];
    double sign = at.mirror && wave.m % 2 ? -1 : 1;
    return sign * (at.conjugate ? conj(lack) : lack);
}

/* Of a value that is eps, c0^2 S^2, the change is 2 c0^2 S dS. */
static double per_slowness(const struct ww_scan *scan, const struct ww_ply_scan *ply)
{
    return scan->averaging == WW_FLIGHT ? 1 : 2 * WW_C0 * sqrt(creal(ply->coefficient[0][WW_MEAN][0]));
}

void ww_rest_add(const struct ww_rest *rest, const struct ww_scan *scan, size_t index)
{
    if (!rest || index >= rest->plies)
        return;
    struct ww_ply_scan *ply = &scan->ply[index];
    struct folded at = fold(atan2(ply->ux, ply->uy));
    double pitch = scan->pair ? scan->pitch : 0;
    for (size_t n = 0; n < rest->ply[index].nodes; n++) {
        const struct node *node = &rest->ply[index].node[n];
        double weight = per_slowness(scan, ply) * weight_of(&rest->ply[index], n, at.angle);
        for (size_t w = 1; w < ply->waves && weight > 0; w++) {
            struct ww_wave wave = ply->wave[w];
            if (wave.m > ORDER || abs(wave.l) > ORDER)
                continue;
            double _Complex seen =
                weight * lack_of(node, at, wave) * ww_turned(0.5 * pitch * transverse(ply, wave.m, wave.l));
            ply->coefficient[0][WW_MEAN][w] += seen;
            if (scan->pair)
                ply->coefficient[1][WW_MEAN][w] += conj(seen);
        }
    }
}

/* The range repeats, mirrored, every quarter turn. */
size_t ww_rest_angles(double from, double to, double angle[WW_REST_ANGLES])
{
    size_t count = 0;
    for (int step = 1; step <= 3; step++) {
        double at = step * FADES;
        bool serves = false;
        for (double turn = WW_PI * floor((from - FADES) / WW_PI); turn <= to + FADES + WW_PI; turn += WW_PI)
            serves = serves || (turn + at > from - FADES && turn + at < to + FADES) ||
                     (turn - at > from - FADES && turn - at < to + FADES);
        if (serves)
            angle[count++] = at;
    }
    return count;
}
