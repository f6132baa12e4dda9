/* budget.c - weftwise budget STUDY: what makes two circuits differ, and what is worth paying for?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budget.h"

#include "angles.h"
#include "compare.h"
#include "pitch.h"
#include "progress.h"
#include "run.h"
#include "show.h"
#include "skew.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SENTENCE_SIZE = 1024, CORNERS = 200, NUMBER_SIZE = 48, NAME_SIZE = 128 };

static const double ps = 1e-12, degree = WW_PI / 180.0, inch = 25.4e-3;
static const char *const level_name[] = {"two of one board", "two of two boards", "two over life"};

/* --- solving --------------------------------------------------------------------------------------------------------------- */

enum ww_status budget_solve(const struct job *job, const struct ww_solution *solution, size_t corners,
                            struct ww_budget *budget, struct ww_error *error)
{
    struct ww_budget_request request = {
        .study = &job->study, .solution = solution, .corners = corners, .progress = progress_of()};
    progress_step(corners ? "solving random corners in full" : "moving every cause to its ends");
    return job_place(job, ww_budget_solve(budget, &request, error), error);
}

/* The study without its arms, which the budget lays itself. */
static enum ww_status solve_alone(struct job *job, struct ww_solution *solution, struct ww_error *error)
{
    size_t arms = job->study.arms;
    job->study.arms = 0;
    enum ww_status status = skew_solve(job, solution, error);
    job->study.arms = arms;
    return status;
}

/* What the sweeps found best. Zeroed is valid and empty. */
struct sweeps {
    struct ww_angles angles;
    struct ww_alternatives alternatives;
    struct ww_comparison comparison;
    struct ww_pitch pitch; /* of a pair */
};

static void sweeps_clear(struct sweeps *sweeps)
{
    ww_angles_clear(&sweeps->angles);
    ww_comparison_clear(&sweeps->comparison);
    ww_alternatives_clear(&sweeps->alternatives);
    ww_pitch_clear(&sweeps->pitch);
}

/* The weave's levers, for --halve: each swept, then the budget solved again at the best of it. */
static enum ww_status pull_levers(const struct job *job, struct budget_part *part, struct ww_error *error)
{
    struct sweeps sweeps = {0};
    bool woven = job->study.stack.plies > 0;
    enum ww_status status = WW_OK;
    progress_part(0.2, 0.4);
    if (woven)
        status = angles_turn(job, &part->solution, &sweeps.angles, error);
    progress_part(0.4, 0.6);
    if (!status && woven)
        status = compare_alternatives(job, &sweeps.alternatives, &sweeps.comparison, error);
    progress_part(0.6, 0.75);
    if (!status && woven && job->study.trace.pitch > 0.0)
        status = pitch_solve(job, &sweeps.pitch, error);
    progress_part(0.75, 1.0);
    progress_step("changing angle, glass and pitch");
    struct ww_levers_request request = {.study = &job->study,
                                        .angles = &sweeps.angles,
                                        .comparison = &sweeps.comparison,
                                        .candidate = sweeps.alternatives.candidate,
                                        .candidates = sweeps.alternatives.count,
                                        .pitch = &sweeps.pitch,
                                        .progress = progress_of()};
    if (!status)
        status = job_place(job, ww_budget_pull(&part->budget, &request, error), error);
    sweeps_clear(&sweeps);
    return status;
}

/* What --gate judges by; before any long work. */
static enum ww_status check_gate(const struct job *job, struct ww_error *error)
{
    if (!job->options->gate || job->study.budget > 0.0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, job->study.file, 0,
                        "--gate needs a budget to judge by; add 'budget = 2 ps' to [signal]");
}

/* --- files ----------------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct budget_part *part = result;
    char sentence[SENTENCE_SIZE];
    ww_words_budget(&part->budget, sentence, sizeof sentence);
    return ww_result_budget_json(stream, &job->study, &part->solution.summary, &part->budget, sentence, error);
}

/* A line of the table: a cause, or the whole of a level. No number where there is none. */
struct csv_row {
    double lower, upper, delay, per_inch, phase, filter, filter_hertz, dk, ohm, loss, skew, most, root_squares, share,
        halved;
};

static struct csv_row csv_of(const struct ww_budget *b, const double *differ)
{
    double delay = differ[WW_OBSERVED_DELAY], share = fabs(ww_budget_detuning(b, delay));
    bool tuned = b->frequency > 0.0;
    return (struct csv_row){.lower = NAN,
                            .upper = NAN,
                            .delay = delay,
                            .per_inch = delay * inch / b->length,
                            .phase = tuned ? ww_budget_phase(b->frequency, delay) : NAN,
                            .filter = share,
                            .filter_hertz = tuned ? share * b->frequency : NAN,
                            .dk = differ[WW_OBSERVED_DK],
                            .ohm = differ[WW_OBSERVED_IMPEDANCE],
                            .loss = tuned ? differ[WW_OBSERVED_LOSS] : NAN,
                            .skew = NAN,
                            .root_squares = NAN,
                            .share = NAN,
                            .halved = NAN};
}

static struct csv_row csv_of_cause(const struct ww_budget *b, const struct ww_cause *cause)
{
    struct csv_row row = csv_of(b, cause->differ);
    row.lower = cause->at[0][WW_OBSERVED_DELAY];
    row.upper = cause->at[2][WW_OBSERVED_DELAY];
    row.skew = b->pair ? cause->differ[WW_OBSERVED_SKEW] : NAN;
    row.most = cause->most;
    row.share = cause->share;
    row.halved = cause->halved;
    return row;
}

static enum ww_status save_table(struct job *job, const struct ww_budget *b, struct ww_error *error)
{
    struct csv_row row[WW_CAUSES + 3];
    const char *name[WW_CAUSES + 3], *scope[WW_CAUSES + 3];
    size_t rows = 0, stride = sizeof *row;
    for (int i = 0; i < WW_CAUSES; i++) {
        if (!b->cause[i].given)
            continue;
        name[rows] = b->cause[i].name;
        scope[rows] = ww_scope_name(b->cause[i].tolerance.scope);
        row[rows++] = csv_of_cause(b, &b->cause[i]);
    }
    for (int i = 0; i < 3; i++) {
        name[rows] = level_name[i];
        scope[rows] = ww_scope_name((enum ww_scope)i);
        row[rows] = csv_of(b, b->level[i].differ);
        row[rows].most = b->level[i].worst;
        row[rows++].root_squares = b->level[i].root_squares;
    }
    const struct ww_column column[] = {{.name = "name", .text = name},
                                       {.name = "scope", .text = scope},
                                       {"lower_end_ps", &row->lower, stride, ps, NULL},
                                       {"upper_end_ps", &row->upper, stride, ps, NULL},
                                       {"delay_ps", &row->delay, stride, ps, NULL},
                                       {"delay_ps_per_in", &row->per_inch, stride, ps, NULL},
                                       {"phase_deg", &row->phase, stride, degree, NULL},
                                       {"filter_shift_percent", &row->filter, stride, 0.01, NULL},
                                       {"filter_shift_mhz", &row->filter_hertz, stride, 1e6, NULL},
                                       {"dk_eff", &row->dk, stride, 1.0, NULL},
                                       {"impedance_ohm", &row->ohm, stride, 1.0, NULL},
                                       {"loss_db_per_mm", &row->loss, stride, 1e3, NULL},
                                       {"skew_ps", &row->skew, stride, ps, NULL},
                                       {"most_ps", &row->most, stride, ps, NULL},
                                       {"root_squares_ps", &row->root_squares, stride, ps, NULL},
                                       {"share", &row->share, stride, 1.0, NULL},
                                       {"halved_ps", &row->halved, stride, ps, NULL}};
    return job_kept(
        job, ww_result_csv(job_path(job, "budget", "csv"), column, sizeof column / sizeof *column, rows, error),
        error);
}

static enum ww_status draw_distribution(struct job *job, const struct ww_budget *budget, struct ww_error *error)
{
    static const char *const subject[] = {"two circuits of one board: what they share cancels",
                                          "two circuits of two boards", "two circuits over life: all causes"};
    const struct ww_budget_level *level = &budget->level[budget->between];
    double limit = budget->pair ? 0.0 : budget->budget;
    struct ww_figure_distribution content = {
        .subject = subject[budget->between],
        .what = "Difference of two circuits",
        .distribution = &level->distribution,
        .median = ww_distribution_quantile(&level->distribution, 0.5),
        .p95 = ww_distribution_quantile(&level->distribution, 0.95),
        .p99 = level->p99,
        .worst = level->worst,
        .budget = limit,
        .over_budget = limit > 0.0 ? ww_distribution_exceed(&level->distribution, limit) : 0.0};
    if (level->distribution.count == 0)
        return WW_OK;
    return job_kept(
        job, ww_figure_draw_distribution(job_figure_path(job, "budget-distribution"), &job->figure, &content, error),
        error);
}

enum ww_status budget_save(struct job *job, const struct budget_part *part, struct ww_error *error)
{
    struct ww_figure_budget content = {.subject =
                                           "each cause alone, two circuits that do not share it; beneath, all of "
                                           "them together",
                                       .budget = &part->budget};
    enum ww_status status = job_save(job, "budget", "json", write_json, part, error);
    if (!status)
        status = save_table(job, &part->budget, error);
    if (!status)
        status = job_kept(job, ww_figure_draw_budget(job_figure_path(job, "budget"), &job->figure, &content, error),
                          error);
    if (!status && part->budget.cause[WW_CAUSE_TEMPERATURE].given)
        status = job_kept(job,
                          ww_figure_draw_budget_temperature(job_figure_path(job, "budget-temperature"), &job->figure,
                                                            &content, error),
                          error);
    return status ? status : draw_distribution(job, &part->budget, error);
}

/* --- tables ---------------------------------------------------------------------------------------------------------------- */

static double degrees(const struct ww_budget *budget, double delay)
{
    return ww_budget_phase(budget->frequency, delay) / degree;
}

/* "-40 degC to 125 degC uniform", "0.05 normal" */
static void write_tolerance(char *out, size_t size, const struct ww_cause *cause)
{
    const struct ww_study_key *key = NULL;
    char from[NUMBER_SIZE], to[NUMBER_SIZE];
    const struct ww_tolerance *t = &cause->tolerance;
    snprintf(out, size, "[fabric]");
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++) {
        if (strcmp(key->section, "tolerance") != 0 || strcmp(key->key, cause->key) != 0)
            continue;
        ww_number_format(from, sizeof from, t->from, key->dimension, 4);
        ww_number_format(to, sizeof to, t->to, key->dimension, 4);
        bool range = key->kind == WW_STUDY_RANGE;
        snprintf(out, size, "%s%s%s%s",
                 range                              ? from
                 : cause->kind == WW_CAUSE_MOISTURE ? "up to "
                                                    : "+-",
                 range ? " to " : "", to, t->law == WW_NORMAL ? ", normal" : "");
    }
}

static void show_ends(const struct ww_budget *b)
{
    printf("\n%-28s %-24s %-7s %-21s %s\n", "causes", "tolerance", "scope", "one circuit, ps",
           b->frequency > 0.0 ? "one circuit, deg" : "");
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &b->cause[i];
        char tolerance[3 * NUMBER_SIZE];
        double low = cause->at[0][WW_OBSERVED_DELAY], high = cause->at[2][WW_OBSERVED_DELAY];
        if (!cause->given)
            continue;
        write_tolerance(tolerance, sizeof tolerance, cause);
        printf("  %-26s %-24s %-7s %+8.3f to %+8.3f", cause->name, tolerance, ww_scope_name(cause->tolerance.scope),
               low / ps, high / ps);
        if (b->frequency > 0.0)
            printf("  %+8.2f to %+8.2f", degrees(b, low), degrees(b, high));
        putchar('\n');
    }
}

/* Heads of the columns of what two circuits differ by, behind the delay. */
static void show_heads(const struct ww_budget *b)
{
    if (b->frequency > 0.0)
        printf(" %9s %9s %9s", "deg", "MHz", "dB/in");
    printf(" %9s %9s %9s", "filter %", "Dk eff", "ohm");
}

static void show_observables(const struct ww_budget *b, const double *differ)
{
    double delay = differ[WW_OBSERVED_DELAY], share = fabs(ww_budget_detuning(b, delay));
    if (b->frequency > 0.0)
        printf(" %9.2f %9.1f %9.4f", degrees(b, delay), share * b->frequency * 1e-6, differ[WW_OBSERVED_LOSS] * inch);
    printf(" %9.4f %9.4f %9.3f", 100.0 * share, differ[WW_OBSERVED_DK], differ[WW_OBSERVED_IMPEDANCE]);
}

static void show_differences(const struct ww_budget *b)
{
    printf("\n%-28s %9s %9s", "two circuits, 99 of 100", "ps", "ps/in");
    show_heads(b);
    if (b->pair)
        printf(" %9s", "skew, ps");
    printf(" %9s\n", "variance");
    for (int i = 0; i < WW_CAUSES; i++) {
        const double *differ = b->cause[i].differ;
        if (!b->cause[i].given)
            continue;
        printf("  %-26s %9.3f %9.3f", b->cause[i].name, differ[WW_OBSERVED_DELAY] / ps,
               differ[WW_OBSERVED_DELAY] / ps * inch / b->length);
        show_observables(b, differ);
        if (b->pair)
            printf(" %9.3f", differ[WW_OBSERVED_SKEW] / ps);
        if (b->cause[i].tolerance.scope <= b->between)
            printf(" %7.1f %%\n", 100.0 * b->cause[i].share);
        else
            printf(" %9s\n", "shared");
    }
}

static void show_left_out(const struct ww_budget *b)
{
    bool any = false;
    for (int i = 0; i < WW_CAUSES; i++)
        if (!b->cause[i].given) {
            printf("%-28s %s: %s\n", any ? "" : "left out", b->cause[i].name, b->cause[i].why);
            any = true;
        }
}

/* What the sums of the delay come to in everything else. */
static void show_whole_observed(const struct ww_budget *b)
{
    printf("\n%-28s %9s %9s", "the whole, 99 of 100", "ps", "ps/in");
    show_heads(b);
    putchar('\n');
    for (int i = 0; i < 3; i++) {
        const double *differ = b->level[i].differ;
        printf("%c %-26s %9.3f %9.3f", i == (int)b->between ? '*' : ' ', level_name[i],
               differ[WW_OBSERVED_DELAY] / ps, differ[WW_OBSERVED_DELAY] / ps * inch / b->length);
        show_observables(b, differ);
        putchar('\n');
    }
}

static void show_whole(const struct ww_budget *b)
{
    printf("\n%-28s %9s %9s %9s %18s\n", "the whole, ps", "worst", "root sq.", "99 / 100", "the same, drawn");
    for (int i = 0; i < 3; i++) {
        const struct ww_budget_level *level = &b->level[i];
        printf("%c %-26s %9.3f %9.3f %9.3f %9.3f +- %.3f\n", i == (int)b->between ? '*' : ' ', level_name[i],
               level->worst / ps, level->root_squares / ps, level->p99 / ps, level->drawn / ps,
               level->drawn_error / ps);
    }
    if (b->pair)
        printf("* %-26s %9.3f %9s %9.3f %9.3f\n", "skew of the pair", b->skew_worst / ps, "", b->skew_p99 / ps,
               b->skew_drawn / ps);
    show_whole_observed(b);
    printf(
        "* is judged; drawn at random: its standard error behind it; %sMHz and filter: how far a filter or patch on "
        "this\nlaminate moves, dDk/(2 Dk) and the length; dB/in: of dielectric and copper, by the weave of the "
        "dielectric alone\n",
        b->pair ? "of a pair the mean of its legs, odd mode, differential ohm; " : "");
}

/* What "two" means where there are several traces on one cloth. */
static void show_arms(const struct ww_budget *b)
{
    char sentence[SENTENCE_SIZE];
    if (b->arms > 0)
        paragraph(printf("\narms") - 1, 10, ww_words_budget_arms(b, sentence, sizeof sentence));
}

static void show_array(const struct ww_array *array)
{
    if (array->elements == 0)
        return;
    printf(
        "\n%-28s %zu, of one board: rms %.2f deg, largest %.2f deg on average; gain %.3f dB less, beam off by %.3f "
        "deg rms (%.2f %% of its width) half a wavelength apart\n",
        "elements", array->elements, array->rms / degree, array->peak / degree, -10.0 * log10(array->gain_loss),
        array->pointing / degree, 100.0 * array->of_beam);
}

/* "  within the budget" where one change does that. */
static const char *meets(const struct ww_budget *b, double left)
{
    return b->budget > 0.0 && b->judged > b->budget && left <= b->budget ? "  within the budget" : "";
}

static void show_halved(const struct ww_budget *b)
{
    printf("\n%-32s %9s %9s\n", "each halved, alone", "99 / 100", "gains");
    for (int i = 0; i < WW_CAUSES; i++)
        if (b->cause[i].given && (b->pair || b->cause[i].tolerance.scope <= b->between))
            printf("  %-30s %9.3f %9.3f%s\n", b->cause[i].name, b->cause[i].halved / ps,
                   (b->judged - b->cause[i].halved) / ps, meets(b, b->cause[i].halved));
    printf("the weave's levers, solved\n");
    for (size_t i = 0; i < b->levers; i++) {
        const struct ww_lever *lever = &b->lever[i];
        char name[NAME_SIZE];
        if (!lever->given) {
            printf("  %-30s %9s %9s  %s\n", lever->name, "-", "-", lever->why);
            continue;
        }
        snprintf(name, sizeof name, "%s, %s", lever->name, lever->to);
        printf("  %-30s %9.3f %9.3f  %.1f ohm%s%s%s\n", name, lever->judged / ps, (b->judged - lever->judged) / ps,
               lever->impedance, meets(b, lever->judged), lever->caution[0] ? "; " : "", lever->caution);
    }
}

static void show_check(const struct ww_budget_check *check)
{
    if (check->corners > 0)
        printf("\n%-28s %zu in full: the sum of the causes is off by %.4f ps rms, %.4f ps at most, of %.3f ps\n",
               "random corners", check->corners, check->rms / ps, check->largest / ps, check->deviation / ps);
}

static void show(const struct job *job, const void *result)
{
    const struct budget_part *part = result;
    char sentence[SENTENCE_SIZE];
    show_title(job);
    show_line(job, &part->solution.summary);
    show_ends(&part->budget);
    show_left_out(&part->budget);
    show_differences(&part->budget);
    show_whole(&part->budget);
    show_arms(&part->budget);
    show_array(&part->budget.array);
    if (job->options->halve)
        show_halved(&part->budget);
    show_check(&part->budget.check);
    putchar('\n');
    paragraph(printf("in short") - 1, 10, ww_words_budget(&part->budget, sentence, sizeof sentence));
    show_bound(job);
    show_files(job);
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

enum outcome budget_run(const struct options *options)
{
    static struct job job;
    struct budget_part part = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = check_gate(&job, &error);
    if (options->halve)
        progress_part(0.0, 0.2);
    if (!status)
        status = solve_alone(&job, &part.solution, &error);
    if (!status)
        status = budget_solve(&job, &part.solution, options->check ? CORNERS : 0, &part.budget, &error);
    if (!status && options->halve)
        status = pull_levers(&job, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = budget_save(&job, &part, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &part, &error);
        over = options->gate && !(part.budget.judged <= job.study.budget);
    }
    ww_budget_clear(&part.budget);
    ww_solution_clear(&part.solution);
    return job_finish(&job, status, over, &error);
}
