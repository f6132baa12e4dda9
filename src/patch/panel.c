/* panel.c - the worst of many nets on one panel of real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A panel is drawn over its whole width, and along the warp as far as a trace and some wander_lengths go. Its nets start anywhere on
 * it, and bow and hook turn the fill by where they start.
 */
#include <math.h>
#include <stdlib.h>

#include "patch/real.h"

enum { PANELS_A_BOARD = 2, MOST_NETS = 1000 };
#define PANEL 0.5  /* [m], where the scatter tells none */
#define WIDEST 100 /* wander_lengths, beyond which a panel that is straight tells no more */

/* What is found of all panels. */
struct found {
    double *worst; /* [panel] */
    double *value; /* [panel][net] */
};

static enum ww_status walk_panel(const struct ww_boards *b, size_t board, void *context, struct ww_error *error)
{
    const struct ww_real_request *request = b->request;
    struct found *found = context;
    double *value = found->value + board * request->nets, least = HUGE_VAL, most = -HUGE_VAL, largest = 0;
    struct ww_board_work work = {0};
    struct ww_random random = ww_random_of(request->scatter->seed, (UINT64_C(2) << 32) + board);
    double turn = ww_boards_turn(request, board, b->boards, &random);
    enum ww_status status = ww_board_init(&work, b, board, ww_boards_counts(b, board), error);
    for (size_t n = 0; n < request->nets && !status; n++) {
        ww_boards_start(b, &random, turn, 0, work.first);
        ww_boards_walk(b, &work, 0, turn);
        value[n] = work.value[0];
        least = fmin(least, value[n]);
        most = fmax(most, value[n]);
        largest = fmax(largest, fabs(value[n]));
    }
    found->worst[board] = b->pair || request->spacing > 0 ? largest : most - least;
    ww_board_clear(&work, b->plies);
    return status;
}

static enum ww_status bracket_worst(struct ww_real_panel *panel, struct ww_error *error)
{
    double median[WW_RESAMPLED], p95[WW_RESAMPLED], *again = calloc(panel->panels, sizeof *again);
    struct ww_random random = ww_random_of(2, panel->nets);
    if (!again)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu panels", panel->panels);
    for (size_t r = 0; r < WW_RESAMPLED; r++) {
        for (size_t i = 0; i < panel->panels; i++)
            again[i] = panel->worst[(size_t)(ww_random_share(&random) * (double)panel->panels)];
        qsort(again, panel->panels, sizeof *again, ww_ascending);
        median[r] = ww_quantile(again, panel->panels, 0.5);
        p95[r] = ww_quantile(again, panel->panels, 0.95);
    }
    panel->median = ww_bracket(ww_quantile(panel->worst, panel->panels, 0.5), median);
    panel->p95 = ww_bracket(ww_quantile(panel->worst, panel->panels, 0.95), p95);
    free(again);
    return WW_OK;
}

/* Of one net, over all of them. */
static void judge_one(struct ww_real_panel *panel, double *value, double budget)
{
    size_t count = panel->panels * panel->nets, within = 0;
    for (size_t i = 0; i < count; i++) {
        value[i] = fabs(value[i]);
        within += value[i] <= budget;
    }
    qsort(value, count, sizeof *value, ww_ascending);
    for (int q = 0; q < WW_QUANTILES; q++)
        panel->one[q] = ww_quantile(value, count, (double)q / (WW_QUANTILES - 1));
    if (budget > 0)
        panel->yield_independent = pow((double)within / (double)count, (double)panel->nets);
}

static enum ww_status judge(struct ww_real_panel *panel, const struct ww_boards *b, struct found *found,
                            struct ww_error *error)
{
    double budget = b->request->budget;
    size_t good = 0;
    for (size_t i = 0; i < panel->panels; i++) {
        panel->mean += panel->worst[i] / (double)panel->panels;
        good += panel->worst[i] <= budget;
    }
    if (budget > 0)
        panel->yield = ww_share(good, panel->panels);
    qsort(panel->worst, panel->panels, sizeof *panel->worst, ww_ascending);
    if (b->pair || b->request->spacing > 0)
        judge_one(panel, found->value, budget);
    return bracket_worst(panel, error);
}

struct ww_boards ww_panel_boards(const struct ww_boards *all, const double *length)
{
    const struct ww_scatter *scatter = all->request->scatter;
    double side = scatter->panel > 0 ? scatter->panel : PANEL;
    double longest = fmax(scatter->yarn[WW_WARP].wander_length, scatter->yarn[WW_FILL].wander_length);
    struct ww_boards b = *all;
    if (!(scatter->bow > 0 || scatter->hook > 0) && longest > 0)
        side = fmin(side, WIDEST * longest);
    b.boards = PANELS_A_BOARD * all->boards;
    b.at = length;
    b.lengths = 1;
    ww_boards_size(&b, *length);
    b.width = fmax(b.width, side);
    b.fit = NULL;
    return b;
}

enum ww_status ww_panel_solve(struct ww_real_panel *panel, const struct ww_boards *all, double length,
                              struct ww_error *error)
{
    struct ww_boards b = ww_panel_boards(all, &length);
    if (b.request->nets > MOST_NETS)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu nets on one panel are more than %d; give fewer",
                            b.request->nets, MOST_NETS);
    panel->nets = b.request->nets;
    panel->panels = b.boards;
    panel->worst = calloc(b.boards, sizeof *panel->worst);
    struct found found = {panel->worst, calloc(b.boards * panel->nets, sizeof *found.value)};
    enum ww_status status = WW_OK;
    if (!found.worst || !found.value)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu panels of %zu nets", panel->panels,
                              panel->nets);
    if (!status)
        status = ww_boards_each(&b, walk_panel, &found, error);
    if (!status)
        status = judge(panel, &b, &found, error);
    free(found.value);
    return status;
}
