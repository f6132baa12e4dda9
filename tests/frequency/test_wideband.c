/* A line over frequency: closed forms of uniform lines, conservation, and the answers of delay, skew and conversion.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "chance/conversion.h"
#include "frequency/wideband.h"
#include "line/board.h"

#include <math.h>
#include <stdlib.h>

#define LENGTH 20e-3
#define DF 0.004

static struct ww_wideband_request request_of(const struct board *board, double angle, bool lossless)
{
    return (struct ww_wideband_request){.line = board->line,
                                        .skew = {.length = LENGTH, .angle = angle},
                                        .copper = {.conductivity = 5.8e7},
                                        .lossless = lossless};
}

static struct ww_wideband *open(const struct ww_wideband_request *request)
{
    struct ww_wideband *w = NULL;
    struct ww_error error = {0};
    assert_ok(ww_wideband_create(&w, request, &error), error);
    return w;
}

static struct ww_network solve(const struct ww_wideband *w, const double *f, size_t count, bool modes)
{
    static const double start[2][2] = {{110 * UM, 70 * UM}, {40 * UM, 130 * UM}};
    struct ww_network network;
    struct ww_error error = {0};
    if (modes)
        assert_ok(ww_wideband_solve_modes(w, start, f, count, &network, &error), error);
    else
        assert_ok(ww_wideband_solve(w, start, f, count, &network, &error), error);
    return network;
}

/* Give every layer of the board a loss, at a frequency. */
static void spoil(struct board *board, double df, double sheet)
{
    for (size_t i = 0; i < board->stack.count; i++) {
        struct ww_layer *layer = &board->stack.layer[i];
        layer->df = layer->resin.df = layer->style.glass.df = df;
        layer->frequency = layer->resin.frequency = layer->style.glass.frequency = sheet;
    }
}

/* --- uniform lines --------------------------------------------------------------------------------------------------------- */

static void a_uniform_trace_has_the_closed_form(void **state)
{
    const double f[] = {1e9, 7.3e9, 40e9};
    struct board board;
    struct board_options plain = board_plain();
    (void)state;
    plain.below = false;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 0, true);
    struct ww_wideband *w = open(&request);
    struct ww_network network = solve(w, f, 3, false);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    for (size_t i = 0; i < 3; i++) {
        double z = s->z0 / 50, phase = 2 * WW_PI * f[i] * s->delay * LENGTH;
        double _Complex below = 2 * cos(phase) + I * (z + 1 / z) * sin(phase);
        double _Complex s11 = I * (z - 1 / z) * sin(phase) / below, s21 = 2 / below;
        assert_close(cabs(network.s[4 * i] - s11), 0, 0, 1e-9);
        assert_close(cabs(network.s[4 * i + 1] - s21), 0, 0, 1e-9);
        assert_close(cabs(network.s[4 * i + 2] - s21), 0, 0, 1e-9);
        assert_close(cabs(network.s[4 * i + 3] - s11), 0, 0, 1e-9);
    }
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* A uniform pair is two lines, that of each mode: differential ports of 100 ohm on one of 2 Zo, common ports of 25 on one of
 * Ze/2, and nothing between them. */
static void a_uniform_pair_has_the_closed_form_of_each_mode(void **state)
{
    const double f[] = {1e9, 7.3e9, 40e9};
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    pair.below = false;
    pair.pitch = 150 * UM;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 0, true);
    struct ww_wideband *w = open(&request);
    struct ww_network network = solve(w, f, 3, false);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    for (size_t i = 0; i < 3; i++) {
        const struct ww_mixed mixed = ww_network_mixed(&network, i);
        const double z0[] = {s->z_odd / 50, s->z_even / 50}, dk[] = {s->dk_odd, s->dk_even};
        const double _Complex back[] = {mixed.dd11, mixed.cc11}, through[] = {mixed.dd21, mixed.cc21};
        for (int mode = 0; mode < 2; mode++) {
            double z = z0[mode], phase = 2 * WW_PI * f[i] * sqrt(dk[mode]) / WW_C0 * LENGTH;
            double _Complex below = 2 * cos(phase) + I * (z + 1 / z) * sin(phase);
            assert_close(cabs(back[mode] - I * (z - 1 / z) * sin(phase) / below), 0, 0, 1e-9);
            assert_close(cabs(through[mode] - 2 / below), 0, 0, 1e-9);
        }
        assert_true(cabs(mixed.cd11) < 1e-12 && cabs(mixed.cd21) < 1e-12);
    }
    assert_true(s->z_even > 1.1 * s->z_odd);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Attenuation of a dielectric alone is pi f sqrt(Dk) df/c0 and that of copper R/(2 Z0), to first order. */
static void a_uniform_trace_has_the_loss_of_its_materials(void **state)
{
    double f = 10e9;
    struct board board;
    struct board_options plain = board_plain();
    (void)state;
    plain.below = false;
    plain.fineness = 0.5;
    board_open(&board, &plain);
    spoil(&board, DF, f);
    struct ww_wideband_request request = request_of(&board, 0, false);
    struct ww_wideband *w = open(&request);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    struct ww_line_loss loss = ww_wideband_loss(w, f);
    struct ww_constants k;
    ww_wideband_constants(w, f, &k);
    assert_close(loss.dielectric, WW_PI * f * sqrt(plain.resin_dk) * DF / WW_C0, 2e-3, 0);
    assert_close(loss.conductor, k.r[0][0] / (2 * s->z0), 0.02,
                 0); /* of the line that copper's inductance has raised */
    assert_true(loss.roughness == 0);
    assert_close(k.c[0][0], s->c[0][0], 1e-6, 0);
    assert_close(k.g[0][0] / (2 * WW_PI * f * k.c[0][0]), DF, 2e-3, 0);
    /* the copper's reactance is its resistance where the skin is thin: it slows the line */
    double extra = k.l[0][0] * WW_C0 * WW_C0 * s->ca[0][0] - 1;
    assert_close(extra, k.r[0][0] / (2 * WW_PI * f) * WW_C0 * WW_C0 * s->ca[0][0], 0.02, 0);
    assert_true(extra > 0.004 && extra < 0.02);
    ww_wideband_destroy(w);
    board_close(&board);
}

static void rough_copper_loses_more_and_is_slower(void **state)
{
    struct board board;
    struct board_options plain = board_plain();
    (void)state;
    plain.below = false;
    plain.fineness = 0.5;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 0, false);
    struct ww_wideband *smooth = open(&request);
    request.copper.model = WW_FOIL_HURAY;
    request.copper.rz = 3 * UM;
    struct ww_wideband *rough = open(&request);
    struct ww_line_loss a = ww_wideband_loss(smooth, 28e9), b = ww_wideband_loss(rough, 28e9);
    assert_close(b.conductor, a.conductor, 1e-12, 0);
    assert_close((b.conductor + b.roughness) / b.conductor, ww_foil_loss_factor(&request.copper, 28e9), 0.02, 0);
    assert_true(b.delay > a.delay);
    ww_wideband_destroy(smooth);
    ww_wideband_destroy(rough);
    board_close(&board);
}

/* A round wire, of which the solution is known: Z = gamma/(2 pi a sigma) I0(gamma a)/I1(gamma a), gamma^2 = j omega mu0 sigma
 * (S. Ramo, J. Whinnery, T. Van Duzer, Fields and Waves in Communication Electronics; from memory). */
static double _Complex round_wire(double a, double f, double sigma)
{
    double _Complex gamma = csqrt(2 * WW_PI * f * WW_MU0 * sigma * I), x = 0.5 * gamma * a, i0 = 0, i1 = 0, term = 1;
    for (int k = 0; k < 120; k++) {
        i0 += term;
        i1 += term * x / (k + 1);
        term *= x * x / ((k + 1.0) * (k + 1.0));
    }
    return gamma / (2 * WW_PI * a * sigma) * i0 / i1;
}

static void the_blend_is_that_of_a_round_wire(void **state)
{
    double a = 20 * UM, sigma = 5.8e7, dc = 1 / (sigma * WW_PI * a * a);
    struct ww_foil foil = {.conductivity = sigma};
    (void)state;
    for (double f = 1e3; f < 2e9; f *= 1.5) {
        const struct ww_spread round = {.trace = 1 / (2 * WW_PI * a)};
        double _Complex ours = ww_conductor_impedance(&round, dc, ww_foil_impedance(&foil, f));
        double _Complex exact = round_wire(a, f, sigma);
        assert_close(creal(ours), creal(exact), 0.065, 0);
        assert_close(cimag(ours), cimag(exact), 0.104, 0);
        if (f < 1e5) { /* its internal inductance is mu0/8 pi */
            assert_close(creal(ours), creal(exact), 1e-4, 0);
            assert_close(cimag(ours) / (2 * WW_PI * f), WW_MU0 / (8 * WW_PI), 1e-4, 0);
        }
    }
}

/* Above the range of its formula the dispersion of bare microstrip stays what it was at the end of the range: no jump. */
static void dispersion_does_not_jump_at_the_end_of_its_range(void **state)
{
    struct ww_layer layer[4] = {{.kind = WW_LAYER_AIR},
                                {.kind = WW_LAYER_TRACE},
                                {.kind = WW_LAYER_SOLID, .thickness = 500 * UM, .dk = 3.5},
                                {.kind = WW_LAYER_PLANE}};
    struct board board = {.stack = {.count = 4}};
    const struct ww_trace trace = {.width = 1e-3, .thickness = 20 * UM};
    const struct ww_line_options options = {.fineness = 0.35};
    struct ww_error error = {0};
    (void)state;
    board.stack.layer = layer;
    assert_ok(ww_stack_build(&board.stack, NULL, &error), error);
    assert_ok(ww_line_create(&board.line, &board.stack, &trace, &options, &error), error);
    double top = ww_line_limits(board.line).dispersion;
    assert_close(top, 38.97e12 / 500, 1e-3, 0); /* 38.97 GHz mm */
    struct ww_wideband_request request = request_of(&board, 0, true);
    struct ww_wideband *w = open(&request);
    struct ww_constants still, below, above, far;
    ww_wideband_constants(w, 1e9, &still);
    ww_wideband_constants(w, 0.999 * top, &below);
    ww_wideband_constants(w, 1.001 * top, &above);
    ww_wideband_constants(w, 3 * top, &far);
    assert_true(below.c[0][0] > 1.02 * still.c[0][0]);
    assert_close(above.c[0][0], below.c[0][0], 1e-3, 0);
    assert_close(far.c[0][0], above.c[0][0], 1e-12, 0);
    ww_wideband_destroy(w);
    ww_line_destroy(board.line);
    ww_stack_clear(&board.stack);
}

/* --- over cloth ------------------------------------------------------------------------------------------------------------ */

/* Both modes of the mean line are those of the background, but for what the cloth does in second order. */
static void a_pair_has_the_dk_of_its_modes(void **state)
{
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    pair.pitch = 150 * UM;
    board_open(&board, &pair);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    struct ww_wideband_request request = request_of(&board, 0, true);
    struct ww_wideband *w = open(&request);
    assert_close(w->mean[WW_ODD_MODE], s->dk_odd, 5e-3, 0);
    assert_close(w->mean[WW_EVEN_MODE], s->dk_even, 5e-3, 0);
    assert_close(pow(WW_C0 * ww_scan_mean_delay(w->even, WW_LEG1, 1), 2), s->dk_even, 5e-3, 0);
    assert_true(s->dk_even / s->dk_odd > 1.015);
    ww_wideband_destroy(w);
    board_close(&board);
}

static void without_loss_nothing_is_lost(void **state)
{
    const double f[] = {1e9, 13e9, 28e9, 67e9};
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    pair.above = true;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 3 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    struct ww_network network = solve(w, f, 4, false);
    for (size_t i = 0; i < 4; i++)
        for (size_t a = 0; a < 4; a++)
            for (size_t b = 0; b < 4; b++) {
                const double _Complex *s = network.s + 16 * i;
                double _Complex sum = 0;
                for (size_t k = 0; k < 4; k++)
                    sum += s[4 * k + a] * conj(s[4 * k + b]);
                assert_close(cabs(sum - (a == b)), 0, 0, 1e-10);
                assert_close(cabs(s[4 * a + b] - s[4 * b + a]), 0, 0, 1e-12);
            }
    assert_true(cabs(network.s[8]) > 0.5); /* port 1 to port 3 is through */
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Largest eigenvalue of S^H S by its power method. */
static double most_gain(const double _Complex *s, size_t n)
{
    double _Complex x[4] = {1, 0.7 + 0.2 * I, -0.4, 0.9 * I}, y[4], z[4];
    double size = 0;
    for (int round = 0; round < 200; round++) {
        for (size_t i = 0; i < n; i++) {
            y[i] = 0;
            for (size_t k = 0; k < n; k++)
                y[i] += s[n * i + k] * x[k];
        }
        size = 0;
        for (size_t i = 0; i < n; i++) {
            z[i] = 0;
            for (size_t k = 0; k < n; k++)
                z[i] += conj(s[n * k + i]) * y[k];
            size += creal(z[i] * conj(z[i]));
        }
        size = sqrt(size);
        for (size_t i = 0; i < n; i++)
            x[i] = z[i] / size;
    }
    return sqrt(size);
}

static void loss_makes_it_passive(void **state)
{
    double f[20];
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    for (size_t i = 0; i < 20; i++)
        f[i] = 1e6 * pow(1.8, (double)i);
    pair.fineness = 0.5;
    board_open(&board, &pair);
    spoil(&board, DF, 10e9);
    board.stack.layer[1].resin.df = 0.02;
    struct ww_wideband_request request = request_of(&board, 5 * DEGREES, false);
    request.copper.model = WW_FOIL_GROISS;
    request.copper.rz = 2 * UM;
    struct ww_wideband *w = open(&request);
    struct ww_network network = solve(w, f, 20, false);
    for (size_t i = 0; i < 20; i++)
        assert_true(most_gain(network.s + 16 * i, 4) <= 1);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* At low frequency the phase slope is the delay of the scan; of the quasi-static mean of C, which differs by 1e-3. */
static void the_phase_slope_is_the_delay(void **state)
{
    static const double start[1][2] = {{0, 70 * UM}};
    const double f[] = {100e6, 101e6};
    struct board board;
    struct board_options plain = board_plain();
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 0, true);
    struct ww_wideband *w = open(&request);
    struct ww_network network;
    assert_ok(ww_wideband_solve_modes(w, start, f, 2, &network, &error), error);
    double slope = -carg(network.s[4 + 2] / network.s[2]) / (2 * WW_PI * (f[1] - f[0]));
    double deviation = 0;
    assert_ok(ww_scan_value(w->odd, 0, WW_LEG1, WW_MEAN, LENGTH, start[0][0], start[0][1], &deviation, &error),
              error);
    double delay = ww_scan_mean_delay(w->odd, WW_LEG1, LENGTH) + deviation;
    assert_true(fabs(deviation) > 1e-3 * delay); /* the place matters */
    assert_close(slope, delay, 1e-3, 0);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Along a route with bends, too: each segment in its own direction over the cloth. */
static void the_phase_slope_along_a_route_is_the_delay(void **state)
{
    static const struct ww_route_segment route[] = {{8e-3, 0}, {7e-3, 20 * DEGREES}, {5e-3, -10 * DEGREES}};
    static const double start[1][2] = {{0, 70 * UM}};
    const double f[] = {100e6, 101e6};
    struct board board;
    struct board_options plain = board_plain();
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 0, true);
    request.skew.route = route;
    request.skew.segments = 3;
    struct ww_wideband *w = open(&request);
    struct ww_network network;
    assert_ok(ww_wideband_solve_modes(w, start, f, 2, &network, &error), error);
    double slope = -carg(network.s[4 + 2] / network.s[2]) / (2 * WW_PI * (f[1] - f[0])), deviation = 0;
    assert_ok(ww_scan_value(w->odd, 0, WW_LEG1, WW_MEAN, LENGTH, start[0][0], start[0][1], &deviation, &error),
              error);
    double delay = ww_scan_mean_delay(w->odd, WW_LEG1, LENGTH) + deviation;
    assert_true(fabs(deviation) > 1e-3 * delay);
    assert_close(slope, delay, 6e-4, 0);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Of a pair, the outer leg of a bend has its excess length: at low frequency it converts as the skew and that excess do. */
static void a_bend_makes_the_outer_leg_longer(void **state)
{
    static const struct ww_route_segment route[] = {{10e-3, 0}, {10e-3, 45 * DEGREES}};
    const double f[] = {50e6};
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    pair.below = false;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 0, true);
    request.skew.route = route;
    request.skew.segments = 2;
    for (int counts = 0; counts < 2; counts++) {
        request.skew.scan.bends = counts;
        struct ww_wideband *w = open(&request);
        struct ww_network network = solve(w, f, 1, true);
        const struct ww_line_summary *s = ww_line_summary(board.line);
        double excess = ww_scan_mismatch(w->odd), converted = cabs(network.s[2 * 4 + 1]);
        double both = 0.5 * (sqrt(s->z_even / s->z_odd) + sqrt(s->z_odd / s->z_even));
        assert_true(excess > 0.5e-12);
        assert_close(converted, counts ? WW_PI * f[0] * excess * both : 0, 1e-3, 1e-12);
        ww_network_clear(&network);
        ww_wideband_destroy(w);
    }
    board_close(&board);
}

/* Along a route whose bends count, the coupled-mode equations of `skew` convert what the telegrapher's equations do: through segments
 * that meet the cloth under their own angles, the modes parting all along, from weak coupling to strong. */
static void conversion_along_a_route_with_bends_is_that_of_the_cascade(void **state)
{
    static const struct ww_route_segment route[] = {
        {6e-3, 0.4 * DEGREES}, {5e-3, 21 * DEGREES}, {4e-3, -9 * DEGREES}, {5e-3, 2 * DEGREES}};
    static const double start[1][2] = {{110 * UM, 70 * UM}};
    const double f[] = {5e9, 14e9, 28e9, 45e9};
    struct board board;
    struct board_options pair = board_pair();
    struct ww_error error = {0};
    (void)state;
    pair.pitch = 150 * UM; /* tight */
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 0, true);
    request.skew.route = route;
    request.skew.segments = 4;
    for (int counts = 0; counts < 2; counts++) {
        request.skew.scan.bends = counts;
        struct ww_wideband *w = open(&request);
        struct ww_network network;
        struct ww_converter *converter = NULL;
        assert_ok(ww_wideband_solve_modes(w, start, f, 4, &network, &error), error);
        assert_ok(ww_converter_create(&converter, 1, 4, &error), error);
        ww_beat_segments(ww_converter_segments(converter), w->odd, 0, WW_MEAN, LENGTH);
        for (size_t i = 0; i < 4; i++) {
            struct ww_skew_request skewed = request.skew;
            double amplitude = 0;
            skewed.frequency = f[i];
            struct ww_modes modes = ww_modes_of(board.line, &skewed, 0);
            assert_ok(ww_converter_at(converter, &modes, start, 800, &amplitude, &error), error);
            assert_close(amplitude, cabs(network.s[16 * i + 2 * 4 + 1]), 0.02, 2e-4);
        }
        ww_converter_destroy(converter);
        ww_network_clear(&network);
        ww_wideband_destroy(w);
    }
    board_close(&board);
}

/* A pair whose modes are matched converts (omega/2) sqrt(Ze/Zo) times the skew at low frequency, and what the coupled-mode
 * equations of `skew` say at a high one. */
static void conversion_is_that_of_the_skew(void **state)
{
    static const double start[1][2] = {{110 * UM, 70 * UM}};
    const double f[] = {50e6, 28e9}, angle = 0.4 * DEGREES;
    struct board board;
    struct board_options pair = board_pair();
    struct ww_error error = {0};
    (void)state;
    pair.pitch = 150 * UM; /* tight */
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, angle, true);
    struct ww_wideband *w = open(&request);
    struct ww_network network;
    assert_ok(ww_wideband_solve_modes(w, start, f, 2, &network, &error), error);
    double skew = 0;
    assert_ok(ww_scan_value(w->odd, 0, WW_SKEW, WW_MEAN, LENGTH, start[0][0], start[0][1], &skew, &error), error);
    const struct ww_line_summary *s = ww_line_summary(board.line);
    double low = WW_PI * f[0] * sqrt(s->z_even / s->z_odd) * fabs(skew);
    assert_close(cabs(network.s[2 * 4 + 1]), low, 5e-3, 0);

    struct ww_skew_request skewed = request.skew;
    skewed.frequency = f[1];
    struct ww_modes modes = ww_modes_of(board.line, &skewed, angle);
    struct ww_converter *converter = NULL;
    double amplitude = 0;
    assert_ok(ww_converter_create(&converter, 1, 1, &error), error);
    ww_beat_segments(ww_converter_segments(converter), w->odd, 0, WW_MEAN, LENGTH);
    assert_ok(ww_converter_at(converter, &modes, start, 400, &amplitude, &error), error);
    assert_close(20 * log10(cabs(network.s[16 + 2 * 4 + 1]) / amplitude), 0, 0, 0.25);
    ww_converter_destroy(converter);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* A far higher second frequency cuts the sections four times shorter. */
static void shorter_sections_change_nothing(void **state)
{
    const double alone[] = {40e9}, finer[] = {40e9, 800e9};
    struct board board;
    struct board_options pair = board_pair();
    (void)state;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 10 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    struct ww_network a = solve(w, alone, 1, true), b = solve(w, finer, 2, true);
    for (size_t i = 0; i < 16; i++)
        assert_close(cabs(a.s[i] - b.s[i]), 0, 0, 1e-4);
    ww_network_clear(&a);
    ww_network_clear(&b);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* The length of a section goes with the wavelength of the last frequency: halved and quartered, what changes at 40 GHz falls by 4. */
static void the_cascade_is_second_order_in_the_length_of_its_sections(void **state)
{
    const double last[] = {250e9, 500e9, 1000e9};
    struct board board;
    struct board_options pair = board_pair();
    double _Complex s[3][16];
    (void)state;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 10 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    for (size_t i = 0; i < 3; i++) {
        const double f[] = {40e9, last[i]};
        struct ww_network network = solve(w, f, 2, true);
        memcpy(s[i], network.s, sizeof s[i]);
        ww_network_clear(&network);
    }
    double first = 0, second = 0;
    for (size_t k = 0; k < 16; k++) {
        first += pow(cabs(s[1][k] - s[0][k]), 2);
        second += pow(cabs(s[2][k] - s[1][k]), 2);
    }
    assert_close(sqrt(first / second), 4, 0.1, 0);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* Of legs far apart the phases of S31 and S42 part by the skew, as the frequency rises: 0.5 %. Of legs that couple, whose modes have
 * velocities and impedances of their own, by sqrt(Ze/Zo) times it where both modes are matched. */
static void the_phase_slopes_of_the_legs_part_by_the_skew(void **state)
{
    static const double start[1][2] = {{110 * UM, 70 * UM}};
    const double f[] = {50e6, 100e6};
    (void)state;
    for (int tight = 0; tight < 2; tight++) {
        struct board board;
        struct board_options pair = board_pair();
        struct ww_error error = {0};
        struct ww_network network;
        double between[2], skew = 0;
        pair.pitch = tight ? 150 * UM : 950 * UM; /* far: not a whole number of yarns, of which there is 423 um */
        board_open(&board, &pair);
        struct ww_wideband_request request = request_of(&board, 0.4 * DEGREES, true);
        struct ww_wideband *w = open(&request);
        assert_ok(ww_wideband_solve_modes(w, start, f, 2, &network, &error), error);
        for (size_t i = 0; i < 2; i++) {
            const double _Complex *s = network.s + 16 * i + 8; /* far even, far odd */
            double _Complex own = s[0] + s[5], across = s[1] + s[4];
            between[i] = carg((own - across) / (own + across)); /* S42 over S31 */
        }
        assert_ok(ww_scan_value(w->odd, 0, WW_SKEW, WW_MEAN, LENGTH, start[0][0], start[0][1], &skew, &error), error);
        const struct ww_line_summary *s = ww_line_summary(board.line);
        double slope = (between[1] - between[0]) / (2 * WW_PI * (f[1] - f[0]));
        assert_true(fabs(skew) > 0.3e-12);
        assert_close(slope, skew * sqrt(s->z_even / s->z_odd), 5e-3, 0);
        assert_true(tight ? s->z_even > 1.1 * s->z_odd : s->z_even < 1.002 * s->z_odd);
        ww_network_clear(&network);
        ww_wideband_destroy(w);
        board_close(&board);
    }
}

/* Where the cloth's period is half a wavelength: as high as coupled-mode theory has it, and where. */
static void the_notch_is_where_the_period_is_half_a_wavelength(void **state)
{
    enum { POINTS = 161 };
    double f[POINTS];
    struct board board;
    struct board_options plain = board_plain();
    struct ww_notch notch[4];
    (void)state;
    plain.above = true;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 10 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    assert_true(ww_wideband_notches(w, 60e9, notch, 4) >= 1);
    assert_close(notch[0].frequency, WW_C0 / (2 * notch[0].period * sqrt(w->mean[WW_ODD_MODE])), 1e-12, 0);
    for (size_t i = 0; i < POINTS; i++)
        f[i] = notch[0].frequency * (0.96 + 0.08 * (double)i / (POINTS - 1));
    /* one ply alone: the other lies where its own part is small or adds; at most the sum of both */
    struct ww_network network = solve(w, f, POINTS, true);
    size_t most = 0;
    for (size_t i = 1; i < POINTS; i++)
        if (cabs(network.s[4 * i]) > cabs(network.s[4 * most]))
            most = i;
    assert_true(most > 8 && most < POINTS - 8);
    assert_close(f[most], notch[0].frequency, 5e-3, 0);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

static void the_notch_is_as_deep_as_coupled_modes_have_it(void **state)
{
    enum { POINTS = 401 };
    double f[POINTS];
    struct board board;
    struct board_options plain = board_plain();
    struct ww_notch notch[4];
    (void)state;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 10 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    assert_true(ww_wideband_notches(w, 60e9, notch, 4) >= 1);
    for (size_t i = 0; i < POINTS; i++)
        f[i] = notch[0].frequency * (0.97 + 0.06 * (double)i / (POINTS - 1));
    struct ww_network network = solve(w, f, POINTS, true);
    double most = 0;
    for (size_t i = 0; i < POINTS; i++)
        most = fmax(most, cabs(network.s[4 * i]));
    assert_true(most > 0.02);
    assert_close(most, notch[0].reflection, 0.05, 0);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* A modulation by one sinusoid, C = C0 (1 + m cos(2 pi s/P)), of which the coupled modes are known: with kappa = pi m/(4 P), d =
 * beta - pi/P and q^2 = kappa^2 - d^2, |S11| = kappa sinh(q L)/hypot(kappa sinh(q L) ..): at the Bragg frequency c0/(2 P sqrt(Dk))
 * tanh(kappa L) (A. Yariv, IEEE J. Quantum Electron. 9, 919, 1973). The cascade has slowness, whose square is C: with 1 + (m/2) cos
 * of it C0 is m^2/8 up. */
static void a_sinusoidal_modulation_reflects_as_coupled_modes_have_it(void **state)
{
    static const double ms[] = {0.02, 0.05}, off[] = {0, 0.5, 1.5, -0.5, -1.5}; /* d over kappa */
    struct board board;
    struct board_options plain = board_plain();
    (void)state;
    board_open(&board, &plain);
    struct ww_wideband_request request = request_of(&board, 90 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    struct ww_ply_scan *ply = &w->odd->ply[0];
    double _Complex *c = ply->coefficient[0][WW_MEAN];
    double slowness = sqrt(3.6) / WW_C0, period = 0;
    for (size_t k = 0; k < 2; k++) {
        double m = ms[k];
        for (size_t h = 0; h < ply->harmonics; h++) {
            bool one = ply->order[h].m == 2 && ply->order[h].l == 0;
            period = one ? 0.5 * ply->lx : period;
            c[h] = h == 0 ? slowness : one ? 0.25 * m * slowness : 0;
        }
        assert_close(period, 25.4e-3 / 60, 1e-9, 0);
        w->odd->level[0][WW_MEAN] = slowness;
        double up = 1 + m * m / 8, kappa = WW_PI * m / (4 * period * up);
        w->mean[WW_ODD_MODE] = w->mean[WW_EVEN_MODE] = 3.6 * up;
        for (size_t i = 0; i < 3; i++) {
            double d = off[i] * kappa, middle = WW_PI / period, both = 0;
            for (int side = -1; side <= 1; side += 2) { /* kappa grows with frequency: the mean of both sides */
                double f = (middle + side * d) / (2 * WW_PI * slowness * sqrt(up));
                struct ww_network network = solve(w, &f, 1, true);
                both += 0.5 * cabs(network.s[0]);
                ww_network_clear(&network);
            }
            double _Complex q = csqrt(kappa * kappa - d * d), s = csinh(q * LENGTH) / q;
            assert_close(both, cabs(kappa * s / (ccosh(q * LENGTH) + I * d * s)), 0.01, 0);
            if (off[i] == 0)
                assert_close(both, tanh(kappa * LENGTH), 4e-3, 0);
        }
    }
    ww_wideband_destroy(w);
    board_close(&board);
}

/* A pair whose legs meet the turned cloth in turns sends its odd mode back as even mode: where, how much of it, and what is left
 * of what passes. */
static void a_turned_pair_reflects_into_its_even_mode(void **state)
{
    enum { POINTS = 241 };
    double f[POINTS], most = 0, least = 1;
    size_t at = 0;
    struct board board;
    struct board_options pair = board_pair();
    struct ww_notch notch[4];
    (void)state;
    board_open(&board, &pair);
    struct ww_wideband_request request = request_of(&board, 10 * DEGREES, true);
    struct ww_wideband *w = open(&request);
    size_t count = ww_wideband_notches(w, 60e9, notch, 4);
    assert_true(count >= 1);
    assert_true(notch[0].even && notch[0].reflection > 0.1);
    for (size_t i = 0; i < POINTS; i++)
        f[i] = notch[0].frequency * (0.97 + 0.06 * (double)i / (POINTS - 1));
    struct ww_network network = solve(w, f, POINTS, true);
    for (size_t i = 0; i < POINTS; i++) {
        const double _Complex *s = network.s + 16 * i;
        at = cabs(s[1]) > most ? i : at;
        most = fmax(most, cabs(s[1]));
        least = fmin(least, cabs(s[3 * 4 + 1]));
    }
    assert_close(f[at], notch[0].frequency, 5e-3, 0);
    assert_close(most, notch[0].reflection, 0.05, 0);
    assert_close(-20 * log10(least), notch[0].depth, 0.1, 0);
    for (size_t i = 1; i < count; i++) /* what comes back as odd mode is far less */
        assert_true(notch[i].even || notch[i].reflection < 0.3 * notch[0].reflection);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

/* --- what is refused, and drawn ------------------------------------------------------------------------------------------------ */

static void slips_are_refused(void **state)
{
    static const double start[1][2] = {{0, 0}};
    const double too_low[] = {1e3}, falling[] = {2e9, 1e9};
    double f[11];
    struct board board;
    struct board_options plain = board_plain();
    struct ww_wideband *w = NULL;
    struct ww_network network;
    struct ww_error error = {0};
    (void)state;
    board_open(&board, &plain);
    spoil(&board, DF, 0);
    struct ww_wideband_request request = request_of(&board, 0, false);
    assert_int_equal(ww_wideband_create(&w, &request, &error), WW_INVALID);
    assert_null(w);
    assert_contains(error.text, "frequency");
    spoil(&board, 0, 0);
    w = open(&request);
    assert_int_equal(ww_wideband_solve(w, start, too_low, 1, &network, &error), WW_INVALID);
    assert_int_equal(ww_wideband_solve(w, start, falling, 2, &network, &error), WW_INVALID);
    assert_null(network.s);
    assert_int_equal(ww_frequency_steps(1e9, 100e9, 11, 3e-10, f, &error), WW_INVALID);
    assert_contains(error.text, "at least 61 points");
    assert_int_equal(ww_frequency_steps(1e9, 100e9, 1000001, 3e-10, f, &error), WW_INVALID);
    assert_int_equal(ww_frequency_steps(1e9, 2e13, 11, 3e-10, f, &error), WW_INVALID);
    assert_ok(ww_frequency_steps(1e9, 11e9, 11, 3e-10, f, &error), error);
    assert_close(f[4], 5e9, 1e-15, 0);
    ww_wideband_destroy(w);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_uniform_trace_has_the_closed_form),
        cmocka_unit_test(a_uniform_pair_has_the_closed_form_of_each_mode),
        cmocka_unit_test(a_uniform_trace_has_the_loss_of_its_materials),
        cmocka_unit_test(rough_copper_loses_more_and_is_slower),
        cmocka_unit_test(the_blend_is_that_of_a_round_wire),
        cmocka_unit_test(dispersion_does_not_jump_at_the_end_of_its_range),
        cmocka_unit_test(a_pair_has_the_dk_of_its_modes),
        cmocka_unit_test(without_loss_nothing_is_lost),
        cmocka_unit_test(loss_makes_it_passive),
        cmocka_unit_test(the_phase_slope_is_the_delay),
        cmocka_unit_test(the_phase_slope_along_a_route_is_the_delay),
        cmocka_unit_test(a_bend_makes_the_outer_leg_longer),
        cmocka_unit_test(conversion_is_that_of_the_skew),
        cmocka_unit_test(conversion_along_a_route_with_bends_is_that_of_the_cascade),
        cmocka_unit_test(shorter_sections_change_nothing),
        cmocka_unit_test(the_cascade_is_second_order_in_the_length_of_its_sections),
        cmocka_unit_test(the_phase_slopes_of_the_legs_part_by_the_skew),
        cmocka_unit_test(the_notch_is_where_the_period_is_half_a_wavelength),
        cmocka_unit_test(the_notch_is_as_deep_as_coupled_modes_have_it),
        cmocka_unit_test(a_sinusoidal_modulation_reflects_as_coupled_modes_have_it),
        cmocka_unit_test(a_turned_pair_reflects_into_its_even_mode),
        cmocka_unit_test(slips_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
