/* What makes two circuits differ: what cancels between which circuits, and sums in closed form against draws.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "budgeted.h"
#include "budget/draw.h"

#define DEGREES (WW_PI / 180)

/* Two independent ways to the same distribution: refined nodes with FFT maps at the study's resolution in chance, even turns here. */
static void the_weave_is_that_of_the_skew_command(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, CLOTH SINGLE "[tolerance]\nbetween = board\n", 0);
    assert_close(b.budget.cause[WW_CAUSE_WEAVE].differ[WW_OBSERVED_DELAY], b.solution.skew.tolerant_p99, 0.01, 0);
    assert_close(b.budget.judged, b.solution.skew.tolerant_p99, 0.01, 0);
    assert_close(b.budget.cause[WW_CAUSE_WEAVE].share, 1, 1e-12, 0);
    assert_close(b.budget.cause[WW_CAUSE_WEAVE].halved, 0.5 * b.budget.judged, 0.01, 0);
    close_budget(&b);
}

/* What is shared cancels: causes of a wider scope add nothing within a board, and more with every level. (Not to 99 of 100: two
 * circuits of one board have the same turn, and where that is bad for the weave it is bad for both.) */
static void what_is_shared_cancels(void **state)
{
    struct budgeted plain, ten;
    (void)state;
    open_budget(&plain, CLOTH SINGLE "[tolerance]\ntrace.width = 10 um uniform board\n", 0);
    open_budget(&ten, CLOTH SINGLE TEN, 0);
    const struct ww_budget_level *level = ten.budget.level;
    assert_close(level[WW_BOARD].p99, plain.budget.level[WW_BOARD].p99, 1e-9, 0);
    assert_true(level[WW_BOARDS].deviation > level[WW_BOARD].deviation);
    assert_true(level[WW_LIFE].deviation > level[WW_BOARDS].deviation);
    assert_true(level[WW_LIFE].worst > level[WW_BOARDS].worst && level[WW_BOARDS].worst > level[WW_BOARD].worst);
    for (int i = 0; i < 3; i++) {
        assert_true(level[i].p99 <= level[i].root_squares && level[i].root_squares <= level[i].worst);
        assert_true(level[i].p99 > 0);
    }
    /* two circuits of one board have one temperature: it takes nothing away there, and all of its own over life */
    assert_close(plain.budget.beside_temperature, plain.budget.judged, 1e-12, 0);
    assert_true(ten.budget.beside_temperature < level[WW_LIFE].p99 &&
                ten.budget.beside_temperature > 0.5 * level[WW_LIFE].p99);
    close_budget(&plain);
    close_budget(&ten);
}

/* 100000 draws from a fixed seed: four standard errors of the quantile, and a bin. */
static void sums_in_closed_form_are_those_of_draws(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, CLOTH SINGLE TEN, 0);
    for (int i = 0; i < 3; i++) {
        const struct ww_budget_level *level = &b.budget.level[i];
        assert_true(level->drawn_error > 0 && level->drawn_error < 0.02 * level->p99);
        assert_close(level->drawn, level->p99, 0, 4 * level->drawn_error + level->distribution.step);
    }
    close_budget(&b);
}

/* Pointing of a uniform array: the place of the greatest field of many arrays with drawn phases, found by search. */
static double drawn_pointing(size_t n, double rms)
{
    enum { ARRAYS = 2000 };
    struct ww_random random = {.state = 7};
    double sum = 0, phase[16];
    for (int k = 0; k < ARRAYS; k++) {
        for (size_t i = 0; i < n; i++) /* uniform of that deviation */
            phase[i] = rms * sqrt(12.0) * (ww_random_share(&random) - 0.5);
        double at = 0, step = 0.1;
        for (int half = 0; half < 30; half++) {
            double best = -1, best_at = at;
            for (int side = -1; side <= 1; side++) {
                double re = 0, im = 0, u = at + side * step;
                for (size_t i = 0; i < n; i++) {
                    re += cos(phase[i] - WW_PI * (double)i * u);
                    im += sin(phase[i] - WW_PI * (double)i * u);
                }
                if (re * re + im * im > best) {
                    best = re * re + im * im;
                    best_at = u;
                }
            }
            step *= best_at == at ? 0.5 : 1;
            at = best_at;
        }
        sum += at * at / ARRAYS;
    }
    return sqrt(sum);
}

/* On the axis, power of many arrays with drawn phases over that without errors: of N elements the mean is e + (1 - e)/N, where e is
 * what is left of the coherent part. J. Ruze, Proc. IEEE 54, 633, 1966 has e = exp(-rms^2) for normal phases. */
static double drawn_power(size_t n, double rms)
{
    enum { ARRAYS = 20000 };
    struct ww_random random = {.state = 8};
    double sum = 0;
    for (int k = 0; k < ARRAYS; k++) {
        double re = 0, im = 0;
        for (size_t i = 0; i < n; i++) {
            double radius = sqrt(-2 * log(1 - ww_random_share(&random)));
            double phase = rms * radius * cos(2 * WW_PI * ww_random_share(&random));
            re += cos(phase);
            im += sin(phase);
        }
        sum += (re * re + im * im) / ((double)(n * n) * ARRAYS);
    }
    return sum;
}

/* Closed formula: the slope of a line fitted to independent phases (least squares), which for many elements is that of
 * R. J. Mailloux, Phased Array Antenna Handbook (from memory). */
static void an_array_points_as_drawn_ones_do(void **state)
{
    (void)state;
    const double rms = 3 * DEGREES;
    struct ww_array array = ww_array_errors(8, rms);
    assert_close(array.pointing, sqrt(12.0 / (8 * 63)) * rms / WW_PI, 1e-12, 0);
    assert_close(array.pointing, drawn_pointing(8, rms), 4 / sqrt(2.0 * 2000),
                 0); /* sampling error of a deviation, fourfold */
    for (double s = 10 * DEGREES; s < 50 * DEGREES; s *= 2) {
        double left = ww_array_errors(16, s).gain_loss;
        assert_close(left + (1 - left) / 16, drawn_power(16, s), 0.002, 0); /* of 20000, fourfold */
    }
}

static void what_is_not_given_says_so(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, CLOTH SINGLE "[tolerance]\ntemperature = 0 degC to 85 degC\n", 0);
    assert_contains(b.budget.cause[WW_CAUSE_TEMPERATURE].why, "needs resin.tcdk");
    assert_contains(b.budget.cause[WW_CAUSE_MOISTURE].why, "tolerance.moisture is not given");
    assert_true(b.budget.cause[WW_CAUSE_FOIL].why[0] != '\0' && !b.budget.cause[WW_CAUSE_FOIL].given);
    close_budget(&b);
}

/* One ply, on a coarse grid; then the rest of the trace. */
#define ONE_PLY                                                                                                      \
    "[study]\npositions = 32\nfineness = 0.25\nsections = 0\n[stackup]\nresin = low\nlayer = plane\nlayer = resin "  \
    "100 "                                                                                                           \
    "um\nlayer = trace\nlayer = ply 1080 100 um\nlayer = plane\n[fabric]\nturn = 0.2 deg\n[resin low]\ndk = "        \
    "3.1\ndf = "                                                                                                     \
    "0.003\n[signal]\nfrequency = 28 GHz\nbudget = 1 ps\n[tolerance]\nthickness = 8 %\n[trace]\nwidth = 100 "        \
    "um\nthickness = 15 "                                                                                            \
    "um\nlength = "                                                                                                  \
    "20 mm\n"

#define ARMS                                                                                                         \
    "[study]\npositions = 32\nfineness = 0.25\nsections = 0\n[stackup]\nresin = low\nlayer = air\nlayer = "          \
    "trace\nlayer = ply 1080 100 um\nlayer = plane\n[fabric]\nturn = 0.5 deg\n[resin low]\ndk = 3.1\ndf = 0.003\n"   \
    "[trace]\nwidth = 150 um\nthickness = 15 um\n[signal]\nfrequency = 28 GHz\nelements = 3\n[tolerance]\n"          \
    "between = board\n[route]\nsegment = 6 mm 2 deg\n[route b]\nfrom = 0.15 mm, 0 mm\nsegment = 6 mm 2 deg\n"        \
    "[route c]\nfrom = 1 mm, 0.3 mm\nsegment = 6 mm -2 deg\n"

/* Half the mean of (V_i - V_j)^2 over all i < j is the variance of the arms' sample, n/(n - 1) times the square of their rms, which
 * chance/arms.c has from placements of all arms at once. Here from the maps of their differences. */
static void arms_of_a_set_lie_on_one_cloth(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, ARMS, 0);
    const struct ww_arms *arms = &b.solution.arms;
    double variance = arms->rms * arms->rms * 3 / 2, deviation = b.budget.level[WW_BOARD].deviation;
    assert_int_equal(b.budget.arms, 3);
    assert_close(deviation, sqrt(2 * variance), 0.01, 0);
    assert_close(b.budget.array.rms, ww_budget_phase(28e9, sqrt(variance)), 0.01, 0);
    /* arms at places of their own differ otherwise, as those of two boards do */
    assert_true(fabs(b.budget.level[WW_BOARDS].deviation / deviation - 1) > 0.05);
    close_budget(&b);
}

/* With one loss tangent everywhere, loss is omega df/2 times the delay: as Dk scales, the slowness goes as its root, exactly. */
static void loss_of_one_tangent_spreads_as_delay(void **state)
{
    struct budgeted b;
    (void)state;
    open_budget(&b, ONE_PLY "[glass E]\ndk = 6.35\ndf = 0.003\ndensity = 2.58 g/cm3\n", 0);
    const struct ww_cause *weave = &b.budget.cause[WW_CAUSE_WEAVE];
    double per_delay = 20 / log(10) * 2 * WW_PI * 28e9 * 0.5 * 0.003 / b.budget.length;
    for (int end = 0; end < 3; end += 2)
        assert_close(weave->at[end][WW_OBSERVED_LOSS], per_delay * weave->at[end][WW_OBSERVED_DELAY], 2e-3, 0);
    assert_close(weave->differ[WW_OBSERVED_LOSS], per_delay * weave->differ[WW_OBSERVED_DELAY], 2e-3, 0);
    /* no other cause but the thickness, which keeps its loss in one material of one tangent */
    assert_true(b.budget.level[WW_BOARD].differ[WW_OBSERVED_LOSS] > 0.9 * weave->differ[WW_OBSERVED_LOSS]);
    close_budget(&b);
}

/* What a lever leaves is the budget of the study changed by hand; what was not tried says so. */
static void a_lever_is_the_study_changed(void **state)
{
    struct budgeted b, by_hand;
    struct ww_error error = {0};
    struct ww_at_angle at = {.angle = 30 * DEGREES};
    struct ww_angles angles = {.count = 1, .at = &at};
    struct ww_pitch pitch = {.null_pitch = 300e-6};
    (void)state;
    open_budget(&b, ONE_PLY "pitch = 250 um\n", 0);
    struct ww_levers_request request = {.study = &b.study, .angles = &angles, .pitch = &pitch};
    assert_null(ww_budget_best_lever(&b.budget));
    assert_ok(ww_budget_pull(&b.budget, &request, &error), error);
    const struct ww_lever *lever = b.budget.lever;
    assert_int_equal(b.budget.levers, WW_LEVERS);
    assert_string_equal(lever[WW_LEVER_ANGLE].to, "30 deg");
    assert_string_equal(lever[WW_LEVER_PITCH].to, "300 um");
    assert_string_equal(lever[WW_LEVER_GLASS].why, "no other glass was tried");
    assert_true(!lever[WW_LEVER_GLASS].given && ww_budget_best_lever(&b.budget)->judged < b.budget.judged);
    open_budget(&by_hand, ONE_PLY "pitch = 250 um\nangle = 30 deg\n", 0);
    assert_close(lever[WW_LEVER_ANGLE].judged, by_hand.budget.judged, 1e-9, 0);
    assert_close(lever[WW_LEVER_ANGLE].over_budget, by_hand.budget.over_budget, 1e-9, 0);
    close_budget(&by_hand);
    close_budget(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_weave_is_that_of_the_skew_command),
        cmocka_unit_test(what_is_shared_cancels),
        cmocka_unit_test(sums_in_closed_form_are_those_of_draws),
        cmocka_unit_test(an_array_points_as_drawn_ones_do),
        cmocka_unit_test(what_is_not_given_says_so),
        cmocka_unit_test(loss_of_one_tangent_spreads_as_delay),
        cmocka_unit_test(arms_of_a_set_lie_on_one_cloth),
        cmocka_unit_test(a_lever_is_the_study_changed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
