/* random.c - random numbers from a seed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/random.h"

#include <math.h>

#include "weftwise/core.h"

uint64_t ww_random_bits(struct ww_random *random)
{
    uint64_t z = random->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

struct ww_random ww_random_of(uint64_t seed, uint64_t stream)
{
    struct ww_random of_seed = {seed}, of_stream = {~stream};
    return (struct ww_random){ww_random_bits(&of_seed) ^ ww_random_bits(&of_stream)};
}

double ww_random_share(struct ww_random *random)
{
    return (double)(ww_random_bits(random) >> 11) * 0x1p-53;
}

double ww_random_normal(struct ww_random *random)
{
    double radius = sqrt(-2.0 * log(1.0 - ww_random_share(random)));
    return radius * cos(2.0 * WW_PI * ww_random_share(random));
}
