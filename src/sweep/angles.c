/* angles.c - which routing angles are safe?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two passes. The first is fast (angle_table.c, envelope.c), good to 0.5 %: the extremes of every ply over the whole range, a
 * fraction of a lobe apart, so that no peak is missed. It gives the revivals (revivals.c), the design worst, and the windows
 * within the budget (windows.c). The second solves the worst and the chances in full (ww_placements_solve) at the angles of
 * the result: those asked for; LOBES lobes to both sides of each revival, in steps of a quarter of pitch/length; and the
 * ends of the windows.
 *
 * Every angle fills its own place: the same digits on any number of threads.
 */
#include "sweep/angles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "chance/placements.h"

#define QUICK_SIDE 12 /* N of the correction at most, where the curve is to be good to 0.5 % */
#define LOBES 3
#define STEPS_PER_PITCH 4
#define SAME 1e-3 /* of a fine step: one angle */

#define DEG (WW_PI / 180)

size_t ww_angles_asked(const struct ww_angles_request *request)
{
    return (size_t)ceil((request->to - request->from) / request->step - 1e-9) + 1;
}

static enum ww_status refuse_count(double count, struct ww_error *error)
{
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "%.0f angles are asked for; %d at most: take a longer step or a narrower range", count,
                        WW_SWEEP_MOST);
}

enum ww_status ww_angles_check(const struct ww_angles_request *request, struct ww_error *error)
{
    const struct ww_skew_request *skew = &request->skew;
    if (!(fabs(request->from) <= 2 * WW_PI && fabs(request->to) <= 2 * WW_PI))
        return ww_error_set(error, WW_INVALID, NULL, 0, "angles from %g to %g deg must lie within 360 deg",
                            request->from / DEG, request->to / DEG);
    if (!(request->from < request->to))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "angles from %g to %g deg are an empty range; the first must be the lesser",
                            request->from / DEG, request->to / DEG);
    if (!(request->step > 0))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a step of %g deg leads nowhere; it must be above 0",
                            request->step / DEG);
    double count = ceil((request->to - request->from) / request->step) + 1;
    if (!(count <= WW_SWEEP_MOST))
        return refuse_count(count, error);
    if (!(skew->length > 0 && skew->length <= 100))
        return ww_error_set(error, WW_INVALID, NULL, 0, "length %g m is outside (0, 100] m", skew->length);
    if (!(skew->turn >= 0 && skew->turn <= 0.25 * WW_PI) || !(skew->budget >= 0))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "turn %g deg must be in [0, 45] deg, and the budget not negative", skew->turn / DEG);
    return WW_OK;
}

/* --- the angles that are shown --------------------------------------------------------------------------------------- */

struct shown {
    size_t count, room;
    double *angle;
};

static void show(struct shown *shown, double angle)
{
    if (shown->count < shown->room)
        shown->angle[shown->count++] = angle;
}

static int ascending(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Half the width of the range about a revival with fine steps: LOBES lobes of the harmonic with k.u = 0 there [rad]. */
static double fine_reach(const struct ww_revival *revival, struct ww_evaluator *evaluator,
                         const struct ww_angle_table *table, double length)
{
    const struct ww_angle_table_ply *ply = &table->ply[revival->ply];
    int harmonic = 1;
    ww_evaluator_turn(evaluator, revival->angle);
    ww_evaluator_growth(evaluator, revival->ply, revival->m, revival->l, 0, &harmonic);
    return LOBES / (length * harmonic * hypot(revival->m / ply->lx, revival->l / ply->ly));
}

/* Sorts, and leaves out what is there already: of two that are one, the first is kept. */
static void sort_out(struct shown *shown, double apart)
{
    size_t kept = 0;
    qsort(shown->angle, shown->count, sizeof *shown->angle, ascending);
    for (size_t i = 0; i < shown->count; i++)
        if (kept == 0 || shown->angle[i] - shown->angle[kept - 1] > apart)
            shown->angle[kept++] = shown->angle[i];
    shown->count = kept;
}

static enum ww_status choose_shown(struct shown *shown, const struct ww_angles *angles,
                                   struct ww_evaluator *evaluator, const struct ww_angle_table *table,
                                   const struct ww_angles_request *request, struct ww_error *error)
{
    double length = request->skew.length, fine = ww_angle_lobe(table, length) / STEPS_PER_PITCH;
    size_t asked = ww_angles_asked(request);
    shown->room = asked + 2 * (angles->windows + angles->conversion.windows) + angles->conversion.matches;
    for (size_t i = 0; i < angles->revivals; i++)
        shown->room += 1 + 2 * (size_t)ceil(fine_reach(&angles->revival[i], evaluator, table, length) / fine);
    if (shown->room > WW_SWEEP_MOST)
        return refuse_count((double)shown->room, error);
    shown->angle = calloc(shown->room, sizeof *shown->angle);
    if (!shown->angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", shown->room);
    for (size_t i = 0; i < asked; i++)
        show(shown, fmin(request->from + (double)i * request->step, request->to));
    for (size_t i = 0; i < angles->windows; i++) {
        show(shown, angles->window[i].from);
        show(shown, angles->window[i].to);
    }
    for (size_t i = 0; i < angles->conversion.windows; i++) {
        show(shown, angles->conversion.window[i].from);
        show(shown, angles->conversion.window[i].to);
    }
    for (size_t i = 0; i < angles->conversion.matches; i++)
        show(shown, angles->conversion.match[i].angle);
    for (size_t i = 0; i < angles->revivals; i++) {
        double at = angles->revival[i].angle, half = fine_reach(&angles->revival[i], evaluator, table, length);
        int each_side = fine < request->step ? (int)ceil(half / fine) : 0;
        for (int k = -each_side; k <= each_side; k++)
            if (at + k * fine >= request->from && at + k * fine <= request->to)
                show(shown, at + k * fine);
    }
    sort_out(shown, SAME * fine);
    return WW_OK;
}

/* --- solving ------------------------------------------------------------------------------------------------------- */

static enum ww_status solve_one(struct ww_at_angle *at, const struct ww_line *line,
                                const struct ww_angles_request *request, struct ww_error *error)
{
    struct ww_placements turned = {0};
    enum ww_status status = ww_placements_solve(&turned, line, &request->skew, at->angle, true, error);
    at->worst = turned.worst;
    at->median = turned.median;
    at->p99 = turned.p99;
    at->conversion = turned.conversion.worst;
    at->conversion_p99 = turned.conversion.p99;
    at->conversion_median = turned.conversion.median;
    ww_placements_clear(&turned);
    return status;
}

static enum ww_status solve_shown(struct ww_angles *angles, const struct ww_line *line,
                                  const struct ww_angles_request *request, struct ww_progress_run *progress,
                                  struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    int count = (int)angles->count;
    ww_progress_part(progress, 1, angles->count);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (int i = 0; i < count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, (size_t)i, solve_one(&angles->at[i], line, request, &mine), &mine);
        ww_progress_step(progress);
    }
    return failure.status;
}

/* The worst alone, from the tables of the first pass. */
static enum ww_status evaluate_shown(struct ww_angles *angles, struct ww_evaluator *evaluator, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < angles->count && !status; i++) {
        struct ww_converted converted;
        ww_evaluator_turn(evaluator, angles->at[i].angle);
        angles->at[i].worst = ww_evaluator_worst(evaluator, 1);
        status = ww_evaluator_convert(evaluator, &converted, error);
        angles->at[i].conversion = converted.worst;
    }
    return status;
}

/* What is solved at the phase-matched angles, and the design conversion, in which they count. */
static void conclude_conversion(struct ww_angles *angles, const struct ww_envelope *envelope)
{
    struct ww_angles_conversion *conversion = &angles->conversion;
    for (size_t i = 0, j = 0; i < conversion->matches; i++) {
        struct ww_phase_match *match = &conversion->match[i];
        while (j + 1 < angles->count &&
               fabs(angles->at[j + 1].angle - match->angle) <= fabs(angles->at[j].angle - match->angle))
            j++;
        match->conversion = angles->at[j].conversion;
    }
    for (size_t i = 0; i < angles->count; i++) {
        struct ww_at_angle *at = &angles->at[i];
        at->conversion_design = fmax(at->conversion, ww_envelope_conversion(envelope, at->angle));
        for (size_t k = 0; k < conversion->matches; k++)
            if (fabs(conversion->match[k].angle - at->angle) <= angles->turn)
                at->conversion_design = fmax(at->conversion_design, conversion->match[k].conversion);
    }
}

enum ww_status ww_angles_correct(struct ww_correction **correction, const struct ww_line *line,
                                 const struct ww_angles_request *request, struct ww_error *error)
{
    const struct ww_skew_request *skew = &request->skew;
    *correction = NULL;
    double *angle = calloc(skew->segments + 1, sizeof *angle);
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", skew->segments);
    struct ww_correction_request wanted = ww_skew_correction(skew, angle);
    if (request->quick && wanted.side > QUICK_SIDE)
        wanted.side = QUICK_SIDE;
    wanted.before += fmax(skew->angle - request->from, 0);
    wanted.after += fmax(request->to - skew->angle, 0);
    enum ww_status status = ww_correction_create(correction, line, skew->correction, &wanted, error);
    free(angle);
    return status;
}

enum ww_status ww_angles_prepare(struct ww_angles_request *own, struct ww_correction **correction,
                                 const struct ww_angles_request *request, const struct ww_line *line,
                                 struct ww_error *error)
{
    *own = *request;
    *correction = NULL;
    enum ww_status status = ww_angles_check(request, error);
    if (!status)
        status = ww_angles_correct(correction, line, request, error);
    own->skew.correction = *correction;
    return status;
}

/* Extremes over the whole range first; then what is shown, each angle in full. */
static enum ww_status solve(struct ww_angles *angles, const struct ww_line *line,
                            const struct ww_angles_request *request, const struct ww_angle_tables *tables,
                            struct ww_progress_run *progress, struct ww_error *error)
{
    const struct ww_angle_table *table = ww_angle_tables_nominal(tables);
    const struct ww_skew_request *skew = &request->skew;
    struct ww_evaluator *evaluator = NULL;
    struct ww_envelope envelope = {0};
    struct shown shown = {0};
    enum ww_status status = ww_evaluator_create(&evaluator, table, error);
    if (!status)
        status = ww_envelope_solve(&envelope, tables, request->from, request->to, skew->turn, skew->length, progress,
                                   error);
    struct ww_search search = {.table = table,
                               .evaluator = evaluator,
                               .from = request->from,
                               .to = request->to,
                               .length = skew->length,
                               .worst = envelope.worst};
    if (!status)
        status = ww_revivals_find(angles, &search, error);
    double largest = 0;
    for (size_t i = 0; i < envelope.count && envelope.conversion; i++)
        largest = fmax(largest, envelope.conversion[i]);
    if (!status)
        status = ww_matches_find(angles, &search, largest, error);
    if (!status)
        status = ww_windows_find(angles, &envelope, request, request->quick ? NULL : line, error);
    if (!status && !request->quick)
        status = ww_angles_advise(angles, &envelope, line, request, error);
    if (!status)
        status = choose_shown(&shown, angles, evaluator, table, request, error);
    if (!status)
        angles->at = calloc(shown.count, sizeof *angles->at);
    if (!status && !angles->at)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", shown.count);
    if (status)
        goto done;
    angles->count = shown.count;
    for (size_t i = 0; i < shown.count; i++)
        angles->at[i].angle = shown.angle[i];
    if (request->quick)
        status = evaluate_shown(angles, evaluator, error);
    else
        status = solve_shown(angles, line, request, progress, error);
    for (size_t i = 0; i < angles->count && !status; i++)
        angles->at[i].design = fmax(angles->at[i].worst, ww_envelope_design(&envelope, angles->at[i].angle));
    if (!status)
        conclude_conversion(angles, &envelope);
done:
    free(shown.angle);
    ww_envelope_clear(&envelope);
    ww_evaluator_destroy(evaluator);
    return status;
}

enum ww_status ww_angles_solve(struct ww_angles *angles, const struct ww_line *line,
                               const struct ww_angles_request *asked, struct ww_error *error)
{
    memset(angles, 0, sizeof *angles);
    struct ww_angles_request own;
    struct ww_correction *correction;
    struct ww_angle_tables tables = {0};
    struct ww_progress_run progress = {.host = asked->progress};
    enum ww_status status = ww_angles_prepare(&own, &correction, asked, line, error);
    if (status)
        return status;
    angles->pair = line->mesh.pair;
    angles->turn = own.skew.turn;
    angles->budget = own.skew.budget;
    if (angles->pair && ww_conversion_frequency(&own.skew) > 0)
        angles->conversion = (struct ww_angles_conversion){.frequency = ww_conversion_frequency(&own.skew),
                                                           .budget = own.skew.conversion};
    status = ww_angle_tables_create(&tables, line, &own.skew, own.from - own.skew.turn, own.to + own.skew.turn,
                                    own.skew.length, &progress, error);
    if (!status)
        status = solve(angles, line, &own, &tables, &progress, error);
    ww_angle_tables_destroy(&tables);
    ww_correction_release(correction);
    if (status)
        ww_angles_clear(angles);
    return status;
}

void ww_angles_clear(struct ww_angles *angles)
{
    free(angles->at);
    free(angles->revival);
    free(angles->window);
    free(angles->conversion.window);
    free(angles->conversion.match);
    memset(angles, 0, sizeof *angles);
}
