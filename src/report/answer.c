/* answer.c - the question, the verdict, and the answer in three lines.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * In the words of somebody who lays out boards. What the study does not say (a budget, a rate) is not judged, and the
 * page says so.
 */
#include "report/sections.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

static void WW_PRINTF(2, 3) add(char *line, const char *format, ...)
{
    size_t used = strlen(line);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line + used, WW_ANSWER_SIZE - used, format, arguments);
    va_end(arguments);
}

/* --- the question ------------------------------------------------------------------------------------------------------- */

double ww_report_judged(const struct ww_report *report)
{
    return ww_judged(report->skew, report->arms);
}

bool ww_report_converts_too_much(const struct ww_report *report)
{
    double limit = ww_study_request(report->study).conversion;
    return limit > 0.0 && report->skew->conversion.worst_with_turn > limit;
}

static void say_question(const struct ww_report *report, char *line)
{
    const struct ww_study *study = report->study;
    struct ww_words budget;
    char where[WW_CELL_SIZE];
    add(line, "Nobody controls where the woven glass lies under a trace. ");
    if (ww_arms_are_judged(report->arms))
        add(line,
            report->skew->pair ? "By how much can it skew the worst of the %zu pairs of this feed, on one cloth"
                               : "How far apart can it set the delays of the %zu arms of this feed, on one cloth",
            report->arms->count);
    else if (report->skew->pair)
        add(line, "How far apart can it make the two legs of this pair arrive");
    else
        add(line, "By how much can two equal traces of this kind, %s, differ in delay",
            ww_words_feeds(study, where, sizeof where));
    if (study->budget > 0.0)
        add(line, ", and is that within the budget of %s", ww_words_time(&budget, study->budget));
    add(line, "?");
}

static void say_verdict(const struct ww_report *report, char *line)
{
    struct ww_words found, budget;
    double limit = report->study->budget, judged = ww_report_judged(report);
    ww_words_time(&found, judged);
    ww_words_time(&budget, limit);
    if (!(limit > 0.0))
        add(line, "No budget is given, so nothing is judged: at worst %s", found.of);
    else if (judged > limit)
        add(line, "\xe2\x9c\x97 Misses the budget: %s at worst, %s allowed", found.of, budget.of);
    else
        add(line, "\xe2\x9c\x93 Meets the budget: %s at worst, %s allowed", found.of, budget.of);
    if (ww_report_converts_too_much(report))
        add(line, ". \xe2\x9c\x97 Mode conversion misses its budget: %s at worst, %s allowed",
            ww_words_level(&found, report->skew->conversion.worst_with_turn),
            ww_words_level(&budget, ww_study_request(report->study).conversion));
}

/* --- how bad, how likely -------------------------------------------------------------------------------------------------- */

static void add_terms(const struct ww_report *report, double value, char *line)
{
    struct ww_skew_request request = ww_study_request(report->study);
    struct ww_skew_terms terms = ww_skew_terms(value, request.frequency, request.rate);
    struct ww_words share, rate, frequency;
    if (request.rate > 0.0)
        add(line, ", %s of the unit interval at ", ww_words_share(&share, terms.unit_interval_share));
    if (request.rate > 0.0 && report->study->levels > 2)
        add(line, "%.4g GBd, %s with %zu levels", request.rate * 1e-9,
            ww_words_number(&rate, report->study->rate, WW_RATE, 4), report->study->levels);
    else if (request.rate > 0.0)
        add(line, "%s", ww_words_number(&rate, report->study->rate, WW_RATE, 4));
    if (request.frequency > 0.0)
        add(line, "%s %.*f\xc2\xb0 of phase at %s", request.rate > 0.0 ? " and" : ",", terms.degrees < 10.0 ? 1 : 0,
            terms.degrees, ww_words_number(&frequency, request.frequency, WW_FREQUENCY, 4));
}

/* What the pair converts, where that is asked. */
static void add_conversion(const struct ww_report *report, char *line)
{
    const struct ww_conversion *conversion = &report->skew->conversion;
    double limit = ww_study_request(report->study).conversion;
    struct ww_words level, frequency, budget;
    if (!(conversion->frequency > 0.0))
        return;
    add(line, " Of the odd mode %s arrives as even mode at %s, at worst",
        ww_words_level(&level, conversion->worst_with_turn),
        ww_words_number(&frequency, conversion->frequency, WW_FREQUENCY, 4));
    if (limit > 0.0)
        add(line, "; %s allowed: that %s", ww_words_level(&budget, limit),
            conversion->worst_with_turn > limit ? "misses" : "meets");
    add(line, ".");
}

static void say_how_bad(const struct ww_report *report, char *line)
{
    const struct ww_study *study = report->study;
    struct ww_words worst, budget, by;
    char tolerances[WW_TOLERANCES_SIZE];
    double judged = ww_report_judged(report);
    bool pair = report->skew->pair;
    ww_words_time(&worst, judged);
    if (pair)
        add(line, "In the worst placement one leg arrives %s after the other", worst.of);
    else if (ww_arms_are_judged(report->arms))
        add(line, "In the worst placement arms %s and %s differ by %s", report->arms->name[report->arms->between[0]],
            report->arms->name[report->arms->between[1]], worst.of);
    else
        add(line, "In the worst placements one trace is %s slower than the other", worst.of);
    add_terms(report, judged, line);
    if (ww_words_tolerances(report->study, tolerances, sizeof tolerances)[0])
        add(line, "; that is with %s", tolerances);
    ww_words_time(&budget, study->budget);
    if (!(study->budget > 0.0))
        add(line, ". The study gives no budget to hold that against.");
    else if (judged > study->budget)
        add(line, ". That is %.1f times the budget of %s, over by %s.", judged / study->budget, budget.of,
            ww_words_time(&by, judged - study->budget));
    else
        add(line, ". That leaves %s of the budget of %s.", ww_words_time(&by, study->budget - judged), budget.of);
    if (report->skew->mismatch != 0.0)
        add(line, " The legs' own lengths at the bends differ by %s, which is %s.",
            ww_words_time(&by, fabs(report->skew->mismatch)),
            report->study->compensated ? "compensated and not in it" : "in it");
    add_conversion(report, line);
}

static void add_tolerant(const struct ww_report *report, char *line)
{
    const struct ww_skew *skew = report->skew;
    const struct ww_study *study = report->study;
    struct ww_words share, all;
    char where[WW_CELL_SIZE];
    if (ww_words_varies(study)[0])
        add(line, "; with %s at random as well, %s", ww_words_varies(report->study),
            ww_words_share(&share, skew->tolerant_over_budget));
    if (study->lanes > 1)
        add(line, ". All %zu lanes of a board%s%s%s, %s, meet it with a chance of %s", study->lanes,
            ww_words_varies(study)[0] ? " (of the same " : "", ww_words_varies(study),
            ww_words_varies(study)[0] ? ")" : "", ww_words_lanes(study, where, sizeof where),
            ww_words_share(&all, skew->yield));
}

/* With what else differs: the whole, and its leading cause. */
static void add_budget(const struct ww_report *report, char *line)
{
    char text[WW_ANSWER_SIZE];
    if (ww_report_has_budget(report))
        add(line, " With all that [tolerance] gives: %s", ww_words_budget(report->budget, text, sizeof text));
}

/* Of arms by name, the set. */
static void say_how_likely_arms(const struct ww_report *report, char *line)
{
    const struct ww_arms *arms = report->arms;
    struct ww_words median, p99, share;
    add(line, "Half of all boards keep %s below %s, 99 of 100 below %s",
        arms->pair ? "the largest skew of the arms" : "the arms' spread", ww_words_time(&median, arms->median),
        ww_words_time(&p99, arms->p99));
    if (report->study->budget > 0.0)
        add(line, "; all arms meet the budget on %s of boards", ww_words_share(&share, arms->yield));
    add(line, ".");
    add_budget(report, line);
}

static void say_how_likely(const struct ww_report *report, char *line)
{
    const struct ww_skew *skew = report->skew;
    const struct ww_study *study = report->study;
    struct ww_words median, p99, share;
    if (ww_arms_are_judged(report->arms)) {
        say_how_likely_arms(report, line);
        return;
    }
    if (skew->pair)
        add(line, "Half of all placements stay below %s, 99 of 100 below %s", ww_words_time(&median, skew->median),
            ww_words_time(&p99, skew->p99));
    else
        add(line, "Half of all pairs of such traces differ by less than %s, 99 of 100 by less than %s",
            ww_words_time(&median, skew->median), ww_words_time(&p99, skew->p99));
    if (study->budget > 0.0 && skew->over_budget > 0.0) {
        add(line, ". %s of %s exceed the budget", ww_words_share(&share, skew->over_budget),
            skew->pair ? "them" : "the pairs");
        add_tolerant(report, line);
    } else if (study->budget > 0.0) {
        add(line, "; none exceeds the budget");
    }
    add(line, ".");
    add_budget(report, line);
}

/* --- what to do ------------------------------------------------------------------------------------------------------------- */

/* What a turn costs: the most that the cloth reflects at that angle, up to the signal's frequency; where it is little, nothing. */
static void add_reflection(const struct ww_report *report, double angle, char *line)
{
    const double little = 0.1; /* -20 dB */
    const struct ww_notch_map *map = report->notches;
    struct ww_words top, at;
    if (!map || map->angles == 0 || !report->spectrum)
        return;
    double last = map->frequency[map->points - 1], signal = report->spectrum->at;
    double highest = signal > 0.0 && signal < last ? signal : last;
    struct ww_notch_peak peak = ww_notch_map_most(map, angle, angle, highest);
    if (peak.reflection > little)
        add(line, "Of a trace turned so the cloth reflects at most %.1f dB up to %s, at %s. ",
            ww_decibels(peak.reflection), ww_words_number(&top, highest, WW_FREQUENCY, 3),
            ww_words_number(&at, peak.frequency, WW_FREQUENCY, 3));
}

/* The angle to use, its window and its margin; solved at that very angle. */
static void add_turn(const struct ww_report *report, char *line)
{
    struct ww_words by, to, worst, from_angle, to_angle;
    if (!ww_report_has_angles(report))
        return;
    const struct ww_angles *angles = report->angles;
    const struct ww_angle_advice *advice = &angles->advice;
    ww_words_angle_up(&from_angle, advice->found ? advice->window.from : angles->at[0].angle);
    ww_words_angle_down(&to_angle, advice->found ? advice->window.to : angles->at[angles->count - 1].angle);
    if (!advice->found) {
        add(line, "No routing angle from %s to %s meets the budget at this length. ", from_angle.of, to_angle.of);
        return;
    }
    add(line,
        "Turn the route by %s, to %s from the warp: there the worst is %s, %.3g times within the budget, tolerances "
        "of "
        "the cloth included; %s to %s meet it. ",
        ww_words_number(&by, fabs(advice->angle - report->study->angle), WW_ANGLE, 4),
        ww_words_number(&to, advice->angle, WW_ANGLE, 4), ww_words_time(&worst, advice->worst),
        angles->budget / advice->worst, from_angle.of, to_angle.of);
    add(line, "Traces across it, turned as much from the fill, %s (%s). ",
        advice->across <= angles->budget ? "hold, too" : "do not hold", ww_words_time(&worst, advice->across));
    add_reflection(report, advice->angle, line);
}

/* The glass with the least worst, where it is not the study's own. */
static void add_glass(const struct ww_report *report, char *line)
{
    struct ww_words worst;
    double budget = report->study->budget;
    if (!ww_report_has_comparison(report))
        return;
    const struct ww_compared *best = ww_comparison_best(report->comparison);
    if (!best)
        return;
    double judged = ww_compared_design(best);
    size_t tried = ww_report_tried(report);
    ww_words_time(&worst, judged);
    if (best->own)
        add(line, "Of the %zu glasses tried none is better than the study's own. ", tried);
    else if (budget > 0.0 && judged > budget)
        add(line, "None of the %zu glasses tried meets the budget by itself; %s in every ply has the least, %s. ",
            tried, ww_compared_name(best), worst.of);
    else
        add(line, "Of the %zu glasses tried %s in every ply has the least, %s%s. ", tried, ww_compared_name(best),
            worst.of, budget > 0.0 ? ", which meets the budget" : "");
}

/* What the null leaves, and what is left within each tolerance. */
static void add_pitch(const struct ww_report *report, char *line)
{
    const struct ww_null *null = ww_report_null(report);
    const struct ww_pitch *pitch = report->pitch;
    struct ww_words at, worst;
    char tolerances[WW_TOLERANCES_SIZE];
    if (!null)
        return;
    double off = ww_report_null_off(pitch, 0.01), budget = report->study->budget;
    add(line, "With the legs %s apart, centre to centre, and %.0f \xce\xa9 differential, %s is left",
        ww_words_number(&at, null->pitch, WW_LENGTH, 5), null->impedance, ww_words_time(&worst, null->worst));
    if (ww_words_tolerances(report->study, tolerances, sizeof tolerances)[0])
        add(line, ", %s with %s", ww_words_time(&worst, pitch->null_with_turn), tolerances);
    if (budget > 0.0 && pitch->null_with_turn > budget)
        add(line, ", which is over the budget");
    add(line, "; where the yarn count is 1 %% off, %s. ", ww_words_time(&worst, off));
}

/* How far apart to keep feeds or lanes. */
static void add_spacing(const struct ww_report *report, char *line)
{
    char text[WW_ANSWER_SIZE], set[WW_ANSWER_SIZE];
    if (!ww_report_has_spacing(report))
        return;
    ww_words_spacing(report->study, report->skew, report->spacing, text, sizeof text);
    add(line, "%s%s", ww_words_typeset(text, set, sizeof set), text[0] ? " " : "");
}

static void say_what_to_do(const struct ww_report *report, char *line)
{
    const struct ww_study *study = report->study;
    if (study->budget > 0.0 && ww_report_judged(report) <= study->budget && !ww_report_converts_too_much(report)) {
        add(line, "Nothing has to change for the weave's sake. ");
        return;
    }
    if (ww_report_converts_too_much(report))
        add(line, "Route at an angle within the windows of mode conversion, or widen the gap between the legs. ");
    if (ww_arms_are_judged(report->arms) && study->budget > 0.0) {
        add(line,
            "The table of arms tells which %s; lead %s along other directions. Angles, glasses and pitches on this "
            "page are those of the first arm alone.",
            study->trace.pitch > 0.0 ? "has the largest skew" : "lie farthest apart",
            study->trace.pitch > 0.0 ? "it" : "those");
        return;
    }
    if (study->budget > 0.0 && ww_report_judged(report) > study->budget)
        add_turn(report, line);
    else if (!(study->budget > 0.0))
        add(line, "Settle a budget and put it into the study as 'budget' in [signal]. ");
    add_spacing(report, line);
    add_glass(report, line);
    add_pitch(report, line);
}

void ww_report_answer(const struct ww_report *report, struct ww_answer *answer)
{
    memset(answer, 0, sizeof *answer);
    say_question(report, answer->question);
    say_verdict(report, answer->verdict);
    say_how_bad(report, answer->how_bad);
    say_how_likely(report, answer->how_likely);
    say_what_to_do(report, answer->what_to_do);
    size_t length = strlen(answer->what_to_do);
    if (length > 0 && answer->what_to_do[length - 1] == ' ')
        answer->what_to_do[length - 1] = '\0';
}
