/* literature.h - closed formulas of the literature for strips between and above planes. Lengths in any one unit.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Exact ones take their elliptic integrals from the GNU Scientific Library, so nothing of ours is on both sides of a
 * comparison. eta0 = 376.7303 ohm throughout, not 120 pi (0.069 % more).
 */
#ifndef OUTSIDE_LITERATURE_H
#define OUTSIDE_LITERATURE_H

struct mode {
    double z0, dk; /* [ohm], effective permittivity */
};
struct modes {
    struct mode even, odd;
};

/* Centred strip of no thickness, width w, planes b apart, in vacuum: exact. S. B. Cohn, IRE Trans. MTT-2, 52, 1954. */
double literature_stripline(double w_over_b);
/* Two of them, s apart: exact. S. B. Cohn, IRE Trans. MTT-3 (5), 29, 1955. */
void literature_stripline_pair(double w_over_b, double s_over_b, double *z_even, double *z_odd);
/* Wide centred strip of thickness t: the fringe of two half-infinite corners, exact for w/(b-t) large; good to the
 * third decimal from w/(b-t) = 1. S. B. Cohn, IRE Trans. MTT-2, 52, 1954 (from memory). */
double literature_stripline_thick(double w_over_b, double t_over_b);

/* Strip on a dielectric er of height h under air, u = w/h, T = t/h. E. Hammerstad, O. Jensen, IEEE MTT-S Digest 1980,
 * 407-409: static. Stated accuracy without thickness: eps_eff 0.2 %, Z0 in air 0.03 % (from memory). */
struct mode literature_microstrip(double er, double u, double t_over_h);
/* Two of them, g = s/h, no thickness. M. Kirschning, R. H. Jansen, IEEE Trans. MTT-32, 83, 1984: static terms; range
 * 0.1 <= u, g <= 10, er <= 18. Stated accuracy: eps_eff 0.7 % even and 0.5 % odd, Z0 0.8 % (from memory). */
struct modes literature_microstrip_pair(double er, double u, double g);

#endif
