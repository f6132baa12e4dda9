/* Nets of one panel, traces side by side, a trace slid over a board, and what a bow does.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "real_board.h"
#include "scan/slowness.h"

static double skew_from(const struct board *board, const struct ww_walk *walk, const struct ww_scatter *scatter,
                        const struct ww_real_place *place, size_t steps, double along, double across)
{
    struct ww_patch *patch[8];
    double start[8][2], running[2000];
    struct ww_error error = {0};
    assert_true(board->stack.plies <= 8 && steps <= 2000);
    for (size_t p = 0; p < board->stack.plies; p++) {
        assert_ok(ww_patch_create(&patch[p], ww_stack_cloth(&board->stack, p).style, scatter, place->width,
                                  place->length, p, &error),
                  error);
        double theta = -board->stack.ply[p].turn;
        start[p][0] = place->start[p][0] + along * sin(theta) - across * cos(theta);
        start[p][1] = place->start[p][1] + along * cos(theta) + across * sin(theta);
    }
    ww_walk_along(walk, (const struct ww_patch *const *)patch, (const double(*)[2])start, 0, NULL, steps, running);
    for (size_t p = 0; p < board->stack.plies; p++)
        ww_patch_destroy(patch[p]);
    return running[steps - 1];
}

/* Each place of the map is a walk of its own over the patches that are told; the worst is in it. */
static void the_map_over_places_is_what_walks_from_there_tell(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    struct ww_walk *walk;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_real_request request = {
        .scatter = &wild, .length = 5e-3, .longest = 10e-3, .boards = 4, .neighbours = true};
    struct ww_real real = solved(&board, &request);
    const struct ww_map *map = &real.place.map;
    size_t steps = (size_t)lround(5e-3 / real.step);
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0, real.step, NULL, &error), error);
    double dx = map->lx / (double)map->nx, dy = map->ly / (double)map->ny, most = 0;
    for (size_t i = 0; i < map->nx * map->ny; i++)
        most = fmax(most, fabs(map->value[i]));
    assert_close(most, real.place.worst, 1e-12, 0);
    for (size_t ix = 0; ix < map->nx; ix += map->nx / 2)
        for (size_t iy = 3; iy < map->ny; iy += map->ny / 3)
            assert_close(
                map->value[iy * map->nx + ix],
                skew_from(&board, walk, &wild, &real.place, steps, ((double)ix + 0.5) * dx, ((double)iy + 0.5) * dy),
                0, 1e-9 * most);
    ww_walk_destroy(walk);
    ww_real_clear(&real);
    board_close(&board);
}

/* On perfect cloth laid square skew is a sum of cosines of the place across, so that traces a cell apart are alike, and
 * rho(d) = sum |a_k|^2 cos(k d)/sum |a_k|^2. One ply, where it is told by the scan from many places. */
static void lanes_on_perfect_cloth_are_alike_as_its_harmonics_say(void **state)
{
    (void)state;
    enum { PLACES = 128 };
    struct board_options options = coarse(true);
    struct board board;
    struct ww_error error = {0};
    struct ww_scan *scan;
    board_open(&board, &options);
    struct ww_real_request request = {
        .scatter = &none, .length = 8e-3, .longest = 8e-3, .boards = 24, .neighbours = true};
    struct ww_real real = solved(&board, &request);
    const struct ww_scan_options scanning = {0};
    assert_ok(ww_scan_create(&scan, board.line, 0, &scanning, &error), error);
    double cell = board.stack.ply[0].cell.lx;
    for (size_t n = 0; n < real.alike.count; n += 3) {
        double product = 0, square = 0;
        for (size_t p = 0; p < board.stack.plies;
             p++) /* each lies at random: products of two plies are none on average */
            for (int i = 0; i < PLACES; i++) {
                double x = cell * i / PLACES, here, beside;
                assert_ok(ww_scan_value(scan, p, WW_SKEW, WW_MEAN, 8e-3, x, 0, &here, &error), error);
                assert_ok(
                    ww_scan_value(scan, p, WW_SKEW, WW_MEAN, 8e-3, x - real.alike.spacing[n], 0, &beside, &error),
                    error);
                product += here * beside;
                square += here * here;
            }
        /* six pitches of traces from 40 places at random: within 0.05 of all places */
        assert_close(real.alike.correlation[n].value, product / square, 0, 0.05);
    }
    assert_close(real.alike.correlation[0].value, 1, 1e-12, 0);
    assert_close(real.alike.correlation[16].value, 1, 1e-6, 0); /* a cell */
    ww_scan_destroy(scan);
    ww_real_clear(&real);
    board_close(&board);
}

/* Square and without scatter nets are independent, so that the panels' yield is the product; with a turn they share it, and all are
 * well or all are bad: more panels are good than that. */
static void nets_of_a_panel_share_its_turn(void **state)
{
    (void)state;
    struct board_options options = coarse(true);
    struct board board;
    board_open(&board, &options);
    struct ww_real_request request = {
        .scatter = &none, .length = 8e-3, .longest = 8e-3, .boards = 50, .traces = 4, .nets = 4};
    struct ww_real real = solved(&board, &request);
    request.budget = 0.8 * real.at[real.own].bound;
    ww_real_clear(&real);
    real = solved(&board, &request);
    const struct ww_real_panel *panel = &real.panel;
    assert_int_equal(panel->nets, 4);
    assert_int_equal(panel->panels, 100);
    assert_true(panel->yield.low < panel->yield_independent && panel->yield_independent < panel->yield.high);
    assert_true(panel->yield.low > 0 && panel->yield.high < 1);
    assert_true(panel->median.low <= panel->median.value && panel->median.value <= panel->median.high);
    assert_true(panel->median.value < panel->p95.value && panel->p95.value <= real.at[real.own].bound * (1 + 1e-6));
    assert_true(panel->one[0] < panel->one[100] && panel->one[100] < panel->median.value);
    ww_real_clear(&real);
    request.turn = 0.3;
    request.budget = 0.3 * request.budget;
    real = solved(&board, &request);
    assert_true(real.panel.yield.low > real.panel.yield_independent);
    ww_real_clear(&real);
    request.nets = 1001;
    struct ww_error error = {0};
    assert_int_equal(ww_real_solve(&real, board.line, &request, &error), WW_INVALID);
    assert_contains(error.text, "more than 1000");
    board_close(&board);
}

/* Single traces: the spread of all on the panel, no more than the bound of two. */
static void single_traces_of_a_panel_have_their_spread(void **state)
{
    (void)state;
    struct board_options options = coarse(false);
    struct board board;
    board_open(&board, &options);
    struct ww_real_request request = {
        .scatter = &none, .length = 8e-3, .longest = 8e-3, .boards = 15, .traces = 4, .nets = 40};
    struct ww_real real = solved(&board, &request);
    assert_true(real.panel.worst[0] > 0.5 * real.at[real.own].bound);
    assert_true(real.panel.worst[29] <= real.at[real.own].bound * (1 + 1e-6));
    ww_real_clear(&real);
    board_close(&board);
}

/* A bow turns the fill by 4 bow (1 - 2 x/panel), most at the panel's edges. Along the fill, on cloth without scatter, skew over
 * a long trace is gone where the cloth is turned, and stays in the middle of the panel. */
static void a_bow_turns_the_fill_along_the_panel_as_its_formula_says(void **state)
{
    (void)state;
    const struct ww_scatter bow = {.bow = 0.01, .panel = 0.4};
    struct board_options options = coarse(true);
    struct board board;
    struct ww_walk *walk;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_patch *patch[8], *square[8];
    for (size_t p = 0; p < board.stack.plies; p++) {
        const struct ww_style *style = ww_stack_cloth(&board.stack, p).style;
        assert_ok(ww_patch_create(&patch[p], style, &bow, 0.4, 5e-3, p, &error), error);
        assert_ok(ww_patch_create(&square[p], style, &none, 0.4, 5e-3, p, &error), error);
    }
    enum { STEPS = 100, PLACES = 24 };
    double running[STEPS], step = 0.2e-3, middle_at[] = {0.05, 0.12, 0.2};
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0.5 * WW_PI, step, NULL, &error), error);
    for (size_t m = 0; m < 3; m++) {
        double turn = atan(4 * bow.bow * (1 - 2 * middle_at[m] / bow.panel)), bowed = 0, turned = 0;
        for (int i = 0; i < PLACES; i++) {
            double start[8][2];
            for (size_t p = 0; p < board.stack.plies; p++) {
                start[p][0] = middle_at[m] - 0.5 * STEPS * step;
                start[p][1] = 0.11e-3 * i;
            }
            ww_walk_along(walk, (const struct ww_patch *const *)patch, (const double(*)[2])start, 0, NULL, STEPS,
                          running);
            bowed = fmax(bowed, fabs(running[STEPS - 1]));
            ww_walk_along(walk, (const struct ww_patch *const *)square, (const double(*)[2])start, turn, NULL, STEPS,
                          running);
            turned = fmax(turned, fabs(running[STEPS - 1]));
        }
        /* the turn itself changes by 0.06 deg over the trace; of 2 ps where it is square */
        assert_close(bowed, turned, 0, 0.1e-12);
        assert_true(m == 0 ? turn > 0.029 && bowed < 0.3e-12 : bowed > 1e-12);
    }
    ww_walk_destroy(walk);
    for (size_t p = 0; p < board.stack.plies; p++) {
        ww_patch_destroy(patch[p]);
        ww_patch_destroy(square[p]);
    }
    board_close(&board);
}

/* Integral of exp(-i b s^2) over 0 .. length: sqrt(pi/(2 b)) (C(u) - i S(u)), u = length sqrt(2 b/pi), C and S those of Fresnel
 * (Abramowitz and Stegun 1964, 7.3.1 and 7.3.2), here by Simpson's rule. */
static double _Complex fresnel(double b, double length)
{
    enum { INTERVALS = 2000 };
    double u = length * sqrt(2 * b / WW_PI), h = u / INTERVALS;
    double _Complex sum = 0;
    for (int i = 0; i <= INTERVALS; i++) {
        double t = i * h, phase = 0.5 * WW_PI * t * t;
        sum += (i == 0 || i == INTERVALS ? 1 : i % 2 ? 4 : 2) * (cos(phase) - I * sin(phase));
    }
    return sqrt(0.5 * WW_PI / b) * sum * h / 3;
}

/* Derived. A trace along the fill, over cloth without scatter, through the last quarter of a panel that is W wide: hook moves the fill up by
 * b (x - 3 W/4)^2, b = 16 hook/W, so that its turn grows linearly. Skew that is constant along the fill where that is straight,
 * sum over l of c_l exp(i k_l y), then adds up to
 *   sum over l of c_l exp(i k_l y) (s + integral of exp(-i k_l b t^2) dt over 0 .. L),
 * s the length before the hook. Harmonics that change along the fill add what does not grow. */
static void a_hook_lets_skew_saturate_as_fresnel_s_integral_does(void **state)
{
    (void)state;
    enum { STEPS = 500, PLACES = 12, ORDERS = 12 };
    const double step = 0.2e-3, before[] = {0, 30e-3}, panel = 0.4;
    const struct ww_scatter hook = {.hook = 0.005, .panel = panel};
    struct board_options options = coarse(true);
    struct board board;
    struct ww_walk *walk;
    struct ww_scan *scan;
    struct ww_patch *patch;
    struct ww_error error = {0};
    double _Complex c[ORDERS] = {0};
    options.above = false;
    board_open(&board, &options);
    const double b = 16 * hook.hook / panel;
    assert_ok(ww_patch_create(&patch, ww_stack_cloth(&board.stack, 0).style, &hook, panel, 5e-3, 0, &error), error);
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0.5 * WW_PI, step, NULL, &error), error);
    assert_ok(ww_scan_create(&scan, board.line, 0.5 * WW_PI, NULL, &error), error);
    const struct ww_ply_scan *s = &scan->ply[0];
    for (size_t w = 0; w < s->harmonics; w++)
        if (s->order[w].m == 0 && s->order[w].l > 0 && s->order[w].l < ORDERS)
            c[s->order[w].l] = s->coefficient[0][WW_MEAN][w] - s->coefficient[1][WW_MEAN][w];
    for (size_t n = 0; n < 2; n++) {
        double value[PLACES][STEPS];
        for (int i = 0; i < PLACES; i++) {
            const double start[1][2] = {{0.75 * panel - before[n], s->ly * i / PLACES}};
            ww_walk_along(walk, (const struct ww_patch *const *)&patch, start, 0, NULL, STEPS, value[i]);
        }
        for (int at = 249; at < STEPS; at += 50) {
            double hooked = step * (at + 1) - before[n], largest = 0, most = 0, straight = 0;
            for (int i = 0; i < PLACES; i++) {
                double y = s->ly * i / PLACES, want = 0, square = 0;
                for (int l = 1; l < ORDERS; l++) {
                    double k = 2 * WW_PI * l / s->ly;
                    double _Complex here = 2 * c[l] * (cos(k * y) + I * sin(k * y)); /* with that of -l */
                    want += creal(here * (before[n] + fresnel(k * b, hooked)));
                    square += creal(here) * step * (at + 1);
                }
                most = fmax(most, fabs(value[i][at] - want));
                largest = fmax(largest, fabs(want));
                straight = fmax(straight, fabs(square));
            }
            assert_close(most, 0, 0, 0.01 * largest);
            assert_true(n > 0 || largest < 0.75 * straight); /* or the hook would do nothing */
        }
    }
    ww_scan_destroy(scan);
    ww_walk_destroy(walk);
    ww_patch_destroy(patch);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_map_over_places_is_what_walks_from_there_tell),
        cmocka_unit_test(lanes_on_perfect_cloth_are_alike_as_its_harmonics_say),
        cmocka_unit_test(nets_of_a_panel_share_its_turn),
        cmocka_unit_test(single_traces_of_a_panel_have_their_spread),
        cmocka_unit_test(a_bow_turns_the_fill_along_the_panel_as_its_formula_says),
        cmocka_unit_test(a_hook_lets_skew_saturate_as_fresnel_s_integral_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
