/* windows.c - the angles that meet the budget.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The design figure is sampled as finely as the envelope; where it crosses the budget between two samples, the end of the
 * window is found by halving.
 */
#include <math.h>
#include <stdlib.h>

#include "sweep/angles.h"

#define HALVINGS 16
#define LEAST_WINDOW 1e-6 /* rad: less is a touch of the budget */
#define ACCURACY 0.005    /* of the envelope */

/* A figure to design by, and what it may be. */
struct limit {
    double (*design)(const struct ww_envelope *envelope, double angle);
    double budget;
};

/* The end of a window between an angle that is safe and one that is not. */
static double end_between(const struct ww_envelope *envelope, double safe, double unsafe, struct limit limit)
{
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (safe + unsafe);
        if (limit.design(envelope, middle) <= limit.budget)
            safe = middle;
        else
            unsafe = middle;
    }
    return safe;
}

static enum ww_status add(struct ww_window **window, size_t *windows, double from, double to, struct ww_error *error)
{
    if (!(to - from > LEAST_WINDOW))
        return WW_OK;
    struct ww_window *more = realloc(*window, (*windows + 1) * sizeof *more);
    if (!more)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu windows", *windows + 1);
    *window = more;
    more[(*windows)++] = (struct ww_window){from, to};
    return WW_OK;
}

/* Least turn away from the directions `direction` + k 180 deg to a window; < 0: there is none. */
static double safe_from(const struct ww_angles *angles, double direction)
{
    double least = -1;
    for (size_t i = 0; i < angles->windows; i++) {
        const struct ww_window *window = &angles->window[i];
        double first = direction + WW_PI * floor((window->from - direction) / WW_PI);
        for (double at = first; at < window->to + WW_PI; at += WW_PI) {
            double away = fmax(fmax(window->from - at, at - window->to), 0);
            least = least < 0 ? away : fmin(least, away);
        }
    }
    return least < LEAST_WINDOW && least > 0 ? 0 : least;
}

static enum ww_status find(struct ww_window **window, size_t *windows, const struct ww_envelope *envelope,
                           const struct ww_angles_request *request, struct limit limit, struct ww_error *error)
{
    double start = request->from, before = start;
    enum ww_status status = WW_OK;
    if (!(limit.budget > 0))
        return WW_OK;
    bool was_safe = limit.design(envelope, before) <= limit.budget;
    for (size_t i = 1; before < request->to && !status; i++) {
        double here = fmin(request->from + (double)i * envelope->step, request->to);
        bool safe = limit.design(envelope, here) <= limit.budget;
        if (safe && !was_safe)
            start = end_between(envelope, here, before, limit);
        if (!safe && was_safe)
            status = add(window, windows, start, end_between(envelope, before, here, limit), error);
        before = here;
        was_safe = safe;
    }
    if (was_safe && !status)
        status = add(window, windows, start, request->to, error);
    return status;
}

enum ww_status ww_windows_find(struct ww_angles *angles, const struct ww_envelope *envelope,
                               const struct ww_angles_request *request, const struct ww_line *line,
                               struct ww_error *error)
{
    const struct ww_skew_request *skew = &request->skew;
    struct ww_angles_conversion *conversion = &angles->conversion;
    double share = line ? 1 : 1 - ACCURACY;
    enum ww_status status = find(&angles->window, &angles->windows, envelope, request,
                                 (struct limit){ww_envelope_design, share * skew->budget}, error);
    if (!status && envelope->conversion)
        status = find(&conversion->window, &conversion->windows, envelope, request,
                      (struct limit){ww_envelope_conversion, share * skew->conversion}, error);
    if (!status && line)
        status = ww_windows_confirm(angles->window, &angles->windows, line, request, false, error);
    if (!status && line)
        status = ww_windows_confirm(conversion->window, &conversion->windows, line, request, true, error);
    angles->safe_from_warp = safe_from(angles, 0);
    angles->safe_from_fill = safe_from(angles, 0.5 * WW_PI);
    angles->safe_from_diagonal = safe_from(angles, 0.25 * WW_PI);
    return status;
}
