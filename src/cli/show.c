/* show.c - the answer as a table on standard output.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "show.h"

#include "message.h"

#include <weftwise/line.h>
#include <weftwise/patch.h>
#include <weftwise/report.h>
#include <weftwise/result.h>
#include <weftwise/chance.h>

#include <math.h>
#include <string.h>

enum { TEXT_SIZE = 48, DIGITS = 3, DOUBTS_LEFT = 17 };

/* Numbers of one printf each have room of their own. */
struct text {
    char of[TEXT_SIZE];
};

static const char *show_number(struct text *text, double value, enum ww_dimension dimension, int digits)
{
    return ww_number_format(text->of, sizeof text->of, value, dimension, digits);
}

static const char *show_time(struct text *text, double value)
{
    double ps = value * 1e12;
    snprintf(text->of, sizeof text->of, "%.*f ps", fabs(ps) < 1.0 ? 3 : fabs(ps) < 100.0 ? 2 : 1, ps);
    return text->of;
}

void show_title(const struct job *job)
{
    printf("%s\n%s\n", job->study.title, job->conditions);
    if (job->study.turn_is_assumed && job->study.stack.plies > 0)
        printf("cloth up to %g deg off square, assumed, for [fabric] turn is left out (common practice, no source)\n",
               job->study.turn * 180.0 / WW_PI);
}

void show_fabric(const struct job *job)
{
    const struct ww_stack *stack = &job->study.stack;
    printf("\n%-9s %-14s %10s %15s %16s %9s\n", "cloth", "style", "glass", "resin content", "Dk of columns",
           "bulk Dk");
    for (size_t i = 0; i < stack->plies; i++) {
        const struct ww_ply *ply = &stack->ply[i];
        char resin[TEXT_SIZE] = "-";
        if (ply->resin_content >= 0.0)
            snprintf(resin, sizeof resin, "%.1f wt%%", 100.0 * ply->resin_content);
        printf("  ply %-3zu %-14s %5.1f vol%% %15s %7.2f to %.2f %9.2f\n", i + 1, stack->layer[ply->layer].style.name,
               100.0 * ply->glass_fraction, resin, ply->dk_low, ply->dk_high, ply->dk_bulk);
    }
}

/* What the frequency does to the delay, with the static figure beside it; or why nothing. */
static void show_dispersion(const struct ww_line_summary *line)
{
    struct text frequency;
    const struct ww_dispersion *d = &line->dispersion;
    show_number(&frequency, d->frequency, WW_FREQUENCY, 4);
    if (d->applied)
        printf("          at %s: delay %+.2f %%, differences of delay %+.1f %%; static Dk %.3f, %.3f ps/mm\n",
               frequency.of, 100.0 * (d->mean - 1.0), 100.0 * (d->change - 1.0), line->dk_eff / (d->mean * d->mean),
               line->delay / d->mean * 1e9);
    else if (d->why_not[0])
        printf("          static, without dispersion at %s: %s\n", frequency.of, d->why_not);
}

void show_line(const struct job *job, const struct ww_line_summary *line)
{
    if (job->study.trace.pitch > 0.0)
        printf("\nline      Z odd %.1f, even %.1f, differential %.1f ohm\n", line->z_odd, line->z_even, line->z_diff);
    else
        printf("\nline      Z0 %.1f ohm\n", line->z0);
    printf("          effective Dk %.3f and loss tangent %.4f%s\n", line->dk_eff, line->df_eff,
           job->study.trace.pitch > 0.0 ? " of the odd mode" : "");
    printf("          delay %.3f ps/mm, mean over the cloth\n", line->delay * 1e9);
    show_dispersion(line);
    if (job->pitch_note[0])
        printf("          %s\n", job->pitch_note);
}

void show_limits(const struct ww_line *line, double frequency)
{
    struct ww_line_limits limits = ww_line_limits(line);
    char text[1024];
    if (ww_words_limits(&limits, frequency, text, sizeof text)[0]) {
        puts("");
        paragraph(printf("caution"), 10, text);
    }
}

/* Of a place, to the nm: less is rounding. */
static double nanometres(double length)
{
    return round(length * 1e9) * 1e-9 + 0.0;
}

/* Start position on each ply that makes the worst. */
static void show_where(const struct ww_extreme *at, size_t plies, const char *word)
{
    struct text x, y;
    for (size_t i = 0; i < plies; i++)
        printf("  %-14s ply %zu at x %s, y %s of its cell\n", i == 0 ? word : "", i + 1,
               show_number(&x, nanometres(at[i].x), WW_LENGTH, DIGITS),
               show_number(&y, nanometres(at[i].y), WW_LENGTH, DIGITS));
}

static void show_bracket(const struct ww_skew *skew)
{
    struct text lower, upper;
    double a = fmin(skew->worst_lower, skew->worst_upper), b = fmax(skew->worst_lower, skew->worst_upper);
    printf(" (%s to %s by the two bounds of the kernel)\n", show_time(&lower, a), show_time(&upper, b));
    if (skew->sections > 0)
        printf("  %-14s %10.3f times the kernel alone, by the residual correction from %zu full cross-sections\n",
               "correction", skew->correction_ratio, skew->sections);
}

static void show_turn(const struct job *job, const struct ww_skew *skew)
{
    struct text worst, turn, angle;
    char count[2 * TEXT_SIZE] = "", off[TEXT_SIZE];
    if (ww_study_counts(&job->study, off, sizeof off)[0])
        snprintf(count, sizeof count, "%s its counts up to %s off", job->study.turn > 0.0 ? " and" : "", off);
    if (job->study.turn > 0.0)
        printf("  %-14s %10s with the cloth up to %s off square%s, worst at %s\n", "with turn",
               show_time(&worst, skew->worst_with_turn), show_number(&turn, job->study.turn, WW_ANGLE, DIGITS), count,
               show_number(&angle, round(skew->worst_angle * 1e5) * 1e-5 + 0.0, WW_ANGLE, DIGITS));
    else if (off[0])
        printf("  %-14s %10s with the cloth square,%s\n", "with count", show_time(&worst, skew->worst_with_turn),
               count);
}

static void show_signal(const struct job *job, const struct ww_skew *skew, double degrees)
{
    struct text of;
    if (job->study.frequency > 0.0)
        printf("  %-14s %6.*f deg at %s\n", "in phase", degrees < 10.0 ? 2 : 1, degrees,
               show_number(&of, job->study.frequency, WW_FREQUENCY, 4));
    if (job->study.rate > 0.0)
        printf("  %-14s %8.1f %% of the unit interval at %s%s\n", job->study.levels > 2 ? "of a symbol" : "of a bit",
               100.0 * skew->unit_interval_share, show_number(&of, job->study.rate, WW_RATE, 4),
               job->study.levels > 2 ? ", several bits a symbol" : "");
}

/* Loss of the differential signal, for the worst placement and for 99 of 100. */
static void show_loss(const struct job *job, const struct ww_skew *skew)
{
    struct text worst, p99;
    double rate = ww_study_request(&job->study).rate;
    struct ww_skew_terms w = ww_skew_terms(skew->worst, job->study.frequency, rate);
    struct ww_skew_terms p = ww_skew_terms(skew->p99, job->study.frequency, rate);
    if (w.first_null > 0.0 && p.first_null > 0.0)
        printf("  %-14s %10s, where the worst nulls the differential signal; %s for 99 of 100\n", "null at",
               show_number(&worst, w.first_null, WW_FREQUENCY, DIGITS),
               show_number(&p99, p.first_null, WW_FREQUENCY, DIGITS));
}

/* "-20.8 dB" of an amplitude. */
static const char *show_level(struct text *text, double amplitude)
{
    const double least = 1e-9;
    double tenths = round(10.0 * ww_decibels(fmax(amplitude, least)));
    snprintf(text->of, sizeof text->of, "%s%.1f dB", amplitude > least ? "" : "below ", 0.1 * tenths + 0.0);
    return text->of;
}

/* Of the odd mode to the even one, both matched at both ends. */
static void show_conversion(const struct job *job, const struct ww_skew *skew)
{
    struct text worst, median, p99, weak, at, angle, turned, beat;
    const struct ww_conversion *conversion = &skew->conversion;
    const char *word = "conversion";
    if (!(conversion->frequency > 0.0))
        return;
    printf("  %-14s %10s of the odd mode arrives as even mode, at worst; %s median, %s for 99 of 100;\n", word,
           show_level(&worst, conversion->worst), show_level(&median, conversion->median),
           show_level(&p99, conversion->p99));
    printf("  %-14s %10s at %s%s, modes matched at both ends\n", "", "",
           show_number(&at, conversion->frequency, WW_FREQUENCY, 4),
           job->study.rate > 0.0 ? ", half the symbol rate" : "");
    if (job->study.turn > 0.0 || job->study.warp_tolerance > 0.0 || job->study.fill_tolerance > 0.0)
        printf("  %-14s %10s the largest with the cloth's turn and count, at %s\n", "",
               show_level(&turned, conversion->worst_with_turn),
               show_number(&angle, round(conversion->worst_angle * 1e5) * 1e-5 + 0.0, WW_ANGLE, DIGITS));
    printf("  %-14s %10s by skew alone, for legs that do not couple (weak-coupling limit)%s%s\n", "",
           show_level(&weak, conversion->weak), isfinite(conversion->beat_length) ? "; the modes' beat: " : "",
           isfinite(conversion->beat_length) ? show_number(&beat, conversion->beat_length, WW_LENGTH, DIGITS) : "");
    if (job->study.conversion < 0.0)
        printf("  %-14s %10s %s the budget of %g dB\n", "", "",
               conversion->worst_with_turn <= ww_from_decibels(job->study.conversion) ? "meets" : "misses",
               job->study.conversion);
}

/* What the skew in ps means for a pair that couples. */
static void show_termination(const struct ww_line_summary *line)
{
    double modes, legs;
    ww_skew_received(line, &modes, &legs);
    printf("  %-14s skew is the difference of the legs' delays, what loosely coupled legs receive; at low\n"
           "  %-14s frequency up to %.2f times it with both modes matched, 1 to %.2f times with each leg ended\n"
           "  %-14s in Z odd\n",
           "termination", "", modes, legs, "");
}

/* "turned by up to 2 deg (normal), count off by up to 1 %" */
static const char *name_tolerances(const struct ww_study *study, char *out, size_t size)
{
    struct text turn;
    char counts[TEXT_SIZE];
    size_t used = 0;
    out[0] = '\0';
    if (study->turn > 0.0)
        used =
            (size_t)snprintf(out, size, "turned by up to %s (%s)", show_number(&turn, study->turn, WW_ANGLE, DIGITS),
                             study->turn_law == WW_NORMAL ? "normal" : "uniform");
    if (ww_study_counts(study, counts, sizeof counts)[0] && used < size)
        snprintf(out + used, size - used, "%scounts off by up to %s", used ? ", " : "", counts);
    return out;
}

/* Over the tolerances of the cloth's turn and count, and of all lanes of a board. */
static void show_tolerant(const struct job *job, const struct ww_skew *skew)
{
    struct text median, p99, worst;
    char where[2 * TEXT_SIZE];
    char tolerances[2 * TEXT_SIZE + 64];
    const struct ww_study *study = &job->study;
    if (name_tolerances(study, tolerances, sizeof tolerances)[0]) {
        printf("  %-14s %10s median, %s for 99 of 100 boards, with the cloth\n", "any cloth",
               show_time(&median, skew->tolerant_median), show_time(&p99, skew->tolerant_p99));
        printf("  %-14s %10s %s\n", "", "", tolerances);
        if (study->budget > 0.0)
            printf("  %-14s %8.1f %% of them exceed the budget\n", "", 100.0 * skew->tolerant_over_budget);
    }
    if (study->lanes > 1 && study->budget > 0.0)
        printf("  %-14s %8.1f %% of boards have all %zu within the budget%s, %s\n", "lanes", 100.0 * skew->yield,
               study->lanes, skew->pair ? "" : " of each other", ww_words_lanes(study, where, sizeof where));
    if (study->lanes > 1)
        printf("  %-14s %10s is the largest %s of %zu, on average, %s\n", study->budget > 0.0 ? "" : "lanes",
               show_time(&worst, skew->expected_worst), skew->pair ? "skew" : "difference", study->lanes,
               ww_words_lanes(study, where, sizeof where));
    if (study->lanes > 1 && !(study->lane_pitch > 0.0))
        printf(
            "  %-14s %10s lanes side by side are not independent: 'lane_pitch' in [signal] puts them on one cloth\n",
            "", "");
}

static void show_bends(const struct job *job, const struct ww_skew *skew)
{
    struct text mismatch;
    if (job->study.segments > 1 && skew->pair)
        printf("  %-14s %10s by the lengths of the legs at the bends, leg 1 less leg 2; %s\n", "bends",
               show_time(&mismatch, skew->mismatch),
               job->study.compensated ? "compensated: in no other number here" : "counted in the skew");
}

static void show_budget(const struct job *job, const struct ww_skew *skew, const char *who)
{
    struct text budget;
    if (job->study.budget > 0.0)
        printf("  %-14s %8.1f %% of %s exceed %s\n", "over budget", 100.0 * skew->over_budget, who,
               show_time(&budget, job->study.budget));
}

/* Delays of two pairs side by side. */
static void show_apart(const struct job *job, const struct ww_skew *skew)
{
    struct text worst, turn, p99;
    char where[2 * TEXT_SIZE];
    if (job->study.spacing > 0.0)
        printf("  %-14s %10s at most between the delays of two pairs, %s; %s with turn, %s for 99 of 100\n",
               "pair to pair", show_time(&worst, skew->apart.worst), ww_words_feeds(&job->study, where, sizeof where),
               show_time(&turn, skew->apart_with_turn), show_time(&p99, skew->apart.p99));
}

static void show_delay(const struct ww_skew *skew, const char *who)
{
    struct text fast, slow;
    printf("  %-14s %10s to %s, fastest to slowest %s\n", "delay", show_time(&fast, skew->fastest),
           show_time(&slow, skew->slowest), who);
}

static void show_pair(const struct job *job, const struct ww_line_summary *line, const struct ww_skew *skew)
{
    struct text worst, median, p95, p99;
    puts("\nskew");
    printf("  %-14s %10s", "worst", show_time(&worst, skew->worst));
    show_bracket(skew);
    show_turn(job, skew);
    printf("  %-14s %10s for 95 of 100 positions of the cloth, %s for 99 of 100\n", "likely below",
           show_time(&p95, skew->p95), show_time(&p99, skew->p99));
    printf("  %-14s %10s\n", "median", show_time(&median, skew->median));
    show_budget(job, skew, "positions");
    show_tolerant(job, skew);
    show_signal(job, skew, skew->worst_degrees);
    show_loss(job, skew);
    show_conversion(job, skew);
    show_termination(line);
    show_bends(job, skew);
    show_apart(job, skew);
    show_delay(skew, "leg");
}

static void show_single(const struct job *job, const struct ww_skew *skew)
{
    struct text worst, median, p95, p99, spread;
    char where[2 * TEXT_SIZE];
    printf("\ndifference of two equal traces, %s\n", ww_words_feeds(&job->study, where, sizeof where));
    printf("  %-14s %10s", "worst", show_time(&worst, skew->worst));
    show_bracket(skew);
    show_turn(job, skew);
    printf("  %-14s %10s for 95 of 100 places of the two, %s for 99 of 100\n", "likely below",
           show_time(&p95, skew->p95), show_time(&p99, skew->p99));
    printf("  %-14s %10s\n", "median", show_time(&median, skew->median));
    show_budget(job, skew, "pairs of traces");
    show_tolerant(job, skew);
    show_signal(job, skew, skew->worst_degrees);
    if (job->study.spacing > 0.0)
        printf("  %-14s %10s at worst, places independent\n", "anywhere", show_time(&spread, skew->spread));
    show_delay(skew, "placement of one");
}

void show_skew(const struct job *job, const struct ww_line_summary *line, const struct ww_skew *skew,
               const struct ww_extreme *worst)
{
    if (skew->pair) {
        show_pair(job, line, skew);
        show_where(worst, skew->plies, "worst where");
    } else {
        show_single(job, skew);
        show_where(skew->high, skew->plies, "slowest where");
        show_where(skew->low, skew->plies, "fastest where");
    }
}

void show_doubts(const struct ww_doubts *doubts)
{
    char text[320];
    if (ww_words_doubts(doubts, text, sizeof text)[0])
        paragraph(printf("  %-14s", "worst within"), DOUBTS_LEFT, text);
}

void show_bound(const struct job *job)
{
    if (!ww_study_is_of_real_cloth(&job->study))
        return;
    putchar('\n');
    paragraph(0, 0, WW_REAL_BOUND);
}

void show_files(const struct job *job)
{
    char folder[sizeof job->folder];
    printf("\nfiles in %s\n", ww_text_printable(folder, sizeof folder, job->folder));
    for (size_t i = 0; i < job->files; i++)
        printf("  %s\n", job->file[i]);
    printf("\n%s Ask the fabricator which cloth it is; measure a coupon.\n", WW_CAUTION);
}
