/* test_monte_carlo.c - the chances that are computed in closed form against boards drawn at random.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A board is drawn as it is made: the cloth is turned by an angle of the law and woven a little too dense or too open, all
 * plies alike; then every pair of the board, on every ply, lands somewhere. Its value is asked for there, by the harmonics
 * themselves: no map, no histogram, no grid of angles, no convolution. Random numbers: SplitMix64 (G. L. Steele, D. Lea,
 * C. H. Flood, OOPSLA 2014, from memory) from fixed seeds, so that a result is the same every time; normal numbers by
 * G. E. P. Box and M. E. Muller (1958). A share p of n draws is off by sqrt(p (1 - p)/n), a mean by the deviation over
 * sqrt(n), and four times that is allowed.
 */
#include "../line/board.h"
#include "weftwise/chance.h"

#include <stdlib.h>

#define SIGMAS 4.0

struct generator {
    uint64_t state;
};

static double uniform(struct generator *g) /* [0, 1) */
{
    uint64_t z = g->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return (double)(z >> 11) / 9007199254740992.0; /* 2^53 */
}

static double normal(struct generator *g)
{
    double radius = sqrt(-2 * log(1 - uniform(g))), angle = 2 * WW_PI * uniform(g);
    return radius * cos(angle);
}

static double turn_of(struct generator *g, const struct ww_skew_request *request)
{
    if (request->turn_law == WW_UNIFORM)
        return request->turn * (2 * uniform(g) - 1);
    double sigmas;
    do
        sigmas = normal(g);
    while (!(fabs(sigmas) <= 3));
    return request->turn * sigmas / 3;
}

/* The generator draws what it should: otherwise nothing below means anything. */
static void generator_is_even_and_normal(void **state)
{
    (void)state;
    enum { DRAWS = 200000 };
    struct generator g = {0};
    assert_true(g.state == 0 && uniform(&g) == (double)(UINT64_C(0xe220a8397b1dcdaf) >> 11) / 9007199254740992.0);
    double mean = 0, square = 0, product = 0, before = 0, within = 0;
    for (int i = 0; i < DRAWS; i++) {
        double u = uniform(&g) - 0.5;
        mean += u / DRAWS;
        square += u * u / DRAWS;
        product += u * before / DRAWS;
        before = u;
        within += fabs(normal(&g)) < 1 ? 1.0 / DRAWS : 0;
    }
    double root = sqrt((double)DRAWS);
    assert_close(mean, 0, 0, SIGMAS * sqrt(1.0 / 12) / root);
    assert_close(square, 1.0 / 12, 0, SIGMAS * sqrt(1.0 / 180) / root);
    assert_close(product, 0, 0, SIGMAS / 12 / root);
    assert_close(within, erf(sqrt(0.5)), 0, SIGMAS * sqrt(erf(sqrt(0.5)) * erfc(sqrt(0.5))) / root);
}

/* --- boards ------------------------------------------------------------------------------------------------------- */

enum { MOST_PLIES = 2 };

/* Where a pair or trace lands on each ply. */
struct landed {
    double x[MOST_PLIES], y[MOST_PLIES];
};

static struct landed land(const struct board *board, const double stretch[2], struct generator *g)
{
    struct landed landed = {{0}, {0}};
    for (size_t p = 0; p < board->stack.plies; p++) {
        const struct ww_cell *cell = &board->stack.ply[p].cell;
        landed.x[p] = uniform(g) * cell->lx * (1 + stretch[0]);
        landed.y[p] = uniform(g) * cell->ly * (1 + stretch[1]);
    }
    return landed;
}

/* Its value, or that of another so far to its left. */
static double value_beside(const struct board *board, const struct ww_scan *scan,
                           const struct ww_skew_request *request, double turn, struct landed landed, double beside)
{
    double sum = 0;
    for (size_t p = 0; p < board->stack.plies; p++) {
        double theta = request->angle + turn - board->stack.ply[p].turn, value;
        double x = landed.x[p] - beside * cos(theta), y = landed.y[p] + beside * sin(theta);
        struct ww_error error = {0};
        assert_ok(ww_scan_value(scan, p, board->line->mesh.pair ? WW_SKEW : WW_LEG1, WW_MEAN, request->length, x, y,
                                &value, &error),
                  error);
        sum += value;
    }
    return sum;
}

/* What is held against a budget: a pair's skew, or the difference of two traces, at their spacing or anywhere. */
static double judged_somewhere(const struct board *board, const struct ww_scan *scan,
                               const struct ww_skew_request *request, double turn, const double stretch[2],
                               struct generator *g)
{
    struct landed landed = land(board, stretch, g);
    double value = value_beside(board, scan, request, turn, landed, 0), spacing = request->scan.spacing;
    if (!board->line->mesh.pair)
        value -= value_beside(board, scan, request, turn, spacing > 0 ? landed : land(board, stretch, g), spacing);
    return fabs(value);
}

/* The worst of all lanes, on one cloth or each anywhere: of pairs the largest skew, of traces the largest less the least. */
static double worst_of_lanes(const struct board *board, const struct ww_scan *scan,
                             const struct ww_skew_request *request, double turn, const double stretch[2],
                             struct generator *g)
{
    double high = -INFINITY, low = INFINITY;
    struct landed landed = land(board, stretch, g);
    for (size_t lane = 0; lane < request->lanes; lane++) {
        double value = value_beside(board, scan, request, turn, landed, (double)lane * request->lane_pitch);
        high = fmax(high, value);
        low = fmin(low, value);
        if (request->lane_pitch == 0)
            landed = land(board, stretch, g);
    }
    return board->line->mesh.pair ? fmax(high, -low) : high - low;
}

struct drawn {
    size_t count;
    double *judged, *worst; /* |value| of one pair or two traces, and the worst of all lanes of each board */
};

static struct ww_scan *scan_of(const struct board *board, const struct ww_skew_request *request, double turn,
                               const double stretch[2])
{
    struct ww_scan_options options = request->scan;
    struct ww_error error = {0};
    struct ww_scan *scan;
    options.stretch[0] = stretch[0];
    options.stretch[1] = stretch[1];
    options.route = request->route;
    options.segments = request->segments;
    assert_ok(ww_scan_create(&scan, board->line, request->angle + turn, &options, &error), error);
    return scan;
}

static struct drawn draw(const struct board *board, const struct ww_skew_request *request, size_t count,
                         uint64_t seed)
{
    struct generator g = {seed};
    struct drawn drawn = {count, calloc(2 * count, sizeof(double)), NULL};
    assert_non_null(drawn.judged);
    drawn.worst = drawn.judged + count;
    bool varies = request->turn > 0 || request->warp_tolerance > 0 || request->fill_tolerance > 0;
    struct ww_scan *scan = NULL;
    for (size_t n = 0; n < count; n++) {
        double turn = turn_of(&g, request), warp = request->warp_tolerance * (2 * uniform(&g) - 1);
        const double stretch[2] = {warp, request->fill_tolerance * (2 * uniform(&g) - 1)};
        if (varies || !scan) {
            ww_scan_destroy(scan);
            scan = scan_of(board, request, turn, stretch);
        }
        drawn.judged[n] = judged_somewhere(board, scan, request, turn, stretch, &g);
        drawn.worst[n] = worst_of_lanes(board, scan, request, turn, stretch, &g);
    }
    ww_scan_destroy(scan);
    return drawn;
}

static double share_beyond(const double *value, size_t count, double limit)
{
    size_t beyond = 0;
    for (size_t n = 0; n < count; n++)
        beyond += value[n] > limit;
    return (double)beyond / (double)count;
}

/* The share of draws beyond a limit against the closed one. */
static void compare_share(const char *what, const double *value, size_t count, double limit, double closed)
{
    double got = share_beyond(value, count, limit), error = sqrt(closed * (1 - closed) / (double)count);
    print_message("  %-26s closed %.4f, drawn %.4f, %+.1f sigma\n", what, closed, got, (got - closed) / error);
    assert_close(got, closed, 0, SIGMAS * error);
}

static void compare_mean(const char *what, const double *value, size_t count, double closed)
{
    double mean = 0, square = 0;
    for (size_t n = 0; n < count; n++)
        mean += value[n] / (double)count;
    for (size_t n = 0; n < count; n++)
        square += (value[n] - mean) * (value[n] - mean) / (double)(count - 1);
    double error = sqrt(square / (double)count);
    print_message("  %-26s closed %.5f ps, drawn %.5f ps, %+.1f sigma\n", what, closed * 1e12, mean * 1e12,
                  (mean - closed) / error);
    assert_close(mean, closed, 0, SIGMAS * error);
}

/* --- checks ------------------------------------------------------------------------------------------------------- */

static struct board_options cloth_on_both_sides(bool pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.above = true;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.5;
    return options;
}

static struct ww_skew solve(const struct board *board, const struct ww_skew_request *request)
{
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, request, &error), error);
    return skew;
}

/* Only the place on the cloth is left to chance. */
static void check_places(bool pair, double angle, double length, double budget, uint64_t seed)
{
    struct board board;
    struct board_options options = cloth_on_both_sides(pair);
    board_open(&board, &options);
    struct ww_skew_request request = {.length = length, .angle = angle, .budget = budget, .lanes = 4};
    struct ww_skew skew = solve(&board, &request);
    struct drawn drawn = draw(&board, &request, 5000, seed);
    print_message("%s, %.1f deg, %.0f mm: worst %.3f ps\n", pair ? "pair" : "single", angle / DEGREES, length * 1e3,
                  skew.worst * 1e12);
    compare_share("beyond the median", drawn.judged, drawn.count, skew.median, 0.5);
    compare_share("beyond 95 of 100", drawn.judged, drawn.count, skew.p95, 0.05);
    compare_share("beyond 99 of 100", drawn.judged, drawn.count, skew.p99, 0.01);
    compare_share("over budget", drawn.judged, drawn.count, budget, skew.over_budget);
    compare_share("board over budget", drawn.worst, drawn.count, budget, 1 - skew.yield);
    compare_mean("worst of 4", drawn.worst, drawn.count, skew.expected_worst);
    assert_true(skew.over_budget > 0.02 && skew.over_budget < 0.9); /* the budget cuts where it tells */
    if (pair)
        assert_close(skew.yield, pow(1 - skew.over_budget, 4), 2e-3, 0);
    assert_close(skew.tolerant_median, skew.median, 5e-3, 0); /* nothing to tolerate; a coarser map */
    assert_close(skew.tolerant_p99, skew.p99, 5e-3, 0);
    for (size_t n = 0; n < drawn.count; n++)
        assert_true(drawn.judged[n] <= skew.worst * (1 + 1e-9));
    free(drawn.judged);
    ww_skew_clear(&skew);
    board_close(&board);
}

static void places_of_a_pair(void **state)
{
    (void)state;
    check_places(true, 0, 25e-3, 1.5e-12, 1);
    check_places(true, 7 * DEGREES, 25e-3, 0.02e-12, 2);
}

static void places_of_a_single_trace(void **state)
{
    (void)state;
    check_places(false, 0, 25e-3, 1.5e-12, 3);
    check_places(false, 0.5 * WW_PI, 25e-3, 1.5e-12, 4);
}

/* The turn and the count of the cloth too. */
static void check_tolerances(bool pair, const struct ww_skew_request *request, size_t boards, uint64_t seed)
{
    struct board board;
    struct board_options options = cloth_on_both_sides(pair);
    board_open(&board, &options);
    struct ww_skew skew = solve(&board, request);
    struct drawn drawn = draw(&board, request, boards, seed);
    print_message("%s, %.1f +- %.1f deg (%s), count within %.0f %%, %zu lanes: worst %.3f ps\n",
                  pair ? "pair" : "single", request->angle / DEGREES, request->turn / DEGREES,
                  request->turn_law ? "normal" : "uniform", 100 * request->warp_tolerance, request->lanes,
                  skew.worst_with_turn * 1e12);
    compare_share("beyond the median", drawn.judged, drawn.count, skew.tolerant_median, 0.5);
    compare_share("beyond 99 of 100", drawn.judged, drawn.count, skew.tolerant_p99, 0.01);
    compare_share("over budget", drawn.judged, drawn.count, request->budget, skew.tolerant_over_budget);
    compare_share("board over budget", drawn.worst, drawn.count, request->budget, 1 - skew.yield);
    compare_mean("worst of the lanes", drawn.worst, drawn.count, skew.expected_worst);
    /* lanes of one board share its turn: more boards are good than if each pair had its own */
    if (pair)
        assert_true(skew.yield > pow(1 - skew.tolerant_over_budget, (double)request->lanes));
    for (size_t n = 0; n < drawn.count; n++)
        assert_true(drawn.judged[n] <= skew.worst_with_turn * (1 + 1e-3));
    free(drawn.judged);
    ww_skew_clear(&skew);
    board_close(&board);
}

static void turn_by_a_uniform_law(void **state)
{
    (void)state;
    struct ww_skew_request request = {
        .length = 25e-3, .turn = 2 * DEGREES, .budget = 0.8e-12, .lanes = 8, .turn_law = WW_UNIFORM};
    check_tolerances(true, &request, 1500, 5);
}

static void turn_by_a_normal_law(void **state)
{
    (void)state;
    struct ww_skew_request request = {
        .length = 25e-3, .turn = 2 * DEGREES, .budget = 0.8e-12, .lanes = 8, .turn_law = WW_NORMAL};
    check_tolerances(true, &request, 1500, 6);
}

static void turn_and_count(void **state)
{
    (void)state;
    struct ww_skew_request request = {.length = 25e-3,
                                      .angle = 5 * DEGREES,
                                      .turn = 1 * DEGREES,
                                      .warp_tolerance = 0.03,
                                      .fill_tolerance = 0.03,
                                      .budget = 0.03e-12,
                                      .lanes = 4,
                                      .turn_law = WW_UNIFORM};
    check_tolerances(true, &request, 1500, 7);
}

static void turn_of_single_traces(void **state)
{
    (void)state;
    struct ww_skew_request request = {.length = 25e-3,
                                      .turn = 2 * DEGREES,
                                      .warp_tolerance = 0.02,
                                      .fill_tolerance = 0.02,
                                      .budget = 0.8e-12,
                                      .lanes = 4,
                                      .turn_law = WW_NORMAL};
    check_tolerances(false, &request, 1500, 8);
}

/* All lanes on one cloth; two traces at their spacing. */
static void turn_of_lanes_on_one_cloth(void **state)
{
    (void)state;
    struct ww_skew_request request = {.length = 25e-3,
                                      .turn = 2 * DEGREES,
                                      .warp_tolerance = 0.01,
                                      .fill_tolerance = 0.01,
                                      .budget = 0.8e-12,
                                      .lanes = 6,
                                      .lane_pitch = 0.9e-3,
                                      .turn_law = WW_UNIFORM};
    check_tolerances(true, &request, 1500, 9);
}

static void turn_of_traces_on_one_cloth(void **state)
{
    (void)state;
    struct ww_skew_request request = {.length = 25e-3,
                                      .angle = 1 * DEGREES,
                                      .turn = 2 * DEGREES,
                                      .budget = 0.3e-12,
                                      .lanes = 5,
                                      .lane_pitch = 1.1e-3,
                                      .turn_law = WW_NORMAL,
                                      .scan = {.spacing = 2.2e-3}};
    check_tolerances(false, &request, 1500, 10);
}

/* --- terms -------------------------------------------------------------------------------------------------------- */

/* 5 ps at 10 GHz and 20 Gb/s, by hand: 360 x 0.05 = 18 deg; a tenth of a unit interval of 50 ps; first null at
 * 1/(10 ps); at the Nyquist frequency, 10 GHz, half of the 18 deg, and sin 9 deg = 0.15643446504. */
static void terms_by_hand(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        struct ww_skew_terms terms = ww_skew_terms(sign * 5e-12, 10e9, 20e9);
        assert_close(terms.degrees, 18, 1e-14, 0);
        assert_close(terms.unit_interval_share, 0.1, 1e-14, 0);
        assert_close(terms.first_null, 100e9, 1e-14, 0);
        assert_close(terms.conversion, 0.15643446504023087, 1e-13, 0);
    }
    /* a whole unit interval late: at the Nyquist frequency all of it is common; that far is the first null */
    struct ww_skew_terms terms = ww_skew_terms(1 / 56e9, 0, 56e9);
    assert_close(terms.conversion, 1, 1e-14, 0);
    assert_close(terms.first_null, 28e9, 1e-14, 0);
    assert_close(terms.unit_interval_share, 1, 1e-14, 0);
    assert_close(terms.degrees, 0, 0, 0);
    /* issue 13: beyond that |sin| falls, but placements with less skew convert all the same */
    assert_close(ww_skew_terms(1.9 / 56e9, 0, 56e9).conversion, 1, 1e-14, 0);
}

static void terms_that_lack_something_are_zero(void **state)
{
    (void)state;
    struct ww_skew_terms terms = ww_skew_terms(0, 10e9, 20e9);
    assert_close(terms.degrees, 0, 0, 0);
    assert_close(terms.first_null, 0, 0, 0);
    assert_close(terms.conversion, 0, 0, 0);
    assert_close(terms.unit_interval_share, 0, 0, 0);
    terms = ww_skew_terms(5e-12, 10e9, 0);
    assert_close(terms.conversion, 0, 0, 0);
    assert_close(terms.unit_interval_share, 0, 0, 0);
    assert_close(terms.degrees, 18, 1e-14, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(generator_is_even_and_normal),
        cmocka_unit_test(places_of_a_pair),
        cmocka_unit_test(places_of_a_single_trace),
        cmocka_unit_test(turn_by_a_uniform_law),
        cmocka_unit_test(turn_by_a_normal_law),
        cmocka_unit_test(turn_and_count),
        cmocka_unit_test(turn_of_single_traces),
        cmocka_unit_test(turn_of_lanes_on_one_cloth),
        cmocka_unit_test(turn_of_traces_on_one_cloth),
        cmocka_unit_test(terms_by_hand),
        cmocka_unit_test(terms_that_lack_something_are_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
