/* picture/least_squares.c - small normal equations by Cholesky's factors.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "picture/picture.h"

#include <math.h>

static const double SINGULAR = 1e-13; /* of the diagonal */

/* a becomes its lower factor. */
static bool factor(size_t n, double *a)
{
    for (size_t k = 0; k < n; k++) {
        double pivot = a[k * n + k], least = SINGULAR * pivot;
        for (size_t j = 0; j < k; j++)
            pivot -= a[k * n + j] * a[k * n + j];
        if (!(pivot > least))
            return false;
        a[k * n + k] = sqrt(pivot);
        for (size_t i = k + 1; i < n; i++) {
            double sum = a[i * n + k];
            for (size_t j = 0; j < k; j++)
                sum -= a[i * n + j] * a[k * n + j];
            a[i * n + k] = sum / a[k * n + k];
        }
    }
    return true;
}

static void substitute(size_t n, const double *a, double *b)
{
    for (size_t k = 0; k < n; k++) {
        for (size_t j = 0; j < k; j++)
            b[k] -= a[k * n + j] * b[j];
        b[k] /= a[k * n + k];
    }
    for (size_t k = n; k-- > 0;) {
        for (size_t j = k + 1; j < n; j++)
            b[k] -= a[j * n + k] * b[j];
        b[k] /= a[k * n + k];
    }
}

bool ww_normal_solve(size_t n, double *a, double *b)
{
    if (!factor(n, a))
        return false;
    substitute(n, a, b);
    return true;
}
