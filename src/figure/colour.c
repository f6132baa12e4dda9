/* figure/colour.c - colours built in OKLab.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * OKLab (B. Ottosson, "A perceptual color space for image processing", 2020; matrices from memory, held by the
 * test that white maps to L = 1, a = b = 0) is close enough to uniform that "equal steps look equal" can be
 * designed by drawing a smooth path in it. Ours run through a few waypoints given as lightness, chroma and hue,
 * joined by Catmull-Rom cubics in (L, a, b); the waypoints' L is evenly spaced, which makes the cubic exactly
 * linear in L, so lightness is strictly monotone.
 *
 * Sequential: indigo, plum, copper, sand, cream. Light is high, as glass shines against its resin.
 * Diverging: two arms of equal lightness from one near-white, blue for negative and rust for positive: the pair
 * of hues that every common form of colour blindness keeps apart. Grey printing cannot keep the sign, so the
 * figure repeats it in solid and dashed contours.
 */
#include "figure/colour.h"

#include <math.h>
#include <stddef.h>

#include "weftwise/core.h"

struct waypoint {
    double lightness, chroma, hue; /* hue in degrees */
};

#define WAYPOINTS 5
static const struct waypoint sequential[WAYPOINTS] = {
    {0.24, 0.105, 285}, {0.42, 0.115, 325}, {0.60, 0.105, 35}, {0.78, 0.085, 70}, {0.96, 0.045, 98}};

#define ARM_WAYPOINTS 4
static const struct waypoint negative_arm[ARM_WAYPOINTS] = {
    {0.965, 0, 0}, {0.775, 0.075, 240}, {0.585, 0.110, 245}, {0.395, 0.105, 252}};
static const struct waypoint positive_arm[ARM_WAYPOINTS] = {
    {0.965, 0, 0}, {0.775, 0.088, 60}, {0.585, 0.125, 48}, {0.395, 0.105, 38}};

static const struct waypoint inks[WW_INKS] = {
    [WW_INK_PAPER] = {1.00, 0.00, 0},   [WW_INK_TEXT] = {0.25, 0.02, 270}, [WW_INK_QUIET] = {0.47, 0.02, 270},
    [WW_INK_GRID] = {0.89, 0.008, 270}, [WW_INK_LEG1] = {0.42, 0.13, 255}, [WW_INK_LEG2] = {0.68, 0.15, 55},
    [WW_INK_BODY] = {0.70, 0.06, 250},  [WW_INK_ALARM] = {0.52, 0.19, 22}, [WW_INK_NAN] = {0.00, 0.00, 0}};

struct ww_linear_rgb ww_oklab_to_linear(struct ww_oklab c)
{
    double l = c.l + 0.3963377774 * c.a + 0.2158037573 * c.b;
    double m = c.l - 0.1055613458 * c.a - 0.0638541728 * c.b;
    double s = c.l - 0.0894841775 * c.a - 1.2914855480 * c.b;

    l = l * l * l;
    m = m * m * m;
    s = s * s * s;
    return (struct ww_linear_rgb){4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
                                  -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
                                  -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s};
}

struct ww_oklab ww_linear_to_oklab(struct ww_linear_rgb c)
{
    double l = cbrt(0.4122214708 * c.r + 0.5363325363 * c.g + 0.0514459929 * c.b);
    double m = cbrt(0.2119034982 * c.r + 0.6806995451 * c.g + 0.1073969566 * c.b);
    double s = cbrt(0.0883024619 * c.r + 0.2817188376 * c.g + 0.6299787005 * c.b);

    return (struct ww_oklab){0.2104542553 * l + 0.7936177850 * m - 0.0040720468 * s,
                             1.9779984951 * l - 2.4285922050 * m + 0.4505937099 * s,
                             0.0259040371 * l + 0.7827717662 * m - 0.8086757660 * s};
}

/* IEC 61966-2-1. */
static double encode_channel(double linear)
{
    if (!(linear > 0))
        return 0;
    if (linear >= 1)
        return 1;
    return linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1 / 2.4) - 0.055;
}

struct ww_rgb ww_rgb_encode(struct ww_linear_rgb c)
{
    return (struct ww_rgb){encode_channel(c.r), encode_channel(c.g), encode_channel(c.b)};
}

static struct ww_oklab place(struct waypoint w)
{
    double hue = w.hue * WW_PI / 180;
    return (struct ww_oklab){w.lightness, w.chroma * cos(hue), w.chroma * sin(hue)};
}

static struct ww_oklab mix(struct ww_oklab p, double wp, struct ww_oklab q, double wq)
{
    return (struct ww_oklab){wp * p.l + wq * q.l, wp * p.a + wq * q.a, wp * p.b + wq * q.b};
}

/* Slope of the Catmull-Rom cubic at waypoint i: the chord of its neighbours, one-sided at the ends. */
static struct ww_oklab slope(const struct waypoint *way, size_t count, size_t i)
{
    size_t before = i > 0 ? i - 1 : i, after = i + 1 < count ? i + 1 : i;
    double scale = 1.0 / (double)(after - before);
    return mix(place(way[after]), scale, place(way[before]), -scale);
}

static struct ww_oklab along(const struct waypoint *way, size_t count, double t)
{
    double s = t * (double)(count - 1);
    size_t i = s >= (double)(count - 2) ? count - 2 : (size_t)s;
    double u = s - (double)i, u2 = u * u, u3 = u2 * u;
    struct ww_oklab points = mix(place(way[i]), 2 * u3 - 3 * u2 + 1, place(way[i + 1]), 3 * u2 - 2 * u3);
    struct ww_oklab slopes = mix(slope(way, count, i), u3 - 2 * u2 + u, slope(way, count, i + 1), u3 - u2);

    return mix(points, 1, slopes, 1);
}

struct ww_oklab ww_ramp_oklab(enum ww_ramp ramp, double t)
{
    if (isnan(t))
        return ww_ink_oklab(WW_INK_NAN);
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    if (ramp == WW_RAMP_SEQUENTIAL)
        return along(sequential, WAYPOINTS, t);
    return t < 0.5 ? along(negative_arm, ARM_WAYPOINTS, 1 - 2 * t) : along(positive_arm, ARM_WAYPOINTS, 2 * t - 1);
}

struct ww_rgb ww_ramp_colour(enum ww_ramp ramp, double t)
{
    return ww_rgb_encode(ww_oklab_to_linear(ww_ramp_oklab(ramp, t)));
}

struct ww_oklab ww_ink_oklab(enum ww_ink ink)
{
    return place(inks[ink]);
}

struct ww_rgb ww_ink_colour(enum ww_ink ink)
{
    return ww_rgb_encode(ww_oklab_to_linear(ww_ink_oklab(ink)));
}
