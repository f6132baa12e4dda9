/* report_answer.c - the question, the verdict, and the answer in three lines.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * In the words of somebody who lays out boards. What the study does not say (a budget, a rate) is not judged, and the
 * page says so.
 */
#include "report.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

/* --- numbers in words ------------------------------------------------------------------------------------------------- */

const char *words_time(struct words *words, double value)
{
    double ps = value * 1e12;
    snprintf(words->of, sizeof words->of, "%.*f ps", fabs(ps) < 0.995 ? 3 : fabs(ps) < 9.95 ? 2 : 1, ps);
    return words->of;
}

const char *words_number(struct words *words, double value, enum ww_dimension dimension, int digits)
{
    ww_number_format(words->of, sizeof words->of, value, dimension, digits);
    char *unit = strrchr(words->of, ' ');
    size_t room = unit ? sizeof words->of - (size_t)(unit - words->of) : 0;
    if (unit && strcmp(unit, " um") == 0)
        snprintf(unit, room, " \xc2\xb5m");
    else if (unit && strcmp(unit, " deg") == 0)
        snprintf(unit, room, "\xc2\xb0");
    return words->of;
}

const char *words_share(struct words *words, double share)
{
    double percent = 100.0 * share;
    if (percent > 0.0 && percent < 0.1)
        snprintf(words->of, sizeof words->of, "under 0.1 %%");
    else if (percent > 99.9 && percent < 100.0)
        snprintf(words->of, sizeof words->of, "over 99.9 %%");
    else
        snprintf(words->of, sizeof words->of, "%.*f %%", percent >= 100.0 ? 0 : 1, percent);
    return words->of;
}

/* To a tenth of a degree, upwards: whoever turns by so much is not short of it; and downwards. */
const char *words_angle_up(struct words *words, double angle)
{
    const double tenth = WW_PI / 1800.0, rounding = 1e-6;
    return words_number(words, ceil(angle / tenth - rounding) * tenth, WW_ANGLE, 4);
}

const char *words_angle_down(struct words *words, double angle)
{
    const double tenth = WW_PI / 1800.0, rounding = 1e-6;
    return words_number(words, floor(angle / tenth + rounding) * tenth, WW_ANGLE, 4);
}

const char *report_what_varies(const struct report *report)
{
    bool turn = report->job.study.turn > 0.0, count = report->job.study.count_tolerance > 0.0;
    return turn && count ? "turn and yarn count" : turn ? "turn" : count ? "yarn count" : "";
}

const char *report_tolerances(const struct report *report, char *out, size_t size)
{
    const struct ww_study *study = &report->job.study;
    struct words turn;
    bool by_turn = study->turn > 0.0, by_count = study->count_tolerance > 0.0;
    words_number(&turn, study->turn, WW_ANGLE, 3);
    out[0] = '\0';
    if (by_turn && by_count)
        snprintf(out, size, "the cloth up to %s off square and its yarn count up to %.3g %% off", turn.of,
                 100.0 * study->count_tolerance);
    else if (by_turn)
        snprintf(out, size, "the cloth up to %s off square", turn.of);
    else if (by_count)
        snprintf(out, size, "the cloth's yarn count up to %.3g %% off", 100.0 * study->count_tolerance);
    return out;
}

/* Append; what does not fit is cut. */
static void WW_PRINTF(2, 3) add(char *line, const char *format, ...)
{
    size_t used = strlen(line);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line + used, ANSWER_SIZE - used, format, arguments);
    va_end(arguments);
}

/* --- the question ------------------------------------------------------------------------------------------------------- */

double report_judged(const struct report *report)
{
    const struct ww_skew *skew = &report->kernel.skew;
    double worst = skew->pair ? skew->worst : skew->spread;
    return fmax(worst, skew->worst_with_turn);
}

static void say_question(const struct report *report, char *line)
{
    const struct ww_study *study = &report->job.study;
    struct words budget;
    add(line, "Nobody controls where the woven glass lies under a trace. %s",
        report->kernel.skew.pair ? "How far apart can it make the two legs of this pair arrive"
                                 : "By how much can two equal traces of this kind on one board differ in delay");
    if (study->budget > 0.0)
        add(line, ", and is that within the budget of %s", words_time(&budget, study->budget));
    add(line, "?");
}

static void say_verdict(const struct report *report, char *line)
{
    struct words found, budget;
    double limit = report->job.study.budget, judged = report_judged(report);
    words_time(&found, judged);
    words_time(&budget, limit);
    if (!(limit > 0.0))
        add(line, "No budget is given, so nothing is judged: at worst %s", found.of);
    else if (judged > limit)
        add(line, "\xe2\x9c\x97 Misses the budget: %s at worst, %s allowed", found.of, budget.of);
    else
        add(line, "\xe2\x9c\x93 Meets the budget: %s at worst, %s allowed", found.of, budget.of);
}

/* --- how bad, how likely -------------------------------------------------------------------------------------------------- */

static void add_terms(const struct report *report, double value, char *line)
{
    struct ww_skew_request request = ww_study_request(&report->job.study);
    struct ww_skew_terms terms = ww_skew_terms(value, request.frequency, request.rate);
    struct words share, rate, frequency;
    if (request.rate > 0.0)
        add(line, ", %s of the unit interval at ", words_share(&share, terms.unit_interval_share));
    if (request.rate > 0.0 && report->job.study.levels > 2)
        add(line, "%.4g GBd, %s with %zu levels", request.rate * 1e-9,
            words_number(&rate, report->job.study.rate, WW_RATE, 4), report->job.study.levels);
    else if (request.rate > 0.0)
        add(line, "%s", words_number(&rate, report->job.study.rate, WW_RATE, 4));
    if (request.frequency > 0.0)
        add(line, "%s %.*f\xc2\xb0 of phase at %s", request.rate > 0.0 ? " and" : ",", terms.degrees < 10.0 ? 1 : 0,
            terms.degrees, words_number(&frequency, request.frequency, WW_FREQUENCY, 4));
}

static void say_how_bad(const struct report *report, char *line)
{
    const struct ww_study *study = &report->job.study;
    struct words worst, budget, by;
    char tolerances[TOLERANCES_SIZE];
    double judged = report_judged(report);
    bool pair = report->kernel.skew.pair;
    words_time(&worst, judged);
    if (pair)
        add(line, "In the worst placement one leg arrives %s after the other", worst.of);
    else
        add(line, "In the worst placements one trace is %s slower than the other", worst.of);
    add_terms(report, judged, line);
    if (report_tolerances(report, tolerances, sizeof tolerances)[0])
        add(line, "; that is with %s", tolerances);
    words_time(&budget, study->budget);
    if (!(study->budget > 0.0))
        add(line, ". The study gives no budget to hold that against.");
    else if (judged > study->budget)
        add(line, ". That is %.1f times the budget of %s, over by %s.", judged / study->budget, budget.of,
            words_time(&by, judged - study->budget));
    else
        add(line, ". That leaves %s of the budget of %s.", words_time(&by, study->budget - judged), budget.of);
}

static void add_tolerant(const struct report *report, char *line)
{
    const struct ww_skew *skew = &report->kernel.skew;
    const struct ww_study *study = &report->job.study;
    struct words share, all;
    if (study->turn > 0.0 || study->count_tolerance > 0.0)
        add(line, "; with %s at random as well, %s", report_what_varies(report),
            words_share(&share, skew->tolerant_over_budget));
    if (study->lanes > 1)
        add(line, ". All %zu lanes of a board meet it with a chance of %s", study->lanes,
            words_share(&all, skew->yield));
}

static void say_how_likely(const struct report *report, char *line)
{
    const struct ww_skew *skew = &report->kernel.skew;
    const struct ww_study *study = &report->job.study;
    struct words median, p99, share;
    if (skew->pair)
        add(line, "Half of all placements stay below %s, 99 of 100 below %s", words_time(&median, skew->median),
            words_time(&p99, skew->p99));
    else
        add(line, "One trace is within %s of its mean delay in half of all placements, within %s in 99 of 100",
            words_time(&median, skew->median), words_time(&p99, skew->p99));
    if (study->budget > 0.0 && skew->over_budget > 0.0) {
        add(line, ". %s of %s exceed the budget", words_share(&share, skew->over_budget),
            skew->pair ? "them" : "the pairs of such traces");
        add_tolerant(report, line);
    } else if (study->budget > 0.0) {
        add(line, "; none exceeds the budget");
    }
    add(line, ".");
}

/* --- what to do ------------------------------------------------------------------------------------------------------------- */

/* The angle in a safe window that is nearest to the study's, to a tenth of a degree inwards; false if there is none. */
static bool nearest_safe(const struct report *report, double *angle)
{
    const struct ww_angles *angles = &report->angles.angles;
    const double tenth = WW_PI / 1800.0, rounding = 1e-6;
    double own = report->job.study.angle, best = HUGE_VAL;
    for (size_t i = 0; i < angles->windows; i++) {
        double from = ceil(angles->window[i].from / tenth - rounding) * tenth;
        double to = floor(angles->window[i].to / tenth + rounding) * tenth;
        double nearest = fmin(fmax(own, from), to);
        if (from <= to && fabs(nearest - own) < best) {
            best = fabs(nearest - own);
            *angle = nearest;
        }
    }
    return isfinite(best);
}

static void add_turn(const struct report *report, char *line)
{
    const struct ww_angles *angles = &report->angles.angles;
    struct words by, to, from_angle, to_angle;
    double angle = 0.0, own = report->job.study.angle;
    if (angles->count == 0)
        return;
    if (nearest_safe(report, &angle))
        add(line, "Turn the route by at least %s, to %s from the warp: there every placement meets the budget%s. ",
            words_number(&by, fabs(angle - own), WW_ANGLE, 4), words_number(&to, angle, WW_ANGLE, 4),
            report->job.study.turn > 0.0 ? ", and the cloth may still lie off square" : "");
    else
        add(line, "No routing angle from %s to %s meets the budget at this length. ",
            words_number(&from_angle, angles->at[0].angle, WW_ANGLE, 4),
            words_number(&to_angle, angles->at[angles->count - 1].angle, WW_ANGLE, 4));
}

/* The glass with the least worst, where it is not the study's own. */
static void add_glass(const struct report *report, char *line)
{
    struct words worst;
    double budget = report->job.study.budget;
    if (!report_has_comparison(report))
        return;
    const struct ww_compared *best = &report->comparison.of[0];
    double judged = fmax(best->skew.worst_with_turn, best->skew.pair ? best->skew.worst : best->skew.spread);
    size_t tried = report_tried(report);
    words_time(&worst, judged);
    if (report_is_own(report, best->name) && report->job.study.stack.plies == 1)
        add(line, "Of the %zu glasses tried none is better than the study's own. ", tried);
    else if (budget > 0.0 && judged > budget)
        add(line, "None of the %zu glasses tried meets the budget by itself; %s in every ply has the least, %s. ",
            tried, best->name, worst.of);
    else
        add(line, "Of the %zu glasses tried %s in every ply has the least, %s%s. ", tried, best->name, worst.of,
            budget > 0.0 ? ", which meets the budget" : "");
}

/* A null is as safe as the two that lose it: what each leaves is said. */
static void add_pitch(const struct report *report, char *line)
{
    const struct ww_null *null = report_null(report);
    const struct ww_pitch *pitch = &report->pitch;
    struct words at, worst;
    char tolerances[TOLERANCES_SIZE];
    if (!null)
        return;
    double off = report_null_off(pitch, 0.01);
    add(line, "With the legs %s apart, centre to centre, and %.0f \xce\xa9 differential, %s is left",
        words_number(&at, null->pitch, WW_LENGTH, 4), null->impedance, words_time(&worst, null->worst));
    if (report_tolerances(report, tolerances, sizeof tolerances)[0])
        add(line, ", %s with %s", words_time(&worst, pitch->null_with_turn), tolerances);
    add(line, "; where the yarn count is 1 %% off, %s. ", words_time(&worst, off));
}

static void say_what_to_do(const struct report *report, char *line)
{
    const struct ww_study *study = &report->job.study;
    if (study->budget > 0.0 && report_judged(report) <= study->budget) {
        add(line, "Nothing has to change for the weave's sake. ");
        return;
    }
    if (study->budget > 0.0)
        add_turn(report, line);
    else
        add(line, "Settle a budget and put it into the study as 'budget' in [signal]. ");
    add_glass(report, line);
    add_pitch(report, line);
}

void report_say(struct report *report)
{
    struct answer *answer = &report->answer;
    *answer = (struct answer){.question = ""};
    say_question(report, answer->question);
    say_verdict(report, answer->verdict);
    say_how_bad(report, answer->how_bad);
    say_how_likely(report, answer->how_likely);
    say_what_to_do(report, answer->what_to_do);
    size_t length = strlen(answer->what_to_do);
    if (length > 0 && answer->what_to_do[length - 1] == ' ')
        answer->what_to_do[length - 1] = '\0';
}
