/* options.c - the options: one table that parses them and explains them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "command.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

enum kind { FLAG, WORD, LIST, WHOLE, MEMORY, FORMAT };
enum { STYLES = 1, NEW = 2, MAP = 4, SKEW = 8, VERIFY = 16, ALL = 31 };

#define AT(field) offsetof(struct options, field)

static const struct row {
    const char *name;
    char letter;
    const char *argument; /* NULL: none */
    const char *help;
    enum kind kind;
    size_t offset;
    int min, max;    /* WHOLE */
    unsigned useful; /* commands it changes anything in */
    bool accepted;   /* by all others too, so that a script can give the same options to each */
} rows[] = {
    {"output", 'o', "DIR", "folder for the files; out/ and the study's name by default", WORD, AT(folder), 0, 0,
     MAP | SKEW | VERIFY, true},
    {"set", 0, "SECTION.KEY=VALUE",
     "change one setting of the study, as in --set 'trace.angle=10 deg'; may be repeated", LIST, 0, 0, 0,
     MAP | SKEW | VERIFY, true},
    {"format", 0, "png|svg|pdf", "of the figures; png by default", FORMAT, AT(format), 0, 0, MAP | SKEW | VERIFY,
     true},
    {"width", 0, "PIXELS", "of the figures; 1600 by default", WHOLE, AT(width), WW_FIGURE_NARROWEST, WW_FIGURE_WIDEST,
     MAP | SKEW | VERIFY, false},
    {"dpi", 0, "N", "dots per inch of the figures: how large they print; 150 by default", WHOLE, AT(dpi),
     WW_FIGURE_COARSEST, WW_FIGURE_FINEST, MAP | SKEW | VERIFY, false},
    {"gate", 0, NULL, "exit with 1 where the worst, turn of the cloth included, is over the budget", FLAG, AT(gate),
     0, 0, SKEW, false},
    {"no-volume", 0, NULL, "leave out the volume of a period, which takes the longest", FLAG, AT(no_volume), 0, 0,
     VERIFY, false},
    {"memory", 0, "SIZE", "most that the volume may take, as in '500 MB'; 2 GB by default", MEMORY, AT(memory), 0, 0,
     VERIFY, false},
    {"json", 0, NULL, "the result as JSON on standard output, and nothing else there", FLAG, AT(json), 0, 0,
     STYLES | MAP | SKEW | VERIFY, true},
    {"weaves", 0, "DIR",
     "folder of styles and materials; else WEFTWISE_WEAVES, else the one beside the program or installed", WORD,
     AT(weaves), 0, 0, STYLES | MAP | SKEW | VERIFY, true},
    {"threads", 0, "N", "how many threads work; all the machine has by default, and the results are the same", WHOLE,
     AT(threads), 1, 256, MAP | SKEW | VERIFY, true},
    {"quiet", 'q', NULL, "no table and no progress, only the files", FLAG, AT(quiet), 0, 0, NEW | MAP | SKEW | VERIFY,
     true},
    {"help", 'h', NULL, "explain the command, and the keys of a study", FLAG, AT(help), 0, 0, ALL, true},
    {"version", 0, NULL, "print the version", FLAG, AT(version), 0, 0, ALL, true},
};
enum { ROWS = sizeof rows / sizeof *rows };

static unsigned bit_of(const struct command *of)
{
    return 1u << (of - command);
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

static enum outcome take_whole(const struct row *row, const char *value, int *out)
{
    double number = 0.0;
    struct ww_error error = {0};
    if (ww_number_parse(value, WW_PURE, &number, &error))
        return usage("--%s: %s", row->name, error.text);
    if (floor(number) != number || !(number >= row->min && number <= row->max))
        return usage("--%s: %.60s is not a whole number from %d to %d", row->name, value, row->min, row->max);
    *out = (int)number;
    return DONE;
}

static enum outcome take(struct options *options, const struct row *row, const char *value)
{
    void *field = (char *)options + row->offset;
    struct ww_error error = {0};
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
    case MEMORY:
        if (ww_number_parse(value, WW_MEMORY_SIZE, field, &error))
            return usage("--%s: %s", row->name, error.text);
        return *(double *)field > 0 ? DONE : usage("--%s: %.60s is not above 0", row->name, value);
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

/* Was it given? */
static bool is_given(const struct options *options, const struct row *row)
{
    const void *field = (const char *)options + row->offset;
    switch (row->kind) {
    case FLAG:
        return *(const bool *)field;
    case WORD:
        return *(const char *const *)field != NULL;
    case LIST:
        return options->assignments > 0;
    case WHOLE:
        return *(const int *)field != 0;
    case MEMORY:
        return *(const double *)field != 0;
    case FORMAT:
        break;
    }
    return false;
}

enum outcome options_check(const struct options *options, const struct command *of)
{
    for (size_t i = 0; i < ROWS; i++)
        if (!(rows[i].useful & bit_of(of)) && !rows[i].accepted && is_given(options, &rows[i]))
            return usage("--%s changes nothing in '%s'; leave it out", rows[i].name, of->name);
    return DONE;
}

/* --- explaining ------------------------------------------------------------------------------------------------------- */

void options_help(const struct command *of)
{
    for (size_t i = 0; i < ROWS; i++) {
        const struct row *row = &rows[i];
        char letter[] = {'-', row->letter, ',', ' ', '\0'};
        if (of && !(row->useful & bit_of(of)))
            continue;
        int at = printf("  %s--%s%s%s", row->letter ? letter : "    ", row->name, row->argument ? " " : "",
                        row->argument ? row->argument : "");
        paragraph(at, 34, row->help);
    }
}
