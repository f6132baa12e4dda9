/* Mode conversion of a pair: closed forms, limits, symmetries. Against chained full sections: tests/outside/conversion.py.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "line/board.h"
#include "chance/conversion.h"
#include "chance/placements.h"
#include "core/transform.h"
#include "scan/path.h"

#include <stdlib.h>

#define LENGTH 20e-3
#define PS 1e-12

enum { N = 128 };

/* G and H of one ply of a scan from all starts. */
struct maps {
    double g[N * N], h[N * N];
};

static void solve_maps(struct maps *maps, const struct ww_scan *scan, double length, double beat)
{
    static double _Complex cosine[N * (N / 2 + 1)], sine[N * (N / 2 + 1)];
    struct ww_beat_segment segment[4];
    struct ww_error error = {0};
    memset(cosine, 0, sizeof cosine);
    memset(sine, 0, sizeof sine);
    assert_true(ww_scan_segments(scan) <= 4);
    ww_beat_segments(segment, scan, 0, WW_MEAN, length);
    for (size_t i = 0; i < ww_scan_segments(scan); i++)
        assert_true(ww_beat_add(&segment[i], beat, N, cosine, sine) > 0);
    assert_ok(ww_transform_inverse(cosine, N, N, maps->g, &error), error);
    assert_ok(ww_transform_inverse(sine, N, N, maps->h, &error), error);
}

static struct ww_skew solve(const struct board *board, struct ww_skew_request request)
{
    struct ww_skew skew;
    struct ww_error error = {0};
    assert_ok(ww_skew_solve(&skew, board->line, &request, &error), error);
    return skew;
}

/* Without a beat, G is the skew, from every start, straight or along a route; H is nothing. */
static void without_a_beat_it_is_the_skew(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{12e-3, 0.05}, {8e-3, -0.4}};
    static struct maps maps;
    struct board_options options = board_pair();
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    for (int bent = 0; bent < 2; bent++) {
        struct ww_scan_options scan_options = {.route = bent ? route : NULL, .segments = bent ? 2 : 0};
        struct ww_scan *scan = NULL;
        struct ww_extreme high, low;
        assert_ok(ww_scan_create(&scan, board.line, 0.13, &scan_options, &error), error);
        assert_ok(ww_scan_extremes(scan, 0, WW_SKEW, WW_MEAN, LENGTH, &high, &low, &error), error);
        solve_maps(&maps, scan, LENGTH, 0);
        for (size_t i = 0; i < N * N; i += 321) {
            double value, x = (double)(i % N) / N * scan->ply[0].lx, y = (double)(i / N) / N * scan->ply[0].ly;
            assert_ok(ww_scan_value(scan, 0, WW_SKEW, WW_MEAN, LENGTH, x, y, &value, &error), error);
            assert_close(maps.g[i], value, 0, 1e-9 * high.value);
            assert_close(maps.h[i], 0, 0, 1e-12 * high.value);
        }
        ww_scan_destroy(scan);
    }
    board_close(&board);
}

/* With a beat it is the integral of dS cos(b s) and dS sin(b s), by the midpoint rule in 1 um steps. */
static void with_a_beat_it_is_the_integral(void **state)
{
    (void)state;
    static struct maps maps;
    const double beat = 130, angle = 0.01;
    struct board_options options = board_pair();
    struct board board;
    struct ww_error error = {0};
    struct ww_scan *scan = NULL;
    board_open(&board, &options);
    assert_ok(ww_scan_create(&scan, board.line, angle, NULL, &error), error);
    solve_maps(&maps, scan, LENGTH, beat);
    for (size_t i = 0; i < N * N; i += 5000) {
        const struct ww_ply_scan *ply = &scan->ply[0];
        double x = (double)(i % N) / N * ply->lx, y = (double)(i / N) / N * ply->ly, g = 0, h = 0, step = 10e-6;
        for (double s = 0.5 * step; s < LENGTH; s += step) {
            double ds = ww_scan_average_at(scan, 0, WW_SKEW, WW_MEAN, 0, x + s * ply->ux, y + s * ply->uy);
            g += step * ds * cos(beat * s);
            h += step * ds * sin(beat * s);
        }
        assert_close(maps.g[i], g, 0, 1e-4 * PS);
        assert_close(maps.h[i], h, 0, 1e-4 * PS);
        assert_true(hypot(g, h) > 0.01 * PS);
    }
    ww_scan_destroy(scan);
    board_close(&board);
}

/* F of a route from one start by the midpoint rule in steps of 10 um, each leg through its own spans, and what each bend's excess
 * adds where it lies. */
static double _Complex integral_along(const struct ww_scan *scan, const struct ww_route_segment *route, double x,
                                      double y, const struct ww_modes *modes)
{
    double _Complex sum = 0;
    double passed = 0;
    for (size_t k = 0; k < scan->segments; k++) {
        struct ww_scan_segment segment = ww_scan_segment_at(scan, k);
        const struct ww_ply_scan *ply = &segment.scan->ply[0];
        double length = route[k].length;
        for (int leg = 0; leg < 2; leg++) {
            struct ww_leg_span span = ww_leg_span(scan, &segment, length, leg);
            size_t steps = (size_t)(span.length / 10e-6);
            double step = span.length / (double)steps, mean = creal(ply->coefficient[leg][WW_MEAN][0]);
            for (size_t j = 0; j < steps; j++) {
                double s = span.start + ((double)j + 0.5) * step;
                double slowness = ww_scan_average_at(segment.scan, 0, leg ? WW_LEG2 : WW_LEG1, WW_MEAN, 0,
                                                     x + s * ply->ux, y + s * ply->uy);
                sum += (leg ? -1 : 1) * step * (slowness - mean) * ww_phasor(modes->beat * (passed + s));
            }
        }
        x += length * ply->ux;
        y += length * ply->uy;
        passed += length;
        if (k + 1 < scan->segments && scan->bends)
            sum += 2 * scan->pitch * tan(0.5 * (route[k + 1].angle - route[k].angle)) *
                   ww_scan_mean_delay(segment.scan, WW_LEG1, 1) * modes->excess * ww_phasor(modes->beat * passed);
    }
    return sum;
}

static void along_a_route_with_bends_it_is_the_integral(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{6e-3, 0.1}, {5e-3, 0.5}, {4e-3, -0.2}};
    static const double start[][2] = {{0, 0}, {110e-6, 70e-6}, {300e-6, 210e-6}};
    struct board_options options = board_pair();
    struct board board;
    struct ww_error error = {0};
    double worst[2];
    board_open(&board, &options);
    for (int counts = 0; counts < 2; counts++) {
        struct ww_skew_request request = {.length = 15e-3,
                                          .turn = 1e-7, /* so that the table of angles converts, too */
                                          .route = route,
                                          .segments = 3,
                                          .frequency = 3e9, /* weak */
                                          .scan = {.bends = counts}};
        struct ww_scan_options scan_options = {.route = route, .segments = 3, .bends = counts};
        struct ww_modes modes = ww_modes_of(board.line, &request, 0);
        struct ww_scan *scan = NULL;
        struct ww_converter *converter = NULL;
        struct ww_skew skew = solve(&board, request);
        assert_ok(ww_scan_create(&scan, board.line, 0, &scan_options, &error), error);
        assert_ok(ww_converter_create(&converter, 1, 3, &error), error);
        ww_beat_segments(ww_converter_segments(converter), scan, 0, WW_MEAN, 15e-3);
        for (size_t i = 0; i < 3; i++) {
            double amplitude,
                want = modes.coupling * cabs(integral_along(scan, route, start[i][0], start[i][1], &modes));
            assert_ok(ww_converter_at(converter, &modes, &start[i], 200, &amplitude, &error), error);
            assert_close(amplitude, want, 0, 3e-3 * skew.conversion.worst);
            assert_true(want > 0.1 * skew.conversion.worst && want < 1.003 * skew.conversion.worst);
        }
        assert_close(skew.conversion.worst_with_turn, skew.conversion.worst, 2e-3, 0);
        worst[counts] = skew.conversion.worst;
        ww_converter_destroy(converter);
        ww_skew_clear(&skew);
        ww_scan_destroy(scan);
    }
    assert_true(worst[1] > 1.5 * worst[0]);
    board_close(&board);
}

/* A pair made by hand: on each ply the legs differ by one harmonic, dS = a cos(k.r), along y. */
struct by_hand {
    struct ww_order order[2][2];
    double _Complex one[2][2], two[2];
    struct ww_beat_segment segment[2];
};

static void make_by_hand(struct by_hand *b, size_t plies, const double a[2], const int l[2], double length)
{
    memset(b, 0, sizeof *b);
    for (size_t p = 0; p < plies; p++) {
        b->order[p][1] = (struct ww_order){1, l[p]};
        b->one[p][1] = 0.5 * a[p];
        b->segment[p] = (struct ww_beat_segment){.lx = 1e-3,
                                                 .ly = 1e-3,
                                                 .uy = 1,
                                                 .length = length,
                                                 .leg = {{0, length}, {0, length}},
                                                 .harmonics = 2,
                                                 .order = b->order[p],
                                                 .slowness = {b->one[p], b->two},
                                                 .unit = 1};
    }
}

static struct ww_converted solve_by_hand(const struct by_hand *b, size_t plies, struct ww_modes modes)
{
    struct ww_converter *converter = NULL;
    struct ww_converted converted;
    struct ww_error error = {0};
    assert_ok(ww_converter_create(&converter, plies, 1, &error), error);
    memcpy(ww_converter_segments(converter), b->segment, plies * sizeof *b->segment);
    assert_ok(ww_converter_solve(converter, &modes, true, &converted, &error), error);
    ww_converter_destroy(converter);
    return converted;
}

/* Constant along the path: kappa/W sin(W L), W = sqrt(kappa^2 + (b/2)^2), the largest over positions at the largest kappa where
 * W L is under a quarter turn. Half of the positions have |cos| under 1/sqrt 2. */
static void constant_coupling_is_the_closed_form(void **state)
{
    (void)state;
    static const double beat[] = {0, 3, 20, 60}, kappa[] = {0.1, 3, 12};
    for (size_t i = 0; i < 4; i++)
        for (size_t j = 0; j < 3; j++) {
            struct by_hand b;
            struct ww_modes modes = {.beat = beat[i], .coupling = 1e12};
            make_by_hand(&b, 1, (double[2]){kappa[j] * 1e-12, 0}, (int[2]){0}, 50e-3);
            struct ww_converted got = solve_by_hand(&b, 1, modes);
            double w = hypot(kappa[j], 0.5 * beat[i]), half = hypot(kappa[j] / sqrt(2), 0.5 * beat[i]);
            double want = kappa[j] / w * fabs(sin(w * 50e-3)), largest = 0;
            for (double share = 0; share <= 1; share += 1e-3) {
                double here = share * kappa[j], there = hypot(here, 0.5 * beat[i]);
                largest = fmax(largest, there > 0 ? here / there * fabs(sin(there * 50e-3)) : 0);
            }
            double first_order = got.strong ? 0.003 : 0.2 * 0.2 / 6;
            assert_close(got.worst, largest, first_order, 1e-4);
            if (w * 50e-3 < 0.5 * WW_PI) {
                assert_close(got.worst, want, first_order, 0);
                assert_close(got.median, kappa[j] / sqrt(2) / half * fabs(sin(half * 50e-3)), 0.01, 0);
            }
            assert_true(got.strong == (kappa[j] > 4));
        }
}

/* Phase-matched: k.u = b, all positions alike, sin(kappa L) with kappa = coupling a/2; what k.u = -b adds is of the order of
 * kappa/2b. */
static void a_phase_matched_harmonic_is_the_closed_form(void **state)
{
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct by_hand b;
        double kappa = (const double[]){0.2, 2, 10, 25}[i], k = 2 * WW_PI / 1e-3;
        struct ww_modes modes = {.beat = k, .coupling = 1e12};
        make_by_hand(&b, 1, (double[2]){2e-12 * kappa, 0}, (int[2]){1}, 50e-3);
        struct ww_converted got = solve_by_hand(&b, 1, modes);
        double want = sin(kappa * 50e-3);
        assert_close(got.worst, want, 0, 0.003 * want + kappa / k);
        assert_close(got.median, want, 0, 0.01 * want + kappa / k);
    }
}

/* To first order plies add as their phases let them: one that converts along a line of the complex plane, one along a circle. */
static void plies_add_where_their_phases_meet(void **state)
{
    (void)state;
    struct by_hand b;
    double k = 2 * WW_PI / 1e-3, length = 50.3e-3;
    struct ww_modes modes = {.beat = k, .coupling = 1e9}; /* weak */
    make_by_hand(&b, 2, (double[2]){2e-12, 400e-12}, (int[2]){1, 0}, length);
    struct ww_converted got = solve_by_hand(&b, 2, modes);
    double line = 400e-12 * fabs(2 / k * sin(0.5 * k * length)), circle = 1e-12 * length;
    assert_false(got.strong);
    assert_close(got.worst, modes.coupling * (line + circle), 0.01, 0);
    assert_true(got.p99 < got.worst && got.median < got.p99);
    /* linear in the cloth */
    modes.coupling *= 1e-3;
    struct ww_converted less = solve_by_hand(&b, 2, modes);
    assert_close(less.worst, 1e-3 * got.worst, 1e-12, 0);
    assert_close(less.p99, 1e-3 * got.p99, 1e-12, 0);
    assert_close(less.median, 1e-3 * got.median, 1e-12, 0);
}

/* At a low frequency the conversion is (omega/2) sqrt(Ze/Zo) times the skew, the worst and all others; and the skew that is
 * received with both modes matched Ze/Zo times the legs' sum. */
static void at_low_frequency_it_follows_the_skew(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    double modes, legs;
    options.above = true;
    board_open(&board, &options);
    const struct ww_line_summary *line = ww_line_summary(board.line);
    struct ww_skew skew = solve(&board, (struct ww_skew_request){.length = LENGTH, .angle = 0.2, .frequency = 1e6});
    double per_skew = WW_PI * 1e6 * sqrt(line->z_even / line->z_odd);
    assert_close(skew.conversion.worst, per_skew * skew.worst, 2e-3, 0);
    assert_close(skew.conversion.p99, per_skew * skew.p99, 0.02, 0);
    assert_close(skew.conversion.median, per_skew * skew.median, 0.03, 0);
    assert_close(skew.conversion.weak, WW_PI * 1e6 * skew.worst, 1e-6, 0);
    ww_skew_received(line, &modes, &legs);
    assert_close(modes, line->z_even / line->z_odd, 1e-12, 0);
    assert_true(legs > 1 && legs < modes);
    ww_skew_clear(&skew);
    board_close(&board);
}

static void uniform_dielectric_converts_nothing(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    options.glass_dk = options.resin_dk;
    board_open(&board, &options);
    struct ww_skew skew =
        solve(&board, (struct ww_skew_request){.length = LENGTH, .turn = 0.02, .frequency = 28e9, .sections = 6});
    assert_close(skew.conversion.frequency, 28e9, 0, 0);
    assert_close(skew.conversion.worst_with_turn, 0, 0, 1e-9);
    ww_skew_clear(&skew);
    board_close(&board);
}

/* The mirror image has the legs exchanged, and converts as much. */
static void the_mirror_image_converts_as_much(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    board_open(&board, &options);
    for (int i = 0; i < 3; i++) {
        double angle = (const double[]){0.004, 0.03, 0.5}[i];
        struct ww_skew_request request = {.length = 100e-3, .angle = angle, .rate = 112e9};
        struct ww_skew one = solve(&board, request);
        request.angle = -angle;
        struct ww_skew other = solve(&board, request);
        assert_close(one.conversion.frequency, 56e9, 0, 0);
        assert_close(other.conversion.worst, one.conversion.worst, 0.005, 0);
        assert_close(other.conversion.median, one.conversion.median, 0.05, 0);
        ww_skew_clear(&one);
        ww_skew_clear(&other);
    }
    board_close(&board);
}

/* With the cloth's turn it is the most of the angles within; the same to the last bit on any number of threads. */
static void the_turn_takes_the_most_of_its_angles(void **state)
{
    (void)state;
    struct board_options options = board_pair();
    struct board board;
    struct ww_skew_request request = {
        .length = 40e-3, .angle = 0.01, .turn = 0.015, .frequency = 28e9, .sections = 6};
    struct ww_error error = {0};
    double most = 0;
    options.above = true;
    board_open(&board, &options);
    ww_threads_set(1);
    struct ww_skew skew = solve(&board, request);
    ww_threads_set(2);
    struct ww_skew again = solve(&board, request);
    ww_threads_set(0);
    assert_memory_equal(&again.conversion, &skew.conversion, sizeof skew.conversion);
    request.correction = skew.correction;
    for (double angle = -0.005; angle <= 0.025 + 1e-9; angle += 2.5e-4) {
        struct ww_placements here;
        assert_ok(ww_placements_solve(&here, board.line, &request, angle, true, &error), error);
        most = fmax(most, here.conversion.worst);
        ww_placements_clear(&here);
    }
    assert_close(skew.conversion.worst_with_turn, most, 0.02, 0);
    assert_true(skew.conversion.worst_with_turn >= skew.conversion.worst);
    ww_skew_clear(&skew);
    ww_skew_clear(&again);
    board_close(&board);
}

/* A path of two segments in line is the straight one; a single trace has no modes to convert. */
static void a_straight_route_is_straight_and_a_single_trace_has_none(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{15e-3, 0}, {25e-3, 0}};
    struct board_options options = board_pair();
    struct board board;
    struct ww_skew_request request = {.length = 40e-3, .angle = 0.005, .frequency = 28e9};
    board_open(&board, &options);
    struct ww_skew straight = solve(&board, request);
    request.route = route;
    request.segments = 2;
    struct ww_skew bent = solve(&board, request);
    assert_true(straight.conversion.strong);
    assert_close(bent.conversion.worst, straight.conversion.worst, 2e-3, 0);
    ww_skew_clear(&straight);
    ww_skew_clear(&bent);
    board_close(&board);
    options = board_plain();
    board_open(&board, &options);
    request.route = NULL;
    request.segments = 0;
    straight = solve(&board, request);
    assert_close(straight.conversion.frequency, 0, 0, 0);
    assert_close(straight.conversion.worst, 0, 0, 0);
    ww_skew_clear(&straight);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_beat_it_is_the_skew),
        cmocka_unit_test(with_a_beat_it_is_the_integral),
        cmocka_unit_test(along_a_route_with_bends_it_is_the_integral),
        cmocka_unit_test(constant_coupling_is_the_closed_form),
        cmocka_unit_test(a_phase_matched_harmonic_is_the_closed_form),
        cmocka_unit_test(plies_add_where_their_phases_meet),
        cmocka_unit_test(at_low_frequency_it_follows_the_skew),
        cmocka_unit_test(uniform_dielectric_converts_nothing),
        cmocka_unit_test(the_mirror_image_converts_as_much),
        cmocka_unit_test(the_turn_takes_the_most_of_its_angles),
        cmocka_unit_test(a_straight_route_is_straight_and_a_single_trace_has_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
