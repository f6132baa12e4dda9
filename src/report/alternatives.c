/* alternatives.c - which other glass is worth comparing: shipped styles near to what the study has, and the usual remedy.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A style is an alternative where its fabric fits into every ply of the stackup. Those nearest in thickness to the
 * study's own fill the ply alike, and press to the same thickness without more resin or less than a fabricator would put
 * there (common practice, no source). The usual remedy is cloth of spread yarn of about the same thickness and weight, so
 * most of the places are for that. The study's own come first.
 */
#include "weftwise/report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double thinnest_opening(const struct ww_stack *stack)
{
    double thinnest = HUGE_VAL;
    for (size_t i = 0, layers; i<stack->count; i += layers> 0 ? layers : 1) {
        layers = ww_opening_layers(&stack->layer[i], stack->count - i);
        if (layers > 0)
            thinnest = fmin(thinnest, ww_opening_thickness(&stack->layer[i], layers));
    }
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

static bool is_among(const struct ww_alternatives *alternatives, const char *name)
{
    for (size_t i = 0; i < alternatives->count; i++)
        if (strcmp(alternatives->candidate[i].style.name, name) == 0)
            return true;
    return false;
}

/* Up to the most allowed. */
static void add(struct ww_alternatives *alternatives, const struct ww_style *style, double thinnest)
{
    if (style->thickness.value > thinnest || is_among(alternatives, style->name) ||
        alternatives->count == WW_ALTERNATIVES_MOST)
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
static void add_nearest(struct ww_alternatives *alternatives, const struct ww_style *style, bool *taken, size_t count,
                        const struct ww_stack *stack, bool spread, size_t most)
{
    const struct ww_style *next = NULL;
    while (alternatives->count < most && (next = nearest(style, taken, count, stack, spread)) != NULL) {
        taken[next - style] = true;
        add(alternatives, next, thinnest_opening(stack));
    }
}

static enum ww_status add_shipped(struct ww_alternatives *alternatives, const struct ww_weaves *weaves,
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
        add_nearest(alternatives, style, taken, names.count, stack, true, WW_ALTERNATIVES_MOST);
        add_nearest(alternatives, style, taken, names.count, stack, false, WW_ALTERNATIVES_MOST);
    }
    free(taken);
    free(style);
    ww_names_clear(&names);
    return status;
}

enum ww_status ww_alternatives_choose(struct ww_alternatives *alternatives, const struct ww_stack *stack,
                                      const struct ww_weaves *weaves, struct ww_error *error)
{
    alternatives->count = 0;
    alternatives->candidate = calloc(WW_ALTERNATIVES_MOST, sizeof *alternatives->candidate);
    if (!alternatives->candidate)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the styles");
    for (size_t i = 0; i < stack->plies; i++)
        add(alternatives, &stack->layer[stack->ply[i].layer].style, thinnest_opening(stack));
    enum ww_status status = add_shipped(alternatives, weaves, stack, error);
    if (status)
        ww_alternatives_clear(alternatives);
    return status;
}

void ww_alternatives_clear(struct ww_alternatives *alternatives)
{
    free(alternatives->candidate);
    *alternatives = (struct ww_alternatives){0};
}
