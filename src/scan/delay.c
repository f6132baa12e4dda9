/* delay.c - slowness over the cell as harmonics, and its integral along a straight trace from every position.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The capacitances of the line with one ply at registration r and the others at their mean are, in Fourier space,
 * sums over slices (line.c). On a grid over the cell they are combined into the permittivity each leg sees,
 *   C = (C+ + C-)/2,  eps_1 = (C11 - C12)/(Ca11 - Ca12),  eps_2 = (C22 - C12)/(Ca22 - Ca12)
 * (single: C/Ca), its slowness S = sqrt(eps)/c0 is taken, and transformed back: S(r) = sum S^(k) exp(i k.r). The
 * integral over a straight piece from r0 along u is then exact, harmonic by harmonic:
 *   delay(r0) = sum S^(k) exp(i k.r0) L exp(i k.u L/2) sinc(k.u L/2),
 * and one inverse transform gives it from all positions. Several plies add to first order in the fraction.
 *
 * Flight adds slowness along the way; the quasi-static limit adds eps and takes the root of its mean.
 */
#include "scan/delay.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

#define POSITIONS 256
#define MOST_POSITIONS 4096

static double sinc(double x)
{
    return fabs(x) < 1e-8 ? 1 : sin(x) / x;
}

/* Capacitances at one registration, in units of eps0 F/m. */
struct matrix {
    double c11, c12, c22;
};

static struct matrix inverse(struct matrix a)
{
    double determinant = a.c11 * a.c22 - a.c12 * a.c12;
    return (struct matrix){a.c22 / determinant, -a.c12 / determinant, a.c11 / determinant};
}

/* C0 P^-1 C0 with symmetric C0 (c22 = c11) and P. */
static struct matrix lower_capacitance(struct matrix c0, struct matrix p, bool pair)
{
    if (!pair)
        return (struct matrix){c0.c11 * c0.c11 / p.c11, 0, 0};
    struct matrix q = inverse(p);
    double a11 = q.c11 * c0.c11 + q.c12 * c0.c12, a12 = q.c11 * c0.c12 + q.c12 * c0.c22;
    double a21 = q.c12 * c0.c11 + q.c22 * c0.c12, a22 = q.c12 * c0.c12 + q.c22 * c0.c22;
    return (struct matrix){c0.c11 * a11 + c0.c12 * a21, c0.c11 * a12 + c0.c12 * a22, c0.c12 * a12 + c0.c22 * a22};
}

/* Upper, lower and mean estimate of the permittivity of one leg. */
static void leg_permittivity(const struct ww_line *line, struct matrix upper, struct matrix lower, int leg,
                             double eps[WW_ESTIMATES])
{
    bool pair = line->mesh.pair;
    double ca = pair ? line->ca_odd : line->ca_even;
    double plus = (leg ? upper.c22 : upper.c11) - upper.c12, minus = (leg ? lower.c22 : lower.c11) - lower.c12;
    eps[WW_UPPER] = line->dk_correction * plus / ca;
    eps[WW_LOWER] = line->dk_correction * minus / ca;
    eps[WW_MEAN] = 0.5 * (eps[WW_UPPER] + eps[WW_LOWER]);
}

static double quantity(const struct ww_scan *scan, double eps)
{
    return scan->averaging == WW_FLIGHT ? sqrt(eps) / WW_C0 : eps;
}

/* Everything of one ply: changes in Fourier space -> capacitances on the cell -> permittivity of the legs -> spectra. */
static enum ww_status scan_ply(struct ww_scan *scan, size_t index, const double _Complex *change,
                               const double mean[WW_CHANGES], struct ww_error *error)
{
    const struct ww_line *line = scan->line;
    const struct ww_harmonics *h = &line->harmonics[index];
    struct ww_ply_scan *ply = &scan->ply[index];
    bool pair = line->mesh.pair;
    size_t row = ply->nx / 2 + 1, half = ply->ny * row, samples = ply->nx * ply->ny;
    double _Complex *spectrum = calloc(half, sizeof *spectrum);
    double *map = calloc(WW_CHANGES * samples, sizeof *map),
           *value = calloc(2 * WW_ESTIMATES * samples, sizeof *value);
    enum ww_status status = WW_OK;
    if (!spectrum || !map || !value) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu samples", samples);
        goto done;
    }
    for (size_t c = 0; c < WW_CHANGES && !status; c++) {
        if (!pair && c != WW_UPPER_11 && c != WW_LOWER_11)
            continue;
        memset(spectrum, 0, half * sizeof *spectrum);
        for (size_t i = 1; i < h->count; i++) {
            size_t l = (size_t)(h->harmonic[i].l + (int)ply->ny) % ply->ny;
            spectrum[l * row + (size_t)h->harmonic[i].m] = change[i * WW_CHANGES + c];
        }
        spectrum[0] = mean[c];
        status = ww_transform_inverse(spectrum, ply->nx, ply->ny, map + c * samples, error);
    }
    if (status)
        goto done;

    double c11 = pair ? 0.5 * (line->c_even + line->c_odd) : line->c_even;
    struct matrix c0 = {c11, pair ? 0.5 * (line->c_even - line->c_odd) : 0, c11};
    for (size_t i = 0; i < samples; i++) {
        double m[WW_CHANGES];
        for (size_t c = 0; c < WW_CHANGES; c++)
            m[c] = map[c * samples + i];
        struct matrix upper = {c0.c11 + m[WW_UPPER_11], c0.c12 + m[WW_UPPER_12], c0.c22 + m[WW_UPPER_22]};
        struct matrix p = {c0.c11 + m[WW_LOWER_11], c0.c12 + m[WW_LOWER_12], c0.c22 + m[WW_LOWER_22]};
        struct matrix lower = lower_capacitance(c0, p, pair);
        for (int leg = 0; leg < (pair ? 2 : 1); leg++) {
            double eps[WW_ESTIMATES];
            leg_permittivity(line, upper, lower, leg, eps);
            for (int e = 0; e < WW_ESTIMATES; e++)
                value[((size_t)leg * WW_ESTIMATES + (size_t)e) * samples + i] = quantity(scan, eps[e]);
        }
    }
    for (size_t leg = 0; leg < (pair ? 2 : 1) && !status; leg++)
        for (size_t e = 0; e < WW_ESTIMATES && !status; e++)
            status = ww_transform_forward(value + (leg * WW_ESTIMATES + e) * samples, ply->nx, ply->ny,
                                          ply->spectrum[leg][e], error);
done:
    free(spectrum);
    free(map);
    free(value);
    return status;
}

static enum ww_status make_room(struct ww_scan *scan, struct ww_error *error)
{
    size_t plies = scan->line->stack->plies;
    scan->ply = calloc(plies ? plies : 1, sizeof *scan->ply);
    if (!scan->ply)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    for (size_t p = 0; p < plies; p++) {
        const struct ww_cell *cell = &scan->line->stack->ply[p].cell;
        struct ww_ply_scan *ply = &scan->ply[p];
        ply->nx = cell->nx;
        ply->ny = cell->ny;
        ply->lx = cell->lx;
        ply->ly = cell->ly;
        double theta = scan->angle - scan->line->stack->ply[p].turn;
        ply->ux = sin(theta);
        ply->uy = cos(theta);
        for (size_t leg = 0; leg < 2; leg++)
            for (size_t e = 0; e < WW_ESTIMATES; e++) {
                ply->spectrum[leg][e] = calloc(ply->ny * (ply->nx / 2 + 1), sizeof **ply->spectrum[leg]);
                if (!ply->spectrum[leg][e])
                    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics",
                                        ply->ny * ply->nx);
            }
    }
    return WW_OK;
}

enum ww_status ww_scan_create(struct ww_scan **out, const struct ww_line *line, double angle,
                              const struct ww_scan_options *options, struct ww_error *error)
{
    *out = NULL;
    if (!isfinite(angle) || (options && options->positions > MOST_POSITIONS))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a scan takes a finite angle and up to %d positions across",
                            MOST_POSITIONS);
    size_t plies = line->stack->plies, most = 1;
    for (size_t p = 0; p < plies; p++)
        most = line->harmonics[p].count > most ? line->harmonics[p].count : most;
    struct ww_scan *scan = calloc(1, sizeof *scan);
    double _Complex *change = calloc((plies ? plies : 1) * most * WW_CHANGES, sizeof *change);
    enum ww_status status = WW_OK;
    if (!scan || !change) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a scan");
        goto done;
    }
    scan->line = line;
    scan->angle = angle;
    scan->positions = options && options->positions ? options->positions : POSITIONS;
    scan->averaging = options ? options->averaging : WW_FLIGHT;
    status = make_room(scan, error);
    if (status)
        goto done;

    double mean[WW_CHANGES] = {0};
    for (size_t p = 0; p < plies; p++) {
        double _Complex *of_ply = change + p * most * WW_CHANGES;
        ww_line_change(line, p, angle - line->stack->ply[p].turn, of_ply);
        for (size_t c = 0; c < WW_CHANGES; c++)
            mean[c] += creal(of_ply[c]);
    }
    for (size_t p = 0; p < plies && !status; p++)
        status = scan_ply(scan, p, change + p * most * WW_CHANGES, mean, error);

    bool pair = line->mesh.pair;
    double c11 = pair ? 0.5 * (line->c_even + line->c_odd) : line->c_even;
    struct matrix c0 = {c11, pair ? 0.5 * (line->c_even - line->c_odd) : 0, c11};
    struct matrix upper = {c11 + mean[WW_UPPER_11], c0.c12 + mean[WW_UPPER_12], c11 + mean[WW_UPPER_22]};
    struct matrix p = {c11 + mean[WW_LOWER_11], c0.c12 + mean[WW_LOWER_12], c11 + mean[WW_LOWER_22]};
    struct matrix lower = lower_capacitance(c0, p, pair);
    for (int leg = 0; leg < (pair ? 2 : 1); leg++) {
        double eps[WW_ESTIMATES];
        leg_permittivity(line, upper, lower, leg, eps);
        for (int e = 0; e < WW_ESTIMATES; e++)
            scan->level[leg][e] = quantity(scan, eps[e]);
    }
done:
    free(change);
    if (status)
        ww_scan_destroy(scan);
    else
        *out = scan;
    return status;
}

void ww_scan_destroy(struct ww_scan *scan)
{
    if (!scan)
        return;
    for (size_t p = 0; scan->ply && p < scan->line->stack->plies; p++)
        for (size_t leg = 0; leg < 2; leg++)
            for (size_t e = 0; e < WW_ESTIMATES; e++)
                free(scan->ply[p].spectrum[leg][e]);
    free(scan->ply);
    free(scan);
}

/* Mean along the way of harmonic (m, l): exp(i k.u L/2) sinc(k.u L/2). */
static double _Complex along_the_way(const struct ww_ply_scan *ply, int m, int l, double length)
{
    double half = WW_PI * (m / ply->lx * ply->ux + l / ply->ly * ply->uy) * length;
    return (cos(half) + I * sin(half)) * sinc(half);
}

/* Spectrum of a signal averaged along the way, as a change from the level of its leg. skew: the difference. */
static double _Complex coefficient(const struct ww_scan *scan, size_t index, enum ww_signal signal,
                                   enum ww_estimate e, size_t place)
{
    const struct ww_ply_scan *ply = &scan->ply[index];
    double _Complex first = ply->spectrum[0][e][place], second = ply->spectrum[1][e][place];
    return signal == WW_LEG1 ? first : signal == WW_LEG2 ? second : first - second;
}

/* Average of one signal along the way from every start: leg signals keep their mean over the cell. */
static enum ww_status average_map(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate e,
                                  double length, double *value, struct ww_error *error)
{
    const struct ww_ply_scan *ply = &scan->ply[index];
    size_t n = scan->positions, to_row = n / 2 + 1, from_row = ply->nx / 2 + 1;
    double _Complex *spectrum = calloc(n * to_row, sizeof *spectrum);
    if (!spectrum)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu by %zu", n, n);
    int m_most = (int)((ply->nx < n ? ply->nx : n) - 1) / 2, l_most = (int)((ply->ny < n ? ply->ny : n) - 1) / 2;
    for (int l = -l_most; l <= l_most; l++)
        for (int m = 0; m <= m_most; m++) {
            size_t from = (size_t)((l + (int)ply->ny) % (int)ply->ny) * from_row + (size_t)m;
            double _Complex c = coefficient(scan, index, signal, e, from);
            /* samples lie at cell centres, half a step from the origin, in both grids */
            double shift = WW_PI * m * (1.0 / (double)n - 1.0 / (double)ply->nx) +
                           WW_PI * l * (1.0 / (double)n - 1.0 / (double)ply->ny);
            spectrum[(size_t)((l + (int)n) % (int)n) * to_row + (size_t)m] =
                c * (cos(shift) + I * sin(shift)) * along_the_way(ply, m, l, length);
        }
    enum ww_status status = ww_transform_inverse(spectrum, n, n, value, error);
    free(spectrum);
    return status;
}

static enum ww_status check_request(const struct ww_scan *scan, size_t ply, enum ww_signal signal, double length,
                                    struct ww_error *error)
{
    if (ply >= scan->line->stack->plies)
        return ww_error_set(error, WW_INVALID, NULL, 0, "ply %zu of %zu", ply + 1, scan->line->stack->plies);
    if (signal != WW_LEG1 && !scan->line->mesh.pair)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a single trace has no second leg");
    if (!(length >= 0 && length < 1e3))
        return ww_error_set(error, WW_INVALID, NULL, 0, "length %g m is outside [0, 1000] m", length);
    return WW_OK;
}

/* Delay of a leg from the average along the way. */
static double delay_of(const struct ww_scan *scan, double average, double length)
{
    return length * (scan->averaging == WW_FLIGHT ? average : sqrt(average) / WW_C0);
}

enum ww_status ww_scan_map(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate estimate,
                           double length, struct ww_map *map, struct ww_error *error)
{
    memset(map, 0, sizeof *map);
    enum ww_status status = check_request(scan, index, signal, length, error);
    if (status)
        return status;
    const struct ww_ply_scan *ply = &scan->ply[index];
    size_t n = scan->positions, samples = n * n;
    double *second = NULL;
    status = ww_map_init(map, n, n, ply->lx, ply->ly, error);
    if (status)
        goto done;
    if (signal == WW_SKEW && scan->averaging == WW_QUASI_STATIC) {
        second = calloc(samples, sizeof *second);
        if (!second) {
            status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu samples", samples);
            goto done;
        }
        status = average_map(scan, index, WW_LEG1, estimate, length, map->value, error);
        if (!status)
            status = average_map(scan, index, WW_LEG2, estimate, length, second, error);
        for (size_t i = 0; i < samples && !status; i++)
            map->value[i] = delay_of(scan, map->value[i], length) - delay_of(scan, second[i], length);
        goto done;
    }
    status = average_map(scan, index, signal, estimate, length, map->value, error);
    double mean = signal == WW_SKEW ? 0 : creal(coefficient(scan, index, signal, estimate, 0));
    for (size_t i = 0; i < samples && !status; i++)
        map->value[i] = signal == WW_SKEW ? length * map->value[i]
                                          : delay_of(scan, map->value[i], length) - delay_of(scan, mean, length);
done:
    free(second);
    if (status)
        ww_map_clear(map);
    return status;
}

double ww_scan_mean_delay(const struct ww_scan *scan, enum ww_signal leg, double length)
{
    int which = leg == WW_LEG2;
    double level = scan->level[which][WW_MEAN], mean = level;
    for (size_t p = 0; p < scan->line->stack->plies; p++)
        mean += creal(scan->ply[p].spectrum[which][WW_MEAN][0]) - level;
    return delay_of(scan, mean, length);
}

/* exp(i 2 pi j x) for j = 0..count-1. */
static void powers(double x, size_t count, double *re, double *im)
{
    for (size_t j = 0; j < count; j++) {
        double phase = 2 * WW_PI * fmod((double)j * x, 1);
        re[j] = cos(phase);
        im[j] = sin(phase);
    }
}

double ww_scan_average_at(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate e,
                          double length, double x, double y, double *work)
{
    const struct ww_ply_scan *ply = &scan->ply[index];
    size_t row = ply->nx / 2 + 1, m_count = (ply->nx - 1) / 2 + 1, l_count = (ply->ny - 1) / 2 + 1;
    double *xr = work, *xi = xr + m_count, *yr = xi + m_count, *yi = yr + l_count;
    powers(x / ply->lx - 0.5 / (double)ply->nx, m_count, xr, xi);
    powers(y / ply->ly - 0.5 / (double)ply->ny, l_count, yr, yi);
    double sum = 0;
    for (size_t m = 0; m < m_count; m++)
        for (int l = -(int)l_count + 1; l < (int)l_count; l++) {
            size_t place = (size_t)((l + (int)ply->ny) % (int)ply->ny) * row + m;
            double _Complex c = coefficient(scan, index, signal, e, place);
            if (c == 0)
                continue;
            c *= along_the_way(ply, (int)m, l, length);
            size_t a = (size_t)abs(l);
            double er = xr[m] * yr[a] - (l < 0 ? -1 : 1) * xi[m] * yi[a];
            double ei = xi[m] * yr[a] + (l < 0 ? -1 : 1) * xr[m] * yi[a];
            sum += (m ? 2 : 1) * (creal(c) * er - cimag(c) * ei);
        }
    return sum;
}

double ww_scan_value_at(const struct ww_scan *scan, size_t index, enum ww_signal signal, enum ww_estimate e,
                        double length, double x, double y, double *work)
{
    if (signal == WW_SKEW && scan->averaging == WW_QUASI_STATIC)
        return delay_of(scan, ww_scan_average_at(scan, index, WW_LEG1, e, length, x, y, work), length) -
               delay_of(scan, ww_scan_average_at(scan, index, WW_LEG2, e, length, x, y, work), length);
    double average = ww_scan_average_at(scan, index, signal, e, length, x, y, work);
    if (signal == WW_SKEW)
        return length * average;
    double mean = creal(coefficient(scan, index, signal, e, 0));
    return delay_of(scan, average, length) - delay_of(scan, mean, length);
}

size_t ww_scan_work_size(const struct ww_scan *scan, size_t index)
{
    return scan->ply[index].nx + scan->ply[index].ny + 4;
}

enum ww_status ww_scan_profile(const struct ww_scan *scan, const double (*start)[2], double from, double to,
                               size_t count, double *dk1, double *dk2, double *running, struct ww_error *error)
{
    size_t plies = scan->line->stack->plies;
    bool pair = scan->line->mesh.pair;
    if (count < 2 || !(from >= 0) || !(to > from))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a profile takes two or more points from %g m on to %g m",
                            from, to);
    size_t most = 1;
    for (size_t p = 0; p < plies; p++)
        most = ww_scan_work_size(scan, p) > most ? ww_scan_work_size(scan, p) : most;
    double *work = calloc(most, sizeof *work);
    if (!work)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a profile");
    for (size_t i = 0; i < count; i++) {
        double s = from + (to - from) * (double)i / (double)(count - 1);
        double leg[2] = {scan->level[0][WW_MEAN], scan->level[1][WW_MEAN]}, sum = 0;
        for (size_t p = 0; p < plies; p++) {
            const struct ww_ply_scan *ply = &scan->ply[p];
            double x = start[p][0] + s * ply->ux, y = start[p][1] + s * ply->uy;
            for (int which = 0; which < (pair ? 2 : 1); which++)
                leg[which] += ww_scan_average_at(scan, p, which ? WW_LEG2 : WW_LEG1, WW_MEAN, 0, x, y, work) -
                              scan->level[which][WW_MEAN];
            sum += s > 0 ? ww_scan_value_at(scan, p, pair ? WW_SKEW : WW_LEG1, WW_MEAN, s, start[p][0], start[p][1],
                                            work)
                         : 0;
        }
        double dk[2];
        for (int which = 0; which < 2; which++)
            dk[which] = scan->averaging == WW_FLIGHT ? pow(leg[which] * WW_C0, 2) : leg[which];
        dk1[i] = dk[0];
        if (pair && dk2)
            dk2[i] = dk[1];
        running[i] = sum;
    }
    free(work);
    return WW_OK;
}
