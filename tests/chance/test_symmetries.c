/* What the physics does not see must not move the worst: random studies, and each of them laid, turned and cut otherwise.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The worst is over all registrations of the cloth, so shifts of it drop out, and with them the exchange of over and
 * under, which in plain weave is a shift by half a cell. The cloth is its own mirror image but for such a shift. So for each
 * study:
 *   upside down   a stripline's layers in reverse order. The board is turned over about the warp of the panel: angles of the
 *                 trace and turns of the plies change sign.
 *   shifted       each ply's cloth moved by a part of its cell
 *   half a turn   the trace's angle + 180 deg
 *   mirrored      angles and turns negated
 *   exchanged     warp and fill, with angle -> 90 deg - angle and turn -> -turn
 *   backwards     a route from its end: segments in reverse order, each at its angle + 180 deg; left leg and right change
 *                 places
 *   cut           a straight trace as a route of two segments, or one segment of a route as two
 *   threads       three instead of one: the same, bit for bit
 * A sample of the studies is quick; one argument, `all`, solves every one, with the residual correction too.
 */
#include "check.h"
#include "random.h"
#include "weftwise/chance.h"

#include <stdio.h>
#include <stdlib.h>

#define UM 1e-6
#define DEGREES (WW_PI / 180)

enum {
    STUDIES = 200,
    LEAST_SOLVED = 190,
    QUICK = 20,     /* every so many studies is in the quick suite */
    CORRECTED = 50, /* and every so many of all with the correction */
    LAYERS = 10,
    SEGMENTS = 6,
    PLIES = 3
};

enum kind { STRIPLINE, BARE, COVERED, KINDS };
static const char *const kind_name[] = {"stripline", "bare microstrip", "covered microstrip"};

struct study {
    uint64_t seed;
    enum kind kind;
    struct ww_layer layer[LAYERS];
    size_t layers;
    struct ww_trace trace;
    struct ww_cell_options cell;
    double fineness, angle, length;
    struct ww_route_segment route[SEGMENTS];
    size_t segments; /* 0: straight */
};

/* --- random studies ------------------------------------------------------------------------------------------------------- */

struct styles {
    size_t count;
    struct ww_style *style;
};

static int open_styles(void **state)
{
    struct ww_weaves weaves = {0};
    struct ww_names names = {0};
    struct ww_error error = {0};
    static struct styles styles;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    styles.count = names.count;
    styles.style = calloc(names.count, sizeof *styles.style);
    assert_non_null(styles.style);
    for (size_t i = 0; i < names.count; i++)
        assert_ok(ww_weaves_style(&weaves, names.name[i], &styles.style[i], &error), error);
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
    *state = &styles;
    return 0;
}

static int close_styles(void **state)
{
    struct styles *styles = *state;
    free(styles->style);
    return 0;
}

/* Any angle, every third time one of the yarns or between them. */
static double some_angle(struct random *random)
{
    return random_below(random, 3) ? random_between(random, -WW_PI, WW_PI)
                                   : 45 * DEGREES * ((double)random_below(random, 9) - 4);
}

static struct ww_layer some_ply(struct random *random, const struct styles *styles, const struct ww_resin *resin,
                                size_t first)
{
    size_t chosen = first ? first - 1 : random_below(random, (unsigned)styles->count);
    struct ww_layer ply = {.kind = WW_LAYER_PLY, .resin = *resin, .dk = resin->dk, .df = resin->df};
    ply.style = styles->style[chosen];
    ply.thickness = ply.style.thickness.value * random_between(random, 1.05, 2);
    ply.turn = random_below(random, 2) ? random_between(random, -0.5, 0.5) : 0;
    ply.shift_x = random_below(random, 2) ? random_between(random, -1e-3, 1e-3) : 0;
    ply.shift_y = ply.shift_x > 0 ? random_between(random, -1e-3, 1e-3) : 0;
    return ply;
}

static void add(struct study *study, struct ww_layer layer)
{
    study->layer[study->layers++] = layer;
}

static void lay_stack(struct study *study, struct random *random, const struct styles *styles)
{
    struct ww_resin resin = {.name = "resin", .dk = random_between(random, 2.8, 3.9), .df = 0.008, .density = 1400};
    size_t plies = 1 + random_below(random, PLIES), above = 0;
    if (study->kind != BARE)
        above = random_below(random, (unsigned)plies + 1);
    struct ww_layer plane = {.kind = WW_LAYER_PLANE}, air = {.kind = WW_LAYER_AIR};
    struct ww_layer fill = {.kind = WW_LAYER_RESIN, .resin = resin, .dk = resin.dk, .df = resin.df};
    struct ww_layer mask = {.kind = WW_LAYER_MASK, .thickness = 20 * UM, .dk = 3.6, .df = 0.02};
    struct ww_layer trace = {
        .kind = WW_LAYER_TRACE, .thickness = study->trace.thickness, .resin = resin, .dk = resin.dk, .df = resin.df};
    fill.thickness = random_between(random, 60, 200) * UM;

    add(study, study->kind == STRIPLINE ? plane : air);
    if (study->kind == COVERED)
        add(study, mask);
    for (size_t i = 0; i < above; i++)
        add(study, some_ply(random, styles, &resin, i ? 0 : 1 + study->seed % styles->count));
    if (study->kind == STRIPLINE && above == 0)
        add(study, fill);
    add(study, trace);
    if (above == plies)
        add(study, fill);
    for (size_t i = above; i < plies; i++)
        add(study, some_ply(random, styles, &resin, i ? 0 : 1 + study->seed % styles->count));
    add(study, plane);
}

static void draw_route(struct study *study, struct random *random)
{
    double sum = 0;
    study->segments = 2 + random_below(random, 4);
    for (size_t i = 0; i < study->segments; i++) {
        double bend = random_below(random, 2) ? random_between(random, -1.8, 1.8)
                                              : 45 * DEGREES * ((double)random_below(random, 5) - 2);
        study->route[i].angle = i ? study->route[i - 1].angle + bend : 0;
        study->route[i].length = random_between(random, 0.5, 1);
        sum += study->route[i].length;
    }
    for (size_t i = 0; i < study->segments; i++)
        study->route[i].length *= study->length / sum;
}

/* The cloth of every other ply off its middle, anywhere in the ply. */
static void place_cloth(struct study *study)
{
    struct random random = random_of(study->seed + 2000);
    for (size_t i = 0; i < study->layers; i++) {
        struct ww_layer *layer = &study->layer[i];
        double half = 0.5 * (layer->style.warp.height.value + layer->style.fill.height.value);
        if (layer->kind == WW_LAYER_PLY && random_below(&random, 2))
            layer->cloth_height = random_between(&random, half, layer->thickness - half);
    }
}

static struct study study_of(uint64_t seed, const struct styles *styles)
{
    static const double cells[] = {0.25, 0.25, 0.25, 0.375};
    struct random random = random_of(seed);
    struct study study = {.seed = seed, .kind = (enum kind)random_below(&random, KINDS)};
    study.trace.width = round(random_between(&random, 60, 200)) * UM;
    study.trace.thickness = random_below(&random, 8) ? round(random_between(&random, 10, 35)) * UM : 0;
    if (random_below(&random, 2)) /* of the width, so that both have a common step */
        study.trace.pitch = study.trace.width * 0.125 * (double)(12 + random_below(&random, 20));
    study.cell.fineness = cells[random_below(&random, 4)];
    study.fineness = 0.25;
    study.length = 2e-3 * exp(random_between(&random, 0, log(40)));
    bool routed =
        random_below(&random, 2) && study.length > 8e-3; /* or the cut segments would be too short for bends */
    study.angle = some_angle(&random);
    if (routed)
        draw_route(&study, &random);
    lay_stack(&study, &random, styles);
    place_cloth(&study);
    return study;
}

static void print_study(const struct study *study)
{
    print_message("  study %llu: %s, %s %.6g um wide, %.6g um thick, pitch %.6g um, %.6g mm at %.6g deg\n",
                  (unsigned long long)study->seed, kind_name[study->kind], study->trace.pitch > 0 ? "pair" : "single",
                  study->trace.width / UM, study->trace.thickness / UM, study->trace.pitch / UM, study->length * 1e3,
                  study->angle / DEGREES);
    for (size_t i = 0; i < study->segments; i++)
        print_message("    segment %.6g mm at %.6g deg\n", study->route[i].length * 1e3,
                      study->route[i].angle / DEGREES);
    for (size_t i = 0; i < study->layers; i++)
        if (study->layer[i].kind == WW_LAYER_PLY)
            print_message("    layer %zu: ply of %s, %.6g um, turn %.6g deg, shift %.6g, %.6g um, height %.6g um\n",
                          i + 1, study->layer[i].style.name, study->layer[i].thickness / UM,
                          study->layer[i].turn / DEGREES, study->layer[i].shift_x / UM, study->layer[i].shift_y / UM,
                          study->layer[i].cloth_height / UM);
        else if (study->layer[i].kind == WW_LAYER_TRACE)
            print_message("    layer %zu: trace\n", i + 1);
}

/* --- the same study otherwise --------------------------------------------------------------------------------------------- */

static void negate_angles(struct study *study)
{
    study->angle = -study->angle;
    for (size_t i = 0; i < study->segments; i++)
        study->route[i].angle = -study->route[i].angle;
    for (size_t i = 0; i < study->layers; i++)
        study->layer[i].turn = -study->layer[i].turn;
}

static bool lay_upside_down(struct study *study)
{
    if (study->kind != STRIPLINE)
        return false;
    negate_angles(study);
    for (size_t i = 0; i < study->layers / 2; i++) {
        struct ww_layer swap = study->layer[i];
        study->layer[i] = study->layer[study->layers - 1 - i];
        study->layer[study->layers - 1 - i] = swap;
    }
    for (size_t i = 0; i < study->layers; i++)
        if (study->layer[i].cloth_height > 0)
            study->layer[i].cloth_height = study->layer[i].thickness - study->layer[i].cloth_height;
    return true;
}

static bool shift_cloth(struct study *study)
{
    struct random random = random_of(study->seed + 1000);
    for (size_t i = 0; i < study->layers; i++)
        if (study->layer[i].kind == WW_LAYER_PLY) {
            study->layer[i].shift_x += random_share(&random) * 2 / study->layer[i].style.warp_count.value;
            study->layer[i].shift_y += random_share(&random) * 2 / study->layer[i].style.fill_count.value;
        }
    return true;
}

static bool turn_by_half(struct study *study)
{
    study->angle += study->angle > 0 ? -WW_PI : WW_PI;
    return true;
}

static bool mirror(struct study *study)
{
    negate_angles(study);
    return true;
}

static bool exchange_yarns(struct study *study)
{
    negate_angles(study);
    study->angle += 0.5 * WW_PI;
    for (size_t i = 0; i < study->layers; i++) {
        struct ww_style *style = &study->layer[i].style;
        struct ww_style given = *style;
        style->warp = given.fill;
        style->fill = given.warp;
        style->warp_count = given.fill_count;
        style->fill_count = given.warp_count;
    }
    return true;
}

static bool run_backwards(struct study *study)
{
    if (study->segments == 0)
        return false;
    struct study given = *study;
    for (size_t i = 0; i < study->segments; i++) {
        study->route[i] = given.route[given.segments - 1 - i];
        study->route[i].angle += WW_PI;
    }
    return true;
}

static bool cut(struct study *study)
{
    struct random random = random_of(study->seed + 2000);
    double share = random_between(&random, 0.3, 0.7);
    if (study->segments == 0)
        study->route[study->segments++] = (struct ww_route_segment){.length = study->length};
    size_t at = random_below(&random, (unsigned)study->segments);
    for (size_t i = study->segments++; i > at; i--)
        study->route[i] = study->route[i - 1];
    study->route[at].length *= share;
    study->route[at + 1].length *= 1 - share;
    return true;
}

/* Changes that are made together, each to what the one before it left; false: there is nothing to do in this study. */
enum { TOGETHER = 3 };
struct change {
    const char *name;
    bool (*apply[TOGETHER])(struct study *study);
};

/* Groups of which no change undoes another: what each alone would show shows. */
static const struct change in_groups[] = {
    {"shifted, cut and laid upside down", {shift_cloth, cut, lay_upside_down}},
    {"mirrored and run backwards", {mirror, run_backwards}},
    {"exchanged and turned by half", {exchange_yarns, turn_by_half}},
};
static const struct change one_by_one[] = {
    {"laid upside down", {lay_upside_down}},
    {"shifted", {shift_cloth}},
    {"turned by half", {turn_by_half}},
    {"mirrored", {mirror}},
    {"exchanged", {exchange_yarns}},
    {"run backwards", {run_backwards}},
    {"cut", {cut}},
};
#define GROUPS (sizeof in_groups / sizeof *in_groups)
#define CHANGES (sizeof one_by_one / sizeof *one_by_one)

static void turn_alike(struct study *study)
{
    double turn = 0;
    for (size_t i = 0; i < study->layers; i++)
        turn = study->layer[i].turn != 0 ? study->layer[i].turn : turn;
    for (size_t i = 0; i < study->layers; i++)
        study->layer[i].turn = study->layer[i].kind == WW_LAYER_PLY ? turn : 0;
}

static bool apply(const struct change *change, struct study *study)
{
    bool any = false;
    for (size_t i = 0; i < TOGETHER && change->apply[i]; i++)
        any = change->apply[i](study) || any;
    return any;
}

/* --- their answers -------------------------------------------------------------------------------------------------------- */

struct answer {
    double worst, spread; /* worst: of a pair its skew, of a single trace its spread; spread: of a leg */
    size_t sections;
};

static enum ww_status solve(const struct study *study, size_t sections, struct answer *answer, struct ww_error *error)
{
    struct ww_layer layer[LAYERS];
    memcpy(layer, study->layer, sizeof layer);
    struct ww_stack stack = {.layer = layer, .count = study->layers};
    struct ww_line_options options = {.fineness = study->fineness};
    struct ww_skew_request request = {.length = study->length,
                                      .angle = study->angle,
                                      .route = study->segments ? study->route : NULL,
                                      .segments = study->segments,
                                      .scan = {.positions = 64},
                                      .sections = sections};
    struct ww_line *line = NULL;
    struct ww_skew skew = {0};
    enum ww_status status = ww_stack_build(&stack, &study->cell, error);
    if (!status)
        status = ww_line_create(&line, &stack, &study->trace, &options, error);
    if (!status)
        status = ww_skew_solve(&skew, line, &request, error);
    if (!status)
        *answer = (struct answer){skew.pair ? skew.worst : skew.spread, skew.spread, skew.sections};
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
    return status;
}

/* What was seen of all studies. */
struct seen {
    size_t solved, count[CHANGES];
    double most[CHANGES]; /* largest deviation, in what is allowed */
    size_t failures;
};

/* Off by how much of the worst, or of a leg's spread where that is larger: a skew that nulls is rounding. */
static double deviation(const struct answer *got, const struct answer *want)
{
    return fabs(got->worst - want->worst) / fmax(want->worst, want->spread);
}

static void fail_study(struct seen *seen, const struct study *study, const char *name, const struct answer *got,
                       const struct answer *want, double off)
{
    seen->failures++;
    print_message("%s: worst %.17g s, was %.17g s (spread of a leg %.3g s): off by %.3g\n", name, got->worst,
                  want->worst, want->spread, off);
    print_study(study);
}

/* One by one where `groups` is false or a group fails, so that a message names the change. */
static void compare_changed(const struct study *study, size_t sections, double tolerance, bool groups,
                            const struct answer *as_drawn, struct seen *seen)
{
    for (size_t c = 0; c < (groups ? GROUPS : CHANGES); c++) {
        const struct change *change = groups ? &in_groups[c] : &one_by_one[c];
        struct study changed = *study;
        struct answer other;
        struct ww_error error = {0};
        if (!apply(change, &changed))
            continue;
        if (solve(&changed, sections, &other, &error)) {
            print_message("%s is refused: %s\n", change->name, error.text);
            print_study(study);
            seen->failures++;
            continue;
        }
        double off = deviation(&other, as_drawn);
        seen->count[c]++;
        seen->most[c] = fmax(seen->most[c], off);
        if (!(off <= tolerance))
            fail_study(seen, study, change->name, &other, as_drawn, off);
    }
}

static void compare(const struct study *study, size_t sections, double tolerance, bool groups, struct seen *seen)
{
    struct answer as_drawn, other;
    struct ww_error error = {0};
    ww_threads_set(1);
    enum ww_status status = solve(study, sections, &as_drawn, &error);
    if (status) {
        print_message("study %llu is refused: %s\n", (unsigned long long)study->seed, error.text);
        return;
    }
    seen->solved++;
    assert_true(as_drawn.worst > 0);
    assert_true((as_drawn.sections > 0) == (sections > 0));
    size_t failures = seen->failures;
    compare_changed(study, sections, tolerance, groups, &as_drawn, seen);
    if (groups && seen->failures > failures)
        compare_changed(study, sections, tolerance, false, &as_drawn, &(struct seen){0});
    ww_threads_set(3);
    assert_ok(solve(study, sections, &other, &error), error);
    if (memcmp(&other.worst, &as_drawn.worst, sizeof other.worst) != 0)
        fail_study(seen, study, "threads", &other, &as_drawn, deviation(&other, &as_drawn));
    ww_threads_set(0);
}

static void compare_studies(const struct styles *styles, uint64_t step, size_t sections, double tolerance,
                            bool groups)
{
    struct seen seen = {0};
    for (uint64_t seed = step; seed <= STUDIES; seed += step) {
        struct study study = study_of(seed, styles);
        if (sections > 0 && seed / step % 2)
            turn_alike(&study);
        compare(&study, sections, tolerance, groups, &seen);
    }
    for (size_t c = 0; c < (groups ? GROUPS : CHANGES); c++)
        print_message("%-34s %3zu studies, off by %.2g at most\n", (groups ? in_groups : one_by_one)[c].name,
                      seen.count[c], seen.most[c]);
    assert_int_equal(seen.failures, 0);
    assert_true(seen.solved * step >= LEAST_SOLVED);
}

static void worst_of_the_kernel(void **state)
{
    compare_studies(*state, QUICK, 0, 1e-9, true);
}

static void worst_of_the_kernel_of_all(void **state)
{
    compare_studies(*state, 1, 0, 1e-9, true);
}

static void worst_with_the_correction(void **state)
{
    compare_studies(*state, CORRECTED, 5, 1e-6, true);
}

static void each_change_by_itself(void **state)
{
    compare_studies(*state, 1, 0, 1e-9, false);
}

static void worst_of_all_with_the_correction(void **state)
{
    compare_studies(*state, 1, 5, 1e-6, true);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest quick[] = {
        cmocka_unit_test(worst_of_the_kernel),
        cmocka_unit_test(worst_with_the_correction),
    };
    const struct CMUnitTest slow[] = {
        cmocka_unit_test(worst_of_the_kernel_of_all),
        cmocka_unit_test(each_change_by_itself),
        cmocka_unit_test(worst_of_all_with_the_correction),
    };
    if (argc > 1 && strcmp(argv[1], "all") == 0)
        return cmocka_run_group_tests(slow, open_styles, close_styles);
    return cmocka_run_group_tests(quick, open_styles, close_styles);
}
