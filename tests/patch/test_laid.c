/* Traces over measured cloth: those of the perfect cloth where it is even, those of the drawn one where it is that; and none leaves it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdlib.h>
#include <string.h>

#include "fabric/patch.h"
#include "patch/real.h"
#include "real_board.h"

enum { WARP = 40, FILL = 36 };
#define PX (25.4e-3 / 60)
#define PY (25.4e-3 / 47)

static struct ww_yarn_paths paths_of(const struct ww_patch *patch)
{
    const size_t counts[WW_SYSTEMS] = {WARP, FILL};
    const double pitch[WW_SYSTEMS] = {PX, PY};
    struct ww_yarn_paths paths;
    struct ww_error error = {0};
    assert_ok(ww_yarn_paths_init(&paths, counts, &error), error);
    strcpy(paths.picture, "photo.png");
    strcpy(paths.file, "paths.ini");
    for (int s = 0; s < WW_SYSTEMS; s++) {
        paths.of[s].pitch = pitch[s];
        for (size_t n = 0; patch && n < WARP * FILL; n++)
            paths.of[s].off[n] = ww_patch_axis(patch, (enum ww_system)s, (long)(n / counts[1 - s]),
                                               ((double)(n % counts[1 - s]) + 0.5) * pitch[1 - s]) -
                                 ((double)(n / counts[1 - s]) + 0.5) * pitch[s];
    }
    return paths;
}

/* Of the map over places, of a trace along the warp of one ply: none leaves the cloth. */
static void assert_map_stays(const struct ww_real *real, double length, double leg)
{
    const struct ww_real_place *place = &real->place;
    const double along = place->map.lx / (double)place->map.nx, across = place->map.ly / (double)place->map.ny;
    const double rounding = 1e-12, *start = place->start[0];
    assert_true(start[1] + 0.5 * along >= 1.5 * PY - rounding);
    assert_true(start[1] + place->map.lx - 0.5 * along + length <= (FILL - 1.5) * PY + rounding);
    assert_true(start[0] - 0.5 * across + leg <= (WARP - 1.5) * PX + rounding);
    assert_true(start[0] - place->map.ly + 0.5 * across - leg >= 1.5 * PX - rounding);
}

/* Never above the bound, and near it at the worst. */
static void even_paths_have_the_perfect_cloth_s_figures(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = coarse(pair);
        struct board board;
        board_open(&board, &options);
        struct ww_yarn_paths paths = paths_of(NULL);
        struct ww_real_request request = {.scatter = &none,
                                          .paths = &paths,
                                          .length = 8e-3,
                                          .boards = 20,
                                          .traces = 20,
                                          .neighbours = true,
                                          .warp_tolerance = 0.02};
        struct ww_real real = solved(&board, &request);
        assert_true(real.measured && !real.counts);
        assert_map_stays(&real, 8e-3, pair ? 110 * UM : 0);
        assert_close(real.at[real.own].length, 8e-3, 1e-12, 0);
        double last =
            real.at[real.count - 1].length; /* as far as it fits: 33 yarns between the second ones from the ends */
        assert_true(last <= 33 * PY && last > 33 * PY - real.step);
        for (size_t i = 0; i < real.count; i++) {
            const struct ww_at_length *at = &real.at[i];
            assert_true(at->square.worst <= at->bound * (1 + 1e-6));
            assert_true(i < real.own ||
                        at->square.worst > 0.93 * at->bound); /* the worst of short ones is a narrow peak */
        }
        assert_close(real.place.worst, real.at[real.own].bound, 0.5, 0);
        assert_true(real.alike.count == 49 && real.alike.correlation[0].value > 0.999);
        assert_close(real.kept, 0, 0, 0);
        char sentence[1024];
        assert_contains(ww_real_sentence(&real, 0, sentence, sizeof sentence),
                        "on the cloth of the picture, laid square");
        assert_contains(sentence, "over places on it alone)");
        ww_real_clear(&real);
        ww_yarn_paths_clear(&paths);
        board_close(&board);
    }
}

/* A walk on it is the walk on the patch that the paths are of: to the cubic through samples a pitch apart. */
static void a_drawn_patch_laid_again_has_its_skew(void **state)
{
    (void)state;
    enum { STEPS = 40, PLACES = 50 };
    const struct ww_yarn_scatter yarn = {15 * UM, 6e-3, 0.9, 0};
    const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .seed = 4};
    struct board_options options = coarse(true);
    struct board board;
    struct ww_patch *patch[2];
    struct ww_walk *walk;
    struct ww_error error = {0};
    double largest = 0, running[2][STEPS], low[2], high[2];
    board_open(&board, &options);
    const struct ww_style *style = ww_stack_cloth(&board.stack, 0).style;
    assert_ok(ww_patch_create(&patch[0], style, &scatter, WARP * PX + 5e-3, FILL * PY + 5e-3, 0, &error), error);
    struct ww_yarn_paths paths = paths_of(patch[0]);
    assert_ok(ww_patch_lay(&patch[1], style, &paths, &error), error);
    assert_true(ww_patch_room(patch[1], low, high));
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0, 8e-3 / STEPS, NULL, &error), error);
    for (int i = 0; i < PLACES; i++) {
        const double room = high[0] - low[0] - 220 * UM,
                     at[1][2] = {{low[0] + 110 * UM + room * i / PLACES, low[1] + 0.1e-3 * i}};
        for (int k = 0; k < 2; k++)
            ww_walk_along(walk, (const struct ww_patch *const *)&patch[k], at, 0, NULL, STEPS, running[k]);
        largest = fmax(largest, fabs(running[0][STEPS - 1]));
        assert_close(running[1][STEPS - 1], running[0][STEPS - 1], 0, 1e-4 * largest);
    }
    ww_walk_destroy(walk);
    ww_patch_destroy(patch[0]);
    ww_patch_destroy(patch[1]);
    ww_yarn_paths_clear(&paths);
    board_close(&board);
}

/* Pairs, single traces with a spacing, lanes; a turned and shifted ply; turns to both sides: the room holds all of what is walked. */
static void traces_stay_on_the_measured_cloth(void **state)
{
    (void)state;
    for (int kind = 0; kind < 3; kind++) {
        struct board_options options = coarse(kind != 1);
        struct board board;
        struct ww_patch *laid;
        struct ww_error error = {0};
        options.turn = 0.1;
        options.shift_x = 130 * UM;
        board_open(&board, &options);
        struct ww_yarn_paths paths = paths_of(NULL);
        assert_ok(ww_patch_lay(&laid, ww_stack_cloth(&board.stack, 0).style, &paths, &error), error);
        const struct ww_real_request request = {
            .scatter = &none, .paths = &paths, .turn = 0.05, .spacing = kind == 1 ? 0.7e-3 : 0};
        struct ww_boards b = {.line = board.line,
                              .request = &request,
                              .plies = 1,
                              .pair = kind != 1,
                              .angle = 0.3,
                              .laid = &laid,
                              .step = 0.1e-3};
        const double apart = kind == 2 ? 2e-3 : 0, leg = kind == 1 ? 0 : 110 * UM, px = PX, py = PY;
        double longest = ww_boards_longest(&b, apart), nearest = HUGE_VAL;
        assert_true(longest > 5e-3 && longest < 33 * PY / cos(0.2));
        b.lengths = (size_t)(longest / b.step);
        struct ww_random random = ww_random_of(1, 1);
        for (int i = 0; i < 400; i++) {
            double turn = request.turn * (2 * ww_random_share(&random) - 1), theta = b.angle - 0.1 + turn,
                   start[1][2];
            ww_boards_start(&b, &random, turn, apart, start);
            for (int corner = 0; corner < 4; corner++) {
                double along = corner & 1 ? (double)b.lengths * b.step : 0;
                double left = corner & 2 ? apart + (kind == 1 ? request.spacing : leg) : -leg;
                double x = start[0][0] - 130 * UM + along * sin(theta) - left * cos(theta);
                double y = start[0][1] + along * cos(theta) + left * sin(theta), rounding = 1e-12;
                nearest = fmin(nearest, fmin(fmin(x - 1.5 * px, (WARP - 1.5) * px - x),
                                             fmin(y - 1.5 * py, (FILL - 1.5) * py - y)));
                assert_true(nearest >= -rounding);
            }
        }
        assert_true(nearest < 0.1e-3); /* and uses it */
        ww_patch_destroy(laid);
        ww_yarn_paths_clear(&paths);
        board_close(&board);
    }
}

static void what_does_not_fit_is_refused(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    struct ww_real real;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_yarn_paths paths = paths_of(NULL);
    struct ww_real_request request = {.scatter = &none, .paths = &paths, .length = 20e-3};
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    assert_contains(error.text,
                    "a trace of 20 mm does not fit on the cloth of photo.png, which takes one of up to 17.8 mm");
    assert_string_equal(error.file, "paths.ini");
    request.length = 5e-3;
    request.longest = 30e-3;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    request.longest = 0;
    request.lanes = 20;
    request.lane_pitch = 1e-3; /* 19 mm wide on 16 */
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    assert_contains(error.text, "up to 0 mm at this angle, turn and lanes included");
    request.lanes = 0;
    request.nets = 8;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    request.nets = 0;
    const struct ww_route_segment route[] = {{3e-3, 0}, {2e-3, 0.3}};
    request.route = route;
    request.segments = 2;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    assert_contains(error.text, "measured cloth takes a straight trace");
    request.segments = 0;
    request.scatter = &wild;
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    ww_yarn_paths_clear(&paths);
    board_close(&board);
}

/* Of 8 degrees on cloth that is long and narrow there is no room: told as far as they fit, without the rest. */
static void angles_are_told_as_far_as_they_fit(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    board_open(&board, &options);
    const size_t counts[WW_SYSTEMS] = {8, FILL};
    struct ww_yarn_paths paths;
    struct ww_error error = {0};
    assert_ok(ww_yarn_paths_init(&paths, counts, &error), error);
    paths.of[WW_WARP].pitch = PX;
    paths.of[WW_FILL].pitch = PY;
    const struct ww_real_request request = {.scatter = &none,
                                            .paths = &paths,
                                            .length = 15e-3,
                                            .boards = 4,
                                            .traces = 4,
                                            .angles = true,
                                            .neighbours = true};
    struct ww_real real =
        solved(&board, &request); /* 5 pitches, 2.1 mm, less the pair's: 15 mm fits up to 7.2 degrees */
    assert_int_equal(real.angles, 5);
    assert_close(real.at_turn[4].angle, 4 * DEGREES, 1e-12, 0);
    assert_true(real.alike.count > 20 && real.alike.count < 49);
    assert_true(real.place.map.ly < 6 * PX && real.place.map.lx > 0);
    ww_real_clear(&real);
    ww_yarn_paths_clear(&paths);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(even_paths_have_the_perfect_cloth_s_figures),
        cmocka_unit_test(a_drawn_patch_laid_again_has_its_skew),
        cmocka_unit_test(traces_stay_on_the_measured_cloth),
        cmocka_unit_test(what_does_not_fit_is_refused),
        cmocka_unit_test(angles_are_told_as_far_as_they_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
