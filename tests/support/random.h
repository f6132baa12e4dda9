/* random.h - seeded random numbers for tests and benchmarks: splitmix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable
 * pseudorandom number generators", OOPSLA 2014).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TESTS_RANDOM_H
#define TESTS_RANDOM_H

#include <stdint.h>

struct random {
    uint64_t state;
};

static inline struct random random_of(uint64_t seed)
{
    return (struct random){seed};
}

static inline uint64_t random_bits(struct random *random)
{
    uint64_t z = random->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

/* In [0, 1). */
static inline double random_share(struct random *random)
{
    return (double)(random_bits(random) >> 11) * 0x1p-53;
}

static inline double random_between(struct random *random, double from, double to)
{
    return from + (to - from) * random_share(random);
}

/* 0 .. count-1 */
static inline unsigned random_below(struct random *random, unsigned count)
{
    return (unsigned)(random_share(random) * count);
}

#endif
