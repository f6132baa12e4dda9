/* report.c - weftwise report STUDY: all of it for a design review, on one page.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Runs the parts of the other commands, saves their files, and ties them together on report.html. Full solutions are
 * taken more sparsely than `verify` takes them, so that the whole stays a matter of seconds; their error bar is the wider
 * for it, not the narrower.
 */
#include "report.h"

#include "progress.h"

#include <math.h>

enum { SECTIONS = 8 };

/* --- solving and saving --------------------------------------------------------------------------------------------------- */

static enum ww_status solve(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    enum ww_status status = skew_solve(job, job->study.turn, &report->kernel, error);
    if (!status)
        status = angles_solve(job, &report->angles, error);
    if (!status)
        status = verify_solve(job, &report->kernel, SECTIONS, false, &report->verify, error);
    return status;
}

static enum ww_status save_page(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    struct ww_output output = {0};
    enum ww_status status = job_begin(job, error, "html", "report");
    if (!status)
        status = ww_output_open(&output, job->path, error);
    if (!status)
        status = report_write_page(report, output.stream, error);
    if (!status)
        status = ww_output_commit(&output, error);
    ww_output_discard(&output);
    return job_end(job, status, error);
}

static enum ww_status save(struct report *report, struct ww_error *error)
{
    struct job *job = &report->job;
    enum ww_status status = job_make_folder(job, error);
    if (!status)
        status = skew_save(job, &report->kernel, error);
    if (!status)
        status = angles_save(job, &report->angles, error);
    if (!status)
        status = verify_save(job, &report->kernel, &report->verify, error);
    if (!status)
        status = save_page(report, error);
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

static void report_clear(struct report *report)
{
    angles_clear(&report->angles);
    ww_verify_clear(&report->verify);
    skew_clear(&report->kernel);
    job_close(&report->job);
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
    if (!status)
        status = save(&report, &error);
    progress_end();
    if (!status) {
        over = job_over(&report.job, report_judged(&report));
        if (!options->quiet) {
            show_title(&report.job);
            show_files(&report.job);
        }
    }
    report_clear(&report);
    if (status)
        return fail(&error);
    enum outcome outcome = finish_output();
    return outcome ? outcome : over ? OVER_BUDGET : DONE;
}
