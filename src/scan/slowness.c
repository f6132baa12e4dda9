/* slowness.c - the slowness of each leg over the cell, as harmonics.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The capacitances of the line with one ply at registration r, the others at their mean, are sums over slices in Fourier
 * space (line.c). On a grid over the cell they are combined into the effective permittivity of each leg,
 *   C = (C+ + C-)/2,  eps_1 = (C11 - C12)/(Ca11 - Ca12),  eps_2 = (C22 - C12)/(Ca22 - Ca12)
 * (single: C/Ca). The slowness S = sqrt(eps)/c0 is transformed back: S(r) = sum S^(k) exp(i k.r). Harmonics below 1e-10 of
 * the largest are left out; together they are about 2e-8 of the skew. Several plies add to first order in the fraction (scan/coupling.c).
 *
 * A line at a frequency (ww_line_options) multiplies the mean of S and its deviations by a factor each, all estimates alike
 * (line/dispersion.c).
 *
 * Flight adds slowness along the path; the quasi-static limit adds eps and takes the root of its mean.
 */
#include "scan/slowness.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "core/wide.h"

#define POSITIONS 256
#define MOST_POSITIONS 4096
#define NEGLIGIBLE 1e-10 /* of the largest harmonic other than the mean */

/* Capacitances at one registration, in units of eps0 F/m. */
struct matrix {
    double c11, c12, c22;
};

static struct matrix background_capacitance(const struct ww_line *line, double drive)
{
    if (!line->mesh.pair)
        return (struct matrix){line->limit.c_even, 0, line->limit.c_even};
    double own = 0.5 * (line->limit.c_even + line->limit.c_odd);
    return (struct matrix){own, drive * 0.5 * (line->limit.c_even - line->limit.c_odd), own};
}

/* Legs driven odd, in what follows: driven even, mutual capacitances change their sign. */

/* C11 - C12 of one leg by the upper form, in units of eps0 F/m, from its own and the mutual change of capacitance at one
 * registration. */
static inline double upper_leg(struct matrix c0, double own, double mutual)
{
    return c0.c11 - c0.c12 + (own - mutual);
}

/* By the lower form C0 P^-1 C0: with d = (1, -1), C0 d = (c11 - c12) d, so that P^-1 d is all it takes. */
static inline double lower_leg(struct matrix c0, double own, double mutual, double other)
{
    double p11 = c0.c11 + own, p12 = c0.c12 + mutual, p22 = c0.c22 + other;
    return (c0.c11 - c0.c12) * (c0.c11 * (p22 + p12) - c0.c12 * (p11 + p12)) / (p11 * p22 - p12 * p12);
}

/* Slowness [s/m] or permittivity of a leg at the samples of a grid, from change[WW_CHANGES][samples]. */
WW_WIDE static void leg_samples(const struct ww_scan *scan, const struct ww_line *line, const double *change,
                                size_t samples, int leg, enum ww_estimate estimate, double *value)
{
    double drive = scan->even ? -1 : 1;
    struct matrix c0 = background_capacitance(line, drive);
    double scale = scan->even ? line->static_dk_even / line->limit.c_even
                              : line->limit.dk_correction / (scan->pair ? line->limit.ca_odd : line->limit.ca_even);
    bool flight = scan->averaging == WW_FLIGHT;
    if (flight)
        scale /= WW_C0 * WW_C0;
    double upper = estimate == WW_MEAN ? 0.5 : estimate == WW_UPPER, lower = 1 - upper;
    const double *up_own = change + (leg ? WW_UPPER_22 : WW_UPPER_11) * samples;
    const double *low_own = change + (leg ? WW_LOWER_22 : WW_LOWER_11) * samples;
    const double *low_other = change + (leg ? WW_LOWER_11 : WW_LOWER_22) * samples;
    const double *up_mutual = change + WW_UPPER_12 * samples, *low_mutual = change + WW_LOWER_12 * samples;
    for (size_t i = 0; i < samples; i++)
        value[i] = scale * (upper * upper_leg(c0, up_own[i], drive * up_mutual[i]) +
                            lower * lower_leg(c0, low_own[i], drive * low_mutual[i], low_other[i]));
    for (size_t i = 0; i < samples && flight; i++)
        value[i] = sqrt(value[i]);
}

/* A single trace has 11 alone. */
static bool is_used(const struct ww_scan *scan, enum ww_change c)
{
    return scan->pair || c == WW_UPPER_11 || c == WW_LOWER_11;
}

void ww_slowness_of_change(const struct ww_line *line, const double change[WW_CHANGES], double leg[2])
{
    const struct ww_scan scan = {.pair = line->mesh.pair, .averaging = WW_FLIGHT};
    double used[WW_CHANGES];
    for (enum ww_change c = 0; c < WW_CHANGES; c++)
        used[c] = is_used(&scan, c) ? change[c] : 0;
    leg[1] = 0;
    for (int i = 0; i < (scan.pair ? 2 : 1); i++)
        leg_samples(&scan, line, used, 1, i, WW_MEAN, &leg[i]);
}

/* The grid over the cell on which capacitances are combined, and half spectra of the legs' slowness. */
struct field {
    size_t nx, ny, row, half, samples;
    double *change;        /* [WW_CHANGES][samples]; of a single trace those of 12 and 22 are 0 */
    double *value;         /* [samples] */
    double _Complex *work; /* [half] */
    double _Complex *spectrum[2][WW_ESTIMATES]; /* [half]; NULL: not asked for */
    double _Complex *spectra;
};

/* Samples across for harmonics up to a third of the cell's samples (line/harmonics.c): products of two of them, up to order
 * 2 n/3, are not aliased. On the cell's own n samples they are, with a sign and size that depend on where the grid lies to the
 * cloth: 1.2e-6 of a value at n = 36, here 5e-8 (tests/scan/test_direct.c). */
static size_t grid_for(size_t n)
{
    return 4 * ((n + 2) / 3);
}

static enum ww_status field_init(struct field *f, const struct ww_cell *cell, bool pair, bool bounds,
                                 struct ww_error *error)
{
    *f = (struct field){.nx = grid_for(cell->nx), .ny = grid_for(cell->ny)};
    f->row = f->nx / 2 + 1;
    f->half = f->ny * f->row;
    f->samples = f->nx * f->ny;
    size_t legs = pair ? 2 : 1, estimates = bounds ? WW_ESTIMATES : 1, signals = legs * estimates, count = 0;
    f->change = malloc(WW_CHANGES * f->samples * sizeof *f->change);
    f->work = malloc(f->half * sizeof *f->work);
    f->value = malloc(f->samples * sizeof *f->value);
    f->spectra = malloc(signals * f->half * sizeof *f->spectra);
    if (!f->change || !f->work || !f->value || !f->spectra)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu samples", f->samples);
    for (size_t leg = 0; leg < legs; leg++)
        for (size_t e = 0; e < estimates; e++) /* the mean comes first */
            f->spectrum[leg][e] = f->spectra + count++ * f->half;
    return WW_OK;
}

static void field_clear(struct field *f)
{
    free(f->change);
    free(f->work);
    free(f->value);
    free(f->spectra);
    memset(f, 0, sizeof *f);
}

/* Index of harmonic (m, l) in a half spectrum. */
static size_t place_of(const struct field *f, int m, int l)
{
    return (size_t)(l < 0 ? l + (int)f->ny : l) * f->row + (size_t)m;
}

/* Changes in Fourier space, those of the ply itself and the mean over all plies -> changes on the grid. */
static enum ww_status lay_changes(struct field *f, const struct ww_harmonics *h, const double _Complex *change,
                                  const double mean[WW_CHANGES], const struct ww_scan *scan, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (enum ww_change c = 0; c < WW_CHANGES && !status; c++) {
        double *to = f->change + c * f->samples;
        if (!is_used(scan, c)) {
            memset(to, 0, f->samples * sizeof *to);
            continue;
        }
        memset(f->work, 0, f->half * sizeof *f->work);
        for (size_t i = 1; i < h->count; i++)
            f->work[place_of(f, h->harmonic[i].m, h->harmonic[i].l)] = change[i * WW_CHANGES + c];
        f->work[0] = mean[c];
        status = ww_transform_inverse(f->work, f->nx, f->ny, to, error);
    }
    return status;
}

/* Changes on the grid -> slowness of the legs -> spectra. */
static enum ww_status leg_spectra(struct field *f, const struct ww_scan *scan, const struct ww_line *line,
                                  struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t leg = 0; leg < 2; leg++)
        for (enum ww_estimate e = WW_MEAN; e < WW_ESTIMATES && !status; e++)
            if (f->spectrum[leg][e]) {
                leg_samples(scan, line, f->change, f->samples, (int)leg, e, f->value);
                status = ww_transform_forward(f->value, f->nx, f->ny, f->spectrum[leg][e], error);
            }
    return status;
}

/* Squares of the larger leg's coefficient, place by place, into the grid of the changes, which have served. The mean estimate
 * alone decides, so that a scan with the bounds has the same harmonics as one without. */
static const double *measure(const struct field *f)
{
    double *largest = f->change;
    memset(largest, 0, f->half * sizeof *largest);
    for (size_t leg = 0; leg < 2; leg++) {
        const double *c = (const double *)f->spectrum[leg][WW_MEAN]; /* pairs of real and imaginary part */
        for (size_t i = 0; i < f->half && c; i++) {
            double square = c[2 * i] * c[2 * i] + c[2 * i + 1] * c[2 * i + 1];
            largest[i] = square > largest[i] ? square : largest[i];
        }
    }
    return largest;
}

/* Lists the harmonics above NEGLIGIBLE, by m and then by l. */
static enum ww_status list_harmonics(struct ww_ply_scan *ply, const struct field *f, struct ww_error *error)
{
    int m_most = (int)(f->nx - 1) / 2, l_most = (int)(f->ny - 1) / 2;
    const double *square = measure(f);
    double largest = 0;
    for (int m = 0; m <= m_most; m++)
        for (int l = -l_most; l <= l_most; l++)
            if ((m || l) && square[place_of(f, m, l)] > largest)
                largest = square[place_of(f, m, l)];
    ply->order = calloc((size_t)(m_most + 1) * (size_t)(2 * l_most + 1), sizeof *ply->order);
    if (!ply->order)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the harmonics of a map");
    ply->harmonics = 1; /* the first is the mean */
    for (int m = 0; m <= m_most; m++)
        for (int l = -l_most; l <= l_most; l++)
            if ((m || l) && square[place_of(f, m, l)] > NEGLIGIBLE * NEGLIGIBLE * largest)
                ply->order[ply->harmonics++] = (struct ww_order){m, l};
    return WW_OK;
}

/* The shift of the cloth comes in here and not before: the grid begins at the origin of the cell, so that the symmetries of
 * the cloth are those of the grid. */
static enum ww_status keep_harmonics(struct ww_ply_scan *ply, const struct field *f, const struct ww_ply *cloth,
                                     struct ww_error *error)
{
    enum ww_status status = list_harmonics(ply, f, error);
    double _Complex *all = status ? NULL : calloc(2 * WW_ESTIMATES * ply->harmonics, sizeof *all);
    if (!status && !all)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", ply->harmonics);
    if (status)
        return status;
    for (size_t leg = 0; leg < 2; leg++)
        for (size_t e = 0; e < WW_ESTIMATES; e++)
            ply->coefficient[leg][e] = all + (leg * WW_ESTIMATES + e) * ply->harmonics;
    struct ww_stepper shift =
        ww_stepper_of(-2 * WW_PI * cloth->shift_x / cloth->cell.lx, -2 * WW_PI * cloth->shift_y / cloth->cell.ly);
    for (size_t w = 0; w < ply->harmonics; w++) {
        size_t place = place_of(f, ply->order[w].m, ply->order[w].l);
        double _Complex shifted = ww_stepper_to(&shift, ply->order[w]);
        for (size_t leg = 0; leg < 2; leg++)
            for (size_t e = 0; e < WW_ESTIMATES; e++)
                if (f->spectrum[leg][e])
                    ply->coefficient[leg][e][w] = f->spectrum[leg][e][place] * shifted;
    }
    for (size_t leg = 0; leg < 2; leg++)
        for (size_t e = 0; e < WW_ESTIMATES; e++)
            ply->coefficient[leg][e][0] = creal(ply->coefficient[leg][e][0]);
    return WW_OK;
}

static enum ww_status scan_ply(struct ww_scan *scan, const struct ww_line *line, size_t index,
                               const struct ww_scan_options *options, bool bounds, const double _Complex *change,
                               const double mean[WW_CHANGES], struct ww_error *error)
{
    struct ww_ply_scan *ply = &scan->ply[index];
    const struct ww_cell *cell = &line->stack->ply[index].cell;
    double theta = scan->angle - line->stack->ply[index].turn;
    ply->lx = cell->lx * (1 + options->stretch[0]);
    ply->ly = cell->ly * (1 + options->stretch[1]);
    ply->ux = sin(theta);
    ply->uy = cos(theta);
    struct field field;
    enum ww_status status = field_init(&field, cell, scan->pair, bounds, error);
    if (!status)
        status = lay_changes(&field, &line->harmonics[index], change, mean, scan, error);
    if (!status)
        status = leg_spectra(&field, scan, line, error);
    if (!status)
        status = keep_harmonics(ply, &field, &line->stack->ply[index], error);
    field_clear(&field);
    return status;
}

/* From the static slowness, or permittivity, to that at the line's frequency. Of permittivity c0^2 S^2 the mean is
 * multiplied by the square of the factor, the deviation 2 c0^2 S dS by both. */
static void disperse(struct ww_scan *scan, const struct ww_dispersion *dispersion)
{
    double root = scan->averaging == WW_FLIGHT ? 1 : dispersion->mean;
    double mean = root * dispersion->mean, change = root * dispersion->change;
    for (int leg = 0; leg < 2; leg++)
        for (enum ww_estimate e = WW_MEAN; e < WW_ESTIMATES; e++) {
            scan->level[leg][e] *= mean;
            for (size_t p = 0; p < scan->plies; p++)
                for (size_t h = 0; h < scan->ply[p].harmonics; h++)
                    scan->ply[p].coefficient[leg][e][h] *= h ? change : mean;
        }
    scan->change = dispersion->change;
    scan->mean = dispersion->mean;
}

static enum ww_status create_straight(struct ww_scan **out, const struct ww_line *line, double angle, bool bounds,
                                      const struct ww_scan_options *options, struct ww_error *error)
{
    *out = NULL;
    if (!isfinite(angle) || options->positions > MOST_POSITIONS ||
        !(fabs(options->stretch[0]) <= WW_STRETCH_MOST && fabs(options->stretch[1]) <= WW_STRETCH_MOST))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "a scan takes a finite angle, up to %d positions across and a stretch within %g",
                            MOST_POSITIONS, WW_STRETCH_MOST);
    if (!(options->spacing >= 0 && options->spacing <= WW_SPACING_MOST))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a spacing of %g m is outside [0, %g] m", options->spacing,
                            WW_SPACING_MOST);
    size_t plies = line->stack->plies, most = 1;
    for (size_t p = 0; p < plies; p++)
        most = line->harmonics[p].count > most ? line->harmonics[p].count : most;
    struct ww_scan *scan = calloc(1, sizeof *scan);
    double _Complex *change = calloc((plies ? plies : 1) * most * WW_CHANGES, sizeof *change);
    enum ww_status status = WW_OK;
    if (scan)
        scan->ply = calloc(plies ? plies : 1, sizeof *scan->ply);
    if (!scan || !change || !scan->ply) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a scan of %zu plies", plies);
        goto done;
    }
    scan->plies = plies;
    scan->pair = line->mesh.pair;
    scan->pitch = line->summary.pitch;
    scan->angle = angle;
    scan->positions = options->positions ? options->positions : POSITIONS;
    scan->averaging = options->averaging;
    scan->spacing = options->spacing;
    scan->bends = options->bends;
    scan->even = options->even && scan->pair;

    double mean[WW_CHANGES] = {0};
    for (size_t p = 0; p < plies; p++) {
        double _Complex *of_ply = change + p * most * WW_CHANGES;
        ww_line_change(line, p, angle - line->stack->ply[p].turn, options->stretch, of_ply);
        for (enum ww_change c = 0; c < WW_CHANGES; c++)
            mean[c] += is_used(scan, c) ? creal(of_ply[c]) : 0;
    }
    for (int leg = 0; leg < (scan->pair ? 2 : 1); leg++)
        for (enum ww_estimate e = WW_MEAN; e < WW_ESTIMATES; e++)
            leg_samples(scan, line, mean, 1, leg, e, &scan->level[leg][e]);
    for (size_t p = 0; p < plies && !status; p++)
        status = scan_ply(scan, line, p, options, bounds, change + p * most * WW_CHANGES, mean, error);
    scan->change = scan->mean = 1;
    if (!status && !options->without_dispersion && !scan->even)
        disperse(scan, &line->summary.dispersion);
done:
    free(change);
    if (status)
        ww_scan_destroy(scan);
    else
        *out = scan;
    return status;
}

static double straight_mean_delay(const struct ww_scan *scan, int which, double length)
{
    double level = scan->level[which][WW_MEAN], mean = level;
    for (size_t p = 0; p < scan->plies; p++)
        mean += creal(scan->ply[p].coefficient[which][WW_MEAN][0]) - level;
    return ww_scan_delay(scan, mean, length);
}

/* --- routes ------------------------------------------------------------------------------------------------------- */

#define MOST_SEGMENTS 10000
#define SHARPEST (150 * WW_PI / 180) /* bend */

/* The bend from one segment to the next, -pi .. pi, positive to the right. */
static double bend_between(const struct ww_route_segment *from, const struct ww_route_segment *to)
{
    return remainder(to->angle - from->angle, 2 * WW_PI);
}

static enum ww_status check_route(const struct ww_scan_options *options, struct ww_error *error)
{
    if (options->segments == 0 || options->segments > MOST_SEGMENTS)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a route of %zu segments; it takes 1 to %d",
                            options->segments, MOST_SEGMENTS);
    for (size_t i = 0; i < options->segments; i++) {
        const struct ww_route_segment *segment = &options->route[i];
        if (!(segment->length > 0 && isfinite(segment->length) && isfinite(segment->angle)))
            return ww_error_set(error, WW_INVALID, NULL, 0, "segment %zu of the route has no length", i + 1);
        if (i > 0 && !(fabs(bend_between(segment - 1, segment)) <= SHARPEST))
            return ww_error_set(error, WW_INVALID, NULL, 0, "the route folds back on itself at segment %zu", i + 1);
    }
    return WW_OK;
}

/* The scan of one direction of the route: one that is there already, or a new one. */
static enum ww_status scan_of_direction(struct ww_scan *scan, const struct ww_line *line, double angle, bool bounds,
                                        const struct ww_scan_options *options, const struct ww_scan **found,
                                        struct ww_error *error)
{
    const double same = 1e-12;
    *found = NULL;
    if (fabs(remainder(scan->angle - angle, 2 * WW_PI)) < same)
        *found = scan;
    for (size_t i = 0; i < scan->others && !*found; i++)
        if (scan->other[i] && fabs(remainder(scan->other[i]->angle - angle, 2 * WW_PI)) < same)
            *found = scan->other[i];
    if (*found)
        return WW_OK;
    enum ww_status status = create_straight(&scan->other[scan->others], line, angle, bounds, options, error);
    if (!status)
        *found = scan->other[scan->others++];
    return status;
}

static enum ww_status create_route(struct ww_scan **out, const struct ww_line *line, double angle, bool bounds,
                                   const struct ww_scan_options *options, struct ww_error *error)
{
    const struct ww_route_segment *route = options->route;
    enum ww_status status = check_route(options, error);
    if (!status)
        status = create_straight(out, line, angle + route[0].angle, bounds, options, error);
    if (status)
        return status;
    struct ww_scan *scan = *out;
    double length = 0;
    scan->segment = calloc(options->segments, sizeof *scan->segment);
    scan->other = calloc(options->segments, sizeof(struct ww_scan *));
    if (!scan->segment || !scan->other) {
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a route of %zu segments", options->segments);
        goto done;
    }
    scan->segments = options->segments;
    for (size_t i = 0; i < scan->segments; i++)
        length += route[i].length;
    for (size_t i = 0; i < scan->segments && !status; i++) {
        struct ww_scan_segment *segment = &scan->segment[i];
        status = scan_of_direction(scan, line, angle + route[i].angle, bounds, options, &segment->scan, error);
        segment->share = route[i].length / length;
        segment->bend_in = i > 0 ? bend_between(&route[i - 1], &route[i]) : 0;
        segment->bend_out = i + 1 < scan->segments ? bend_between(&route[i], &route[i + 1]) : 0;
    }
done:
    if (status) {
        ww_scan_destroy(scan);
        *out = NULL;
    }
    return status;
}

size_t ww_scan_segments(const struct ww_scan *scan)
{
    return scan->segments ? scan->segments : 1;
}

struct ww_scan_segment ww_scan_segment_at(const struct ww_scan *scan, size_t i)
{
    return scan->segments ? scan->segment[i] : (struct ww_scan_segment){.scan = scan, .share = 1};
}

size_t ww_scan_rows(const struct ww_scan *scan, size_t index)
{
    size_t rows = 0;
    for (size_t i = 0; i < ww_scan_segments(scan) && rows < scan->positions; i++) {
        const struct ww_ply_scan *ply = &ww_scan_segment_at(scan, i).scan->ply[index];
        size_t of_segment = ww_orders_rows(ply->order, ply->harmonics, scan->positions);
        rows = of_segment > rows ? of_segment : rows;
    }
    return rows;
}

struct ww_leg_span ww_leg_span(const struct ww_scan *scan, const struct ww_scan_segment *segment, double length,
                               int leg)
{
    double side = (scan->pair ? 0.5 : 0) * (leg ? -scan->pitch : scan->pitch); /* outside of a bend to the right */
    double in = side * tan(0.5 * segment->bend_in), out = side * tan(0.5 * segment->bend_out);
    return (struct ww_leg_span){-in, length + in + out};
}

double ww_scan_mismatch_at(const struct ww_scan *scan, size_t i)
{
    double sum = 0;
    for (size_t side = i; side < i + 2 && i + 1 < scan->segments && scan->pair; side++)
        for (int leg = 0; leg < 2; leg++) {
            struct ww_leg_span span = ww_leg_span(scan, &scan->segment[side], 0, leg);
            double extra = side == i ? span.length + span.start : 0 - span.start;
            sum += (leg ? -1 : 1) * straight_mean_delay(scan->segment[side].scan, leg, 1) * extra;
        }
    return sum;
}

double ww_scan_mismatch(const struct ww_scan *scan)
{
    double sum = 0;
    for (size_t i = 0; i + 1 < scan->segments; i++)
        sum += ww_scan_mismatch_at(scan, i);
    return sum;
}

enum ww_status ww_scan_create_with(struct ww_scan **scan, const struct ww_line *line, double angle, bool bounds,
                                   const struct ww_scan_options *options, struct ww_error *error)
{
    const struct ww_scan_options none = {0};
    *scan = NULL;
    if (!options)
        options = &none;
    return options->route ? create_route(scan, line, angle, bounds, options, error)
                          : create_straight(scan, line, angle, bounds, options, error);
}

enum ww_status ww_scan_create(struct ww_scan **scan, const struct ww_line *line, double angle,
                              const struct ww_scan_options *options, struct ww_error *error)
{
    return ww_scan_create_with(scan, line, angle, true, options, error);
}

void ww_scan_destroy(struct ww_scan *scan)
{
    if (!scan)
        return;
    for (size_t p = 0; p < scan->plies; p++) {
        free(scan->ply[p].order);
        free(scan->ply[p].coefficient[0][0]);
    }
    free(scan->ply);
    for (size_t i = 0; scan->other && i < scan->others; i++)
        ww_scan_destroy(scan->other[i]);
    free(scan->other);
    free(scan->segment);
    free(scan);
}

double ww_scan_delay(const struct ww_scan *scan, double average, double length)
{
    return length * (scan->averaging == WW_FLIGHT ? average : sqrt(average) / WW_C0);
}

/* Of a route by its centre line. */
double ww_scan_mean_delay(const struct ww_scan *scan, enum ww_signal leg, double length)
{
    double sum = 0;
    for (size_t i = 0; i < ww_scan_segments(scan); i++) {
        struct ww_scan_segment segment = ww_scan_segment_at(scan, i);
        sum += straight_mean_delay(segment.scan, leg == WW_LEG2, segment.share * length);
    }
    return sum;
}
