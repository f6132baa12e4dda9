/* sample.c - cloths and photographs at random.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "sample.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "random.h"

static const double degree = WW_PI / 180.0;

static double log_between(struct random *random, double from, double to)
{
    return exp(random_between(random, log(from), log(to)));
}

static void take_style(struct rendering *r, const struct ww_weaves *weaves, struct random *random)
{
    struct ww_names names = {0};
    struct ww_style style;
    struct ww_error error = {0};
    if (ww_weaves_styles(weaves, &names, &error) ||
        ww_weaves_style(weaves, names.name[random_below(random, (unsigned)names.count)], &style, &error)) {
        fprintf(stderr, "%s\n", error.text);
        abort();
    }
    ww_names_clear(&names);
    const struct ww_yarn *yarn[2] = {&style.warp, &style.fill};
    r->pitch[0] = 1.0 / style.warp_count.value;
    r->pitch[1] = 1.0 / style.fill_count.value;
    r->shape = style.shape.value;
    for (int f = 0; f < 2; f++) {
        r->width[f] = yarn[f]->width.value;
        r->height[f] = yarn[f]->height.value;
    }
    bool other = random_share(random) < 0.5;
    for (int f = 0; f < 2 && other; f++)
        r->width[f] = r->pitch[f] * random_between(random, 0.5, 0.97);
}

struct rendering rendering_of_seed(const struct ww_weaves *weaves, uint64_t seed, double most)
{
    struct random random = random_of(seed * 7919U + 17U);
    struct rendering r = {.seed = seed};
    take_style(&r, weaves, &random);
    r.nx = (size_t)log_between(&random, 300.0, most);
    r.ny = (size_t)log_between(&random, 300.0, most);
    double coarse = fmax(r.pitch[0], r.pitch[1]), fine = fmin(r.pitch[0], r.pitch[1]);
    double side = fmin((double)r.nx, (double)r.ny);
    /* from five yarns of the coarser family to eight pixels a yarn of the finer one, at most 60 */
    double yarns = log_between(&random, 5.0, fmax(5.5, fmin(60.0, side / 8.0 * fine / coarse)));
    r.pixel = yarns * coarse / side;
    double turn = random_between(&random, -1.0, 1.0);
    turn *= random_share(&random) < 0.5 ? 5.0 : 43.0;
    r.together = random_share(&random) < 0.5 ? 0.0 : random_between(&random, 0.5, 0.95);
    double room = HUGE_VAL;
    for (int f = 0; f < 2; f++) {
        r.turn[f] = turn * degree;
        turn += random_between(&random, -1.0, 1.0);
        r.albedo[f] = random_between(&random, 0.6, 0.9);
        room = fmin(room, r.pitch[f] - r.width[f]);
    }
    /* neighbours seldom touch: three standard deviations are half of the gap for wander, and half for widths */
    r.wander = random_share(&random) < 0.25
                   ? 0.0
                   : fmin(random_between(&random, 0.0, 0.03) * fine, room / (6.0 * sqrt(2.0 * (1.0 - r.together))));
    r.length = log_between(&random, 2.0, 80.0) * fine;
    r.scatter = fmin(random_between(&random, 0.0, 0.03), room / (6.0 * coarse));
    r.ground = random_between(&random, 0.02, 0.25);
    r.blur = random_between(&random, 0.0, 2.0);
    r.noise = random_between(&random, 0.0, 0.06);
    r.gradient = random_between(&random, 0.0, 0.5);
    r.perspective = random_share(&random) < 0.5 ? 0.0 : random_between(&random, -0.02, 0.02);
    return r;
}
