/* figure/ticks.c - round ticks, and the unit an axis is labelled in.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/ticks.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "core/decimal.h"

#define MINUS "\xe2\x88\x92" /* U+2212 */

/* A value this close to a whole number of steps sits on the tick: rounding of the ends must not drop it. */
#define ON_TICK 1e-6

static int places_for(double step)
{
    int exponent = (int)floor(log10(step) + ON_TICK);

    if (exponent < -6 || exponent > 6)
        return -1;
    return exponent < 0 ? -exponent : 0;
}

struct ww_ticks ww_ticks_choose(double low, double high, int most)
{
    static const double mantissa[] = {1, 2, 5, 10};
    double span = high - low;
    double decade = pow(10, floor(log10(span / most)));
    struct ww_ticks ticks = {0, 0, 0, 0};

    for (size_t i = 0; i < 8; i++) {
        double step = mantissa[i % 4] * (i < 4 ? decade : 10 * decade);
        double from = ceil(low / step - ON_TICK), to = floor(high / step + ON_TICK);
        if (to - from + 1 > most)
            continue;
        ticks.first = from * step;
        ticks.step = step;
        ticks.count = (int)(to - from + 1);
        ticks.places = places_for(step);
        break;
    }
    return ticks;
}

double ww_tick_value(const struct ww_ticks *ticks, int i)
{
    double value = (round(ticks->first / ticks->step) + i) * ticks->step;
    return value == 0 ? 0 : value; /* no negative zero */
}

/* Text of a number with its ASCII minus, if any, in front replaced by a true one. */
static char *with_minus(char *out, size_t size, const char *number)
{
    bool negative = number[0] == '-';
    (void)snprintf(out, size, "%s%s", negative ? MINUS : "", number + (negative ? 1 : 0));
    return out;
}

char *ww_tick_label(const struct ww_ticks *ticks, int i, char *out, size_t size)
{
    char number[64];
    double value = ww_tick_value(ticks, i);

    if (value == 0)
        (void)snprintf(number, sizeof number, "0");
    else if (ticks->places < 0)
        ww_decimal_general(number, sizeof number, value, 6);
    else
        ww_decimal_fixed(number, sizeof number, value, ticks->places);
    return with_minus(out, size, number);
}

struct ww_unit ww_unit_length(double largest)
{
    return largest < 0.9995e-3 ? (struct ww_unit){1e-6, "\xc2\xb5m"} : (struct ww_unit){1e-3, "mm"};
}

struct ww_unit ww_unit_time(double largest)
{
    if (largest >= 0.9995e-9)
        return (struct ww_unit){1e-9, "ns"};
    return largest < 0.09995e-12 ? (struct ww_unit){1e-15, "fs"} : (struct ww_unit){1e-12, "ps"};
}

char *ww_value_label(char *out, size_t size, double value, int plus)
{
    char number[64], signed_number[80];
    double magnitude = fabs(value);

    if (magnitude < 5e-4)
        (void)snprintf(number, sizeof number, "0");
    else if (magnitude >= 99999.5)
        ww_decimal_general(number, sizeof number, value, 4);
    else
        ww_decimal_fixed(number, sizeof number, value,
                         magnitude < 0.0995  ? 3
                         : magnitude < 9.995 ? 2
                         : magnitude < 99.95 ? 1
                                             : 0);
    with_minus(signed_number, sizeof signed_number, number);
    (void)snprintf(out, size, "%s%s", plus && value > 0 && strcmp(number, "0") != 0 ? "+" : "", signed_number);
    return out;
}

char *ww_size_label(char *out, size_t size, double value, int digits)
{
    char number[64];
    return with_minus(out, size, ww_decimal_general(number, sizeof number, value, digits));
}

char *ww_time_label(char *out, size_t size, double seconds)
{
    struct ww_unit unit = ww_unit_time(fabs(seconds));
    char number[80];

    (void)snprintf(out, size, "%s %s", ww_size_label(number, sizeof number, seconds / unit.worth, 4), unit.name);
    return out;
}

char *ww_time_round_label(char *out, size_t size, double seconds)
{
    struct ww_unit unit = ww_unit_time(fabs(seconds));
    char number[80];
    double shown = seconds / unit.worth;

    if (shown > 0 && shown < 5e-4)
        (void)snprintf(out, size, "under 0.001 %s", unit.name);
    else
        (void)snprintf(out, size, "%s %s", ww_value_label(number, sizeof number, shown, 0), unit.name);
    return out;
}

char *ww_length_label(char *out, size_t size, double metres)
{
    struct ww_unit unit = ww_unit_length(fabs(metres));
    char number[80];

    (void)snprintf(out, size, "%s %s", ww_size_label(number, sizeof number, metres / unit.worth, 4), unit.name);
    return out;
}
