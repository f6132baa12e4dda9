/* sentences.c - what a sweep over angle and a verification come to, each in a sentence.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "report/words.h"

#define DEG (WW_PI / 180.0)

enum { WINDOWS_TOLD = 3, NOT_COVERED_SIZE = 512 };

static const double rounding = 1e-9; /* [rad] */

/* --- over angle ---------------------------------------------------------------------------------------------------------- */

/* To a tenth of a degree, in degrees. */
static double up(double angle)
{
    return ww_angle_up(angle) / DEG;
}

static double down(double angle)
{
    return ww_angle_down(angle) / DEG;
}

/* Is there an angle `direction` + k 180 deg in the range? */
static bool has_direction(const struct ww_angles *angles, double direction)
{
    double from = angles->at[0].angle, to = angles->at[angles->count - 1].angle;
    return direction + WW_PI * ceil((from - direction) / WW_PI - rounding) <= to + rounding;
}

static const struct ww_at_angle *least_of(const struct ww_angles *angles)
{
    const struct ww_at_angle *least = angles->at;
    for (size_t i = 1; i < angles->count; i++)
        least = angles->at[i].design < least->design ? &angles->at[i] : least;
    return least;
}

static const struct ww_at_angle *most_of(const struct ww_angles *angles)
{
    const struct ww_at_angle *most = angles->at;
    for (size_t i = 1; i < angles->count; i++)
        most = angles->at[i].design > most->design ? &angles->at[i] : most;
    return most;
}

static bool all_safe(const struct ww_angles *angles)
{
    return angles->windows == 1 && angles->window[0].from <= angles->at[0].angle + rounding &&
           angles->window[0].to >= angles->at[angles->count - 1].angle - rounding;
}

static void add_windows(const struct ww_angles *angles, char *out, size_t size)
{
    for (size_t i = 0; i < angles->windows && i < WINDOWS_TOLD; i++) {
        const struct ww_window *window = &angles->window[i];
        const char *joint = i == 0 ? "" : i + 1 == angles->windows ? " and " : ", ";
        double from = up(window->from), to = down(window->to);
        if (from < to)
            ww_words_add(out, size, "%s%.1f to %.1f deg", joint, from, to);
        else
            ww_words_add(out, size, "%s%.3f deg", joint, 0.5 * (window->from + window->to) / DEG);
    }
    if (angles->windows > WINDOWS_TOLD)
        ww_words_add(out, size, " and %zu more", angles->windows - WINDOWS_TOLD);
}

/* How far to keep from the yarns. */
static void add_yarns(const struct ww_angles *angles, char *out, size_t size)
{
    bool warp = has_direction(angles, 0.0), fill = has_direction(angles, 0.5 * WW_PI);
    bool from_warp = warp && angles->safe_from_warp > 0.0, from_fill = fill && angles->safe_from_fill > 0.0;
    if (from_warp && from_fill)
        ww_words_add(out, size, "Turn at least %.1f deg away from the warp and %.1f deg from the fill",
                     up(angles->safe_from_warp), up(angles->safe_from_fill));
    else if (from_warp)
        ww_words_add(out, size, "Turn at least %.1f deg away from the warp%s", up(angles->safe_from_warp),
                     fill ? "; the fill is safe" : "");
    else if (from_fill)
        ww_words_add(out, size, "Turn at least %.1f deg away from the fill%s", up(angles->safe_from_fill),
                     warp ? "; the warp is safe" : "");
    else if (warp || fill)
        ww_words_add(out, size, "%s safe", warp && fill ? "Warp and fill are" : warp ? "The warp is" : "The fill is");
}

static void add_diagonal(const struct ww_angles *angles, char *out, size_t size)
{
    if (!has_direction(angles, 0.25 * WW_PI))
        return;
    ww_words_add(out, size, "%s45 deg is ", out[0] ? "; " : "");
    if (angles->safe_from_diagonal > 0.0)
        ww_words_add(out, size, "not safe: turn at least %.1f deg away from it", up(angles->safe_from_diagonal));
    else
        ww_words_add(out, size, "safe");
}

/* The angle to use, its window, its margin, and what it does to traces across. */
static void add_advice(const struct ww_angles *angles, char *out, size_t size)
{
    const struct ww_angle_advice *advice = &angles->advice;
    if (!advice->found)
        return;
    ww_words_add(out, size,
                 " Use %.1f to %.1f deg from the warp; at %.1f deg the worst is %.3g ps, %.3g times within %g ps.",
                 up(advice->window.from), down(advice->window.to), advice->angle / DEG, advice->worst * 1e12,
                 angles->budget / advice->worst, angles->budget * 1e12);
    ww_words_add(out, size, " Traces across it, turned as much from the fill, have %.3g ps and %s.",
                 advice->across * 1e12, advice->across <= angles->budget ? "hold, too" : "do not hold");
}

char *ww_words_angles(const struct ww_angles *angles, char *out, size_t size)
{
    double from = angles->at[0].angle / DEG, to = angles->at[angles->count - 1].angle / DEG;
    double budget = angles->budget * 1e12;
    const struct ww_at_angle *least = least_of(angles), *most = most_of(angles);
    out[0] = '\0';
    if (!(budget > 0.0)) {
        ww_words_add(out, size,
                     "There is no budget to judge by: designing for the turn of the cloth, the least is %.3g ps at "
                     "%.1f deg and the most %.3g ps at %.1f deg.",
                     least->design * 1e12, least->angle / DEG, most->design * 1e12, most->angle / DEG);
    } else if (angles->windows == 0) {
        ww_words_add(out, size,
                     "No angle from %g to %g deg meets the budget of %g ps: the least is %.3g ps at %.1f deg.", from,
                     to, budget, least->design * 1e12, least->angle / DEG);
    } else if (all_safe(angles)) {
        ww_words_add(out, size,
                     "Every angle from %g to %g deg meets the budget of %g ps; the most is %.3g ps at %.1f deg.",
                     from, to, budget, most->design * 1e12, most->angle / DEG);
    } else {
        add_yarns(angles, out, size);
        add_diagonal(angles, out, size);
        if (angles->windows > 1 || !out[0]) {
            ww_words_add(out, size, "%s", out[0] ? "; in all, safe are " : "Safe are ");
            add_windows(angles, out, size);
        }
        ww_words_add(out, size, ".");
        add_advice(angles, out, size);
    }
    return out;
}

/* --- how far apart --------------------------------------------------------------------------------------------------------- */

/* What a yarn count of the cloth that is off moves a distance by; where the study counts it in already, nothing. */
static void add_count(const struct ww_study *study, double distance, char *out, size_t size)
{
    if (study->warp_tolerance == 0.0 && study->fill_tolerance == 0.0)
        ww_words_add(out, size,
                     " This takes the yarn count as woven to the letter: a count 1 %% off moves the yarns by %.0f um "
                     "over that "
                     "distance.",
                     distance * 1e4);
}

static void add_feeds(const struct ww_study *study, const struct ww_skew *skew, const struct ww_spacing *s, char *out,
                      size_t size)
{
    const double gain = 0.5,
                 good = 0.1; /* of what there is now; of independent places, below which nothing need be said */
    size_t told = 0, last = 0;
    if (skew->worst_with_turn < good * s->apart_with_turn)
        return;
    for (size_t i = 0; i < s->nulls; i++) {
        if (!(s->null[i].with_turn < gain * skew->worst_with_turn))
            continue;
        if (told++ > 0)
            ww_words_add(out, size, ", ");
        else if (study->spacing > 0.0)
            ww_words_add(out, size, "Near %.4g mm two feeds on one cloth differ least ", study->spacing * 1e3);
        else
            ww_words_add(out, size, "Two feeds on one cloth differ least ");
        ww_words_add(out, size, "%.4g mm (", s->null[i].spacing * 1e3);
        if (s->null[i].yarns > 0.0)
            ww_words_add(out, size, "%.0f yarn pitch%s, ", s->null[i].yarns, s->null[i].yarns > 1.0 ? "es" : "");
        ww_words_add(out, size, "%.2g ps)", s->null[i].with_turn * 1e12);
        last = i;
    }
    if (told == 0)
        return;
    ww_words_add(out, size, " apart, %s; %s it is %.3g ps.",
                 ww_words_varies(study)[0] ? "tolerances of the cloth included" : "cloth square",
                 study->spacing > 0.0 ? "at the study's spacing" : "with places independent",
                 skew->worst_with_turn * 1e12);
    add_count(study, s->null[last].spacing, out, size);
}

static void add_lanes(const struct ww_study *study, const struct ww_skew *skew, const struct ww_spacing *s, char *out,
                      size_t size)
{
    const double gain = 0.01; /* of yield */
    if (!(s->best_pitch > 0.0 && s->best_yield > skew->yield + gain))
        return;
    ww_words_add(
        out, size,
        "%sAt a lane pitch of %.4g mm on one cloth all %zu lanes meet the budget on %.1f %% of boards; %s it is "
        "%.1f %%.",
        out[0] ? " " : "", s->best_pitch * 1e3, s->lanes, 100.0 * s->best_yield,
        study->lane_pitch > 0.0 ? "at the study's" : "with places independent", 100.0 * skew->yield);
    add_count(study, (double)(s->lanes - 1) * s->best_pitch, out, size);
}

char *ww_words_spacing(const struct ww_study *study, const struct ww_skew *skew, const struct ww_spacing *spacing,
                       char *out, size_t size)
{
    out[0] = '\0';
    add_feeds(study, skew, spacing, out, size);
    add_lanes(study, skew, spacing, out, size);
    return out;
}

/* --- the range of the model ------------------------------------------------------------------------------------------------ */

char *ww_words_limits(const struct ww_line_limits *limits, double frequency, char *out, size_t size)
{
    struct ww_words at, period;
    out[0] = '\0';
    if (limits->higher_mode > 0.0 && frequency > limits->higher_mode)
        ww_words_add(out, size, "Above %s a higher mode of the line propagates, and only the first is solved. ",
                     ww_words_number(&at, limits->higher_mode, WW_FREQUENCY, 3));
    if (limits->surface_wave > 0.0 && frequency > limits->surface_wave)
        ww_words_add(out, size, "Above %s the line couples to a surface wave of its substrate and radiates. ",
                     ww_words_number(&at, limits->surface_wave, WW_FREQUENCY, 3));
    if (limits->dispersion > 0.0 && frequency > limits->dispersion)
        ww_words_add(out, size,
                     "Above %s the formula of dispersion is not stated: delay and skew are static there, and over "
                     "frequency its last factors are held. ",
                     ww_words_number(&at, limits->dispersion, WW_FREQUENCY, 3));
    if (limits->cell > 0.0 && frequency > limits->cell)
        ww_words_add(out, size,
                     "Above %s the yarn period of %s is more than a quarter of the guided wavelength: what the glass "
                     "does is off by 3 %% and more, for the field about the yarns is taken as static. ",
                     ww_words_number(&at, limits->cell, WW_FREQUENCY, 3),
                     ww_words_number(&period, limits->yarn_period, WW_LENGTH, 3));
    size_t length = strlen(out);
    if (length > 0)
        out[length - 1] = '\0';
    return out;
}

/* --- the error bar --------------------------------------------------------------------------------------------------------- */

char *ww_words_error_bar(const struct ww_study *study, const struct ww_verify *verify, char *out, size_t size)
{
    static const char *const against[WW_AGAINSTS] = {"sections solved in full", "the volume solved in full",
                                                     "the limit of ever finer grids"};
    char not_covered[NOT_COVERED_SIZE];
    double largest = verify->error[verify->largest];
    snprintf(
        out, size,
        "The error bar on the worst %s of %.2f ps is %.3f ps, %.2f %%: the largest difference found, against %s; "
        "it does not cover %s.",
        verify->pair ? "skew" : "difference", verify->worst * 1e12, largest * 1e12,
        verify->worst != 0.0 ? 100.0 * largest / verify->worst : 0.0, against[verify->largest],
        ww_verify_not_covered(study, not_covered, sizeof not_covered));
    return out;
}
