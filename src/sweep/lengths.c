/* lengths.c - where skew saturates and where it grows: the value over angle and length.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The slowness does not depend on the length: harmonics are interpolated once for each angle, and each length costs their phases
 * and a small map (angle_table.c). Angles are those asked for and the directions in which skew revives, so that none is missed
 * between two of them.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sweep/angles.h"

#define SAME 1e-9 /* rad */

static enum ww_status check(const struct ww_lengths_request *request, struct ww_error *error)
{
    enum ww_status status = ww_angles_check(&request->angles, error);
    if (status)
        return status;
    if (!(request->from > 0 && request->from < request->to && request->to <= 100) || request->count < 2)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "%zu lengths from %g to %g m; give 2 or more, from above 0 to a longer one up to 100 m",
                            request->count, request->from, request->to);
    double points = (double)request->count * (double)ww_angles_asked(&request->angles);
    if (!(points <= WW_SWEEP_MOST))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "%.0f points of angle by length are asked for; %d at most: take a longer step", points,
                            WW_SWEEP_MOST);
    return WW_OK;
}

/* Angles asked for, and between them the revivals. */
static enum ww_status choose_angles(struct ww_lengths *lengths, const struct ww_angles *revivals,
                                    const struct ww_angles_request *request, struct ww_error *error)
{
    size_t asked = ww_angles_asked(request), next = 0;
    lengths->angle = calloc(asked + revivals->revivals, sizeof *lengths->angle);
    if (!lengths->angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", asked);
    for (size_t i = 0; i < asked; i++) {
        double angle = fmin(request->from + (double)i * request->step, request->to);
        for (; next < revivals->revivals && revivals->revival[next].angle < angle + SAME; next++)
            if (revivals->revival[next].angle < angle - SAME &&
                (lengths->angles == 0 || revivals->revival[next].angle > lengths->angle[lengths->angles - 1] + SAME))
                lengths->angle[lengths->angles++] = revivals->revival[next].angle;
        lengths->angle[lengths->angles++] = angle;
    }
    return WW_OK;
}

struct filling {
    struct ww_lengths *lengths;
    double nominal; /* length of the table [m] */
};

static void fill_angle(void *host, struct ww_evaluator *evaluator, size_t i)
{
    const struct filling *filling = host;
    struct ww_lengths *lengths = filling->lengths;
    ww_evaluator_turn(evaluator, lengths->angle[i]);
    for (size_t k = 0; k < lengths->lengths; k++)
        lengths->worst[k * lengths->angles + i] =
            ww_evaluator_worst(evaluator, lengths->length[k] / filling->nominal);
}

static void run_up(struct ww_lengths *lengths)
{
    for (size_t i = 0; i < lengths->lengths * lengths->angles; i++) {
        double before = i < lengths->angles ? 0 : lengths->reached[i - lengths->angles];
        lengths->reached[i] = fmax(before, lengths->worst[i]);
    }
}

/* The revivals at the longest length: there they are the narrowest, and stand out the most. */
static enum ww_status find_revivals(struct ww_angles *revivals, const struct ww_angle_table *table,
                                    const struct ww_lengths_request *request, struct ww_error *error)
{
    const struct ww_angles_request *angles = &request->angles;
    struct ww_search search = {.table = table, .from = angles->from, .to = angles->to, .length = request->to};
    enum ww_status status = ww_evaluator_create(&search.evaluator, table, error);
    for (size_t i = 0; i < ww_angles_asked(angles) && !status; i++) {
        ww_evaluator_turn(search.evaluator, fmin(angles->from + (double)i * angles->step, angles->to));
        search.worst = fmax(search.worst, ww_evaluator_worst(search.evaluator, request->to / table->length));
    }
    if (!status)
        status = ww_revivals_find(revivals, &search, error);
    ww_evaluator_destroy(search.evaluator);
    return status;
}

enum ww_status ww_lengths_solve(struct ww_lengths *lengths, const struct ww_line *line,
                                const struct ww_lengths_request *asked, struct ww_error *error)
{
    memset(lengths, 0, sizeof *lengths);
    struct ww_lengths_request own;
    const struct ww_lengths_request *request = &own;
    enum ww_status status = check(asked, error);
    if (status)
        return status;
    own = *asked;
    struct ww_correction *correction;
    status = ww_angles_prepare(&own.angles, &correction, &asked->angles, line, error);
    if (status)
        return status;
    const struct ww_angles_request *angles = &request->angles;
    struct ww_progress_run progress = {.host = angles->progress};
    struct ww_angle_table *table = NULL;
    struct ww_angles revivals = {0};
    status =
        ww_angle_table_create(&table, line, &angles->skew, angles->from, angles->to, request->to, &progress, error);
    if (!status)
        status = find_revivals(&revivals, table, request, error);
    if (!status)
        status = choose_angles(lengths, &revivals, angles, error);
    if (status)
        goto done;
    lengths->lengths = request->count;
    lengths->length = calloc(request->count, sizeof *lengths->length);
    lengths->worst = calloc(request->count * lengths->angles, sizeof *lengths->worst);
    lengths->reached = calloc(request->count * lengths->angles, sizeof *lengths->reached);
    if (!lengths->length || !lengths->worst || !lengths->reached) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu lengths", request->count);
        goto done;
    }
    for (size_t k = 0; k < request->count; k++)
        lengths->length[k] = request->from + (request->to - request->from) * (double)k / (double)(request->count - 1);
    struct filling filling = {lengths, table->length};
    ww_progress_part(&progress, 1, lengths->angles);
    status = ww_evaluate_all(table, lengths->angles, fill_angle, &filling, &progress, error);
    run_up(lengths);
done:
    ww_angles_clear(&revivals);
    ww_angle_table_destroy(table);
    ww_correction_release(correction);
    if (status)
        ww_lengths_clear(lengths);
    return status;
}

void ww_lengths_clear(struct ww_lengths *lengths)
{
    free(lengths->angle);
    free(lengths->length);
    free(lengths->worst);
    free(lengths->reached);
    memset(lengths, 0, sizeof *lengths);
}
