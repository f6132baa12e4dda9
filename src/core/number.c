/* number.c - the one place where text with a unit becomes a number in SI, and back.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Method. The C library's strtod takes too much ("nan", "0x1p-3", the decimal comma of some locales, "1e999"
 * as infinity), so the extent of the number is found here by hand, strtod then runs on that extent in the "C"
 * locale of this thread only, and its end has to be ours. Each unit is a ratio of two numbers that double
 * holds exactly wherever the unit is decimal: "100 um" is 100/1e6, correctly rounded, the same double as the
 * 1e-4 a programmer would write; 100*1e-6 is not.
 *
 * Sources. inch = 25.4 mm, pound = 0.45359237 kg (both exact by definition, international yard and pound
 * agreement, 1959); ounce = pound/16; yard = 0.9144 m; tex = 1 g/km, denier = 1 g / 9 km (ISO 1144).
 */
#include "core/decimal.h"
#include "weftwise/core.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct unit {
    const char *name;
    double times, per; /* si = number * times / per */
    bool shown;        /* may be chosen by ww_number_format; these ascend in size */
    bool alias;        /* another spelling: read, not listed in messages */
};

static const struct unit fraction_units[] = {{"%", 1, 100, true, false}, {0}};
#define LENGTHS                                                                                                      \
    {"nm", 1, 1e9, true, false}, {"um", 1, 1e6, true, false}, {"mm", 1, 1e3, true, false}, {"m", 1, 1, true, false}, \
        {"mil", 254, 1e7, false, false},                                                                             \
    {                                                                                                                \
        "in", 254, 1e4, false, false                                                                                 \
    }
#define OTHER_LENGTHS                                                                                                \
    {"mils", 254, 1e7, false, true}, {"\xC2\xB5m", 1, 1e6, false, true}, {"\xCE\xBCm", 1, 1e6, false, true},         \
    {                                                                                                                \
        0                                                                                                            \
    }
static const struct unit length_units[] = {LENGTHS, OTHER_LENGTHS};
/* An ounce of copper to the square foot is 35 um thick: common practice, no source (at 8.93 g/cm3 it is 34.2 um). */
static const struct unit copper_units[] = {LENGTHS, {"oz", 35, 1e6, false, false}, OTHER_LENGTHS};
static const struct unit angle_units[] = {{"deg", WW_PI, 180, true, false},      {"rad", 1, 1, false, false},
                                          {"\xC2\xB0", WW_PI, 180, false, true}, {"degree", WW_PI, 180, false, true},
                                          {"degrees", WW_PI, 180, false, true},  {0}};
static const struct unit interval_units[] = {{"UI", 1, 1, true, false}, {0}};
static const struct unit time_units[] = {{"fs", 1, 1e15, true, false},
                                         {"ps", 1, 1e12, true, false},
                                         {"ns", 1, 1e9, true, false},
                                         {"s", 1, 1, true, false},
                                         {0}};
static const struct unit frequency_units[] = {{"Hz", 1, 1, true, false},     {"kHz", 1e3, 1, true, false},
                                              {"MHz", 1e6, 1, true, false},  {"GHz", 1e9, 1, true, false},
                                              {"THz", 1e12, 1, true, false}, {0}};
static const struct unit rate_units[] = {
    {"b/s", 1, 1, true, false},      {"kb/s", 1e3, 1, true, false},   {"Mb/s", 1e6, 1, true, false},
    {"Gb/s", 1e9, 1, true, false},   {"Mbps", 1e6, 1, false, true},   {"Gbps", 1e9, 1, false, true},
    {"Mbit/s", 1e6, 1, false, true}, {"Gbit/s", 1e9, 1, false, true}, {0}};
static const struct unit count_units[] = {{"/in", 1e4, 254, true, false},
                                          {"/cm", 100, 1, false, false},
                                          {"/mm", 1000, 1, false, false},
                                          {"/m", 1, 1, false, false},
                                          {0}};
static const struct unit linear_density_units[] = {{"tex", 1, 1e6, true, false},
                                                   {"dtex", 1, 1e7, false, false},
                                                   {"den", 1, 9e6, false, false},
                                                   {"g/km", 1, 1e6, false, false},
                                                   {0}};
static const struct unit density_units[] = {{"g/cm3", 1000, 1, true, false}, {"kg/m3", 1, 1, false, false}, {0}};
static const struct unit areal_weight_units[] = {{"g/m2", 1, 1000, true, false},
                                                 {"kg/m2", 1, 1, false, false},
                                                 {"oz/yd2", 28.349523125, 836.12736, false, false},
                                                 {0}};

static const struct unit memory_units[] = {{"B", 1, 1, true, false},
                                           {"kB", 1e3, 1, true, false},
                                           {"MB", 1e6, 1, true, false},
                                           {"GB", 1e9, 1, true, false},
                                           {0}};

static const struct unit conductivity_units[] = {{"S/m", 1, 1, true, false}, {"MS/m", 1e6, 1, true, false}, {0}};

static const struct unit level_units[] = {{"dB", 1, 1, true, false}, {0}};
static const struct unit temperature_units[] = {{"degC", 1, 1, true, false}, {0}};
static const struct unit per_degree_units[] = {{"ppm/degC", 1, 1e6, true, false}, {0}};

static const struct {
    const char *name;
    const struct unit *unit; /* NULL: none allowed */
    bool bare_allowed;       /* a number without a unit is right too */
} dimensions[WW_DIMENSIONS] = {
    [WW_PURE] = {"a plain number", NULL, true},
    [WW_FRACTION] = {"a fraction", fraction_units, true},
    [WW_LENGTH] = {"a length", length_units, false},
    [WW_ANGLE] = {"an angle", angle_units, false},
    [WW_TIME] = {"a time", time_units, false},
    [WW_FREQUENCY] = {"a frequency", frequency_units, false},
    [WW_RATE] = {"a rate", rate_units, false},
    [WW_COUNT] = {"a yarn count", count_units, false},
    [WW_LINEAR_DENSITY] = {"a linear density", linear_density_units, false},
    [WW_DENSITY] = {"a density", density_units, false},
    [WW_AREAL_WEIGHT] = {"an areal weight", areal_weight_units, false},
    [WW_MEMORY_SIZE] = {"a size of memory", memory_units, false},
    [WW_LEVEL] = {"a level", level_units, false},
    [WW_CONDUCTIVITY] = {"a conductivity", conductivity_units, false},
    [WW_TEMPERATURE] = {"a temperature", temperature_units, false},
    [WW_PER_DEGREE] = {"a coefficient of temperature", per_degree_units, false},
    [WW_COPPER] = {"a copper thickness", copper_units, false},
    [WW_UNIT_INTERVAL] = {"a share of the unit interval", interval_units, false},
};

/* --- reading ------------------------------------------------------------------------------------------ */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* May c stand inside a word that is a unit? A unit ends where this is false. */
static bool is_unit_character(char c)
{
    unsigned char u = (unsigned char)c;
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || is_digit(c) || c == '/' || c == '%' || c == '_' ||
           c == '^' || c == '.' || c == '+' || c == '-' || u >= 0x80u;
}

static const char *skip_blanks(const char *p)
{
    while (is_blank(*p))
        p++;
    return p;
}

static const char *skip_digits(const char *p)
{
    while (is_digit(*p))
        p++;
    return p;
}

/* Where the decimal number at p ends; p itself if there is none. */
static const char *decimal_end(const char *p)
{
    const char *start = p;
    if (*p == '+' || *p == '-')
        p++;
    const char *whole = p;
    p = skip_digits(p);
    size_t digits = (size_t)(p - whole);
    if (*p == '.') {
        const char *part = p + 1;
        p = skip_digits(part);
        digits += (size_t)(p - part);
    }
    if (digits == 0)
        return start;
    if (*p == 'e' || *p == 'E') {
        const char *power = p + 1;
        if (*power == '+' || *power == '-')
            power++;
        if (is_digit(*power))
            p = skip_digits(power);
    }
    return p;
}

/* strtod as the "C" locale has it, whatever the caller's locale is. */
static double read_decimal(const char *text, char **end)
{
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    locale_t before = plain != (locale_t)0 ? uselocale(plain) : (locale_t)0;
    errno = 0;
    double value = strtod(text, end);
    int failure = errno;
    if (plain != (locale_t)0) {
        uselocale(before);
        freelocale(plain);
    }
    errno = failure;
    return value;
}

/* The unit whose name is exactly the word of that length at p. */
static const struct unit *find_unit(const struct unit *unit, const char *p, size_t length)
{
    for (; unit != NULL && unit->name != NULL; unit++)
        if (strlen(unit->name) == length && strncmp(unit->name, p, length) == 0)
            return unit;
    return NULL;
}

/* "one of nm, um, mm, m, mil or in" */
static void list_units(char *out, size_t size, const struct unit *unit)
{
    size_t used = 0;
    out[0] = '\0';
    for (const struct unit *u = unit; u->name != NULL && !u->alias && used < size; u++) {
        bool last = u[1].name == NULL || u[1].alias;
        const char *joint = u == unit ? "" : last ? " or " : ", ";
        int wrote = snprintf(out + used, size - used, "%s%s", joint, u->name);
        used += wrote > 0 ? (size_t)wrote : 0;
    }
}

/* Long hostile values are shown by their beginning. */
enum { SHOWN_BYTES = 60 };

static enum ww_status refuse_unit(const char *text, const char *word, size_t length, enum ww_dimension dimension,
                                  struct ww_error *error)
{
    char list[80];
    const char *name = dimensions[dimension].name;
    const struct unit *unit = dimensions[dimension].unit;
    if (unit == NULL)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\" is not a plain number; leave the unit out",
                            SHOWN_BYTES, text);
    list_units(list, sizeof list, unit);
    if (length == 0)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\" lacks its unit; %s is given in %s", SHOWN_BYTES,
                            text, name, list);
    int shown = length < SHOWN_BYTES ? (int)length : SHOWN_BYTES;
    return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\": \"%.*s\" is not a unit for %s; give it in %s%s",
                        SHOWN_BYTES, text, shown, word, name, list,
                        dimensions[dimension].bare_allowed ? " or without a unit" : "");
}

enum ww_status ww_number_parse_prefix(const char *text, enum ww_dimension dimension, double *si, const char **end,
                                      struct ww_error *error)
{
    *si = 0;
    *end = text;
    const char *start = skip_blanks(text);
    const char *stop = decimal_end(start);
    if (stop == start)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\" is not a number; give %s in plain decimals",
                            SHOWN_BYTES, text, dimensions[dimension].name);

    if (*stop == ',' && is_digit(stop[1]))
        return ww_error_set(
            error, WW_MALFORMED, NULL, 0,
            "\"%.*s\" has a decimal comma; write a point, as in %.*s.%.*s, and no sign between thousands",
            SHOWN_BYTES, text, stop - start < SHOWN_BYTES ? (int)(stop - start) : SHOWN_BYTES, start, 1, stop + 1);

    const char *word = skip_blanks(stop);
    size_t length = 0;
    while (is_unit_character(word[length]))
        length++;
    const struct unit *unit = find_unit(dimensions[dimension].unit, word, length);
    if (unit == NULL && length > 0 && dimensions[dimension].bare_allowed && word > stop)
        length = 0; /* "3.5 df=0.01": a plain number, then something else */
    if (unit == NULL && (length > 0 || !dimensions[dimension].bare_allowed))
        return refuse_unit(text, word, length, dimension, error);

    char *reached = NULL;
    double number = read_decimal(start, &reached);
    if (reached != stop)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\" is not a number; give %s in plain decimals",
                            SHOWN_BYTES, text, dimensions[dimension].name);
    bool out_of_range = errno == ERANGE;
    double value = unit != NULL ? number * unit->times / unit->per : number;
    if (out_of_range || !(fabs(value) <= 1e300) || (number != 0 && fabs(value) < 1e-300))
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "\"%.*s\" is out of range; give a size between 1e-300 and 1e300 in SI", SHOWN_BYTES,
                            text);
    *si = value;
    *end = unit != NULL ? word + length : stop;
    return WW_OK;
}

enum ww_status ww_number_parse(const char *text, enum ww_dimension dimension, double *si, struct ww_error *error)
{
    const char *end = text;
    enum ww_status status = ww_number_parse_prefix(text, dimension, si, &end, error);
    if (status != WW_OK)
        return status;
    const char *rest = skip_blanks(end);
    if (*rest == '\0')
        return WW_OK;
    *si = 0;
    return ww_error_set(error, WW_MALFORMED, NULL, 0, "\"%.*s\": \"%.*s\" is left over behind %s; remove it",
                        SHOWN_BYTES, text, SHOWN_BYTES, rest, dimensions[dimension].name);
}

/* --- writing ------------------------------------------------------------------------------------------ */

static void drop_trailing_zeros(char *text)
{
    if (strchr(text, '.') == NULL)
        return;
    size_t length = strlen(text);
    while (length > 0 && text[length - 1] == '0')
        text[--length] = '\0';
    if (length > 0 && text[length - 1] == '.')
        text[length - 1] = '\0';
}

/* value, rounded to that many significant digits, without an exponent where that is readable. */
static double print_rounded(char *out, size_t size, double value, int digits)
{
    char *end = NULL;
    double rounded = read_decimal(ww_decimal_general(out, size, value, digits), &end);
    if (!isfinite(rounded)) /* in a unit too small for it */
        return rounded;
    int power = rounded != 0 ? (int)floor(log10(fabs(rounded)) + 1e-12) : 0;
    int decimals = digits - 1 - power;
    if (power < -6 || power > 14)
        return rounded;
    ww_decimal_fixed(out, size, rounded, decimals > 0 ? decimals : 0);
    drop_trailing_zeros(out);
    return rounded;
}

char *ww_number_format(char *out, size_t size, double si, enum ww_dimension dimension, int digits)
{
    char text[64];
    const struct unit *unit = dimensions[dimension].unit;
    digits = digits < 1 ? 1 : digits > 17 ? 17 : digits;
    if (!isfinite(si)) {
        snprintf(out, size, "%s", isnan(si) ? "nan" : si > 0 ? "inf" : "-inf");
        return out;
    }
    if (unit == NULL) {
        print_rounded(text, sizeof text, si, digits);
        snprintf(out, size, "%s", text);
        return out;
    }
    /* The first unit that needs at most three digits before the point; the base unit for a plain zero. */
    for (;; unit++) {
        double rounded = print_rounded(text, sizeof text, si * unit->per / unit->times, digits);
        bool larger = unit[1].name != NULL && unit[1].shown;
        if (!larger || (si != 0 && fabs(rounded) < 1000) || (si == 0 && unit->times == unit->per))
            break;
    }
    snprintf(out, size, "%s %s", text, unit->name);
    return out;
}
