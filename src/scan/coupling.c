/* coupling.c - what two plies do to a delay together.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Permittivities add. With d_p = S_p - S_0 what ply p alone changes of a leg's slowness at a place of the path,
 *   S = sqrt(S_1^2 + S_2^2 - S_0^2) = S_0 + d_1 + d_2 - d_1 d_2/S_0 + ..,
 * so that for every two plies there is, beside their sum,
 *   C(r, r') = -(1/S_0) integral d_1 d_2 ds = 2 Re sum over k, l of c exp(i k.r + i l.r'),
 *   c = -(1/S_0) S_1^(k) S_2^(l) exp(i k.p + i l.p') integral of exp(i (k.u + l.u') s) ds,
 * p, p' where the segment starts in the frames of the two and u, u' its direction there; the signal takes the legs as their
 * delays. Nothing is fitted. It is large where k.u + l.u' = 0: along the diagonal of the cell the warp yarns of one ply, (2, 0),
 * keep step with the fill yarns of the other, (0, -2). Along the yarns both legs of a pair have it, but for second harmonics.
 * In the quasi-static limit permittivities add as they are, and there is none.
 *
 * Against sections with both plies in place: tests/bench/kernel_errors.c; without it striplines of two equal plies are 6.6 % off
 * along the diagonal on average, a fortieth of the worst along the warp at most, with it 0.34 % (36 styles).
 */
#include "scan/coupling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NEGLIGIBLE 1e-3 /* of the largest harmonic times the length: some 2.5e-4 of the worst along the yarns */
#define ROUNDS 12       /* at most; three do */
#define SETTLED 1e-7    /* of the extreme */

enum { CANDIDATES = 64, PRODUCTS = 512 }; /* harmonics of a ply on one segment; products of two plies */

enum ww_status ww_coupling_init(struct ww_coupling *coupling, size_t plies, struct ww_error *error)
{
    *coupling = (struct ww_coupling){.room = plies > 1 ? PRODUCTS * plies * (plies - 1) / 2 : 0};
    coupling->of = calloc(coupling->room + 1, sizeof *coupling->of);
    coupling->added = calloc(coupling->room + 1, sizeof *coupling->added);
    if (coupling->of && coupling->added)
        return WW_OK;
    ww_coupling_clear(coupling);
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the coupling of %zu plies", plies);
}

void ww_coupling_clear(struct ww_coupling *coupling)
{
    free(coupling->of);
    free(coupling->added);
    memset(coupling, 0, sizeof *coupling);
}

/* --- products of harmonics ------------------------------------------------------------------------------------------------ */

static double square_of(double _Complex c)
{
    return creal(c) * creal(c) + cimag(c) * cimag(c);
}

static bool is_half(struct ww_order order)
{
    return order.m > 0 || (order.m == 0 && order.l > 0);
}

/* The larger leg's, squared. */
static double size_of(const struct ww_beat_segment *of, size_t w, const double share[2])
{
    double one = share[0] != 0 ? square_of(of->slowness[0][w]) : 0,
           two = share[1] != 0 ? square_of(of->slowness[1][w]) : 0;
    return one > two ? one : two;
}

static double largest_of(const struct ww_beat_segment *of, const double share[2])
{
    double most = 0;
    for (size_t w = 1; w < of->harmonics; w++) {
        double size = size_of(of, w, share);
        most = size > most ? size : most;
    }
    return sqrt(most);
}

/* Harmonics of at least `least`, one of each two of opposite sign; the largest of them where there are more than fit. */
static size_t choose(const struct ww_beat_segment *of, const double share[2], double least, size_t *chosen)
{
    size_t count = CANDIDATES + 1;
    while (count > CANDIDATES) {
        count = 0;
        for (size_t w = 1; w < of->harmonics && count <= CANDIDATES; w++)
            if (is_half(of->order[w]) && size_of(of, w, share) >= least * least) {
                if (count < CANDIDATES)
                    chosen[count] = w;
                count++;
            }
        least *= 1.5;
    }
    return count;
}

static void set_vector(double k[2], const struct ww_beat_segment *of, struct ww_order order)
{
    k[0] = 2 * WW_PI * order.m / of->lx;
    k[1] = 2 * WW_PI * order.l / of->ly;
}

/* How fast the phase of a product runs along the segment [rad/m], and where it begins there [rad]. */
static double advance_of(const struct ww_coupled *of, const struct ww_beat_segment *p,
                         const struct ww_beat_segment *q)
{
    return of->k[0][0] * p->ux + of->k[0][1] * p->uy + of->k[1][0] * q->ux + of->k[1][1] * q->uy;
}

static double begin_of(const struct ww_coupled *of, const struct ww_beat_segment *p, const struct ww_beat_segment *q)
{
    return of->k[0][0] * p->x + of->k[0][1] * p->y + of->k[1][0] * q->x + of->k[1][1] * q->y;
}

/* To the product of the same harmonics, or as a new one; where there is no room, in place of the smallest. */
static void keep(struct ww_coupling *coupling, const struct ww_coupled *one)
{
    size_t least = 0;
    for (size_t i = 0; i < coupling->count; i++) {
        struct ww_coupled *of = &coupling->of[i];
        if (memcmp(of->ply, one->ply, sizeof of->ply) == 0 && memcmp(of->order, one->order, sizeof of->order) == 0) {
            of->value += one->value;
            return;
        }
        if (square_of(of->value) < square_of(coupling->of[least].value))
            least = i;
    }
    if (coupling->count < coupling->room)
        coupling->of[coupling->count++] = *one;
    else if (square_of(one->value) > square_of(coupling->of[least].value))
        coupling->of[least] = *one;
}

/* Harmonic k of one ply, l of the other or its mirror image, along one segment. */
static struct ww_coupled product_of(const struct ww_beat_segment *of_p, size_t k, const struct ww_beat_segment *of_q,
                                    size_t l, bool mirrored)
{
    struct ww_order other = of_q->order[l];
    struct ww_coupled one = {.order = {of_p->order[k], mirrored ? (struct ww_order){-other.m, -other.l} : other}};
    set_vector(one.k[0], of_p, one.order[0]);
    set_vector(one.k[1], of_q, one.order[1]);
    return one;
}

static double _Complex integrate(const struct ww_coupled *one, const struct ww_beat_segment *of_p, size_t k,
                                 const struct ww_beat_segment *of_q, size_t l, bool mirrored, const double share[2])
{
    double advance = advance_of(one, of_p, of_q), begin = begin_of(one, of_p, of_q);
    double _Complex sum = 0;
    for (int leg = 0; leg < 2; leg++) {
        const struct ww_leg_span *span = &of_p->leg[leg];
        if (share[leg] == 0)
            continue;
        double _Complex other = of_q->slowness[leg][l];
        sum += share[leg] * of_p->slowness[leg][k] * (mirrored ? conj(other) : other) *
               ww_phasor(begin + advance * (span->start + 0.5 * span->length)) *
               (span->length * ww_sinc(0.5 * advance * span->length));
    }
    return sum;
}

void ww_coupling_add(struct ww_coupling *coupling, size_t p, size_t q, const struct ww_beat_segment *of_p,
                     const struct ww_beat_segment *of_q, const double share[2], double route_length)
{
    size_t chosen[2][CANDIDATES];
    double mean = creal(of_p->slowness[0][0]), most[2] = {largest_of(of_p, share), largest_of(of_q, share)};
    double least = NEGLIGIBLE * fmax(most[0], most[1]) * route_length;          /* of a product [s] */
    double legs = fabs(share[0]) + fabs(share[1]), limit = least * mean / legs; /* of |S_1^||S_2^| times a length */
    if (!(most[0] * most[1] * of_p->length > limit))
        return;
    size_t ks = choose(of_p, share, limit / (most[1] * of_p->length), chosen[0]),
           ls = choose(of_q, share, limit / (most[0] * of_p->length), chosen[1]);
    for (size_t i = 0; i < ks; i++)
        for (size_t j = 0; j < 2 * ls; j++) {
            size_t k = chosen[0][i], l = chosen[1][j / 2];
            struct ww_coupled one = product_of(of_p, k, of_q, l, j % 2);
            double advance = fabs(advance_of(&one, of_p, of_q)),
                   in_step = 2 / advance; /* the most it integrates to */
            in_step = advance * of_p->length < 2 ? of_p->length : in_step;
            if (size_of(of_p, k, share) * size_of(of_q, l, share) * in_step * in_step < limit * limit)
                continue;
            one.ply[0] = p;
            one.ply[1] = q;
            one.value = -integrate(&one, of_p, k, of_q, l, j % 2, share) / mean;
            if (square_of(one.value) >= least * least)
                keep(coupling, &one);
        }
}

static double phase_at(const struct ww_coupled *of, const struct ww_extreme *at)
{
    const struct ww_extreme *first = &at[of->ply[0]], *second = &at[of->ply[1]];
    return of->k[0][0] * first->x + of->k[0][1] * first->y + of->k[1][0] * second->x + of->k[1][1] * second->y;
}

void ww_coupling_shift(struct ww_coupling *coupling, const struct ww_extreme *shift)
{
    for (size_t i = 0; i < coupling->count; i++)
        coupling->of[i].value *= ww_phasor(phase_at(&coupling->of[i], shift));
}

void ww_coupling_combine(struct ww_coupling *coupling, const struct ww_coupling *other, double sign)
{
    for (size_t i = 0; i < other->count; i++) {
        struct ww_coupled one = other->of[i];
        one.value *= sign;
        keep(coupling, &one);
    }
}

void ww_coupling_apart(struct ww_coupling *coupling, const struct ww_extreme *shift)
{
    for (size_t i = 0; i < coupling->count; i++)
        coupling->of[i].value *= 1 - ww_phasor(phase_at(&coupling->of[i], shift));
}

/* --- all plies in place --------------------------------------------------------------------------------------------------- */

static double product_at(const struct ww_coupled *of, const struct ww_extreme *at)
{
    return 2 * creal(of->value * ww_phasor(phase_at(of, at)));
}

double ww_coupling_value(const struct ww_coupling *coupling, const struct ww_extreme *at)
{
    double sum = 0;
    for (size_t i = 0; i < coupling->count; i++)
        sum += product_at(&coupling->of[i], at);
    return sum;
}

/* What the others, where they lie, add to one ply's map. */
static size_t given(const struct ww_coupling *coupling, size_t ply, const struct ww_extreme *at,
                    struct ww_map_harmonic *added)
{
    size_t count = 0;
    for (size_t i = 0; i < coupling->count; i++) {
        const struct ww_coupled *of = &coupling->of[i];
        int own = of->ply[0] == ply ? 0 : 1;
        if (of->ply[own] != ply)
            continue;
        const struct ww_extreme *other = &at[of->ply[1 - own]];
        double _Complex value = of->value * ww_phasor(of->k[1 - own][0] * other->x + of->k[1 - own][1] * other->y);
        struct ww_order order = of->order[own];
        double sign = is_half(order) ? 1 : -1;
        added[count++] = (struct ww_map_harmonic){
            is_half(order) ? order : (struct ww_order){-order.m, -order.l},
            {sign * of->k[own][0], sign * of->k[own][1]},
            is_half(order) ? value : conj(value),
        };
    }
    return count;
}

static double sum_at(const struct ww_map_harmonic *of, size_t count, const struct ww_extreme *at)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += 2 * creal(of[i].value * ww_phasor(of[i].k[0] * at->x + of[i].k[1] * at->y));
    return sum;
}

static double whole_of(const struct ww_coupling *coupling, size_t plies, const struct ww_extreme *top)
{
    double sum = ww_coupling_value(coupling, top);
    for (size_t p = 0; p < plies; p++)
        sum += top[p].value;
    return sum;
}

static enum ww_status climb(const struct ww_coupling *coupling, size_t plies, double sign, struct ww_extreme *top,
                            ww_find_top *find, void *host, struct ww_error *error)
{
    double before = whole_of(coupling, plies, top);
    for (int round = 0; round < ROUNDS; round++) {
        for (size_t p = 0; p < plies; p++) {
            struct ww_extreme here;
            struct ww_map_harmonic *added = coupling->added;
            size_t count = given(coupling, p, top, added);
            if (count == 0)
                continue;
            enum ww_status status = find(host, p, sign, added, count, &here, error);
            if (status)
                return status;
            here.value -= sum_at(added, count, &here);
            top[p] = here;
        }
        double now = whole_of(coupling, plies, top);
        if (!(sign * (now - before) > SETTLED * fabs(now)))
            break;
        before = now;
    }
    return WW_OK;
}

enum ww_status ww_coupling_climb(const struct ww_coupling *coupling, size_t plies, double sign,
                                 struct ww_extreme *top, ww_find_top *find, void *host, struct ww_error *error)
{
    enum ww_status status = coupling->count ? climb(coupling, plies, sign, top, find, host, error) : WW_OK;
    for (size_t i = 0; i < coupling->count && !status; i++) {
        double half = 0.5 * product_at(&coupling->of[i], top);
        top[coupling->of[i].ply[0]].value += half;
        top[coupling->of[i].ply[1]].value += half;
    }
    return status;
}
