/* Numbers with units: every unit, every refusal, any locale, and back again.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

/* A double within one rounding of want: the conversion is a multiplication and a division. */
#define ONE_ROUNDING 2.3e-16

static void every_unit_is_worth_what_its_definition_says(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum ww_dimension dimension;
        double want;
    } row[] = {
        {"3.25", WW_PURE, 3.25},
        {"-0", WW_PURE, 0},
        {"0.57", WW_FRACTION, 0.57},
        {"57 %", WW_FRACTION, 0.57},
        {"57%", WW_FRACTION, 0.57},
        {"2 m", WW_LENGTH, 2},
        {"50 mm", WW_LENGTH, 50e-3},
        {"100 um", WW_LENGTH, 100e-6},
        {"100um", WW_LENGTH, 100e-6},
        {"100 \xC2\xB5m", WW_LENGTH, 100e-6},
        {"100 \xCE\xBCm", WW_LENGTH, 100e-6},
        {"100\tum ", WW_LENGTH, 100e-6},
        {"350 nm", WW_LENGTH, 350e-9},
        {"5 mil", WW_LENGTH, 127e-6},
        {"2 in", WW_LENGTH, 50.8e-3},
        {"180 deg", WW_ANGLE, WW_PI},
        {"-2.5 deg", WW_ANGLE, -2.5 * WW_PI / 180},
        {"1.5 rad", WW_ANGLE, 1.5},
        {"1 s", WW_TIME, 1},
        {"3 ns", WW_TIME, 3e-9},
        {"2 ps", WW_TIME, 2e-12},
        {"7 fs", WW_TIME, 7e-15},
        {"50 Hz", WW_FREQUENCY, 50},
        {"9 kHz", WW_FREQUENCY, 9e3},
        {"13.56 MHz", WW_FREQUENCY, 13.56e6},
        {"28 GHz", WW_FREQUENCY, 28e9},
        {"0.3 THz", WW_FREQUENCY, 0.3e12},
        {"9600 b/s", WW_RATE, 9600},
        {"64 kb/s", WW_RATE, 64e3},
        {"100 Mb/s", WW_RATE, 100e6},
        {"112 Gb/s", WW_RATE, 112e9},
        {"60 /in", WW_COUNT, 60 / 25.4e-3},
        {"60/in", WW_COUNT, 60 / 25.4e-3},
        {"24 /cm", WW_COUNT, 2400},
        {"2.4 /mm", WW_COUNT, 2400},
        {"2400 /m", WW_COUNT, 2400},
        {"11.2 tex", WW_LINEAR_DENSITY, 11.2e-6},
        {"112 dtex", WW_LINEAR_DENSITY, 11.2e-6},
        {"9 den", WW_LINEAR_DENSITY, 1e-6},
        {"11.2 g/km", WW_LINEAR_DENSITY, 11.2e-6},
        {"2.58 g/cm3", WW_DENSITY, 2580},
        {"2580 kg/m3", WW_DENSITY, 2580},
        {"48 g/m2", WW_AREAL_WEIGHT, 0.048},
        {"0.048 kg/m2", WW_AREAL_WEIGHT, 0.048},
        /* 1 oz/yd2 = 0.45359237 kg / 16 / (0.9144 m)^2, both factors exact by definition */
        {"1 oz/yd2", WW_AREAL_WEIGHT, 0.45359237 / 16 / (0.9144 * 0.9144)},
        {"64 B", WW_MEMORY_SIZE, 64},
        {"2 kB", WW_MEMORY_SIZE, 2e3},
        {"500 MB", WW_MEMORY_SIZE, 5e8},
        {"1.5 GB", WW_MEMORY_SIZE, 1.5e9},
        {"-20 dB", WW_LEVEL, -20},
        {"-40 degC", WW_TEMPERATURE, -40},
        {"16 ppm/degC", WW_PER_DEGREE, 16e-6},
        {"4 mils", WW_LENGTH, 101.6e-6},
        {"1 oz", WW_COPPER, 35e-6},
        {"18 um", WW_COPPER, 18e-6},
        {"180 degrees", WW_ANGLE, WW_PI},
        {"1 degree", WW_ANGLE, WW_PI / 180},
        {"90\xC2\xB0", WW_ANGLE, WW_PI / 2},
        {"112 Gbps", WW_RATE, 112e9},
        {"10.3125 Gbit/s", WW_RATE, 10.3125e9},
        {"480 Mbps", WW_RATE, 480e6},
        {"0.1 UI", WW_UNIT_INTERVAL, 0.1},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double si = -1;
        struct ww_error error = {0};
        assert_ok(ww_number_parse(row[i].text, row[i].dimension, &si, &error), error);
        assert_close(si, row[i].want, 2 * ONE_ROUNDING, 0);
    }
}

static void decimal_units_give_the_double_a_programmer_writes(void **state)
{
    (void)state;
    double si = 0;
    for (int i = 1; i < 2000; i++) {
        char text[32];
        char same[32];
        snprintf(text, sizeof text, "%d um", i);
        snprintf(same, sizeof same, "%de-6", i);
        assert_int_equal(ww_number_parse(text, WW_LENGTH, &si, NULL), WW_OK);
        assert_true(si == strtod(same, NULL));
    }
}

static void decimal_forms_are_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double want;
    } row[] = {{"1e3", 1000}, {"1E+3", 1000},   {"25e-1", 2.5}, {".5", 0.5}, {"5.", 5},
               {"+7", 7},     {"-7.25", -7.25}, {"000012", 12}, {" 12 ", 12}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double si = -1;
        struct ww_error error = {0};
        assert_ok(ww_number_parse(row[i].text, WW_PURE, &si, &error), error);
        assert_close(si, row[i].want, 0, 0);
    }
}

static void refused(const char *text, enum ww_dimension dimension, const char *part)
{
    double si = 42;
    struct ww_error error = {0};
    if (ww_number_parse(text, dimension, &si, &error) != WW_MALFORMED)
        fail_msg("\"%s\" was not refused", text);
    assert_int_equal(error.status, WW_MALFORMED);
    assert_close(si, 0, 0, 0); /* outputs are zeroed */
    assert_contains(error.text, part);
    assert_null(strchr(error.text, '\n'));
    assert_int_equal(ww_number_parse(text, dimension, &si, NULL), WW_MALFORMED);
}

static void what_is_no_plain_finite_decimal_is_refused(void **state)
{
    (void)state;
    static const char *const text[] = {"",       " ",        "nan",        "NaN um", "inf",   "-inf um", "infinity",
                                       "0x10",   "0x1p3",    "0X1 um",     "um",     "e5",    ".",       "-",
                                       "--5",    "+-5",      "- 5",        "1,5",    "1.2.3", "1e400",   "-1e400",
                                       "1e-400", "1e308 in", "\xC2\xA0 5", "five",   "1e301", "nan(1)",  "1_000"};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
        for (int d = 0; d < WW_DIMENSIONS; d++) {
            double si = 42;
            if (ww_number_parse(text[i], (enum ww_dimension)d, &si, NULL) == WW_OK)
                fail_msg("\"%s\" was taken for %g", text[i], si);
            assert_close(si, 0, 0, 0);
        }
    refused("1e400", WW_PURE, "out of range");
    refused("nan", WW_PURE, "not a number");
}

static void a_missing_or_wrong_unit_is_refused_with_the_right_ones(void **state)
{
    (void)state;
    refused("100", WW_LENGTH, "lacks its unit; a length is given in nm, um, mm, m, mil or in");
    refused("0", WW_LENGTH, "lacks its unit");
    refused("100 ps", WW_LENGTH, "\"ps\" is not a unit for a length; give it in nm, um, mm, m, mil or in");
    refused("100 UM", WW_LENGTH, "\"UM\" is not a unit");
    refused("5 inches", WW_LENGTH, "\"inches\" is not a unit");
    refused("1 oz", WW_LENGTH, "\"oz\" is not a unit");
    refused("0,5 mm", WW_LENGTH, "decimal comma; write a point, as in 0.5");
    refused("3 um2", WW_LENGTH, "\"um2\" is not a unit");
    refused("10", WW_ANGLE, "deg or rad");
    refused("28", WW_FREQUENCY, "GHz");
    refused("112 GHz", WW_RATE, "Gb/s");
    refused("112 Gb/s", WW_FREQUENCY, "GHz");
    refused("60", WW_COUNT, "/in");
    refused("60 in", WW_COUNT, "/in");
    refused("11.2", WW_LINEAR_DENSITY, "tex");
    refused("2.58", WW_DENSITY, "g/cm3");
    refused("48", WW_AREAL_WEIGHT, "g/m2");
    refused("2", WW_MEMORY_SIZE, "GB");
    refused("2 Gb", WW_MEMORY_SIZE, "GB");
    refused("-20", WW_LEVEL, "dB");
    refused("-40", WW_TEMPERATURE, "degC");
    refused("2", WW_TIME, "ps");
    refused("3.2um", WW_PURE, "leave the unit out");
    refused("3.2 um", WW_PURE, "\"um\" is left over");
    refused("57 um", WW_FRACTION, "\"um\" is left over");
    refused("100 um dk=3", WW_LENGTH, "\"dk=3\" is left over");
    refused("100 um 200 um", WW_LENGTH, "left over");
}

static void a_hostile_value_is_shown_by_its_beginning_only(void **state)
{
    (void)state;
    enum { LENGTH = 100000 };
    char *text = malloc(LENGTH + 1);
    assert_non_null(text);
    memset(text, 'x', LENGTH);
    text[LENGTH] = '\0';
    refused(text, WW_LENGTH, "not a number");
    text[0] = '1';
    refused(text, WW_LENGTH, "is not a unit");
    memset(text, '9', LENGTH);
    refused(text, WW_PURE, "out of range");
    text[1] = '.'; /* a long tail of digits is a fine number */
    double si = 0;
    assert_int_equal(ww_number_parse(text, WW_PURE, &si, NULL), WW_OK);
    assert_close(si, 10, ONE_ROUNDING, 0);
    free(text);
}

static void a_prefix_ends_behind_the_unit(void **state)
{
    (void)state;
    const char *end = NULL;
    double si = 0;
    const char *text = "100 um dk=3.0 df=0.001";
    assert_int_equal(ww_number_parse_prefix(text, WW_LENGTH, &si, &end, NULL), WW_OK);
    assert_close(si, 100e-6, 0, 0);
    assert_string_equal(end, " dk=3.0 df=0.001");
    text = "3.5 df=0.02";
    assert_int_equal(ww_number_parse_prefix(text, WW_PURE, &si, &end, NULL), WW_OK);
    assert_close(si, 3.5, 0, 0);
    assert_string_equal(end, " df=0.02");
    text = "63 %, by weight";
    assert_int_equal(ww_number_parse_prefix(text, WW_FRACTION, &si, &end, NULL), WW_OK);
    assert_close(si, 0.63, ONE_ROUNDING, 0);
    assert_string_equal(end, ", by weight");
    text = "3.5df=0.02";
    assert_int_equal(ww_number_parse_prefix(text, WW_PURE, &si, &end, NULL), WW_MALFORMED);
    assert_ptr_equal(end, text);
}

static void formatted(double si, enum ww_dimension dimension, int digits, const char *want)
{
    char text[64];
    assert_string_equal(ww_number_format(text, sizeof text, si, dimension, digits), want);
}

static void formats_are_what_people_would_write(void **state)
{
    (void)state;
    formatted(52e-6, WW_LENGTH, 4, "52 um");
    formatted(52.346e-6, WW_LENGTH, 4, "52.35 um");
    formatted(50e-3, WW_LENGTH, 6, "50 mm");
    formatted(0, WW_LENGTH, 4, "0 m");
    formatted(350e-9, WW_LENGTH, 3, "350 nm");
    formatted(999.96e-6, WW_LENGTH, 4, "1 mm"); /* rounds up into the next unit */
    formatted(1234, WW_LENGTH, 2, "1200 m");
    formatted(7e299, WW_LENGTH, 3, "7e+299 m"); /* beyond all numbers in nanometres */
    formatted(1.7976931348623157e308, WW_LENGTH, 3, "1.8e+308 m");
    formatted(-2.5 * WW_PI / 180, WW_ANGLE, 6, "-2.5 deg");
    formatted(1.9e-12, WW_TIME, 3, "1.9 ps");
    formatted(112e9, WW_RATE, 4, "112 Gb/s");
    formatted(28e9, WW_FREQUENCY, 4, "28 GHz");
    formatted(60 / 25.4e-3, WW_COUNT, 5, "60 /in");
    formatted(11.2e-6, WW_LINEAR_DENSITY, 4, "11.2 tex");
    formatted(2580, WW_DENSITY, 4, "2.58 g/cm3");
    formatted(0.048, WW_AREAL_WEIGHT, 3, "48 g/m2");
    formatted(2e9, WW_MEMORY_SIZE, 3, "2 GB");
    formatted(-20.5, WW_LEVEL, 3, "-20.5 dB");
    formatted(0.63, WW_FRACTION, 3, "63 %");
    formatted(3.2, WW_PURE, 4, "3.2");
    formatted(0.0001, WW_PURE, 4, "0.0001");
    formatted(1e30, WW_PURE, 2, "1e+30");
}

static void a_format_never_overruns_its_buffer(void **state)
{
    (void)state;
    char text[8] = "zzzzzzz";
    ww_number_format(text, 4, 123456e-6, WW_LENGTH, 9);
    assert_int_equal(text[3], '\0');
    assert_int_equal(text[4], 'z');
}

/* A generator of our own keeps the cases the same everywhere (Knuth's MMIX constants). */
static double next_uniform(uint64_t *seed)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(*seed >> 11) / 9007199254740992.0;
}

static void formats_read_back_to_the_digits_shown(void **state)
{
    (void)state;
    uint64_t seed = 1;
    for (int i = 0; i < 20000; i++) {
        enum ww_dimension dimension = (enum ww_dimension)(i % WW_DIMENSIONS);
        int digits = 1 + i % 17;
        double si = pow(10, -18 + 36 * next_uniform(&seed)) * (i % 3 == 0 ? -1 : 1);
        char text[64];
        double back = 0;
        struct ww_error error = {0};
        ww_number_format(text, sizeof text, si, dimension, digits);
        assert_ok(ww_number_parse(text, dimension, &back, &error), error);
        assert_close(back, si, 0.5001 * pow(10, 1 - digits) + 4 * ONE_ROUNDING, 0);
    }
}

/* Make a locale with a decimal comma in a folder of our own; skipped where its sources are not installed. */
static void a_decimal_comma_of_the_locale_changes_nothing(void **state)
{
    (void)state;
    char folder[] = "/tmp/weftwise-locale-XXXXXX";
    char command[256];
    assert_non_null(mkdtemp(folder));
    snprintf(command, sizeof command, "localedef --no-archive -i de_DE -f UTF-8 %s/de_DE.UTF-8 >%s/log 2>&1", folder,
             folder);
    bool made = system(command) == 0;
    setenv("LOCPATH", folder, 1);
    bool set = made && setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
    double point = -1;
    double comma = -1;
    char text[64] = "";
    char library[64] = "";
    enum ww_status with_point = ww_number_parse("2.5 mm", WW_LENGTH, &point, NULL);
    enum ww_status with_comma = ww_number_parse("2,5 mm", WW_LENGTH, &comma, NULL);
    ww_number_format(text, sizeof text, 2.5e-3, WW_LENGTH, 4);
    snprintf(library, sizeof library, "%.1f", 2.5);
    bool kept = set && strcmp(setlocale(LC_ALL, NULL), "de_DE.UTF-8") == 0;
    setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
    if (!set)
        skip();
    assert_true(kept);                   /* the library does not touch it */
    assert_string_equal(library, "2,5"); /* the locale was really there */
    assert_int_equal(with_point, WW_OK);
    assert_close(point, 2.5e-3, 0, 0);
    assert_int_equal(with_comma, WW_MALFORMED);
    assert_string_equal(text, "2.5 mm");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_unit_is_worth_what_its_definition_says),
        cmocka_unit_test(decimal_units_give_the_double_a_programmer_writes),
        cmocka_unit_test(decimal_forms_are_read),
        cmocka_unit_test(what_is_no_plain_finite_decimal_is_refused),
        cmocka_unit_test(a_missing_or_wrong_unit_is_refused_with_the_right_ones),
        cmocka_unit_test(a_hostile_value_is_shown_by_its_beginning_only),
        cmocka_unit_test(a_prefix_ends_behind_the_unit),
        cmocka_unit_test(formats_are_what_people_would_write),
        cmocka_unit_test(a_format_never_overruns_its_buffer),
        cmocka_unit_test(formats_read_back_to_the_digits_shown),
        cmocka_unit_test(a_decimal_comma_of_the_locale_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
