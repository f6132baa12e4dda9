/* cascade.c - the woven line as a cascade of short sections.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The telegrapher's equations of voltages and currents of both modes,
 *   dV/ds = -Z I,   dI/ds = -Y(s) V,   Z diagonal, Y = j omega [[C_ee, C_eo], [C_eo, C_oo]],
 * over a path cut into sections with the C of their middles. Where the legs differ, C_eo = (C_11 - C_22)/2 couples the modes.
 *
 * Z is the same all along, so that V over the root of Z h and I times it serve along a stretch of sections of one length h. Of a
 * section is left N = sqrt(Z h) Y h sqrt(Z h), symmetric. It is the T circuit of
 *   its parts in series  F = tanh(sqrt(N)/2)/sqrt(N) = 1/2 - N/24 + N^2/240 - 17 N^3/40320 + ..,
 *   its part across      S = sqrt(N) sinh(sqrt(N))   = N + N^2/6 + N^3/120 + N^4/5040 + ..,
 *   V <- V - F I,  I <- I - S V,  V <- V - F I,
 * exact for constant Y. The norm of N is below 0.025: five terms have all digits. The powers follow from N^(k+1) = t N^k - d N^(k-1)
 * (Cayley and Hamilton), t trace, d determinant. The chain is second order in h (tests/frequency), reciprocal, and lossless where
 * Z and Y are, at any h.
 *
 * C_oo and C_eo are those of the legs driven odd, with the residual correction, as delay has them. C_ee is the kernel's of the legs
 * driven even, its mean slowness moved to where the sections have the beat of the modes.
 *
 * At a bend, where bends count, the outer leg is longer by pitch tan(bend/2) than the centre line, and the inner one shorter: a section of that
 * length on one leg and of its negative on the other, by the odd mode of the mean line, which in modes is Z = z s, Y = y s with
 * s = [[0, 1], [1, 0]].
 *
 * From the chain, with voltages over the root of a port's z0 and currents times it, V = a + b, I = a - b near, I = b - a far:
 *   P, Q = A + C, B + D;  R, T = A - C, B - D;
 *   S_nn = -(R - T)^-1 (R + T),  S_nf = 2 (R - T)^-1,  S_fn = S_nf^T (reciprocal),  S_ff = (P - Q) S_nf/2.
 */
#include "frequency/wideband.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"

#define PER_PITCH 12      /* sections to a yarn pitch */
#define PER_WAVELENGTH 40 /* and to a wavelength: |M| h^2 is below 0.025 */
#define MOST_SECTIONS 1e6
#define FAINT 1e-5 /* of the largest harmonic of a leg: fainter ones are left out along the path */
#define MOST_POINTS 1000000

/* A stretch of sections of one length. After it, a bend. */
struct stretch {
    double from, to;
    size_t sections;
    double bend; /* length that leg 1 has more than the centre line [m] */
};

/* C along a path, [term][section] as relative permittivity over the air's of its mode; of WW_CROSS, over that of the odd mode. */
struct path {
    size_t stretches, sections;
    struct stretch *stretch;
    double *dk;     /* [WW_TERMS][sections] */
    double *weight; /* [groups][WW_TERMS][sections] */
    double mean[2]; /* of the two modes along this path */
};

static void path_clear(struct path *path)
{
    free(path->stretch);
    free(path->dk);
    free(path->weight);
}

/* --- C along a path ------------------------------------------------------------------------------------------------------- */

static enum ww_status cut(struct path *path, const struct ww_wideband *w, bool uniform, double top,
                          struct ww_error *error)
{
    double h = WW_C0 / (top * sqrt(fmax(w->mean[0], w->mean[1])) * PER_WAVELENGTH), passed = 0, sections = 0;
    for (size_t p = 0; p < w->odd->plies && !uniform; p++)
        h = fmin(h, 0.5 * fmin(w->odd->ply[p].lx, w->odd->ply[p].ly) / PER_PITCH);
    path->stretches = ww_scan_segments(w->odd);
    path->stretch = calloc(path->stretches, sizeof *path->stretch);
    if (!path->stretch)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", path->stretches);
    for (size_t i = 0; i < path->stretches; i++) {
        struct ww_scan_segment segment = ww_scan_segment_at(w->odd, i);
        double own = segment.share * w->length, count = fmax(ceil(own / h), 2);
        sections += count;
        if (!(sections <= MOST_SECTIONS))
            return ww_error_set(
                error, WW_INVALID, NULL, 0,
                "a line of %.4g m takes more than %g sections of %.3g um; give a shorter one, or a lower "
                "frequency",
                w->length, MOST_SECTIONS, h * 1e6);
        path->stretch[i] =
            (struct stretch){passed, passed + own, (size_t)count,
                             w->pair && w->odd->bends ? w->odd->pitch * tan(0.5 * segment.bend_out) : 0};
        passed += own;
    }
    path->sections = (size_t)sections;
    return WW_OK;
}

static double largest_of(const double _Complex *coefficient, size_t harmonics)
{
    double most = 0;
    for (size_t h = 1; h < harmonics; h++)
        most = fmax(most, cabs(coefficient[h]));
    return most;
}

/* Adds 2 Re or Re of c exp(i k.r) along a stretch, k.r = phase at the first middle, advancing by `turn`; in lanes that do not wait
 * for one another. */
static void add_harmonic(double *slowness, size_t count, double _Complex c, double phase, double turn)
{
    enum { LANES = 8 };
    double re[LANES], im[LANES], cosine = cos(LANES * turn), sine = sin(LANES * turn);
    for (int lane = 0; lane < LANES; lane++) {
        double co = cos(phase + lane * turn), si = sin(phase + lane * turn);
        re[lane] = creal(c) * co - cimag(c) * si;
        im[lane] = creal(c) * si + cimag(c) * co;
    }
    size_t i = 0;
    for (; i + LANES <= count; i += LANES)
        for (int lane = 0; lane < LANES; lane++) {
            slowness[i + (size_t)lane] += re[lane];
            double next = re[lane] * cosine - im[lane] * sine;
            im[lane] = re[lane] * sine + im[lane] * cosine;
            re[lane] = next;
        }
    for (int lane = 0; i < count; i++, lane++)
        slowness[i] += re[lane];
}

/* The slowness of a leg over one ply, less its level, along a stretch that starts at r0 of the ply's frame. */
static void add_ply(double *slowness, const struct stretch *of, const struct ww_ply_scan *ply, int leg, double level,
                    const double r0[2])
{
    const double _Complex *c = ply->coefficient[leg][WW_MEAN];
    double h = (of->to - of->from) / (double)of->sections, least = FAINT * largest_of(c, ply->harmonics);
    for (size_t i = 0; i < of->sections; i++)
        slowness[i] += creal(c[0]) - level;
    for (size_t w = 1; w < ply->harmonics; w++) {
        if (cabs(c[w]) < least)
            continue;
        double kx = 2 * WW_PI * ply->order[w].m / ply->lx, ky = 2 * WW_PI * ply->order[w].l / ply->ly;
        double along = kx * ply->ux + ky * ply->uy;
        add_harmonic(slowness, of->sections, ply->order[w].m ? 2 * c[w] : c[w],
                     kx * r0[0] + ky * r0[1] + 0.5 * along * h, along * h);
    }
}

/* Dk of a leg at the middles of all sections. */
static void follow(const struct path *path, const struct ww_scan *scan, const double (*start)[2], int leg, double *dk)
{
    double *at = dk;
    memset(dk, 0, path->sections * sizeof *dk);
    for (size_t i = 0; i < path->stretches; i++) {
        struct ww_scan_segment segment = ww_scan_segment_at(scan, i);
        for (size_t k = 0; k < path->stretch[i].sections; k++)
            at[k] = segment.scan->level[leg][WW_MEAN];
        at += path->stretch[i].sections;
    }
    for (size_t p = 0; p < scan->plies; p++) {
        double r[2] = {start[p][0], start[p][1]};
        at = dk;
        for (size_t i = 0; i < path->stretches; i++) {
            const struct stretch *of = &path->stretch[i];
            const struct ww_scan *here = ww_scan_segment_at(scan, i).scan;
            add_ply(at, of, &here->ply[p], leg, here->level[leg][WW_MEAN], r);
            r[0] += (of->to - of->from) * here->ply[p].ux;
            r[1] += (of->to - of->from) * here->ply[p].uy;
            at += of->sections;
        }
    }
    for (size_t i = 0; i < path->sections; i++)
        dk[i] = pow(WW_C0 * dk[i], 2);
}

/* Fills the three terms from the scans of both modes. work: [2][sections]. */
static void lay_terms(double *terms, double *work, const struct path *path, const struct ww_scan *odd,
                      const struct ww_scan *even, const double (*start)[2])
{
    size_t n = path->sections;
    double *dk1 = work, *dk2 = even ? work + n : work;
    follow(path, odd, start, 0, dk1);
    if (even)
        follow(path, odd, start, 1, dk2);
    for (size_t i = 0; i < n; i++) {
        terms[WW_ODD_MODE * n + i] = terms[WW_EVEN_MODE * n + i] = 0.5 * (dk1[i] + dk2[i]);
        terms[WW_CROSS * n + i] = 0.5 * (dk1[i] - dk2[i]);
    }
    if (!even)
        return;
    follow(path, even, start, 0, dk1);
    follow(path, even, start, 1, dk2);
    for (size_t i = 0; i < n; i++)
        terms[WW_EVEN_MODE * n + i] = 0.5 * (dk1[i] + dk2[i]);
}

/* Moves the even mode's slowness by what its mean over all placements is off. */
static void move_even(double *dk, size_t n, const struct ww_wideband *w)
{
    double apart = sqrt(w->mean[WW_EVEN_MODE]) - WW_C0 * ww_scan_mean_delay(w->even, WW_LEG1, 1);
    for (size_t i = 0; i < n; i++) {
        double root = sqrt(dk[WW_EVEN_MODE * n + i]) + apart;
        dk[WW_EVEN_MODE * n + i] = root * root;
    }
}

/* The mean line: one term for each mode, everywhere. */
static void lay_mean(struct path *path, const struct ww_wideband *w)
{
    size_t n = path->sections;
    for (int term = 0; term < WW_TERMS; term++)
        for (size_t i = 0; i < n; i++) {
            path->dk[(size_t)term * n + i] = term == WW_CROSS ? 0 : w->mean[term];
            for (size_t g = 0; g < w->groups; g++)
                path->weight[(g * WW_TERMS + (size_t)term) * n + i] = term == WW_CROSS ? 0 : w->weight[g][term];
        }
    path->mean[0] = w->mean[0];
    path->mean[1] = w->mean[1];
}

static enum ww_status lay_path(struct path *path, const struct ww_wideband *w, const double (*start)[2], double top,
                               struct ww_error *error)
{
    enum ww_status status = cut(path, w, !start, top, error);
    size_t n = path->sections, terms = WW_TERMS * n;
    double *work = status ? NULL : malloc((terms + 2 * n) * sizeof *work);
    path->dk = status ? NULL : malloc(terms * sizeof *path->dk);
    path->weight = status ? NULL : malloc((w->groups + 1) * terms * sizeof *path->weight);
    if (!status && (!work || !path->dk || !path->weight))
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", n);
    if (!status && !start) {
        lay_mean(path, w);
        goto done;
    }
    if (status)
        goto done;
    lay_terms(path->dk, work, path, w->odd, w->even, start);
    if (w->pair)
        move_even(path->dk, n, w);
    for (size_t g = 0; g < w->groups; g++) {
        const struct ww_moved *of = w->moved[g];
        double *lower = work + 2 * n, *weight = path->weight + g * terms;
        lay_terms(lower, work, path, of[0].odd, of[0].even, start);
        lay_terms(weight, work, path, of[1].odd, of[1].even, start);
        for (size_t i = 0; i < terms; i++)
            weight[i] = (weight[i] - lower[i]) / log((1 + WW_MOVE) / (1 - WW_MOVE));
    }
    for (int mode = 0; mode < 2; mode++) {
        double sum = 0;
        for (size_t i = 0; i < n; i++)
            sum += path->dk[(size_t)mode * n + i];
        path->mean[mode] = sum / (double)n;
    }
done:
    free(work);
    return status;
}

/* --- 2 by 2 and 4 by 4 ------------------------------------------------------------------------------------------------------ */

struct two {
    double _Complex a, b, c, d; /* [[a, b], [c, d]] */
};

/* The product of finite numbers, without the checks for others that take most of the time of C's own. */
static inline double _Complex mul(double _Complex x, double _Complex y)
{
    return (creal(x) * creal(y) - cimag(x) * cimag(y)) + I * (creal(x) * cimag(y) + cimag(x) * creal(y));
}

static inline struct two times(struct two x, struct two y)
{
    return (struct two){mul(x.a, y.a) + mul(x.b, y.c), mul(x.a, y.b) + mul(x.b, y.d), mul(x.c, y.a) + mul(x.d, y.c),
                        mul(x.c, y.b) + mul(x.d, y.d)};
}

static inline struct two plus(struct two x, double factor, struct two y)
{
    return (struct two){x.a + factor * y.a, x.b + factor * y.b, x.c + factor * y.c, x.d + factor * y.d};
}

static inline struct two scaled(double factor, struct two x)
{
    return (struct two){factor * x.a, factor * x.b, factor * x.c, factor * x.d};
}

static inline struct two turned(struct two x)
{
    return (struct two){x.a, x.c, x.b, x.d};
}

static inline struct two inverse(struct two x)
{
    double _Complex determinant = x.a * x.d - x.b * x.c;
    return (struct two){x.d / determinant, -x.b / determinant, -x.c / determinant, x.a / determinant};
}

/* (V, I) at the end from those at the beginning. */
struct chain {
    struct two a, b, c, d;
};

static inline struct chain after(struct chain x, struct chain y)
{
    return (struct chain){plus(times(x.a, y.a), 1, times(x.b, y.c)), plus(times(x.a, y.b), 1, times(x.b, y.d)),
                          plus(times(x.c, y.a), 1, times(x.d, y.c)), plus(times(x.c, y.b), 1, times(x.d, y.d))};
}

/* The excess of the legs at a bend: z, y of the odd mode times its length. */
static struct chain bend(double _Complex z, double _Complex y)
{
    double _Complex gamma = csqrt(z * y), c = ccosh(gamma), s = z == 0 ? 1 : csinh(gamma) / gamma;
    return (struct chain){{c, 0, 0, c}, {0, -z * s, -z * s, 0}, {0, -y * s, -y * s, 0}, {c, 0, 0, c}};
}

/* --- one frequency --------------------------------------------------------------------------------------------------------- */

/* A symmetric matrix [[a, b], [b, d]]. */
struct symmetric {
    double _Complex a, b, d;
};

/* N of the sections, linear in what stands along the path: constant + dk slope + sum of weight[g] moved[g]. */
struct entry {
    double _Complex constant, slope, *moved; /* moved: [groups] */
};

/* C of one term relative to the air's, with the changes of the materials, times `scale`. */
static void lay_entry(struct entry *entry, const struct path *path, const struct ww_at *at,
                      const double _Complex *change, size_t groups, int term, double _Complex scale)
{
    int mode = term == WW_EVEN_MODE ? WW_EVEN_MODE : WW_ODD_MODE;
    double mean = term == WW_CROSS ? 0 : path->mean[mode],
           factor = term == WW_CROSS ? at->change[mode] : at->mean[mode];
    entry->constant = scale * ((at->mean[mode] - at->change[mode]) * mean);
    entry->slope = scale * at->change[mode];
    for (size_t g = 0; g < groups; g++)
        entry->moved[g] = mul(scale * factor, change[g]);
}

static inline double _Complex entry_at(const struct entry *entry, const struct path *path, size_t groups, int term,
                                       size_t i)
{
    size_t n = path->sections, place = (size_t)term * n + i;
    double _Complex sum = entry->constant + path->dk[place] * entry->slope; /* real by complex */
    for (size_t g = 0; g < groups; g++)
        sum += path->weight[g * WW_TERMS * n + place] * entry->moved[g];
    return sum;
}

/* F and S of one section. */
static inline void t_circuit(struct symmetric n, struct symmetric *series, struct symmetric *across)
{
    static const double f[6] = {1 / 2.0, -1 / 24.0, 1 / 240.0, -17 / 40320.0, 31 / 725760.0, -691 / 159667200.0};
    static const double s[6] = {0, 1, 1 / 6.0, 1 / 120.0, 1 / 5040.0, 1 / 362880.0};
    double _Complex t = n.a + n.d, d = mul(n.a, n.d) - mul(n.b, n.b);
    double _Complex power = 1, before = 0; /* N^k = power N - d before */
    double _Complex of_f = f[1], of_s = s[1], below_f = 0, below_s = 0;
    for (int k = 2; k < 6; k++) {
        double _Complex next = mul(t, power) - mul(d, before);
        before = power;
        power = next;
        of_f += f[k] * power;
        of_s += s[k] * power;
        below_f += f[k] * before;
        below_s += s[k] * before;
    }
    below_f = f[0] - mul(d, below_f);
    below_s = s[0] - mul(d, below_s);
    *series = (struct symmetric){mul(of_f, n.a) + below_f, mul(of_f, n.b), mul(of_f, n.d) + below_f};
    *across = (struct symmetric){mul(of_s, n.a) + below_s, mul(of_s, n.b), mul(of_s, n.d) + below_s};
}

/* V or I of both modes at one place, for V and I of both at the beginning: real and imaginary parts apart. */
struct rows {
    double re[2][4], im[2][4];
};

/* to <- to - m of */
static inline void subtract(struct rows *to, struct symmetric m, const struct rows *of)
{
    const double are = creal(m.a), aim = cimag(m.a), bre = creal(m.b), bim = cimag(m.b), dre = creal(m.d),
                 dim = cimag(m.d);
    for (int j = 0; j < 4; j++) {
        double x = of->re[0][j], xi = of->im[0][j], y = of->re[1][j], yi = of->im[1][j];
        to->re[0][j] -= are * x - aim * xi + bre * y - bim * yi;
        to->im[0][j] -= are * xi + aim * x + bre * yi + bim * y;
        to->re[1][j] -= bre * x - bim * xi + dre * y - dim * yi;
        to->im[1][j] -= bre * xi + bim * x + dre * yi + dim * y;
    }
}

static struct rows rows_of(struct two left, struct two right, const double _Complex scale[2])
{
    const double _Complex row[2][4] = {{left.a, left.b, right.a, right.b}, {left.c, left.d, right.c, right.d}};
    struct rows rows;
    for (int mode = 0; mode < 2; mode++)
        for (int j = 0; j < 4; j++) {
            double _Complex value = row[mode][j] * scale[mode];
            rows.re[mode][j] = creal(value);
            rows.im[mode][j] = cimag(value);
        }
    return rows;
}

static void rows_to(const struct rows *rows, const double _Complex scale[2], struct two *left, struct two *right)
{
    double _Complex row[2][4];
    for (int mode = 0; mode < 2; mode++)
        for (int j = 0; j < 4; j++)
            row[mode][j] = (rows->re[mode][j] + I * rows->im[mode][j]) / scale[mode];
    *left = (struct two){row[0][0], row[0][1], row[1][0], row[1][1]};
    *right = (struct two){row[0][2], row[0][3], row[1][2], row[1][3]};
}

/* The chain through the sections of one stretch, from section `first` on. */
static struct chain through(struct chain all, const struct ww_wideband *w, const struct path *path,
                            const struct stretch *of, size_t first, const struct ww_at *at,
                            const double _Complex *change, double _Complex *work)
{
    double h = (of->to - of->from) / (double)of->sections;
    double _Complex root[2] = {csqrt(h * at->series[0]), csqrt(h * at->series[1])};
    double _Complex back[2] = {1 / root[0], 1 / root[1]};
    double _Complex even = I * at->omega * w->air[WW_EVEN_MODE] * h, odd = I * at->omega * w->air[WW_ODD_MODE] * h;
    struct entry entry[WW_TERMS] = {{.moved = work}, {.moved = work + w->groups}, {.moved = work + 2 * w->groups}};
    lay_entry(&entry[WW_EVEN_MODE], path, at, change, w->groups, WW_EVEN_MODE, root[0] * root[0] * even);
    lay_entry(&entry[WW_ODD_MODE], path, at, change, w->groups, WW_ODD_MODE, root[1] * root[1] * odd);
    lay_entry(&entry[WW_CROSS], path, at, change, w->groups, WW_CROSS, root[0] * root[1] * odd);
    struct rows v = rows_of(all.a, all.b, back), i = rows_of(all.c, all.d, root);
    struct symmetric pending = {0}; /* F of the section before */
    for (size_t k = first; k < first + of->sections; k++) {
        struct symmetric n = {.a = entry_at(&entry[WW_EVEN_MODE], path, w->groups, WW_EVEN_MODE, k)}, series, across;
        n.b = w->pair ? entry_at(&entry[WW_CROSS], path, w->groups, WW_CROSS, k) : 0;
        n.d = w->pair ? entry_at(&entry[WW_ODD_MODE], path, w->groups, WW_ODD_MODE, k) : n.a;
        t_circuit(n, &series, &across);
        subtract(&v, (struct symmetric){pending.a + series.a, pending.b + series.b, pending.d + series.d}, &i);
        subtract(&i, across, &v);
        pending = series;
    }
    subtract(&v, pending, &i);
    rows_to(&v, back, &all.a, &all.b);
    rows_to(&i, root, &all.c, &all.d);
    return all;
}

static struct chain chain_at(const struct ww_wideband *w, const struct path *path, const struct ww_at *at,
                             const double _Complex *change, double _Complex *work)
{
    static const struct chain none = {{1, 0, 0, 1}, {0, 0, 0, 0}, {0, 0, 0, 0}, {1, 0, 0, 1}};
    struct chain all = none;
    size_t first = 0;
    for (size_t s = 0; s < path->stretches; s++) {
        const struct stretch *of = &path->stretch[s];
        all = through(all, w, path, of, first, at, change, work);
        first += of->sections;
        if (of->bend != 0 && s + 1 < path->stretches) {
            double _Complex dk = w->mean[WW_ODD_MODE];
            for (size_t g = 0; g < w->groups; g++)
                dk += w->weight[g][WW_ODD_MODE] * change[g];
            all = after(bend(of->bend * at->series[WW_ODD_MODE],
                             I * at->omega * w->air[WW_ODD_MODE] * of->bend * dk * at->mean[WW_ODD_MODE]),
                        all);
        }
    }
    return all;
}

/* Scattering of a chain between ports of z0 of each mode, blocks near-near, near-far, far-near, far-far. */
static void scatter(struct chain f, const double z0[2], struct two s[4])
{
    double r[2] = {sqrt(z0[0]), sqrt(z0[1])};
    struct two a = {f.a.a, f.a.b * r[1] / r[0], f.a.c * r[0] / r[1], f.a.d};
    struct two b = {f.b.a / (r[0] * r[0]), f.b.b / (r[0] * r[1]), f.b.c / (r[0] * r[1]), f.b.d / (r[1] * r[1])};
    struct two c = {f.c.a * r[0] * r[0], f.c.b * r[0] * r[1], f.c.c * r[0] * r[1], f.c.d * r[1] * r[1]};
    struct two d = {f.d.a, f.d.b * r[0] / r[1], f.d.c * r[1] / r[0], f.d.d};
    struct two p = plus(a, 1, c), q = plus(b, 1, d), u = plus(a, -1, c), t = plus(b, -1, d);
    struct two back = inverse(plus(u, -1, t));
    s[0] = scaled(-1, times(back, plus(u, 1, t)));
    s[1] = scaled(2, back);
    s[2] = turned(s[1]);
    s[3] = scaled(0.5, times(plus(p, -1, q), s[1]));
}

/* Modes to legs, both sides of a block: T x T with T = [[1, 1], [1, -1]]/sqrt 2. */
static struct two to_legs(struct two x)
{
    return (struct two){0.5 * (x.a + x.b + x.c + x.d), 0.5 * (x.a - x.b + x.c - x.d), 0.5 * (x.a + x.b - x.c - x.d),
                        0.5 * (x.a - x.b - x.c + x.d)};
}

static void store(double _Complex *s, const struct two block[4], bool pair)
{
    for (size_t side = 0; side < 4; side++) {
        size_t row = side / 2, column = side % 2;
        if (!pair) {
            s[row * 2 + column] = block[side].a;
            continue;
        }
        double _Complex *to = s + row * 8 + column * 2;
        to[0] = block[side].a;
        to[1] = block[side].b;
        to[4] = block[side].c;
        to[5] = block[side].d;
    }
}

/* --- all frequencies ------------------------------------------------------------------------------------------------------- */

static enum ww_status check_frequencies(const double *frequency, size_t count, struct ww_error *error)
{
    if (count == 0 || count > MOST_POINTS)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu frequencies; give 1 to %d", count, MOST_POINTS);
    for (size_t i = 0; i < count; i++) {
        if (!(frequency[i] >= WW_DEBYE_LEAST && frequency[i] <= WW_DEBYE_MOST))
            return ww_error_set(error, WW_INVALID, NULL, 0,
                                "%.6g Hz is outside the law of the materials, 10 kHz to 1 THz", frequency[i]);
        if (i > 0 && !(frequency[i] > frequency[i - 1]))
            return ww_error_set(error, WW_INVALID, NULL, 0, "frequencies do not ascend at %.6g Hz", frequency[i]);
    }
    return WW_OK;
}

/* work: [1 + WW_TERMS][groups] */
static void solve_one(const struct ww_wideband *w, const struct path *path, double f, double _Complex *work,
                      const double *z0, double _Complex *s)
{
    static const double legs[2] = {50, 50};
    struct two block[4];
    struct ww_at at = ww_wideband_at(w, f, false, true);
    for (size_t g = 0; g < w->groups; g++)
        work[g] = ww_group_change(w, g, f);
    scatter(chain_at(w, path, &at, work, work + w->groups), z0 ? z0 : legs, block);
    for (size_t i = 0; i < 4 && w->pair && !z0; i++)
        block[i] = to_legs(block[i]);
    store(s, block, w->pair);
}

/* z0: of the ports of both modes; NULL: 50 ohm of every leg. */
static enum ww_status solve_path(const struct ww_wideband *w, const struct path *path, const double *frequency,
                                 size_t count, const double *z0, struct ww_network *network, struct ww_error *error)
{
    size_t ports = w->pair ? 4 : 2, each = ports * ports;
    *network = (struct ww_network){.ports = ports, .count = count, .z0 = 50};
    enum ww_status status = WW_OK;
    size_t room = (1 + WW_TERMS) * w->groups + 1;
    double _Complex *work = malloc(count * room * sizeof *work);
    network->frequency = malloc(count * sizeof *frequency);
    network->s = malloc(count * each * sizeof *network->s);
    if (!work || !network->frequency || !network->s)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu frequencies", count);
    if (!status) {
        memcpy(network->frequency, frequency, count * sizeof *frequency);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(200 * count * path->sections)) schedule(static)
#endif
        for (size_t i = 0; i < count; i++)
            solve_one(w, path, frequency[i], work + i * room, z0, network->s + i * each);
    }
    free(work);
    if (status)
        ww_network_clear(network);
    return status;
}

/* Attenuation of the odd mode by the dielectric, from the mean of C along the path. */
static double dielectric_of(const struct ww_wideband *w, const struct path *path, double frequency)
{
    struct ww_at at = ww_wideband_at(w, frequency, true, false);
    double _Complex dk = path->mean[WW_ODD_MODE];
    for (size_t g = 0; g < w->groups; g++) {
        const double *weight = path->weight + (g * WW_TERMS + WW_ODD_MODE) * path->sections;
        double sum = 0;
        for (size_t i = 0; i < path->sections; i++)
            sum += weight[i];
        dk += sum / (double)path->sections * ww_group_change(w, g, frequency);
    }
    double _Complex y = I * at.omega * w->air[WW_ODD_MODE] * at.mean[WW_ODD_MODE] * dk;
    return creal(csqrt(at.series[WW_ODD_MODE] * y));
}

static enum ww_status solve(const struct ww_wideband *w, const double (*start)[2], const double *frequency,
                            size_t count, const double *z0, struct ww_network *network, struct ww_error *error)
{
    struct path path = {0};
    *network = (struct ww_network){0};
    enum ww_status status = check_frequencies(frequency, count, error);
    if (!status)
        status = lay_path(&path, w, start, frequency[count - 1], error);
    if (!status)
        status = solve_path(w, &path, frequency, count, z0, network, error);
    path_clear(&path);
    return status;
}

enum ww_status ww_wideband_solve(const struct ww_wideband *w, const double (*start)[2], const double *frequency,
                                 size_t count, struct ww_network *network, struct ww_error *error)
{
    return solve(w, start, frequency, count, NULL, network, error);
}

enum ww_status ww_wideband_solve_modes(const struct ww_wideband *w, const double (*start)[2], const double *frequency,
                                       size_t count, struct ww_network *network, struct ww_error *error)
{
    double z0[2];
    for (int mode = 0; mode < 2; mode++)
        z0[mode] = 1 / (WW_C0 * w->air[mode] * sqrt(w->mean[mode]));
    return solve(w, start, frequency, count, z0, network, error);
}

enum ww_status ww_wideband_solve_with_loss(const struct ww_wideband *w, const double (*start)[2],
                                           const double *frequency, size_t count, struct ww_network *network,
                                           double at, double *attenuation, struct ww_error *error)
{
    struct path path = {0};
    *network = (struct ww_network){0};
    *attenuation = 0;
    enum ww_status status = check_frequencies(frequency, count, error);
    if (!status && at > 0)
        status = check_frequencies(&at, 1, error);
    if (!status)
        status = lay_path(&path, w, start, fmax(frequency[count - 1], at), error);
    if (!status)
        status = solve_path(w, &path, frequency, count, NULL, network, error);
    if (!status && at > 0)
        *attenuation = dielectric_of(w, &path, at);
    path_clear(&path);
    return status;
}

enum ww_status ww_wideband_dielectric(const struct ww_wideband *w, const double (*start)[2], double frequency,
                                      double *attenuation, struct ww_error *error)
{
    struct path path = {0};
    *attenuation = 0;
    enum ww_status status = check_frequencies(&frequency, 1, error);
    if (!status)
        status = lay_path(&path, w, start, frequency, error);
    if (!status)
        *attenuation = dielectric_of(w, &path, frequency);
    path_clear(&path);
    return status;
}
