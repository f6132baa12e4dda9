/* notch_map.c - what the cloth reflects, over routing angle and frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each harmonic of the cloth has along the trace the period P = 1/|along|. Of the waves there and back the coupled-mode
 * equations (notches.c) give, d = beta - pi/P away from where P is half a wavelength, with kappa and q^2 = kappa^2 - d^2,
 *   |S11|^2/(1 - |S11|^2) = [kappa sinh(q L)/q]^2,
 * sin for sinh where d is the larger. Over all places of the cloth the harmonics have phases of their own: their squares add.
 * The bracket swings in lobes of d, pi/L wide, which no map resolves where the line is long. Their envelope is drawn,
 * [kappa/|q|]^2 beyond the first zero's half way, |q| L = pi/2. It falls with |d|, so that the most within a cell of the map
 * is at its least |d|, and no notch falls between two samples at any length.
 *
 * A pair's odd mode comes back as odd and as even mode; both are counted.
 *
 * A harmonic nearly constant along the trace, P above L, sets the impedance of the line as a whole: with d = beta + pi/P beside
 * it, it reflects at the ends.
 */
#include "frequency/wideband.h"

#include <math.h>
#include <stdlib.h>

#include "chance/angle_table.h"
#include "core/parallel.h"

/* What does not turn with the trace, of one frequency. */
struct tone {
    double beta;  /* of the mean line at the study's angle [rad/m] */
    double share; /* of a change of C in C, at the frequency over static */
};

struct work {
    const struct ww_angle_table *table;
    const struct ww_notch_map *map;
    const struct tone *tone;
    double mean;                      /* slowness at the study's angle [s/m] */
    double even_coupling, even_share; /* of a pair */
    double turn, step;                /* half a cell of the map: angle [rad], beta [rad/m] */
    double *column;                   /* [angles][points] |S11|^2/(1 - |S11|^2) */
};

static double square(double x)
{
    return x * x;
}

/* Of one harmonic: its envelope of |S11|^2/(1 - |S11|^2) within its first lobe, kappa^2 and q^2 = d^2 - kappa^2. */
static double within_lobe(double kappa2, double q2, double length)
{
    double q = sqrt(fabs(q2)), phase = q * length;
    if (phase < 1e-6)
        return kappa2 * square(length);
    return kappa2 / fabs(q2) * square(q2 < 0 ? sinh(fmin(phase, 300)) : sin(phase));
}

/* Of one harmonic, by waves d apart and `sum` apart. Nearly everywhere both are beyond their first lobes, and one division does. */
static inline double reflects(double kappa2, double d, double sum, double length)
{
    double q2 = square(d) - kappa2, far2 = square(sum) - kappa2, edge = square(0.5 * WW_PI / length);
    if (q2 > edge && far2 > edge)
        return kappa2 * (q2 + far2) / (q2 * far2);
    return (q2 > edge ? kappa2 / q2 : within_lobe(kappa2, q2, length)) +
           (far2 > edge ? kappa2 / far2 : within_lobe(kappa2, far2, length));
}

/* Adds one harmonic of so many equal segments at all frequencies to a column of the map. */
static void add_harmonic(const struct work *work, double *column, const struct ww_harmonic_along *of, double mean,
                         double length, double times)
{
    double half = WW_PI * fabs(of->along), turning = WW_PI * of->across * work->turn + work->step;
    double alike = cabs(of->slowness) / mean, apart = work->even_coupling * cabs(of->difference) / mean;
    double longer = mean / work->mean;
    for (size_t i = 0; i < work->map->points; i++) {
        double beta = work->tone[i].beta * longer, size = (beta + work->step) * work->tone[i].share;
        double d = fabs(beta - half) - turning;
        column[i] += times * reflects(square(size * alike), d > 0 ? d : 0, beta + half, length);
        if (!(apart > 0))
            continue;
        beta *= work->even_share;
        d = fabs(beta - half) - turning;
        column[i] += times * reflects(square(size * apart), d > 0 ? d : 0, beta + half, length);
    }
}

/* How many segments of the route are like segment s, itself among them; 0 if one before it is. */
static size_t equal_segments(const struct ww_angle_table *table, size_t s)
{
    size_t count = 0;
    for (size_t i = 0; i < table->segments; i++) {
        bool like =
            table->route[i].angle == table->route[s].angle && table->route[i].length == table->route[s].length;
        if (like && i < s)
            return 0;
        count += like;
    }
    return count;
}

/* One angle: a column of the map. */
static void visit(void *host, struct ww_evaluator *evaluator, size_t i)
{
    const struct work *work = host;
    const struct ww_notch_map *map = work->map;
    const struct ww_angle_table *table = work->table;
    double *column = work->column + i * map->points;
    ww_evaluator_turn(evaluator, map->angle[i]);
    for (size_t p = 0; p < table->plies; p++)
        for (size_t s = 0; s < table->segments; s++) {
            size_t times = equal_segments(table, s);
            double mean = creal(ww_evaluator_along(evaluator, p, s, 0).slowness);
            for (size_t w = 1; w < table->ply[p].harmonics && times > 0; w++) {
                struct ww_harmonic_along of = ww_evaluator_along(evaluator, p, s, w);
                add_harmonic(work, column, &of, mean, table->route[s].length, (double)times);
            }
        }
    for (size_t k = 0; k < map->points; k++)
        map->reflection[k * map->angles + i] = sqrt(column[k] / (1 + column[k]));
}

static enum ww_status check(const struct ww_wideband *w, const struct ww_notch_map_request *request,
                            struct ww_error *error)
{
    if (w->line->stack->plies == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a stackup without cloth reflects nothing at any angle");
    if (!(request->from < request->to) || request->angles < 2 || request->angles > WW_SWEEP_MOST)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu angles from %g to %g rad; give 2 to %d, ascending",
                            request->angles, request->from, request->to, WW_SWEEP_MOST);
    return WW_OK;
}

static enum ww_status lay_out(struct ww_notch_map *map, const struct ww_notch_map_request *request,
                              struct ww_error *error)
{
    size_t columns = request->angles, rows = request->points;
    *map = (struct ww_notch_map){.angles = columns, .points = rows};
    map->angle = calloc(columns, sizeof *map->angle);
    map->frequency = calloc(rows, sizeof *map->frequency);
    map->reflection = calloc(columns * rows, sizeof *map->reflection);
    if (!map->angle || !map->frequency || !map->reflection)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu by %zu", columns, rows);
    for (size_t i = 0; i < columns; i++)
        map->angle[i] = request->from + (request->to - request->from) * (double)i / (double)(columns - 1);
    return ww_frequency_steps(request->lowest, request->highest, rows, 0, map->frequency, error);
}

static enum ww_status find_tones(struct tone **out, const struct ww_notch_map *map, const struct ww_wideband *w,
                                 struct ww_error *error)
{
    struct tone *tone = calloc(map->points, sizeof *tone);
    *out = tone;
    if (!tone)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu frequencies", map->points);
    for (size_t i = 0; i < map->points; i++) {
        double f = map->frequency[i];
        struct ww_at at = ww_wideband_at(w, f, true, false);
        tone[i] = (struct tone){2 * WW_PI * f * ww_wideband_loss(w, f).delay,
                                at.change[WW_ODD_MODE] / at.mean[WW_ODD_MODE]};
    }
    return WW_OK;
}

enum ww_status ww_notch_map_solve(struct ww_notch_map *map, const struct ww_wideband *w,
                                  const struct ww_notch_map_request *request, struct ww_error *error)
{
    struct ww_angle_table *table = NULL;
    struct tone *tone = NULL;
    double *column = NULL;
    struct ww_skew_request skew = request->skew;
    struct ww_progress_run progress = {.host = request->progress};
    skew.scan.averaging = WW_FLIGHT;
    skew.scan.without_dispersion = true;
    *map = (struct ww_notch_map){0};
    enum ww_status status = check(w, request, error);
    if (!status)
        status = lay_out(map, request, error);
    if (!status)
        status =
            ww_angle_table_create(&table, w->line, &skew, request->from, request->to, skew.length, &progress, error);
    if (!status)
        status = find_tones(&tone, map, w, error);
    if (!status)
        column = calloc(map->angles * map->points, sizeof *column);
    if (!status && !column)
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu by %zu", map->angles, map->points);
    if (!status) {
        struct work work = {.table = table,
                            .map = map,
                            .tone = tone,
                            .mean = sqrt(w->mean[WW_ODD_MODE]) / WW_C0,
                            .even_coupling = ww_wideband_even_coupling(w),
                            .even_share = ww_wideband_even_share(w),
                            .turn = 0.5 * (map->angle[1] - map->angle[0]),
                            .step = 0.5 * fabs(tone[1].beta - tone[0].beta),
                            .column = column};
        ww_progress_part(&progress, 1, map->angles);
        status = ww_evaluate_all(table, map->angles, visit, &work, &progress, error);
    }
    free(column);
    free(tone);
    ww_angle_table_destroy(table);
    if (status)
        ww_notch_map_clear(map);
    return status;
}

void ww_notch_map_clear(struct ww_notch_map *map)
{
    free(map->angle);
    free(map->frequency);
    free(map->reflection);
    *map = (struct ww_notch_map){0};
}

struct ww_notch_peak ww_notch_map_most(const struct ww_notch_map *map, double from, double to, double top)
{
    struct ww_notch_peak most = {0};
    double reach = 0.5 * (map->angle[1] - map->angle[0]);
    for (size_t k = 0; k < map->points && map->frequency[k] <= top; k++)
        for (size_t i = 0; i < map->angles; i++) {
            double here = map->reflection[k * map->angles + i];
            if (map->angle[i] >= from - reach && map->angle[i] <= to + reach && here > most.reflection)
                most = (struct ww_notch_peak){map->angle[i], map->frequency[k], here};
        }
    return most;
}
