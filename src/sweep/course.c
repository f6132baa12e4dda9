/* course.c - what every ply reaches over a range of angles, and the figure to design by.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The value goes up and down with the angle in lobes as narrow as pitch/length. It is sampled at STEPS_PER_LOBE of these,
 * and tops between the samples are taken from the parabola through three. The cloth lies off square by an unknown angle
 * up to the turn, every ply on its own: the design figure adds over the parts, which are the plies and what they do to each
 * other, the most that each reaches within the turn.
 * The step divides the turn, so that a window about a sample ends at samples.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "sweep/angles.h"

#define STEPS_PER_LOBE 8
#define ON_SAMPLE 1e-6 /* of a step */

static enum ww_status course_init(struct ww_course *course, const struct ww_fan *fan,
                                  const struct ww_angles_request *request, struct ww_error *error)
{
    double turn = request->skew.turn, range = request->to - request->from + 2 * turn;
    double step = fmax(ww_angles_lobe(fan, request->skew.length) / STEPS_PER_LOBE, range / (WW_SWEEP_MOST - 1));
    if (turn > 0)
        step = turn / ceil(turn / step);
    *course = (struct ww_course){.parts = ww_fan_parts(fan),
                                 .count = (size_t)ceil(range / step - ON_SAMPLE) + 1,
                                 .first = request->from - turn,
                                 .step = step,
                                 .turn = turn,
                                 .pair = fan->pair};
    course->high = calloc(course->count * (course->parts + 1), sizeof *course->high);
    course->low = calloc(course->count * (course->parts + 1), sizeof *course->low);
    return course->high && course->low
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", course->count);
}

void ww_course_clear(struct ww_course *course)
{
    free(course->high);
    free(course->low);
    memset(course, 0, sizeof *course);
}

/* What is added over the plies: a pair's extremes; of a single trace, whose two equals lie on one cloth, the spread. */
static struct ww_reach added(struct ww_look *look, size_t part, bool pair)
{
    struct ww_reach reach = ww_look_reach(look, part, 1);
    return pair ? reach : (struct ww_reach){reach.high - reach.low, 0};
}

static void walk(struct ww_course *course, struct ww_look *look, size_t index)
{
    ww_look_at(look, course->first + (double)index * course->step);
    for (size_t p = 0; p < course->parts; p++) {
        struct ww_reach reach = added(look, p, course->pair);
        course->high[index * course->parts + p] = reach.high;
        course->low[index * course->parts + p] = reach.low;
    }
}

static enum ww_status walk_all(struct ww_course *course, const struct ww_fan *fan, struct ww_progress_run *progress,
                               struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    int count = (int)course->count;
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct ww_look *look = NULL;
        struct ww_error mine = {0};
        ww_failure_keep(&failure, 0, ww_look_create(&look, fan, &mine), &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic, 8)
#endif
        for (int i = 0; i < count; i++) {
            if (look)
                walk(course, look, (size_t)i);
            ww_progress_step(progress);
        }
        ww_look_destroy(look);
    }
    return failure.status;
}

/* Raises every sample that is a top of its part to the top beside it. */
static void raise_tops(double *value, size_t count, size_t parts, double sign)
{
    for (size_t p = 0; p < parts; p++) {
        double before = value[p];
        for (size_t i = 1; i + 1 < count; i++) {
            double *at = value + i * parts + p, here = *at, after = at[parts];
            double bend = sign * (2 * here - before - after);
            if (sign * here >= sign * before && sign * here >= sign * after && bend > 0)
                *at += sign * 0.125 * (after - before) * (after - before) / bend;
            before = here;
        }
    }
}

static double together(const struct ww_course *course, size_t index)
{
    double high = 0, low = 0;
    for (size_t p = 0; p < course->parts; p++) {
        high += course->high[index * course->parts + p];
        low += course->low[index * course->parts + p];
    }
    return fmax(high, 0 - low);
}

enum ww_status ww_course_solve(struct ww_course *course, const struct ww_fan *fan,
                               const struct ww_angles_request *request, struct ww_progress_run *progress,
                               struct ww_error *error)
{
    enum ww_status status = course_init(course, fan, request, error);
    ww_progress_part(progress, 0.45, course->count);
    if (!status)
        status = walk_all(course, fan, progress, error);
    if (status) {
        ww_course_clear(course);
        return status;
    }
    if (course->turn > 0) {
        raise_tops(course->high, course->count, course->parts, 1);
        raise_tops(course->low, course->count, course->parts, -1);
    }
    for (size_t i = 0; i < course->count; i++)
        course->worst = fmax(course->worst, together(course, i));
    return WW_OK;
}

/* The most and the least that one part reaches within the turn. */
static struct ww_reach within_turn(const struct ww_course *course, struct ww_look *look, size_t part, double angle)
{
    double first = (angle - course->turn - course->first) / course->step;
    double last = (angle + course->turn - course->first) / course->step;
    double a = fmax(ceil(first - ON_SAMPLE), 0), b = fmin(floor(last + ON_SAMPLE), (double)course->count - 1);
    struct ww_reach reach = {-INFINITY, INFINITY};
    for (size_t i = (size_t)a; i <= (size_t)b && a <= b; i++) {
        reach.high = fmax(reach.high, course->high[i * course->parts + part]);
        reach.low = fmin(reach.low, course->low[i * course->parts + part]);
    }
    for (int end = -1; end <= 1; end += 2) {
        double off = end < 0 ? a - first : last - b;
        if (off < ON_SAMPLE || (course->turn == 0 && end > 0))
            continue;
        ww_look_at(look, angle + end * course->turn);
        struct ww_reach there = added(look, part, course->pair);
        reach.high = fmax(reach.high, there.high);
        reach.low = fmin(reach.low, there.low);
    }
    return reach;
}

double ww_course_design(const struct ww_course *course, struct ww_look *look, double angle)
{
    double high = 0, low = 0;
    for (size_t p = 0; p < course->parts; p++) {
        struct ww_reach reach = within_turn(course, look, p, angle);
        high += reach.high;
        low += reach.low;
    }
    return fmax(high, 0 - low);
}
