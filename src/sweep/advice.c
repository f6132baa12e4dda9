/* advice.c - angles to recommend: each is solved as ww_skew_solve has it before it is told.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Windows come from tables that are good to 0.5 %. So their ends are rounded inwards to TENTH, the angle that somebody types,
 * and solved there in full with the tolerances of turn and counts; an end that fails moves inwards. The angle to use is, of
 * the window nearest to the study's own angle, the one with the least turn that is ENOUGH times within the budget, or NEARLY
 * as good as any of the window.
 */
#include <math.h>
#include <string.h>

#include "sweep/angles.h"

#define TENTH (WW_PI / 1800) /* [rad] */
#define ON_TENTH 1e-6        /* of it */
#define MOST_MOVES 8         /* of an end, inwards by a tenth each */
#define NEARLY 1.25          /* times the least design worst of the window */
#define ENOUGH 5.0           /* times within the budget: more is not worth a longer turn */
#define ROUNDING 1e-9        /* of a budget: the angle in degrees may differ in its last digit */

/* The design worst and conversion at one angle. */
static enum ww_status solve_at(const struct ww_line *line, const struct ww_angles_request *request, double angle,
                               double *worst, double *conversion, struct ww_error *error)
{
    struct ww_skew_request skew = request->skew;
    struct ww_skew answer;
    skew.angle = angle;
    skew.design_only = true;
    enum ww_status status = ww_skew_solve(&answer, line, &skew, error);
    *worst = fmax(answer.worst, answer.worst_with_turn);
    *conversion = answer.conversion.worst_with_turn;
    ww_skew_clear(&answer);
    return status;
}

static bool within(double value, double budget)
{
    return value <= budget * (1 - ROUNDING);
}

/* Moves one end of a window, from `at` by `step` a time, until it holds. */
static enum ww_status confirm_end(double *at, double step, const struct ww_line *line,
                                  const struct ww_angles_request *request, bool of_conversion, bool *holds,
                                  struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *holds = false;
    for (int i = 0; i < MOST_MOVES && !*holds && !status; i++) {
        double worst, conversion;
        status = solve_at(line, request, *at, &worst, &conversion, error);
        *holds = of_conversion ? within(conversion, request->skew.conversion) : within(worst, request->skew.budget);
        *at += *holds ? 0 : step;
    }
    return status;
}

enum ww_status ww_windows_confirm(struct ww_window *window, size_t *windows, const struct ww_line *line,
                                  const struct ww_angles_request *request, bool of_conversion, struct ww_error *error)
{
    size_t kept = 0;
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < *windows && !status; i++) {
        struct ww_window here = window[i];
        bool from_holds = false, to_holds = false;
        if (here.from > request->from)
            here.from = ceil(here.from / TENTH - ON_TENTH) * TENTH + 0.0;
        if (here.to < request->to)
            here.to = floor(here.to / TENTH + ON_TENTH) * TENTH + 0.0;
        if (here.to - here.from < request->step * (1 - ON_TENTH))
            continue;
        status = confirm_end(&here.from, TENTH, line, request, of_conversion, &from_holds, error);
        if (!status && from_holds)
            status = confirm_end(&here.to, -TENTH, line, request, of_conversion, &to_holds, error);
        if (to_holds && here.to - here.from >= request->step * (1 - ON_TENTH))
            window[kept++] = here;
    }
    *windows = kept;
    return status;
}

/* --- the angle to use ------------------------------------------------------------------------------------------------------- */

static bool converts_little(const struct ww_envelope *envelope, const struct ww_angles_request *request, double angle)
{
    double budget = request->skew.conversion;
    return !(budget > 0) || !envelope->conversion || ww_envelope_conversion(envelope, angle) <= budget;
}

/* The least design worst at the tenths of a window that meet all budgets; infinite where there is none. */
static double least_in(const struct ww_window *window, const struct ww_envelope *envelope,
                       const struct ww_angles_request *request)
{
    double least = INFINITY;
    for (double k = ceil(window->from / TENTH - ON_TENTH); k * TENTH <= window->to + ON_TENTH * TENTH; k++)
        if (converts_little(envelope, request, k * TENTH))
            least = fmin(least, ww_envelope_design(envelope, k * TENTH));
    return least;
}

/* The tenth of the window nearest to `own` whose design worst is up to `most`. */
static double nearest_to(double own, const struct ww_window *window, const struct ww_envelope *envelope,
                         const struct ww_angles_request *request, double most)
{
    double best = window->from, away = INFINITY;
    for (double k = ceil(window->from / TENTH - ON_TENTH); k * TENTH <= window->to + ON_TENTH * TENTH; k++) {
        double angle = k * TENTH + 0.0;
        if (fabs(angle - own) >= away || !converts_little(envelope, request, angle) ||
            ww_envelope_design(envelope, angle) > most)
            continue;
        best = angle;
        away = fabs(angle - own);
    }
    return best;
}

/* The window nearest to `own` in which all budgets can be met, and its least; NULL: there is none. */
static const struct ww_window *choose_window(const struct ww_angles *angles, double own,
                                             const struct ww_envelope *envelope,
                                             const struct ww_angles_request *request, double *least)
{
    const struct ww_window *nearest = NULL;
    double away = INFINITY;
    for (size_t i = 0; i < angles->windows; i++) {
        const struct ww_window *window = &angles->window[i];
        double by = fmax(fmax(window->from - own, own - window->to), 0), here = least_in(window, envelope, request);
        if (by >= away || !isfinite(here))
            continue;
        nearest = window;
        away = by;
        *least = here;
    }
    return nearest;
}

enum ww_status ww_angles_advise(struct ww_angles *angles, const struct ww_envelope *envelope,
                                const struct ww_line *line, const struct ww_angles_request *request,
                                struct ww_error *error)
{
    struct ww_angle_advice *advice = &angles->advice;
    double least = 0, conversion = 0, own = request->skew.angle;
    own += WW_PI * ceil((request->from - own) / WW_PI - ON_TENTH); /* angles repeat every 180 deg */
    const struct ww_window *window = choose_window(angles, own, envelope, request, &least);
    memset(advice, 0, sizeof *advice);
    if (!window)
        return WW_OK;
    advice->window = *window;
    advice->angle = nearest_to(own, window, envelope, request, fmax(NEARLY * least, request->skew.budget / ENOUGH));
    enum ww_status status = solve_at(line, request, advice->angle, &advice->worst, &conversion, error);
    advice->found = !status && within(advice->worst, request->skew.budget) &&
                    (!(request->skew.conversion > 0) || within(conversion, request->skew.conversion));
    if (advice->found)
        status = solve_at(line, request, advice->angle + 0.5 * WW_PI, &advice->across, &conversion, error);
    return status;
}
