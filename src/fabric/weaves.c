/* weaves.c - the folder of styles and materials, and the lookup by name.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * FOLDER/styles/<name>.ini holds the one section [style <name>]; FOLDER/materials.ini holds [glass ...] and
 * [resin ...], [foil ...]. Sections of the same names in a study come first. A style is looked up by opening its file, so its name
 * has to be a plain word: no path can be smuggled in.
 */
#include "weftwise/fabric.h"
#include "fabric/style.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    LONGEST_NAME = 31,   /* bytes; what name[32] of styles and materials holds */
    LONGEST_SECTION = 64 /* "style " and the name */
};

static const char style_ending[] = ".ini";

/* --- names -------------------------------------------------------------------------------------------------------- */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Letters, digits and . _ -, the first of them no dot. */
static bool is_plain(const char *name, size_t length)
{
    size_t plain = strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-");
    return length > 0 && length <= LONGEST_NAME && plain >= length && name[0] != '.';
}

static bool is_plain_word(const char *name)
{
    return is_plain(name, strlen(name));
}

/* Numbers by size and before words (101, 1080, 1080-spread, 2116, T1), words by letter. */
static int compare_names(const void *a, const void *b)
{
    const char *left = *(const char *const *)a, *right = *(const char *const *)b;
    unsigned long left_number = is_digit(*left) ? strtoul(left, NULL, 10) : (unsigned long)-1;
    unsigned long right_number = is_digit(*right) ? strtoul(right, NULL, 10) : (unsigned long)-1;
    if (left_number != right_number)
        return left_number < right_number ? -1 : 1;
    return strcmp(left, right);
}

void ww_names_clear(struct ww_names *names)
{
    for (size_t n = 0; n < names->count; n++)
        free(names->name[n]);
    free(names->name);
    *names = (struct ww_names){0};
}

/* Add the first `length` bytes of name, unless it is there. */
static enum ww_status add_name(struct ww_names *names, const char *name, size_t length, struct ww_error *error)
{
    for (size_t n = 0; n < names->count; n++)
        if (strlen(names->name[n]) == length && memcmp(names->name[n], name, length) == 0)
            return WW_OK;
    char **larger = realloc(names->name, (names->count + 1) * sizeof *larger);
    if (!larger)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the names of the weaves");
    names->name = larger;
    names->name[names->count] = strndup(name, length);
    if (!names->name[names->count])
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the names of the weaves");
    names->count++;
    return WW_OK;
}

/* Add X of every section "kind X". */
static enum ww_status add_section_names(struct ww_names *names, const struct ww_settings *settings, const char *kind,
                                        struct ww_error *error)
{
    size_t length = strlen(kind);
    enum ww_status status = WW_OK;
    for (size_t n = 0; settings && n < settings->headings && !status; n++) {
        const char *section = settings->heading[n].section;
        if (strncmp(section, kind, length) == 0 && section[length] == ' ')
            status = add_name(names, section + length + 1, strlen(section + length + 1), error);
    }
    return status;
}

/* folder/name, or folder/name/leaf; NULL if there is no memory. */
static char *join_path(const char *folder, const char *name, const char *leaf, const char *ending)
{
    size_t size = strlen(folder) + strlen(name) + strlen(leaf) + strlen(ending) + 3;
    char *path = malloc(size);
    if (path)
        snprintf(path, size, "%s/%s%s%s%s", folder, name, *leaf ? "/" : "", leaf, ending);
    return path;
}

/* A file "STYLE.ini" whose name a style may have: what else lies there (copies of editors, folders, pipes) is none of ours. Where it
 * cannot be looked at it counts: reading it will tell why. */
static bool is_style_file(DIR *folder, const char *name)
{
    size_t length = strlen(name), ending = strlen(style_ending);
    struct stat there;
    return length > ending && strcmp(name + length - ending, style_ending) == 0 && is_plain(name, length - ending) &&
           (fstatat(dirfd(folder), name, &there, 0) != 0 || S_ISREG(there.st_mode));
}

static enum ww_status add_file_names(struct ww_names *names, const char *folder, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    DIR *stream = NULL;
    char *path = join_path(folder, "styles", "", "");
    if (!path)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a path");
    stream = opendir(path);
    if (!stream)
        status =
            ww_error_set(error, WW_IO, path, 0, "could not be opened: %s; name the weaves folder", strerror(errno));
    errno = 0;
    for (const struct dirent *entry = NULL; !status && (entry = readdir(stream)) != NULL; errno = 0)
        if (is_style_file(stream, entry->d_name))
            status = add_name(names, entry->d_name, strlen(entry->d_name) - strlen(style_ending), error);
    if (!status && errno != 0)
        status = ww_error_set(error, WW_IO, path, 0, "could not be read: %s", strerror(errno));
    if (stream)
        closedir(stream);
    free(path);
    return status;
}

static void sort_names(struct ww_names *names)
{
    if (names->count > 1)
        qsort(names->name, names->count, sizeof *names->name, compare_names);
}

/* All names of a kind: "style", "glass", "resin" or "foil". */
static enum ww_status list_names(const struct ww_weaves *weaves, const char *kind, struct ww_names *names,
                                 struct ww_error *error)
{
    *names = (struct ww_names){0};
    enum ww_status status = add_section_names(names, weaves->local, kind, error);
    if (!status && strcmp(kind, "style") != 0)
        status = add_section_names(names, &weaves->materials, kind, error);
    else if (!status && weaves->folder)
        status = add_file_names(names, weaves->folder, error);
    if (status)
        ww_names_clear(names);
    sort_names(names);
    return status;
}

enum ww_status ww_weaves_styles(const struct ww_weaves *weaves, struct ww_names *names, struct ww_error *error)
{
    return list_names(weaves, "style", names, error);
}

/* --- a name that is not there -------------------------------------------------------------------------------------- */

/* Append a word to the list in text, as far as it fits. */
static void append(char *text, size_t size, const char *word)
{
    size_t used = strlen(text);
    if (used + strlen(word) + 3 <= size)
        snprintf(text + used, size - used, "%s%s", used ? ", " : "", word);
}

enum { MANY = 12 };

/* The three names nearest to `name`; where none is near, all of them, or how many there are. Reorders the names. */
static void name_the_close(char *text, size_t size, const char *name, struct ww_names *names)
{
    const char *nearest;
    size_t left = names->count;
    text[0] = '\0';
    if (!names->name)
        return;
    while (names->count - left < 3 &&
           (nearest = ww_nearest_word(name, (const char *const *)names->name, left)) != NULL) {
        size_t n = 0;
        while (names->name[n] != nearest)
            n++;
        append(text, size, nearest);
        char *taken = names->name[n]; /* out of the running: change places with the last */
        names->name[n] = names->name[--left];
        names->name[left] = taken;
    }
    if (left == names->count && left > MANY)
        snprintf(text, size, "a list of %zu, from %s to %s ('weftwise styles' prints it)", left, names->name[0],
                 names->name[left - 1]);
    else
        for (size_t n = 0; left == names->count && n < names->count; n++)
            append(text, size, names->name[n]);
}

static enum ww_status refuse_name(const struct ww_weaves *weaves, const char *kind, const char *name,
                                  struct ww_error *error)
{
    struct ww_names names;
    char close[400];
    enum ww_status status = list_names(weaves, kind, &names, error);
    if (status)
        return status;
    name_the_close(close, sizeof close, name, &names);
    status = ww_error_set(error, WW_INVALID, NULL, 0, "there is no %s \"%.60s\"; %s%s", kind, name,
                          close[0] ? "there is " : "none is defined", close);
    ww_names_clear(&names);
    return status;
}

/* --- open and close --------------------------------------------------------------------------------------------------- */

enum ww_status ww_weaves_open(struct ww_weaves *weaves, const char *folder, const struct ww_settings *local,
                              struct ww_error *error)
{
    enum ww_status status = WW_OK;
    char *path = NULL;
    *weaves = (struct ww_weaves){.local = local};
    if (!folder)
        return WW_OK;
    weaves->folder = strdup(folder);
    path = join_path(folder, "materials", "", style_ending);
    if (!weaves->folder || !path)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a path");
    else
        status = ww_settings_load(&weaves->materials, path, error);
    free(path);
    if (status)
        ww_weaves_close(weaves);
    return status;
}

void ww_weaves_close(struct ww_weaves *weaves)
{
    free(weaves->folder);
    ww_settings_clear(&weaves->materials);
    *weaves = (struct ww_weaves){0};
}

/* --- materials --------------------------------------------------------------------------------------------------------- */

/* Where "kind name" stands: in the study, else in the materials. `buffer` keeps the section's name. */
static enum ww_status find_material(const struct ww_weaves *weaves, const char *kind, const char *name,
                                    char buffer[LONGEST_SECTION], struct section *section, struct ww_error *error)
{
    if (strlen(name) > LONGEST_NAME)
        return refuse_name(weaves, kind, name, error);
    snprintf(buffer, LONGEST_SECTION, "%s %s", kind, name);
    *section = (struct section){weaves->local, buffer};
    if (weaves->local && ww_settings_has_section(weaves->local, buffer))
        return WW_OK;
    section->settings = &weaves->materials;
    if (ww_settings_has_section(&weaves->materials, buffer))
        return WW_OK;
    return refuse_name(weaves, kind, name, error);
}

enum ww_status ww_weaves_glass(const struct ww_weaves *weaves, const char *name, struct ww_glass *glass,
                               struct ww_error *error)
{
    char buffer[LONGEST_SECTION];
    struct section section;
    enum ww_status status = find_material(weaves, "glass", name, buffer, &section, error);
    *glass = (struct ww_glass){0};
    if (!status)
        status = ww_glass_read(glass, &section, error);
    if (status)
        *glass = (struct ww_glass){0};
    return status;
}

enum ww_status ww_weaves_resin(const struct ww_weaves *weaves, const char *name, struct ww_resin *resin,
                               struct ww_error *error)
{
    char buffer[LONGEST_SECTION];
    struct section section;
    enum ww_status status = find_material(weaves, "resin", name, buffer, &section, error);
    *resin = (struct ww_resin){0};
    if (!status)
        status = ww_resin_read(resin, &section, error);
    if (status)
        *resin = (struct ww_resin){0};
    return status;
}

enum ww_status ww_weaves_foil(const struct ww_weaves *weaves, const char *name, struct ww_foil *foil,
                              struct ww_error *error)
{
    char buffer[LONGEST_SECTION];
    struct section section;
    enum ww_status status = find_material(weaves, "foil", name, buffer, &section, error);
    *foil = (struct ww_foil){0};
    if (!status)
        status = ww_foil_read(foil, &section, error);
    if (status)
        *foil = (struct ww_foil){0};
    return status;
}

/* --- styles ------------------------------------------------------------------------------------------------------------- */

/* The same filaments of another glass: yarns keep their section, and weigh what that glass weighs. */
static void take_glass(struct ww_style *style, const struct ww_glass *glass)
{
    double heavier = glass->density / style->glass.density;
    struct ww_yarn *const yarn[] = {&style->warp, &style->fill};
    for (size_t i = 0; i < 2; i++) {
        yarn[i]->tex.value *= heavier;
        yarn[i]->code[0] = '\0'; /* codes are of E glass */
    }
    style->weight.value *= heavier;
    style->glass = *glass;
}

/* Of another glass a yarn or the cloth may weigh what none may. What is not given is 0. */
static enum ww_status check_weights(const struct ww_style *style, struct ww_error *error)
{
    const struct {
        const char *of, *unit;
        double value, least, most, si; /* si: of the unit */
    } weight[] = {{"a warp yarn", "tex", style->warp.tex.value, WW_TEX_LEAST, WW_TEX_MOST, 1e-6},
                  {"a fill yarn", "tex", style->fill.tex.value, WW_TEX_LEAST, WW_TEX_MOST, 1e-6},
                  {"the cloth", "g/m2", style->weight.value, WW_WEIGHT_LEAST, WW_WEIGHT_MOST, 1e-3}};
    for (size_t i = 0; i < sizeof weight / sizeof *weight; i++) {
        double value = weight[i].value, si = weight[i].si;
        if (value > 0 && !(value >= weight[i].least && value <= weight[i].most))
            return ww_error_set(
                error, WW_INVALID, NULL, 0,
                "style %s: of glass %s, of %g g/cm3, %s has %g %s, outside %g to %g %s; give the glass "
                "another density",
                style->name, style->glass.name, style->glass.density * 1e-3, weight[i].of, value / si, weight[i].unit,
                weight[i].least / si, weight[i].most / si, weight[i].unit);
    }
    return WW_OK;
}

/* The glass whose name the section gives; one that does not exist is the section's fault. */
static enum ww_status find_glass(const struct ww_weaves *weaves, const struct section *section, const char *name,
                                 struct ww_glass *glass, struct ww_error *error)
{
    struct ww_error inner = {0};
    enum ww_status status = ww_weaves_glass(weaves, name, glass, &inner);
    if (status && !inner.file[0]) {
        const struct ww_setting *item = ww_settings_find(section->settings, section->name, "glass");
        ww_error_set(&inner, status, section->settings->file, item ? item->line : 0, "glass: %s", inner.text);
    }
    return status ? ww_error_set(error, status, inner.file, inner.line, "%s", inner.text) : WW_OK;
}

/* Read the section, look up its glass. */
static enum ww_status read_style(const struct ww_weaves *weaves, const struct section *section,
                                 struct ww_style *style, struct ww_error *error)
{
    struct ww_glass glass = {0};
    enum ww_status status = ww_style_read(style, section, false, error);
    if (!status)
        status = find_glass(weaves, section, style->glass.name, &glass, error);
    if (!status)
        style->glass = glass;
    return status;
}

/* Lines are of the file that a style is told to be from. */
static void forget_lines(struct ww_style *style)
{
    enum { DATA = 13 };
    struct ww_datum *const datum[DATA] = {
        &style->warp_count, &style->fill_count,  &style->warp.tex,    &style->warp.width, &style->warp.height,
        &style->fill.tex,   &style->fill.width,  &style->fill.height, &style->shape,      &style->thickness,
        &style->weight,     &style->resin_least, &style->resin_most};
    for (size_t i = 0; i < DATA; i++)
        datum[i]->line = 0;
}

/* Change what the section says in a style that is there. Yarns that it does not give are of the same filaments, whatever its
 * glass. */
static enum ww_status change_style(const struct ww_weaves *weaves, const struct section *section,
                                   struct ww_style *style, struct ww_error *error)
{
    struct ww_style changed = *style;
    struct ww_glass glass = {0};
    forget_lines(&changed);
    enum ww_status status = ww_style_read(&changed, section, true, error);
    if (!status)
        status = find_glass(weaves, section, changed.glass.name, &glass, error);
    if (status)
        return status;
    changed.glass = style->glass;
    struct ww_style given = changed;
    if (ww_settings_find(section->settings, section->name, "glass"))
        take_glass(&changed, &glass);
    if (ww_settings_find(section->settings, section->name, "warp_yarn"))
        changed.warp = given.warp;
    if (ww_settings_find(section->settings, section->name, "fill_yarn"))
        changed.fill = given.fill;
    if (ww_settings_find(section->settings, section->name, "weight"))
        changed.weight = given.weight;
    if ((status = check_weights(&changed, error)))
        return status;
    *style = changed;
    return WW_OK;
}

/* A style's file holds its one section and nothing else. */
static enum ww_status check_sections(const struct ww_settings *settings, const char *name, struct ww_error *error)
{
    if (settings->headings == 0)
        return ww_error_set(error, WW_MALFORMED, settings->file, 0, "holds no [%s], the section of this file", name);
    for (size_t n = 0; n < settings->count; n++)
        if (strcmp(settings->item[n].section, name) != 0)
            return ww_error_set(error, WW_MALFORMED, settings->file, settings->item[n].line,
                                "\"%s\" does not stand in [%s], the one section of this file; name section and file "
                                "alike",
                                settings->item[n].key, name);
    return WW_OK;
}

/* From its file, not closed. */
static enum ww_status load_style(const struct ww_weaves *weaves, const char *name, const char *section_name,
                                 struct ww_style *style, struct ww_error *error)
{
    struct ww_settings settings = {0};
    struct section section = {&settings, section_name};
    char *path = join_path(weaves->folder, "styles", name, style_ending);
    enum ww_status status = path ? ww_settings_load(&settings, path, error)
                                 : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a path");
    if (!status)
        status = check_sections(&settings, section_name, error);
    if (!status)
        status = read_style(weaves, &section, style, error);
    ww_settings_clear(&settings);
    free(path);
    return status;
}

/* A file that is there but cannot be looked at counts: reading it will tell why. */
static enum ww_status find_file(const struct ww_weaves *weaves, const char *name, bool *there, struct ww_error *error)
{
    *there = false;
    if (!weaves->folder || !is_plain_word(name))
        return WW_OK;
    char *path = join_path(weaves->folder, "styles", name, style_ending);
    if (!path)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a path");
    *there = access(path, F_OK) == 0 || (errno != ENOENT && errno != ENOTDIR);
    free(path);
    return WW_OK;
}

/* From the study, the folder, or the folder with what the study changes; not closed. */
static enum ww_status find_style(const struct ww_weaves *weaves, const char *name, struct ww_style *style,
                                 struct ww_error *error)
{
    char section_name[LONGEST_SECTION];
    struct section local = {weaves->local, section_name};
    *style = (struct ww_style){0};
    if (strlen(name) > LONGEST_NAME)
        return refuse_name(weaves, "style", name, error);
    snprintf(section_name, sizeof section_name, "style %s", name);
    bool in_study = weaves->local && ww_settings_has_section(weaves->local, section_name);
    bool in_folder;
    enum ww_status status = find_file(weaves, name, &in_folder, error);
    if (status)
        return status;
    if (!in_study && !in_folder)
        return refuse_name(weaves, "style", name, error);
    if (in_study && (!in_folder || ww_style_stands_alone(&local)))
        return read_style(weaves, &local, style, error);
    status = load_style(weaves, name, section_name, style, error);
    if (!status && in_study)
        status = change_style(weaves, &local, style, error);
    return status;
}

/* "1080/NE" where no style has that name: the part before the bar, of the glass behind it. */
static enum ww_status find_with_glass(const struct ww_weaves *weaves, const char *name, struct ww_style *style,
                                      struct ww_error *error)
{
    char word[LONGEST_SECTION];
    const char *bar = strchr(name, '/');
    struct ww_glass glass = {0};
    if (strlen(name) > LONGEST_NAME)
        return refuse_name(weaves, "style", name, error);
    snprintf(word, sizeof word, "%.*s", (int)(bar - name), name);
    enum ww_status status = find_style(weaves, word, style, error);
    if (!status)
        status = ww_weaves_glass(weaves, bar + 1, &glass, error);
    if (status)
        return status;
    take_glass(style, &glass);
    strcpy(style->name, name);
    return check_weights(style, error);
}

enum ww_status ww_weaves_style(const struct ww_weaves *weaves, const char *name, struct ww_style *style,
                               struct ww_error *error)
{
    char section_name[LONGEST_SECTION + LONGEST_NAME];
    snprintf(section_name, sizeof section_name, "style %.*s", LONGEST_SECTION, name);
    const char *bar = strchr(name, '/');
    bool two = bar && bar != name && bar[1] != '\0';
    bool whole = !two || (weaves->local && ww_settings_has_section(weaves->local, section_name));
    enum ww_status status =
        whole ? find_style(weaves, name, style, error) : find_with_glass(weaves, name, style, error);
    if (!status)
        status = ww_style_close(style, error);
    if (status)
        *style = (struct ww_style){0};
    return status;
}

/* --- cloths on each other ------------------------------------------------------------------------------------------- */

/* "3x1035" -> 3, and name behind the x; 1 where no number stands before it. */
static unsigned long count_of(const char *text, const char **name)
{
    size_t digits = strspn(text, "0123456789");
    bool counted = digits > 0 && digits < 4 && text[digits] == 'x' && text[digits + 1] != '\0';
    *name = counted ? text + digits + 1 : text;
    return counted ? strtoul(text, NULL, 10) : 1;
}

/* One term, "2x1035/NE". */
static enum ww_status add_cloths(const struct ww_weaves *weaves, const char *text, struct ww_cloths *cloths,
                                 struct ww_error *error)
{
    const char *name;
    unsigned long count = count_of(text, &name);
    if (count == 0 || count > WW_CLOTHS_MOST - cloths->count)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%lu cloths %.40s; give 1 to %d cloths in all",
                            count + cloths->count, name, WW_CLOTHS_MOST);
    struct ww_style *first = &cloths->style[cloths->count];
    enum ww_status status = ww_weaves_style(weaves, name, first, error);
    for (unsigned long i = 1; i < count && !status; i++)
        first[i] = *first;
    cloths->count += status ? 0 : count;
    return status;
}

enum ww_status ww_weaves_cloths(const struct ww_weaves *weaves, const char *text, struct ww_cloths *cloths,
                                struct ww_error *error)
{
    enum ww_status status = WW_OK;
    char *copy = strdup(text), *term = copy;
    cloths->count = 0;
    if (!copy)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a ply's cloths");
    while (term && !status) {
        char *next = strchr(term, '+');
        if (next)
            *next++ = '\0';
        status = add_cloths(weaves, term, cloths, error);
        term = next;
    }
    free(copy);
    return status;
}
