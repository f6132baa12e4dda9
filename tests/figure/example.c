/* tests/figure/example.c - made-up data of the kind the figures draw.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "example.h"

#include <math.h>
#include <string.h>

#define PX 423e-6
#define PY 540e-6

static double yarn(double place, double pitch)
{
    double s = cos(WW_PI * (place / pitch - 0.5));
    return pow(fabs(s), 1.5);
}

static double local_dk(double x, double y)
{
    return 3.25 + 0.45 * yarn(x, PX) + 0.35 * yarn(y, PY);
}

static double leg_dk(const struct example *e, double side, double s)
{
    double n = side * e->trace.pitch / 2, angle = e->trace.angle;
    double x = e->trace.x - n * cos(angle) + s * sin(angle), y = e->trace.y + n * sin(angle) + s * cos(angle);

    return 3.5 + 0.05 * cos(2 * WW_PI * (x / PX - 0.75)) + 0.03 * cos(2 * WW_PI * (y / PY - 0.5));
}

/* [m], with windows between the yarns. */
static double glass(double x, double y)
{
    return 30e-6 * (fmax(0, yarn(x, PX) - 0.3) + fmax(0, yarn(y, PY) - 0.3));
}

static void fill_maps(struct example *e, double worst)
{
    for (size_t iy = 0; iy < e->dk.ny; iy++)
        for (size_t ix = 0; ix < e->dk.nx; ix++) {
            double x = ((double)ix + 0.5) * e->dk.lx / (double)e->dk.nx,
                   y = ((double)iy + 0.5) * e->dk.ly / (double)e->dk.ny;
            e->dk.value[iy * e->dk.nx + ix] = local_dk(x, y);
            e->glass.value[iy * e->dk.nx + ix] = glass(x, y);
        }
    for (size_t iy = 0; iy < e->skew.ny; iy++)
        for (size_t ix = 0; ix < e->skew.nx; ix++) {
            double x = ((double)ix + 0.5) / (double)e->skew.nx, y = ((double)iy + 0.5) / (double)e->skew.ny;
            e->skew.value[iy * e->skew.nx + ix] =
                worst * sin(4 * WW_PI * x) * (0.8 + 0.2 * cos(4 * WW_PI * y)) * (e->trace.angle == 0 ? 1 : 0.9);
        }
    e->high = (struct ww_extreme){e->skew.lx / 8, 0, worst};
    e->low = (struct ww_extreme){e->skew.lx * 3 / 8, 0, -worst};
}

static void fill_profile(struct example *e)
{
    double running = 0, step = e->length / (EXAMPLE_SAMPLES - 1);

    for (int i = 0; i < EXAMPLE_SAMPLES; i++) {
        double s = i * step, near = i * e->near_length / (EXAMPLE_SAMPLES - 1);
        e->dk1[i] = leg_dk(e, 1, s);
        e->dk2[i] = leg_dk(e, -1, s);
        e->dk1_near[i] = leg_dk(e, 1, near);
        e->dk2_near[i] = leg_dk(e, -1, near);
        e->running[i] = running;
        running += (sqrt(e->dk1[i]) - sqrt(e->dk2[i])) / WW_C0 * step;
    }
}

/* Of worst * sin(uniform phase), cut into bins: peaked at the ends, as a cosine's histogram is. */
static void fill_distribution(struct example *e, double worst)
{
    double step = 2 * worst / EXAMPLE_BINS;

    for (int i = 0; i < EXAMPLE_BINS; i++) {
        double low = fmax(-1, -1 + 2.0 * i / EXAMPLE_BINS), high = fmin(1, -1 + 2.0 * (i + 1) / EXAMPLE_BINS);
        e->chance[i] = (asin(high) - asin(low)) / WW_PI;
    }
    e->distribution = (struct ww_distribution){EXAMPLE_BINS, -worst + step / 2, step, e->chance};
}

/* A pair between planes: field and potential of two line charges and their first images; yarns as ellipse and band. */
static void fill_section(struct example *e)
{
    double z0 = 107e-6, half = e->trace.pitch / 2;
    ww_map_init(&e->strength, 400, 134, 640e-6, 215e-6, NULL);
    ww_map_init(&e->potential, 400, 134, 640e-6, 215e-6, NULL);
    ww_map_init(&e->warp, 400, 134, 640e-6, 215e-6, NULL);
    ww_map_init(&e->fill, 400, 134, 640e-6, 215e-6, NULL);
    for (size_t i = 0; i < e->strength.nx * e->strength.ny; i++) {
        double n = ((double)(i % 400) + 0.5) * 1.6e-6 - 320e-6, z = ((double)(i / 400) + 0.5) * 215e-6 / 134;
        double r1 = hypot(n - half, z - z0) + 20e-6, r2 = hypot(n + half, z - z0) + 20e-6;
        double walls = sin(WW_PI * z / 215e-6);
        e->potential.value[i] = 0.25 * walls * log(r2 / r1);
        e->strength.value[i] = 0.25 * (1 / r1 + 1 / r2);
        e->warp.value[i] = hypot((n - 60e-6) / 150e-6, (z - 55e-6) / 13e-6) < 1;
        e->fill.value[i] = fabs(z - 165e-6 - 10e-6 * sin(n / 130e-6)) < 12e-6;
    }
    e->layer[0] = (struct ww_figure_layer){"ply 2, 1080,", 0, 100e-6};
    e->layer[1] = (struct ww_figure_layer){"copper", 100e-6, 115e-6};
    e->layer[2] = (struct ww_figure_layer){"ply 1, 1080,", 115e-6, 215e-6};
}

/* Kernel along one period of the fill, sections a little lower, the volume between. */
static void fill_along(struct example *e)
{
    double sum[2] = {0, 0};
    for (int i = 0; i < EXAMPLE_SAMPLES; i++) {
        double s = 2 * PY * i / (EXAMPLE_SAMPLES - 1);
        e->delay1[i] = sqrt(leg_dk(e, 1, s)) / WW_C0;
        e->delay2[i] = sqrt(leg_dk(e, -1, s)) / WW_C0;
    }
    for (int i = 0; i < EXAMPLE_SECTIONS; i++) {
        double s = 2 * PY * i / EXAMPLE_SECTIONS;
        e->section1[i] = 0.998 * sqrt(leg_dk(e, 1, s)) / WW_C0;
        e->section2[i] = 0.998 * sqrt(leg_dk(e, -1, s)) / WW_C0;
        sum[0] += e->section1[i] / EXAMPLE_SECTIONS;
        sum[1] += e->section2[i] / EXAMPLE_SECTIONS;
    }
    e->volume[0] = 1.0005 * sum[0];
    e->volume[1] = 1.0005 * sum[1];
}

void example_init(struct example *e, double angle, double worst)
{
    memset(e, 0, sizeof *e);
    e->trace = (struct ww_footprint){.width = 100e-6, .pitch = 220e-6, .angle = angle, .x = 212e-6, .y = 130e-6};
    e->length = 50e-3;
    e->near_length = ww_figure_near_length(e->length, 2 * PY);
    ww_map_init(&e->dk, 96, 96, 2 * PX, 2 * PY, NULL);
    ww_map_init(&e->glass, 96, 96, 2 * PX, 2 * PY, NULL);
    ww_map_init(&e->skew, 256, 256, 2 * PX, 2 * PY, NULL);
    fill_maps(e, worst);
    fill_profile(e);
    fill_distribution(e, worst);
    fill_section(e);
    fill_along(e);
    e->options.title = "Mezzanine link, layer 3";
    e->options.conditions = "1080 in low-loss (Dk 3.2), two plies of 100 \xc2\xb5m; pair 100/220 \xc2\xb5m, 50 mm at "
                            "0\xc2\xb0 from the warp; 112 Gb/s";
    e->options.study = "[study]\ntitle = Mezzanine link, layer 3\n\n[trace]\nwidth = 100 um ; <&> \xc2\xb5\n";
}

void example_clear(struct example *e)
{
    ww_map_clear(&e->dk);
    ww_map_clear(&e->glass);
    ww_map_clear(&e->skew);
    ww_map_clear(&e->strength);
    ww_map_clear(&e->potential);
    ww_map_clear(&e->warp);
    ww_map_clear(&e->fill);
}

struct ww_figure_dk example_dk(const struct example *e)
{
    return (struct ww_figure_dk){"ply 1, 1080", &e->dk, PX, PY, &e->trace};
}

struct ww_figure_via example_via(const struct example *e)
{
    return (struct ww_figure_via){"ply 1, 1080", &e->glass, 100e-6};
}

struct ww_figure_skew example_skew(const struct example *e)
{
    return (struct ww_figure_skew){"ply 1, 1080", true, &e->skew, e->high, e->low};
}

struct ww_figure_profile example_profile(const struct example *e)
{
    return (struct ww_figure_profile){.subject = "Start at x = 212 \xc2\xb5m, y = 130 \xc2\xb5m of ply 1, 1080",
                                      .length = e->length,
                                      .period = 2 * PY,
                                      .count = EXAMPLE_SAMPLES,
                                      .dk1 = e->dk1,
                                      .dk2 = e->dk2,
                                      .running = e->running,
                                      .near_length = e->near_length,
                                      .count_near = EXAMPLE_SAMPLES,
                                      .dk1_near = e->dk1_near,
                                      .dk2_near = e->dk2_near};
}

struct ww_figure_distribution example_distribution(const struct example *e, double budget)
{
    double worst = e->high.value;

    return (struct ww_figure_distribution){
        .subject = "all plies together",
        .pair = true,
        .distribution = &e->distribution,
        .median = worst * sin(WW_PI / 4),
        .p95 = worst * sin(WW_PI / 2 * 0.95),
        .p99 = worst * sin(WW_PI / 2 * 0.99),
        .worst = worst,
        .budget = budget,
        .over_budget = budget > 0 && budget < worst ? 1 - asin(budget / worst) * 2 / WW_PI : 0};
}

struct ww_figure_section example_section(const struct example *e)
{
    return (struct ww_figure_section){.subject = "the worst pair",
                                      .left = -320e-6,
                                      .strength = &e->strength,
                                      .potential = &e->potential,
                                      .warp = &e->warp,
                                      .fill = &e->fill,
                                      .width = e->trace.width,
                                      .thickness = 15e-6,
                                      .pitch = e->trace.pitch,
                                      .copper = 100e-6,
                                      .plane = 215e-6,
                                      .layer = e->layer,
                                      .layers = 3};
}

struct ww_figure_along example_along(const struct example *e)
{
    return (struct ww_figure_along){.subject = "the worst pair, all cloth in place",
                                    .period = 2 * PY,
                                    .periodic = true,
                                    .count_kernel = EXAMPLE_SAMPLES,
                                    .kernel1 = e->delay1,
                                    .kernel2 = e->delay2,
                                    .count_section = EXAMPLE_SECTIONS,
                                    .section1 = e->section1,
                                    .section2 = e->section2,
                                    .mean_kernel = {e->volume[0] * 1.0015, e->volume[1] * 1.0015},
                                    .mean_section = {e->volume[0] / 1.0005, e->volume[1] / 1.0005},
                                    .mean_volume = e->volume};
}
