/* correction.c - the residual correction: full cross-sections less the kernel, as harmonics of the cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The kernel's S(r) is first order in the cloth's change of permittivity; sections hold all orders. Their difference D(r)
 * (weftwise/correct.h) is small and smooth. A lattice of N x N start positions resolves its harmonics up to |m| + |l| = 0.7 N.
 * They are added to those of the kernel, which serves as control variate. On the lattice the harmonic (m + aN, l + bN) is an
 * alias of (m, l), with the sign (-1)^(a+b) because samples lie at box centres. The kernel is aliased likewise:
 *   D^(m, l) = (1/N^2) sum over r of S_section(r) exp(-i k.r) - sum over a, b of (-1)^(a+b) S^_kernel(m + aN, l + bN).
 *
 * Symmetries of plain weave, used so that they hold exactly. A half turn maps the cloth on itself and swaps the legs,
 * S_2(r) = S_1(-r): half of the lattice is enough. A shift by half a cell along both axes maps the cloth on itself: only
 * m + l even occur, and with odd N the shifted lattice lies between the points of the first, twice as many samples. In the
 * phase of the leg,
 *   a(k; theta) = D^(k) exp(-i k.n pitch/2),
 * a changes slowly with theta; leg 2 has its conjugate. All angles fold into one quarter turn:
 *   a(k; theta + pi) = conj a(k; theta),   a(m, l; pi - theta) = (-1)^m conj a(m, -l; theta),
 * the latter because the mirror image of the cloth is the cloth shifted by half a cell along x. Between neighbouring nodes a
 * is linear in theta.
 *
 * The lattice moves with the cloth (ww_ply.shift_x, shift_y), and sections and kernel share one grid, the coarsest of
 * the line's, in a narrower window, so that the errors of grid and window cancel.
 */
#include "correct/correction.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "line/sections.h"

#define RESIDUAL 1e-2 /* of a section: the delay is off by its square (tests/correct) */
#define KEPT 0.7      /* |m| + |l| of the harmonics that are kept, over N */
#define LEAST_SIDE 5
#define MOST_SIDE 25 /* against 15 it moves the demo studies by 0.04 % at most */
#define FIXED 5      /* nodes, equally spaced over the quarter turn */
#define SAME 1e-6    /* [rad] nodes nearer to each other are one */

enum { ORDER = 17, SPAN = 2 * ORDER + 1, ORDERS = (ORDER + 1) * SPAN };

/* At one angle of the trace from the warp of one ply, within the first quarter. */
struct node {
    double angle;
    bool solved;
    double _Complex a[ORDERS]; /* [s/m] in the leg's own phase; 0 for harmonics that are not kept */
};

struct nodes_of_ply {
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

/* An angle folded into the first quarter turn, and the symmetries used. */
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

/* --- one node ------------------------------------------------------------------------------------------------------------ */

/* The first places of the lattice over the cell of one ply, row by row; the last is its own image turned by half a turn. */
struct lattice {
    size_t side, places;
    int reach;
    bool over;          /* half a cell on along x, where warp and fill have changed over and under */
    double (*delay)[2]; /* [places] of either leg by the section [s/m] */
    double _Complex
        *aliased; /* [side][side] the kernel's harmonics of leg 1, aliased on the lattice, (m, l) from 0 */
};

static void lattice_clear(struct lattice *lattice)
{
    free(lattice->delay);
    free(lattice->aliased);
    memset(lattice, 0, sizeof *lattice);
}

static enum ww_status lattice_init(struct lattice *lattice, size_t side, struct ww_error *error)
{
    *lattice = (struct lattice){.side = side, .places = (side * side + 1) / 2, .reach = (int)(KEPT * (double)side)};
    lattice->delay = calloc(lattice->places, sizeof *lattice->delay);
    lattice->aliased = calloc(side * side, sizeof *lattice->aliased);
    return lattice->delay && lattice->aliased
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", lattice->places);
}

/* In cells, from where the cloth's own cell begins. */
static void lattice_place(const struct lattice *lattice, size_t i, double place[2])
{
    place[0] = ((double)(i % lattice->side) + 0.5) / (double)lattice->side + (lattice->over ? 0.5 : 0);
    place[1] = ((double)(i / lattice->side) + 0.5) / (double)lattice->side;
}

static enum ww_status solve_place(struct lattice *lattice, size_t i, const struct ww_sections *sections, size_t index,
                                  struct ww_error *error)
{
    const struct ww_line *line = sections->line;
    const struct ww_ply *ply = &line->stack->ply[index];
    double(*place)[2] = calloc(line->stack->plies, sizeof *place), cell[2];
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", line->stack->plies);
    lattice_place(lattice, i, cell);
    place[index][0] = ply->shift_x + cell[0] * ply->cell.lx;
    place[index][1] = ply->shift_y + cell[1] * ply->cell.ly;
    enum ww_status status = ww_sections_legs(sections, (const double(*)[2])place, RESIDUAL, lattice->delay[i], error);
    free(place);
    if (!line->mesh.pair)
        lattice->delay[i][1] = lattice->delay[i][0];
    return status;
}

/* Every section fills its own place, so that the result is the same on any number of threads. */
static enum ww_status solve_lattice(struct lattice *lattice, const struct ww_line *line, double angle, size_t ply,
                                    struct ww_error *error)
{
    struct ww_sections sections;
    enum ww_status status = ww_sections_create(&sections, line, angle, ply + 1, error);
    if (status)
        return status;
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < lattice->places; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, solve_place(lattice, i, &sections, ply, &mine), &mine);
    }
    ww_sections_destroy(&sections);
    return failure.status;
}

/* Of m: its remainder in 0..side-1, and the sign (-1)^a of m = remainder + a side. */
static size_t alias(int m, size_t side, double *sign)
{
    int n = (int)side, a = m >= 0 ? m / n : -((n - 1 - m) / n);
    *sign *= a % 2 ? -1 : 1;
    return (size_t)(m - a * n);
}

static double _Complex *aliased_at(const struct lattice *lattice, int m, int l, double *sign)
{
    size_t x = alias(m, lattice->side, sign), y = alias(l, lattice->side, sign);
    return &lattice->aliased[y * lattice->side + x];
}

/* Phase of a harmonic from the cell's own beginning to that of the map. */
static double shift_phase(const struct ww_ply *cloth, struct ww_order order)
{
    return 2 * WW_PI * (order.m * cloth->shift_x / cloth->cell.lx + order.l * cloth->shift_y / cloth->cell.ly);
}

static void alias_kernel(struct lattice *lattice, const struct ww_ply_scan *ply, const struct ww_ply *cloth)
{
    memset(lattice->aliased, 0, lattice->side * lattice->side * sizeof *lattice->aliased);
    for (size_t h = 0; h < ply->harmonics; h++) {
        struct ww_order order = ply->order[h];
        double _Complex c = ply->coefficient[0][WW_MEAN][h] * ww_phasor(shift_phase(cloth, order));
        c *= lattice->over && order.m % 2 ? -1 : 1;
        double sign = 1, back = 1;
        double _Complex *at = aliased_at(lattice, order.m, order.l, &sign);
        *at += sign * c;
        at = order.m > 0 ? aliased_at(lattice, -order.m, -order.l, &back) : NULL;
        if (at) /* the other half of the harmonics; at m = 0 both signs of l are listed */
            *at += back * conj(c);
    }
}

static double across(const struct ww_ply_scan *ply, int m, int l)
{
    return 2 * WW_PI * (l * ply->ux / ply->ly - m * ply->uy / ply->lx);
}

/* Harmonic of the sections: S_2(r) = S_1(-r) gives the other half of the lattice. */
static double _Complex harmonic_of(const struct lattice *lattice, int m, int l)
{
    double _Complex sum = 0;
    for (size_t i = 0; i < lattice->places; i++) {
        double place[2];
        lattice_place(lattice, i, place);
        double _Complex turn = ww_phasor(2 * WW_PI * (m * place[0] + l * place[1]));
        double _Complex both = lattice->delay[i][0] * conj(turn) + lattice->delay[i][1] * turn;
        sum += i + 1 < lattice->places ? both : 0.5 * both;
    }
    return sum / (double)(lattice->side * lattice->side);
}

/* Harmonics that plain weave has and the lattice resolves. */
static bool is_kept(const struct lattice *lattice, int m, int l)
{
    return (m || l) && (m + l) % 2 == 0 && m + abs(l) <= lattice->reach;
}

/* Where warp and fill lie over and under does not show in D but by what a lattice cannot tell, a and b odd. So that a board
 * upside down, or with warp and fill exchanged, has its lattice on the same places of the cloth: half a cell on for plies
 * under the trace, and for angles nearer the fill. Halfway the yarns decide which of them takes its place. The other way
 * round does as well: 24 microstrips of 4 styles, 0 to 75 deg, err by 0.53 % on average and 3.2 % at most, here 0.60 and 2.8. */
static bool is_over(const struct node *node, const struct ww_stack *stack, size_t index)
{
    const struct ww_style *style = &stack->layer[stack->ply[index].layer].style;
    double more = style->warp_count.value - style->fill_count.value, beyond = node->angle - 0.25 * WW_PI;
    bool above = false;
    if (more == 0)
        more = style->warp.width.value - style->fill.width.value;
    if (more == 0)
        more = style->warp.height.value - style->fill.height.value;
    for (size_t i = stack->ply[index].layer; i < stack->count; i++)
        above = above || stack->layer[i].kind == WW_LAYER_TRACE;
    return above == (fabs(beyond) < SAME ? more > 0 : beyond > 0);
}

/* Along warp and fill the mirror image is the same angle: what the lattice cannot tell breaks that, and is left out. */
static void make_symmetrical(struct node *node, int reach)
{
    bool warp = node->angle<SAME, fill = node->angle> 0.5 * WW_PI - SAME;
    for (int m = 0; m <= reach && (warp || fill); m++)
        for (int l = 0; l <= reach; l++) {
            double _Complex *one = &node->a[place_of(m, l)], *other = &node->a[place_of(m, -l)];
            double sign = m % 2 ? -1 : 1;
            double _Complex half = 0.5 * (*one + sign * (warp ? *other : conj(*other)));
            *one = half;
            *other = sign * (warp ? half : conj(half));
        }
}

static enum ww_status solve_node(struct node *node, struct lattice *lattice, const struct ww_line *line, size_t index,
                                 struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    const struct ww_ply *cloth = &line->stack->ply[index];
    double angle = node->angle + cloth->turn;
    lattice->over = is_over(node, line->stack, index);
    enum ww_status status = ww_scan_create_with(&scan, line, angle, false, NULL, error);
    if (!status)
        status = solve_lattice(lattice, line, angle, index, error);
    if (!status) {
        const struct ww_ply_scan *ply = &scan->ply[index];
        alias_kernel(lattice, ply, cloth);
        for (int m = 0; m <= lattice->reach; m++)
            for (int l = -lattice->reach; l <= lattice->reach; l++)
                if (is_kept(lattice, m, l)) {
                    double phase = scan->pair ? 0.5 * scan->pitch * across(ply, m, l) : 0, sign = 1;
                    double _Complex kernel = *aliased_at(lattice, m, l, &sign);
                    kernel *= lattice->over && m % 2 ? -1 : 1;
                    node->a[place_of(m, l)] = (harmonic_of(lattice, m, l) - sign * kernel) * ww_phasor(-phase);
                }
        make_symmetrical(node, lattice->reach);
        node->solved = true;
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
    *below = n > 0 ? node[n - 1].angle : -node[1].angle;
    *above = n + 1 < nodes->count ? node[n + 1].angle : WW_PI - node[n - 1].angle;
}

/* Does node n count at any angle from..to of the trace in the frame of the cloth? */
static bool counts(const struct nodes_of_ply *nodes, size_t n, double from, double to)
{
    double below, above;
    neighbours(nodes, n, &below, &above);
    for (double turn = WW_PI * (floor(from / WW_PI) - 1); turn <= to + WW_PI; turn += WW_PI)
        if ((from < turn + above - SAME && to > turn + below + SAME) ||
            (from < turn - below - SAME && to > turn - above + SAME))
            return true;
    return false;
}

/* Drops the nodes that no angle of the request needs and that are not known. */
static void drop_idle(struct nodes_of_ply *nodes, const struct ww_correction_request *request, double turn)
{
    size_t kept = 0;
    bool idle[FIXED + WW_CORRECTION_OWN];
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
    nodes->node = calloc(FIXED + WW_CORRECTION_OWN, sizeof *nodes->node);
    own.node = calloc(request->angles + 1, sizeof *own.node);
    if (!nodes->node || !own.node) {
        free(own.node);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction at %zu angles",
                            request->angles);
    }
    for (size_t i = 0; i < FIXED; i++)
        add_node(nodes, 0.5 * WW_PI * (double)i / (FIXED - 1));
    for (size_t i = 0; i < request->angles; i++) {
        double at = fold(request->angle[i] - turn).angle;
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

static size_t unsolved(const struct ww_correction *correction)
{
    size_t count = 0;
    for (size_t p = 0; p < correction->plies; p++)
        for (size_t n = 0; n < correction->ply[p].count; n++)
            count += !correction->ply[p].node[n].solved;
    return count;
}

static enum ww_status solve_nodes(struct ww_correction *correction, const struct ww_line *line,
                                  struct ww_error *error)
{
    struct ww_line *coarse = NULL;
    struct lattice lattice = {0};
    enum ww_status status = lattice_init(&lattice, correction->side, error);
    if (!status)
        status = ww_line_create_single(&coarse, line->stack, &line->trace, line->fineness, error);
    for (size_t p = 0; p < correction->plies && !status; p++)
        for (size_t n = 0; n < correction->ply[p].count && !status; n++) {
            struct node *node = &correction->ply[p].node[n];
            if (node->solved)
                continue;
            status = solve_node(node, &lattice, coarse, p, error);
            correction->sections += lattice.places;
        }
    ww_line_destroy(coarse);
    lattice_clear(&lattice);
    return status;
}

static size_t odd_side(size_t side)
{
    return (side < LEAST_SIDE ? LEAST_SIDE : side > MOST_SIDE ? MOST_SIDE : side) | 1;
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
    struct ww_correction *correction = calloc(1, sizeof *correction);
    if (correction)
        correction->ply = calloc(plies, sizeof *correction->ply);
    if (!correction || !correction->ply) {
        free(correction);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction of %zu plies", plies);
    }
    atomic_init(&correction->holders, 1);
    correction->side = odd_side(request->side);
    correction->plies = plies;
    if (known && (known->plies != plies || known->side != correction->side))
        known = NULL;
    correction->sections = known ? known->sections : 0;
    for (size_t p = 0; p < plies && !status; p++)
        status = choose_nodes(&correction->ply[p], known ? &known->ply[p] : NULL, request, line->stack->ply[p].turn,
                              error);
    if (!status && unsolved(correction) > 0)
        status = solve_nodes(correction, line, error);
    if (status)
        ww_correction_release(correction);
    else
        *out = correction;
    return status;
}

static enum ww_status copy_nodes(struct nodes_of_ply *to, const struct nodes_of_ply *from, struct ww_error *error)
{
    to->node = calloc(FIXED + WW_CORRECTION_OWN, sizeof *to->node);
    if (!to->node)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a correction at %zu angles", from->count);
    memcpy(to->node, from->node, from->count * sizeof *to->node);
    to->count = from->count;
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

/* Of a value that is eps, c0^2 S^2, the change is 2 c0^2 S dS. */
static double per_slowness(const struct ww_scan *scan, const struct ww_ply_scan *ply)
{
    return scan->averaging == WW_FLIGHT ? 1 : 2 * WW_C0 * sqrt(creal(ply->coefficient[0][WW_MEAN][0]));
}

static void correct_ply(const struct nodes_of_ply *nodes, struct ww_scan *scan, size_t index,
                        const struct ww_ply *cloth)
{
    struct ww_ply_scan *ply = &scan->ply[index];
    struct folded at = fold(atan2(ply->ux, ply->uy));
    double pitch = scan->pair ? scan->pitch : 0, unit = per_slowness(scan, ply), weight;
    const struct node *of[2];
    if (nodes->count == 0)
        return;
    bracket(nodes, at.angle, of, &weight);
    for (size_t h = 1; h < ply->harmonics; h++) {
        struct ww_order order = ply->order[h];
        if (order.m > ORDER || abs(order.l) > ORDER)
            continue;
        size_t place = place_of(order.m, at.mirror ? -order.l : order.l);
        double _Complex a = (1 - weight) * of[0]->a[place] + weight * of[1]->a[place];
        double sign = at.mirror && order.m % 2 ? -unit : unit;
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
