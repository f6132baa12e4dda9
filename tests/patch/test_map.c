/* Maps over a patch: the slowness of each place, and the value of traces from all places, against a plain integrator.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "random.h"
#include "weftwise/patch.h"

static const struct ww_yarn_scatter yarn = {20 * UM, 5e-3, 0.9, 0.02};

struct setting {
    struct board board;
    struct ww_patch *patch;
    struct ww_walk *walk;
};

static void open_setting(struct setting *s, bool pair, double theta, double bow)
{
    const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .bunching = 0.02, .bow = bow, .panel = 0.6, .seed = 6};
    struct board_options options = pair ? board_pair() : board_plain();
    struct ww_error error = {0};
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    options.shift_x = 60 * UM;
    board_open(&s->board, &options);
    const struct ww_style *style = ww_stack_cloth(&s->board.stack, 0).style;
    assert_ok(ww_patch_create(&s->patch, style, &scatter, 4e-3, 4e-3, 0, &error), error);
    assert_ok(ww_walk_create(&s->walk, s->board.line, NULL, theta, 0, NULL, &error), error);
}

static void close_setting(struct setting *s)
{
    ww_walk_destroy(s->walk);
    ww_patch_destroy(s->patch);
    board_close(&s->board);
}

/* Of part of the patch and beyond its end, across which it repeats: what ww_walk_slowness tells of the same places. */
static void a_map_tells_what_its_places_do(void **state)
{
    (void)state;
    enum { NX = 60, NY = 40 };
    for (int pair = 0; pair < 2; pair++) {
        struct setting s;
        struct ww_map leg[2];
        struct ww_error error = {0};
        const double from[2] = {3.7e-3, -0.2e-3};
        open_setting(&s, pair, 0.3, 0);
        assert_ok(ww_walk_map(s.walk, 0, s.patch, from, 1.5e-3, 0.8e-3, NX, NY, leg, &error), error);
        assert_true((leg[1].value != NULL) == (pair == 1));
        double largest = 0;
        for (size_t i = 0; i < NX * NY; i++)
            largest = fmax(largest, fabs(leg[0].value[i]));
        for (size_t i = 0; i < NX * NY; i += 7) {
            double want[2];
            ww_walk_slowness(s.walk, 0, s.patch, from[0] + ((double)(i % NX) + 0.5) / NX * 1.5e-3,
                             from[1] + ((double)(i / NX) + 0.5) / NY * 0.8e-3, want);
            for (int l = 0; l <= pair; l++)
                assert_close(leg[l].value[i], want[l], 0, 1e-10 * largest);
        }
        ww_map_clear(&leg[0]);
        ww_map_clear(&leg[1]);
        assert_int_equal(ww_walk_map(s.walk, 0, s.patch, from, 1e-3, 1e-3, 0, NY, leg, &error), WW_INVALID);
        assert_null(leg[0].value);
        close_setting(&s);
    }
}

/* Along the trace from `start`, in the middle of each step; neither map nor transform. */
static double integrated(const struct setting *s, const double start[2], double theta, double length)
{
    enum { STEPS = 8000 };
    double sum = 0;
    for (int i = 0; i < STEPS; i++) {
        double at = length * (i + 0.5) / STEPS, leg[2];
        ww_walk_slowness(s->walk, 0, s->patch, start[0] + at * sin(theta), start[1] + at * cos(theta), leg);
        sum += (leg[0] - leg[1]) * length / STEPS;
    }
    return sum;
}

/* A walk in steps of a 32nd of a yarn pitch: to 1e-6 of the largest value from some places; off the yarns' directions, where all are
 * small, of the largest along the warp. */
static void a_walk_in_small_steps_is_a_plain_integrator_s(void **state)
{
    (void)state;
    enum { PLACES = 4, STEPS_MOST = 2000 };
    static const struct {
        bool pair;
        double theta;
        size_t steps;
    } asked[] = {{true, 0, 1600}, {true, 0.2, 1600}, {true, 0.5 * WW_PI, 1600}, {false, 0, 104}};
    const double step = 12.5e-6;
    struct random random = random_of(3);
    double along = 0;
    for (size_t n = 0; n < sizeof asked / sizeof *asked; n++) {
        double theta = asked[n].theta, length = (double)asked[n].steps * step, largest = 0, most = 0;
        double value[STEPS_MOST];
        struct setting s;
        struct ww_walk *walk;
        struct ww_error error = {0};
        open_setting(&s, asked[n].pair, theta, 0);
        assert_ok(ww_walk_create(&walk, s.board.line, NULL, theta, step, NULL, &error), error);
        for (int p = 0; p < PLACES; p++) {
            double start[1][2] = {{random_between(&random, 0, 4e-3), random_between(&random, 0, 4e-3)}};
            ww_walk_along(walk, (const struct ww_patch *const *)&s.patch, (const double(*)[2])start, 0, &length, 1,
                          value);
            most = fmax(most, fabs(value[0] - integrated(&s, start[0], theta, length)));
            largest = fmax(largest, fabs(value[0]));
        }
        along = n == 0 ? largest : along;
        assert_close(most, 0, 0, 1e-6 * (n == 1 ? along : largest));
        assert_true(largest > 0);
        ww_walk_destroy(walk);
        close_setting(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_map_tells_what_its_places_do),
        cmocka_unit_test(a_walk_in_small_steps_is_a_plain_integrator_s),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
