/* report/budget.c - what makes two circuits differ, in words.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/words.h"

#include <string.h>

/* What the budget is held against: "99 of 100 pairs skew less than 2.1 ps". */
static void add_judged(const struct ww_budget *budget, char *out, size_t size)
{
    static const char *const circuits[] = {"two circuits of one board", "two circuits of two boards",
                                           "two circuits over life"};
    struct ww_words value;
    ww_words_time(&value, budget->judged);
    if (budget->pair)
        ww_words_add(out, size, "99 of 100 pairs skew less than %s", value.of);
    else
        ww_words_add(out, size, "%s differ by less than %s in 99 of 100", circuits[budget->between], value.of);
}

static void add_remedy(const struct ww_budget *budget, const struct ww_cause *leading, char *out, size_t size)
{
    struct ww_words left;
    ww_words_time(&left, leading->halved);
    if (leading->halved <= budget->budget)
        ww_words_add(out, size, "Halving one cause alone brings that within the budget: %s, to %s", leading->name,
                     left.of);
    else
        ww_words_add(out, size, "No single cause halved brings that within the budget; most is gained by %s, to %s",
                     leading->name, left.of);
}

char *ww_words_budget(const struct ww_budget *budget, char *out, size_t size)
{
    const struct ww_cause *leading = ww_budget_leading(budget);
    struct ww_words value;
    out[0] = '\0';
    if (!leading) {
        ww_words_add(out, size, "Nothing is given that makes two circuits differ.");
        return out;
    }
    add_judged(budget, out, size);
    if (out[0] == 't')
        out[0] = 'T';
    ww_words_time(&value, budget->budget);
    if (budget->budget > 0.0)
        ww_words_add(out, size, ", %s the budget of %s. ", budget->judged <= budget->budget ? "within" : "over",
                     value.of);
    else
        ww_words_add(out, size, ". ");
    if (budget->budget > 0.0 && budget->judged > budget->budget) {
        add_remedy(budget, leading, out, size);
    } else {
        ww_words_time(&value, leading->halved);
        ww_words_add(out, size, "The leading cause is %s; halved alone it leaves %s", leading->name, value.of);
    }
    ww_words_add(
        out, size, "%s",
        leading->kind == WW_CAUSE_WEAVE ? ". 'angles' and 'compare' tell which angle and which glass do that." : ".");
    return out;
}
