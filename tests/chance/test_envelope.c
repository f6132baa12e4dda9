/* What is reached within the turn, on envelopes filled by hand.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "chance/envelope.h"

enum { COUNT = 41, PLIES = 2 };
#define FIRST (-0.2)
#define STEP 0.01

/* A pair's envelope at angles FIRST .. FIRST + 40 STEP. */
struct filled {
    struct ww_envelope envelope;
    double high[COUNT * PLIES], low[COUNT * PLIES];
};

static struct ww_envelope *start(struct filled *f, size_t plies, double turn)
{
    memset(f, 0, sizeof *f);
    f->envelope = (struct ww_envelope){.plies = plies,
                                       .count = COUNT,
                                       .first = FIRST,
                                       .step = STEP,
                                       .turn = turn,
                                       .signal = WW_SKEW,
                                       .high = f->high,
                                       .low = f->low};
    return &f->envelope;
}

typedef double (*curve)(double angle);

static void fill(struct filled *f, size_t ply, curve high, curve low)
{
    for (size_t i = 0; i < COUNT; i++) {
        f->high[i * f->envelope.plies + ply] = high(FIRST + (double)i * STEP);
        f->low[i * f->envelope.plies + ply] = low(FIRST + (double)i * STEP);
    }
}

/* Tops of 5 at 0.0137 and of 3 at -0.0271, between samples; a bottom of -2 at 0.05. */
static double top_right(double angle)
{
    return 5 - 300 * (angle - 0.0137) * (angle - 0.0137);
}
static double top_left(double angle)
{
    return 3 - 100 * (angle + 0.0271) * (angle + 0.0271);
}
static double bottom(double angle)
{
    return -2 + 40 * (angle - 0.05) * (angle - 0.05);
}
static double none(double angle)
{
    return 0 * angle;
}
static double deep(double angle)
{
    return -top_right(angle);
}

/* The most of a parabola with its top at `at` over angle +- turn. */
static double most_of(curve top, double at, double angle, double turn)
{
    return top(fmin(fmax(at, angle - turn), angle + turn));
}

/* A parabola is met exactly: at its top within the turn, else at the end of the turn, which lies inside a step. */
static void parabola_within_the_turn(void **state)
{
    (void)state;
    static const double turn[] = {0, 0.0004, 0.005, 0.0123, 0.03, 0.08};
    for (size_t t = 0; t < sizeof turn / sizeof *turn; t++)
        for (double angle = -0.1; angle < 0.1; angle += 0.0031) {
            struct filled f;
            struct ww_envelope *e = start(&f, 1, turn[t]);
            fill(&f, 0, top_right, none);
            assert_close(ww_envelope_design(e, angle), fmax(most_of(top_right, 0.0137, angle, turn[t]), 0), 1e-10,
                         1e-12);
            /* the same downwards */
            fill(&f, 0, none, deep);
            assert_close(ww_envelope_design(e, angle), fmax(most_of(top_right, 0.0137, angle, turn[t]), 0), 1e-10,
                         1e-12);
        }
}

/* Each ply is turned on its own: the sum of the most of each, at unlike angles, and upwards or downwards, whichever is more. */
static void plies_are_turned_on_their_own(void **state)
{
    (void)state;
    static const double turn[] = {0, 0.005, 0.02, 0.06};
    for (size_t t = 0; t < sizeof turn / sizeof *turn; t++)
        for (double angle = -0.06; angle < 0.06; angle += 0.0043) {
            struct filled f;
            struct ww_envelope *e = start(&f, 2, turn[t]);
            fill(&f, 0, top_right, deep);
            fill(&f, 1, top_left, bottom);
            double up = most_of(top_right, 0.0137, angle, turn[t]) + most_of(top_left, -0.0271, angle, turn[t]);
            double bottom_at = fmin(fmax(0.05, angle - turn[t]), angle + turn[t]);
            double down = most_of(top_right, 0.0137, angle, turn[t]) - bottom(bottom_at);
            assert_close(ww_envelope_design(e, angle), fmax(fmax(up, down), 0), 1e-10, 1e-12);
        }
    struct filled f;
    struct ww_envelope *e = start(&f, 2, 0.06);
    fill(&f, 0, top_right, none);
    fill(&f, 1, top_left, none);
    assert_close(ww_envelope_design(e, 0), 5 + 3, 1e-10, 0);
}

/* Eight samples a lobe as ww_envelope_solve takes them: the top of sinc between samples within 0.1 % of it, and the value
 * anywhere within 0.5 %. */
static double lobes(double angle)
{
    double x = WW_PI * (angle - 0.0033) / (8 * STEP);
    return fabs(x) < 1e-9 ? 1 : fabs(sin(x) / x);
}
static void lobes_are_met_between_samples(void **state)
{
    (void)state;
    struct filled f;
    fill((start(&f, 1, 0.03), &f), 0, lobes, none);
    for (double angle = -0.025; angle < 0.03; angle += 0.0017)
        assert_close(ww_envelope_design(&f.envelope, angle), 1, 1e-3, 0);
    for (double turn = 0; turn < 0.05; turn += 0.0071)
        for (double angle = 0.005 + turn; angle < 0.1; angle += 0.0017) {
            double most = 0;
            for (int k = -2000; k <= 2000; k++)
                most = fmax(most, lobes(angle + turn * k / 2000));
            f.envelope.turn = turn;
            if (angle + turn < 0.07) /* short of the first null, where |sinc| has a corner */
                assert_close(ww_envelope_design(&f.envelope, angle), most, 0, 5e-3);
        }
}

/* All plies turned alike: the top of the sum, a parabola too; at the end of the turn where it lies beyond. */
static void worst_angle_is_the_top_of_the_sum(void **state)
{
    (void)state;
    double top = (300 * 0.0137 - 100 * 0.0271) / 400; /* where the sum of both parabolas is highest */
    static const double turn[] = {0.005, 0.02, 0.06};
    for (size_t t = 0; t < sizeof turn / sizeof *turn; t++)
        for (double angle = -0.04; angle < 0.04; angle += 0.0037) {
            struct filled f;
            struct ww_envelope *e = start(&f, 2, turn[t]);
            fill(&f, 0, top_right, none);
            fill(&f, 1, top_left, none);
            double want = fmin(fmax(top, angle - turn[t]), angle + turn[t]);
            assert_close(ww_envelope_worst_angle(e, angle), want, 0, 0.51e-3 * STEP);
        }
    struct filled f;
    fill((start(&f, 1, 0.03), &f), 0, none, deep);
    assert_close(ww_envelope_worst_angle(&f.envelope, 0), 0.0137, 0, 0.51e-3 * STEP);
}

/* Without a turn there is nowhere to go. */
static void no_turn_stays_where_it_is(void **state)
{
    (void)state;
    for (double angle = -0.05; angle < 0.05; angle += 0.0049) {
        struct filled f;
        struct ww_envelope *e = start(&f, 1, 0);
        fill(&f, 0, top_right, none);
        assert_close(ww_envelope_worst_angle(e, angle), angle, 0, 0.51e-3 * STEP);
    }
}

/* No ply: nothing is reached. */
static void no_ply_reaches_nothing(void **state)
{
    (void)state;
    struct filled f;
    assert_close(ww_envelope_design(start(&f, 0, 0.02), 0.01), 0, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parabola_within_the_turn),      cmocka_unit_test(plies_are_turned_on_their_own),
        cmocka_unit_test(lobes_are_met_between_samples), cmocka_unit_test(worst_angle_is_the_top_of_the_sum),
        cmocka_unit_test(no_turn_stays_where_it_is),     cmocka_unit_test(no_ply_reaches_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
