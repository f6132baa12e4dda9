/* solve.c - from a study to its answer.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/study.h"

#include <stdlib.h>
#include <string.h>

static enum ww_status take_starts(struct ww_solution *solution, struct ww_error *error)
{
    const struct ww_skew *skew = &solution->skew;
    const struct ww_extreme *worst = ww_skew_worst_at(skew);
    solution->start = calloc(skew->plies + 1, sizeof *solution->start);
    if (!solution->start)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", skew->plies);
    for (size_t p = 0; p < skew->plies; p++) {
        solution->start[p][0] = worst[p].x;
        solution->start[p][1] = worst[p].y;
    }
    return WW_OK;
}

/* The delay shown is the mean over all positions, and the Dk the one that goes with it; at the study's frequency. */
static void summarise(struct ww_solution *solution, double length)
{
    struct ww_line_summary *summary = &solution->summary;
    *summary = *ww_line_summary(solution->line);
    summary->delay = solution->skew.mean_delay / length;
    summary->dk_eff = summary->delay * WW_C0 * (summary->delay * WW_C0);
    if (solution->skew.pair)
        summary->dk_odd = summary->dk_eff;
}

enum ww_status ww_study_solve(struct ww_solution *solution, const struct ww_study *study, struct ww_error *error)
{
    struct ww_line_options options = ww_study_line_options(study);
    struct ww_skew_request request = ww_study_request(study);
    memset(solution, 0, sizeof *solution);
    enum ww_status status = ww_line_create(&solution->line, &study->stack, &study->trace, &options, error);
    if (!status)
        status = ww_skew_solve(&solution->skew, solution->line, &request, error);
    if (!status)
        status = ww_arms_solve(&solution->arms, solution->line, &request, &solution->skew, error);
    if (!status)
        status = take_starts(solution, error);
    struct ww_doubts_request doubts = ww_study_doubts(study, solution->skew.worst);
    if (!status)
        status = ww_doubts_solve(&solution->doubts, &doubts, error);
    if (status)
        ww_solution_clear(solution);
    else
        summarise(solution, study->length);
    return status;
}

void ww_solution_clear(struct ww_solution *solution)
{
    ww_skew_clear(&solution->skew);
    ww_doubts_clear(&solution->doubts);
    ww_arms_clear(&solution->arms);
    ww_line_destroy(solution->line);
    free(solution->start);
    memset(solution, 0, sizeof *solution);
}
