/* coupling.c - inter-ply coupling: what two plies in place do to a delay beyond the sum of what each does alone.
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
 * Against sections with both plies in place (tests/bench/kernel_errors.c): without it striplines of two equal plies are 6.6 % off
 * along the diagonal on average, a fortieth of the worst along the warp at most; with it 0.53 %, and 0.7 % of that (36 styles).
 */
#include "scan/coupling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* At most; three do for two plies, six for three, but where the coupling nearly levels a ridge (chance/symmetries). */
#define ROUNDS 100
#define NEGLIGIBLE 2e-4 /* product, of the largest harmonic times the length */
#define STILL 0.1       /* [rad] of a product's phase */

enum { CANDIDATES = 64, PRODUCTS = 512 }; /* harmonics of a ply; products of two plies that are kept, the largest */

enum ww_status ww_coupling_init(struct ww_coupling *coupling, size_t plies, struct ww_error *error)
{
    *coupling = (struct ww_coupling){.room = plies > 1 ? PRODUCTS * plies * (plies - 1) / 2 : 0};
    coupling->of = calloc(coupling->room + 1, sizeof *coupling->of);
    coupling->added = calloc(coupling->room + 1, sizeof *coupling->added);
    coupling->sum = calloc(plies > 1 ? 2 * CANDIDATES * CANDIDATES : 1, sizeof *coupling->sum);
    if (coupling->of && coupling->added && coupling->sum)
        return WW_OK;
    ww_coupling_clear(coupling);
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the coupling of %zu plies", plies);
}

void ww_coupling_clear(struct ww_coupling *coupling)
{
    free(coupling->of);
    free(coupling->added);
    free(coupling->sum);
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

/* The largest on any segment. */
static double largest_of(const struct ww_beat_segment *of, size_t segments, const double share[2])
{
    double most = 0;
    for (size_t i = 0; i < segments; i++)
        for (size_t w = 1; w < of[i].harmonics; w++) {
            double size = size_of(&of[i], w, share);
            most = size > most ? size : most;
        }
    return sqrt(most);
}

/* Harmonics k of one ply that count on any segment, one of each two of opposite sign, in their order. */
struct candidates {
    size_t count;
    struct ww_order order[CANDIDATES];
    size_t at[CANDIDATES];      /* where it is on the segment at hand; 0: it is not */
    double square[CANDIDATES];  /* of its size there, 0 where it is not */
    double begin[CANDIDATES];   /* k.p, its phase where that starts [rad] */
    double advance[CANDIDATES]; /* k.u along it [rad/m] */
};

static bool is_before(struct ww_order a, struct ww_order b)
{
    return a.m != b.m ? a.m < b.m : a.l < b.l;
}

/* False where there is no room. */
static bool insert(struct candidates *list, struct ww_order order)
{
    size_t at = list->count;
    while (at > 0 && is_before(order, list->order[at - 1]))
        at--;
    if (at > 0 && !is_before(list->order[at - 1], order))
        return true;
    if (list->count == CANDIDATES)
        return false;
    memmove(list->order + at + 1, list->order + at, (list->count - at) * sizeof *list->order);
    list->order[at] = order;
    list->count++;
    return true;
}

/* Those of at least `least`; the largest of them where there are more than fit. */
static void choose(struct candidates *list, const struct ww_beat_segment *of, size_t segments, const double share[2],
                   double least)
{
    for (bool fits = false; !fits; least *= 1.5) {
        list->count = 0;
        fits = true;
        for (size_t i = 0; i < segments; i++)
            for (size_t w = 1; w < of[i].harmonics && fits; w++)
                if (is_half(of[i].order[w]) && size_of(&of[i], w, share) >= least * least)
                    fits = insert(list, of[i].order[w]);
    }
}

static void set_vector(double k[2], const struct ww_beat_segment *of, struct ww_order order)
{
    k[0] = 2 * WW_PI * order.m / of->lx;
    k[1] = 2 * WW_PI * order.l / of->ly;
}

/* On one segment. Both lists are in order, but for the mean, which comes first. */
static void locate(struct candidates *list, const struct ww_beat_segment *of, const double share[2])
{
    size_t w = 1;
    for (size_t i = 0; i < list->count; i++) {
        double k[2];
        while (w < of->harmonics && is_before(of->order[w], list->order[i]))
            w++;
        bool there = w < of->harmonics && !is_before(list->order[i], of->order[w]);
        set_vector(k, of, list->order[i]);
        list->at[i] = there ? w : 0;
        list->square[i] = there ? size_of(of, w, share) : 0;
        list->begin[i] = k[0] * of->x + k[1] * of->y;
        list->advance[i] = k[0] * of->ux + k[1] * of->uy;
    }
}

/* Harmonic i of the candidates of one ply, j/2 of the other, or its mirror image where j is odd. */
static struct ww_coupled product_of(const struct candidates list[2], size_t i, size_t j,
                                    const struct ww_beat_segment *p, const struct ww_beat_segment *q)
{
    struct ww_order other = list[1].order[j / 2];
    struct ww_coupled one = {.order = {list[0].order[i], j % 2 ? (struct ww_order){-other.m, -other.l} : other}};
    set_vector(one.k[0], p, one.order[0]);
    set_vector(one.k[1], q, one.order[1]);
    return one;
}

/* Of one product over one segment: integral of S_1 S_2 as the signal takes the legs. 0 where the phase runs so fast that over no
 * length it is `limit`: so that it does not matter where a segment is cut in two. */
static double _Complex integrate(const struct candidates list[2], size_t i, size_t j, const struct ww_beat_segment *p,
                                 const struct ww_beat_segment *q, const double share[2], double limit)
{
    double sign = j % 2 ? -1 : 1, advance = list[0].advance[i] + sign * list[1].advance[j / 2];
    double squares = list[0].square[i] * list[1].square[j / 2];
    if (squares <= 0 || 4 * squares < limit * limit * advance * advance)
        return 0;
    double begin = list[0].begin[i] + sign * list[1].begin[j / 2];
    double _Complex sum = 0;
    for (int leg = 0; leg < 2; leg++) {
        const struct ww_leg_span *span = &p->leg[leg];
        if (share[leg] == 0)
            continue;
        double _Complex other = q->slowness[leg][list[1].at[j / 2]];
        sum += share[leg] * p->slowness[leg][list[0].at[i]] * (j % 2 ? conj(other) : other) *
               ww_phasor(begin + advance * (span->start + 0.5 * span->length)) *
               (span->length * ww_sinc(0.5 * advance * span->length));
    }
    return sum;
}

/* A product that is not there yet; where there is no room, in place of the smallest. */
static void keep(struct ww_coupling *coupling, const struct ww_coupled *one)
{
    size_t least = 0;
    if (coupling->count < coupling->room) {
        coupling->of[coupling->count++] = *one;
        return;
    }
    for (size_t i = 1; i < coupling->count; i++)
        if (square_of(coupling->of[i].value) < square_of(coupling->of[least].value))
            least = i;
    if (square_of(one->value) > square_of(coupling->of[least].value))
        coupling->of[least] = *one;
}

static struct ww_coupled *find(struct ww_coupling *coupling, const struct ww_coupled *one)
{
    for (size_t i = 0; i < coupling->count; i++) {
        struct ww_coupled *of = &coupling->of[i];
        if (memcmp(of->ply, one->ply, sizeof of->ply) == 0 && memcmp(of->order, one->order, sizeof of->order) == 0)
            return of;
    }
    return NULL;
}

/* S_0 of a segment, by both plies and the legs that count. */
static double mean_of(const struct ww_beat_segment *p, const struct ww_beat_segment *q, const double share[2])
{
    double sum = 0, legs = 0;
    for (int leg = 0; leg < 2; leg++)
        if (share[leg] != 0) {
            sum += 0.5 * creal(p->slowness[leg][0] + q->slowness[leg][0]);
            legs++;
        }
    return sum / legs;
}

/* What is left of a small product: nothing below `least`, all above twice that, so that nothing jumps with the angle. */
static double faded(double _Complex value, double least)
{
    double above = fmin(sqrt(square_of(value)) / least - 1, 1);
    return above * above * (3 - 2 * above);
}

void ww_coupling_add(struct ww_coupling *coupling, size_t p, size_t q, const struct ww_beat_segment *of_p,
                     const struct ww_beat_segment *of_q, size_t segments, const double share[2], double length)
{
    struct candidates list[2];
    double mean = 0;
    for (size_t s = 0; s < segments; s++)
        mean += mean_of(&of_p[s], &of_q[s], share) / (double)segments;
    double most[2] = {largest_of(of_p, segments, share), largest_of(of_q, segments, share)};
    double least = NEGLIGIBLE * fmax(most[0], most[1]) * length;     /* of a product [s] */
    double limit = least * mean / (fabs(share[0]) + fabs(share[1])); /* of |S_1^||S_2^| times a length */
    if (!(most[0] * most[1] * length > limit))
        return;
    choose(&list[0], of_p, segments, share, limit / (most[1] * length));
    choose(&list[1], of_q, segments, share, limit / (most[0] * length));
    size_t row = 2 * list[1].count;
    memset(coupling->sum, 0, list[0].count * row * sizeof *coupling->sum);
    for (size_t s = 0; s < segments; s++) {
        locate(&list[0], &of_p[s], share);
        locate(&list[1], &of_q[s], share);
        double weight = -1 / mean_of(&of_p[s], &of_q[s], share);
        for (size_t i = 0; i < list[0].count; i++)
            for (size_t j = 0; j < row; j++)
                coupling->sum[i * row + j] += weight * integrate(list, i, j, &of_p[s], &of_q[s], share, limit);
    }
    for (size_t i = 0; i < list[0].count; i++)
        for (size_t j = 0; j < row; j++)
            if (square_of(coupling->sum[i * row + j]) > least * least) {
                struct ww_coupled one = product_of(list, i, j, of_p, of_q);
                one.ply[0] = p;
                one.ply[1] = q;
                one.value = coupling->sum[i * row + j] * faded(coupling->sum[i * row + j], least);
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

/* What is common to two traces leaves rounding: as products of one harmonic of two plies that lie alike. */
static void drop_rounding(struct ww_coupling *coupling, double largest)
{
    const double rounding = 1e-9;
    size_t count = 0;
    for (size_t i = 0; i < coupling->count; i++)
        if (square_of(coupling->of[i].value) > rounding * rounding * largest)
            coupling->of[count++] = coupling->of[i];
    coupling->count = count;
}

static double largest_square(const struct ww_coupling *coupling)
{
    double most = 0;
    for (size_t i = 0; i < coupling->count; i++)
        most = fmax(most, square_of(coupling->of[i].value));
    return most;
}

void ww_coupling_combine(struct ww_coupling *coupling, const struct ww_coupling *other, double sign)
{
    for (size_t i = 0; i < other->count; i++) {
        struct ww_coupled one = other->of[i], *same = find(coupling, &one);
        one.value *= sign;
        if (same)
            same->value += one.value;
        else
            keep(coupling, &one);
    }
    drop_rounding(coupling, largest_square(other));
}

void ww_coupling_apart(struct ww_coupling *coupling, const struct ww_extreme *shift)
{
    double largest = largest_square(coupling);
    for (size_t i = 0; i < coupling->count; i++)
        coupling->of[i].value *= 1 - ww_phasor(phase_at(&coupling->of[i], shift));
    drop_rounding(coupling, largest);
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

/* Adds to the harmonic of the same order, or as a new one. */
static size_t gather(struct ww_map_harmonic *added, size_t count, const struct ww_map_harmonic *one)
{
    for (size_t i = 0; i < count; i++)
        if (added[i].order.m == one->order.m && added[i].order.l == one->order.l) {
            added[i].value += one->value;
            return count;
        }
    added[count] = *one;
    return count + 1;
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
        struct ww_map_harmonic one = {
            is_half(order) ? order : (struct ww_order){-order.m, -order.l},
            {sign * of->k[own][0], sign * of->k[own][1]},
            is_half(order) ? value : conj(value),
        };
        count = gather(added, count, &one);
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

/* Whether a ply lies elsewhere by what its products see. */
static bool is_moved(const struct ww_coupling *coupling, size_t ply, const struct ww_extreme *from,
                     const struct ww_extreme *to)
{
    for (size_t i = 0; i < coupling->count; i++)
        for (int own = 0; own < 2; own++) {
            const double *k = coupling->of[i].k[own];
            double turn = k[0] * (to->x - from->x) + k[1] * (to->y - from->y);
            if (coupling->of[i].ply[own] == ply && fabs(remainder(turn, 2 * WW_PI)) > STILL)
                return true;
        }
    return false;
}

/* The plies in turn, from the first on. Once all others have lain still, a ply's top is near where it was. */
static enum ww_status climb(const struct ww_coupling *coupling, size_t plies, size_t first, double sign,
                            double settled, struct ww_extreme *top, ww_find_top *find_top, void *host,
                            struct ww_error *error)
{
    double before = whole_of(coupling, plies, top);
    size_t still = 0; /* plies in turn that hardly moved */
    for (int round = 0; round < ROUNDS; round++) {
        for (size_t i = 0; i < plies; i++) {
            size_t p = (first + i) % plies;
            struct ww_extreme here = top[p];
            struct ww_map_harmonic *added = coupling->added;
            size_t count = given(coupling, p, top, added);
            bool near = round > 0 && still + 1 >= plies;
            if (count > 0) {
                enum ww_status status = find_top(host, p, sign, added, count, near, &here, error);
                if (status)
                    return status;
                here.value -= sum_at(added, count, &here);
            }
            still = is_moved(coupling, p, &top[p], &here) ? 0 : still + 1;
            top[p] = here;
        }
        double now = whole_of(coupling, plies, top);
        if (!(sign * (now - before) > settled * fabs(now)))
            break;
        before = now;
    }
    return WW_OK;
}

/* Moves a ply by half a period of the largest product that it has part in. False where it has none. */
static bool move_across(const struct ww_coupling *coupling, size_t ply, struct ww_extreme *at)
{
    const struct ww_coupled *most = NULL;
    for (size_t i = 0; i < coupling->count; i++) {
        const struct ww_coupled *of = &coupling->of[i];
        if ((of->ply[0] == ply || of->ply[1] == ply) && (!most || square_of(of->value) > square_of(most->value)))
            most = of;
    }
    if (!most)
        return false;
    const double *k = most->k[most->ply[0] == ply ? 0 : 1];
    double square = k[0] * k[0] + k[1] * k[1];
    at->x += WW_PI * k[0] / square;
    at->y += WW_PI * k[1] / square;
    return true;
}

/* Once more with each ply in turn moved across: there may be another top. */
static enum ww_status climb_from_across(const struct ww_coupling *coupling, size_t plies, double sign, double settled,
                                        struct ww_extreme *top, ww_find_top *find_top, void *host,
                                        struct ww_error *error)
{
    struct ww_extreme *other = calloc(plies, sizeof *other);
    enum ww_status status =
        other ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    for (size_t p = 0; p < plies && !status; p++) {
        memcpy(other, top, plies * sizeof *top);
        if (!move_across(coupling, p, &other[p]))
            continue;
        status = climb(coupling, plies, (p + 1) % plies, sign, settled, other, find_top, host, error);
        if (!status && sign * (whole_of(coupling, plies, other) - whole_of(coupling, plies, top)) > 0)
            memcpy(top, other, plies * sizeof *top);
    }
    free(other);
    return status;
}

enum ww_status ww_coupling_climb(const struct ww_coupling *coupling, size_t plies, double sign, double settled,
                                 bool across, struct ww_extreme *top, ww_find_top *find_top, void *host,
                                 struct ww_error *error)
{
    enum ww_status status =
        coupling->count ? climb(coupling, plies, 0, sign, settled, top, find_top, host, error) : WW_OK;
    if (across && coupling->count && !status)
        status = climb_from_across(coupling, plies, sign, settled, top, find_top, host, error);
    for (size_t i = 0; i < coupling->count && !status; i++) {
        double half = 0.5 * product_at(&coupling->of[i], top);
        top[coupling->of[i].ply[0]].value += half;
        top[coupling->of[i].ply[1]].value += half;
    }
    return status;
}
