/* help.c - the help of each command, made from the tables of commands, options and keys.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "command.h"

#include <weftwise/fabric.h>
#include <weftwise/result.h>
#include <weftwise/study.h>

#include <assert.h>
#include <string.h>

enum { RIGHT = 100, SHOWN = 48 };

const struct command command[] = {
    {"styles", STYLES, "[NAME]", "which fabrics are there, what is each made of, where does each figure come from?",
     "", 0, 1, false, styles_run},
    {"new", NEW, "FILE", "a commented study to start from", "FILE, which must not exist.", 1, 1, true, new_run},
    {"map", MAP, "STUDY", "how uneven is the dielectric?",
     "dk-plyN.png, the Dk map of each ply with the trace to scale, and the map itself as dk-plyN.npy and "
     "dk-plyN-data.png.",
     1, 1, true, map_run},
    {"skew", SKEW, "STUDY", "how bad can this pair be, where, and how likely?",
     "skew.json, the result; skew-plyN.png, skew over the position of the cloth, and the map itself as skew-plyN.npy "
     "and skew-plyN-data.png; profile.png, Dk and running skew along the worst trace; distribution.png; and "
     "dk-plyN.png as map does. A single trace has a delay spread in place of skew.",
     1, 1, true, skew_run},
    {"verify", VERIFY, "STUDY", "can these numbers be trusted?",
     "verify.json, the result; section.png, the field of the worst cross-section over the cloth; along.png, kernel, "
     "sections and volume along one period of the cloth (along-plyN.png of each ply in turn where they share none).",
     1, 1, true, verify_run},
    {"angles", ANGLES, "STUDY", "which routing angles are safe?",
     "angles.json, the result; angles.png, worst, p99, median and the figure to design by over angle, and "
     "angles.csv, the same as a table; lengths.png, the worst over angle and length, with lengths.npy, "
     "lengths-angle.csv and "
     "lengths-length.csv, its data and axes.",
     1, 1, true, angles_run},
    {"compare", COMPARE, "STUDY STYLE...", "which glass?",
     "compare.json, the result; compare.png, the styles by their worst, with the distribution, and compare.csv, the "
     "same as a table; compare-angles.png, the figure to design by over angle, and compare-angles.csv; "
     "compare-dk.png, the Dk maps side by side. STYLE is a style, or all; 2116/NE is one with its filaments of "
     "another glass. Plies keep their thickness, and resin refills them. --gate exits with 1 where none of the "
     "styles meets "
     "the budget.",
     2, 4096, true, compare_run},
    {"pitch", PITCH, "STUDY", "which pair pitch and trace width null the skew?",
     "pitch.json, the result; pitch.png, the worst over pitch and width, with pitch.npy (rows are widths, -1 where "
     "legs touch) and pitch.csv, its data and axes; null.png, how fast a null is lost with angle and with "
     "the cloth's count, and null.csv. Of a single trace, over its width. --gate exits with 1 where even the deepest "
     "null is over the budget.",
     1, 1, true, pitch_run},
    {"report", REPORT, "STUDY", "all of it for a design review, on one page",
     "report.html, a page that needs nothing beside it, and report.json; and the files of the other commands, of "
     "which it is made.",
     1, 1, true, report_run},
    {"recall", RECALL, "FIGURE", "which study made this figure?",
     "the study on standard output, and no file: saved as one, it makes the same figure again.", 1, 1, false,
     recall_run},
};
const size_t commands = sizeof command / sizeof *command;
static_assert(sizeof command / sizeof *command <= COMMANDS_MOST, "COMMANDS_MOST is too small");

void paragraph(int at, int indent, const char *text)
{
    if (at > 0 && at >= indent) {
        putchar('\n');
        at = 0;
    }
    while (*text) {
        size_t length = strcspn(text, " ");
        if (at > indent && at + 1 + (int)length > RIGHT) {
            putchar('\n');
            at = 0;
        }
        if (at < indent)
            at += printf("%*s", indent - at, "");
        else if (at > indent)
            at += printf(" ");
        at += printf("%.*s", (int)length, text);
        text += length;
        text += strspn(text, " ");
    }
    putchar('\n');
}

/* "(1 um to 10 mm; required)" */
static void describe(const struct ww_study_key *key, char *out, size_t size)
{
    char low[SHOWN] = "", high[SHOWN] = "";
    bool ranged = key->kind == WW_STUDY_NUMBER || key->kind == WW_STUDY_WHOLE || key->kind == WW_STUDY_SPREAD;
    if (ranged) {
        ww_number_format(low, sizeof low, key->min, key->min != 0.0 ? key->dimension : WW_PURE, 4);
        ww_number_format(high, sizeof high, key->max, key->dimension, 4);
    }
    snprintf(out, size, "%s (%s%s%s%s%s%s)", key->help, low, ranged ? " to " : "", high, ranged ? "; " : "",
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
    for (size_t i = 0; (key = ww_weaves_key(kind, i)) != NULL; i++)
        paragraph(printf("    %s = %s", key->key, key->example), 34, key->help);
}

static void explain_study(void)
{
    const struct ww_study_key *key = NULL;
    const char *section = "";
    puts("\nA study is an INI file. Every number has its unit; a line that starts with ; is a comment.");
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
    puts("Styles, glasses and resins are looked up in the study first, then in the weaves folder:");
    explain_material("style");
    explain_material("glass");
    explain_material("resin");
}

static void help_program(void)
{
    puts("usage: weftwise COMMAND [OPTIONS] ...\n\n"
         "How much will the woven glass of a circuit board skew a trace or a pair?\n\ncommands:");
    for (size_t i = 0; i < commands; i++)
        paragraph(printf("  %s %s", command[i].name, command[i].operands), 20, command[i].answers);
    puts("\noptions:");
    options_help(NULL);
    puts("\n'weftwise COMMAND --help' explains a command, and the keys of a study where it takes one.");
}

static void help_command(const struct command *of)
{
    printf("usage: weftwise %s %s [OPTIONS]\n\n", of->name, of->operands);
    paragraph(0, 0, of->answers);
    if (of->writes[0])
        paragraph(printf("writes:"), 8, of->writes);
    puts("\noptions:");
    options_help(of);
    if (of->has_study)
        explain_study();
    puts("\nexit status: 0 done; 1 over budget with --gate; 2 bad usage or input; 3 could not read, write, allocate\n"
         "or converge. Files are written whole or not at all.");
    puts(WW_CAUTION);
}

void help_print(const struct command *of)
{
    if (of)
        help_command(of);
    else
        help_program();
}
