/* core/random.h - random numbers from a seed, the same on every machine.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014): integers alone,
 * so every machine draws the same. Normal ones hang on the last digit of log and cos.
 */
#ifndef WW_CORE_RANDOM_H
#define WW_CORE_RANDOM_H

#include <stdint.h>

struct ww_random {
    uint64_t state;
};

/* Stream number `stream` of a seed: streams of one seed, and of neighbouring seeds, have nothing in common. */
struct ww_random ww_random_of(uint64_t seed, uint64_t stream);
uint64_t ww_random_bits(struct ww_random *random);
double ww_random_share(struct ww_random *random); /* in [0, 1), of 53 bits */
/* Normal, mean 0 and variance 1 (G. E. P. Box and M. E. Muller, Ann. Math. Stat. 29 (1958) 610); two shares each. */
double ww_random_normal(struct ww_random *random);

#endif
