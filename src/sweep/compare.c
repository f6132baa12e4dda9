/* compare.c - the same stackup and trace on one glass after the other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A ply is pressed to a thickness, and resin takes what room the glass leaves. So the plies that change keep their
 * thickness and their resin, and another cloth alters how much of that resin there is: by volume 1 - glass/t, by weight
 * with the densities. A resin whose Dk was solved from a data sheet is taken as it was solved; the sheet is that of the
 * study's cloth. With `same_dk` the resin's Dk is solved anew for each cloth, as from a sheet that states the bulk Dk of
 * the study's ply: then what is left between two styles is the weave, and not that one of them has more glass. What
 * flows beside the copper stays as it is.
 *
 * Styles are worked on side by side, each filling its own place, and sorted behind: the same digits on any number of
 * threads.
 */
#include "weftwise/sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/progress.h"

/* The study's own plies, as the others are set beside them. */
struct base {
    const struct ww_compare_request *request;
    struct ww_stack stack; /* its layers are the request's */
};

/* Is this ply, from 0, one that changes? */
static bool changes(const struct ww_compare_request *request, size_t ply)
{
    return request->ply == 0 || request->ply == ply + 1;
}

static enum ww_status check(const struct ww_compare_request *request, size_t plies, struct ww_error *error)
{
    if (plies == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "the stackup has no ply whose glass could be changed; add one, as in 'ply 1080 100 um'");
    if (request->ply > plies)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "there is no ply %zu; the stackup has %zu, counted from the top", request->ply, plies);
    return WW_OK;
}

/* --- one style ----------------------------------------------------------------------------------------------------- */

/* The layers with the style in the plies that change. */
static enum ww_status replace(struct ww_layer **layer, const struct base *base, const struct ww_style *style,
                              struct ww_error *error)
{
    const struct ww_stack *stack = &base->stack;
    *layer = calloc(stack->count, sizeof **layer);
    if (!*layer)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", stack->count);
    memcpy(*layer, stack->layer, stack->count * sizeof **layer);
    for (size_t p = 0; p < stack->plies; p++) {
        struct ww_layer *of = &(*layer)[stack->ply[p].layer];
        if (!changes(base->request, p))
            continue;
        of->style = *style;
        of->resin.dk = creal(stack->ply[p].eps_resin);
        of->sheet_dk = base->request->same_dk ? stack->ply[p].dk_bulk : 0;
    }
    return WW_OK;
}

static enum ww_status describe(struct ww_compared *compared, const struct ww_stack *stack, size_t changed,
                               struct ww_error *error)
{
    const struct ww_ply *ply = &stack->ply[changed];
    compared->ply = changed;
    compared->warp_pitch = 0.5 * ply->cell.lx;
    compared->fill_pitch = 0.5 * ply->cell.ly;
    compared->mean_dk = ply->dk_bulk;
    compared->resin_content = fmax(ply->resin_content, 0);
    compared->glass_fraction = ply->glass_fraction;
    compared->resin_dk = creal(ply->eps_resin);
    return ww_ply_dk_map(ply, WW_SERIES, &compared->dk, error);
}

static enum ww_status answer(struct ww_compared *compared, const struct ww_compare_request *request,
                             const struct ww_stack *stack, struct ww_error *error)
{
    struct ww_line *line = NULL;
    struct ww_angles_request angles = {
        .skew = request->skew, .from = request->from, .to = request->to, .step = request->step, .quick = true};
    enum ww_status status = ww_line_create(&line, stack, &request->trace, &request->line, error);
    if (!status)
        status = ww_skew_solve(&compared->skew, line, &request->skew, error);
    if (!status) {
        compared->line = *ww_line_summary(line);
        angles.skew.correction = compared->skew.correction; /* solved once, for both */
        status = ww_angles_solve(&compared->angles, line, &angles, error);
    }
    struct ww_doubts_request doubts = {.stack = stack,
                                       .trace = request->trace,
                                       .line = request->line,
                                       .skew = request->skew,
                                       .height_uncertainty = request->height_uncertainty,
                                       .value = compared->skew.worst};
    if (!status)
        status = ww_doubts_solve(&compared->doubts, &doubts, error);
    ww_line_destroy(line);
    return status;
}

static void compared_clear(struct ww_compared *compared)
{
    ww_skew_clear(&compared->skew);
    ww_angles_clear(&compared->angles);
    ww_map_clear(&compared->dk);
    ww_doubts_clear(&compared->doubts);
}

/* What cannot be built with this style is kept in `compared`; what fails beyond that is returned. */
static enum ww_status solve_one(struct ww_compared *compared, const struct base *base,
                                const struct ww_candidate *candidate, struct ww_error *error)
{
    const struct ww_compare_request *request = base->request;
    struct ww_layer *layer = NULL;
    struct ww_stack stack = {0};
    compared->name = candidate->name;
    enum ww_status status = replace(&layer, base, &candidate->style, error);
    if (status)
        goto done;
    stack.layer = layer;
    stack.count = base->stack.count;
    compared->status = ww_stack_build(&stack, &request->cell, &compared->error);
    if (compared->status == WW_NO_MEMORY)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "%s", compared->error.text);
    if (compared->status)
        goto done;
    status = describe(compared, &stack, request->ply ? request->ply - 1 : 0, error);
    if (!status)
        status = answer(compared, request, &stack, error);
done:
    ww_stack_clear(&stack);
    free(layer);
    return status;
}

/* --- can two be told apart? ---------------------------------------------------------------------------------------- */

/* The first source of the ply that changed names its style and glass. */
static const struct ww_doubt *own_doubt(const struct ww_compared *of)
{
    for (size_t i = 0; i < of->doubts.count; i++)
        if (of->doubts.of[i].ply == of->ply)
            return &of->doubts.of[i];
    return NULL;
}

/* Two styles, and the one whose sources are looked at. */
struct pair {
    const struct ww_doubt *own, *other;
};

static bool is_own(const void *host, const struct ww_doubt *doubt)
{
    const struct pair *pair = host;
    bool same_glass = strcmp(pair->own->glass, pair->other->glass) == 0;
    bool same_style = strcmp(pair->own->style, pair->other->style) == 0;
    if (doubt->kind == WW_DOUBT_GLASS_DK)
        return !same_glass && strcmp(doubt->glass, pair->own->glass) == 0;
    return strcmp(doubt->style, pair->own->style) == 0 && (doubt->kind == WW_DOUBT_HEIGHT || !same_style);
}

bool ww_compared_alike(const struct ww_compared *a, const struct ww_compared *b)
{
    struct pair of_a = {own_doubt(a), own_doubt(b)}, of_b = {of_a.other, of_a.own};
    double a_low = a->skew.worst, a_high = a_low, b_low = b->skew.worst, b_high = b_low;
    if (of_a.own && of_a.other) {
        ww_doubts_range(&a->doubts, is_own, &of_a, &a_low, &a_high);
        ww_doubts_range(&b->doubts, is_own, &of_b, &b_low, &b_high);
    }
    return a_low <= b_high && b_low <= a_high;
}

/* --- all of them --------------------------------------------------------------------------------------------------- */

double ww_compared_design(const struct ww_compared *of)
{
    return fmax(of->skew.worst, of->skew.worst_with_turn);
}

/* Ascending in design worst, those that cannot be used last, equals by name. */
static int compare_worst(const void *left, const void *right)
{
    const struct ww_compared *a = left, *b = right;
    if (!a->status != !b->status)
        return a->status ? 1 : -1;
    if (!a->status && ww_compared_design(a) != ww_compared_design(b))
        return ww_compared_design(a) < ww_compared_design(b) ? -1 : 1;
    return strcmp(a->name, b->name);
}

static enum ww_status solve_all(struct ww_comparison *comparison, const struct base *base,
                                const struct ww_candidate *candidate, struct ww_error *error)
{
    struct ww_progress_run progress = {.host = base->request->progress};
    struct ww_failure failure = {.error = error};
    size_t count = comparison->count;
    ww_progress_part(&progress, 1, count);
#ifdef _OPENMP
    /* Where there is but one, its own loops have the threads. */
#pragma omp parallel for num_threads(count < (size_t)ww_threads() ? (int)count : ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, solve_one(&comparison->of[i], base, &candidate[i], &mine), &mine);
        ww_progress_step(&progress);
    }
    return failure.status;
}

enum ww_status ww_compare_solve(struct ww_comparison *comparison, const struct ww_candidate *candidate,
                                size_t candidates, const struct ww_compare_request *request, struct ww_error *error)
{
    struct base base = {request, {.layer = request->stack->layer, .count = request->stack->count}};
    memset(comparison, 0, sizeof *comparison);
    enum ww_status status = candidates ? ww_stack_build(&base.stack, &request->cell, error)
                                       : ww_error_set(error, WW_INVALID, NULL, 0, "no style to compare");
    if (!status)
        status = check(request, base.stack.plies, error);
    if (status)
        goto done;
    comparison->of = calloc(candidates, sizeof *comparison->of);
    if (!comparison->of) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu styles", candidates);
        goto done;
    }
    comparison->count = candidates;
    status = solve_all(comparison, &base, candidate, error);
    if (!status)
        qsort(comparison->of, comparison->count, sizeof *comparison->of, compare_worst);
done:
    ww_stack_clear(&base.stack);
    if (status)
        ww_comparison_clear(comparison);
    return status;
}

void ww_comparison_clear(struct ww_comparison *comparison)
{
    for (size_t i = 0; i < comparison->count; i++)
        compared_clear(&comparison->of[i]);
    free(comparison->of);
    memset(comparison, 0, sizeof *comparison);
}
