/* array.c - what phase errors of its elements cost a uniform line array.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Element n of N has a phase error p_n, independent, of variance s^2. The field on the axis of the beam loses the power
 * 1 - exp(-s^2) (J. Ruze, Proc. IEEE 54, 633, 1966). The beam turns by what a line fitted to the phases does:
 *   k d sin(a) = sum (n - m) p_n / sum (n - m)^2,   sum (n - m)^2 = N (N^2 - 1)/12.
 * Half-power width of the beam 0.886 lambda/(N d).
 */
#include "weftwise/budget.h"

#include <math.h>

static const double beam_width =
    0.886; /* times lambda/(N d), of a uniform line array at broadside: sin(x)/x = 1/sqrt 2 */

struct ww_array ww_array_errors(size_t elements, double rms)
{
    struct ww_array array = {.elements = elements, .rms = rms, .gain_loss = exp(-rms * rms)};
    double n = (double)elements,
           slope = rms * sqrt(12.0 / (n * (n * n - 1.0))); /* of phase from element to element */
    array.pointing = slope / WW_PI;                        /* k d = pi */
    array.of_beam = slope / (2.0 * WW_PI) * n / beam_width;
    return array;
}
