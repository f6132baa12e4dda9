/* report.c - weftwise report STUDY: all of it for a design review, on one page.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Runs the parts of the other commands, saves their files, and ties them together on report.html. Of the full solutions
 * only those of the worst placement are taken, so that the whole stays a matter of seconds: they make the error bar.
 */
#include "angles.h"
#include "budget.h"
#include "compare.h"
#include "frequency.h"
#include "map.h"
#include "pitch.h"
#include "progress.h"
#include "run.h"
#include "show.h"
#include "skew.h"
#include "verify.h"

#include <weftwise/fabric.h>
#include <weftwise/report.h>
#include <weftwise/result.h>

#include <stdlib.h>

enum { NAME_SIZE = 80 };

/* Zeroed is valid and empty. */
struct report {
    struct job job;
    struct skew_part skew;
    struct ww_verify verify;
    struct angles_part angles;
    struct ww_alternatives alternatives;
    struct ww_comparison comparison;
    struct ww_pitch pitch;           /* of a pair */
    struct ww_budget budget;         /* where the study has tolerances */
    struct frequency_part frequency; /* empty where the study lacks something */
    struct ww_error no_frequency;    /* what it lacks */
    struct ww_via *via;              /* [plies] where the study has a beam that drills */
    struct ww_answer answer;
};

/* What goes onto the page; figures: the path of its figures without their names. */
static struct ww_report page_of(const struct report *report, const char *figures)
{
    const struct job *job = &report->job;
    return (struct ww_report){.study = &job->study,
                              .line = &report->skew.solution.summary,
                              .skew = &report->skew.solution.skew,
                              .verify = &report->verify,
                              .angles = &report->angles.angles,
                              .lengths = &report->angles.lengths,
                              .comparison = &report->comparison,
                              .pitch = &report->pitch,
                              .doubts = &report->skew.solution.doubts,
                              .spacing = &report->skew.spacing,
                              .budget = &report->budget,
                              .arms = &report->skew.solution.arms,
                              .via = report->via,
                              .limits = ww_line_limits(report->skew.solution.line),
                              .spectrum = &report->frequency.spectrum,
                              .notches = &report->frequency.map,
                              .no_spectrum = report->no_frequency.text,
                              .figures = figures,
                              .format = job->figure.format,
                              .file = job->file,
                              .files = job->files};
}

/* --- solving and saving --------------------------------------------------------------------------------------------------- */

/* Over frequency, where the study has a signal and all that loss needs; else what is missing is told. */
static enum ww_status solve_frequency(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    struct ww_error *why = &report->no_frequency;
    if (!(ww_study_frequency(&job->study) > 0.0))
        ww_error_set(why, WW_INVALID, NULL, 0, "the study has no frequency and no rate; give [signal] one of them");
    else {
        enum ww_status status = frequency_check(job, why);
        if (status == WW_NO_MEMORY || status == WW_IO) /* which the study does not lack */
            return ww_error_set(error, status, why->file, why->line, "%s", why->text);
        if (!status)
            return frequency_solve(job, &report->skew.solution, &report->angles.angles, &report->frequency, error);
    }
    return WW_OK;
}

/* The shares of the time are those of the demonstration on two cores, roughly. */
static enum ww_status solve(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    bool pair = job->study.trace.pitch > 0.0, woven = job->study.stack.plies > 0;
    progress_part(0.0, 0.06);
    enum ww_status status = skew_solve_part(job, &report->skew, error);
    if (!status && ww_study_has_tolerances(&job->study))
        status = budget_solve(job, &report->skew.solution, 0, &report->budget, error);
    progress_part(0.06, 0.24);
    if (!status)
        status = angles_solve(job, &report->skew.solution, &report->angles, error);
    progress_part(0.24, 0.4);
    if (!status)
        status = solve_frequency(report, error);
    progress_part(0.4, 0.55);
    if (!status && woven)
        status = compare_alternatives(job, &report->alternatives, &report->comparison, error);
    progress_part(0.55, 0.77);
    if (!status && woven && pair)
        status = pitch_solve(job, &report->pitch, error);
    progress_part(0.77, 0.95);
    if (!status)
        status = verify_solve(job, &report->skew.solution, true, &report->verify, error);
    progress_part(0.95, 1.0);
    return status;
}

static enum ww_status write_page(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    char figures[PATH_SIZE + 1];
    snprintf(figures, sizeof figures, "%s/", job->folder);
    struct ww_report page = page_of(result, figures);
    return ww_report_write(&page, stream, error);
}

/* The documents that are there, in the order of the page. */
static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct report *report = result;
    const struct ww_answer *answer = &report->answer;
    static const char *const part[] = {"skew", "budget", "angles", "frequency", "compare", "pitch", "verify"};
    enum { PARTS = sizeof part / sizeof *part };
    const struct ww_report_item sentence[] = {{"question", answer->question},
                                              {"verdict", answer->verdict},
                                              {"how_bad", answer->how_bad},
                                              {"how_likely", answer->how_likely},
                                              {"what_to_do", answer->what_to_do}};
    const bool present[PARTS] = {true,
                                 ww_study_has_tolerances(&job->study),
                                 true,
                                 report->frequency.spectrum.network.count > 0,
                                 report->comparison.count > 0,
                                 report->pitch.pitches > 0,
                                 true};
    struct ww_report_item document[PARTS];
    static char path[PARTS][PATH_SIZE];
    size_t count = 0;
    for (size_t i = 0; i < PARTS; i++) {
        if (!present[i])
            continue;
        snprintf(path[count], PATH_SIZE, "%.*s/%s.json", PATH_SIZE - NAME_SIZE, job->folder, part[i]);
        document[count] = (struct ww_report_item){part[i], path[count]};
        count++;
    }
    return ww_result_report_json(stream, &job->study, sentence, sizeof sentence / sizeof *sentence, document, count,
                                 error);
}

static enum ww_status save_budget(struct report *report, struct ww_error *error)
{
    const struct budget_part part = {.solution = report->skew.solution, .budget = report->budget}; /* not its own */
    return budget_save(&report->job, &part, error);
}

static enum ww_status save(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    enum ww_status status = job_make_folder(job, error);
    if (!status)
        status = skew_save(job, &report->skew, error);
    if (!status && ww_study_has_tolerances(&job->study))
        status = save_budget(report, error);
    if (!status)
        status = vias_save(job, &report->via, error);
    if (!status)
        status = angles_save(job, &report->angles, error);
    if (!status && report->frequency.spectrum.network.count > 0)
        status = frequency_save(job, &report->frequency, &report->angles.angles, error);
    if (!status)
        status = report->comparison.count > 0 ? compare_save(job, &report->comparison, error) : WW_OK;
    if (!status && report->pitch.pitches > 0)
        status = pitch_save(job, &report->pitch, error);
    if (!status)
        status = verify_save(job, &report->skew.solution, &report->verify, error);
    if (!status)
        status = job_save(job, "report", "json", write_json, report, error);
    if (!status)
        status = job_save(job, "report", "html", write_page, report, error);
    return status;
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

/* A page can show a picture or a drawing, and no document. */
static enum ww_status check(const struct options *options, struct ww_error *error)
{
    if (options->format != WW_FIGURE_PDF)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "a page cannot show figures in PDF; give --format png or svg, and print report.html to PDF");
}

static void show(const struct job *job, const void *result)
{
    const struct ww_answer *answer = &((const struct report *)result)->answer;
    show_title(job);
    printf("\n%s\n\n", answer->verdict);
    paragraph(printf("how bad?"), 14, answer->how_bad);
    paragraph(printf("how likely?"), 14, answer->how_likely);
    paragraph(printf("what to do?"), 14, answer->what_to_do);
    show_files(job);
    printf("\nThe page to read is %s/report.html.\n", job->folder);
}

static void report_clear(struct report *report)
{
    free(report->via);
    ww_budget_clear(&report->budget);
    ww_pitch_clear(&report->pitch);
    ww_comparison_clear(&report->comparison);
    ww_alternatives_clear(&report->alternatives);
    frequency_clear(&report->frequency);
    angles_clear(&report->angles);
    ww_verify_clear(&report->verify);
    skew_clear(&report->skew);
}

enum outcome report_run(const struct options *options)
{
    static struct report report;
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = check(options, &error);
    if (!status)
        status = job_open(&report.job, options, &error);
    if (!status)
        status = job_check_gate(&report.job, &error);
    if (!status)
        status = solve(&report, &error);
    if (!status) {
        struct ww_report page = page_of(&report, NULL);
        ww_report_answer(&page, &report.answer);
        over = job_over(&report.job, ww_report_judged(&page), &report.skew.solution.skew.conversion);
        status = save(&report, &error);
    }
    progress_end();
    if (!status)
        status = job_print(&report.job, write_json, show, &report, &error);
    report_clear(&report);
    return job_finish(&report.job, status, over, &error);
}
