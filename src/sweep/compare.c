/* compare.c - the same stackup and trace on one glass after the other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * An opening is pressed to a thickness, and resin takes what room the glass leaves. So openings that change keep their
 * thickness and their resin, and another cloth alters how much of that resin there is: by volume 1 - glass/t, by weight
 * with the densities. A thin cloth alone would leave far more of it than a prepreg has; so as many cloths go in as bring the
 * resin content nearest to what it was. A resin whose Dk was solved from a data sheet is taken as it was solved; the sheet is that of the
 * study's cloth. With `same_dk` the resin's Dk is solved anew for each cloth, as from a sheet that states the bulk Dk of
 * the study's opening: then what is left between two styles is the weave, and not that one of them has more glass. What
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

/* Sheets that a fabricator lays into one opening (common practice, no source); more are taken where they are asked for. */
enum { MOST_CHOSEN = 3 };

/* Plies of one resin on each other, in the study. */
struct opening {
    size_t layer, layers; /* the first, and how many */
    size_t ply;           /* of the first layer */
    bool changes;
    double thickness;
    double resin_share;       /* by weight; by volume where the resin's density is not known */
    double resin_dk, bulk_dk; /* of the resin as solved from the sheet, where there is one */
};

/* The study's own plies, as the others are set beside them. */
struct base {
    const struct ww_compare_request *request;
    struct ww_stack stack; /* its layers are the request's */
    size_t openings;
    struct opening *opening;
};

/* A candidate, and how many cloths of it go into each opening that changes. */
struct plan {
    const struct ww_candidate *candidate; /* NULL: the study's own */
    char label[WW_COMPARED_LABEL];
};

static enum ww_status check(const struct ww_compare_request *request, const struct ww_candidate *candidate,
                            size_t candidates, size_t plies, struct ww_error *error)
{
    for (size_t i = 0; i < candidates; i++)
        if (candidate[i].cloths > WW_CLOTHS_MOST)
            return ww_error_set(error, WW_INVALID, NULL, 0, "%.40s: %zu cloths in a ply; give at most %d",
                                candidate[i].name, candidate[i].cloths, WW_CLOTHS_MOST);
    if (plies == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "the stackup has no ply whose glass could be changed; add one, as in 'ply 1080 100 um'");
    if (request->ply > plies)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "there is no ply %zu; the stackup has %zu, counted from the top", request->ply, plies);
    return WW_OK;
}

/* --- resin ----------------------------------------------------------------------------------------------------------- */

const char *ww_resin_flag_name(enum ww_resin_flag flag)
{
    static const char *const name[] = {"", "resin-rich", "resin-starved"};
    return flag <= WW_RESIN_STARVED ? name[flag] : "";
}

const char *ww_compared_name(const struct ww_compared *of)
{
    return of->label[0] ? of->label : of->name;
}

const struct ww_filling *ww_compared_filling(const struct ww_compared *of)
{
    for (size_t i = 0; i < of->fillings; i++)
        if (of->filling[i].flag != WW_RESIN_WITHIN)
            return &of->filling[i];
    return of->fillings ? of->filling : NULL;
}

enum ww_resin_flag ww_compared_flag(const struct ww_compared *of)
{
    const struct ww_filling *filling = ww_compared_filling(of);
    return filling ? filling->flag : WW_RESIN_WITHIN;
}

/* Of a height t that holds glass of a volume and mass per area; by volume where the resin's density is not known. */
static double resin_share(double t, double volume, double mass, double resin_density)
{
    double resin = resin_density * (t - volume);
    return resin_density > 0 ? resin / (resin + mass) : 1 - volume / t;
}

/* Of plies that are built; their glass by volume in *glass. */
static double share_of_plies(const struct ww_stack *stack, size_t ply, size_t plies, double *glass)
{
    const struct ww_layer *first = &stack->layer[stack->ply[ply].layer];
    double t = 0, volume = 0, mass = 0;
    for (size_t p = ply; p < ply + plies; p++) {
        double of_ply = stack->ply[p].glass_fraction * stack->ply[p].thickness;
        t += stack->ply[p].thickness;
        volume += of_ply;
        mass += of_ply * stack->layer[stack->ply[p].layer].style.glass.density;
    }
    *glass = volume / t;
    return resin_share(t, volume, mass, first->resin.density);
}

/* In bulk, plies one on the other. */
static double bulk_of_plies(const struct ww_stack *stack, size_t ply, size_t plies)
{
    double t = 0, series = 0;
    for (size_t p = ply; p < ply + plies; p++) {
        t += stack->ply[p].thickness;
        series += stack->ply[p].thickness / stack->ply[p].dk_bulk;
    }
    return plies == 1 ? stack->ply[ply].dk_bulk : t / series;
}

/* What an opening holds: rich above the most of all of its cloths, starved below their least. */
static struct ww_filling filling_of(const struct ww_stack *stack, size_t ply, size_t plies)
{
    double least = 1, most = 0, glass;
    struct ww_filling filling = {.cloths = plies};
    for (size_t p = ply; p < ply + plies; p++) {
        const struct ww_style *style = &stack->layer[stack->ply[p].layer].style;
        least = fmin(least, ww_style_resin_least(style).value);
        most = fmax(most, ww_style_resin_most(style).value);
    }
    if (!(stack->layer[stack->ply[ply].layer].resin.density > 0))
        return filling;
    filling.resin_content = share_of_plies(stack, ply, plies, &glass);
    filling.flag = filling.resin_content > most    ? WW_RESIN_RICH
                   : filling.resin_content < least ? WW_RESIN_STARVED
                                                   : WW_RESIN_WITHIN;
    return filling;
}

/* --- openings ---------------------------------------------------------------------------------------------------------- */

/* Of a resin that each ply has solved from the sheet, the mean. */
static double resin_dk_of(const struct ww_stack *stack, size_t ply, size_t plies)
{
    double resin = 0, sum = 0;
    for (size_t p = ply; p < ply + plies; p++) {
        double volume = (1 - stack->ply[p].glass_fraction) * stack->ply[p].thickness;
        resin += volume;
        sum += volume * creal(stack->ply[p].eps_resin);
    }
    return plies == 1 ? creal(stack->ply[ply].eps_resin) : sum / resin;
}

static enum ww_status find_openings(struct base *base, struct ww_error *error)
{
    const struct ww_stack *stack = &base->stack;
    size_t ply = 0, asked = base->request->ply;
    base->opening = calloc(stack->plies, sizeof *base->opening);
    if (!base->opening)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
    while (ply < stack->plies) {
        size_t layer = stack->ply[ply].layer, layers = ww_opening_layers(&stack->layer[layer], stack->count - layer);
        double glass;
        base->opening[base->openings++] =
            (struct opening){.layer = layer,
                             .layers = layers,
                             .ply = ply,
                             .changes = asked == 0 || (asked > ply && asked <= ply + layers),
                             .thickness = ww_opening_thickness(&stack->layer[layer], layers),
                             .resin_share = share_of_plies(stack, ply, layers, &glass),
                             .resin_dk = resin_dk_of(stack, ply, layers),
                             .bulk_dk = bulk_of_plies(stack, ply, layers)};
        ply += layers;
    }
    return WW_OK;
}

/* How many cloths: those that fit, at most MOST_CHOSEN, the resin content nearest to what it was; at least one. */
static size_t choose_cloths(const struct base *base, const struct opening *opening,
                            const struct ww_candidate *candidate)
{
    const struct ww_style *style = &candidate->style;
    double thickness = style->warp.height.value + style->fill.height.value, weight = ww_style_weight(style);
    double density = base->stack.layer[opening->layer].resin.density, least = HUGE_VAL;
    size_t best = 1;
    if (candidate->cloths > 0)
        return candidate->cloths;
    for (size_t n = 1; n <= MOST_CHOSEN && (double)n * thickness <= opening->thickness; n++) {
        double mass = (double)n * weight, volume = mass / style->glass.density;
        double off = fabs(resin_share(opening->thickness, volume, mass, density) - opening->resin_share);
        if (off < least) {
            least = off;
            best = n;
        }
    }
    return best;
}

/* How many plies an opening has. */
static size_t plies_of(const struct base *base, const struct opening *opening, const struct plan *plan)
{
    return plan->candidate && opening->changes ? choose_cloths(base, opening, plan->candidate) : opening->layers;
}

static void append(char label[WW_COMPARED_LABEL], const char *text)
{
    if (strlen(label) + strlen(text) < WW_COMPARED_LABEL)
        strcat(label, text);
}

/* The style that all openings that change have in the study; NULL where they differ. */
static const char *own_style(const struct base *base)
{
    const char *own = NULL;
    for (size_t i = 0; i < base->openings; i++) {
        const struct opening *opening = &base->opening[i];
        for (size_t k = 0; k < opening->layers && opening->changes; k++) {
            const char *name = base->stack.layer[opening->layer + k].style.name;
            if (own && strcmp(own, name) != 0)
                return NULL;
            own = name;
        }
    }
    return own;
}

/* "2x1035"; with 3 and 2 cloths in two openings "3x/2x1035". */
static void label_cloths(struct plan *plan, const struct base *base, const char *style)
{
    size_t first = 0;
    bool same = true;
    for (size_t i = 0; i < base->openings; i++) {
        size_t cloths = plies_of(base, &base->opening[i], plan);
        if (!base->opening[i].changes)
            continue;
        same = same && (first == 0 || cloths == first);
        first = first ? first : cloths;
    }
    for (size_t i = 0, named = 0; i < base->openings && !(same && (named || first == 1)); i++) {
        char text[32];
        if (!base->opening[i].changes)
            continue;
        snprintf(text, sizeof text, "%s%zux", named++ ? "/" : "", plies_of(base, &base->opening[i], plan));
        append(plan->label, text);
    }
    append(plan->label, style);
}

/* Of a study with several styles, what is in each opening. */
static void label_openings(struct plan *plan, const struct base *base)
{
    for (size_t i = 0; i < base->openings; i++) {
        char text[WW_COMPARED_LABEL];
        if (!base->opening[i].changes)
            continue;
        append(plan->label, plan->label[0] ? ", " : "");
        append(plan->label, ww_opening_text(&base->stack.layer[base->opening[i].layer], base->opening[i].layers, text,
                                            sizeof text));
    }
}

static struct plan plan_of(const struct base *base, const struct ww_candidate *candidate)
{
    struct plan plan = {.candidate = candidate};
    const char *style = candidate ? candidate->name : own_style(base);
    if (candidate && candidate->cloths)
        append(plan.label, candidate->name); /* it says how many */
    else if (style)
        label_cloths(&plan, base, style);
    else
        label_openings(&plan, base);
    return plan;
}

/* --- one style ----------------------------------------------------------------------------------------------------- */

/* The cloths of a candidate into an opening. *layers: of the new one. */
static enum ww_status fill(struct ww_layer *layer, size_t *layers, const struct base *base,
                           const struct opening *opening, const struct ww_candidate *candidate,
                           struct ww_error *error)
{
    struct ww_layer whole = base->stack.layer[opening->layer];
    struct ww_cloths *cloths = calloc(1, sizeof *cloths);
    if (!cloths)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the cloths of a ply");
    cloths->count = choose_cloths(base, opening, candidate);
    for (size_t i = 0; i < cloths->count; i++)
        cloths->style[i] = candidate->style;
    whole.thickness = opening->thickness;
    whole.cloth_height = opening->layers == 1 ? whole.cloth_height : 0;
    whole.resin.dk = opening->resin_dk;
    whole.sheet_dk = base->request->same_dk ? opening->bulk_dk : 0;
    *layers = cloths->count;
    enum ww_status status = ww_opening_fill(layer, &whole, cloths->style, cloths->count, error);
    free(cloths);
    return status;
}

/* The layers with the candidate in the openings that change; *count of them. */
static enum ww_status replace(struct ww_layer *layer, size_t *count, const struct base *base,
                              const struct ww_candidate *candidate, struct ww_error *error)
{
    const struct ww_stack *stack = &base->stack;
    size_t opening = 0, i = 0;
    enum ww_status status = WW_OK;
    *count = 0;
    while (i < stack->count && !status) {
        const struct opening *of = opening < base->openings ? &base->opening[opening] : NULL;
        bool here = of && of->layer == i;
        size_t layers = here ? of->layers : 1;
        if (here && of->changes && candidate) {
            i += layers;
            status = fill(&layer[*count], &layers, base, of, candidate, error);
        } else {
            memcpy(&layer[*count], &stack->layer[i], layers * sizeof *layer);
            i += layers;
        }
        *count += layers;
        opening += here;
    }
    return status;
}

/* Glass that a beam meets in plies one on the other. Each cloth lies anywhere, on its own: heights add, and the chances of no glass
 * multiply. */
static enum ww_status drill(struct ww_via *via, const struct ww_stack *stack, size_t ply, size_t plies,
                            double diameter, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    if (!(diameter > 0))
        return WW_OK;
    via->without = 1;
    for (size_t p = ply; p < ply + plies && !status; p++) {
        struct ww_map map = {0};
        status = ww_ply_glass_map(&stack->ply[p], diameter, &map, error);
        if (!status) {
            struct ww_via one = ww_via_of_map(&map);
            via->least += one.least;
            via->mean += one.mean;
            via->most += one.most;
            via->without *= one.without;
        }
        ww_map_clear(&map);
    }
    return status;
}

static enum ww_status describe(struct ww_compared *compared, const struct base *base, const struct plan *plan,
                               const struct ww_stack *stack, struct ww_error *error)
{
    size_t at = 0, cloths = 0;
    compared->filling = calloc(base->openings, sizeof *compared->filling);
    if (!compared->filling)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
    for (size_t i = 0; i < base->openings; i++) {
        size_t plies = plies_of(base, &base->opening[i], plan);
        if (base->opening[i].changes && compared->fillings++ == 0) {
            compared->ply = at;
            cloths = plies;
            compared->mean_dk = bulk_of_plies(stack, at, plies);
            share_of_plies(stack, at, plies, &compared->glass_fraction);
        }
        if (base->opening[i].changes)
            compared->filling[compared->fillings - 1] = filling_of(stack, at, plies);
        at += plies;
    }
    const struct ww_ply *ply = &stack->ply[compared->ply];
    compared->kind = stack->layer[ply->layer].style.kind;
    compared->warp_pitch = 0.5 * ply->cell.lx;
    compared->fill_pitch = 0.5 * ply->cell.ly;
    compared->resin_content = compared->filling[0].resin_content;
    compared->resin_dk = creal(ply->eps_resin);
    enum ww_status status = ww_ply_dk_map(ply, WW_SERIES, &compared->dk, error);
    if (!status)
        status = drill(&compared->via, stack, compared->ply, cloths, base->request->via_diameter, error);
    return status;
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
        angles.skew.rate = angles.skew.frequency = 0;       /* the curve is of skew alone: a third of the time */
        status = ww_angles_solve(&compared->angles, line, &angles, error);
    }
    struct ww_doubts_request doubts = {.stack = stack,
                                       .trace = request->trace,
                                       .line = request->line,
                                       .skew = request->skew,
                                       .height_uncertainty = request->height_uncertainty,
                                       .value = ww_compared_design(compared)};
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
    free(compared->filling);
}

/* What cannot be built with this style is kept in `compared`; what fails beyond that is returned. */
static enum ww_status solve_one(struct ww_compared *compared, const struct base *base, const struct plan *plan,
                                struct ww_error *error)
{
    const struct ww_compare_request *request = base->request;
    struct ww_stack stack = {0};
    compared->name = plan->candidate ? plan->candidate->name : plan->label;
    compared->own = !plan->candidate;
    memcpy(compared->label, plan->label, sizeof compared->label);
    struct ww_layer *layer = calloc(base->stack.count + base->openings * WW_CLOTHS_MOST, sizeof *layer);
    enum ww_status status =
        layer ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", base->stack.count);
    if (status)
        goto done;
    compared->status = replace(layer, &stack.count, base, plan->candidate, &compared->error);
    stack.layer = layer;
    if (!compared->status)
        compared->status = ww_stack_build(&stack, &request->cell, &compared->error);
    if (compared->status == WW_NO_MEMORY)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "%s", compared->error.text);
    if (compared->status)
        goto done;
    status = describe(compared, base, plan, &stack, error);
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
    double a_low = ww_compared_design(a), a_high = a_low, b_low = ww_compared_design(b), b_high = b_low;
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

/* The study's own first, those nobody would press behind, those that cannot be used last. */
static int rank(const struct ww_compared *of)
{
    return of->own ? 0 : of->status ? 3 : ww_compared_flag(of) ? 2 : 1;
}

/* By rank, then ascending in design worst, equals by name. */
static int compare_worst(const void *left, const void *right)
{
    const struct ww_compared *a = left, *b = right;
    if (rank(a) != rank(b))
        return rank(a) < rank(b) ? -1 : 1;
    if (!a->status && ww_compared_design(a) != ww_compared_design(b))
        return ww_compared_design(a) < ww_compared_design(b) ? -1 : 1;
    return strcmp(a->name, b->name);
}

const struct ww_compared *ww_comparison_best(const struct ww_comparison *comparison)
{
    const struct ww_compared *best = NULL;
    for (size_t i = 0; i < comparison->count; i++) {
        const struct ww_compared *of = &comparison->of[i];
        if (!of->status && !ww_compared_flag(of) && (!best || ww_compared_design(of) < ww_compared_design(best)))
            best = of;
    }
    return best;
}

static enum ww_status solve_all(struct ww_comparison *comparison, const struct base *base, const struct plan *plan,
                                struct ww_error *error)
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
        ww_failure_keep(&failure, i, solve_one(&comparison->of[i], base, &plan[i], &mine), &mine);
        ww_progress_step(&progress);
    }
    return failure.status;
}

/* The study's own, then the candidates that are not the same; how many. */
static size_t plan_all(struct plan *plan, const struct base *base, const struct ww_candidate *candidate,
                       size_t candidates)
{
    size_t count = 1;
    plan[0] = plan_of(base, NULL);
    for (size_t i = 0; i < candidates; i++) {
        plan[count] = plan_of(base, &candidate[i]);
        count += strcmp(plan[count].label, plan[0].label) != 0;
    }
    return count;
}

static enum ww_status solve_candidates(struct ww_comparison *comparison, const struct base *base,
                                       const struct ww_candidate *candidate, size_t candidates,
                                       struct ww_error *error)
{
    struct plan *plan = calloc(candidates + 1, sizeof *plan);
    comparison->of = calloc(candidates + 1, sizeof *comparison->of);
    if (!plan || !comparison->of) {
        free(plan);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu styles", candidates);
    }
    comparison->count = plan_all(plan, base, candidate, candidates);
    enum ww_status status = solve_all(comparison, base, plan, error);
    comparison->own = strdup(plan[0].label);
    free(plan);
    if (!status && !comparison->own)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a name");
    if (status)
        return status;
    comparison->of[0].name = comparison->own;
    qsort(comparison->of, comparison->count, sizeof *comparison->of, compare_worst);
    return WW_OK;
}

/* Checks the request, builds the study's own plies and finds their openings; base_clear in any case. */
static enum ww_status base_open(struct base *base, const struct ww_candidate *candidate, size_t candidates,
                                const struct ww_compare_request *request, struct ww_error *error)
{
    *base = (struct base){request, {.layer = request->stack->layer, .count = request->stack->count}, 0, NULL};
    enum ww_status status = candidates ? ww_stack_build(&base->stack, &request->cell, error)
                                       : ww_error_set(error, WW_INVALID, NULL, 0, "no style to compare");
    if (!status)
        status = check(request, candidate, candidates, base->stack.plies, error);
    return status ? status : find_openings(base, error);
}

static void base_clear(struct base *base)
{
    free(base->opening);
    ww_stack_clear(&base->stack);
}

enum ww_status ww_compare_fill(struct ww_stack *stack, const struct ww_candidate *candidate,
                               const struct ww_compare_request *request, struct ww_error *error)
{
    struct base base;
    *stack = (struct ww_stack){0};
    enum ww_status status = base_open(&base, candidate, 1, request, error);
    if (!status)
        stack->layer = calloc(base.stack.count + base.openings * WW_CLOTHS_MOST, sizeof *stack->layer);
    if (!status && !stack->layer)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", base.stack.count);
    if (!status)
        status = replace(stack->layer, &stack->count, &base, candidate, error);
    if (!status)
        status = ww_stack_build(stack, &request->cell, error);
    base_clear(&base);
    if (status) {
        ww_stack_clear(stack);
        free(stack->layer);
        *stack = (struct ww_stack){0};
    }
    return status;
}

enum ww_status ww_compare_solve(struct ww_comparison *comparison, const struct ww_candidate *candidate,
                                size_t candidates, const struct ww_compare_request *request, struct ww_error *error)
{
    struct base base;
    memset(comparison, 0, sizeof *comparison);
    enum ww_status status = base_open(&base, candidate, candidates, request, error);
    if (!status)
        status = solve_candidates(comparison, &base, candidate, candidates, error);
    base_clear(&base);
    if (status)
        ww_comparison_clear(comparison);
    return status;
}

void ww_comparison_clear(struct ww_comparison *comparison)
{
    for (size_t i = 0; i < comparison->count; i++)
        compared_clear(&comparison->of[i]);
    free(comparison->of);
    free(comparison->own);
    memset(comparison, 0, sizeof *comparison);
}
