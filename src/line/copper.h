/* copper.h - the charges on the copper that hold it at given potentials in the layered problem.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_COPPER_H
#define WW_LINE_COPPER_H

#include "line/poisson.h"

struct ww_copper_node {
    size_t column, level;
};

/* Green matrices between the nodes on the perimeter of leg 1 (and the mirror images of leg 2), factored, for every
 * harmonic along the period and for the even and the odd combination of the legs. */
struct ww_copper {
    size_t count;                /* nodes on the perimeter of one leg */
    struct ww_copper_node *node; /* of leg 1; leg 2 has columns - column */
    size_t columns, harmonics;
    bool pair;
    double *factor[2]; /* [harmonics][count][count], even (and single), odd (NULL for a single trace) */
};

enum ww_status ww_copper_create(struct ww_copper *copper, const struct ww_mesh *mesh,
                                const struct ww_layered *layered, struct ww_error *error);
void ww_copper_destroy(struct ww_copper *copper);

/* Potentials on the perimeter (leg 1's part; of leg 2 the same, or with the sign changed if odd) -> charges, in place. */
void ww_copper_charge(const struct ww_copper *copper, size_t harmonic, bool odd, double *value);

#endif
