/* doubt.c - the range of an answer, from how well its figures are known.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Widths, thickness and height of a cloth and the Dk of its glass are seldom published and move the worst more than anything
 * the solver leaves out. Each is moved to its two ends alone, the glass conserved and the cloth closed again, and the worst is
 * solved once more. Of an answer W with source i at its ends W_i' and W_i'',
 *   high = W + sqrt( sum over i of max(0, W_i' - W, W_i'' - W)^2 ),   low = W - sqrt( sum over i of max(0, W - W_i', ..)^2 ):
 * independent sources, each at its end. A style on several plies is one source, so is the glass of all plies; the height of
 * the cloth is one of each ply.
 *
 * Only differences of the worst are asked for. So the kernel alone does, on a coarse cell and on one grid of the study's fineness:
 *   W_i = W + s (K_i - K),   s = W/K, but within 1/2 to 2,
 * with K, K_i by the kernel. Nearly always that is W K_i / K; the bounds matter where a pitch or an angle nulls K or W. An end
 * at which the cloth cannot be woven or does not fit its ply is drawn in by halves.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/placements.h"
#include "core/parallel.h"
#include "line/line.h"

enum { HALVINGS = 5 };

/* Fixed, so that a moved cloth is sampled as the one it is compared with. */
static const struct ww_cell_options COARSE_CELL = {.nx = 32, .ny = 32, .nz = 6, .supersample = 4};
static const double LEAST_SCALE = 0.5, MOST_SCALE = 2.0;

const char *ww_doubt_kind_name(enum ww_doubt_kind kind)
{
    static const char *const name[] = {"warp width", "fill width", "thickness", "glass Dk", "cloth height"};
    return kind < WW_DOUBT_KINDS ? name[kind] : "unknown";
}

/* --- the sources ---------------------------------------------------------------------------------------------------------- */

static const struct ww_layer *layer_of(const struct ww_stack *stack, size_t ply)
{
    return &stack->layer[stack->ply[ply].layer];
}

static bool same_style(const struct ww_layer *a, const struct ww_layer *b)
{
    return strcmp(a->style.name, b->style.name) == 0 && strcmp(a->style.glass.name, b->style.glass.name) == 0;
}

static bool same_glass(const struct ww_layer *a, const struct ww_layer *b)
{
    return strcmp(a->style.glass.name, b->style.glass.name) == 0;
}

/* Is there an earlier ply that has the same? */
static bool is_repeated(const struct ww_stack *stack, size_t ply,
                        bool (*same)(const struct ww_layer *, const struct ww_layer *))
{
    for (size_t p = 0; p < ply; p++)
        if (same(layer_of(stack, p), layer_of(stack, ply)))
            return true;
    return false;
}

static void add(struct ww_doubts *doubts, enum ww_doubt_kind kind, const struct ww_layer *layer, size_t ply,
                double share)
{
    if (!(share > 0.0))
        return;
    struct ww_doubt *doubt = &doubts->of[doubts->count++];
    *doubt = (struct ww_doubt){.kind = kind, .ply = ply, .share = share};
    memcpy(doubt->style, layer->style.name, sizeof doubt->style);
    memcpy(doubt->glass, layer->style.glass.name, sizeof doubt->glass);
}

static void list(struct ww_doubts *doubts, const struct ww_stack *stack, double height)
{
    for (size_t p = 0; p < stack->plies; p++) {
        const struct ww_layer *layer = layer_of(stack, p);
        for (int figure = 0; figure < WW_STYLE_FIGURES && !is_repeated(stack, p, same_style); figure++)
            add(doubts, (enum ww_doubt_kind)figure, layer, p,
                ww_style_uncertainty(&layer->style, (enum ww_style_figure)figure));
        if (!is_repeated(stack, p, same_glass))
            add(doubts, WW_DOUBT_GLASS_DK, layer, p, layer->style.glass.dk_uncertainty);
        add(doubts, WW_DOUBT_HEIGHT, layer, p, height);
    }
}

/* --- one of them moved ------------------------------------------------------------------------------------------------------ */

/* share: of the figure; of a height, of the resin between the cloth and the nearer face of its ply. */
static enum ww_status move_layers(struct ww_layer *layer, const struct ww_stack *stack, const struct ww_doubt *doubt,
                                  double share, struct ww_error *error)
{
    const struct ww_layer *first = layer_of(stack, doubt->ply);
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < stack->plies && !status; p++) {
        const struct ww_ply *ply = &stack->ply[p];
        struct ww_layer *of = &layer[ply->layer];
        if (doubt->kind == WW_DOUBT_HEIGHT && p == doubt->ply) {
            double room = fmin(ply->cloth_height, ply->thickness - ply->cloth_height) - 0.5 * ply->cell.thickness;
            of->cloth_height = ply->cloth_height + share * fmax(room, 0.0);
        } else if (doubt->kind == WW_DOUBT_GLASS_DK && same_glass(of, first)) {
            of->style.glass.dk = fmax(of->style.glass.dk * (1.0 + share), 1.0); /* no glass has less */
        } else if (doubt->kind < WW_DOUBT_GLASS_DK && same_style(of, first)) {
            struct ww_style style = of->style;
            status = ww_style_move(&of->style, &style, (enum ww_style_figure)doubt->kind, share, error);
        }
    }
    return status;
}

/* The worst (spread) by the kernel alone, the source (NULL: none) moved by a share. */
static enum ww_status solve_moved(double *worst, const struct ww_doubts_request *request,
                                  const struct ww_doubt *doubt, double share, struct ww_error *error)
{
    const struct ww_stack *own = request->stack;
    struct ww_skew_request plain = request->skew;
    struct ww_stack stack = {.count = own->count};
    struct ww_line *line = NULL;
    struct ww_placements placements = {0};
    enum ww_status status = WW_OK;
    stack.layer = malloc(own->count * sizeof *stack.layer);
    if (!stack.layer)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", own->count);
    memcpy(stack.layer, own->layer, own->count * sizeof *stack.layer);
    plain.correction = NULL;
    if (doubt)
        status = move_layers(stack.layer, own, doubt, share, error);
    if (!status)
        status = ww_stack_build(&stack, &COARSE_CELL, error);
    if (!status)
        status = ww_line_create_single(&line, &stack, &request->trace, &request->line, error);
    if (!status)
        status = ww_placements_solve(&placements, line, &plain, plain.angle, false, error);
    *worst = placements.worst;
    ww_placements_clear(&placements);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
    free(stack.layer);
    return status;
}

/* K_i - K at one end of a source, as near to its share as the cloth can be woven; 0: not at all. */
static enum ww_status solve_end(double *move, const struct ww_doubts_request *request, const struct ww_doubt *doubt,
                                double share, double kernel, struct ww_error *error)
{
    *move = 0.0;
    for (int n = 0; n <= HALVINGS; n++, share *= 0.5) {
        struct ww_error inner = {0};
        double worst;
        enum ww_status status = solve_moved(&worst, request, doubt, share, &inner);
        if (!status)
            *move = worst - kernel;
        if (status && status != WW_UNPHYSICAL)
            return ww_error_set(error, status, inner.file, inner.line, "%s", inner.text);
        if (!status)
            break;
    }
    return WW_OK;
}

/* All ends, side by side: each fills its own place. */
static enum ww_status solve_ends(struct ww_doubts *doubts, const struct ww_doubts_request *request, double kernel,
                                 struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    double scale = kernel > 0.0 ? fmin(fmax(request->value / kernel, LEAST_SCALE), MOST_SCALE) : 1.0;
    size_t ends = 2 * doubts->count;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < ends; i++) {
        struct ww_doubt *doubt = &doubts->of[i / 2];
        struct ww_error mine = {0};
        double move, sign = i % 2 ? 1.0 : -1.0;
        ww_failure_keep(&failure, i, solve_end(&move, request, doubt, sign * doubt->share, kernel, &mine), &mine);
        *(i % 2 ? &doubt->at_high : &doubt->at_low) = fmax(0.0, request->value + scale * move);
    }
    return failure.status;
}

/* --- all of them -------------------------------------------------------------------------------------------------------------- */

void ww_doubts_range(const struct ww_doubts *doubts, bool (*counts)(const void *host, const struct ww_doubt *doubt),
                     const void *host, double *low, double *high)
{
    double below = 0.0, above = 0.0;
    for (size_t i = 0; i < doubts->count; i++) {
        const struct ww_doubt *doubt = &doubts->of[i];
        if (counts && !counts(host, doubt))
            continue;
        double up = fmax(0.0, fmax(doubt->at_low, doubt->at_high) - doubts->value);
        double down = fmax(0.0, doubts->value - fmin(doubt->at_low, doubt->at_high));
        above += up * up;
        below += down * down;
    }
    *low = fmax(0.0, doubts->value - sqrt(below));
    *high = doubts->value + sqrt(above);
}

enum ww_status ww_doubts_solve(struct ww_doubts *doubts, const struct ww_doubts_request *request,
                               struct ww_error *error)
{
    double kernel = 0.0;
    *doubts = (struct ww_doubts){.value = request->value};
    doubts->of = calloc((WW_STYLE_FIGURES + 2) * request->stack->plies + 1, sizeof *doubts->of);
    if (!doubts->of)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for what the answer hangs on");
    list(doubts, request->stack, request->height_uncertainty);
    enum ww_status status = doubts->count ? solve_moved(&kernel, request, NULL, 0.0, error) : WW_OK;
    if (!status)
        status = solve_ends(doubts, request, kernel, error);
    if (status)
        ww_doubts_clear(doubts);
    else
        ww_doubts_range(doubts, NULL, NULL, &doubts->low, &doubts->high);
    return status;
}

void ww_doubts_clear(struct ww_doubts *doubts)
{
    free(doubts->of);
    *doubts = (struct ww_doubts){0};
}
