/* options.c - the options: one table that parses them and explains them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "options.h"

#include <weftwise/sweep.h>

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

enum kind { FLAG, WORD, LIST, WHOLE, NUMBER, RANGE, FORMAT };
enum {
    SOLVING = MAP | SKEW | VERIFY | ANGLES | COMPARE | PITCH | BUDGET | FREQUENCY | CLOTH |
              REPORT, /* what works on a study */
    SWEEPING = ANGLES | COMPARE | FREQUENCY,
    JUDGING = SKEW | ANGLES | COMPARE | PITCH | BUDGET | CLOTH | REPORT, /* what has a budget to judge by */
    DRAWING = SOLVING | MEASURE,
    ALL = STYLES | NEW | DRAWING | RECALL
};

#define UM 1e-6
#define MM 1e-3
#define DEG (WW_PI / 180.0)
#define AT(field) offsetof(struct options, field)

/* An angle, a length, a size: the dimension and the limits, both allowed, are in SI; a whole number is pure. */
static const struct row {
    const char *name;
    char letter;
    const char *argument; /* NULL: none */
    const char *help;
    enum kind kind;
    size_t offset;
    enum ww_dimension dimension; /* of WHOLE, NUMBER and RANGE */
    double min, max;
    unsigned useful; /* commands it changes anything in */
    bool accepted;   /* by all others too, so that a script can give the same options to each */
} rows[] = {
    {"output", 'o', "DIR", "folder for the files; out/ and the study's (or picture's) name by default", WORD,
     AT(folder), 0, 0, 0, DRAWING, true},
    {"set", 0, "SECTION.KEY=VALUE",
     "change one setting of the study, as in --set 'trace.angle=10 deg'; of layers and segments with their number, "
     "as in 'stackup.layer.2=ply 1080 90 um'; may "
     "be repeated",
     LIST, 0, 0, 0, 0, SOLVING, true},
    {"from", 0, "ANGLE", "first routing angle, from the warp; 0 deg by default", NUMBER, AT(from), WW_ANGLE, -WW_PI,
     WW_PI, SWEEPING, false},
    {"to", 0, "ANGLE", "last routing angle; 90 deg by default", NUMBER, AT(to), WW_ANGLE, -WW_PI, WW_PI, SWEEPING,
     false},
    {"step", 0, "ANGLE",
     "from one angle to the next; where skew changes faster than that, more angles are added by themselves", NUMBER,
     AT(step), WW_ANGLE, 1e-6 * DEG, 45.0 * DEG, SWEEPING, false},
    {"to-length", 0, "LENGTH",
     "longest in the map of angle by length, three times the study's by default; of cloth 250 mm, or twice the "
     "study's",
     NUMBER, AT(to_length), WW_LENGTH, 10.0 * UM, 10.0, ANGLES | CLOTH, false},
    {"boards", 0, "N", "boards drawn at random; 48 by default", WHOLE, AT(boards), WW_PURE, 4, 10000, CLOTH, false},
    {"nets", 0, "N",
     "nets that lie anywhere on one panel, for the worst of them; the study's lanes by default, where they have no "
     "lane_pitch",
     WHOLE, AT(nets), WW_PURE, 2, 1000, CLOTH, false},
    {"ply", 0, "N",
     "change the glass of this ply only, and of those pressed with it, counted from the top; all by default", WHOLE,
     AT(ply), WW_PURE, 1, 256, COMPARE, false},
    {"same-dk", 0, NULL, "retune the resin of the changed plies so that their mean Dk stays", FLAG, AT(same_dk), 0, 0,
     0, COMPARE, false},
    {"pitch", 0, "FROM..TO", "pair pitches to try, as in '150 um..600 um'; about the study's by default", RANGE,
     AT(pitch), WW_LENGTH, 2.0 * UM, 20.0 * MM, PITCH, false},
    {"trace-width", 0, "FROM..TO", "trace widths to try, as in '75 um..200 um'; about the study's by default", RANGE,
     AT(trace_width), WW_LENGTH, 1.0 * UM, 10.0 * MM, PITCH, false},
    {"band", 0, "FROM..TO", "frequencies, as in '10 MHz..67 GHz'; to twice the signal's by default", RANGE, AT(band),
     WW_FREQUENCY, 1e4, 1e12, FREQUENCY, false},
    {"points", 0, "N", "how many frequencies; 1001 by default, or as many as the phase needs", WHOLE, AT(points),
     WW_PURE, 2, 1e6, FREQUENCY, false},
    {"placement", 0, "WHERE",
     "where the cloth lies: worst (by default), median, fastest, or 'X,Y', where the trace starts on every ply, as "
     "in "
     "'109 um,151 um'",
     WORD, AT(placement), 0, 0, 0, FREQUENCY, false},
    {"scale", 0, "LENGTH", "side of a pixel, as in '10 um'; a PNG's own scale (sCAL, pHYs) by default", NUMBER,
     AT(scale), WW_LENGTH, 1e-8, 1e-2, MEASURE, false},
    {"warp", 0, "vertical|horizontal", "how the warp runs on the picture; vertical by default", WORD, AT(warp), 0, 0,
     0, MEASURE, false},
    {"light", 0, "front|behind", "where the light stands: yarns are lighter than gaps by default, darker with behind",
     WORD, AT(light), 0, 0, 0, MEASURE, false},
    {"like", 0, "STYLE", "take yarns, thickness and glass, which no picture shows, from this style", WORD, AT(like),
     0, 0, 0, MEASURE, false},
    {"name", 0, "NAME", "of the style; the picture's by default", WORD, AT(name), 0, 0, 0, MEASURE, false},
    {"count", 0, "N", "files of S-parameters of so many placements drawn at random, the same each time", WHOLE,
     AT(count), WW_PURE, 1, 1000, FREQUENCY, false},
    {"lossless", 0, NULL,
     "leave out the loss of dielectric and copper, and what it does to delay: what is left is the cloth's", FLAG,
     AT(lossless), 0, 0, 0, FREQUENCY, false},
    {"gate", 0, NULL,
     "exit with 1 where the worst, turn of the cloth included, is over the budget; of budget and cloth, 99 of 100",
     FLAG, AT(gate), 0, 0, 0, JUDGING, false},
    {"halve", 0, NULL,
     "the table of what each cause halved, alone, would leave, and another angle, glass or pitch; solves those of "
     "angles, compare and pitch, too",
     FLAG, AT(halve), 0, 0, 0, BUDGET, false},
    {"check", 0, NULL, "solve 200 random corners of the causes in full, against their sum", FLAG, AT(check), 0, 0, 0,
     BUDGET, false},
    {"no-volume", 0, NULL, "leave out the volume of a period, which takes the longest", FLAG, AT(no_volume), 0, 0, 0,
     VERIFY, false},
    {"memory", 0, "SIZE", "most that the volume may take, as in '500 MB'; 2 GB by default", NUMBER, AT(memory),
     WW_MEMORY_SIZE, 1, 1e15, VERIFY, false},
    {"format", 0, "png|svg|pdf", "of the figures; png by default", FORMAT, AT(format), 0, 0, 0, DRAWING, true},
    {"width", 0, "PIXELS", "of the figures; 1600 by default", WHOLE, AT(width), WW_PURE, WW_FIGURE_NARROWEST,
     WW_FIGURE_WIDEST, DRAWING, false},
    {"dpi", 0, "N", "dots per inch of the figures: how large they print; 150 by default", WHOLE, AT(dpi), WW_PURE,
     WW_FIGURE_COARSEST, WW_FIGURE_FINEST, DRAWING, false},
    {"json", 0, NULL, "the result as JSON on standard output, and nothing else there", FLAG, AT(json), 0, 0, 0, ALL,
     true},
    {"weaves", 0, "DIR",
     "folder of styles and materials; else WEFTWISE_WEAVES, else the one beside the program or installed", WORD,
     AT(weaves), 0, 0, 0, STYLES | DRAWING, true},
    {"threads", 0, "N", "how many threads work; all the machine has by default, and the results are the same", WHOLE,
     AT(threads), WW_PURE, 1, 256, SOLVING, true},
    {"quiet", 'q', NULL, "no table and no progress, only the files", FLAG, AT(quiet), 0, 0, 0, NEW | DRAWING, true},
    {"help", 'h', NULL, "explain the command", FLAG, AT(help), 0, 0, 0, ALL | HELP, true},
    {"version", 0, NULL, "print the version", FLAG, AT(version), 0, 0, 0, ALL | HELP, true},
};
enum { ROWS = sizeof rows / sizeof *rows, NUMBER_TEXT = 48, VALUE_SIZE = 64 };

static unsigned long bit_of(const struct row *row)
{
    return 1ul << (row - rows);
}

/* --- parsing ---------------------------------------------------------------------------------------------------------- */

static const struct row *find_long(const char *name, size_t length)
{
    for (size_t i = 0; i < ROWS; i++)
        if (strlen(rows[i].name) == length && strncmp(rows[i].name, name, length) == 0)
            return &rows[i];
    return NULL;
}

static const struct row *find_letter(char letter)
{
    for (size_t i = 0; i < ROWS; i++)
        if (rows[i].letter == letter)
            return &rows[i];
    return NULL;
}

static enum outcome refuse(const char *argument)
{
    const char *names[ROWS];
    char word[64];
    for (size_t i = 0; i < ROWS; i++)
        names[i] = rows[i].name;
    snprintf(word, sizeof word, "%.*s", (int)strcspn(argument, "="), argument);
    const char *nearest = strncmp(word, "--", 2) == 0 ? ww_nearest_word(word + 2, names, ROWS) : NULL;
    if (nearest)
        return usage("option '%s' is not known; did you mean --%s?", word, nearest);
    return usage("option '%s' is not known; --help lists them all", word);
}

/* A number with its unit, within the limits of the row. */
static enum outcome take_number(const struct row *row, const char *value, double *out)
{
    char low[NUMBER_TEXT], high[NUMBER_TEXT];
    const double rounding = 1e-12;
    struct ww_error error = {0};
    if (ww_number_parse(value, row->dimension, out, &error))
        return usage("--%s: %s", row->name, error.text);
    if (*out >= row->min - rounding * fabs(row->min) && *out <= row->max + rounding * fabs(row->max))
        return DONE;
    return usage("--%s: %.60s is outside %s to %s; give a value within", row->name, value,
                 ww_number_format(low, sizeof low, row->min, row->dimension, 6),
                 ww_number_format(high, sizeof high, row->max, row->dimension, 6));
}

static enum outcome take_whole(const struct row *row, const char *value, int *out)
{
    double number = 0.0;
    struct ww_error error = {0};
    if (ww_number_parse(value, WW_PURE, &number, &error))
        return usage("--%s: %s", row->name, error.text);
    if (floor(number) != number || !(number >= row->min && number <= row->max))
        return usage("--%s: %.60s is not a whole number from %g to %g", row->name, value, row->min, row->max);
    *out = (int)number;
    return DONE;
}

/* "150 um..600 um" */
static enum outcome take_range(const struct row *row, const char *value, struct range *out)
{
    char from[VALUE_SIZE];
    const char *dots = value ? strstr(value, "..") : NULL;
    if (!dots || (size_t)(dots - value) >= sizeof from)
        return usage("--%s: '%.60s' is no range; give %s with the unit on both, as in '100 um..300 um'", row->name,
                     value ? value : "", row->argument);
    snprintf(from, sizeof from, "%.*s", (int)(dots - value), value);
    enum outcome outcome = take_number(row, from, &out->from);
    if (!outcome)
        outcome = take_number(row, dots + 2, &out->to);
    if (!outcome && !(out->from < out->to))
        return usage("--%s: the range %.60s is empty; give the smaller end first", row->name, value);
    return outcome;
}

static enum outcome take(struct options *options, const struct row *row, const char *value)
{
    void *field = (char *)options + row->offset;
    struct ww_error error = {0};
    options->given |= bit_of(row);
    switch (row->kind) {
    case FLAG:
        *(bool *)field = true;
        break;
    case WORD:
        if (!value || !value[0])
            return usage("--%s lacks its %s", row->name, row->argument);
        *(const char **)field = value;
        break;
    case LIST:
        options->assignment[options->assignments++] = value;
        break;
    case WHOLE:
        return take_whole(row, value, field);
    case NUMBER:
        return take_number(row, value, field);
    case RANGE:
        return take_range(row, value, field);
    case FORMAT:
        return ww_figure_format_from_name(value, field, &error) ? usage("--format: %s", error.text) : DONE;
    }
    return DONE;
}

/* One argument that starts with '-'; *next is the index of the one behind, moved on if that is its value. */
static enum outcome take_option(struct options *options, int argc, char **argv, int *next)
{
    const char *argument = argv[*next - 1], *value = NULL;
    const struct row *row = NULL;
    if (argument[1] == '-') {
        const char *equals = strchr(argument, '=');
        row = find_long(argument + 2, equals ? (size_t)(equals - argument) - 2 : strlen(argument + 2));
        value = equals ? equals + 1 : NULL;
    } else {
        row = find_letter(argument[1]);
        value = argument[2] ? argument + 2 : NULL;
    }
    if (!row)
        return refuse(argument);
    if (!row->argument && value)
        return usage("--%s takes no value, but '%.60s' was given", row->name, value);
    if (row->argument && !value) {
        if (*next == argc)
            return usage("--%s lacks its %s", row->name, row->argument);
        value = argv[(*next)++];
    }
    return take(options, row, value);
}

enum outcome options_parse(struct options *options, int argc, char **argv)
{
    enum outcome outcome = DONE;
    bool only_operands = false;
    options->to = 90.0 * DEG;
    options->assignment = calloc((size_t)argc + 1, sizeof *options->assignment);
    options->operand = calloc((size_t)argc + 1, sizeof *options->operand);
    if (!options->assignment || !options->operand) {
        struct ww_error error = {0};
        ww_error_set(&error, WW_NO_MEMORY, NULL, 0, "no memory for the command line");
        return fail(&error);
    }
    for (int next = 1; next < argc && !outcome;) {
        const char *argument = argv[next++];
        if (!only_operands && strcmp(argument, "--") == 0)
            only_operands = true;
        else if (!only_operands && argument[0] == '-' && argument[1])
            outcome = take_option(options, argc, argv, &next);
        else
            options->operand[options->operands++] = argument;
    }
    return outcome;
}

void options_clear(struct options *options)
{
    free(options->assignment);
    free(options->operand);
    memset(options, 0, sizeof *options);
}

/* What only makes sense together: the angles that are asked for. */
static enum outcome check_angles(const struct options *options)
{
    char from[NUMBER_TEXT], to[NUMBER_TEXT], step[NUMBER_TEXT], least[NUMBER_TEXT];
    double span = options->to - options->from;
    ww_number_format(from, sizeof from, options->from, WW_ANGLE, 6);
    ww_number_format(to, sizeof to, options->to, WW_ANGLE, 6);
    if (!(span > 0.0))
        return usage("angles from %s to %s are none; give --to an angle above --from", from, to);
    if (!(options->step > 0.0) || span / options->step < WW_SWEEP_MOST)
        return DONE;
    return usage("--step: %.0f angles from %s to %s at %s, and at most %d are taken; give a step of %s or more",
                 span / options->step + 1.0, from, to,
                 ww_number_format(step, sizeof step, options->step, WW_ANGLE, 6), WW_SWEEP_MOST,
                 ww_number_format(least, sizeof least, 1.01 * span / WW_SWEEP_MOST, WW_ANGLE, 2));
}

enum outcome options_check(const struct options *options, unsigned bit, const char *name)
{
    for (size_t i = 0; i < ROWS; i++)
        if (!(rows[i].useful & bit) && !rows[i].accepted && options->given & bit_of(&rows[i]))
            return usage("--%s changes nothing in '%s'; leave it out", rows[i].name, name);
    return bit & SWEEPING ? check_angles(options) : DONE;
}

/* --- explaining ------------------------------------------------------------------------------------------------------- */

void options_help(unsigned bit)
{
    for (size_t i = 0; i < ROWS; i++) {
        const struct row *row = &rows[i];
        char letter[] = {'-', row->letter, ',', ' ', '\0'};
        if (bit && !(row->useful & bit))
            continue;
        int at = printf("  %s--%s%s%s", row->letter ? letter : "    ", row->name, row->argument ? " " : "",
                        row->argument ? row->argument : "");
        paragraph(at, 34, row->help);
    }
}
