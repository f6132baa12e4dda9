/* conversion.c - how much of a pair's odd mode arrives as even mode.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A symmetrical pair has two modes, even (impedance Ze, phase constant beta_e) and odd (Zo, beta_o), here normalised to power.
 * Where the cloth makes the legs differ, C11 - C22 = 2 C_eo, it couples them: to first order in the cloth
 *   a_o' = -i kappa exp(-i b s) a_e,   a_e' = -i kappa exp(i b s) a_o,   b = beta_e - beta_o,
 *   kappa = (omega/2) sqrt(Ze Zo) C_eo = (omega/2) sqrt(Ze/Zo) dS,   dS = C_eo Zo = S_1 - S_2,
 * dS the difference of the legs' slowness with the pair driven odd. (Coupled-mode theory: textbooks of microwave engineering;
 * derived here from the telegrapher's equations, tests/outside/conversion.py.) Both ends are matched to both modes; what
 * travels back is left out.
 *
 * At a bend the outer leg is longer. A length l more of leg 1 and less of leg 2 is a section with Z_eo = Z_oo l and Y_eo = Y_oo l:
 * it rotates the modes by (1/2) (Z_eo/sqrt(Ze Zo) + Y_eo sqrt(Ze Zo)), which is coupling times its skew times (1 + Zo/Ze)/2.
 *
 * Weak coupling: a_e = -i coupling F, F = integral of dS exp(i b s) ds, from all starts at once (scan/beat.c), on a map of 64
 * by 64 starts for each ply. Plies add, each with its own registration. The largest |sum of F_p| is
 *   max over phi of sum over plies of max over starts of Re(exp(-i phi) F_p):
 * in one direction phi of the complex plane the plies do not hinder one another. So a few directions are searched, and the
 * best is refined.
 *
 * Strong coupling: once any start can reach WEAK radians anywhere along the path, the equations are solved in steps. A step is
 * a rotation by f = coupling times its own F, exact in kappa's course and but for the order of what happens within the step.
 * They start at the first order's worst places, one for each direction, and at placements of an additive recurrence over all
 * plies' cells. With constant kappa this is the closed form kappa/W sin(W L), W = sqrt(kappa^2 + (b/2)^2).
 */
#include "chance/conversion.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "correct/correction.h"
#include "line/line.h"
#include "scan/extremes.h"

#define WEAK 0.2        /* [rad] first order is good to WEAK^2/6 of the amplitude, 0.06 dB */
#define STEP_ERROR 1e-3 /* [rad] of the whole path, by the order of what happens within the steps */
#define LEAST_STEPS 8
#define MOST_STEPS 4096

enum {
    POSITIONS = 64,       /* starts across a map */
    SIDE = POSITIONS + 3, /* with the rows and columns beside, for interpolation */
    HALF = POSITIONS * (POSITIONS / 2 + 1),
    SAMPLES = POSITIONS * POSITIONS,
    DIRECTIONS = 16,             /* of phi over half a turn */
    PLACEMENTS = 4096,           /* weak: for the chances */
    STRONG_PLACEMENTS = 512,     /* strong: for the chances */
    FEW_PLACEMENTS = 64,         /* strong, where only the worst is asked */
    STARTS = 2 * DIRECTIONS + 1, /* first order's worst places */
    CLIMBS = 6,                  /* rounds */
    BINS = 2048
};

/* Mean over the path of the slowness of the even mode less that of the odd one, beyond the background [s/m]. */
static double slowness_apart(const struct ww_line *line, const struct ww_skew_request *request, double angle)
{
    double sum = 0, length = 0;
    for (size_t i = 0; i < (request->segments ? request->segments : 1); i++) {
        double own = request->segments ? request->route[i].length : 1;
        double turn = request->segments ? request->route[i].angle : 0;
        sum += own * ww_correction_modes_apart(request->correction, line->stack, angle + turn);
        length += own;
    }
    return sum / length;
}

struct ww_modes ww_modes_of(const struct ww_line *line, const struct ww_skew_request *request, double angle)
{
    const struct ww_line_summary *summary = &line->summary;
    double omega = 2 * WW_PI * ww_conversion_frequency(request);
    if (!line->mesh.pair || !(omega > 0))
        return (struct ww_modes){0};
    double background = (sqrt(summary->dk_even) - sqrt(summary->dk_odd)) / WW_C0;
    return (struct ww_modes){.beat = omega * (background + slowness_apart(line, request, angle)),
                             .coupling = 0.5 * omega * sqrt(summary->z_even / summary->z_odd),
                             .excess = 0.5 * (1 + summary->z_odd / summary->z_even)};
}

/* The cloth feeds the even mode with a current i = omega C_eo V_odd per length. A line matched on both sides carries i Ze/2 to its
 * end; one whose ends have Zo, i Zo/2 where it is short, and i Ze/2 (1 + (Zo - Ze)/(Zo + Ze)) in one passage where it is long.
 * The skew is the same with Ze = Zo. */
void ww_skew_received(const struct ww_line_summary *line, double *modes, double *legs)
{
    bool pair = line->z_odd > 0;
    *modes = pair ? line->z_even / line->z_odd : 0;
    *legs = pair ? 2 * line->z_even / (line->z_even + line->z_odd) : 0;
}

double ww_decibels(double amplitude)
{
    return 20 * log10(amplitude);
}

double ww_from_decibels(double decibels)
{
    return pow(10, 0.05 * decibels);
}

double ww_conversion_frequency(const struct ww_skew_request *request)
{
    return request->rate > 0 ? 0.5 * request->rate : request->frequency;
}

/* G + iH over the starts of one ply, with a row and column before the first and two after the last. */
struct map {
    double _Complex at[SIDE * SIDE];
};

struct ww_converter {
    size_t plies, segments;
    struct ww_beat_segment *segment; /* [ply][segment] */
    double _Complex *cosine, *sine;  /* [HALF] */
    double *g, *h;                   /* [ply][SAMPLES] of the whole path */
    double *real, *imaginary;        /* [SAMPLES] of a step */
    double *projection;              /* [SAMPLES] */
    struct map *step;                /* [ply] */
    size_t *rows;                    /* [ply] of the map that hold every value */
    double *start;                   /* [STARTS + STRONG_PLACEMENTS][ply][2] in samples of the map */
    double _Complex *odd, *even;     /* [STARTS + STRONG_PLACEMENTS] */
    double *amplitude;               /* [PLACEMENTS] */
};

void ww_converter_destroy(struct ww_converter *c)
{
    if (!c)
        return;
    free(c->segment);
    free(c->cosine);
    free(c->g);
    free(c->step);
    free(c->rows);
    free(c->start);
    free(c->odd);
    free(c->amplitude);
    free(c);
}

enum ww_status ww_converter_create(struct ww_converter **out, size_t plies, size_t segments, struct ww_error *error)
{
    enum { MOST_STARTS = STARTS + STRONG_PLACEMENTS };
    *out = NULL;
    struct ww_converter *c = calloc(1, sizeof *c);
    if (c) {
        c->plies = plies;
        c->segments = segments;
        c->segment = calloc(plies * segments + 1, sizeof *c->segment);
        c->cosine = calloc((size_t)2 * HALF, sizeof *c->cosine);
        c->g = calloc((2 * plies + 3) * SAMPLES, sizeof *c->g);
        c->step = calloc(plies + 1, sizeof *c->step);
        c->rows = calloc(plies + 1, sizeof *c->rows);
        c->start = calloc(2 * plies * MOST_STARTS + 1, sizeof *c->start);
        c->odd = calloc((size_t)2 * MOST_STARTS, sizeof *c->odd);
        c->amplitude = calloc(PLACEMENTS, sizeof *c->amplitude);
    }
    if (!c || !c->segment || !c->cosine || !c->g || !c->step || !c->rows || !c->start || !c->odd || !c->amplitude) {
        ww_converter_destroy(c);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the modes over %zu plies", plies);
    }
    c->sine = c->cosine + HALF;
    c->h = c->g + plies * SAMPLES;
    c->real = c->h + plies * SAMPLES;
    c->imaginary = c->real + SAMPLES;
    c->projection = c->imaginary + SAMPLES;
    c->even = c->odd + MOST_STARTS;
    *out = c;
    return WW_OK;
}

struct ww_beat_segment *ww_converter_segments(struct ww_converter *converter)
{
    return converter->segment;
}

/* --- maps ------------------------------------------------------------------------------------------------------------------ */

static void fill_map(struct map *map, const double *g, const double *h)
{
    for (size_t iy = 0; iy < SIDE; iy++) {
        size_t y = (iy + POSITIONS - 1) % POSITIONS;
        for (size_t ix = 0; ix < SIDE; ix++) {
            size_t x = (ix + POSITIONS - 1) % POSITIONS;
            map->at[iy * SIDE + ix] = g[y * POSITIONS + x] + I * h[y * POSITIONS + x];
        }
    }
}

/* Weights of the four samples about a place, by the cubic through them with their slopes (Catmull and Rom). */
static inline void cubic(double t, double weight[4])
{
    weight[0] = t * (-0.5 + t * (1 - 0.5 * t));
    weight[1] = 1 + t * t * (-2.5 + 1.5 * t);
    weight[2] = t * (0.5 + t * (2 - 1.5 * t));
    weight[3] = t * t * (-0.5 + 0.5 * t);
}

/* At (x, y) in samples, anywhere. */
static inline double _Complex value_at(const struct map *map, double x, double y)
{
    double wx[4], wy[4];
    x -= POSITIONS * floor(x / POSITIONS);
    y -= POSITIONS * floor(y / POSITIONS);
    size_t ix = (size_t)x, iy = (size_t)y;
    ix = ix < POSITIONS ? ix : POSITIONS - 1;
    iy = iy < POSITIONS ? iy : POSITIONS - 1;
    cubic(x - (double)ix, wx);
    cubic(y - (double)iy, wy);
    double _Complex sum = 0;
    for (size_t j = 0; j < 4; j++) {
        const double _Complex *row = map->at + (iy + j) * SIDE + ix;
        sum += wy[j] * (wx[0] * row[0] + wx[1] * row[1] + wx[2] * row[2] + wx[3] * row[3]);
    }
    return sum;
}

static enum ww_status sum_up(struct ww_converter *c, double *g, double *h, struct ww_error *error)
{
    enum ww_status status = ww_transform_inverse(c->cosine, POSITIONS, POSITIONS, g, error);
    return status ? status : ww_transform_inverse(c->sine, POSITIONS, POSITIONS, h, error);
}

static void clear_spectra(struct ww_converter *c)
{
    memset(c->cosine, 0, (size_t)2 * HALF * sizeof *c->cosine);
}

/* F of the bend after a segment. */
static double _Complex at_bend(const struct ww_beat_segment *of, const struct ww_modes *modes)
{
    return modes->excess * of->excess * ww_phasor(modes->beat * (of->passed + of->length));
}

/* The whole path over every ply, bends with the first; *bound: the most that F reaches anywhere along it [s]. */
static enum ww_status lay_whole(struct ww_converter *c, const struct ww_modes *modes, double *bound,
                                struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *bound = 0;
    for (size_t p = 0; p < c->plies && !status; p++) {
        double *g = c->g + p * SAMPLES, *h = c->h + p * SAMPLES;
        clear_spectra(c);
        c->rows[p] = 0;
        for (size_t i = 0; i < c->segments; i++) {
            const struct ww_beat_segment *of = &c->segment[p * c->segments + i];
            size_t rows = ww_orders_rows(of->order, of->harmonics, POSITIONS);
            c->rows[p] = rows > c->rows[p] ? rows : c->rows[p];
            *bound += ww_beat_add(of, modes->beat, POSITIONS, c->cosine, c->sine);
            if (p == 0) {
                double _Complex bend = at_bend(of, modes);
                c->cosine[0] += creal(bend);
                c->sine[0] += cimag(bend);
                *bound += cabs(bend);
            }
        }
        status = sum_up(c, g, h, error);
    }
    return status;
}

/* --- first order ------------------------------------------------------------------------------------------------------------ */

/* cos(phi) G + sin(phi) H of one ply on so many rows, and its range there. */
static void project(struct ww_converter *c, size_t ply, double phi, size_t rows, double range[2])
{
    const double *g = c->g + ply * SAMPLES, *h = c->h + ply * SAMPLES;
    double co = cos(phi), si = sin(phi);
    for (size_t i = 0; i < rows * POSITIONS; i++)
        c->projection[i] = co * g[i] + si * h[i];
    ww_map_row_range(&(struct ww_map){.nx = POSITIONS, .ny = POSITIONS, .value = c->projection}, rows, range);
}

/* The highest sample of the projection, refined by the paraboloid through its neighbours; its place in samples. */
static double top_of(const double *v, double highest, double place[2])
{
    size_t i = 0, n = POSITIONS;
    while (i + 1 < SAMPLES && v[i] < highest)
        i++;
    size_t ix = i % n, iy = i / n, left = (ix + n - 1) % n, right = (ix + 1) % n;
    const double *here = v + iy * n, *below = v + (iy + n - 1) % n * n, *above = v + (iy + 1) % n * n;
    double gx = 0.5 * (here[right] - here[left]), gy = 0.5 * (above[ix] - below[ix]);
    double xx = 2 * here[ix] - here[left] - here[right], yy = 2 * here[ix] - below[ix] - above[ix];
    double xy = -0.25 * (above[right] - above[left] - below[right] + below[left]);
    double determinant = xx * yy - xy * xy, x = 0, y = 0;
    if (determinant > 1e-6 * (xx * xx + yy * yy)) {
        x = (gx * yy - gy * xy) / determinant;
        y = (gy * xx - gx * xy) / determinant;
    } else {
        x = xx > 0 && xx >= yy ? gx / xx : 0;
        y = yy > 0 && yy > xx ? gy / yy : 0;
    }
    x = fmin(fmax(x, -0.75), 0.75);
    y = fmin(fmax(y, -0.75), 0.75);
    place[0] = (double)ix + x;
    place[1] = (double)iy + y;
    return here[ix] + gx * x + gy * y - 0.5 * (xx * x * x + 2 * xy * x * y + yy * y * y);
}

/* Sum over the plies of the most in one direction, and where: start[ply][2]. */
static double most_along(struct ww_converter *c, double phi, double *start)
{
    double sum = 0, range[2];
    for (size_t p = 0; p < c->plies; p++) {
        project(c, p, phi, POSITIONS, range);
        sum += top_of(c->projection, range[1], start + 2 * p);
    }
    return sum;
}

/* phi of the largest |sum of F|, nearly: of one ply by its largest sample, else from a few directions. */
static double best_direction(struct ww_converter *c)
{
    double along[2 * DIRECTIONS] = {0}, range[2], largest = -1;
    size_t best = 0, turns = 2 * DIRECTIONS;
    for (size_t i = 0; i < c->rows[0] * POSITIONS && c->plies == 1; i++) {
        double square = c->g[i] * c->g[i] + c->h[i] * c->h[i];
        best = square > largest * (1 + 1e-9) ? i : best;
        largest = fmax(largest, square);
    }
    if (c->plies == 1)
        return atan2(c->h[best], c->g[best]);
    for (size_t p = 0; p < c->plies; p++)
        for (size_t d = 0; d < DIRECTIONS; d++) {
            project(c, p, WW_PI * (double)d / DIRECTIONS, c->rows[p], range);
            along[d] += range[1];
            along[d + DIRECTIONS] -= range[0];
        }
    for (size_t d = 1; d < turns; d++)
        best = along[d] > along[best] * (1 + 1e-9) ? d : best;
    double before = along[(best + turns - 1) % turns], after = along[(best + 1) % turns];
    double bend = 2 * along[best] - before - after, slope = 0.5 * (after - before);
    double off = bend > 0 ? fmin(fmax(slope / bend, -0.5), 0.5) : 0;
    return WW_PI * ((double)best + off) / DIRECTIONS;
}

/* The largest |sum of F| over all starts [s], and its place. */
static double first_order(struct ww_converter *c, double *start)
{
    return most_along(c, best_direction(c), start);
}

/* --- placements ------------------------------------------------------------------------------------------------------------- */

/* An additive recurrence over the cells of all plies: steps of 1/g, 1/g^2 .. with g^(d+1) = g + 1 in d dimensions (for d = 1
 * the golden ratio). Common practice for even samples of many dimensions; exact in whole numbers, the same everywhere. */
struct recurrence {
    double ratio;
};

static struct recurrence recurrence_over(size_t dimensions)
{
    double g = 1.5;
    for (int i = 0; i < 60; i++)
        g = pow(1 + g, 1 / ((double)dimensions + 1));
    return (struct recurrence){g};
}

/* Share of a cell by which dimension i moves on, in units of 2^-32. */
static uint32_t stride_of(struct recurrence recurrence, size_t i)
{
    return (uint32_t)(4294967296.0 * pow(recurrence.ratio, -(double)(i + 1)));
}

/* Starts behind the first order's worst places. */
static void place_starts(struct ww_converter *c, size_t first, size_t count)
{
    struct recurrence recurrence = recurrence_over(2 * c->plies);
    for (size_t d = 0; d < 2 * c->plies; d++) {
        uint32_t stride = stride_of(recurrence, d), at = 0x80000000u;
        for (size_t i = 0; i < count; i++) {
            at += stride;
            c->start[(first + i) * 2 * c->plies + d] = (double)at * (POSITIONS / 4294967296.0);
        }
    }
}

/* |sum of F| at placements, by their nearest samples, into amplitude. */
static void sample_first_order(struct ww_converter *c)
{
    const int to_sample = 26; /* 2^32 / POSITIONS */
    struct recurrence recurrence = recurrence_over(2 * c->plies);
    double *sum[2] = {c->amplitude, c->projection};
    memset(sum[0], 0, PLACEMENTS * sizeof *sum[0]);
    memset(sum[1], 0, PLACEMENTS * sizeof *sum[1]);
    for (size_t p = 0; p < c->plies; p++) {
        uint32_t along_x = stride_of(recurrence, 2 * p), along_y = stride_of(recurrence, 2 * p + 1);
        uint32_t x = 0x80000000u, y = x;
        const double *g = c->g + p * SAMPLES, *h = c->h + p * SAMPLES;
        for (size_t i = 0; i < PLACEMENTS; i++) {
            x += along_x;
            y += along_y;
            size_t at = (size_t)(y >> to_sample) * POSITIONS + (x >> to_sample);
            sum[0][i] += g[at];
            sum[1][i] += h[at];
        }
    }
    for (size_t i = 0; i < PLACEMENTS; i++)
        c->amplitude[i] = sqrt(sum[0][i] * sum[0][i] + sum[1][i] * sum[1][i]);
}

/* The amplitude that a share of the placements does not exceed, from the counts of BINS even bins up to `most`. */
static double quantile(const unsigned count[BINS], size_t placements, double share, double most)
{
    double wanted = share * (double)placements, below = 0;
    for (size_t i = 0; i < BINS; i++) {
        if (below + count[i] >= wanted)
            return most * ((double)i + (count[i] ? (wanted - below) / count[i] : 0)) / BINS;
        below += count[i];
    }
    return most;
}

static void find_chances(const double *amplitude, size_t placements, double most, struct ww_converted *out)
{
    unsigned count[BINS] = {0};
    for (size_t i = 0; i < placements && most > 0; i++) {
        size_t bin = (size_t)(amplitude[i] / most * BINS);
        count[bin < BINS ? bin : BINS - 1]++;
    }
    out->median = most > 0 ? quantile(count, placements, 0.5, most) : 0;
    out->p99 = most > 0 ? quantile(count, placements, 0.99, most) : 0;
}

/* --- coupled modes ---------------------------------------------------------------------------------------------------------- */

/* Rotation by f = coupling times the step's F: a_o' = -i kappa exp(-i b s) a_e, a_e' = -i kappa exp(i b s) a_o. */
static inline void rotate(double _Complex f, double _Complex *odd, double _Complex *even)
{
    double angle = sqrt(creal(f) * creal(f) + cimag(f) * cimag(f)), sine = ww_sinc(angle);
    double _Complex turn = -I * sine * f, back = -I * sine * conj(f), here = *odd;
    double co = cos(angle);
    *odd = co * here + back * *even;
    *even = co * *even + turn * here;
}

/* One kind of step of one segment: of every ply, F from where the centre line enters the step, and the phase from there. */
static enum ww_status lay_step(struct ww_converter *c, size_t segment, double beat, struct ww_leg_span one,
                               struct ww_leg_span two, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < c->plies && !status; p++) {
        struct ww_beat_segment step = c->segment[p * c->segments + segment];
        step.x = step.y = step.passed = 0;
        step.leg[0] = one;
        step.leg[1] = two;
        clear_spectra(c);
        ww_beat_add(&step, beat, POSITIONS, c->cosine, c->sine);
        status = sum_up(c, c->real, c->imaginary, error);
        fill_map(&c->step[p], c->real, c->imaginary);
    }
    return status;
}

/* All starts through `count` equal steps of one segment, the first of which begins `at` along it. */
static void walk_steps(struct ww_converter *c, const struct ww_modes *modes, size_t segment, double at, double step,
                       size_t count, size_t starts)
{
    const struct ww_beat_segment *first = &c->segment[segment];
    for (size_t j = 0; j < count; j++) {
        double along = at + (double)j * step;
        double _Complex phase = modes->coupling * ww_phasor(modes->beat * (first->passed + along));
        for (size_t i = 0; i < starts; i++) {
            const double *start = c->start + i * 2 * c->plies;
            double _Complex sum = 0;
            for (size_t p = 0; p < c->plies; p++) {
                const struct ww_beat_segment *of = &c->segment[p * c->segments + segment];
                sum += value_at(&c->step[p], start[2 * p] + POSITIONS / of->lx * (of->x + along * of->ux),
                                start[2 * p + 1] + POSITIONS / of->ly * (of->y + along * of->uy));
            }
            rotate(phase * sum, &c->odd[i], &c->even[i]);
        }
    }
}

/* One segment: where its legs run past its ends at a bend, the first and the last step are steps of their own. */
static enum ww_status walk_segment(struct ww_converter *c, const struct ww_modes *modes, size_t segment, size_t steps,
                                   size_t starts, struct ww_error *error)
{
    const struct ww_beat_segment *of = &c->segment[segment];
    double step = of->length / (double)steps;
    const struct ww_leg_span *leg = of->leg, plain = {0, step};
    bool bent = leg[0].start != 0 || leg[0].length != of->length;
    size_t alone = bent ? (steps > 1 ? 2 : 1) : 0, alike = steps - alone;
    enum ww_status status = WW_OK;
    if (alone) {
        double to = alone > 1 ? step : of->length;
        double end[2] = {alone > 1 ? step : leg[0].start + leg[0].length,
                         alone > 1 ? step : leg[1].start + leg[1].length};
        status = lay_step(c, segment, modes->beat, (struct ww_leg_span){leg[0].start, end[0] - leg[0].start},
                          (struct ww_leg_span){leg[1].start, end[1] - leg[1].start}, error);
        if (!status)
            walk_steps(c, modes, segment, 0, to, 1, starts);
    }
    if (!status && alike)
        status = lay_step(c, segment, modes->beat, plain, plain, error);
    if (!status && alike)
        walk_steps(c, modes, segment, alone ? step : 0, step, alike, starts);
    if (!status && alone > 1) {
        double from = of->length - step;
        status = lay_step(c, segment, modes->beat, (struct ww_leg_span){0, leg[0].start + leg[0].length - from},
                          (struct ww_leg_span){0, leg[1].start + leg[1].length - from}, error);
        if (!status)
            walk_steps(c, modes, segment, from, step, 1, starts);
    }
    return status;
}

static double length_of(const struct ww_converter *c)
{
    const struct ww_beat_segment *last = &c->segment[c->segments - 1];
    return c->plies ? last->passed + last->length : 0;
}

/* All starts from end to end, the path in at least so many steps; |a_even| into amplitude. */
static enum ww_status walk(struct ww_converter *c, const struct ww_modes *modes, double steps, size_t starts,
                           struct ww_error *error)
{
    enum ww_status status = WW_OK;
    double length = length_of(c);
    for (size_t i = 0; i < starts; i++) {
        c->odd[i] = 1;
        c->even[i] = 0;
    }
    for (size_t s = 0; s < c->segments && !status; s++) {
        status =
            walk_segment(c, modes, s, (size_t)fmax(ceil(steps * c->segment[s].length / length), 1), starts, error);
        double _Complex bend = modes->coupling * at_bend(&c->segment[s], modes);
        for (size_t i = 0; i < starts && bend != 0; i++)
            rotate(bend, &c->odd[i], &c->even[i]);
    }
    for (size_t i = 0; i < starts; i++)
        c->amplitude[i] = fmin(hypot(creal(c->even[i]), cimag(c->even[i])), 1);
    return status;
}

/* What the order within a step is off by adds to (kappa L)^2 b L/(6 steps^2), with kappa L at most reach max(1, b L/2). */
static double steps_for(double reach, double beat_phase)
{
    double phase = fabs(beat_phase), most = reach * fmax(1, 0.5 * phase);
    return fmin(fmax(sqrt(most * most * phase / (6 * STEP_ERROR)), LEAST_STEPS), MOST_STEPS);
}

/* From the largest of the starts that were walked, by steps of 2, 1, 1/2 .. samples along each cell's sides; the amplitudes of
 * the placements stay. */
static enum ww_status climb(struct ww_converter *c, const struct ww_modes *modes, double steps, size_t walked,
                            struct ww_converted *out, struct ww_error *error)
{
    size_t dimensions = 2 * c->plies, best = 0;
    double kept[STARTS + STRONG_PLACEMENTS], reach = 2;
    enum ww_status status = WW_OK;
    memcpy(kept, c->amplitude, walked * sizeof *kept);
    for (size_t i = 1; i < walked; i++)
        best = kept[i] > kept[best] ? i : best;
    memmove(c->start, c->start + best * dimensions, dimensions * sizeof *c->start);
    for (int round = 0; round < CLIMBS && !status; round++) {
        for (size_t i = 1; i <= 2 * dimensions; i++) {
            double *there = c->start + i * dimensions;
            memcpy(there, c->start, dimensions * sizeof *there);
            there[(i - 1) / 2] += i % 2 ? reach : -reach;
        }
        status = walk(c, modes, steps, 2 * dimensions + 1, error);
        best = 0;
        for (size_t i = 1; i <= 2 * dimensions && !status; i++)
            best = c->amplitude[i] > c->amplitude[best] ? i : best;
        memmove(c->start, c->start + best * dimensions, dimensions * sizeof *c->start);
        out->worst = status ? 0 : fmax(out->worst, c->amplitude[best]);
        reach *= best ? 1 : 0.5;
    }
    memcpy(c->amplitude, kept, walked * sizeof *kept);
    return status;
}

/* Starts: the worst of first order in every direction, then placements. */
static enum ww_status solve_strong(struct ww_converter *c, const struct ww_modes *modes, double reach, bool likely,
                                   struct ww_converted *out, struct ww_error *error)
{
    size_t placements = likely ? STRONG_PLACEMENTS : FEW_PLACEMENTS, starts = STARTS + placements;
    for (size_t d = 0; d + 1 < STARTS; d++) /* the last place is that of first_order */
        most_along(c, WW_PI * (double)d / DIRECTIONS, c->start + (1 + d) * 2 * c->plies);
    place_starts(c, STARTS, placements);
    double steps = steps_for(reach, modes->beat * length_of(c));
    enum ww_status status = walk(c, modes, steps, starts, error);
    for (size_t i = 0; i < starts && !status; i++)
        out->worst = fmax(out->worst, c->amplitude[i]);
    if (status || !likely)
        return status;
    status = climb(c, modes, steps, starts, out, error);
    if (!status)
        find_chances(c->amplitude + STARTS, placements, out->worst, out);
    return status;
}

enum ww_status ww_converter_solve(struct ww_converter *c, const struct ww_modes *modes, bool likely,
                                  struct ww_converted *out, struct ww_error *error)
{
    double bound = 0;
    *out = (struct ww_converted){0};
    if (!(modes->coupling > 0) || c->plies == 0)
        return WW_OK;
    enum ww_status status = lay_whole(c, modes, &bound, error);
    if (status)
        return status;
    out->first_order = modes->coupling * first_order(c, c->start);
    out->strong = modes->coupling * bound > WEAK;
    if (out->strong)
        return solve_strong(c, modes, modes->coupling * bound, likely, out, error);
    out->worst = out->first_order;
    if (likely) {
        sample_first_order(c);
        for (size_t i = 0; i < PLACEMENTS; i++)
            c->amplitude[i] *= modes->coupling;
        find_chances(c->amplitude, PLACEMENTS, out->worst, out);
    }
    return WW_OK;
}

enum ww_status ww_conversion_of_scan(struct ww_converted *converted, const struct ww_scan *scan,
                                     const struct ww_line *line, const struct ww_skew_request *request, double angle,
                                     struct ww_error *error)
{
    struct ww_modes modes = ww_modes_of(line, request, angle);
    struct ww_converter *converter = NULL;
    *converted = (struct ww_converted){0};
    if (!(modes.coupling > 0))
        return WW_OK;
    enum ww_status status = ww_converter_create(&converter, scan->plies, ww_scan_segments(scan), error);
    for (size_t p = 0; p < scan->plies && !status; p++)
        ww_beat_segments(converter->segment + p * converter->segments, scan, p, WW_MEAN, request->length);
    if (!status)
        status = ww_converter_solve(converter, &modes, true, converted, error);
    ww_converter_destroy(converter);
    return status;
}

enum ww_status ww_converter_at(struct ww_converter *c, const struct ww_modes *modes, const double (*start)[2],
                               size_t steps, double *amplitude, struct ww_error *error)
{
    *amplitude = 0;
    if (!(modes->coupling > 0) || c->plies == 0)
        return WW_OK;
    for (size_t p = 0; p < c->plies; p++) {
        const struct ww_beat_segment *of = &c->segment[p * c->segments];
        c->start[2 * p] = start[p][0] / of->lx * POSITIONS;
        c->start[2 * p + 1] = start[p][1] / of->ly * POSITIONS;
    }
    enum ww_status status = walk(c, modes, (double)steps, 1, error);
    *amplitude = status ? 0 : c->amplitude[0];
    return status;
}
