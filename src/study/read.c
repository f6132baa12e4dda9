/* read.c - a study from its file: every setting judged by the table of keys, every name resolved.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * In this order, so that the first message is the most useful one: sections and keys that do not exist or come twice;
 * values against their row of the table; what is required and missing; what only makes sense together; materials the
 * study defines itself, used or not; at last the layers, which need the materials.
 */
#include "core/utf8.h"
#include "fabric/keys.h"
#include "study/keys.h"
#include "study/layer.h"
#include "study/route.h"
#include "study/tolerance.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const size_t layers_most = 256;    /* of the last, each cloth may be one more */
static const size_t materials_most = 256; /* sections of a study's own styles, glasses, resins and foils */
static const char *const material[] = {"style", "glass", "resin", "foil"};
enum { MATERIALS = sizeof material / sizeof *material };

/* What one reading shares. */
struct reading {
    struct ww_study *study;
    struct ww_settings settings;
    struct ww_weaves weaves;
    int line[STUDY_KEYS]; /* of each key; not_given where it is left out */
};
enum { NOT_GIVEN = -1 };

/* --- messages at their place ------------------------------------------------------------------------------------------ */

static const char *place(const struct reading *reading, int line)
{
    return line > 0 ? reading->settings.file : "--set";
}

/* Give an error that has no place the file and line of a setting, and pass its status on. */
static enum ww_status placed(const struct reading *reading, int line, enum ww_status status, struct ww_error *error)
{
    if (status && error && !error->file[0])
        return ww_error_set(error, status, place(reading, line), line, "%s", error->text);
    return status;
}

/* --- sections and keys --------------------------------------------------------------------------------------------- */

/* "style T1" -> "T1" if the section is one of that kind of material. */
static const char *material_name(const char *section, const char *kind)
{
    size_t length = strlen(kind);
    return strncmp(section, kind, length) == 0 && section[length] == ' ' ? section + length + 1 : NULL;
}

static bool is_material(const char *section)
{
    for (size_t i = 0; i < MATERIALS; i++)
        if (material_name(section, material[i]))
            return true;
    return false;
}

/* Names of the sections of the table, each once: its rows lie by section. */
static size_t list_sections(const char *section[STUDY_KEYS])
{
    size_t count = 0;
    for (size_t i = 0; i < STUDY_KEYS; i++)
        if (count == 0 || strcmp(section[count - 1], ww_study_row[i].key.section) != 0)
            section[count++] = ww_study_row[i].key.section;
    return count;
}

static size_t list_keys(const char *section, const char *key[STUDY_KEYS])
{
    size_t count = 0;
    for (size_t i = 0; i < STUDY_KEYS; i++)
        if (strcmp(ww_study_row[i].key.section, section) == 0)
            key[count++] = ww_study_row[i].key.key;
    return count;
}

/* "route arm2" -> "arm2" if the section is an arm of a feed. */
static const char *arm_name(const char *section)
{
    return material_name(section, "route");
}

/* The section of the table that describes a section of the file. */
static const char *table_section(const char *section)
{
    return arm_name(section) ? ARM_SECTION : section;
}

static size_t find_row(const char *section, const char *key)
{
    size_t i = 0;
    while (i < STUDY_KEYS &&
           (strcmp(ww_study_row[i].key.section, section) != 0 || strcmp(ww_study_row[i].key.key, key) != 0))
        i++;
    return i;
}

/* A key or a section that asks for a line that is not modelled. */
static enum ww_status refuse_line(const char *word, const char *file, int line, struct ww_error *error)
{
    return ww_error_set(error, WW_INVALID, file, line, "'%.60s': %s", word, ww_line_not_modelled);
}

static enum ww_status refuse_section(const struct reading *reading, const struct ww_heading *heading,
                                     const char *const *known, size_t count, struct ww_error *error)
{
    const char *file = place(reading, heading->line);
    const char *nearest = ww_nearest_word(heading->section, known, count);
    if (ww_is_line_not_modelled(heading->section))
        return refuse_line(heading->section, file, heading->line, error);
    if (nearest)
        return ww_error_set(error, WW_MALFORMED, file, heading->line,
                            "section [%.60s] is not known; did you mean [%s]?", heading->section, nearest);
    return ww_error_set(
        error, WW_MALFORMED, file, heading->line,
        "section [%.60s] is not known; there are study, stackup, trace, route, fabric, signal, tolerance, via, and "
        "route, style, glass, resin and foil with a name, as in [style T1]",
        heading->section);
}

/* Headers without keys count: under a misspelt one a setting may have been commented out. */
static enum ww_status check_sections(const struct reading *reading, struct ww_error *error)
{
    const char *known[STUDY_KEYS];
    size_t count = list_sections(known);
    for (size_t i = 0; i < reading->settings.headings; i++) {
        const struct ww_heading *heading = &reading->settings.heading[i];
        size_t k = 0;
        while (k < count && strcmp(known[k], heading->section) != 0)
            k++;
        if (k == count && !is_material(heading->section) && !arm_name(heading->section))
            return refuse_section(reading, heading, known, count, error);
    }
    return WW_OK;
}

/* A key that its section, which is one of the table, does not have; or one before all sections. */
static enum ww_status refuse_key(const struct reading *reading, const struct ww_setting *item, struct ww_error *error)
{
    const char *known[STUDY_KEYS];
    const char *file = place(reading, item->line);
    size_t count = list_keys(table_section(item->section), known);
    if (count == 0)
        return ww_error_set(error, WW_MALFORMED, file, item->line,
                            "key '%.60s' stands before any section; put it under its [section]", item->key);
    if (ww_is_line_not_modelled(item->key) || ww_is_line_not_modelled(item->value))
        return refuse_line(ww_is_line_not_modelled(item->key) ? item->key : item->value, file, item->line, error);
    if (ww_is_other_weave(item->key, item->value))
        return ww_error_set(error, WW_INVALID, file, item->line, "%s: %s", item->key, WW_OTHER_WEAVE);
    const char *nearest = ww_nearest_word(item->key, known, count);
    return ww_error_set(error, WW_MALFORMED, file, item->line, "key '%.60s' is not known in [%s]; %s '%s'%s",
                        item->key, item->section, nearest ? "did you mean" : "the first key there is",
                        nearest ? nearest : known[0], nearest ? "?" : " (--help lists all)");
}

static enum ww_status check_keys(struct reading *reading, struct ww_error *error)
{
    enum ww_status status = check_sections(reading, error);
    if (status)
        return status;
    for (size_t i = 0; i < STUDY_KEYS; i++)
        reading->line[i] = NOT_GIVEN;
    for (size_t i = 0; i < reading->settings.count; i++) {
        const struct ww_setting *item = &reading->settings.item[i];
        if (is_material(item->section))
            continue; /* judged by the stage that reads materials */
        size_t row = find_row(table_section(item->section), item->key);
        if (row == STUDY_KEYS)
            return refuse_key(reading, item, error);
        if (arm_name(item->section))
            continue; /* each arm has its own */
        if (!ww_study_key_repeats(&ww_study_row[row].key) && reading->line[row] != NOT_GIVEN)
            return ww_error_set(error, WW_MALFORMED, place(reading, item->line), item->line,
                                "%s.%s is given twice (first on line %d); keep one", item->section, item->key,
                                reading->line[row]);
        reading->line[row] = item->line;
    }
    return WW_OK;
}

/* The length of the trace, where there is a route. */
static bool replaced_by_route(const struct reading *reading, size_t row)
{
    return row == find_row("trace", "length") && ww_settings_has_section(&reading->settings, "route");
}

static enum ww_status check_required(const struct reading *reading, struct ww_error *error)
{
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        const struct ww_study_key *key = &ww_study_row[i].key;
        if (!key->required || reading->line[i] != NOT_GIVEN || replaced_by_route(reading, i))
            continue;
        const char *file = reading->settings.file;
        if (!ww_settings_has_section(&reading->settings, key->section))
            return ww_error_set(error, WW_INVALID, file, 0, "section [%s] is missing; add it, with '%s = %s' in it",
                                key->section, key->key, key->example);
        return ww_error_set(error, WW_INVALID, file, 0, "key '%s' is missing in [%s]; add '%s = %s'", key->key,
                            key->section, key->key, key->example);
    }
    return WW_OK;
}

/* --- values ---------------------------------------------------------------------------------------------------------- */

static enum ww_status take_text(char *out, size_t size, const char *value, struct ww_error *error)
{
    size_t length = strlen(value);
    if (length >= size)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a text of %zu bytes; give at most %zu", length, size - 1);
    for (size_t i = 0; i < length; i++) {
        bool hidden = ww_utf8_hidden((const unsigned char *)value + i);
        if (hidden || (value[i] == ';' && i > 0 && value[i - 1] == ' '))
            return ww_error_set(error, WW_MALFORMED, NULL, 0,
                                "'%.60s' holds a control character or ' ;', which starts a comment; leave it out",
                                value);
    }
    memcpy(out, value, length + 1);
    return WW_OK;
}

/* The limits themselves are good, in whatever unit they are written and however that rounds. */
static bool within_limits(const struct ww_study_key *key, double value)
{
    const double rounding = 1e-12;
    return value >= key->min - rounding * fabs(key->min) && value <= key->max + rounding * fabs(key->max);
}

/* A study may come from anywhere: it names no file outside of its own folder. */
static enum ww_status take_file(char *out, size_t size, const char *value, struct ww_error *error)
{
    for (const char *part = value; *part != '\0'; part++)
        if ((part == value || part[-1] == '/') && strncmp(part, "..", 2) == 0 && (part[2] == '/' || part[2] == '\0'))
            return ww_error_set(error, WW_INVALID, NULL, 0, "'%.60s' leaves the study's folder; put the file into it",
                                value);
    if (value[0] == '/' || value[0] == '\0')
        return ww_error_set(error, WW_INVALID, NULL, 0, "'%.60s' is not in the study's folder; put the file there",
                            value);
    return take_text(out, size, value, error);
}

static enum ww_status take_number(const struct ww_study_key *key, double *out, const char *value,
                                  struct ww_error *error)
{
    char low[NUMBER_TEXT], high[NUMBER_TEXT];
    enum ww_status status = ww_number_parse(value, key->dimension, out, error);
    if (status)
        return status;
    if (!within_limits(key, *out))
        return ww_error_set(
            error, WW_INVALID, NULL, 0, "%.60s is outside %s to %s; check the unit", value,
            ww_number_format(low, sizeof low, key->min, key->min != 0.0 ? key->dimension : WW_PURE, 6),
            ww_number_format(high, sizeof high, key->max, key->dimension, 6));
    if (key->kind == WW_STUDY_WHOLE && floor(*out) != *out)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%.60s is not a whole number; give one", value);
    return WW_OK;
}

/* "2 deg", "2 deg normal" */
static enum ww_status take_spread(const struct ww_study_key *key, struct ww_study *study, const char *value,
                                  struct ww_error *error)
{
    double number = 0.0;
    const char *word = value;
    enum ww_status status = ww_number_parse_prefix(value, key->dimension, &number, &word, error);
    if (status)
        return status;
    char text[NUMBER_TEXT];
    size_t length = (size_t)(word - value);
    if (length >= sizeof text)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "a number of %zu characters; give fewer digits", length);
    memcpy(text, value, length);
    text[length] = '\0';
    word += strspn(word, " \t");
    if (strcmp(word, ww_law_name(WW_NORMAL)) == 0)
        study->turn_law = WW_NORMAL;
    else if (*word && strcmp(word, ww_law_name(WW_UNIFORM)) != 0)
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "the law '%.60s' is not known; give uniform or normal",
                            word);
    return take_number(key, &study->turn, text, error);
}

static enum ww_status take_switch(bool *out, const char *value, struct ww_error *error)
{
    *out = strcmp(value, "yes") == 0;
    if (*out || strcmp(value, "no") == 0)
        return WW_OK;
    return ww_error_set(error, WW_MALFORMED, NULL, 0, "'%.60s' is neither yes nor no; give one of them", value);
}

/* "dry", "saturated", or a share of saturation. */
static enum ww_status take_state(const struct ww_study_key *key, double *out, const char *value,
                                 struct ww_error *error)
{
    const char *share = strcmp(value, "dry") == 0 ? "0 %" : strcmp(value, "saturated") == 0 ? "100 %" : value;
    if (isalpha((unsigned char)share[0]))
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "'%.60s' is no state; give dry, saturated, or a share of saturation such as 50 %%",
                            value);
    return take_number(key, out, share, error);
}

/* One value, by its row, into its field. */
static enum ww_status take_value(const struct ww_study_row *row, struct ww_study *study, const char *value,
                                 struct ww_error *error)
{
    void *field = (char *)study + row->offset;
    double number = 0.0;
    enum ww_status status = WW_OK;
    switch (row->key.kind) {
    case WW_STUDY_TEXT:
        return take_text(field, sizeof study->title, value, error);
    case WW_STUDY_FILE:
        return take_file(field, sizeof study->paths, value, error);
    case WW_STUDY_NUMBER:
        return take_number(&row->key, field, value, error);
    case WW_STUDY_WHOLE:
        status = take_number(&row->key, &number, value, error);
        if (!status)
            *(size_t *)field = (size_t)number;
        return status;
    case WW_STUDY_SWITCH:
        return take_switch(field, value, error);
    case WW_STUDY_SPREAD:
        return take_spread(&row->key, study, value, error);
    case WW_STUDY_TOLERANCE:
    case WW_STUDY_RANGE:
        return ww_tolerance_read(field, &row->key, value, error);
    case WW_STUDY_SCOPE:
        return ww_scope_read(field, value, error);
    case WW_STUDY_NAME:
    case WW_STUDY_LAYER:
    case WW_STUDY_SEGMENT:
    case WW_STUDY_PLACE:
        break;
    }
    return WW_OK;
}

/* "2 ps"; "20 deg" at the frequency; "0.1 UI": the keys before it in the table are taken. */
static enum ww_status take_budget(const struct ww_study_row *row, struct ww_study *study, const char *value,
                                  struct ww_error *error)
{
    double number = 0.0;
    char time[NUMBER_TEXT];
    bool phase = ww_number_parse(value, WW_ANGLE, &number, NULL) == WW_OK;
    bool share = !phase && ww_number_parse(value, WW_UNIT_INTERVAL, &number, NULL) == WW_OK;
    if (phase && study->frequency == 0.0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%.60s of phase needs a frequency; give 'frequency = 28 GHz'",
                            value);
    if (share && study->rate == 0.0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%.60s needs a rate; give 'rate = 112 Gb/s' and its levels",
                            value);
    if (!phase && !share)
        return take_number(&row->key, &study->budget, value, error);
    number = phase ? number / (2.0 * WW_PI * study->frequency) : number * log2((double)study->levels) / study->rate;
    enum ww_status status =
        take_number(&row->key, &study->budget, ww_number_text(time, sizeof time, number, WW_TIME), error);
    if (status && error)
        return ww_error_set(error, status, NULL, 0, "%.60s is %s", value, error->text);
    return status;
}

static enum ww_status take_values(const struct reading *reading, struct ww_error *error)
{
    const size_t budget = find_row("signal", "budget"), state = find_row("tolerance", "moisture.state");
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        const struct ww_study_key *key = &ww_study_row[i].key;
        const struct ww_setting *item = ww_settings_find(&reading->settings, key->section, key->key);
        const char *value = item ? item->value : key->preset;
        struct ww_error inner = {0};
        if (!item && !key->preset[0])
            continue;
        enum ww_status status = i == budget ? take_budget(&ww_study_row[i], reading->study, value, &inner)
                                : i == state
                                    ? take_state(key, &reading->study->tolerance.moisture_state, value, &inner)
                                    : take_value(&ww_study_row[i], reading->study, value, &inner);
        if (status)
            return ww_error_set(error, status, place(reading, item ? item->line : 0), item ? item->line : 0,
                                "%s.%s: %s", key->section, key->key, inner.text);
        if (key->kind == WW_STUDY_TOLERANCE || key->kind == WW_STUDY_RANGE)
            ((struct ww_tolerance *)((char *)reading->study + ww_study_row[i].offset))->line = item ? item->line : 0;
    }
    return WW_OK;
}

/* A study that says nothing of the turn is told so wherever the turn counts. A count without a tolerance of its own has that of
 * both. */
static void take_tolerances(const struct reading *reading)
{
    struct ww_study *study = reading->study;
    study->turn_is_assumed = reading->line[find_row("fabric", "turn")] == NOT_GIVEN;
    if (reading->line[find_row("fabric", "count_tolerance.warp")] == NOT_GIVEN)
        study->warp_tolerance = study->count_tolerance;
    if (reading->line[find_row("fabric", "count_tolerance.fill")] == NOT_GIVEN)
        study->fill_tolerance = study->count_tolerance;
}

/* A yarn system without a scatter of its own has that of both. */
static void take_scatter(const struct reading *reading)
{
    static const struct {
        const char *key[WW_SYSTEMS];
        size_t offset;
    } figure[] = {
        {{"wander.warp", "wander.fill"}, offsetof(struct ww_yarn_scatter, wander)},
        {{"wander_length.warp", "wander_length.fill"}, offsetof(struct ww_yarn_scatter, wander_length)},
        {{"together.warp", "together.fill"}, offsetof(struct ww_yarn_scatter, together)},
        {{"width_variation.warp", "width_variation.fill"}, offsetof(struct ww_yarn_scatter, width_variation)},
    };
    struct ww_study *study = reading->study;
    for (size_t i = 0; i < sizeof figure / sizeof *figure; i++)
        for (int s = 0; s < WW_SYSTEMS; s++)
            if (reading->line[find_row("fabric", figure[i].key[s])] == NOT_GIVEN)
                memcpy((char *)&study->scatter.yarn[s] + figure[i].offset,
                       (char *)&study->yarn_scatter + figure[i].offset, sizeof(double));
}

/* The name of the file, its folders and ending taken off, where no title is given; fit to be shown, for a file may be called
 * anything. */
static void title_from_file(struct ww_study *study)
{
    char plain[sizeof study->file];
    const char *name = strrchr(study->file, '/');
    name = name ? name + 1 : study->file;
    const char *dot = strrchr(name, '.');
    size_t length = dot && dot > name ? (size_t)(dot - name) : strlen(name);
    snprintf(plain, sizeof plain, "%.*s", (int)length, name);
    ww_text_printable(study->title, sizeof study->title, plain);
}

/* What only makes sense together. */
static enum ww_status check_trace(const struct reading *reading, struct ww_error *error)
{
    char pitch[NUMBER_TEXT], width[NUMBER_TEXT];
    const struct ww_trace *trace = &reading->study->trace;
    int line = reading->line[find_row("trace", "pitch")];
    if (line == NOT_GIVEN || trace->pitch > trace->width)
        return WW_OK;
    return ww_error_set(error, WW_UNPHYSICAL, place(reading, line), line,
                        "trace.pitch: at a pitch of %s legs %s wide overlap; give a pitch above the width, or leave "
                        "it out for a single trace",
                        ww_number_format(pitch, sizeof pitch, trace->pitch, WW_LENGTH, 6),
                        ww_number_format(width, sizeof width, trace->width, WW_LENGTH, 6));
}

static enum ww_status check_paths(const struct reading *reading, struct ww_error *error)
{
    const struct ww_study *study = reading->study;
    int line = reading->line[find_row("fabric", "paths")];
    if (!study->paths[0] || ww_scatter_is_none(&study->scatter))
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, place(reading, line), line,
        "fabric.paths: the cloth of a picture is as it is; leave wander, width_variation, bunching, bow and "
        "hook out");
}

static enum ww_status check_conversion(const struct reading *reading, struct ww_error *error)
{
    const struct ww_study *study = reading->study;
    int line = reading->line[find_row("signal", "conversion")];
    if (study->conversion == 0.0 || ((study->rate > 0.0 || study->frequency > 0.0) && study->trace.pitch > 0.0))
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, line ? study->file : "--set", line,
        study->trace.pitch > 0.0
            ? "signal.conversion is judged at half the symbol rate or at frequency; give signal.rate or "
              "signal.frequency"
            : "signal.conversion is of a pair's modes, and the trace is single; leave it out, or give "
              "trace.pitch");
}

static enum ww_status check_beside(const struct reading *reading, const char *key, double apart,
                                   struct ww_error *error)
{
    char given[NUMBER_TEXT], least[NUMBER_TEXT];
    const struct ww_trace *trace = &reading->study->trace;
    int line = reading->line[find_row("signal", key)];
    double room = ww_study_room(reading->study);
    if (line == NOT_GIVEN || apart >= room * (1.0 - 1e-12))
        return WW_OK;
    return ww_error_set(error, WW_UNPHYSICAL, place(reading, line), line,
                        "signal.%s: %s apart, two %s lie less than a trace's width from each other; give %s or more",
                        key, ww_number_format(given, sizeof given, apart, WW_LENGTH, 6),
                        trace->pitch > 0.0 ? "pairs" : "traces",
                        ww_number_format(least, sizeof least, room, WW_LENGTH, 6));
}

static enum ww_status check_lanes(const struct reading *reading, struct ww_error *error)
{
    const struct ww_study *study = reading->study;
    int line = reading->line[find_row("signal", "lane_pitch")];
    if (line != NOT_GIVEN && study->lanes < 2)
        return ww_error_set(error, WW_INVALID, place(reading, line), line,
                            "signal.lane_pitch: there is one lane; give 'lanes = 16', or leave lane_pitch out");
    if (line != NOT_GIVEN && study->lanes > WW_LANES_MOST)
        return ww_error_set(error, WW_INVALID, place(reading, line), line,
                            "signal.lane_pitch: %zu lanes on one cloth are more than %d; give fewer, or leave "
                            "lane_pitch out",
                            study->lanes, WW_LANES_MOST);
    enum ww_status status = check_beside(reading, "lane_pitch", study->lane_pitch, error);
    return status ? status : check_beside(reading, "spacing", study->spacing, error);
}

static enum ww_status check_levels(const struct reading *reading, struct ww_error *error)
{
    size_t levels = reading->study->levels;
    int line = reading->line[find_row("signal", "levels")];
    if ((levels & (levels - 1)) == 0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, place(reading, line), line,
                        "signal.levels: %zu levels are no power of two; give 2, 4, 8 or 16", levels);
}

/* One variable must not be given twice under two names, and what hangs on another must have it. */
static enum ww_status check_tolerances(const struct reading *reading, struct ww_error *error)
{
    static const struct {
        const char *key, *other, *because;
        bool clash; /* else: the key needs the other */
    } rule[] = {
        {"laminate.dk", "resin.dk", "the laminate's Dk has the resin's in it", true},
        {"laminate.dk", "glass.dk", "the laminate's Dk has the glass's in it", true},
        {"resin_content", "thickness", "resin content and thickness are one variable", true},
        {"trace.gap", NULL, "a single trace has no gap", true},
        {"moisture.dk", "moisture", "it is the change at that uptake", false},
        {"moisture.df", "moisture.dk", "they are measured as a pair", false},
    };
    for (size_t i = 0; i < sizeof rule / sizeof *rule; i++) {
        int line = reading->line[find_row("tolerance", rule[i].key)];
        bool other = rule[i].other ? reading->line[find_row("tolerance", rule[i].other)] != NOT_GIVEN
                                   : reading->study->trace.pitch == 0.0;
        if (line != NOT_GIVEN && other == rule[i].clash)
            return ww_error_set(
                error, WW_INVALID, place(reading, line), line, "tolerance.%s%s%s: %s; %s %s", rule[i].key,
                !rule[i].other  ? ""
                : rule[i].clash ? " beside "
                                : " without ",
                rule[i].other ? rule[i].other : "", rule[i].because, rule[i].clash ? "leave out" : "give",
                rule[i].clash ? rule[i].other ? "one of them" : "the key" : rule[i].other);
    }
    return WW_OK;
}

/* --- the route ----------------------------------------------------------------------------------------------------------- */

/* Segments of one section as they are read, and where each stands. */
struct segments {
    const char *section;
    struct ww_route_segment *of; /* [ROUTE_MOST] */
    size_t count;
    int *line; /* [ROUTE_MOST] */
};

static enum ww_status take_segment(const struct reading *reading, const struct ww_setting *item,
                                   struct segments *segments, struct ww_error *error)
{
    struct ww_error inner = {0};
    if (segments->count == ROUTE_MOST)
        return ww_error_set(error, WW_INVALID, place(reading, item->line), item->line,
                            "more than %d segments; give fewer, longer ones", ROUTE_MOST);
    enum ww_status status = ww_route_segment_read(&segments->of[segments->count], item->value, &inner);
    if (status)
        return ww_error_set(error, status, place(reading, item->line), item->line, "%s.segment: %s", item->section,
                            inner.text);
    segments->line[segments->count++] = item->line;
    return WW_OK;
}

/* Can copper be laid along them? */
static enum ww_status judge_segments(const struct reading *reading, const struct segments *segments, double *sum,
                                     struct ww_error *error)
{
    const struct ww_study_key *length = &ww_study_row[find_row("trace", "length")].key;
    char most[NUMBER_TEXT];
    struct ww_error inner = {0};
    size_t at = 0;
    *sum = 0.0;
    for (size_t i = 0; i < segments->count; i++)
        *sum += segments->of[i].length;
    if (!within_limits(length, *sum))
        return ww_error_set(error, WW_INVALID, reading->settings.file, 0,
                            "the segments of [%s] are %.6g m long together; give at most %s", segments->section, *sum,
                            ww_number_format(most, sizeof most, length->max, WW_LENGTH, 6));
    enum ww_status status = ww_route_check(segments->of, segments->count, &reading->study->trace, &at, &inner);
    if (!status)
        return WW_OK;
    return ww_error_set(error, status, place(reading, segments->line[at]), segments->line[at], "%s.segment: %s",
                        segments->section, inner.text);
}

/* The segments of a section that there is, judged; the sum of their lengths. */
static enum ww_status take_segments(const struct reading *reading, const struct ww_heading *heading,
                                    struct ww_route_segment **route, size_t *count, double *sum,
                                    struct ww_error *error)
{
    struct segments segments = {.section = heading->section};
    segments.of = calloc(ROUTE_MOST, sizeof *segments.of);
    segments.line = calloc(ROUTE_MOST, sizeof *segments.line);
    enum ww_status status =
        segments.of && segments.line ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the route");
    for (size_t i = 0; i < reading->settings.count && !status; i++) {
        const struct ww_setting *item = &reading->settings.item[i];
        if (strcmp(item->section, heading->section) == 0 && strcmp(item->key, "segment") == 0)
            status = take_segment(reading, item, &segments, error);
    }
    if (!status && segments.count == 0)
        status = ww_error_set(error, WW_INVALID, place(reading, heading->line), heading->line,
                              "section [%s] has no segment; add 'segment = 20 mm 0 deg', or leave the section out",
                              heading->section);
    if (!status)
        status = judge_segments(reading, &segments, sum, error);
    free(segments.line);
    *route = segments.of;
    *count = segments.count;
    return status;
}

static enum ww_status take_route(const struct reading *reading, struct ww_error *error)
{
    struct ww_study *study = reading->study;
    int given = reading->line[find_row("trace", "length")];
    for (size_t i = 0; i < reading->settings.headings; i++) {
        const struct ww_heading *heading = &reading->settings.heading[i];
        if (strcmp(heading->section, "route") != 0)
            continue;
        enum ww_status status =
            take_segments(reading, heading, &study->route, &study->segments, &study->length, error);
        if (!status && given != NOT_GIVEN)
            return ww_error_set(
                error, WW_INVALID, place(reading, given), given,
                "trace.length is given beside a [route], whose length is that of its segments; leave it out");
        return status;
    }
    return WW_OK;
}

/* --- more arms on the same cloth ------------------------------------------------------------------------------------------- */

static enum ww_status name_arm(const struct reading *reading, const struct ww_heading *heading, struct ww_arm *arm,
                               struct ww_error *error)
{
    const struct ww_study *study = reading->study;
    const char *file = place(reading, heading->line), *name = arm_name(heading->section);
    name += strspn(name, " \t");
    if (!*name || strlen(name) >= sizeof arm->name || strcmp(name, "route") == 0)
        return ww_error_set(error, WW_INVALID, file, heading->line,
                            "section [%.60s]: give the arm a name of up to %zu bytes, other than 'route', which is "
                            "the first arm's",
                            heading->section, sizeof arm->name - 1);
    for (size_t i = 0; i < study->arms; i++)
        if (strcmp(study->arm[i].name, name) == 0)
            return ww_error_set(error, WW_INVALID, file, heading->line,
                                "two arms are named '%s'; give each a name of its own", name);
    if (study->arms == WW_ARMS_MOST - 1)
        return ww_error_set(error, WW_INVALID, file, heading->line, "more than %d arms; give fewer", WW_ARMS_MOST);
    snprintf(arm->name, sizeof arm->name, "%s", name);
    return WW_OK;
}

static enum ww_status take_start(const struct reading *reading, const struct ww_heading *heading, struct ww_arm *arm,
                                 struct ww_error *error)
{
    const struct ww_setting *item = NULL;
    struct ww_error inner = {0};
    for (size_t i = 0; i < reading->settings.count; i++) {
        const struct ww_setting *here = &reading->settings.item[i];
        if (strcmp(here->section, heading->section) != 0 || strcmp(here->key, "from") != 0)
            continue;
        if (item)
            return ww_error_set(error, WW_MALFORMED, place(reading, here->line), here->line,
                                "%s.from is given twice (first on line %d); keep one", heading->section, item->line);
        item = here;
    }
    if (!item)
        return ww_error_set(error, WW_INVALID, place(reading, heading->line), heading->line,
                            "section [%s] does not say where the arm starts; add 'from = 3 mm, 1.2 mm'",
                            heading->section);
    const struct ww_study_key *key = &ww_study_row[find_row(ARM_SECTION, "from")].key;
    enum ww_status status = ww_place_read(arm->from, key->max, item->value, &inner);
    return status ? ww_error_set(error, status, place(reading, item->line), item->line, "%s.from: %s",
                                 heading->section, inner.text)
                  : WW_OK;
}

static enum ww_status take_arms(const struct reading *reading, struct ww_error *error)
{
    struct ww_study *study = reading->study;
    int lanes = reading->line[find_row("signal", "lanes")];
    enum ww_status status = WW_OK;
    study->arm = calloc(WW_ARMS_MOST, sizeof *study->arm);
    if (!study->arm)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the arms");
    for (size_t i = 0; i < reading->settings.headings && !status; i++) {
        const struct ww_heading *heading = &reading->settings.heading[i];
        struct ww_arm *arm = &study->arm[study->arms];
        double length = 0.0;
        if (!arm_name(heading->section))
            continue;
        status = name_arm(reading, heading, arm, error);
        if (!status)
            status = take_start(reading, heading, arm, error);
        if (!status) {
            study->arms++; /* owns its route */
            status = take_segments(reading, heading, &arm->route, &arm->segments, &length, error);
        }
    }
    if (!status && study->arms > 0 && study->lanes > 1)
        return ww_error_set(
            error, WW_INVALID, place(reading, lanes), lanes,
            "signal.lanes: lanes are equal and side by side, and here are arms of [route NAME]; leave "
            "lanes out, or the arms");
    return status;
}

/* --- materials and layers --------------------------------------------------------------------------------------------- */

static enum ww_status try_material(const struct ww_weaves *weaves, size_t kind, const char *name,
                                   struct ww_error *error)
{
    struct ww_style style;
    struct ww_glass glass;
    struct ww_resin resin;
    struct ww_foil foil;
    switch (kind) {
    case 0:
        return ww_weaves_style(weaves, name, &style, error);
    case 1:
        return ww_weaves_glass(weaves, name, &glass, error);
    case 2:
        return ww_weaves_resin(weaves, name, &resin, error);
    default:
        return ww_weaves_foil(weaves, name, &foil, error);
    }
}

/* The materials that the study defines are judged whether a layer uses them or not: a slip there is a slip. */
static enum ww_status check_materials(const struct reading *reading, struct ww_error *error)
{
    size_t count = 0;
    for (size_t i = 0; i < reading->settings.headings; i++) {
        const struct ww_heading *heading = &reading->settings.heading[i];
        for (size_t kind = 0; kind < MATERIALS; kind++) {
            const char *name = material_name(heading->section, material[kind]);
            if (!name)
                continue;
            if (++count > materials_most)
                return ww_error_set(
                    error, WW_INVALID, place(reading, heading->line), heading->line,
                    "more than %zu sections of styles, glasses, resins and foils; keep those the layers use",
                    materials_most);
            enum ww_status status =
                placed(reading, heading->line, try_material(&reading->weaves, kind, name, error), error);
            if (status)
                return status;
        }
    }
    return WW_OK;
}

static enum ww_status take_resin(const struct reading *reading, struct ww_error *error)
{
    const struct ww_setting *item = ww_settings_find(&reading->settings, "stackup", "resin");
    if (!item)
        return WW_OK;
    return placed(reading, item->line, ww_weaves_resin(&reading->weaves, item->value, &reading->study->resin, error),
                  error);
}

static enum ww_status take_copper(const struct reading *reading, struct ww_error *error)
{
    const struct ww_setting *item = ww_settings_find(&reading->settings, "stackup", "copper");
    if (!item) {
        reading->study->copper.conductivity = WW_COPPER_CONDUCTIVITY;
        return WW_OK;
    }
    return placed(reading, item->line, ww_weaves_foil(&reading->weaves, item->value, &reading->study->copper, error),
                  error);
}

static enum ww_status take_layer(const struct reading *reading, const struct ww_setting *item, struct ww_error *error)
{
    struct ww_study *study = reading->study;
    const struct ww_resin *fallback = study->resin.name[0] ? &study->resin : NULL;
    if (study->stack.count >= layers_most)
        return ww_error_set(error, WW_INVALID, place(reading, item->line), item->line,
                            "more than %zu layers; keep those between the planes of the trace", layers_most);
    struct ww_layer *layer = &study->stack.layer[study->stack.count];
    size_t count;
    enum ww_status status = ww_layer_read(layer, &count, item->value, &reading->weaves, fallback, error);
    if (status)
        return placed(reading, item->line, status, error);
    for (size_t i = 0; i < count; i++)
        layer[i].line = item->line;
    if (layer->kind == WW_LAYER_TRACE)
        layer->thickness = study->trace.thickness;
    study->stack.count += count;
    return WW_OK;
}

static enum ww_status take_layers(const struct reading *reading, struct ww_error *error)
{
    struct ww_study *study = reading->study;
    enum ww_status status = WW_OK;
    study->stack.layer = calloc(layers_most + WW_CLOTHS_MOST, sizeof *study->stack.layer);
    if (!study->stack.layer)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", layers_most);
    for (size_t i = 0; i < reading->settings.count && !status; i++) {
        const struct ww_setting *item = &reading->settings.item[i];
        if (strcmp(item->section, "stackup") == 0 && strcmp(item->key, "layer") == 0)
            status = take_layer(reading, item, error);
    }
    if (!status)
        ww_layers_fill(study->stack.layer, study->stack.count);
    return status;
}

/* --- the whole --------------------------------------------------------------------------------------------------------- */

/* Interpret reading->settings, which are filled. */
static enum ww_status interpret(struct reading *reading, const char *weaves_folder, const char *const *assignment,
                                size_t assignments, struct ww_error *error)
{
    struct ww_study *study = reading->study;
    enum ww_status status = WW_OK;
    snprintf(study->file, sizeof study->file, "%s", reading->settings.file);
    for (size_t i = 0; i < assignments && !status; i++)
        status = placed(reading, 0, ww_settings_set(&reading->settings, assignment[i], error), error);
    if (!status)
        status = check_keys(reading, error);
    if (!status)
        status = take_values(reading, error);
    if (!status)
        take_tolerances(reading);
    take_scatter(reading);
    if (!status)
        status = check_required(reading, error);
    if (!status)
        status = check_trace(reading, error);
    if (!status)
        status = check_levels(reading, error);
    if (!status)
        status = check_conversion(reading, error);
    if (!status)
        status = check_paths(reading, error);
    if (!status)
        status = check_lanes(reading, error);
    if (!status)
        status = check_tolerances(reading, error);
    if (!status)
        status = take_route(reading, error);
    if (!status)
        status = take_arms(reading, error);
    if (!status)
        status = ww_weaves_open(&reading->weaves, weaves_folder, &reading->settings, error);
    if (!status)
        status = check_materials(reading, error);
    if (!status)
        status = take_resin(reading, error);
    if (!status)
        status = take_copper(reading, error);
    if (!status)
        status = take_layers(reading, error);
    if (!status && !study->title[0])
        title_from_file(study);
    study->trace_line = reading->line[find_row("trace", "width")];
    return status;
}

enum ww_status ww_study_load(struct ww_study *study, const char *path, const char *weaves_folder,
                             const char *const *assignment, size_t assignments, struct ww_error *error)
{
    struct reading reading = {.study = study};
    memset(study, 0, sizeof *study);
    enum ww_status status = ww_settings_load(&reading.settings, path, error);
    if (!status)
        status = interpret(&reading, weaves_folder, assignment, assignments, error);
    if (status)
        ww_study_clear(study);
    ww_weaves_close(&reading.weaves);
    ww_settings_clear(&reading.settings);
    return status;
}

enum ww_status ww_study_read(struct ww_study *study, FILE *stream, const char *name, const char *weaves_folder,
                             const char *const *assignment, size_t assignments, struct ww_error *error)
{
    struct reading reading = {.study = study};
    memset(study, 0, sizeof *study);
    enum ww_status status = ww_settings_read(&reading.settings, stream, name, error);
    if (!status)
        status = interpret(&reading, weaves_folder, assignment, assignments, error);
    if (status)
        ww_study_clear(study);
    ww_weaves_close(&reading.weaves);
    ww_settings_clear(&reading.settings);
    return status;
}

void ww_study_clear(struct ww_study *study)
{
    ww_stack_clear(&study->stack);
    free(study->stack.layer);
    free(study->route);
    for (size_t i = 0; i < study->arms; i++)
        free(study->arm[i].route);
    free(study->arm);
    memset(study, 0, sizeof *study);
}
