/* path.c - the integral along a trace, straight or of segments, from every position of the cloth at once.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * With slowness S(r) = sum S^(k) exp(i k.r), the delay of a segment of length L that starts at r0 and runs along u is
 *   delay(r0) = sum S^(k) exp(i k.r0) L exp(i k.u L/2) sinc(k.u L/2),
 * exact for every harmonic: there are no steps along the path. One inverse transform gives it from all positions of a grid.
 * A sum over the harmonics gives it, with its derivatives, at any one. Harmonics with k.u = 0 do not average out: their
 * skew grows with length. All others saturate.
 *
 * A route is the sum of its segments, each with its own direction, n and phase. The legs of a pair start and end where the
 * mitres of the bends put them. The difference of their lengths at the bends is no skew of the weave: the mean of a route's skew
 * is 0, or, where bends count, that difference (ww_scan_mismatch), which the first ply carries.
 *
 * Two equal traces side by side, d = spacing n apart, n across the line from start to end: delay(r0) - delay(r0 + d) has
 * the harmonics of the delay times 1 - exp(i k.d). Where k.d is a multiple of 2 pi, none is left.
 *
 * The quasi-static limit is the same integral of eps: delay = L sqrt(mean eps)/c0.
 */
#include "scan/path.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

#define MOST_LENGTH 1e3 /* [m] */

/* k.u of one harmonic [rad/m]. */
static double advance(const struct ww_ply_scan *ply, size_t w)
{
    return 2 * WW_PI * (ply->order[w].m / ply->lx * ply->ux + ply->order[w].l / ply->ly * ply->uy);
}

/* Mean of one harmonic along the path: exp(i k.u L/2) sinc(k.u L/2). */
static double _Complex mean_along(const struct ww_ply_scan *ply, size_t w, double length)
{
    double half = 0.5 * advance(ply, w) * length;
    return ww_phasor(half) * ww_sinc(half);
}

static enum ww_status check(const struct ww_scan *scan, size_t ply, enum ww_signal signal, double length,
                            struct ww_error *error)
{
    if (ply >= scan->plies)
        return ww_error_set(error, WW_INVALID, NULL, 0, "ply %zu of %zu", ply + 1, scan->plies);
    if (signal != WW_LEG1 && !scan->pair)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a single trace has no second leg");
    if (!(length >= 0 && length <= MOST_LENGTH))
        return ww_error_set(error, WW_INVALID, NULL, 0, "length %g m is outside [0, %g] m", length, MOST_LENGTH);
    return WW_OK;
}

static enum ww_status take_straight(struct ww_path *path, enum ww_estimate estimate, bool two, struct ww_error *error)
{
    const struct ww_ply_scan *ply = path->ply;
    path->harmonics = ply->harmonics;
    path->order = ply->order;
    path->first = calloc((two ? 2 : 1) * ply->harmonics, sizeof *path->first);
    if (!path->first)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", ply->harmonics);
    path->second = two ? path->first + ply->harmonics : NULL;
    const double _Complex *leg1 = ply->coefficient[0][estimate], *leg2 = ply->coefficient[1][estimate];
    enum ww_signal signal = path->signal;
    double x = WW_PI * path->length * ply->ux / ply->lx, y = WW_PI * path->length * ply->uy / ply->ly;
    struct ww_stepper halves = ww_stepper_of(x, y);
    for (size_t w = 0; w < ply->harmonics; w++) { /* mean_along, with the sines at hand */
        double _Complex turn = ww_stepper_to(&halves, ply->order[w]);
        double half = ply->order[w].m * x + ply->order[w].l * y;
        double _Complex mean = turn * (fabs(half) < 0.1 ? ww_sinc(half) : cimag(turn) / half);
        path->first[w] = mean * (signal == WW_LEG2           ? leg2[w]
                                 : signal == WW_SKEW && !two ? leg1[w] - leg2[w]
                                                             : leg1[w]);
        if (two)
            path->second[w] = mean * leg2[w];
    }
    return WW_OK;
}

/* Both legs' sums over the segments of a route, for each (m, l) with m <= m_most, |l| <= l_most. */
struct sums {
    int m_most, l_most;
    size_t count;
    double _Complex *leg[2]; /* [m][l + l_most] */
    bool *met;
    double length[2];
};

static void sums_clear(struct sums *sums)
{
    free(sums->leg[0]);
    free(sums->met);
    memset(sums, 0, sizeof *sums);
}

static enum ww_status sums_init(struct sums *sums, const struct ww_scan *scan, size_t index, struct ww_error *error)
{
    *sums = (struct sums){0};
    for (size_t i = 0; i < scan->segments; i++) {
        const struct ww_ply_scan *ply = &scan->segment[i].scan->ply[index];
        for (size_t w = 0; w < ply->harmonics; w++) {
            sums->m_most = ply->order[w].m > sums->m_most ? ply->order[w].m : sums->m_most;
            sums->l_most = abs(ply->order[w].l) > sums->l_most ? abs(ply->order[w].l) : sums->l_most;
        }
    }
    sums->count = (size_t)(sums->m_most + 1) * (size_t)(2 * sums->l_most + 1);
    sums->leg[0] = calloc(2 * sums->count, sizeof *sums->leg[0]);
    sums->met = calloc(sums->count, sizeof *sums->met);
    if (!sums->leg[0] || !sums->met)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", sums->count);
    sums->leg[1] = sums->leg[0] + sums->count;
    return WW_OK;
}

/* Adds one segment whose centre line starts at (x, y) of the ply's cloth. */
static void add_segment(struct sums *sums, const struct ww_scan *scan, const struct ww_scan_segment *of, size_t index,
                        enum ww_estimate estimate, double own, double x, double y)
{
    const struct ww_ply_scan *ply = &of->scan->ply[index];
    for (int leg = 0; leg < (scan->pair ? 2 : 1); leg++) {
        struct ww_leg_span span = ww_leg_span(scan, of, own, leg);
        sums->length[leg] += span.length;
        double px = 2 * WW_PI / ply->lx, py = 2 * WW_PI / ply->ly, half = 0.5 * span.length;
        struct ww_stepper start = ww_stepper_of(px * (x + span.start * ply->ux), py * (y + span.start * ply->uy));
        struct ww_stepper halves = ww_stepper_of(px * half * ply->ux, py * half * ply->uy);
        for (size_t w = 0; w < ply->harmonics; w++) {
            size_t at = (size_t)(ply->order[w].m * (2 * sums->l_most + 1) + ply->order[w].l + sums->l_most);
            double _Complex turn = ww_stepper_to(&halves, ply->order[w]);
            double phase = advance(ply, w) * half;
            double sinc = fabs(phase) < 0.1 ? ww_sinc(phase) : cimag(turn) / phase;
            sums->met[at] = true;
            sums->leg[leg][at] += ply->coefficient[leg][estimate][w] * (ww_stepper_to(&start, ply->order[w]) * turn) *
                                  (span.length * sinc);
        }
    }
}

/* The sums as means over the length, listed by harmonic. */
static enum ww_status list_sums(struct ww_path *path, const struct sums *sums, bool two, struct ww_error *error)
{
    for (size_t i = 0; i < sums->count; i++)
        path->harmonics += sums->met[i];
    path->owned = calloc(path->harmonics, sizeof *path->owned);
    path->first = calloc((two ? 2 : 1) * path->harmonics, sizeof *path->first);
    if (!path->owned || !path->first)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", path->harmonics);
    path->order = path->owned;
    path->second = two ? path->first + path->harmonics : NULL;
    size_t zero = (size_t)sums->l_most; /* the mean comes first */
    for (size_t k = 0, w = 1; k < sums->count; k++) {
        if (!sums->met[k])
            continue;
        size_t at = k == zero ? 0 : w++;
        path->owned[at] =
            (struct ww_order){(int)k / (2 * sums->l_most + 1), (int)k % (2 * sums->l_most + 1) - sums->l_most};
        double _Complex leg1 = sums->leg[0][k], leg2 = sums->leg[1][k];
        if (two) {
            path->first[at] = leg1 / sums->length[0];
            path->second[at] = leg2 / sums->length[1];
        } else
            path->first[at] = (path->signal == WW_LEG1   ? leg1
                               : path->signal == WW_LEG2 ? leg2
                                                         : leg1 - leg2) /
                              path->length;
        if (k == zero && path->signal == WW_SKEW && !two)
            path->first[at] = path->offset / path->length;
    }
    return WW_OK;
}

static enum ww_status sum_route(struct ww_path *path, size_t index, enum ww_estimate estimate, bool two,
                                struct ww_error *error)
{
    const struct ww_scan *scan = path->scan;
    struct sums sums;
    enum ww_status status = sums_init(&sums, scan, index, error);
    double x = 0, y = 0;
    for (size_t i = 0; i < scan->segments && !status; i++) {
        const struct ww_scan_segment *of = &scan->segment[i];
        double own = of->share * path->length;
        for (int leg = 0; leg < 2 && !status; leg++)
            if (path->length > 0 && !(ww_leg_span(scan, of, own, leg).length > 0))
                status = ww_error_set(error, WW_INVALID, NULL, 0,
                                      "segment %zu of the route, %g um long, is too short for the bends at its ends",
                                      i + 1, own * 1e6);
        if (status)
            break;
        add_segment(&sums, scan, of, index, estimate, own, x, y);
        x += own * of->scan->ply[index].ux;
        y += own * of->scan->ply[index].uy;
    }
    if (!status)
        status = list_sums(path, &sums, two, error);
    sums_clear(&sums);
    return status;
}

/* Of one leg, or leg 1 less leg 2. */
static enum ww_status init_legs(struct ww_path *path, const struct ww_scan *scan, size_t index, enum ww_signal signal,
                                enum ww_estimate estimate, double length, struct ww_error *error)
{
    memset(path, 0, sizeof *path);
    enum ww_status status = check(scan, index, signal, length, error);
    if (status)
        return status;
    bool two = signal == WW_SKEW && scan->averaging == WW_QUASI_STATIC;
    *path = (struct ww_path){.scan = scan, .ply = &scan->ply[index], .signal = signal, .length = length};
    if (scan->bends && index == 0 && signal == WW_SKEW)
        path->offset = ww_scan_mismatch(scan);
    status =
        scan->segments ? sum_route(path, index, estimate, two, error) : take_straight(path, estimate, two, error);
    if (status)
        ww_path_clear(path);
    return status;
}

void ww_path_clear(struct ww_path *path)
{
    free(path->first);
    free(path->owned);
    memset(path, 0, sizeof *path);
}

void ww_path_shift(struct ww_path *path, double x, double y)
{
    struct ww_stepper shift = ww_stepper_of(2 * WW_PI * x / path->ply->lx, 2 * WW_PI * y / path->ply->ly);
    for (size_t w = 0; w < path->harmonics; w++) {
        double _Complex phasor = ww_stepper_to(&shift, path->order[w]);
        path->first[w] *= phasor;
        if (path->second)
            path->second[w] *= phasor;
    }
}

static void add_to(struct ww_path *path, int m, int l, double _Complex value)
{
    for (size_t w = 1; w < path->harmonics; w++)
        if (path->order[w].m == m && path->order[w].l == l)
            path->first[w] += value / path->length;
}

void ww_path_add(struct ww_path *path, const struct ww_map_harmonic *added, size_t count, double sign)
{
    for (size_t i = 0; i < count; i++) {
        struct ww_order order = added[i].order;
        add_to(path, order.m, order.l, sign * added[i].value);
        if (order.m == 0) /* both signs of l are kept there */
            add_to(path, 0, -order.l, sign * conj(added[i].value));
    }
}

/* -1, 0, 1 as harmonic a comes before, with or after b in a list. */
static int compare_orders(struct ww_order a, struct ww_order b)
{
    bool a_is_mean = a.m == 0 && a.l == 0, b_is_mean = b.m == 0 && b.l == 0;
    if (a_is_mean || b_is_mean)
        return (int)b_is_mean - (int)a_is_mean;
    return a.m != b.m ? (a.m > b.m) - (a.m < b.m) : (a.l > b.l) - (a.l < b.l);
}

/* Both lists of harmonics as one, b's delays as shares of a's length. */
static void merge(struct ww_path *path, const struct ww_path *a, const struct ww_path *b)
{
    double share = b->length / a->length;
    size_t i = 0, j = 0;
    while (i < a->harmonics || j < b->harmonics) {
        int order = i == a->harmonics ? 1 : j == b->harmonics ? -1 : compare_orders(a->order[i], b->order[j]);
        size_t at = path->harmonics++;
        path->owned[at] = order <= 0 ? a->order[i] : b->order[j];
        path->first[at] = (order <= 0 ? a->first[i] : 0) - (order >= 0 ? share * b->first[j] : 0);
        i += order <= 0;
        j += order >= 0;
    }
}

enum ww_status ww_path_difference(struct ww_path *path, const struct ww_path *a, const struct ww_path *b,
                                  struct ww_error *error)
{
    size_t most = a->harmonics + b->harmonics;
    *path = (struct ww_path){.scan = a->scan, .ply = a->ply, .signal = WW_APART, .length = a->length};
    if (a->scan->averaging != WW_FLIGHT)
        return ww_error_set(error, WW_INVALID, NULL, 0, "the difference of two traces takes time of flight");
    path->owned = calloc(most, sizeof *path->owned);
    path->first = calloc(most, sizeof *path->first);
    path->order = path->owned;
    if (!path->owned || !path->first) {
        ww_path_clear(path);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", most);
    }
    merge(path, a, b);
    return WW_OK;
}

void ww_scan_chord(const struct ww_scan *scan, size_t index, double *x, double *y)
{
    const double closed = 1e-9; /* of the route's length */
    *x = scan->ply[index].ux;
    *y = scan->ply[index].uy;
    double sx = 0, sy = 0;
    for (size_t i = 0; i < scan->segments; i++) {
        const struct ww_ply_scan *ply = &scan->segment[i].scan->ply[index];
        sx += scan->segment[i].share * ply->ux;
        sy += scan->segment[i].share * ply->uy;
    }
    double chord = hypot(sx, sy);
    if (chord > closed) {
        *x = sx / chord;
        *y = sy / chord;
    }
}

static enum ww_status subtract_neighbour(struct ww_path *path, const struct ww_scan *scan, size_t index,
                                         enum ww_estimate estimate, double length, struct ww_error *error)
{
    struct ww_path second = {0};
    memset(path, 0, sizeof *path);
    if (scan->averaging != WW_FLIGHT)
        return ww_error_set(error, WW_INVALID, NULL, 0, "the difference of two traces takes time of flight");
    enum ww_status status = init_legs(path, scan, index, WW_LEG1, estimate, length, error);
    if (!status && scan->pair)
        status = init_legs(&second, scan, index, WW_LEG2, estimate, length, error);
    double x = 0, y = 0;
    if (!status)
        ww_scan_chord(scan, index, &x, &y);
    for (size_t w = 0; w < path->harmonics && !status; w++) {
        double kx = 2 * WW_PI * path->order[w].m / path->ply->lx, ky = 2 * WW_PI * path->order[w].l / path->ply->ly;
        double _Complex delay = scan->pair ? 0.5 * (path->first[w] + second.first[w]) : path->first[w];
        path->first[w] = delay * (1 - ww_phasor(scan->spacing * (ky * x - kx * y)));
    }
    path->signal = WW_APART;
    ww_path_clear(&second);
    if (status)
        ww_path_clear(path);
    return status;
}

enum ww_status ww_path_init(struct ww_path *path, const struct ww_scan *scan, size_t index, enum ww_signal signal,
                            enum ww_estimate estimate, double length, struct ww_error *error)
{
    return signal == WW_APART ? subtract_neighbour(path, scan, index, estimate, length, error)
                              : init_legs(path, scan, index, signal, estimate, length, error);
}

/* Sum over the harmonics at one place, with derivatives. */
static struct ww_expansion sum_at(const struct ww_path *path, const double _Complex *c, double x, double y)
{
    const struct ww_ply_scan *ply = path->ply;
    struct ww_expansion at = {0};
    double kx = 2 * WW_PI / ply->lx, ky = 2 * WW_PI / ply->ly;
    struct ww_stepper phasors = ww_stepper_of(kx * x, ky * y);
    for (size_t w = 0; w < path->harmonics; w++) {
        double m = kx * path->order[w].m, l = ky * path->order[w].l, twice = path->order[w].m ? 2 : 1;
        double _Complex phasor = ww_stepper_to(&phasors, path->order[w]);
        double co = creal(phasor), si = cimag(phasor);
        double real = twice * (creal(c[w]) * co - cimag(c[w]) * si);
        double turn = -twice * (creal(c[w]) * si + cimag(c[w]) * co); /* d real / d phase */
        at.value += real;
        at.dx += m * turn;
        at.dy += l * turn;
        at.xx -= m * m * real;
        at.xy -= m * l * real;
        at.yy -= l * l * real;
    }
    return at;
}

/* Delay from mean eps, L sqrt(mean)/c0, derivatives by the chain rule. */
static struct ww_expansion delay_from_eps(struct ww_expansion a, double length)
{
    double root = sqrt(a.value), first = length / (2 * WW_C0 * root), second = -first / (2 * a.value);
    return (struct ww_expansion){length * root / WW_C0,
                                 first * a.dx,
                                 first * a.dy,
                                 first * a.xx + second * a.dx * a.dx,
                                 first * a.xy + second * a.dx * a.dy,
                                 first * a.yy + second * a.dy * a.dy};
}

static struct ww_expansion minus(struct ww_expansion a, struct ww_expansion b, double times)
{
    return (struct ww_expansion){a.value - times * b.value, a.dx - times * b.dx, a.dy - times * b.dy,
                                 a.xx - times * b.xx,       a.xy - times * b.xy, a.yy - times * b.yy};
}

struct ww_expansion ww_path_expand(const struct ww_path *path, double x, double y)
{
    double length = path->length;
    struct ww_expansion at = sum_at(path, path->first, x, y);
    if (path->second)
        return minus(delay_from_eps(at, length), delay_from_eps(sum_at(path, path->second, x, y), length), 1);
    double mean = creal(path->first[0]);
    if (path->scan->averaging == WW_FLIGHT) {
        at = minus((struct ww_expansion){0}, at, -length);
        at.value -= path->signal == WW_SKEW ? 0 : length * mean;
        return at;
    }
    at = delay_from_eps(at, length);
    at.value -= ww_scan_delay(path->scan, mean, length);
    return at;
}

/* Sum over the harmonics on the grid of positions, times `scale`, about a mean. Harmonics too short for the grid are left
 * out. */
static enum ww_status sum_map(const struct ww_path *path, const double _Complex *c, double scale, double mean,
                              double *value, struct ww_error *error)
{
    size_t n = path->scan->positions, row = n / 2 + 1;
    int most = (int)(n - 1) / 2;
    double _Complex *spectrum = calloc(n * row, sizeof *spectrum);
    if (!spectrum)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu by %zu", n, n);
    struct ww_stepper shift =
        ww_stepper_of(WW_PI / (double)n, WW_PI / (double)n); /* samples lie half a step from the origin */
    for (size_t w = 0; w < path->harmonics; w++) {
        int m = path->order[w].m, l = path->order[w].l;
        double _Complex shifted = scale * c[w] * ww_stepper_to(&shift, path->order[w]);
        if (m <= most && abs(l) <= most)
            spectrum[(size_t)(l < 0 ? l + (int)n : l) * row + (size_t)m] = shifted;
    }
    spectrum[0] = mean;
    enum ww_status status = ww_transform_inverse(spectrum, n, n, value, error);
    free(spectrum);
    return status;
}

enum ww_status ww_path_map(const struct ww_path *path, double *value, struct ww_error *error)
{
    const struct ww_scan *scan = path->scan;
    size_t samples = scan->positions * scan->positions;
    double length = path->length, mean = creal(path->first[0]), *second = NULL;
    if (scan->averaging == WW_FLIGHT)
        return sum_map(path, path->first, length, path->signal == WW_SKEW ? length * mean : 0, value, error);
    enum ww_status status = sum_map(path, path->first, 1, mean, value, error);
    if (path->second && !status) {
        second = calloc(samples, sizeof *second);
        status = second ? sum_map(path, path->second, 1, creal(path->second[0]), second, error)
                        : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu samples", samples);
    }
    for (size_t i = 0; i < samples && !status; i++)
        value[i] = ww_scan_delay(scan, value[i], length) - ww_scan_delay(scan, second ? second[i] : mean, length);
    free(second);
    return status;
}

enum ww_status ww_scan_map(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate estimate,
                           double length, struct ww_map *map, struct ww_error *error)
{
    memset(map, 0, sizeof *map);
    struct ww_path path;
    enum ww_status status = ww_path_init(&path, scan, index, signal, estimate, length, error);
    if (status)
        return status;
    status = ww_map_init(map, scan->positions, scan->positions, path.ply->lx, path.ply->ly, error);
    if (!status)
        status = ww_path_map(&path, map->value, error);
    ww_path_clear(&path);
    if (status)
        ww_map_clear(map);
    return status;
}

enum ww_status ww_scan_value(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate estimate,
                             double length, double x, double y, double *value, struct ww_error *error)
{
    *value = 0;
    struct ww_path path;
    enum ww_status status = ww_path_init(&path, scan, ply, signal, estimate, length, error);
    if (!status)
        *value = ww_path_expand(&path, x, y).value;
    ww_path_clear(&path);
    return status;
}

double ww_scan_average_at(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate e,
                          double length, double x, double y)
{
    const struct ww_ply_scan *ply = &scan->ply[index];
    double sum = 0;
    for (size_t w = 0; w < ply->harmonics; w++) {
        double _Complex c = signal == WW_LEG2 ? ply->coefficient[1][e][w] : ply->coefficient[0][e][w];
        if (signal == WW_SKEW)
            c -= ply->coefficient[1][e][w];
        double phase = 2 * WW_PI * (ply->order[w].m * x / ply->lx + ply->order[w].l * y / ply->ly);
        sum += (ply->order[w].m ? 2 : 1) * creal(c * ww_phasor(phase) * mean_along(ply, w, length));
    }
    return sum;
}

/* --- along the path ----------------------------------------------------------------------------------------------- */

/* What one ply adds at equal steps s = from + i step along one segment: to the local value of each leg, and to its integral
 * from where the leg begins. */
struct trail {
    double from, step, begin[2];
    size_t count;
    double *local[2], *integral[2];
};

#define STEPS_BETWEEN_SINES                                                                                          \
    64 /* the phasor is multiplied step by step, and computed anew so often: rounding stays at 1e-14 */

/* Integral of exp(i a s') over 0..s = (here - 1)/(i a), with here = exp(i a s). */
static double _Complex integral_of_phasor(double a, double s, double _Complex here)
{
    return fabs(a * s) < 1e-3 ? s * ww_phasor(0.5 * a * s) * ww_sinc(0.5 * a * s) : (here - 1) / (I * a);
}

static double _Complex integral_to(double a, double s)
{
    return integral_of_phasor(a, s, ww_phasor(a * s));
}

static void add_harmonic(const struct trail *trail, const struct ww_ply_scan *ply, size_t w, const double start[2],
                         size_t legs)
{
    double a = advance(ply, w);
    double phase = 2 * WW_PI * (ply->order[w].m * start[0] / ply->lx + ply->order[w].l * start[1] / ply->ly);
    double _Complex turn = ww_phasor(a * trail->step), here = 0, c[2] = {0}, begun[2] = {0};
    for (size_t leg = 0; leg < legs; leg++) {
        c[leg] = (ply->order[w].m ? 2 : 1) * ply->coefficient[leg][WW_MEAN][w] * ww_phasor(phase);
        begun[leg] = integral_to(a, trail->begin[leg]);
    }
    for (size_t i = 0; i < trail->count; i++) {
        double s = trail->from + (double)i * trail->step;
        here = i % STEPS_BETWEEN_SINES ? here * turn : ww_phasor(a * s);
        double _Complex integral = integral_of_phasor(a, s, here);
        for (size_t leg = 0; leg < legs; leg++) {
            trail->local[leg][i] += creal(c[leg] * here);
            trail->integral[leg][i] += creal(c[leg] * (integral - begun[leg]));
        }
    }
}

/* Integral of all harmonics but the mean over a leg's whole span of one segment. */
static double whole_span(const struct ww_ply_scan *ply, const double start[2], struct ww_leg_span span, size_t leg)
{
    double sum = 0;
    for (size_t w = 1; w < ply->harmonics; w++) {
        double a = advance(ply, w);
        double phase = 2 * WW_PI * (ply->order[w].m * start[0] / ply->lx + ply->order[w].l * start[1] / ply->ly);
        double _Complex integral = integral_to(a, span.start + span.length) - integral_to(a, span.start);
        sum += (ply->order[w].m ? 2 : 1) * creal(ply->coefficient[leg][WW_MEAN][w] * ww_phasor(phase) * integral);
    }
    return sum;
}

/* The running value of one ply: skew, or delay less its mean, from the mean and the integral of the other harmonics. */
static double running_value(const struct ww_scan *scan, const struct ww_ply_scan *ply, double s,
                            const double integral[2])
{
    double mean[2], average[2];
    if (!(s > 0))
        return 0;
    for (int leg = 0; leg < 2; leg++) {
        mean[leg] = creal(ply->coefficient[leg][WW_MEAN][0]);
        average[leg] = mean[leg] + integral[leg] / s;
    }
    if (scan->averaging == WW_FLIGHT)
        return integral[0] - (scan->pair ? integral[1] : 0) +
               (scan->pair && !scan->segments ? s * (mean[0] - mean[1]) : 0);
    return ww_scan_delay(scan, average[0], s) - ww_scan_delay(scan, scan->pair ? average[1] : mean[0], s);
}

/* The whole trail over one ply, segment by segment. `all` holds the local values so far, `sum` the running value. */
static void follow(const struct ww_scan *scan, size_t index, const double start[2], double route_length,
                   const struct trail *all, double *sum)
{
    size_t legs = scan->pair ? 2 : 1, next = 0;
    double done[2] = {0}, passed = 0, x = start[0], y = start[1];
    for (size_t j = 0; j < ww_scan_segments(scan) && next < all->count; j++) {
        struct ww_scan_segment of = ww_scan_segment_at(scan, j);
        const struct ww_ply_scan *ply = &of.scan->ply[index];
        double own = of.share * route_length, here[2] = {x, y};
        bool last = j + 1 == ww_scan_segments(scan);
        size_t first = next;
        while (next < all->count && (last || all->from + (double)next * all->step < passed + own))
            next++;
        struct trail trail = {
            .from = all->from + (double)first * all->step - passed, .step = all->step, .count = next - first};
        for (size_t leg = 0; leg < legs; leg++) {
            trail.begin[leg] = ww_leg_span(scan, &of, own, (int)leg).start;
            trail.local[leg] = all->local[leg] + first;
            trail.integral[leg] = all->integral[leg] + first;
        }
        for (size_t w = 1; w < ply->harmonics && trail.count; w++)
            add_harmonic(&trail, ply, w, here, legs);
        for (size_t i = first; i < next; i++) {
            double integral[2] = {all->integral[0][i] + done[0], all->integral[1][i] + done[1]};
            sum[i] += running_value(scan, ply, all->from + (double)i * all->step, integral);
            for (size_t leg = 0; leg < legs; leg++)
                all->local[leg][i] += creal(ply->coefficient[leg][WW_MEAN][0]) - of.scan->level[leg][WW_MEAN];
        }
        for (size_t leg = 0; leg < legs && !last; leg++)
            done[leg] += whole_span(ply, here, ww_leg_span(scan, &of, own, (int)leg), leg);
        passed += own;
        x += own * ply->ux;
        y += own * ply->uy;
    }
}

/* Before a ply is added: the sum of products of each two plies' changes so far, by what the next one changes (scan/coupling.c). */
static void add_products(double *product, const double *before, const double *after, size_t count)
{
    for (size_t i = 0; i < count; i++)
        product[i] += before[i] * (after[i] - before[i]);
}

/* Inter-ply coupling: off the local slowness, and off the running value, by the trapezoidal rule. */
static void couple(const struct ww_scan *scan, const struct trail *trail, const double *product, double *sum)
{
    for (size_t leg = 0; leg < (scan->pair ? 2 : 1); leg++) {
        double change = 0;
        for (size_t i = 0; i < trail->count; i++) {
            const double *at = product + leg * trail->count + i;
            double here = *at / scan->level[leg][WW_MEAN];
            if (i > 0)
                change += 0.5 * trail->step * (here + at[-1] / scan->level[leg][WW_MEAN]);
            trail->local[leg][i] -= here;
            sum[i] -= leg ? -change : change;
        }
    }
}

/* The level of a leg where the trail stands at s. */
static double level_at(const struct ww_scan *scan, double s, double route_length, size_t leg)
{
    double passed = 0;
    for (size_t j = 0; j + 1 < scan->segments; j++) {
        passed += scan->segment[j].share * route_length;
        if (s < passed)
            return scan->segment[j].scan->level[leg][WW_MEAN];
    }
    return scan->segments ? scan->segment[scan->segments - 1].scan->level[leg][WW_MEAN] : scan->level[leg][WW_MEAN];
}

enum ww_status ww_scan_profile(const struct ww_scan *scan, const double (*start)[2], double length, double from,
                               double to, size_t count, double *dk1, double *dk2, double *running,
                               struct ww_error *error)
{
    if (count < 2 || !(from >= 0) || !(to > from && to <= MOST_LENGTH))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "a profile takes two or more points over a stretch of [0, %g] m, not %zu from %g m to %g m", MOST_LENGTH,
            count, from, to);
    if (scan->segments && (scan->averaging != WW_FLIGHT || !(length > 0)))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "a profile along a route takes its length and time of flight");
    size_t legs = scan->pair ? 2 : 1;
    double *work = calloc(9 * count, sizeof *work);
    if (!work)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a profile of %zu points", count);
    struct trail trail = {.from = from, .step = (to - from) / (double)(count - 1), .count = count};
    trail.local[0] = work;
    trail.local[1] = work + count;
    trail.integral[0] = work + 2 * count;
    trail.integral[1] = work + 3 * count;
    double *sum = work + 4 * count, *before = work + 5 * count, *product = work + 7 * count; /* [leg][point] */
    for (size_t p = 0; p < scan->plies; p++) {
        memset(trail.integral[0], 0, 2 * count * sizeof *work);
        memcpy(before, trail.local[0], 2 * count * sizeof *before);
        follow(scan, p, start[p], length, &trail, sum);
        add_products(product, before, trail.local[0], 2 * count);
    }
    if (scan->averaging == WW_FLIGHT)
        couple(scan, &trail, product, sum);
    double *out[2] = {dk1, dk2};
    for (size_t leg = 0; leg < legs; leg++)
        for (size_t i = 0; i < count && out[leg]; i++) {
            double here = level_at(scan, from + (double)i * trail.step, length, leg) + trail.local[leg][i];
            out[leg][i] = scan->averaging == WW_FLIGHT ? pow(here * WW_C0, 2) : here;
        }
    memcpy(running, sum, count * sizeof *sum);
    free(work);
    return WW_OK;
}
