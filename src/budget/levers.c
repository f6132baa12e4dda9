/* levers.c - what the weave's own levers would leave: another angle, another glass, another pitch.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The sweeps say which angle, glass and pitch are best for the weave alone. Here the study is changed in that one thing and solved
 * again with all of its causes: another glass or pitch has another cross-section, whose Dk, height and gap sensitivities differ.
 * Nothing is scaled from the study's own budget. Angles are those somebody types, to a tenth of a degree; pitches to a tenth of a
 * micrometre.
 */
#include "weftwise/budget.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DRAWS 1000 /* of sums that nobody reads here */

static const double tenth_degree = WW_PI / 1800.0, tenth_micrometre = 1e-7;

static void leave_out(struct ww_lever *lever, const char *why)
{
    snprintf(lever->why, sizeof lever->why, "%s", why);
}

/* The changed study, whose stack is built. */
static enum ww_status solve(struct ww_lever *lever, const struct ww_study *study, struct ww_error *error)
{
    struct ww_solution solution = {0};
    struct ww_budget budget = {0};
    struct ww_budget_request request = {.study = study, .solution = &solution, .draws = DRAWS};
    struct ww_study alone = *study;
    alone.arms = 0; /* the budget lays the arms itself */
    enum ww_status status = ww_study_solve(&solution, &alone, error);
    if (!status)
        status = ww_budget_solve(&budget, &request, error);
    lever->given = !status;
    lever->judged = budget.judged;
    lever->over_budget = budget.over_budget;
    lever->impedance = budget.nominal[WW_OBSERVED_IMPEDANCE];
    ww_budget_clear(&budget);
    ww_solution_clear(&solution);
    return status;
}

/* --- which --------------------------------------------------------------------------------------------------------------- */

static bool same_angle(double a, double b)
{
    return fabs(remainder(a - b, WW_PI)) < 0.5 * tenth_degree;
}

/* The angle that is advised, else the tenth nearest to the least design worst. */
static double best_angle(const struct ww_angles *angles)
{
    const struct ww_at_angle *best = angles->at;
    if (angles->advice.found)
        return angles->advice.angle;
    for (size_t i = 1; i < angles->count; i++)
        if (angles->at[i].design < best->design)
            best = &angles->at[i];
    return round(best->angle / tenth_degree) * tenth_degree;
}

static enum ww_status pull_angle(struct ww_lever *lever, const struct ww_levers_request *request,
                                 struct ww_error *error)
{
    struct ww_study changed = *request->study;
    if (!request->angles || request->angles->count == 0) {
        leave_out(lever, "no angles were tried");
        return WW_OK;
    }
    changed.angle = best_angle(request->angles);
    if (same_angle(changed.angle, request->study->angle)) {
        leave_out(lever, "the study's own angle is the best");
        return WW_OK;
    }
    ww_number_format(lever->to, sizeof lever->to, changed.angle, WW_ANGLE, 4);
    return solve(lever, &changed, error);
}

/* What a glass leaves is judged as 99 of 100 over place, turn and count of the cloth; of all of them the other causes have much the
 * same, so that the least of the weave's is the least of the whole's. */
static bool is_better(const struct ww_compared *a, const struct ww_compared *b)
{
    return a->skew.tolerant_p99 < b->skew.tolerant_p99;
}

/* The best but the study's own that can be pressed; NULL: none. */
static const struct ww_compared *best_other(const struct ww_comparison *comparison)
{
    const struct ww_compared *best = NULL;
    for (size_t i = 0; i < comparison->count; i++) {
        const struct ww_compared *of = &comparison->of[i];
        if (of->own || of->status || ww_compared_flag(of))
            continue;
        if (!best || is_better(of, best))
            best = of;
    }
    return best;
}

static const struct ww_candidate *candidate_of(const struct ww_levers_request *request,
                                               const struct ww_compared *compared)
{
    for (size_t i = 0; i < request->candidates; i++)
        if (strcmp(request->candidate[i].name, compared->name) == 0)
            return &request->candidate[i];
    return NULL;
}

static enum ww_status pull_glass(struct ww_lever *lever, const struct ww_levers_request *request,
                                 struct ww_error *error)
{
    struct ww_study changed = *request->study;
    const struct ww_compared *best = request->comparison ? best_other(request->comparison) : NULL;
    const struct ww_candidate *candidate = best ? candidate_of(request, best) : NULL;
    if (!candidate) {
        leave_out(lever, request->comparison && request->comparison->count > 0
                             ? "no other glass that was tried can be pressed into this stackup"
                             : "no other glass was tried");
        return WW_OK;
    }
    struct ww_compare_request compare = {.stack = &request->study->stack,
                                         .cell = {.fineness = request->study->fineness}};
    snprintf(lever->to, sizeof lever->to, "%s", ww_compared_name(best));
    enum ww_status status = ww_compare_fill(&changed.stack, candidate, &compare, error);
    if (!status)
        status = solve(lever, &changed, error);
    if (changed.stack.layer != request->study->stack.layer) {
        ww_stack_clear(&changed.stack);
        free(changed.stack.layer);
    }
    return status;
}

static enum ww_status pull_pitch(struct ww_lever *lever, const struct ww_levers_request *request,
                                 struct ww_error *error)
{
    struct ww_study changed = *request->study;
    const struct ww_pitch *pitch = request->pitch;
    if (!(changed.trace.pitch > 0.0)) {
        leave_out(lever, "a single trace has no pitch");
        return WW_OK;
    }
    if (!pitch || !(pitch->null_pitch > 0.0)) {
        leave_out(lever, "no pitch was tried");
        return WW_OK;
    }
    changed.trace.pitch = round(pitch->null_pitch / tenth_micrometre) * tenth_micrometre;
    ww_number_format(lever->to, sizeof lever->to, changed.trace.pitch, WW_LENGTH, 6);
    if (!(changed.warp_tolerance > 0.0) && !(changed.fill_tolerance > 0.0))
        snprintf(lever->caution, sizeof lever->caution,
                 "with yarn counts that are exact: give fabric.count_tolerance, a null is lost with them");
    return solve(lever, &changed, error);
}

/* --- all of them --------------------------------------------------------------------------------------------------------- */

enum ww_status ww_budget_pull(struct ww_budget *budget, const struct ww_levers_request *request,
                              struct ww_error *error)
{
    static const struct {
        const char *name;
        enum ww_status (*pull)(struct ww_lever *lever, const struct ww_levers_request *request,
                               struct ww_error *error);
    } row[WW_LEVERS] = {[WW_LEVER_ANGLE] = {"another angle", pull_angle},
                        [WW_LEVER_GLASS] = {"another glass", pull_glass},
                        [WW_LEVER_PITCH] = {"another pitch", pull_pitch}};
    enum ww_status status = WW_OK;
    budget->levers = 0;
    for (int i = 0; i < WW_LEVERS && !status; i++) {
        struct ww_lever *lever = &budget->lever[i];
        *lever = (struct ww_lever){.name = row[i].name};
        if (request->study->stack.plies == 0)
            leave_out(lever, "the stackup has no cloth");
        else
            status = row[i].pull(lever, request, error);
        if (request->progress.report)
            request->progress.report(request->progress.context, (i + 1.0) / WW_LEVERS);
    }
    budget->levers = status ? 0 : WW_LEVERS;
    return status;
}

/* Of two that meet the budget that without a caution, else that which leaves less. */
static bool is_preferred(const struct ww_lever *lever, const struct ww_lever *over, const struct ww_budget *budget)
{
    bool both_meet = fmax(lever->judged, over->judged) <= budget->budget, cautioned = lever->caution[0] != '\0';
    if (both_meet && cautioned != (over->caution[0] != '\0'))
        return !cautioned;
    return lever->judged < over->judged;
}

const struct ww_lever *ww_budget_best_lever(const struct ww_budget *budget)
{
    const struct ww_lever *best = NULL;
    for (size_t i = 0; i < budget->levers; i++) {
        const struct ww_lever *lever = &budget->lever[i];
        if (lever->given && lever->judged < budget->judged && (!best || is_preferred(lever, best, budget)))
            best = lever;
    }
    return best;
}
