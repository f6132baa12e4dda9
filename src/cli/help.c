/* help.c - the help of each command, made from the tables of commands, options and keys.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "help.h"

#include <weftwise/fabric.h>
#include <weftwise/result.h>
#include <weftwise/study.h>

#include <string.h>

enum { SHOWN = 48 };

/* "1 um to 10 mm" */
static void show_range(const struct ww_key_range *range, char out[2 * SHOWN + 8])
{
    char low[SHOWN], high[SHOWN];
    ww_number_format(low, sizeof low, range->least, range->least != 0.0 ? range->dimension : WW_PURE, 4);
    ww_number_format(high, sizeof high, range->most, range->dimension, 4);
    snprintf(out, 2 * SHOWN + 8, "%s to %s", low, high);
}

/* "(1 um to 10 mm; required)" */
static void describe(const struct ww_study_key *key, char *out, size_t size)
{
    char range[2 * SHOWN + 8] = "";
    bool ranged = key->kind == WW_STUDY_NUMBER || key->kind == WW_STUDY_WHOLE || key->kind == WW_STUDY_SPREAD ||
                  key->kind == WW_STUDY_TOLERANCE || key->kind == WW_STUDY_RANGE;
    if (ranged)
        show_range(&(struct ww_key_range){key->min, key->max, key->dimension}, range);
    snprintf(out, size, "%s (%s%s%s%s)", key->help, range, ranged ? "; " : "",
             key->required    ? "required"
             : key->preset[0] ? "else "
                              : "optional",
             key->required ? "" : key->preset);
}

static void explain_layers(void)
{
    const struct ww_study_form *form = NULL;
    for (size_t i = 0; (form = ww_study_form(i)) != NULL; i++)
        paragraph(printf("    layer = %s", form->form), 34, form->help);
}

static void explain_material(const char *kind)
{
    const struct ww_key_help *key = NULL;
    printf("  [%s NAME]\n", kind);
    for (size_t i = 0; (key = ww_weaves_key(kind, i)) != NULL; i++) {
        char text[512], shown[2 * SHOWN + 8] = "";
        struct ww_key_range range;
        bool ranged = ww_weaves_key_range(kind, i, &range);
        if (ranged)
            show_range(&range, shown);
        snprintf(text, sizeof text, "%s%s%s%s", key->help, ranged ? " (" : "", shown, ranged ? ")" : "");
        paragraph(printf("    %s = %s", key->key, key->example), 34, text);
    }
}

static void help_study(void)
{
    const struct ww_study_key *key = NULL;
    const char *section = "";
    puts("A study is an INI file. Every number has its unit; a line that starts with ; is a comment.");
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++) {
        char text[512];
        if (strcmp(section, key->section) != 0)
            printf("  [%s]\n", key->section);
        section = key->section;
        describe(key, text, sizeof text);
        paragraph(printf("    %s = %s", key->key, key->example), 34, text);
        if (key->kind == WW_STUDY_LAYER)
            explain_layers();
    }
    puts("Styles, glasses, resins and foils are looked up in the study first, then in the weaves folder:");
    explain_material("style");
    explain_material("glass");
    explain_material("resin");
    explain_material("foil");
}

static void help_program(void)
{
    puts("usage: weftwise COMMAND [OPTIONS] ...\n\n"
         "How much will the woven glass of a circuit board skew a trace or a pair?\n\ncommands:");
    for (size_t i = 0; i < commands; i++)
        paragraph(printf("  %s %s", command[i].name, command[i].operands), 20, command[i].answers);
    puts("\noptions:");
    options_help(0);
    puts("\n'weftwise COMMAND --help' explains a command, 'weftwise help study' the keys of a study.");
}

static void help_command(const struct command *of)
{
    printf("usage: weftwise %s %s [OPTIONS]\n\n", of->name, of->operands);
    paragraph(0, 0, of->answers);
    if (of->writes[0])
        paragraph(printf("writes:"), 8, of->writes);
    puts("\noptions:");
    options_help(of->bit);
    if (of->has_study)
        puts("\n'weftwise help study' explains the keys of a study.");
    puts("\nexit status: 0 done; 1 over budget with --gate; 2 bad usage or input; 3 could not read, write, allocate\n"
         "or converge. Files are written whole or not at all.");
    puts(WW_CAUTION);
}

bool help_topic(const char *topic)
{
    if (strcmp(topic, "study") != 0)
        return false;
    help_study();
    return true;
}

void help_print(const struct command *of)
{
    if (of)
        help_command(of);
    else
        help_program();
}
