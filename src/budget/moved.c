/* moved.c - the study's cross-section with causes at other values than the nominal ones.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The layers are copied, moved and built again, and the line is solved. So thickness moves height and, as resin refills the
 * ply, its Dk; width moves the gap. A ply whose resin was solved from the Dk of its sheet keeps that resin.
 *
 * The copper. The nominal line has the field outside of its copper alone, L; the copper has Z of line/conductor.c in series. With
 *   z = sqrt(1 + Z/(j omega L)),   p = z sqrt(1 - j df)
 * all loss is -omega delay Im p: width, gap, thicknesses and temperature move that of the copper, too. Impedance goes as Re z, delay
 * as Re p, Dk as its square: the study is moved by what another rz or conductivity changes, Re p(moved) - Re p(own), and so on; what
 * the shape changes of these is left out. L has the dispersion of microstrip in it, as for the command frequency.
 */
#include "budget/moved.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/placements.h"
#include "line/foil.h"
#include "study/layer.h"

#define COPPER_TC 3.93e-3 /* of copper's resistance [1/K], at 20 degC (IEC 60028, 1925; from memory) */

struct moving {
    const struct ww_study *study;
    struct ww_layer *layer; /* of the copy */
    struct ww_trace trace;
    struct ww_foil copper;
    bool reshaped; /* does the current lie otherwise on the copper? */
    const struct ww_conductor *conductor;
    double length;
};

struct ww_position ww_position_nominal(void)
{
    struct ww_position position = {0};
    for (int i = 0; i < WW_CAUSES; i++)
        position.of[i] = NAN;
    return position;
}

const struct ww_tolerance *ww_cause_tolerance(const struct ww_study *study, enum ww_cause_kind kind)
{
    const struct ww_tolerances *t = &study->tolerance;
    switch (kind) {
    case WW_CAUSE_RESIN_DK:
        return &t->resin_dk;
    case WW_CAUSE_GLASS_DK:
        return &t->glass_dk;
    case WW_CAUSE_LAMINATE_DK:
        return &t->laminate_dk;
    case WW_CAUSE_THICKNESS:
        return &t->thickness;
    case WW_CAUSE_RESIN_CONTENT:
        return &t->resin_content;
    case WW_CAUSE_WIDTH:
        return &t->width;
    case WW_CAUSE_GAP:
        return &t->gap;
    case WW_CAUSE_COPPER:
        return &t->copper;
    case WW_CAUSE_TEMPERATURE:
        return &t->temperature;
    case WW_CAUSE_MOISTURE:
        return &t->moisture;
    case WW_CAUSE_FOIL:
        return &t->foil;
    case WW_CAUSE_WEAVE:
    case WW_CAUSES:
        break;
    }
    return NULL;
}

double ww_cause_value(const struct ww_study *study, enum ww_cause_kind kind, double position)
{
    const struct ww_tolerance *t = ww_cause_tolerance(study, kind);
    double from = t->from, to = t->to;
    if (kind == WW_CAUSE_MOISTURE) {
        from = 0.0;
        to *= study->tolerance.moisture_state;
    }
    return 0.5 * (from + to) + 0.5 * (to - from) * position;
}

/* --- the layers ------------------------------------------------------------------------------------------------------------ */

static bool has_resin(const struct ww_layer *layer)
{
    return layer->kind == WW_LAYER_PLY || layer->kind == WW_LAYER_RESIN;
}

static double *resin_dk(struct ww_layer *layer)
{
    return layer->kind == WW_LAYER_PLY ? &layer->resin.dk : &layer->dk;
}

static double *resin_df(struct ww_layer *layer)
{
    return layer->kind == WW_LAYER_PLY ? &layer->resin.df : &layer->df;
}

static enum ww_status check_dk(double dk, const char *what, struct ww_error *error)
{
    if (dk >= 1.0)
        return WW_OK;
    return ww_error_set(error, WW_UNPHYSICAL, NULL, 0, "the Dk of the %s would be %.4g, below 1", what, dk);
}

static void scale_thickness(struct ww_layer *layer, double scale)
{
    layer->thickness *= scale;
    layer->cloth_height *= scale;
}

/* Glass stays, resin is added until its share by weight is `content`. */
static enum ww_status set_content(struct ww_layer *layer, const struct ww_ply *ply, double content,
                                  struct ww_error *error)
{
    double ratio = layer->style.glass.density / layer->resin.density;
    if (!(content > 0.0 && content < 1.0))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0, "the resin content would be %.4g %%, outside 0 to 100 %%",
                            100.0 * content);
    scale_thickness(layer, ply->glass_fraction * (1.0 + ratio * content / (1.0 - content)));
    return WW_OK;
}

static enum ww_status set_laminate(struct ww_layer *layer, const struct ww_ply *ply, double change,
                                   struct ww_error *error)
{
    double dk = 0.0;
    enum ww_status status =
        ww_resin_dk_solve(&ply->cell, ply->thickness, creal(ply->eps_glass), ply->dk_bulk + change, &dk, error);
    layer->resin.dk += dk - creal(ply->eps_resin);
    return status;
}

static bool is_laminate(const struct ww_layer *layer)
{
    return has_resin(layer) || layer->kind == WW_LAYER_SOLID;
}

/* The laminate's Dk and Df by so much. In Df glass and resin move alike, which moves the laminate by the same. */
static enum ww_status move_laminate(struct ww_layer *layer, const struct ww_ply *ply, double dk, double df,
                                    struct ww_error *error)
{
    enum ww_status status = WW_OK;
    if (layer->kind == WW_LAYER_PLY) {
        status = set_laminate(layer, ply, dk, error);
        layer->resin.df += df;
        layer->style.glass.df += df;
    } else if (is_laminate(layer)) {
        layer->dk += dk;
        layer->df += df;
        status = check_dk(layer->dk, "layer", error);
    }
    return status;
}

/* Water of the resin per its dry weight, where the laminate takes up that much: glass takes up none. */
static double uptake_of_resin(const struct ww_stack *stack, double uptake)
{
    double resin = 0.0, glass = 0.0;
    for (size_t p = 0; p < stack->plies; p++) {
        const struct ww_ply *ply = &stack->ply[p];
        const struct ww_layer *layer = &stack->layer[ply->layer];
        resin += layer->resin.density * (1.0 - ply->glass_fraction) * ply->thickness;
        glass += layer->style.glass.density * ply->glass_fraction * ply->thickness;
    }
    return uptake * (resin + glass) / resin;
}

static void wet_resin(struct ww_layer *layer, const struct ww_study *study, double uptake)
{
    const struct ww_layer *first = &study->stack.layer[study->stack.ply[0].layer];
    double density = layer->kind == WW_LAYER_PLY ? layer->resin.density : first->resin.density;
    double share = ww_water_share(uptake_of_resin(&study->stack, uptake), density);
    double *dk = resin_dk(layer), *df = resin_df(layer);
    double _Complex wet =
        ww_wet_permittivity(ww_permittivity(*dk, *df), ww_water_permittivity(ww_study_frequency(study)), share);
    *dk = creal(wet);
    *df = -cimag(wet) / creal(wet);
}

static enum ww_status move_moisture(struct ww_layer *layer, const struct ww_ply *ply, const struct ww_study *study,
                                    double uptake, struct ww_error *error)
{
    const struct ww_tolerances *t = &study->tolerance;
    if (t->moisture_dk > 0.0)
        return move_laminate(layer, ply, t->moisture_dk * uptake / t->moisture.to,
                             t->moisture_df * uptake / t->moisture.to, error);
    if (has_resin(layer))
        wet_resin(layer, study, uptake);
    return WW_OK;
}

/* One layer by one cause at its value. */
static enum ww_status move_layer(struct ww_layer *layer, const struct ww_ply *ply, const struct ww_study *study,
                                 enum ww_cause_kind kind, double value, struct ww_error *error)
{
    const struct ww_tolerances *t = &study->tolerance;
    switch (kind) {
    case WW_CAUSE_RESIN_DK:
        if (!has_resin(layer))
            return WW_OK;
        *resin_dk(layer) += value;
        return check_dk(*resin_dk(layer), "resin", error);
    case WW_CAUSE_GLASS_DK:
        layer->style.glass.dk += ply ? value : 0.0;
        return ply ? check_dk(layer->style.glass.dk, "glass", error) : WW_OK;
    case WW_CAUSE_LAMINATE_DK:
        return move_laminate(layer, ply, value, 0.0, error);
    case WW_CAUSE_THICKNESS:
        if (is_laminate(layer))
            scale_thickness(layer, 1.0 + value);
        return WW_OK;
    case WW_CAUSE_RESIN_CONTENT:
        return ply ? set_content(layer, ply, ply->resin_content + value, error) : WW_OK;
    case WW_CAUSE_TEMPERATURE:
        if (has_resin(layer))
            *resin_dk(layer) *= 1.0 + t->resin_tcdk * (value - t->reference);
        layer->style.glass.dk *= 1.0 + t->glass_tcdk * (value - t->reference);
        return WW_OK;
    case WW_CAUSE_MOISTURE:
        return move_moisture(layer, ply, study, value, error);
    case WW_CAUSE_WEAVE:
    case WW_CAUSE_WIDTH:
    case WW_CAUSE_GAP:
    case WW_CAUSE_COPPER:
    case WW_CAUSE_FOIL:
    case WW_CAUSES:
        break;
    }
    return WW_OK;
}

/* --- the trace ------------------------------------------------------------------------------------------------------------- */

static enum ww_status check_copper(const struct moving *moving, struct ww_error *error)
{
    const struct ww_trace *trace = &moving->trace;
    if (!(trace->width > 0.0))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0, "the trace would be %.4g um wide; nothing is left of it",
                            1e6 * trace->width);
    if (!(trace->thickness >= 0.0))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0, "the copper would be %.4g um thick, below 0",
                            1e6 * trace->thickness);
    if (trace->pitch > 0.0 && !(trace->pitch > trace->width))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0,
                            "the gap would be closed: legs %.4g um wide at a pitch of %.4g um", 1e6 * trace->width,
                            1e6 * trace->pitch);
    if (!(moving->copper.rz >= 0.0))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0, "the foil's rz would be %.4g um, below 0",
                            1e6 * moving->copper.rz);
    return WW_OK;
}

/* Does the current lie otherwise on the copper? */
static bool reshapes(enum ww_cause_kind kind)
{
    return kind == WW_CAUSE_WIDTH || kind == WW_CAUSE_GAP || kind == WW_CAUSE_COPPER || kind == WW_CAUSE_THICKNESS ||
           kind == WW_CAUSE_RESIN_CONTENT;
}

static enum ww_status move_trace(struct moving *moving, enum ww_cause_kind kind, double value, struct ww_error *error)
{
    const struct ww_tolerances *t = &moving->study->tolerance;
    if (kind == WW_CAUSE_WIDTH)
        moving->trace.width += value;
    if (kind == WW_CAUSE_GAP)
        moving->trace.pitch += value;
    if (kind == WW_CAUSE_COPPER)
        moving->trace.thickness += value;
    if (kind == WW_CAUSE_TEMPERATURE) {
        moving->length *= 1.0 + t->expansion * (value - t->reference);
        moving->copper.conductivity /= 1.0 + COPPER_TC * (value - t->reference);
    }
    if (kind == WW_CAUSE_FOIL)
        moving->copper.rz += value;
    moving->reshaped = moving->reshaped || reshapes(kind);
    return check_copper(moving, error);
}

/* --- all of it ------------------------------------------------------------------------------------------------------------- */

static const struct ww_ply *ply_of(const struct ww_stack *stack, size_t layer)
{
    for (size_t p = 0; p < stack->plies; p++)
        if (stack->ply[p].layer == layer)
            return &stack->ply[p];
    return NULL;
}

static enum ww_status move_cause(struct moving *moving, enum ww_cause_kind kind, double value, struct ww_error *error)
{
    const struct ww_stack *own = &moving->study->stack;
    enum ww_status status = move_trace(moving, kind, value, error);
    for (size_t i = 0; i < own->count && !status; i++)
        status = move_layer(&moving->layer[i], ply_of(own, i), moving->study, kind, value, error);
    return status;
}

/* A copy of the layers with the resins that their sheets ask for. */
static enum ww_status copy_layers(struct ww_stack *stack, const struct ww_stack *own, struct ww_error *error)
{
    stack->layer = malloc(own->count * sizeof *stack->layer);
    if (!stack->layer)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", own->count);
    memcpy(stack->layer, own->layer, own->count * sizeof *stack->layer);
    stack->count = own->count;
    for (size_t p = 0; p < own->plies; p++) {
        struct ww_layer *layer = &stack->layer[own->ply[p].layer];
        layer->resin.dk = creal(own->ply[p].eps_resin);
        layer->sheet_dk = 0.0;
    }
    return WW_OK;
}

/* Copper of the layer is that of the trace; what flows around it has moved with its layer. */
static void settle_layers(struct ww_stack *stack, const struct ww_trace *trace)
{
    for (size_t i = 0; i < stack->count; i++)
        if (stack->layer[i].kind == WW_LAYER_TRACE)
            stack->layer[i].thickness = trace->thickness;
    ww_layers_fill(stack->layer, stack->count);
}

static double square(double x)
{
    return x * x;
}

static double decibels(double nepers)
{
    return 20.0 / log(10.0) * nepers;
}

static void observe(double *observed, const struct ww_line_summary *line, double length, double frequency)
{
    observed[WW_OBSERVED_DELAY] = line->delay * length;
    observed[WW_OBSERVED_DK] = line->dk_eff;
    observed[WW_OBSERVED_IMPEDANCE] = line->z_diff > 0.0 ? line->z_diff : line->z0;
    observed[WW_OBSERVED_LOSS] = decibels(WW_PI * frequency * line->delay * line->df_eff);
}

/* What the copper makes of the line: p and z of the essay. */
struct coated {
    double _Complex p, z;
};

static struct coated coat(const struct ww_line *line, const struct ww_conductor *conductor,
                          const struct ww_foil *foil, double frequency)
{
    const struct ww_line_summary *summary = &line->summary;
    bool pair = line->mesh.pair;
    double air = summary->ca[0][0] + (pair ? -1.0 : 1.0) * summary->ca[0][1];
    double outside = summary->dispersion.mean / (WW_C0 * WW_C0 * air);
    double dc = 1.0 / (foil->conductivity * line->trace.width * line->trace.thickness);
    double _Complex inside =
        ww_conductor_impedance(pair ? &conductor->odd : &conductor->even, dc, ww_foil_impedance(foil, frequency));
    double _Complex z = csqrt(1.0 + inside / (2.0 * WW_PI * I * frequency * outside));
    return (struct coated){z * csqrt(1.0 - I * summary->df_eff), z};
}

static enum ww_status observe_copper(double *observed, const struct moving *moving, const struct ww_line *line,
                                     struct ww_error *error)
{
    struct ww_conductor conductor = *moving->conductor;
    double frequency = ww_study_frequency(moving->study);
    enum ww_status status = moving->reshaped ? ww_conductor_solve(&conductor, line, error) : WW_OK;
    if (status)
        return status;
    struct coated own = coat(line, &conductor, &moving->study->copper, frequency);
    struct coated moved = coat(line, &conductor, &moving->copper, frequency);
    observed[WW_OBSERVED_LOSS] = decibels(-2.0 * WW_PI * frequency * line->summary.delay * cimag(moved.p));
    double slower = 1.0 + creal(moved.p) - creal(own.p), dk = square(creal(moved.p)) - square(creal(own.p));
    observed[WW_OBSERVED_DELAY] *= slower;
    observed[WW_OBSERVED_SKEW] *= slower;
    observed[WW_OBSERVED_DK] *= 1.0 + dk;
    observed[WW_OBSERVED_IMPEDANCE] *= 1.0 + creal(moved.z) - creal(own.z);
    return WW_OK;
}

static enum ww_status solve_stack(double *observed, const struct moving *moving, struct ww_stack *stack,
                                  struct ww_error *error)
{
    const struct ww_study *study = moving->study;
    struct ww_cell_options cell = {.fineness = study->fineness};
    struct ww_line_options options = ww_study_line_options(study);
    struct ww_skew_request request = ww_study_request(study);
    struct ww_placements placements = {0};
    struct ww_line *line = NULL;
    enum ww_status status = ww_stack_build(stack, &cell, error);
    if (!status)
        status = ww_line_create(&line, stack, &moving->trace, &options, error);
    if (!status)
        observe(observed, ww_line_summary(line), moving->length, ww_study_frequency(study));
    if (!status && moving->trace.pitch > 0.0 && stack->plies > 0)
        status = ww_placements_solve(&placements, line, &request, request.angle, false, error);
    observed[WW_OBSERVED_SKEW] = placements.worst;
    if (!status && moving->conductor)
        status = observe_copper(observed, moving, line, error);
    ww_placements_clear(&placements);
    ww_line_destroy(line);
    return status;
}

/* --- along the loss tangents ------------------------------------------------------------------------------------------------ */

/* Dk times 1 + share df, at least that of air. */
static double shifted_dk(double dk, double df, double share)
{
    return fmax(1.0, dk * (1.0 + share * df));
}

enum ww_status ww_shifted_line_create(struct ww_shifted_line *shifted, const struct ww_study *study, double share,
                                      struct ww_error *error)
{
    struct ww_cell_options cell = {.fineness = study->fineness};
    struct ww_line_options options = ww_study_line_options(study);
    memset(shifted, 0, sizeof *shifted);
    enum ww_status status = copy_layers(&shifted->stack, &study->stack, error);
    for (size_t i = 0; i < shifted->stack.count && !status; i++) {
        struct ww_layer *layer = &shifted->stack.layer[i];
        struct ww_resin *resin = &layer->resin;
        struct ww_glass *glass = &layer->style.glass;
        layer->dk = shifted_dk(layer->dk, layer->df, share);
        resin->dk = shifted_dk(resin->dk, resin->df, share);
        glass->dk = shifted_dk(glass->dk, glass->df, share);
    }
    if (!status)
        status = ww_stack_build(&shifted->stack, &cell, error);
    if (!status)
        status = ww_line_create(&shifted->line, &shifted->stack, &study->trace, &options, error);
    if (status)
        ww_shifted_line_clear(shifted);
    return status;
}

void ww_shifted_line_clear(struct ww_shifted_line *shifted)
{
    ww_line_destroy(shifted->line);
    ww_stack_clear(&shifted->stack);
    free(shifted->stack.layer);
    memset(shifted, 0, sizeof *shifted);
}

double ww_largest_df(const struct ww_stack *stack)
{
    double most = 0.0;
    for (size_t i = 0; i < stack->count; i++) {
        const struct ww_layer *layer = &stack->layer[i];
        double of_ply = fmax(layer->resin.df, layer->style.glass.df);
        most = fmax(most, layer->kind == WW_LAYER_PLY ? of_ply : layer->df);
    }
    return most;
}

/* --- which cause, at which end --------------------------------------------------------------------------------------------- */

/* Which cause, at which end, in front of what is wrong there. */
static enum ww_status blame(const struct ww_study *study, const struct ww_position *position, enum ww_status status,
                            const struct ww_error *inner, struct ww_error *error)
{
    const struct ww_study_key *key = NULL;
    int kind = 0, causes = 0;
    for (int i = 0; i < WW_CAUSES; i++)
        if (!isnan(position->of[i])) {
            kind = i;
            causes++;
        }
    const struct ww_tolerance *t = ww_cause_tolerance(study, (enum ww_cause_kind)kind);
    if (causes != 1 || !t || (status != WW_UNPHYSICAL && status != WW_INVALID))
        return ww_error_set(error, status, inner->file, inner->line, "%s", inner->text);
    const char *name = ww_cause_key((enum ww_cause_kind)kind);
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++)
        if (strcmp(key->section, "tolerance") == 0 && strcmp(key->key, name) == 0)
            break;
    char end[48];
    ww_number_format(end, sizeof end, ww_cause_value(study, (enum ww_cause_kind)kind, position->of[kind]),
                     key ? key->dimension : WW_PURE, 4);
    return ww_error_set(error, WW_UNPHYSICAL, t->line > 0 ? study->file : "--set", t->line,
                        "tolerance.%s: give a smaller one; at its %s end, %s, the study cannot exist: %s", name,
                        position->of[kind] < 0.0 ? "lower" : "upper", end, inner->text);
}

enum ww_status ww_moved_solve(double *observed, const struct ww_study *study, const struct ww_position *position,
                              struct ww_error *error)
{
    struct ww_stack stack = {0};
    struct ww_error inner = {0};
    struct moving moving = {.study = study,
                            .trace = study->trace,
                            .copper = study->copper,
                            .length = study->length,
                            .conductor = position->conductor};
    memset(observed, 0, WW_OBSERVABLES * sizeof *observed);
    enum ww_status status = copy_layers(&stack, &study->stack, &inner);
    moving.layer = stack.layer;
    for (int i = 0; i < WW_CAUSES && !status; i++)
        if (!isnan(position->of[i]))
            status = move_cause(&moving, (enum ww_cause_kind)i,
                                ww_cause_value(study, (enum ww_cause_kind)i, position->of[i]), &inner);
    moving.reshaped = moving.reshaped && !position->same_conductor;
    if (!status) {
        settle_layers(&stack, &moving.trace);
        status = solve_stack(observed, &moving, &stack, &inner);
    }
    ww_stack_clear(&stack);
    free(stack.layer);
    return status ? blame(study, position, status, &inner, error) : WW_OK;
}
