/* alternatives.c - which other glass is worth a look: shipped styles near to what the study has, and the usual remedy.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A style is an alternative where its fabric fits into every ply of the stackup. Those nearest in thickness to the
 * study's own fill the ply alike, and press to the same thickness without more resin or less than a fabricator would put
 * there (common practice, no source). The usual remedy is cloth of spread yarn of about the same thickness and weight, so
 * most of the places are for that. The study's own come first.
 */
#include "report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double thinnest_ply(const struct ww_stack *stack)
{
    double thinnest = HUGE_VAL;
    for (size_t i = 0; i < stack->plies; i++)
        thinnest = fmin(thinnest, stack->ply[i].thickness);
    return thinnest;
}

static double apart(const struct ww_datum *a, const struct ww_datum *b)
{
    bool known = a->value > 0.0 && b->value > 0.0;
    return known ? fabs(log(a->value / b->value)) : HUGE_VAL;
}

/* How far its fabric is from the one of the study that is nearest to it in thickness; by_weight: in both together. */
static double distance(const struct ww_style *style, const struct ww_stack *stack, bool by_weight)
{
    double least = HUGE_VAL;
    for (size_t i = 0; i < stack->plies; i++) {
        const struct ww_style *own = &stack->layer[stack->ply[i].layer].style;
        double by = apart(&style->thickness, &own->thickness);
        least = fmin(least, by_weight ? by + apart(&style->weight, &own->weight) : by);
    }
    return least;
}

static bool is_among(const struct alternatives *alternatives, const char *name)
{
    for (size_t i = 0; i < alternatives->count; i++)
        if (strcmp(alternatives->candidate[i].style.name, name) == 0)
            return true;
    return false;
}

/* While they are not yet too many. */
static void add(struct alternatives *alternatives, const struct ww_style *style, double thinnest)
{
    if (style->thickness.value > thinnest || is_among(alternatives, style->name) ||
        alternatives->count == ALTERNATIVES_MOST)
        return;
    struct ww_candidate *candidate = &alternatives->candidate[alternatives->count++];
    candidate->style = *style;
    candidate->name = candidate->style.name;
}

/* The nearest among those not yet taken, of spread ones by weight as well; NULL: there is none left. */
static const struct ww_style *nearest(const struct ww_style *style, const bool *taken, size_t count,
                                      const struct ww_stack *stack, bool spread)
{
    const struct ww_style *best = NULL;
    for (size_t i = 0; i < count; i++)
        if (!taken[i] && (!spread || style[i].kind == WW_SPREAD) &&
            (!best || distance(&style[i], stack, spread) < distance(best, stack, spread)))
            best = &style[i];
    return best;
}

/* The nearest first, until there are `most` in all. */
static void add_nearest(struct alternatives *alternatives, const struct ww_style *style, bool *taken, size_t count,
                        const struct ww_stack *stack, bool spread, size_t most)
{
    const struct ww_style *next = NULL;
    while (alternatives->count < most && (next = nearest(style, taken, count, stack, spread)) != NULL) {
        taken[next - style] = true;
        add(alternatives, next, thinnest_ply(stack));
    }
}

static enum ww_status add_shipped(struct alternatives *alternatives, const struct ww_weaves *weaves,
                                  const struct ww_stack *stack, struct ww_error *error)
{
    struct ww_names names = {0};
    enum ww_status status = ww_weaves_styles(weaves, &names, error);
    struct ww_style *style = calloc(names.count + 1, sizeof *style);
    bool *taken = calloc(names.count + 1, sizeof *taken);
    if (!status && (!style || !taken))
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu styles", names.count);
    for (size_t i = 0; i < names.count && !status; i++)
        status = ww_weaves_style(weaves, names.name[i], &style[i], error);
    size_t one_more = alternatives->count + 1;
    if (!status) {
        add_nearest(alternatives, style, taken, names.count, stack, false, one_more);
        add_nearest(alternatives, style, taken, names.count, stack, true, ALTERNATIVES_MOST);
        add_nearest(alternatives, style, taken, names.count, stack, false, ALTERNATIVES_MOST);
    }
    free(taken);
    free(style);
    ww_names_clear(&names);
    return status;
}

enum ww_status alternatives_choose(struct alternatives *alternatives, const struct job *job, struct ww_error *error)
{
    const struct ww_stack *stack = &job->study.stack;
    struct ww_weaves weaves = {0};
    char folder[PATH_SIZE];
    alternatives->candidate = calloc(ALTERNATIVES_MOST, sizeof *alternatives->candidate);
    enum ww_status status = alternatives->candidate
                                ? ww_study_find_weaves(job->options->weaves, folder, sizeof folder, error)
                                : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the styles");
    for (size_t i = 0; i < stack->plies && !status; i++)
        add(alternatives, &stack->layer[stack->ply[i].layer].style, thinnest_ply(stack));
    if (!status)
        status = ww_weaves_open(&weaves, folder, NULL, error);
    if (!status)
        status = add_shipped(alternatives, &weaves, stack, error);
    ww_weaves_close(&weaves);
    return status;
}

void alternatives_clear(struct alternatives *alternatives)
{
    free(alternatives->candidate);
    *alternatives = (struct alternatives){0};
}
