/* correction.c - the residual correction: full cross-sections less the kernel, as harmonics of the cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The kernel's S(r) is first order in the cloth's change of permittivity; sections hold all orders. Their difference D(r)
 * (weftwise/correct.h) is small and smooth: a few of its harmonics, added to those of the kernel, tell it. They are read at
 * start positions on a lattice, in cells
 *   r = (i/2N, j/2N),  i + j odd, N even.
 * Plain weave has these symmetries, and each maps the lattice on itself, so that they hold exactly:
 *   half a cell along both axes   S(r + (1/2, 1/2)) = S(r): N^2 places differ, and only m + l even occur
 *   half a turn                   S_2(r; theta) = S_1(-r; theta), S_1(r; theta + pi) = S_2(r; theta): half of the sections
 *   the mirror image              it is the cloth half a cell along x: S_2(1/2 - x, y; -theta) = S_1(x, y; theta). All angles
 *                                 fold into a quarter turn; at 0 and 90 deg half of the sections again
 *   half a cell along x alone     warp and fill change over and under, as for a board upside down or with them exchanged
 * The mirror image turns the other plies, which are at their lateral mean, too. Where those are turned against this one, angles
 * fold into half a turn only.
 *
 * D is told at each place by a section less the kernel there, over the very same cloth (line/first_order.c), so that harmonics of
 * first order, of which the yarns' sharp edges have many, leave no aliases:
 *   D^(m, l) = (1/N^2) sum over r of D(r) exp(-i k.r).
 * Aliases of (m, l) are (m + aN, l + bN), a + b even: the nearest of |m| + |l| = n has 2N - n. n up to 0.75 N are kept. The field
 * of a ply away from the trace is smooth, and what a thin one changes is little: each ply takes the least N, up to that asked for, beyond whose kept harmonics the kernel
 * holds at most UNKEPT of what it holds in all plies. In the phase of the leg,
 *   a(k; theta) = D^(k) exp(-i k.n pitch/2),
 * a changes slowly with theta; leg 2 has its conjugate, and
 *   a(k; theta + pi) = conj a(k; theta),   a(m, l; pi - theta) = (-1)^m conj a(m, -l; theta).
 * Between neighbouring nodes a is linear in theta.
 *
 * D^(0, 0) sets the mean delay right. The kernel's mean holds what the other plies lower it by, as their places vary; sections of
 * one ply have the others at their lateral mean. So D^(0, 0) is taken against the kernel with the others so (ww_first_order.alone),
 * all else against the kernel that it is added to (ww_first_order.level): a leg's slowness is not linear in the sum of the plies.
 *
 * The lattice moves with the cloth (ww_ply.shift_x, shift_y). Sections and kernel share grid and window, a narrow one, so that
 * what these are off by cancels, but for what the grid does to D itself: at copper edges the field is singular, and D is off by
 * about the step h, as the capacitance is. Below an open top D may be as large as what it corrects (along the diagonal of the cell).
 * There it is taken on two nested grids, h and h/2, to its limit,
 *   D = D_h/2 + (D_h/2 - D_h)/(r - 1),
 * r the ratio by which the line's own capacitance changes less from grid to grid (line.c), as the kernel is. It is a sum of D_h and
 * D_h/2 by two weights, and so is all that is found here. Between planes D is some per cent, and one grid does.
 */
#include "correct/correction.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "line/sections.h"

#define UNKEPT 5e-3   /* of what all plies change, what one ply may in harmonics that its lattice does not keep */
#define RESIDUAL 1e-2 /* of a section: the delay is off by its square (tests/correct) */
#define KEPT 0.75     /* |m| + |l| of the harmonics that are kept, over N */
#define COARSE 0.45   /* of the line's fineness: the coarser of two grids'; the other one has twice that */
#define LEAST_SIDE 6
#define MOST_SIDE 26
#define FIXED 5   /* nodes, equally spaced over the quarter turn */
#define SAME 1e-6 /* [rad] nodes nearer to each other are one */

enum {
    ORDER = 18,
    SPAN = 2 * ORDER + 1,
    ORDERS = (ORDER + 1) * SPAN,
    MOST_NODES = 2 * FIXED - 1 + WW_CORRECTION_OWN
};

/* At one angle of the trace from the warp of one ply. */
struct node {
    double angle;
    bool solved;
    double _Complex a[ORDERS]; /* [s/m] in the leg's own phase; 0 for harmonics that are not kept */
    bool has_modes;
    double apart; /* of a pair: mean of S_even - S_odd by sections, less that of the background [s/m] */
};

struct nodes_of_ply {
    bool mirrors; /* angles fold into 0 to 90 deg; else into 0 to 180 deg */
    size_t count;
    struct node *node; /* ascending in angle */
};

struct ww_correction {
    atomic_size_t holders;
    size_t side, sections, plies;
    struct nodes_of_ply *ply;
};

static size_t place_of(int m, int l)
{
    return (size_t)(m * SPAN + l + ORDER);
}

/* An angle folded into the first half turn, or by the mirror image into the first quarter, and the symmetries used. */
struct folded {
    double angle;
    bool conjugate, mirror;
};

static struct folded fold(double theta, bool mirrors)
{
    double halves = floor((theta + SAME) / WW_PI), half = fmax(theta - WW_PI * halves, 0);
    bool turned = fmod(halves, 2) != 0, mirror = mirrors && half > 0.5 * WW_PI;
    return (struct folded){mirror ? WW_PI - half : half, turned != mirror, mirror};
}

/* The mirror image turns the others too: it serves where their means are the same, at turns alike or square to each other. */
static bool is_mirrored(const struct ww_stack *stack, size_t index)
{
    for (size_t p = 0; p < stack->plies; p++)
        if (fabs(remainder(stack->ply[p].turn - stack->ply[index].turn, 0.5 * WW_PI)) > SAME)
            return false;
    return true;
}

/* All symmetries of plain weave are used: a patch of real cloth has none. */
static enum ww_status check_cloth(const struct ww_stack *stack, struct ww_error *error)
{
    for (size_t p = 0; p < stack->plies; p++) {
        const struct ww_cloth cloth = ww_stack_cloth(stack, p);
        if (ww_cloth_symmetries(&cloth) != (WW_HALF_CELL | WW_HALF_TURN | WW_MIRROR))
            return ww_error_set(error, WW_INVALID, NULL, 0,
                                "ply %zu is a patch of real cloth; the correction is that of its perfect weave",
                                p + 1);
    }
    return WW_OK;
}

/* --- one node ------------------------------------------------------------------------------------------------------------ */

/* The line on one grid, or on a coarse and a fine one, and what their values count for in the limit. */
struct grids {
    size_t count;
    struct ww_line *line[2];
    double weight[2];
};

static void grids_clear(struct grids *grids)
{
    ww_line_destroy(grids->line[0]);
    ww_line_destroy(grids->line[1]);
    memset(grids, 0, sizeof *grids);
}

static enum ww_status grids_init(struct grids *grids, const struct ww_line *line, struct ww_error *error)
{
    bool open = line->stack->layer[0].kind == WW_LAYER_AIR;
    double beyond = 1 / (line->ratio - 1);
    const struct ww_line_options options = {.fineness = open ? COARSE * line->fineness : line->fineness};
    *grids = open ? (struct grids){.count = 2, .weight = {-beyond, 1 + beyond}}
                  : (struct grids){.count = 1, .weight = {1}};
    enum ww_status status = ww_line_create_bare(&grids->line[0], line->stack, &line->trace, &options, error);
    return status || !open ? status : ww_line_create_refined(&grids->line[1], grids->line[0], error);
}

/* Points (i, j), i + j odd, in 2N-ths of the cell along x and y. Half a cell on along both axes, (i + N, j + N), is the same
 * place of the cloth: j from 0 to N - 1 and i from 0 to 2N - 1 are all of them, N^2. */
struct lattice {
    size_t side, places, solved; /* N, N^2, and those of which a section is solved */
    int reach;
    double *residual; /* [places] of leg 1, the sections' slowness less the kernel's [s/m] */
    double by_others; /* level_by_others [s/m] */
    double *apart;    /* [places] S_even - S_odd [s/m], where the modes are asked for */
};

struct point {
    int i, j;
};

static void lattice_clear(struct lattice *lattice)
{
    free(lattice->residual);
    free(lattice->apart);
    memset(lattice, 0, sizeof *lattice);
}

static int reach_of(size_t side)
{
    return (int)(KEPT * (double)side);
}

static void lattice_resize(struct lattice *lattice, size_t side)
{
    lattice->side = side;
    lattice->places = side * side;
    lattice->reach = reach_of(side);
}

/* With room for the largest side. */
static enum ww_status lattice_init(struct lattice *lattice, size_t side, struct ww_error *error)
{
    memset(lattice, 0, sizeof *lattice);
    lattice_resize(lattice, side);
    lattice->residual = calloc(lattice->places, sizeof *lattice->residual);
    lattice->apart = calloc(lattice->places, sizeof *lattice->apart);
    return lattice->residual && lattice->apart
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", lattice->places);
}

static struct point point_of(size_t side, size_t place)
{
    int j = (int)(place / side), column = (int)(place % side);
    return (struct point){2 * column + 1 - j % 2, j};
}

/* The place of point (i, j), i + j odd: it repeats by (N, N) and (2N, 0). */
static size_t place_at(size_t side, int i, int j)
{
    int n = (int)side, times = j >= 0 ? j / n : -((n - 1 - j) / n);
    i = (i - times * n) % (2 * n);
    return (size_t)((j - times * n) * n + (i < 0 ? i + 2 * n : i) / 2);
}

/* The places of which one section tells leg 1: its own, that half a turn maps on it, which has its leg 2, and along the yarns
 * the mirror images of both: the cloth's is the cloth half a cell on. */
struct alike {
    size_t count, place[4];
    int leg[4];
};

static struct alike alike_of(size_t side, size_t place, double angle)
{
    struct point p = point_of(side, place);
    int n = (int)side;
    struct alike alike = {2, {place, place_at(side, -p.i, -p.j)}, {0, 1, 0, 1}};
    bool warp = fabs(sin(angle)) < SAME, fill = fabs(cos(angle)) < SAME;
    if (warp || fill) {
        struct point image = warp ? (struct point){p.i, n - p.j} : (struct point){n - p.i, p.j};
        alike.place[2] = place_at(side, image.i, image.j);
        alike.place[3] = place_at(side, -image.i, -image.j);
        alike.count = 4;
    }
    return alike;
}

static bool is_first(const struct alike *alike)
{
    for (size_t k = 1; k < alike->count; k++)
        if (alike->place[k] < alike->place[0])
            return false;
    return true;
}

/* The trace over one point of a lattice over one ply, the other plies anywhere; NULL: no memory. To be freed. */
static double *new_place(size_t side, struct point p, const struct ww_stack *stack, size_t index)
{
    const struct ww_ply *ply = &stack->ply[index];
    double *place = calloc(2 * stack->plies, sizeof *place), step = 0.5 / (double)side;
    if (place) {
        place[2 * index] = ply->shift_x + p.i * step * ply->cell.lx;
        place[2 * index + 1] = ply->shift_y + p.j * step * ply->cell.ly;
    }
    return place;
}

static enum ww_status solve_place(const struct lattice *lattice, const struct alike *alike, bool modes,
                                  const struct grids *grids, const struct ww_sections sections[2], size_t index,
                                  struct ww_error *error)
{
    const struct ww_line *line = grids->line[0];
    double *place = new_place(lattice->side, point_of(lattice->side, alike->place[0]), line->stack, index);
    struct ww_told told[2];
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", line->stack->plies);
    enum ww_status status =
        ww_sections_nested(sections, grids->count, (const double(*)[2])place, RESIDUAL, modes, told, error);
    free(place);
    double residual[2] = {0}, apart = 0;
    for (size_t g = 0; g < grids->count && !status; g++) {
        double kernel[2];
        ww_slowness_of_change(grids->line[g], told[g].change, kernel);
        for (int leg = 0; leg < 2; leg++)
            residual[leg] += grids->weight[g] * (told[g].delay[leg] - kernel[leg]);
        apart += grids->weight[g] * told[g].apart;
    }
    for (size_t k = 0; k < alike->count; k++) {
        lattice->residual[alike->place[k]] = residual[line->mesh.pair ? alike->leg[k] : 0];
        lattice->apart[alike->place[k]] = apart;
    }
    return status;
}

/* What the kernel's level is higher with the other plies at their mean over the cell than with their slices at their lateral mean. */
static double level_by_others(const struct grids *grids, const struct ww_sections sections[2])
{
    double sum = 0;
    for (size_t g = 0; g < grids->count; g++) {
        const struct ww_first_order *first_order = &sections[g].first_order;
        double level[2], alone[2];
        ww_slowness_of_change(grids->line[g], first_order->level, level);
        ww_slowness_of_change(grids->line[g], first_order->alone, alone);
        sum += grids->weight[g] * (level[0] - alone[0]);
    }
    return sum;
}

/* Every section fills its own places, so that the result is the same on any number of threads. modes: the even drive, too. */
static enum ww_status solve_lattice(struct lattice *lattice, const struct grids *grids, double theta, size_t ply,
                                    bool modes, struct ww_error *error)
{
    struct ww_sections sections[2] = {0};
    const struct ww_line *const line[2] = {grids->line[0], grids->line[1]};
    enum ww_status status = ww_sections_create_nested(sections, line, grids->count,
                                                      theta + line[0]->stack->ply[ply].turn, ply + 1, error);
    if (status)
        return status;
    struct ww_failure failure = {.error = error};
    size_t solved = 0;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic) reduction(+ : solved)
#endif
    for (size_t i = 0; i < lattice->places; i++) {
        struct ww_error mine = {0};
        struct alike alike = alike_of(lattice->side, i, theta);
        if (!is_first(&alike))
            continue;
        ww_failure_keep(&failure, i, solve_place(lattice, &alike, modes, grids, sections, ply, &mine), &mine);
        solved++;
    }
    lattice->solved = solved;
    lattice->by_others = level_by_others(grids, sections);
    ww_sections_destroy(&sections[0]);
    ww_sections_destroy(&sections[1]);
    return failure.status;
}

/* How far the pair's modes are apart, over all places, less what the background says. */
static double modes_apart(const struct lattice *lattice, const struct grids *grids)
{
    double sum = 0, background = 0;
    for (size_t g = 0; g < grids->count; g++) {
        const struct ww_capacitances *grid = &grids->line[g]->grid;
        background +=
            grids->weight[g] * (sqrt(grid->c_even / grid->ca_even) - sqrt(grid->c_odd / grid->ca_odd)) / WW_C0;
    }
    for (size_t i = 0; i < lattice->places; i++)
        sum += lattice->apart[i];
    return sum / (double)lattice->places - background;
}

/* Phase of a harmonic from the cell's own beginning to that of the map. */
static double shift_phase(const struct ww_ply *cloth, struct ww_order order)
{
    return 2 * WW_PI * (order.m * cloth->shift_x / cloth->cell.lx + order.l * cloth->shift_y / cloth->cell.ly);
}

/* What the kernel's harmonics of |m| + |l| > n add up to: the most that they can change. */
static double change_beyond(const struct ww_ply_scan *ply, int n)
{
    double sum = 0;
    for (size_t h = 1; h < ply->harmonics; h++)
        if (ply->order[h].m + abs(ply->order[h].l) > n)
            sum += (ply->order[h].m > 0 ? 2 : 1) * cabs(ply->coefficient[0][WW_MEAN][h]);
    return sum;
}

static size_t side_of_ply(const struct ww_scan *scan, size_t index, size_t most)
{
    size_t side = LEAST_SIDE;
    double whole = 0;
    for (size_t p = 0; p < scan->plies; p++)
        whole += change_beyond(&scan->ply[p], 0);
    while (side < most && change_beyond(&scan->ply[index], reach_of(side)) > UNKEPT * whole)
        side += 2;
    return side;
}

static double across(const struct ww_ply_scan *ply, int m, int l)
{
    return 2 * WW_PI * (l * ply->ux / ply->ly - m * ply->uy / ply->lx);
}

/* Harmonic of the residual. */
static double _Complex harmonic_of(const struct lattice *lattice, int m, int l)
{
    double _Complex sum = 0;
    for (size_t place = 0; place < lattice->places; place++) {
        struct point p = point_of(lattice->side, place);
        sum += lattice->residual[place] * ww_phasor(-WW_PI * (m * p.i + l * p.j) / (double)lattice->side);
    }
    return sum / (double)lattice->places;
}

/* Harmonics that plain weave has and the lattice resolves. */
static bool is_kept(const struct lattice *lattice, int m, int l)
{
    return (m + l) % 2 == 0 && m + abs(l) <= lattice->reach;
}

static void keep_harmonics(struct node *node, const struct lattice *lattice, const struct grids *grids,
                           const struct ww_ply_scan *ply)
{
    double pitch = grids->line[0]->summary.pitch; /* 0: single */
    memset(node->a, 0, sizeof node->a);
    for (int m = 0; m <= lattice->reach; m++)
        for (int l = -lattice->reach; l <= lattice->reach; l++)
            if (is_kept(lattice, m, l)) {
                double _Complex leg = ww_phasor(-0.5 * pitch * across(ply, m, l));
                node->a[place_of(m, l)] = harmonic_of(lattice, m, l) * leg;
            }
    node->a[place_of(0, 0)] += lattice->by_others;
}

static enum ww_status solve_node(struct node *node, struct lattice *lattice, const struct ww_line *line,
                                 const struct grids *grids, size_t index, size_t most, bool modes,
                                 struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    enum ww_status status =
        ww_scan_create_with(&scan, line, node->angle + line->stack->ply[index].turn, false, NULL, error);
    if (!status) {
        lattice_resize(lattice, side_of_ply(scan, index, most));
        status = solve_lattice(lattice, grids, node->angle, index, modes, error);
    }
    if (!status) {
        keep_harmonics(node, lattice, grids, &scan->ply[index]);
        node->apart = modes ? modes_apart(lattice, grids) : 0;
        node->solved = true;
        node->has_modes = modes;
    }
    ww_scan_destroy(scan);
    return status;
}

/* --- which nodes ---------------------------------------------------------------------------------------------------------- */

static bool has_node(const struct nodes_of_ply *nodes, double angle)
{
    for (size_t n = 0; n < nodes->count; n++)
        if (fabs(nodes->node[n].angle - angle) < SAME)
            return true;
    return false;
}

static void add_node(struct nodes_of_ply *nodes, double angle)
{
    if (!has_node(nodes, angle))
        nodes->node[nodes->count++].angle = angle;
}

static int by_angle(const void *one, const void *other)
{
    double a = ((const struct node *)one)->angle, b = ((const struct node *)other)->angle;
    return (a > b) - (a < b);
}

/* Ends of the range over which node n counts: its neighbours, of which the quarter's mirror images are some. */
static void neighbours(const struct nodes_of_ply *nodes, size_t n, double *below, double *above)
{
    const struct node *node = nodes->node;
    *below = n > 0 ? node[n - 1].angle : nodes->mirrors ? -node[1].angle : -2 * SAME;
    *above = n + 1 < nodes->count ? node[n + 1].angle : nodes->mirrors ? WW_PI - node[n - 1].angle : WW_PI;
}

/* Does node n count at any angle from..to of the trace in the frame of the cloth? */
static bool counts(const struct nodes_of_ply *nodes, size_t n, double from, double to)
{
    double below, above;
    neighbours(nodes, n, &below, &above);
    for (double turn = WW_PI * (floor(from / WW_PI) - 1); turn <= to + WW_PI; turn += WW_PI)
        if ((from < turn + above - SAME && to > turn + below + SAME) ||
            (nodes->mirrors && from < turn - below - SAME && to > turn - above + SAME))
            return true;
    return false;
}

/* Drops the nodes that no angle of the request needs and that are not known. */
static void drop_idle(struct nodes_of_ply *nodes, const struct ww_correction_request *request, double turn)
{
    size_t kept = 0;
    bool idle[MOST_NODES];
    for (size_t n = 0; n < nodes->count; n++) {
        idle[n] = !nodes->node[n].solved;
        for (size_t i = 0; i < request->angles && idle[n]; i++)
            idle[n] = !counts(nodes, n, request->angle[i] - turn - request->before,
                              request->angle[i] - turn + request->after);
    }
    for (size_t n = 0; n < nodes->count; n++)
        if (!idle[n]) {
            if (kept != n)
                nodes->node[kept] = nodes->node[n];
            kept++;
        }
    nodes->count = kept;
}

static enum ww_status choose_nodes(struct nodes_of_ply *nodes, const struct nodes_of_ply *known,
                                   const struct ww_correction_request *request, double turn, struct ww_error *error)
{
    struct nodes_of_ply own = {0};
    nodes->node = calloc(MOST_NODES, sizeof *nodes->node);
    own.node = calloc(request->angles + 1, sizeof *own.node);
    if (!nodes->node || !own.node) {
        free(own.node);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction at %zu angles",
                            request->angles);
    }
    for (size_t i = 0; i < (nodes->mirrors ? FIXED : 2 * FIXED - 1); i++)
        add_node(nodes, 0.5 * WW_PI * (double)i / (FIXED - 1));
    for (size_t i = 0; i < request->angles; i++) {
        double at = fold(request->angle[i] - turn, nodes->mirrors).angle;
        if (!has_node(nodes, at))
            add_node(&own, at);
    }
    for (size_t i = 0; i < own.count && own.count <= WW_CORRECTION_OWN; i++)
        add_node(nodes, own.node[i].angle);
    free(own.node);
    qsort(nodes->node, nodes->count, sizeof *nodes->node, by_angle);
    for (size_t n = 0; n < nodes->count && known; n++)
        for (size_t k = 0; k < known->count; k++)
            if (fabs(nodes->node[n].angle - known->node[k].angle) < SAME)
                nodes->node[n] = known->node[k];
    drop_idle(nodes, request, turn);
    return WW_OK;
}

/* --- all of them ---------------------------------------------------------------------------------------------------------- */

static bool is_missing(const struct node *node, bool modes)
{
    return !node->solved || (modes && !node->has_modes);
}

static size_t unsolved(const struct ww_correction *correction, bool modes)
{
    size_t count = 0;
    for (size_t p = 0; p < correction->plies; p++)
        for (size_t n = 0; n < correction->ply[p].count; n++)
            count += is_missing(&correction->ply[p].node[n], modes);
    return count;
}

static enum ww_status solve_nodes(struct ww_correction *correction, const struct ww_line *line, bool modes,
                                  struct ww_error *error)
{
    struct grids grids = {0};
    struct lattice lattice = {0};
    enum ww_status status = lattice_init(&lattice, correction->side, error);
    if (!status)
        status = grids_init(&grids, line, error);
    for (size_t p = 0; p < correction->plies && !status; p++)
        for (size_t n = 0; n < correction->ply[p].count && !status; n++) {
            struct node *node = &correction->ply[p].node[n];
            if (is_missing(node, modes)) {
                status = solve_node(node, &lattice, line, &grids, p, correction->side, modes, error);
                correction->sections += lattice.solved;
            }
        }
    grids_clear(&grids);
    lattice_clear(&lattice);
    return status;
}

static size_t even_side(size_t side)
{
    return side < LEAST_SIDE ? LEAST_SIDE : side > MOST_SIDE ? MOST_SIDE : side + side % 2;
}

static enum ww_status check(const struct ww_correction_request *request, struct ww_error *error)
{
    bool finite =
        request->before >= 0 && request->before <= 4 * WW_PI && request->after >= 0 && request->after <= 4 * WW_PI;
    for (size_t i = 0; i < request->angles; i++)
        finite = finite && fabs(request->angle[i]) <= 8 * WW_PI;
    return finite ? WW_OK : ww_error_set(error, WW_INVALID, NULL, 0, "an angle to correct is out of range");
}

enum ww_status ww_correction_create(struct ww_correction **out, const struct ww_line *line,
                                    const struct ww_correction *known, const struct ww_correction_request *request,
                                    struct ww_error *error)
{
    *out = NULL;
    size_t plies = line->stack->plies;
    enum ww_status status = check(request, error);
    if (status || request->side == 0 || plies == 0)
        return status;
    if ((status = check_cloth(line->stack, error)))
        return status;
    struct ww_correction *correction = calloc(1, sizeof *correction);
    if (correction)
        correction->ply = calloc(plies, sizeof *correction->ply);
    if (!correction || !correction->ply) {
        free(correction);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction of %zu plies", plies);
    }
    atomic_init(&correction->holders, 1);
    correction->side = even_side(request->side);
    correction->plies = plies;
    if (known && (known->plies != plies || known->side < correction->side))
        known = NULL;
    correction->sections = known ? known->sections : 0;
    for (size_t p = 0; p < plies; p++)
        correction->ply[p].mirrors = is_mirrored(line->stack, p);
    for (size_t p = 0; p < plies && !status; p++)
        status = choose_nodes(&correction->ply[p], known ? &known->ply[p] : NULL, request, line->stack->ply[p].turn,
                              error);
    bool modes = request->modes && line->mesh.pair;
    if (!status && unsolved(correction, modes) > 0)
        status = solve_nodes(correction, line, modes, error);
    if (status)
        ww_correction_release(correction);
    else
        *out = correction;
    return status;
}

static enum ww_status copy_nodes(struct nodes_of_ply *to, const struct nodes_of_ply *from, struct ww_error *error)
{
    to->node = calloc(MOST_NODES, sizeof *to->node);
    if (!to->node)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction at %zu angles", from->count);
    memcpy(to->node, from->node, from->count * sizeof *to->node);
    to->count = from->count;
    to->mirrors = from->mirrors;
    return WW_OK;
}

enum ww_status ww_correction_blend(struct ww_correction **out, const struct ww_correction *const *of,
                                   const double *weight, size_t count, struct ww_error *error)
{
    *out = NULL;
    if (!of[0])
        return WW_OK;
    enum ww_status status = WW_OK;
    struct ww_correction *sum = calloc(1, sizeof *sum);
    if (sum)
        sum->ply = calloc(of[0]->plies, sizeof *sum->ply);
    if (!sum || !sum->ply) {
        free(sum);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction of %zu plies", of[0]->plies);
    }
    atomic_init(&sum->holders, 1);
    sum->side = of[0]->side;
    sum->plies = of[0]->plies;
    for (size_t p = 0; p < sum->plies && !status; p++) {
        status = copy_nodes(&sum->ply[p], &of[0]->ply[p], error);
        for (size_t n = 0; n < sum->ply[p].count && !status; n++)
            for (size_t k = 0; k < ORDERS; k++) {
                double _Complex a = 0;
                for (size_t i = 0; i < count; i++)
                    a += weight[i] * of[i]->ply[p].node[n].a[k];
                sum->ply[p].node[n].a[k] = a;
            }
        for (size_t n = 0; n < sum->ply[p].count && !status; n++) {
            struct node *node = &sum->ply[p].node[n];
            node->apart = 0;
            for (size_t i = 0; i < count; i++)
                node->apart += weight[i] * of[i]->ply[p].node[n].apart;
        }
    }
    if (status)
        ww_correction_release(sum);
    else
        *out = sum;
    return status;
}

struct ww_correction *ww_correction_share(struct ww_correction *correction)
{
    if (correction)
        atomic_fetch_add(&correction->holders, 1);
    return correction;
}

void ww_correction_release(struct ww_correction *correction)
{
    if (!correction || atomic_fetch_sub(&correction->holders, 1) > 1)
        return;
    for (size_t p = 0; p < correction->plies; p++)
        free(correction->ply[p].node);
    free(correction->ply);
    free(correction);
}

size_t ww_correction_sections(const struct ww_correction *correction)
{
    return correction ? correction->sections : 0;
}

/* --- adding it ------------------------------------------------------------------------------------------------------------ */

/* The nodes on either side of an angle of the quarter turn, and the weight of the upper one; beyond the outermost node the
 * nearest. */
static void bracket(const struct nodes_of_ply *nodes, double angle, const struct node *of[2], double *weight)
{
    size_t above = 0;
    while (above < nodes->count && nodes->node[above].angle < angle - SAME)
        above++;
    of[1] = &nodes->node[above < nodes->count ? above : nodes->count - 1];
    of[0] = &nodes->node[above > 0 ? above - 1 : 0];
    double gap = of[1]->angle - of[0]->angle;
    *weight = gap > SAME ? fmin(fmax((angle - of[0]->angle) / gap, 0), 1) : 1;
}

/* What the scan's harmonics change by with a static change of slowness dS: of a value that is eps, c0^2 S^2, the change is
 * 2 c0^2 S dS. */
static double per_slowness(const struct ww_scan *scan, const struct ww_ply_scan *ply)
{
    bool flight = scan->averaging == WW_FLIGHT;
    return scan->change * (flight ? 1 : 2 * WW_C0 * sqrt(creal(ply->coefficient[0][WW_MEAN][0])));
}

static void correct_ply(const struct nodes_of_ply *nodes, struct ww_scan *scan, size_t index,
                        const struct ww_ply *cloth)
{
    struct ww_ply_scan *ply = &scan->ply[index];
    struct folded at = fold(atan2(ply->ux, ply->uy), nodes->mirrors);
    double pitch = scan->pair ? scan->pitch : 0, unit = per_slowness(scan, ply), weight;
    const struct node *of[2];
    if (nodes->count == 0)
        return;
    bracket(nodes, at.angle, of, &weight);
    for (size_t h = 0; h < ply->harmonics; h++) {
        struct ww_order order = ply->order[h];
        if (order.m > ORDER || abs(order.l) > ORDER)
            continue;
        size_t place = place_of(order.m, at.mirror ? -order.l : order.l);
        double _Complex a = (1 - weight) * of[0]->a[place] + weight * of[1]->a[place];
        double each = h > 0 ? unit : unit * scan->mean / scan->change; /* the mean disperses as the mean */
        double sign = at.mirror && order.m % 2 ? -each : each;
        double _Complex own = sign * (at.conjugate ? conj(a) : a), shift = ww_phasor(-shift_phase(cloth, order));
        double _Complex leg = ww_phasor(0.5 * pitch * across(ply, order.m, order.l));
        ply->coefficient[0][WW_MEAN][h] += own * leg * shift;
        if (scan->pair) /* S_2(r) = S_1(-r) */
            ply->coefficient[1][WW_MEAN][h] += conj(own * leg) * shift;
    }
}

static void correct_scan(const struct ww_correction *correction, struct ww_scan *scan, const struct ww_stack *stack)
{
    for (size_t p = 0; p < scan->plies && p < correction->plies; p++)
        correct_ply(&correction->ply[p], scan, p, &stack->ply[p]);
    for (size_t i = 0; i < scan->others; i++)
        correct_scan(correction, scan->other[i], stack);
}

double ww_correction_modes_apart(const struct ww_correction *correction, const struct ww_stack *stack, double angle)
{
    double sum = 0;
    for (size_t p = 0; correction && p < correction->plies; p++) {
        const struct nodes_of_ply *nodes = &correction->ply[p];
        const struct node *of[2];
        double weight;
        if (nodes->count == 0)
            continue;
        bracket(nodes, fold(angle - stack->ply[p].turn, nodes->mirrors).angle, of, &weight);
        sum += (1 - weight) * of[0]->apart + weight * of[1]->apart;
    }
    return sum;
}

enum ww_status ww_corrected_scan_create_with(struct ww_scan **scan, const struct ww_line *line,
                                             const struct ww_correction *correction, double angle, bool bounds,
                                             const struct ww_scan_options *options, struct ww_error *error)
{
    enum ww_status status = ww_scan_create_with(scan, line, angle, bounds, options, error);
    if (!status && correction)
        correct_scan(correction, *scan, line->stack);
    return status;
}

enum ww_status ww_corrected_scan_create(struct ww_scan **scan, const struct ww_line *line,
                                        const struct ww_correction *correction, double angle,
                                        const struct ww_scan_options *options, struct ww_error *error)
{
    return ww_corrected_scan_create_with(scan, line, correction, angle, true, options, error);
}
