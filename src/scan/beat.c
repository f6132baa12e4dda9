/* beat.c - the integral of a pair's slowness difference along a trace, times the beat of its two modes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * As in path.c, every harmonic is integrated exactly and all starts come from one inverse transform. What arrives of one mode
 * from all along the path adds with the phase exp(i b s) by which the modes part, b = beta_even - beta_odd:
 *   F(r0) = integral of dS(s) exp(i b s) ds = G + i H.
 * G and H are real. With
 *   E(b) = exp(i b P) integral over the leg's span of exp(i (k.u + b) s) ds, P the length of the path before the segment,
 * their harmonics are
 *   G^(k) = dS^(k) exp(i k.p) (E(b) + E(-b))/2,   H^(k) = dS^(k) exp(i k.p) (E(b) - E(-b))/2i,
 * p the point where the segment starts. The legs of a pair run past the ends of a segment at a bend; what their mean adds there
 * is the difference of their lengths: the segment's excess, which counts at the bend (chance/conversion.c).
 */
#include "scan/beat.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void ww_beat_segments(struct ww_beat_segment *segment, const struct ww_scan *scan, size_t index, enum ww_estimate e,
                      double length)
{
    double x = 0, y = 0, passed = 0;
    for (size_t i = 0; i < ww_scan_segments(scan); i++) {
        struct ww_scan_segment of = ww_scan_segment_at(scan, i);
        const struct ww_ply_scan *ply = &of.scan->ply[index];
        double own = of.share * length;
        segment[i] = (struct ww_beat_segment){
            .lx = ply->lx,
            .ly = ply->ly,
            .ux = ply->ux,
            .uy = ply->uy,
            .x = x,
            .y = y,
            .passed = passed,
            .length = own,
            .leg = {ww_leg_span(scan, &of, own, 0), ww_leg_span(scan, &of, own, 1)},
            .excess = scan->bends ? ww_scan_mismatch_at(scan, i) : 0,
            .harmonics = ply->harmonics,
            .order = ply->order,
            .slowness = {ply->coefficient[0][e], ply->coefficient[1][e]},
            .unit = scan->averaging == WW_FLIGHT
                        ? 1
                        : 1 / (2 * WW_C0 * sqrt(creal(ply->coefficient[0][WW_MEAN][0]))) /* dS per d eps */};
        x += own * ply->ux;
        y += own * ply->uy;
        passed += own;
    }
}

/* exp(i k.u s) over one span, harmonic by harmonic: phasor at its middle, and half its phase without the beat. */
struct span_steps {
    struct ww_stepper middle, half;
    double x, y; /* half the phase per order */
    double length;
    double _Complex up, half_up; /* exp(i b (P + middle)), exp(i b length/2) */
    double half_beat;
};

static struct span_steps span_steps(const struct ww_beat_segment *of, struct ww_leg_span span, double beat)
{
    double px = 2 * WW_PI / of->lx, py = 2 * WW_PI / of->ly, half = 0.5 * span.length, at = span.start + half;
    return (struct span_steps){ww_stepper_of(px * (of->x + at * of->ux), py * (of->y + at * of->uy)),
                               ww_stepper_of(px * half * of->ux, py * half * of->uy),
                               px * half * of->ux,
                               py * half * of->uy,
                               span.length,
                               ww_phasor(beat * (of->passed + at)),
                               ww_phasor(beat * half),
                               beat * half};
}

/* sin(phase)/phase from exp(i phase). */
static inline double sinc_of(double _Complex phasor, double phase)
{
    return fabs(phase) < 0.1 ? ww_sinc(phase) : cimag(phasor) / phase;
}

/* E(b) exp(i k.p) and E(-b) exp(i k.p) of one harmonic. */
static inline void integrals(struct span_steps *steps, struct ww_order order, double _Complex both[2])
{
    double _Complex middle = ww_stepper_to(&steps->middle, order) * steps->length;
    double _Complex half = ww_stepper_to(&steps->half, order);
    double phase = order.m * steps->x + order.l * steps->y;
    both[0] = middle * steps->up * sinc_of(half * steps->half_up, phase + steps->half_beat);
    both[1] = middle * conj(steps->up) * sinc_of(half * conj(steps->half_up), phase - steps->half_beat);
}

static double size_of(double _Complex c)
{
    return sqrt(creal(c) * creal(c) + cimag(c) * cimag(c));
}

/* The most that exp(i a s) integrates to over any part of a length. */
static double most_of(double a, double length)
{
    return 2 < fabs(a) * length ? 2 / fabs(a) : length;
}

double ww_beat_add(const struct ww_beat_segment *of, double beat, size_t n, double _Complex *cosine,
                   double _Complex *sine)
{
    size_t row = n / 2 + 1;
    int most = (int)(n - 1) / 2;
    bool alike = of->leg[0].start == of->leg[1].start && of->leg[0].length == of->leg[1].length;
    struct span_steps steps[2] = {span_steps(of, of->leg[0], beat), span_steps(of, of->leg[1], beat)};
    double ax = 2 * WW_PI * of->ux / of->lx, ay = 2 * WW_PI * of->uy / of->ly, bound = 0;
    for (size_t w = alike ? 0 : 1; w < of->harmonics; w++) {
        struct ww_order order = of->order[w];
        double _Complex one = of->unit * of->slowness[0][w], two = of->unit * of->slowness[1][w], first[2], second[2];
        if (order.m > most || abs(order.l) > most)
            continue;
        integrals(&steps[0], order, first);
        if (alike) {
            first[0] *= one - two;
            first[1] *= one - two;
        } else {
            integrals(&steps[1], order, second);
            first[0] = first[0] * one - second[0] * two;
            first[1] = first[1] * one - second[1] * two;
        }
        size_t place = (size_t)(order.l < 0 ? order.l + (int)n : order.l) * row + (size_t)order.m;
        cosine[place] += 0.5 * (first[0] + first[1]);
        sine[place] += -0.5 * I * (first[0] - first[1]);
        double a = order.m * ax + order.l * ay;
        bound += size_of(one - two) * (order.m ? most_of(a + beat, of->length) + most_of(a - beat, of->length)
                                               : most_of(a + beat, of->length));
    }
    return bound;
}
