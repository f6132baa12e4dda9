/* spacing.c - how far apart to keep feeds and lanes: solved, saved and shown with skew.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "spacing.h"

#include "progress.h"

enum ww_status spacing_solve(const struct job *job, const struct ww_solution *solution, struct ww_spacing *spacing,
                             struct ww_error *error)
{
    struct ww_spacing_request request = {
        .skew = ww_study_request(&job->study), .answer = &solution->skew, .least = ww_study_room(&job->study)};
    progress_step("trying spacings");
    return job_place(job, ww_spacing_solve(spacing, solution->line, &request, error), error);
}

enum ww_status spacing_save(struct job *job, const struct ww_solution *solution, const struct ww_spacing *spacing,
                            struct ww_error *error)
{
    const struct ww_study *study = &job->study;
    const struct ww_skew *skew = &solution->skew;
    struct ww_figure_spacing feeds = {.subject =
                                          "side by side on the same cloth; dashed: with the tolerances of the cloth",
                                      .spacing = spacing,
                                      .budget = study->budget,
                                      .own = study->spacing,
                                      .own_worst = skew->worst_with_turn};
    struct ww_figure_spacing lanes = {.subject = "side by side on the same cloth",
                                      .spacing = spacing,
                                      .own = study->lane_pitch,
                                      .own_yield = skew->yield};
    enum ww_status status = WW_OK;
    if (spacing->count > 0)
        status = job_kept(job, ww_figure_draw_spacing(job_figure_path(job, "spacing"), &job->figure, &feeds, error),
                          error);
    if (!status && spacing->pitches > 0)
        status =
            job_kept(job, ww_figure_draw_lanes(job_figure_path(job, "lanes"), &job->figure, &lanes, error), error);
    return status;
}
