/* compare.c - weftwise compare STUDY STYLE...: which glass?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "compare.h"

#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DEG (WW_PI / 180.0)

enum { NAME_SIZE = 64, UNKNOWN_SIZE = 560, SUBJECT_SIZE = 200, NUMBER_SIZE = 48, COLUMNS = 23, TEXTS = 5 };

/* The styles of the command line, and what became of them. */
struct comparing {
    struct ww_settings settings; /* of the study: styles and glasses of its own */
    struct ww_weaves weaves;
    struct ww_names names; /* of all styles there are */
    struct ww_candidate *candidate;
    size_t candidates;
    size_t unknowns;
    char unknown[UNKNOWN_SIZE]; /* "style 9999, glass X" */
};

static void comparing_clear(struct comparing *comparing)
{
    free(comparing->candidate);
    ww_names_clear(&comparing->names);
    ww_weaves_close(&comparing->weaves);
    ww_settings_clear(&comparing->settings);
}

/* --- which styles -------------------------------------------------------------------------------------------------------- */

/* The study's own sections first, with what --set changed in them, then the weaves folder. */
static enum ww_status open_weaves(struct comparing *comparing, const struct options *options, struct ww_error *error)
{
    char folder[PATH_SIZE];
    enum ww_status status = ww_study_find_weaves(options->weaves, folder, sizeof folder, error);
    if (!status)
        status = ww_settings_load(&comparing->settings, options->operand[1], error);
    for (size_t i = 0; i < options->assignments && !status; i++)
        status = ww_settings_set(&comparing->settings, options->assignment[i], error);
    if (!status)
        status = ww_weaves_open(&comparing->weaves, folder, &comparing->settings, error);
    if (!status)
        status = ww_weaves_styles(&comparing->weaves, &comparing->names, error);
    return status;
}

/* Neither a file nor a line is to blame: there is none of that name. */
static bool is_unknown(enum ww_status status, const struct ww_error *error)
{
    return status == WW_INVALID && !error->file[0];
}

static void note_unknown(struct comparing *comparing, const char *kind, const char *name)
{
    char item[2 * NAME_SIZE];
    const char *near = strcmp(kind, "style") == 0
                           ? ww_nearest_word(name, (const char *const *)comparing->names.name, comparing->names.count)
                           : NULL;
    size_t used = strlen(comparing->unknown);
    snprintf(item, sizeof item, "%s%s \"%.40s\"%s%s%s", used ? ", " : "", kind, name, near ? " (did you mean " : "",
             near ? near : "", near ? "?)" : "");
    if (strstr(comparing->unknown, item + (used ? 2 : 0)))
        return;
    comparing->unknowns++;
    if (used + strlen(item) + sizeof ", ..." < sizeof comparing->unknown)
        strcpy(comparing->unknown + used, item);
    else if (!strstr(comparing->unknown, ", ..."))
        strcpy(comparing->unknown + used, ", ...");
}

/* "3x1035" -> 3, and the style behind it; 0 where no number stands before it, and the number is chosen. */
static size_t count_of(const char *name, const char **style)
{
    size_t digits = strspn(name, "0123456789");
    bool counted = digits == 1 && name[0] != '0' && name[1] == 'x' && name[2] != '\0';
    *style = counted ? name + 2 : name;
    return counted ? (size_t)(name[0] - '0') : 0;
}

/* Which part of the name there is none of. */
static void note_unknowns(struct comparing *comparing, const char *name)
{
    const char *bar = strchr(name, '/');
    size_t length = bar && bar != name && bar[1] ? (size_t)(bar - name) : strlen(name);
    char word[NAME_SIZE];
    struct ww_style style;
    struct ww_glass glass;
    struct ww_error inner = {0};
    snprintf(word, sizeof word, "%.*s", (int)length, name);
    if (is_unknown(ww_weaves_style(&comparing->weaves, word, &style, &inner), &inner))
        note_unknown(comparing, "style", word);
    if (name[length] && is_unknown(ww_weaves_glass(&comparing->weaves, name + length + 1, &glass, &inner), &inner))
        note_unknown(comparing, "glass", name + length + 1);
}

/* "2116", "2116/NE" or "2x1035". An unknown name is noted, and the others are looked at all the same. */
static enum ww_status add_candidate(struct comparing *comparing, const char *name, struct ww_error *error)
{
    struct ww_candidate *candidate = &comparing->candidate[comparing->candidates];
    struct ww_error inner = {0};
    const char *style;
    for (size_t i = 0; i < comparing->candidates; i++)
        if (comparing->candidate[i].name && strcmp(comparing->candidate[i].name, name) == 0)
            return WW_OK;
    candidate->cloths = count_of(name, &style);
    enum ww_status status = ww_weaves_style(&comparing->weaves, style, &candidate->style, &inner);
    if (is_unknown(status, &inner)) {
        note_unknowns(comparing, style);
        return WW_OK;
    }
    if (status)
        return ww_error_set(error, status, inner.file, inner.line, "%s", inner.text);
    candidate->name = name;
    comparing->candidates++;
    return WW_OK;
}

/* One operand; "all" stands for every style there is. */
static enum ww_status add_operand(struct comparing *comparing, const char *operand, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    if (strcmp(operand, "all") != 0)
        return add_candidate(comparing, operand, error);
    for (size_t i = 0; i < comparing->names.count && !status; i++)
        status = add_candidate(comparing, comparing->names.name[i], error);
    return status;
}

static enum ww_status choose(struct comparing *comparing, const struct options *options, struct ww_error *error)
{
    enum ww_status status = open_weaves(comparing, options, error);
    if (status)
        return status;
    comparing->candidate = calloc(comparing->names.count + options->operands, sizeof *comparing->candidate);
    if (!comparing->candidate)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the styles");
    for (size_t i = 2; i < options->operands && !status; i++)
        status = add_operand(comparing, options->operand[i], error);
    if (!status && comparing->unknowns)
        status =
            ww_error_set(error, WW_INVALID, NULL, 0,
                         "there is no %s; 'weftwise styles' lists the styles, materials.ini of the weaves folder "
                         "has the glasses",
                         comparing->unknown);
    return status;
}

/* --- solving ------------------------------------------------------------------------------------------------------------- */

enum ww_status compare_solve(const struct job *job, const struct ww_candidate *candidate, size_t candidates,
                             bool in_short, struct ww_comparison *comparison, struct ww_error *error)
{
    const struct options *options = job->options;
    struct ww_compare_request request = {.stack = &job->study.stack,
                                         .ply = (size_t)options->ply,
                                         .same_dk = options->same_dk,
                                         .trace = job->study.trace,
                                         .cell = {.fineness = job->study.fineness},
                                         .line = ww_study_line_options(&job->study),
                                         .skew = ww_study_request(&job->study),
                                         .from = options->from,
                                         .to = options->to,
                                         .step = options->step > 0.0 ? options->step
                                                 : in_short          ? 2.0 * DEG
                                                                     : DEG,
                                         .progress = progress_of(),
                                         .height_uncertainty = job->study.height_uncertainty,
                                         .via_diameter = job->study.via_diameter};
    if (request.ply > job->study.stack.plies)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "--ply: there is no ply %zu; the stackup has %zu, counted "
                            "from the top",
                            request.ply, job->study.stack.plies);
    progress_step("weaving one glass after the other");
    return job_place(job, ww_compare_solve(comparison, candidate, candidates, &request, error), error);
}

enum ww_status compare_alternatives(const struct job *job, struct ww_alternatives *alternatives,
                                    struct ww_comparison *comparison, struct ww_error *error)
{
    struct ww_weaves weaves = {0};
    char folder[PATH_SIZE];
    enum ww_status status = ww_study_find_weaves(job->options->weaves, folder, sizeof folder, error);
    if (!status)
        status = ww_weaves_open(&weaves, folder, NULL, error);
    if (!status)
        status = ww_alternatives_choose(alternatives, &job->study.stack, &weaves, error);
    if (!status && alternatives->count > 0)
        status = compare_solve(job, alternatives->candidate, alternatives->count, true, comparison, error);
    ww_weaves_close(&weaves);
    return status;
}

static size_t usable(const struct ww_comparison *comparison)
{
    size_t count = 0;
    while (count < comparison->count && !comparison->of[count].status)
        count++;
    return count;
}

/* --- files --------------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct ww_comparison *comparison = result;
    return ww_result_compare_json(stream, &job->study, comparison, (size_t)job->options->ply, job->options->same_dk,
                                  error);
}

/* Of an amplitude; no number where there is none. */
static double decibels(double amplitude)
{
    return amplitude > 0.0 ? ww_decibels(amplitude) : NAN;
}

/* The numbers of one row of the table, in the order of its columns; what is not known is no number. */
static void fill_row(const struct job *job, const struct ww_compared *of, double row[COLUMNS])
{
    bool budget = job->study.budget > 0.0, pair = job->study.trace.pitch > 0.0, via = job->study.via_diameter > 0.0;
    double safe = of->angles.safe_from_warp;
    const double values[COLUMNS] = {of->skew.worst,
                                    of->skew.p99,
                                    of->skew.median,
                                    budget ? of->skew.over_budget : NAN,
                                    of->skew.worst_with_turn,
                                    budget && safe >= 0.0 ? safe : NAN,
                                    of->mean_dk,
                                    of->resin_dk,
                                    of->resin_content > 0.0 ? of->resin_content : NAN,
                                    of->glass_fraction,
                                    pair ? of->line.z_diff : of->line.z0,
                                    of->warp_pitch,
                                    of->fill_pitch,
                                    of->skew.correction_ratio,
                                    decibels(of->skew.conversion.worst),
                                    decibels(of->skew.conversion.worst_with_turn),
                                    of->doubts.low,
                                    of->doubts.high,
                                    budget ? of->skew.tolerant_over_budget : NAN,
                                    via ? of->via.least : NAN,
                                    via ? of->via.mean : NAN,
                                    via ? of->via.most : NAN,
                                    via ? of->via.without : NAN};
    for (size_t i = 0; i < COLUMNS; i++)
        row[i] = of->status ? NAN : values[i];
}

static enum ww_status save_table(struct job *job, const struct ww_comparison *comparison, struct ww_error *error)
{
    static const struct {
        const char *name;
        double unit;
    } head[COLUMNS] = {{"worst_ps", 1e-12},
                       {"p99_ps", 1e-12},
                       {"median_ps", 1e-12},
                       {"over_budget", 1.0},
                       {"worst_with_turn_ps", 1e-12},
                       {"safe_from_warp_deg", DEG},
                       {"dk_bulk", 1.0},
                       {"dk_resin", 1.0},
                       {"resin_content", 1.0},
                       {"glass_fraction", 1.0},
                       {"impedance_ohm", 1.0},
                       {"warp_pitch_um", 1e-6},
                       {"fill_pitch_um", 1e-6},
                       {"correction_ratio", 1.0},
                       {"conversion_db", 1.0},
                       {"conversion_with_turn_db", 1.0},
                       {"worst_low_ps", 1e-12},
                       {"worst_high_ps", 1e-12},
                       {"over_budget_any_cloth", 1.0},
                       {"glass_least_um", 1e-6},
                       {"glass_mean_um", 1e-6},
                       {"glass_most_um", 1e-6},
                       {"without_glass", 1.0}};
    size_t count = comparison->count;
    double(*row)[COLUMNS] = calloc(count, sizeof *row);
    static const char *const text_head[TEXTS] = {"style", "label", "weave", "resin", "not_usable_because"};
    const char **text = calloc(TEXTS * count, sizeof *text);
    struct ww_column column[COLUMNS + TEXTS];
    enum ww_status status = WW_OK;
    if (!row || !text) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the table of %zu styles", count);
        goto done;
    }
    for (size_t i = 0; i < count; i++) {
        const struct ww_compared *of = &comparison->of[i];
        const char *const values[TEXTS] = {
            of->name, ww_compared_name(of), of->status ? "" : ww_weave_kind_name(of->kind),
            ww_resin_flag_name(ww_compared_flag(of)), of->status ? of->error.text : ""};
        fill_row(job, of, row[i]);
        for (size_t k = 0; k < TEXTS; k++)
            text[k * count + i] = values[k];
    }
    for (size_t k = 0; k < TEXTS; k++) /* the last stands behind the numbers */
        column[k + 1 < TEXTS ? k : COLUMNS + k] = (struct ww_column){.name = text_head[k], .text = text + k * count};
    for (size_t i = 0; i < COLUMNS; i++)
        column[TEXTS - 1 + i] = (struct ww_column){head[i].name, &row[0][i], sizeof *row, head[i].unit, NULL};
    status =
        job_kept(job, ww_result_csv(job_path(job, "compare", "csv"), column, COLUMNS + TEXTS, count, error), error);
done:
    free(row);
    free(text);
    return status;
}

/* All curves, one beneath the other: each has angles of its own. */
static enum ww_status save_curves(struct job *job, const struct ww_comparison *comparison, struct ww_error *error)
{
    size_t rows = 0, at = 0;
    for (size_t i = 0; i < comparison->count; i++)
        rows += comparison->of[i].angles.count;
    struct ww_at_angle *all = calloc(rows + 1, sizeof *all);
    const char **name = calloc(rows + 1, sizeof *name);
    enum ww_status status = WW_OK;
    if (!all || !name) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the table of %zu angles", rows);
        goto done;
    }
    for (size_t i = 0; i < comparison->count; i++)
        for (size_t k = 0; k < comparison->of[i].angles.count; k++, at++) {
            all[at] = comparison->of[i].angles.at[k];
            name[at] = ww_compared_name(&comparison->of[i]);
        }
    const struct ww_column column[] = {{.name = "style", .text = name},
                                       {"angle_deg", &all->angle, sizeof *all, DEG, NULL},
                                       {"worst_ps", &all->worst, sizeof *all, 1e-12, NULL},
                                       {"design_ps", &all->design, sizeof *all, 1e-12, NULL}};
    status = job_kept(
        job,
        ww_result_csv(job_path(job, "compare-angles", "csv"), column, sizeof column / sizeof *column, rows, error),
        error);
done:
    free(all);
    free(name);
    return status;
}

static void describe(const struct job *job, char *out, size_t size)
{
    char length[NUMBER_SIZE], angle[NUMBER_SIZE], which[NUMBER_SIZE] = "all plies replaced";
    if (job->options->ply)
        snprintf(which, sizeof which, "ply %d replaced", job->options->ply);
    else if (job->study.stack.plies == 1)
        snprintf(which, sizeof which, "the ply replaced");
    snprintf(out, size, "%s%s, %s at %s, tolerances of the cloth included", which,
             job->options->same_dk ? ", mean Dk kept" : "",
             ww_number_format(length, sizeof length, job->study.length, WW_LENGTH, 6),
             ww_number_format(angle, sizeof angle, job->study.angle, WW_ANGLE, 6));
}

static enum ww_status draw(struct job *job, const struct ww_comparison *comparison, struct ww_error *error)
{
    typedef enum ww_status drawing(const char *, const struct ww_figure_options *, const struct ww_figure_compare *,
                                   struct ww_error *);
    static const struct {
        const char *name;
        drawing *draw;
    } figure[] = {{"compare", ww_figure_draw_compare},
                  {"compare-angles", ww_figure_draw_compare_angles},
                  {"compare-dk", ww_figure_draw_compare_dk}};
    char plain[SUBJECT_SIZE], subject[SUBJECT_SIZE];
    struct ww_figure_compare content = {.subject = subject, .comparison = comparison, .budget = job->study.budget};
    enum ww_status status = WW_OK;
    describe(job, plain, sizeof plain);
    ww_words_typeset(plain, subject, sizeof subject);
    for (size_t i = 0; i < sizeof figure / sizeof *figure && !status && usable(comparison) > 0; i++) {
        status =
            job_kept(job, figure[i].draw(job_figure_path(job, figure[i].name), &job->figure, &content, error), error);
    }
    return status;
}

enum ww_status compare_save(struct job *job, const struct ww_comparison *comparison, struct ww_error *error)
{
    enum ww_status status = job_save(job, "compare", "json", write_json, comparison, error);
    if (!status)
        status = save_table(job, comparison, error);
    if (!status)
        status = save_curves(job, comparison, error);
    if (!status)
        status = draw(job, comparison, error);
    return status;
}

/* --- the table ----------------------------------------------------------------------------------------------------------- */

/* "2", "2/1": cloths in each opening. */
static void list_cloths(const struct ww_compared *of, char *out, size_t size)
{
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < of->fillings && used < size; i++)
        used += (size_t)snprintf(out + used, size - used, "%s%zu", i ? "/" : "", of->filling[i].cloths);
}

/* The rest of a line: nothing more where no beam drills. */
static void show_via_head(const struct job *job, const char *least, const char *mean, const char *most,
                          const char *without)
{
    if (job->study.via_diameter > 0.0)
        printf(" %8s %8s %8s %8s", least, mean, most, without);
    printf("\n");
}

static void show_via(const struct job *job, const struct ww_via *via)
{
    if (job->study.via_diameter > 0.0)
        printf(" %8.1f %8.1f %8.1f %8.1f", via->least * 1e6, via->mean * 1e6, via->most * 1e6, 100.0 * via->without);
    printf("\n");
}

static void show_row(const struct job *job, const struct ww_compared *of)
{
    static const char *const mark[] = {"", " rich", " starved"};
    const struct ww_filling *filling = ww_compared_filling(of);
    bool budget = job->study.budget > 0.0;
    char over[NUMBER_SIZE] = "-", safe[NUMBER_SIZE] = "-", resin[NUMBER_SIZE] = "-";
    char range[NUMBER_SIZE], cloths[NUMBER_SIZE];
    if (budget)
        snprintf(over, sizeof over, "%.1f %%", 100.0 * of->skew.tolerant_over_budget);
    if (budget && of->angles.safe_from_warp >= 0.0)
        snprintf(safe, sizeof safe, "%.1f deg", ceil(10.0 * of->angles.safe_from_warp / DEG - 1e-6) / 10.0 + 0.0);
    if (filling && filling->resin_content > 0.0)
        snprintf(resin, sizeof resin, "%.1f%s", 100.0 * filling->resin_content, mark[filling->flag]);
    snprintf(range, sizeof range, "%#.3g to %#.3g", of->doubts.low * 1e12, of->doubts.high * 1e12);
    list_cloths(of, cloths, sizeof cloths);
    char converted[NUMBER_SIZE] = "-";
    if (of->skew.conversion.worst > 0.0)
        snprintf(converted, sizeof converted, "%.1f",
                 0.1 * round(10.0 * ww_decibels(of->skew.conversion.worst)) + 0.0);
    printf("%-16s %-6s %6s %12s %8.3f %14s %8.3f %8.3f %8s %9s %10.3f %8s %7.3f %7.3f %7.1f", ww_compared_name(of),
           ww_weave_kind_name(of->kind), cloths, resin, of->skew.worst * 1e12, range, of->skew.tolerant_p99 * 1e12,
           of->skew.tolerant_median * 1e12, over, safe, of->skew.worst_with_turn * 1e12, converted, of->mean_dk,
           of->resin_dk, job->study.trace.pitch > 0.0 ? of->line.z_diff : of->line.z0);
    show_via(job, &of->via);
}

/* "1080, 106": those that cannot be told apart from one of them; how many. */
static size_t list_alike(const struct ww_comparison *comparison, const struct ww_compared *of, char *out, size_t size)
{
    size_t alike = 0;
    out[0] = '\0';
    for (size_t i = 0; i < usable(comparison); i++) {
        const struct ww_compared *other = &comparison->of[i];
        size_t used = strlen(out);
        if (other != of && ww_compared_alike(of, other))
            snprintf(out + used, size - used, "%s%s", alike++ ? ", " : "", ww_compared_name(other));
    }
    return alike;
}

/* Of the one to recommend, and of the study's own where that is another. */
static void show_alike(const struct ww_comparison *comparison)
{
    char names[UNKNOWN_SIZE], text[UNKNOWN_SIZE + 2 * NAME_SIZE];
    const struct ww_compared *best = ww_comparison_best(comparison);
    for (size_t i = 0; i < usable(comparison); i++) {
        const struct ww_compared *of = &comparison->of[i];
        if ((of != best && !of->own) || list_alike(comparison, of, names, sizeof names) == 0)
            continue;
        snprintf(text, sizeof text, "%.60s cannot be told apart from %s", ww_compared_name(of), names);
        paragraph(0, 0, text);
    }
}

static void show_table(const struct job *job, const struct ww_comparison *comparison)
{
    char subject[SUBJECT_SIZE];
    bool pair = job->study.trace.pitch > 0.0;
    size_t count = usable(comparison);
    describe(job, subject, sizeof subject);
    printf("\n%s, in ps: %s\n", pair ? "skew" : "difference of two equal traces", subject);
    printf("%-16s %-6s %6s %12s %8s %14s %8s %8s %8s %9s %10s %8s %7s %7s %7s", "style", "weave", "cloths", "resin",
           "worst", "range", "p99", "median", "over", "safe from", "worst", "convert", "bulk", "resin",
           pair ? "Z diff" : "Z0");
    show_via_head(job, "glass", "glass", "glass", "without");
    printf("%-16s %-6s %6s %12s %8s %14s %8s %8s %8s %9s %10s %8s %7s %7s %7s", "", "", "", "wt%", "", "with turn",
           "", "", "budget", "warp by", "with turn", "dB", "Dk", "Dk", "ohm");
    show_via_head(job, "least um", "mean um", "most um", "glass %");
    for (size_t i = 0; i < count; i++)
        show_row(job, &comparison->of[i]);
    for (size_t i = count; i < comparison->count; i++)
        printf("%-16s %-6s %6s  %s\n", ww_compared_name(&comparison->of[i]), "-", "-", comparison->of[i].error.text);
    printf("\n");
    show_alike(comparison);
    printf("Range: what is known of widths, thickness, height of the cloth and glass Dk, each moved alone, root of "
           "squares.\n"
           "The range is of the worst with turn. Two styles whose ranges overlap, less what they share (the glass), "
           "cannot be told apart.\n");
    printf(
        "The first is the study's own; the others are ranked by the worst with turn and counts; p99, median and over "
        "budget\nare over these, too. Cloths: as many in each ply as keep its resin content nearest; rich, starved: "
        "beyond what\nprepregs of the style are made with, not to be recommended.\n");
    if (job->study.via_diameter > 0.0) {
        char diameter[NUMBER_SIZE];
        printf("Glass: what a laser beam of %s meets in the first ply that changes, mean over the beam, each of its "
               "cloths "
               "anywhere.\n",
               ww_number_format(diameter, sizeof diameter, job->study.via_diameter, WW_LENGTH, 4));
    }
    printf("A ply keeps its thickness and resin refills it%s. Curves over angle are good to 0.5 %%.\n",
           job->options->same_dk ? ", with the Dk that keeps the ply's bulk Dk" : "");
}

static void show(const struct job *job, const void *result)
{
    const struct ww_comparison *comparison = result;
    show_title(job);
    show_table(job, comparison);
    show_bound(job);
    show_files(job);
}

/* --- the command --------------------------------------------------------------------------------------------------------- */

/* Is there no glass that can be pressed and meets it? */
static bool none_meets(const struct job *job, const struct ww_comparison *comparison)
{
    for (size_t i = 0; i < usable(comparison); i++)
        if (!ww_compared_flag(&comparison->of[i]) &&
            !job_over(job, comparison->of[i].skew.worst_with_turn, &comparison->of[i].skew.conversion))
            return false;
    return true;
}

enum outcome compare_run(const struct options *options)
{
    static struct job job;
    struct comparing comparing = {0};
    struct ww_comparison comparison = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = job_check_gate(&job, &error);
    if (!status)
        status = choose(&comparing, options, &error);
    if (!status)
        status = compare_solve(&job, comparing.candidate, comparing.candidates, false, &comparison, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = compare_save(&job, &comparison, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &comparison, &error);
        over = options->gate && none_meets(&job, &comparison);
    }
    ww_comparison_clear(&comparison);
    comparing_clear(&comparing);
    return job_finish(&job, status, over, &error);
}
