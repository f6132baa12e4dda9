/* tests/figure/sweeps.c - made-up sweeps of the kind the figures draw.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "sweeps.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PX 423e-6
#define PY 540e-6
#define DEGREE (WW_PI / 180)
#define TURN (2 * DEGREE)
#define LENGTH 50e-3
#define PITCH 220e-6
#define WAVES 6

/* Waves of the cloth: harmonic of the cell of two yarns, and how much delay each makes [s/m]. */
static const struct {
    int m, l;
    double slope;
} wave[WAVES] = {{2, 0, 1.4e-10}, {0, 2, 0.9e-10}, {1, 1, 2e-11}, {1, -1, 2e-11}, {2, 2, 0.8e-11}, {4, 0, 1.2e-11}};

static double sinc(double x)
{
    return fabs(x) < 1e-9 ? 1 : sin(x) / x;
}

/* Every wave at its worst phase. */
static double worst(double angle, double length, double pitch, double width, double stretch, double coarse)
{
    double ux = sin(angle), uy = cos(angle), sum = 0;

    for (int i = 0; i < WAVES; i++) {
        double kx = WW_PI * wave[i].m / (PX * coarse * (1 + stretch));
        double ky = WW_PI * wave[i].l / (PY * coarse * (1 + stretch));
        double along = kx * ux + ky * uy, across = -kx * uy + ky * ux;
        double legs = pitch > 0 ? 2 * fabs(sin(across * pitch / 2)) : 2;
        sum += wave[i].slope * length * fabs(sinc(along * length / 2)) * legs * fabs(sinc(across * width / 2));
    }
    return sum;
}

static double design(double angle, double coarse)
{
    double most = 0;
    for (int i = -20; i <= 20; i++)
        most = fmax(most, worst(angle + TURN * i / 20, LENGTH, PITCH, 100e-6, 0, coarse));
    return most;
}

static void find_windows(struct ww_angles *angles)
{
    angles->window = calloc(angles->count, sizeof angles->window[0]);
    for (size_t i = 0; i < angles->count && angles->budget > 0; i++) {
        if (angles->at[i].design > angles->budget)
            continue;
        bool goes_on = i > 0 && angles->at[i - 1].design <= angles->budget;
        if (!goes_on)
            angles->window[angles->windows++].from = angles->at[i].angle;
        angles->window[angles->windows - 1].to = angles->at[i].angle;
    }
    angles->safe_from_warp = angles->windows > 0 ? angles->window[0].from : -1;
    angles->safe_from_fill = angles->windows > 0 ? 90 * DEGREE - angles->window[angles->windows - 1].to : -1;
    angles->safe_from_diagonal = -1;
}

static void fill_angles(struct ww_angles *angles, double strength, double budget, double coarse, size_t count)
{
    *angles = (struct ww_angles){.pair = true, .turn = TURN, .budget = budget, .count = count};
    angles->at = calloc(count, sizeof angles->at[0]);
    for (size_t i = 0; i < count; i++) {
        struct ww_at_angle *at = &angles->at[i];
        at->angle = 90 * DEGREE * (double)i / (double)(count - 1);
        at->worst = strength * worst(at->angle, LENGTH, PITCH, 100e-6, 0, coarse);
        at->p99 = 0.93 * at->worst;
        at->median = 0.55 * at->worst;
        at->design = strength * design(at->angle, coarse);
    }
    find_windows(angles);
}

static void fill_revivals(struct ww_angles *angles, double strength)
{
    static const int harmonic[][2] = {{1, 0}, {2, 1}, {3, 2}, {1, 1}, {2, 3}, {1, 2}, {1, 3}, {0, 1}};

    angles->revivals = sizeof harmonic / sizeof harmonic[0];
    angles->revival = calloc(angles->revivals, sizeof angles->revival[0]);
    for (size_t i = 0; i < angles->revivals; i++) {
        int m = harmonic[i][0], l = harmonic[i][1];
        double angle = atan2(l / PY, m / PX);
        angles->revival[i] =
            (struct ww_revival){m, l, 0, angle, strength * worst(angle, LENGTH, PITCH, 100e-6, 0, 1) / LENGTH};
    }
}

static void fill_lengths(struct ww_lengths *lengths, double strength)
{
    *lengths = (struct ww_lengths){.angles = 181, .lengths = 100};
    lengths->angle = calloc(181, sizeof(double));
    lengths->length = calloc(100, sizeof(double));
    lengths->worst = calloc(181 * 100, sizeof(double));
    lengths->reached = calloc(181 * 100, sizeof(double));
    for (size_t i = 0; i < 181; i++)
        lengths->angle[i] = 0.5 * (double)i * DEGREE;
    for (size_t j = 0; j < 100; j++) {
        lengths->length[j] = 1.5e-3 * (double)(j + 1);
        for (size_t i = 0; i < 181; i++) {
            double *at = &lengths->worst[j * 181 + i];
            *at = strength * worst(lengths->angle[i], lengths->length[j], PITCH, 100e-6, 0, 1);
            lengths->reached[j * 181 + i] = fmax(*at, j ? lengths->reached[(j - 1) * 181 + i] : 0);
        }
    }
}

/* A distribution like a cosine's histogram, the flatter the higher `flat`. */
static struct ww_distribution make_distribution(double most, double flat)
{
    struct ww_distribution d = {201, -most * 200 / 201, 2 * most / 201, calloc(201, sizeof(double))};
    double sum = 0;

    for (size_t i = 0; i < d.count; i++) {
        double x = ((double)i - 100) / 100.5;
        d.probability[i] = (1 - flat) / sqrt(1.02 - x * x) + flat * (1 - x * x);
        sum += d.probability[i];
    }
    for (size_t i = 0; i < d.count; i++)
        d.probability[i] /= sum;
    return d;
}

static void fill_style(struct ww_compared *of, size_t i, double strength, double budget)
{
    static const char *const name[SWEEP_STYLES] = {
        "1067", "1035", "1078",    "106",     "1080-spread", "1086",
        "104",  "1080", "2113",    "3313",    "2116",        "1501",
        "2013", "1652", "2116/NE", "1080/NE", "7628",        "1027",
        "1037", "1280", "2165",    "2313",    "3070",        "7629",
        "1506", "7635", "2125",    "2157",    "2112",        "a style somebody named at length"};
    double coarse = 0.7 + 0.03 * (double)i, size = strength * (0.2 + 0.06 * (double)i);

    static struct ww_filling filling[SWEEP_STYLES]; /* every fifth is rich, one of those starved */

    filling[i] = (struct ww_filling){1 + i % 3, 0.5 + 0.01 * (double)i, WW_RESIN_WITHIN};
    if (i % 5 == 4)
        filling[i].flag = i % 11 == 9 ? WW_RESIN_STARVED : WW_RESIN_RICH;
    of->name = name[i];
    of->own = strcmp(name[i], "1080") == 0;
    of->fillings = 1;
    of->filling = &filling[i];
    fill_angles(&of->angles, size, budget, coarse, 91);
    of->skew.pair = true;
    of->skew.worst = of->angles.at[0].worst;
    of->skew.spread = 1.7 * of->skew.worst;
    of->skew.distribution = make_distribution(of->skew.worst, (double)(i % 5) / 4);
    of->skew.median = ww_distribution_quantile(&of->skew.distribution, 0.5);
    of->skew.p99 = ww_distribution_quantile(&of->skew.distribution, 0.99);
    of->skew.over_budget = budget > 0 ? ww_distribution_exceed(&of->skew.distribution, budget) : 0;
    of->warp_pitch = PX * coarse;
    of->fill_pitch = PY * coarse;
    of->mean_dk = 3.4 + 0.01 * (double)i;
    ww_map_init(&of->dk, 64, 64, 2 * of->warp_pitch, 2 * of->fill_pitch, NULL);
    for (size_t k = 0; k < 64 * 64; k++) {
        double x = (double)(k % 64) / 32, y = (double)(k / 64) / 32;
        of->dk.value[k] =
            3.2 + (0.1 + 0.012 * (double)i) * (pow(fabs(sin(WW_PI * x)), 1.5) + pow(fabs(sin(WW_PI * y)), 1.5));
    }
}

static int by_worst(const void *left, const void *right)
{
    const struct ww_compared *a = left, *b = right;
    return (a->skew.worst > b->skew.worst) - (a->skew.worst < b->skew.worst);
}

static void fill_comparison(struct ww_comparison *comparison, double strength, double budget, size_t styles)
{
    comparison->count = styles;
    comparison->of = calloc(styles, sizeof comparison->of[0]);
    size_t good = styles > 3 ? styles - 1 : styles;
    for (size_t i = 0; i < good; i++)
        fill_style(&comparison->of[i], i, strength, budget);
    qsort(comparison->of, good, sizeof comparison->of[0], by_worst);
    if (good == styles)
        return;
    struct ww_compared *last = &comparison->of[good];
    last->name = "7628H";
    last->status = WW_UNPHYSICAL;
    snprintf(last->error.text, sizeof last->error.text,
             "ply 2 of 100 um has no room for a cloth of 173 um; give one that is thicker");
}

static void fill_pitch(struct ww_pitch *pitch, double strength)
{
    size_t n = 121, w = 60;

    *pitch = (struct ww_pitch){.pitches = n, .widths = w, .null_pitch = PX, .null_width = 100e-6, .count = 81};
    pitch->pitch = calloc(n, sizeof(double));
    pitch->width = calloc(w, sizeof(double));
    pitch->worst = calloc(n * w, sizeof(double));
    pitch->impedance = calloc(n * w, sizeof(double));
    for (size_t i = 0; i < n; i++)
        pitch->pitch[i] = 150e-6 + 850e-6 * (double)i / (double)(n - 1);
    for (size_t j = 0; j < w; j++)
        pitch->width[j] = 60e-6 + 500e-6 * (double)j / (double)(w - 1);
    for (size_t j = 0; j < w; j++)
        for (size_t i = 0; i < n; i++)
            pitch->worst[j * n + i] = pitch->impedance[j * n + i] =
                pitch->pitch[i] <= pitch->width[j] * 1.05
                    ? -1
                    : strength * worst(0.4 * DEGREE, LENGTH, pitch->pitch[i], pitch->width[j], 0, 1);
    pitch->nulls = 3;
    pitch->null = calloc(3, sizeof pitch->null[0]);
    static const double null[3][2] = {{PX, 100e-6}, {2 * PX, 100e-6}, {560e-6, PX}};
    for (int i = 0; i < 3; i++)
        pitch->null[i] =
            (struct ww_null){.pitch = null[i][0],
                             .width = null[i][1],
                             .worst = strength * worst(0.4 * DEGREE, LENGTH, null[i][0], null[i][1], 0, 1),
                             .in_width = i == 2};
    pitch->angle = calloc(81, sizeof(double));
    pitch->at_angle = calloc(81, sizeof(double));
    pitch->stretch = calloc(81, sizeof(double));
    pitch->at_stretch = calloc(81, sizeof(double));
    for (int i = 0; i < 81; i++) {
        pitch->angle[i] = (i - 40) * 0.1 * DEGREE;
        pitch->at_angle[i] = strength * worst(pitch->angle[i], LENGTH, PX, 100e-6, 0, 1);
        pitch->stretch[i] = (i - 40) * 0.001;
        pitch->at_stretch[i] = strength * worst(0, LENGTH, PX, 100e-6, pitch->stretch[i], 1);
    }
}

void sweeps_init(struct sweeps *s, double strength, double budget, size_t styles)
{
    memset(s, 0, sizeof *s);
    s->pair = true;
    s->budget = budget;
    fill_angles(&s->angles, strength, budget, 1, 361);
    fill_revivals(&s->angles, strength);
    fill_lengths(&s->lengths, strength);
    fill_comparison(&s->comparison, strength, budget, styles);
    fill_pitch(&s->pitch, strength);
}

static void clear_angles(struct ww_angles *angles)
{
    free(angles->at);
    free(angles->revival);
    free(angles->window);
}

void sweeps_clear(struct sweeps *s)
{
    clear_angles(&s->angles);
    free(s->lengths.angle);
    free(s->lengths.length);
    free(s->lengths.worst);
    free(s->lengths.reached);
    for (size_t i = 0; i < s->comparison.count; i++) {
        clear_angles(&s->comparison.of[i].angles);
        ww_distribution_clear(&s->comparison.of[i].skew.distribution);
        ww_map_clear(&s->comparison.of[i].dk);
    }
    free(s->comparison.of);
    free(s->pitch.pitch);
    free(s->pitch.width);
    free(s->pitch.worst);
    free(s->pitch.impedance);
    free(s->pitch.null);
    free(s->pitch.angle);
    free(s->pitch.at_angle);
    free(s->pitch.stretch);
    free(s->pitch.at_stretch);
    memset(s, 0, sizeof *s);
}

struct ww_figure_angles sweeps_angles(const struct sweeps *s)
{
    return (struct ww_figure_angles){"50 mm, all plies together; made-up data", &s->angles, NULL};
}

struct ww_figure_lengths sweeps_lengths(const struct sweeps *s)
{
    return (struct ww_figure_lengths){
        "all plies together; made-up data", s->pair, &s->lengths, s->budget, 8 * DEGREE, LENGTH};
}

struct ww_figure_compare sweeps_compare(const struct sweeps *s)
{
    return (struct ww_figure_compare){"all plies replaced; made-up data", &s->comparison, s->budget};
}

struct ww_figure_pitch sweeps_pitch(const struct sweeps *s)
{
    return (struct ww_figure_pitch){
        "50 mm, all plies together; made-up data", s->pair, &s->pitch, s->budget, PX, PY, 560e-6, 100e-6};
}
