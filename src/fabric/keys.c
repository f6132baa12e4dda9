/* keys.c - read one section by its table of keys.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Nothing is guessed: a key that is not in the table, or there twice, is refused with its line and the nearest key.
 * Where a figure has a source of its own (KEY.source) that is kept; else the section's `source` speaks for it. The
 * text of the source tells the origin: "from memory ..." is memory, "closed ..." was closed when a study was written.
 * A section may also change single figures of an object that is there: what was said of those before goes.
 */
#include "fabric/keys.h"
#include "fabric/yarn.h"

#include <stdlib.h>
#include <string.h>

/* What may be said of a figure behind its key. */
enum part { FIGURE, SOURCE, UNCERTAINTY, PARTS };
static const char *const ending[PARTS] = {"", ".source", ".uncertainty"};

/* One key of a section as it is being read. */
struct reading {
    char *object;
    const struct section *section;
    const struct key *table;
    size_t count;
    struct ww_error *error;
};

static bool has_source(const struct key *key)
{
    return key->kind == KEY_DATUM || key->kind == KEY_PITCH || key->kind == KEY_YARN;
}

/* Lengths of the cloth are what an answer's range is made of. */
static bool has_part(const struct key *key, enum part part)
{
    return part == FIGURE || (part == SOURCE && has_source(key)) ||
           (part == UNCERTAINTY && key->kind == KEY_DATUM && key->dimension == WW_LENGTH);
}

static struct ww_datum *datum_of(const struct reading *reading, const struct key *key)
{
    char *field = reading->object + key->offset;
    return key->kind == KEY_YARN ? &((struct ww_yarn *)(void *)field)->tex : (struct ww_datum *)(void *)field;
}

/* Where a setting came from, for messages. */
static const char *file_of(const struct reading *reading, const struct ww_setting *item)
{
    return item->line > 0 ? reading->section->settings->file : "--set";
}

static enum ww_status refuse(const struct reading *reading, const struct ww_setting *item, enum ww_status status,
                             const char *text)
{
    return ww_error_set(reading->error, status, file_of(reading, item), item->line, "%s: %s", item->key, text);
}

/* --- finding a key ----------------------------------------------------------------------------------------- */

enum { MOST_KEYS = 32, LONGEST_KEY = 64 };

/* The key of the table that the word names, by itself or with what is said of it behind. */
static const struct key *find_key(const struct reading *reading, const char *word, enum part *part)
{
    char name[LONGEST_KEY];
    for (size_t n = 0; n < reading->count; n++)
        for (int p = FIGURE; p < PARTS; p++) {
            *part = (enum part)p;
            snprintf(name, sizeof name, "%s%s", reading->table[n].help.key, ending[p]);
            if (has_part(&reading->table[n], *part) && strcmp(word, name) == 0)
                return &reading->table[n];
        }
    return NULL;
}

bool ww_is_other_weave(const char *key, const char *value)
{
    static const char *const other[] = {"twill", "satin", "basket", "leno"};
    if (strcmp(key, "weave") == 0)
        return true;
    for (size_t i = 0; i < sizeof other / sizeof *other; i++)
        if (strstr(value, other[i]))
            return true;
    return false;
}

static enum ww_status refuse_unknown(const struct reading *reading, const struct ww_setting *item)
{
    const char *candidate[PARTS * MOST_KEYS];
    char name[PARTS * MOST_KEYS][LONGEST_KEY], all[400] = "";
    size_t candidates = 0;
    if (ww_is_other_weave(item->key, item->value))
        return refuse(reading, item, WW_INVALID, WW_OTHER_WEAVE);
    for (size_t n = 0; n < reading->count && n < MOST_KEYS; n++) {
        const struct key *key = &reading->table[n];
        size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", n ? ", " : "", key->help.key);
        for (int part = FIGURE; part < PARTS; part++)
            if (has_part(key, (enum part)part)) {
                snprintf(name[candidates], LONGEST_KEY, "%s%s", key->help.key, ending[part]);
                candidate[candidates] = name[candidates];
                candidates++;
            }
    }
    const char *nearest = ww_nearest_word(item->key, candidate, candidates);
    return ww_error_set(reading->error, WW_MALFORMED, file_of(reading, item), item->line,
                        nearest ? "[%s] has no key \"%.60s\"; did you mean \"%s\"?"
                                : "[%s] has no key \"%.60s\"; its keys are %s",
                        reading->section->name, item->key, nearest ? nearest : all);
}

/* The item of the same key before this one; NULL if it is the first. */
static const struct ww_setting *find_earlier(const struct reading *reading, const struct ww_setting *item)
{
    const struct ww_setting *first = ww_settings_find(reading->section->settings, reading->section->name, item->key);
    return first == item ? NULL : first;
}

/* Another key of the same field that the section has, too: NULL if none. */
static const struct ww_setting *find_rival(const struct reading *reading, const struct key *key)
{
    for (size_t n = 0; n < reading->count; n++) {
        const struct key *other = &reading->table[n];
        if (other == key || other->offset != key->offset)
            continue;
        const struct ww_setting *item =
            ww_settings_find(reading->section->settings, reading->section->name, other->help.key);
        if (item)
            return item;
    }
    return NULL;
}

/* --- values -------------------------------------------------------------------------------------------------- */

static enum ww_status check_range(const struct reading *reading, const struct ww_setting *item, const struct key *key,
                                  double value)
{
    char shown[48], least[48], most[48];
    if (value >= key->least && value <= key->most)
        return WW_OK;
    return ww_error_set(reading->error, WW_INVALID, file_of(reading, item), item->line,
                        "%s %s is out of range; give %s to %s", item->key,
                        ww_number_format(shown, sizeof shown, value, key->dimension, 6),
                        ww_number_format(least, sizeof least, key->least, key->dimension, 6),
                        ww_number_format(most, sizeof most, key->most, key->dimension, 6));
}

static enum ww_status take_text(const struct reading *reading, const struct ww_setting *item, char *field,
                                size_t size)
{
    size_t length = strlen(item->value);
    if (length >= size)
        return ww_error_set(reading->error, WW_MALFORMED, file_of(reading, item), item->line,
                            "%s is %zu bytes long; give at most %zu", item->key, length, size - 1);
    memcpy(field, item->value, length + 1);
    return WW_OK;
}

const char *ww_weave_kind_name(enum ww_weave_kind kind)
{
    static const char *const name[] = {[WW_PLAIN] = "plain", [WW_SPREAD] = "spread", [WW_OPEN] = "open"};
    return (size_t)kind < sizeof name / sizeof name[0] ? name[kind] : "unknown";
}

static enum ww_status take_weave(const struct reading *reading, const struct ww_setting *item, char *field)
{
    for (enum ww_weave_kind kind = WW_PLAIN; kind <= WW_OPEN; kind++)
        if (strcmp(item->value, ww_weave_kind_name(kind)) == 0) {
            *(enum ww_weave_kind *)(void *)field = kind;
            return WW_OK;
        }
    if (ww_is_other_weave(item->key, item->value))
        return refuse(reading, item, WW_INVALID, WW_OTHER_WEAVE);
    return refuse(reading, item, WW_MALFORMED, "give plain, spread or open");
}

static enum ww_status take_foil(const struct reading *reading, const struct ww_setting *item, char *field)
{
    for (enum ww_foil_model model = WW_FOIL_SMOOTH; model <= WW_FOIL_HURAY; model++)
        if (strcmp(item->value, ww_foil_model_name(model)) == 0) {
            *(enum ww_foil_model *)(void *)field = model;
            return WW_OK;
        }
    return refuse(reading, item, WW_MALFORMED, "give smooth, hammerstad, groiss or huray");
}

static enum ww_status take_value(const struct reading *reading, const struct ww_setting *item, const struct key *key)
{
    char *field = reading->object + key->offset;
    struct ww_error inner = {0};
    enum ww_status status;
    double value = 0.0;
    switch (key->kind) {
    case KEY_TEXT:
        return take_text(reading, item, field, key->size);
    case KEY_WEAVE:
        return take_weave(reading, item, field);
    case KEY_FOIL:
        return take_foil(reading, item, field);
    case KEY_NUMBER:
        status = ww_number_parse(item->value, key->dimension, &value, &inner);
        if (!status)
            *(double *)(void *)field = value;
        break;
    case KEY_DATUM:
    case KEY_PITCH:
        status = ww_number_parse(item->value, key->dimension, &value, &inner);
        if (!status)
            *datum_of(reading, key) = (struct ww_datum){
                .value = key->kind == KEY_PITCH ? 1.0 / value : value, .origin = WW_USER, .line = item->line};
        break;
    case KEY_YARN:
    default:
        *datum_of(reading, key) = (struct ww_datum){.value = 0.0};
        status = ww_yarn_read((struct ww_yarn *)(void *)field, item->value, &inner);
        value = datum_of(reading, key)->value;
        datum_of(reading, key)->line = item->line;
        break;
    }
    return status ? refuse(reading, item, status, inner.text) : check_range(reading, item, key, value);
}

/* Of a figure that is left out too, for closing it does not make it less uncertain. */
static enum ww_status take_uncertainty(const struct reading *reading, const struct ww_setting *item,
                                       struct ww_datum *datum)
{
    struct ww_error inner = {0};
    double share = 0.0;
    enum ww_status status = ww_number_parse(item->value, WW_FRACTION, &share, &inner);
    if (status)
        return refuse(reading, item, status, inner.text);
    if (!(share >= 0.0 && share <= 0.5))
        return refuse(reading, item, WW_INVALID, "give a share of 0 % to 50 %");
    datum->stated = true;
    datum->uncertainty = share;
    return WW_OK;
}

/* The figures first: what is said of them may stand before them. */
static enum ww_status take_figure(const struct reading *reading, const struct ww_setting *item)
{
    enum part part;
    const struct key *key = find_key(reading, item->key, &part);
    const struct ww_setting *earlier = find_earlier(reading, item);
    const struct ww_setting *rival = key && part == FIGURE ? find_rival(reading, key) : NULL;
    if (!key)
        return refuse_unknown(reading, item);
    if (earlier)
        return ww_error_set(reading->error, WW_MALFORMED, file_of(reading, item), item->line,
                            "%s is given twice, first in line %d; keep one of them", item->key, earlier->line);
    if (rival)
        return ww_error_set(reading->error, WW_MALFORMED, file_of(reading, item), item->line,
                            "%s and %s are both given; keep one of them", item->key, rival->key);
    return part == FIGURE ? take_value(reading, item, key) : WW_OK;
}

static enum ww_status take_what_is_said(const struct reading *reading, const struct ww_setting *item)
{
    enum part part;
    const struct key *key = find_key(reading, item->key, &part);
    if (!key || part == FIGURE)
        return WW_OK;
    if (part == UNCERTAINTY)
        return take_uncertainty(reading, item, datum_of(reading, key));
    if (!ww_settings_find(reading->section->settings, reading->section->name, key->help.key))
        return ww_error_set(reading->error, WW_MALFORMED, file_of(reading, item), item->line,
                            "%s speaks of a figure that is not given; give %s, or remove the line", item->key,
                            key->help.key);
    return take_text(reading, item, datum_of(reading, key)->source, sizeof datum_of(reading, key)->source);
}

/* --- the whole section ------------------------------------------------------------------------------------------ */

static bool starts_with(const char *text, const char *start)
{
    return strncmp(text, start, strlen(start)) == 0;
}

static void settle_origin(struct ww_datum *datum, const char *section_source)
{
    if (datum->origin == WW_ABSENT)
        return;
    if (!datum->source[0] && section_source)
        strncpy(datum->source, section_source, sizeof datum->source - 1);
    if (datum->origin == WW_DERIVED || !datum->source[0])
        return;
    if (starts_with(datum->source, "from memory"))
        datum->origin = WW_MEMORY;
    else if (starts_with(datum->source, "closed"))
        datum->origin = WW_CLOSED;
    else
        datum->origin = WW_FOUND;
}

/* Of the section's header; 0 where the whole section came with --set. */
static int line_of(const struct section *section)
{
    for (size_t n = 0; n < section->settings->headings; n++)
        if (strcmp(section->settings->heading[n].section, section->name) == 0)
            return section->settings->heading[n].line;
    return 0;
}

static bool is_lacking(const struct reading *reading, const struct key *key)
{
    return key->needed && !ww_settings_find(reading->section->settings, reading->section->name, key->help.key) &&
           !find_rival(reading, key);
}

bool ww_keys_complete(const struct section *section, const struct key *table, size_t count)
{
    const struct reading reading = {NULL, section, table, count, NULL};
    for (size_t n = 0; n < count; n++)
        if (is_lacking(&reading, &table[n]))
            return false;
    return true;
}

static enum ww_status check_needed(const struct reading *reading)
{
    const struct section *section = reading->section;
    int line = line_of(section);
    for (size_t n = 0; n < reading->count; n++) {
        const struct key *key = &reading->table[n];
        if (is_lacking(reading, key))
            return ww_error_set(reading->error, WW_INVALID, line > 0 ? section->settings->file : "--set", line,
                                "[%s] lacks %s (%s); add a line such as %s = %s", section->name, key->help.key,
                                key->help.help, key->help.key, key->help.example);
    }
    return WW_OK;
}

static enum ww_status take_items(const struct reading *reading,
                                 enum ww_status (*take)(const struct reading *, const struct ww_setting *))
{
    const struct section *section = reading->section;
    enum ww_status status = WW_OK;
    for (size_t n = 0; n < section->settings->count && !status; n++)
        if (strcmp(section->settings->item[n].section, section->name) == 0)
            status = take(reading, &section->settings->item[n]);
    return status;
}

enum ww_status ww_keys_read(void *object, const struct section *section, const struct key *table, size_t count,
                            bool over, struct ww_error *error)
{
    struct reading reading = {object, section, table, count, error};
    const struct ww_setting *source = ww_settings_find(section->settings, section->name, "source");
    enum ww_status status = take_items(&reading, take_figure);
    if (!status)
        status = take_items(&reading, take_what_is_said);
    if (!status && !over)
        status = check_needed(&reading);
    for (size_t n = 0; n < count && !status; n++)
        if (has_source(&table[n]) && ww_settings_find(section->settings, section->name, table[n].help.key))
            settle_origin(datum_of(&reading, &table[n]), source ? source->value : NULL);
    return status;
}
