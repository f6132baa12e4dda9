/* budget.c - what makes two circuits of one study differ: every cause, its sensitivity, and the sums.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Each cause is taken to both ends of its tolerance and to the middle, alone, and the cross-section is solved there (moved.c):
 * central differences with the tolerance itself as the step, so that the parabola through the three is exact where it matters, at
 * the ends. Its error inside is of third order; rounding and the grid are far below. The shifts are relative ones of the layered
 * line, put onto the study's own mean delay, which has the residual correction.
 *
 * Correlations. Thickness and resin content are one variable, of which one is given. So are the width and what it takes from the
 * gap: the pitch stays. Place, turn and count of the cloth are one distribution (weave.c). The laminate's Dk stands in place of
 * resin and glass. All plies and layers move alike. Whatever else is given is taken as independent of all others.
 */
#include "weftwise/budget.h"

#include <math.h>
#include <string.h>

#include "budget/draw.h"
#include "budget/moved.h"
#include "budget/sums.h"
#include "chance/distribution.h"

#define DRAWS 100000

/* The table of causes. */
static const struct {
    const char *name, *key, *left_out; /* why, where the study lacks more than the key; "" else */
} row[WW_CAUSES] = {
    [WW_CAUSE_WEAVE] = {"weave (place, turn, count)", "", "the stackup has no cloth"},
    [WW_CAUSE_RESIN_DK] = {"Dk of the resin", "resin.dk", ""},
    [WW_CAUSE_GLASS_DK] = {"Dk of the glass", "glass.dk", "the stackup has no cloth"},
    [WW_CAUSE_LAMINATE_DK] = {"Dk of the laminate", "laminate.dk", ""},
    [WW_CAUSE_THICKNESS] = {"pressed thickness", "thickness", ""},
    [WW_CAUSE_RESIN_CONTENT] = {"resin content", "resin_content", "needs cloth, and the density of its resin"},
    [WW_CAUSE_WIDTH] = {"etched width", "trace.width", ""},
    [WW_CAUSE_GAP] = {"gap of the pair", "trace.gap", ""},
    [WW_CAUSE_COPPER] = {"copper thickness", "trace.thickness", ""},
    [WW_CAUSE_TEMPERATURE] = {"temperature", "temperature", "needs resin.tcdk, glass.tcdk or expansion"},
    [WW_CAUSE_MOISTURE] = {"moisture", "moisture", "needs cloth and the density of its resin, or moisture.dk"},
    [WW_CAUSE_FOIL] =
        {"copper foil", "foil.rz",
         "needs a frequency, copper of some thickness, and [stackup] copper with a model that takes rz"},
};

const char *ww_cause_key(enum ww_cause_kind kind)
{
    return row[kind].key;
}

double ww_budget_phase(double frequency, double delay)
{
    return 2.0 * WW_PI * frequency * delay;
}

double ww_budget_detuning(const struct ww_budget *budget, double delay)
{
    double nominal = budget->nominal[WW_OBSERVED_DELAY];
    return nominal > 0.0 ? -delay / nominal : 0.0;
}

/* --- which causes there are -------------------------------------------------------------------------------------------------- */

/* Is the density of the resin known, in all cloth? */
static bool has_density(const struct ww_stack *stack)
{
    for (size_t p = 0; p < stack->plies; p++)
        if (!(stack->layer[stack->ply[p].layer].resin.density > 0.0))
            return false;
    return stack->plies > 0;
}

/* A foil of unknown name is smooth copper; spheres of a stated radius stay as they are. */
static bool takes_rz(const struct ww_foil *foil)
{
    return foil->model != WW_FOIL_SMOOTH && !(foil->model == WW_FOIL_HURAY && foil->sphere_radius > 0.0);
}

/* What the cause needs beside its key. */
static bool can_be_had(const struct ww_study *study, enum ww_cause_kind kind)
{
    const struct ww_tolerances *t = &study->tolerance;
    switch (kind) {
    case WW_CAUSE_WEAVE:
    case WW_CAUSE_GLASS_DK:
        return study->stack.plies > 0;
    case WW_CAUSE_RESIN_CONTENT:
        return has_density(&study->stack);
    case WW_CAUSE_MOISTURE:
        return t->moisture_dk > 0.0 || has_density(&study->stack);
    case WW_CAUSE_TEMPERATURE:
        return t->resin_tcdk != 0.0 || t->glass_tcdk != 0.0 || t->expansion != 0.0;
    case WW_CAUSE_FOIL:
        return takes_rz(&study->copper) && study->trace.thickness > 0.0 && ww_study_frequency(study) > 0.0;
    default:
        return true;
    }
}

static void list_causes(struct ww_budget *budget, const struct ww_study *study)
{
    for (int i = 0; i < WW_CAUSES; i++) {
        struct ww_cause *cause = &budget->cause[i];
        enum ww_cause_kind kind = (enum ww_cause_kind)i;
        const struct ww_tolerance *tolerance = ww_cause_tolerance(study, kind);
        bool asked = tolerance ? tolerance->given && tolerance->to > tolerance->from : true;
        *cause = (struct ww_cause){.kind = kind, .name = row[i].name, .key = row[i].key};
        cause->given = asked && can_be_had(study, kind);
        if (tolerance)
            cause->tolerance = *tolerance;
        if (!asked)
            snprintf(cause->why, sizeof cause->why, "tolerance.%s is not given", row[i].key);
        else if (!cause->given)
            snprintf(cause->why, sizeof cause->why, "%s", row[i].left_out);
    }
}

/* --- sensitivities ----------------------------------------------------------------------------------------------------------- */

/* What is observed less the nominal, as a share of it, put onto the study's own. Loss is the study's own, and may start from 0. */
static void set_change(double *change, const struct ww_budget *budget, const double *moved, const double *nominal)
{
    for (int o = 0; o < WW_OBSERVABLES; o++)
        change[o] = nominal[o] > 0.0 ? budget->nominal[o] * (moved[o] / nominal[o] - 1.0) : 0.0;
    change[WW_OBSERVED_LOSS] = moved[WW_OBSERVED_LOSS] - nominal[WW_OBSERVED_LOSS];
}

static void set_nominal(struct ww_budget *budget, const struct ww_study *study, const struct ww_solution *solution,
                        const double *line)
{
    memcpy(budget->nominal, line, sizeof budget->nominal);
    budget->nominal[WW_OBSERVED_DELAY] = solution->skew.mean_delay;
    budget->nominal[WW_OBSERVED_DK] = solution->summary.dk_eff;
    budget->nominal[WW_OBSERVED_SKEW] = budget->pair ? solution->skew.tolerant_p99 : 0.0;
    budget->length = study->length;
    budget->frequency = ww_study_frequency(study);
}

static enum ww_status solve_cause(struct ww_budget *budget, const struct ww_study *study, enum ww_cause_kind kind,
                                  const struct ww_conductor *conductor, const double *nominal, struct ww_error *error)
{
    /* The middle of a range is not the study's own point; that of a tolerance is. */
    bool own_middle = kind != WW_CAUSE_TEMPERATURE && kind != WW_CAUSE_MOISTURE;
    enum ww_status status = WW_OK;
    for (int i = 0; i < 3 && !status; i++) {
        struct ww_position position = ww_position_nominal();
        double observed[WW_OBSERVABLES];
        position.conductor = conductor;
        position.of[kind] = i - 1;
        if (i == 1 && own_middle)
            continue;
        status = ww_moved_solve(observed, study, &position, error);
        if (!status)
            set_change(budget->cause[kind].at[i], budget, observed, nominal);
    }
    return status;
}

/* One circuit by the weave: by its least and its largest delay; its least and its largest loss, wherever they are. */
static void set_weave(struct ww_budget *budget, const struct ww_weave *weave)
{
    for (int o = 0; o < WW_OBSERVABLES; o++) {
        const struct ww_distribution *one = &ww_weave_effect_on(weave, (enum ww_observable)o)->one;
        double scale = ww_weave_scale(budget, (enum ww_observable)o);
        for (int i = 0; i < 3 && one->count; i += 2) {
            double shift = one->first + (i ? (double)(one->count - 1) * one->step : 0.0);
            budget->cause[WW_CAUSE_WEAVE].at[i][o] = scale * shift;
        }
    }
}

/* --- by how much two circuits differ ----------------------------------------------------------------------------------------- */

static const struct ww_distribution *between(const struct ww_budget *budget, const struct ww_weave_effect *effect)
{
    return budget->between == WW_BOARD ? &effect->same : &effect->two;
}

static void differ_by_weave(struct ww_budget *budget, const struct ww_weave *weave)
{
    struct ww_cause *cause = &budget->cause[WW_CAUSE_WEAVE];
    const struct ww_distribution *d = between(budget, &weave->delay);
    for (int o = 0; o < WW_OBSERVABLES; o++) {
        const struct ww_weave_effect *effect = ww_weave_effect_on(weave, (enum ww_observable)o);
        cause->differ[o] = fabs(ww_weave_scale(budget, (enum ww_observable)o)) *
                           ww_distribution_quantile(between(budget, effect), 0.99);
    }
    cause->differ[WW_OBSERVED_SKEW] = budget->nominal[WW_OBSERVED_SKEW];
    cause->most = d->count ? fmax(fabs(d->first), fabs(d->first + (double)(d->count - 1) * d->step)) : 0.0;
}

static enum ww_status differ_by_cause(struct ww_cause *cause, struct ww_error *error)
{
    const double bins = 2048.0;
    enum ww_status status = WW_OK;
    for (int o = 0; o < WW_OBSERVABLES && !status; o++) {
        struct ww_part part = ww_cause_part(cause, (enum ww_observable)o, false);
        struct ww_distribution d = {0};
        double range = ww_part_range(&part);
        if (o == WW_OBSERVED_DELAY)
            cause->most = range;
        if (!(range > 0.0))
            continue;
        status = ww_part_distribute(&d, &part, range / bins, true, error);
        cause->differ[o] = fmin(ww_distribution_quantile(&d, 0.99), range);
        if (o == WW_OBSERVED_DELAY)
            cause->share = ww_distribution_deviation(&d) * ww_distribution_deviation(&d); /* variance as yet */
        ww_distribution_clear(&d);
    }
    return status;
}

/* Of the variance of what is judged. */
static void set_shares(struct ww_budget *budget, const struct ww_weave *weave)
{
    double total = 0.0, own = ww_distribution_deviation(between(budget, &weave->delay));
    budget->cause[WW_CAUSE_WEAVE].share = own * own;
    for (int i = 0; i < WW_CAUSES; i++) {
        struct ww_cause *cause = &budget->cause[i];
        if (!cause->given || cause->tolerance.scope > budget->between)
            cause->share = 0.0;
        total += cause->share;
    }
    for (int i = 0; i < WW_CAUSES && total > 0.0; i++)
        budget->cause[i].share /= total;
}

/* --- the whole --------------------------------------------------------------------------------------------------------------- */

static enum ww_status judge(double *value, double *over, const struct ww_terms *terms, enum ww_cause_kind halved,
                            struct ww_error *error)
{
    const struct ww_budget *budget = terms->budget;
    struct ww_budget_level level = {0};
    if (terms->skew)
        return ww_skew_moved(value, over, terms, halved, error);
    enum ww_status status = ww_level_solve(&level, terms, budget->between, halved, error);
    *value = level.p99;
    *over = budget->budget > 0.0 ? ww_distribution_exceed(&level.distribution, budget->budget) : 0.0;
    ww_distribution_clear(&level.distribution);
    return status;
}

/* Two circuits at one temperature. */
static enum ww_status set_beside_temperature(const struct ww_terms *terms, struct ww_error *error)
{
    struct ww_budget *budget = terms->budget;
    struct ww_cause *temperature = &budget->cause[WW_CAUSE_TEMPERATURE];
    struct ww_budget_level others;
    bool given = temperature->given;
    temperature->given = false;
    enum ww_status status = ww_level_solve(&others, terms, budget->between, WW_CAUSES, error);
    temperature->given = given;
    budget->beside_temperature = others.p99;
    ww_distribution_clear(&others.distribution);
    return status;
}

static enum ww_status add_up(const struct ww_terms *terms, size_t draws, struct ww_error *error)
{
    struct ww_budget *budget = terms->budget;
    enum ww_status status = WW_OK;
    double over;
    for (int scope = WW_BOARD; scope <= WW_LIFE && !status; scope++) {
        status = ww_level_solve(&budget->level[scope], terms, (enum ww_scope)scope, WW_CAUSES, error);
        if (!status)
            status = ww_level_observe(&budget->level[scope], terms, (enum ww_scope)scope, error);
    }
    if (!status)
        status = set_beside_temperature(terms, error);
    if (!status)
        status = judge(&budget->judged, &budget->over_budget, terms, WW_CAUSES, error);
    for (int i = 0; i < WW_CAUSES && !status; i++)
        if (budget->cause[i].given)
            status = judge(&budget->cause[i].halved, &over, terms, (enum ww_cause_kind)i, error);
    if (!status)
        status = ww_budget_draw(terms, draws ? draws : DRAWS, error);
    return status;
}

/* The skew's size at most: the weave's worst, with all causes at their worst ends. */
static void set_skew_worst(struct ww_budget *budget, const struct ww_solution *solution)
{
    double larger = 0.0;
    for (int i = 1; i < WW_CAUSES && budget->nominal[WW_OBSERVED_SKEW] > 0.0; i++)
        larger +=
            fmax(0.0, fmax(budget->cause[i].at[0][WW_OBSERVED_SKEW], budget->cause[i].at[2][WW_OBSERVED_SKEW])) /
            budget->nominal[WW_OBSERVED_SKEW];
    budget->skew_p99 = budget->judged;
    budget->skew_worst = solution->skew.worst_with_turn * (1.0 + larger);
}

/* Feeds share what their board has; their phases differ by the rest. Of two independent ones the variance is twice one's; of the arms of
 * a set half the mean of (V_i - V_j)^2 over all i < j is the variance of their sample. */
static enum ww_status set_array(struct ww_budget *budget, const struct ww_study *study, const struct ww_weave *weave,
                                struct ww_error *error)
{
    struct ww_budget_level two = {0};
    double peak = 0.0;
    if (study->elements < 2 || !(budget->frequency > 0.0))
        return WW_OK;
    struct ww_weave alone = *weave;
    struct ww_distribution apart = {0};
    struct ww_terms terms = {.budget = budget, .weave = &alone};
    enum ww_status status = WW_OK;
    if (weave->delay.one.count &&
        study->arms == 0) { /* at places of their own, also where two are set at a spacing */
        status = ww_distribution_combine(&weave->delay.one, &weave->delay.one, -1, &apart, error);
        alone.delay.same = apart;
    }
    if (!status)
        status = ww_level_solve(&two, &terms, WW_BOARD, WW_CAUSES, error);
    if (!status)
        status = ww_distribution_expected_worst(&two.distribution, (double)study->elements, &peak, error);
    budget->array = ww_array_errors(study->elements, ww_budget_phase(budget->frequency, two.deviation) / sqrt(2.0));
    budget->array.peak = ww_budget_phase(budget->frequency, peak) / sqrt(2.0);
    ww_distribution_clear(&two.distribution);
    ww_distribution_clear(&apart);
    return status;
}

/* --- the check --------------------------------------------------------------------------------------------------------------- */

static enum ww_status check_corners(struct ww_budget *budget, const struct ww_budget_request *request,
                                    const struct ww_conductor *conductor, const double *nominal,
                                    struct ww_error *error)
{
    struct ww_random random = {.state = 5};
    double squares = 0.0, sum = 0.0, sum_squares = 0.0, n = (double)request->corners;
    enum ww_status status = WW_OK;
    for (size_t k = 0; k < request->corners && !status; k++) {
        struct ww_position position = ww_position_nominal();
        position.conductor = conductor;
        position.same_conductor = true;
        double observed[WW_OBSERVABLES], change[WW_OBSERVABLES], by_sum = 0.0;
        for (int i = 1; i < WW_CAUSES; i++) {
            const struct ww_cause *cause = &budget->cause[i];
            if (!cause->given)
                continue;
            position.of[i] = ww_random_share(&random) < 0.5 ? -1.0 : 1.0;
            by_sum += cause->at[position.of[i] < 0.0 ? 0 : 2][WW_OBSERVED_DELAY];
        }
        status = ww_moved_solve(observed, request->study, &position, error);
        if (status)
            break;
        set_change(change, budget, observed, nominal);
        double full = change[WW_OBSERVED_DELAY], off = by_sum - full;
        squares += off * off;
        sum += full;
        sum_squares += full * full;
        budget->check.largest = fmax(budget->check.largest, fabs(off));
        if (request->progress.report)
            request->progress.report(request->progress.context, (double)(k + 1) / n);
    }
    budget->check.corners = request->corners;
    budget->check.rms = sqrt(squares / n);
    budget->check.deviation = sqrt(fmax(0.0, sum_squares / n - sum / n * (sum / n)));
    return status;
}

/* --- all of it --------------------------------------------------------------------------------------------------------------- */

static enum ww_status solve_causes(struct ww_budget *budget, const struct ww_budget_request *request,
                                   const struct ww_weave *weave, const struct ww_conductor *conductor,
                                   double *nominal, struct ww_error *error)
{
    struct ww_position position = ww_position_nominal();
    position.conductor = conductor;
    enum ww_status status = ww_moved_solve(nominal, request->study, &position, error);
    if (status)
        return status;
    set_nominal(budget, request->study, request->solution, nominal);
    list_causes(budget, request->study);
    for (int i = 1; i < WW_CAUSES && !status; i++) {
        if (!budget->cause[i].given)
            continue;
        status = solve_cause(budget, request->study, (enum ww_cause_kind)i, conductor, nominal, error);
        if (!status)
            status = differ_by_cause(&budget->cause[i], error);
    }
    if (status)
        return status;
    set_weave(budget, weave);
    differ_by_weave(budget, weave);
    set_shares(budget, weave);
    return WW_OK;
}

enum ww_status ww_budget_solve(struct ww_budget *budget, const struct ww_budget_request *request,
                               struct ww_error *error)
{
    const struct ww_study *study = request->study;
    const struct ww_skew *skew = &request->solution->skew;
    struct ww_weave weave = {0};
    struct ww_conductor solved = {0};
    const struct ww_conductor *conductor = /* NULL where copper has no loss that could be told */
        study->trace.thickness > 0.0 && ww_study_frequency(study) > 0.0 ? &solved : NULL;
    double nominal[WW_OBSERVABLES];
    struct ww_terms terms = {.budget = budget, .weave = &weave};
    *budget = (struct ww_budget){.pair = skew->pair,
                                 .budget = study->budget,
                                 .between = study->tolerance.between,
                                 .arms = study->arms ? study->arms + 1 : 0};
    if (skew->pair && skew->plies > 0)
        terms.skew = &skew->tolerant;
    enum ww_status status = ww_weave_solve(&weave, study, request->solution, error);
    if (!status && conductor)
        status = ww_conductor_solve(&solved, request->solution->line, error);
    if (!status)
        status = solve_causes(budget, request, &weave, conductor, nominal, error);
    if (!status)
        status = add_up(&terms, request->draws, error);
    if (!status && terms.skew)
        set_skew_worst(budget, request->solution);
    if (!status)
        status = set_array(budget, study, &weave, error);
    if (!status && request->corners > 0)
        status = check_corners(budget, request, conductor, nominal, error);
    ww_weave_clear(&weave);
    if (status)
        ww_budget_clear(budget);
    return status;
}

const struct ww_cause *ww_budget_leading(const struct ww_budget *budget)
{
    const struct ww_cause *leading = NULL;
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &budget->cause[i];
        if (cause->given && cause->halved < budget->judged && (!leading || cause->halved < leading->halved))
            leading = cause;
    }
    return leading;
}

void ww_budget_clear(struct ww_budget *budget)
{
    for (int i = 0; i < 3; i++)
        ww_distribution_clear(&budget->level[i].distribution);
    memset(budget, 0, sizeof *budget);
}
