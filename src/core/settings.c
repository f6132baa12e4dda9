/* settings.c - the INI files of studies and weaves, read whole, checked line by line, split by inih.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * inih splits lines into section, key and value well, but is too kind for a format that guesses nothing: it
 * cuts long lines, takes an indented line as more of the value above, and says nothing of repeated sections
 * or of what stands behind a header. So the text is first read whole and checked for bytes that no text has;
 * then inih gets it through a reader of ours, which counts lines and refuses what inih would bend.
 *
 * The length of inih's line buffer is fixed when inih is built (200 by default). Where it is a variable (as in
 * Debian's build; WW_INIH_VARIABLES), it is raised for the time of the call, under a lock. The reader is told
 * the buffer's size and refuses a line that does not fit, so nothing is ever cut.
 */
#include "weftwise/core.h"

#include <errno.h>
#include <ini.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "core/utf8.h"

enum {
    LONGEST_LINE = 4096,            /* bytes, without its end */
    LONGEST_SECTION = 49,           /* bytes; inih keeps no more of a section's name */
    LARGEST_FILE = 4 * 1024 * 1024, /* bytes */
    MOST_SECTIONS = 4096,
    MOST_SETTINGS = 16384 /* far above any study; keeps a hostile file's cost low */
};

/* --- text ----------------------------------------------------------------------------------------------- */

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static const char byte_order_mark[] = "\xEF\xBB\xBF";

/* text, behind the byte order mark that some editors put first. */
static const char *behind_mark(const char *text)
{
    return strncmp(text, byte_order_mark, 3) == 0 ? text + 3 : text;
}

/* What is wrong with the character at p, NULL if nothing; *length is its length. */
static const char *bad_character(const char *p, size_t *length)
{
    unsigned char c = (unsigned char)*p;
    *length = ww_utf8_length((const unsigned char *)p);
    if (c == 0)
        return "holds a NUL byte; save the file as plain text";
    if (*length == 0)
        return "is not UTF-8 text; save the file as UTF-8";
    if (*length == 3 && strncmp(p, byte_order_mark, 3) == 0) /* inih would skip one, and read what we have not */
        return "holds a byte order mark, which only the start of a file may; delete it";
    if (c != '\t' && c != '\n' && !(c == '\r' && p[1] == '\n') && ww_utf8_hidden((const unsigned char *)p))
        return c < 0x80
                   ? "holds a control character; remove it"
                   : "holds a character that cannot be seen, a control character or a mark of direction; remove it";
    return NULL;
}

/* text[size] is followed by a NUL that is not part of it. */
static enum ww_status check_characters(const char *text, size_t size, const char *name, struct ww_error *error)
{
    int line = 1;
    size_t length = 0;
    for (size_t i = (size_t)(behind_mark(text) - text); i < size; i += length) {
        const char *wrong = bad_character(text + i, &length);
        if (wrong != NULL)
            return ww_error_set(error, WW_MALFORMED, name, line, "the line %s", wrong);
        line += text[i] == '\n';
    }
    return WW_OK;
}

/* The whole stream, with a NUL behind it. */
static enum ww_status read_whole(FILE *stream, const char *name, char **text, size_t *size, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    size_t room = 0;
    size_t used = 0;
    char *buffer = NULL;
    for (;;) {
        if (room - used < 2) {
            room = room == 0 ? 16384 : 2 * room;
            char *larger = realloc(buffer, room);
            if (larger == NULL) {
                status = ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory to read it");
                goto done;
            }
            buffer = larger;
        }
        errno = 0;
        size_t got = fread(buffer + used, 1, room - used - 1, stream);
        used += got;
        if (ferror(stream)) {
            status = ww_error_set(error, WW_IO, name, 0, "could not be read: %s", strerror(errno != 0 ? errno : EIO));
            goto done;
        }
        if (used > LARGEST_FILE) {
            status = ww_error_set(error, WW_MALFORMED, name, 0, "is over 4 MB; a settings file is a few kB of text");
            goto done;
        }
        if (got == 0)
            break;
    }
    buffer[used] = '\0';
    *text = buffer;
    *size = used;
    buffer = NULL;
done:
    free(buffer);
    return status;
}

/* --- one file ------------------------------------------------------------------------------------------- */

struct span {
    const char *start;
    size_t length;
};

struct parsing {
    struct ww_settings *settings;
    const char *next;    /* the rest of the text */
    int line;            /* the line that inih has */
    size_t room;         /* of settings->item */
    size_t heading_room; /* of settings->heading */
    enum ww_status status;
    struct ww_error *error;
};

static void refuse_line(struct parsing *parsing, enum ww_status status, const char *what)
{
    parsing->status = ww_error_set(parsing->error, status, parsing->settings->file, parsing->line, "%s", what);
}

static struct span first_line(const char *text)
{
    return (struct span){text, strcspn(text, "\r\n")};
}

static const char *behind_line(struct span line)
{
    const char *p = line.start + line.length;
    p += *p == '\r';
    return p + (*p == '\n');
}

/* If line is a header, the name between its brackets; else a span without a start. */
static struct span header_name(struct span line)
{
    struct span name = {NULL, 0};
    if (line.length == 0 || line.start[0] != '[')
        return name;
    const char *close = memchr(line.start, ']', line.length);
    if (close != NULL)
        name = (struct span){line.start + 1, (size_t)(close - line.start) - 1};
    return name;
}

/* Is what stands at p up to end nothing, blanks or a comment? */
static bool is_rest_empty(const char *p, const char *end)
{
    bool blank = false;
    for (; p < end && is_blank(*p); p++)
        blank = true;
    return p == end || (blank && *p == ';');
}

static bool is_heading(const struct ww_heading *heading, struct span name)
{
    return strlen(heading->section) == name.length && memcmp(heading->section, name.start, name.length) == 0;
}

/* False when there is no memory. *room is grown to hold one more. */
static bool add_heading(struct ww_settings *settings, size_t *room, struct span name, int line)
{
    if (settings->headings == *room) {
        size_t more = *room == 0 ? 16 : 2 * *room;
        struct ww_heading *larger = realloc(settings->heading, more * sizeof *larger);
        if (larger == NULL)
            return false;
        settings->heading = larger;
        *room = more;
    }
    char *section = strndup(name.start, name.length);
    if (section == NULL)
        return false;
    settings->heading[settings->headings++] = (struct ww_heading){section, line};
    return true;
}

static void note_header(struct parsing *parsing, struct span line)
{
    const struct ww_settings *settings = parsing->settings;
    struct span name = header_name(line);
    if (name.start == NULL || !is_rest_empty(name.start + name.length + 1, line.start + line.length)) {
        refuse_line(parsing, WW_MALFORMED, "a section's header is its name in brackets, alone on its line: [trace]");
        return;
    }
    if (name.length == 0 || is_blank(name.start[0]) || is_blank(name.start[name.length - 1]) ||
        memchr(name.start, ';', name.length) != NULL) {
        refuse_line(parsing, WW_MALFORMED,
                    "a section's name is empty, holds ';' or has spaces at its ends; write it as [trace]");
        return;
    }
    if (name.length > LONGEST_SECTION) {
        refuse_line(parsing, WW_MALFORMED, "the section's name is over 49 bytes long; give it a shorter one");
        return;
    }
    for (size_t i = 0; i < settings->headings; i++)
        if (is_heading(&settings->heading[i], name)) {
            parsing->status = ww_error_set(parsing->error, WW_MALFORMED, settings->file, parsing->line,
                                           "the section [%.*s] is there twice; put its keys into one",
                                           (int)name.length, name.start);
            return;
        }
    if (settings->headings == MOST_SECTIONS)
        refuse_line(parsing, WW_MALFORMED, "there are over 4096 sections; split the file");
    else if (!add_heading(parsing->settings, &parsing->heading_room, name, parsing->line))
        refuse_line(parsing, WW_NO_MEMORY, "no memory for the settings");
}

/* inih's reader, as fgets is: the next line into buffer; NULL at the end, and at the first error. */
static char *next_line(char *buffer, int size, void *stream)
{
    struct parsing *parsing = stream;
    if (parsing->status != WW_OK || *parsing->next == '\0')
        return NULL;
    struct span line = first_line(parsing->next);
    parsing->next = behind_line(line);
    parsing->line++;

    size_t fits = size > 1 ? (size_t)size - 1 : 0;
    size_t limit = fits < LONGEST_LINE ? fits : LONGEST_LINE;
    if (line.length > limit) {
        parsing->status = ww_error_set(parsing->error, WW_MALFORMED, parsing->settings->file, parsing->line,
                                       "the line is %zu bytes long; give at most %zu", line.length, limit);
        return NULL;
    }
    size_t indent = 0;
    while (indent < line.length && is_blank(line.start[indent]))
        indent++;
    bool text = indent < line.length && line.start[indent] != ';' && line.start[indent] != '#';
    if (text && indent > 0)
        refuse_line(parsing, WW_MALFORMED, "the line is indented; start it in the first column");
    else if (text && line.start[0] == '[')
        note_header(parsing, line);
    if (parsing->status != WW_OK)
        return NULL;
    memcpy(buffer, line.start, line.length);
    buffer[line.length] = '\0';
    return buffer;
}

static void clear_item(struct ww_setting *item)
{
    free(item->section);
    free(item->key);
    free(item->value);
    *item = (struct ww_setting){0};
}

static bool fill_item(struct ww_setting *item, const char *section, const char *key, const char *value, int line)
{
    *item = (struct ww_setting){strdup(section), strdup(key), strdup(value), line};
    if (item->section != NULL && item->key != NULL && item->value != NULL)
        return true;
    clear_item(item);
    return false;
}

/* inih's handler: 1 goes on. */
static int take_setting(void *user, const char *section, const char *key, const char *value)
{
    struct parsing *parsing = user;
    struct ww_settings *settings = parsing->settings;
    if (parsing->status != WW_OK)
        return 0;
    if (key == NULL || key[0] == '\0') {
        refuse_line(parsing, WW_MALFORMED, "there is no key before the '='; write key = value");
        return 0;
    }
    if (settings->count == MOST_SETTINGS) {
        refuse_line(parsing, WW_MALFORMED, "there are over 16384 settings; split the file");
        return 0;
    }
    if (settings->count == parsing->room) {
        size_t room = parsing->room == 0 ? 64 : 2 * parsing->room;
        struct ww_setting *larger = realloc(settings->item, room * sizeof *larger);
        if (larger == NULL) {
            refuse_line(parsing, WW_NO_MEMORY, "no memory for the settings");
            return 0;
        }
        settings->item = larger;
        parsing->room = room;
    }
    if (!fill_item(&settings->item[settings->count], section, key, value, parsing->line)) {
        refuse_line(parsing, WW_NO_MEMORY, "no memory for the settings");
        return 0;
    }
    settings->count++;
    return 1;
}

/* Run inih with a line buffer that holds LONGEST_LINE, if this build of it can be told so. */
static int run_inih(struct parsing *parsing)
{
#ifdef WW_INIH_VARIABLES
    static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    pthread_mutex_lock(&lock);
    bool on_stack = ini_use_stack;
    bool growing = ini_allow_realloc;
    int initial = ini_initial_alloc;
    int longest = ini_max_line;
    ini_use_stack = false;
    ini_allow_realloc = false;
    ini_initial_alloc = ini_max_line = LONGEST_LINE + 1;
    int result = ini_parse_stream(next_line, parsing, take_setting, parsing);
    ini_use_stack = on_stack;
    ini_allow_realloc = growing;
    ini_initial_alloc = initial;
    ini_max_line = longest;
    pthread_mutex_unlock(&lock);
    return result;
#else
    return ini_parse_stream(next_line, parsing, take_setting, parsing);
#endif
}

static enum ww_status split_text(struct ww_settings *settings, struct ww_error *error)
{
    struct parsing parsing = {.settings = settings, .next = behind_mark(settings->text), .error = error};
    int result = run_inih(&parsing);
    if (parsing.status != WW_OK)
        return parsing.status;
    if (result > 0)
        return ww_error_set(error, WW_MALFORMED, settings->file, result,
                            "the line is no section, key or comment; write [section], key = value or ; comment");
    if (result < 0)
        return ww_error_set(error, WW_NO_MEMORY, settings->file, 0, "no memory to read it");
    return WW_OK;
}

enum ww_status ww_settings_read(struct ww_settings *settings, FILE *stream, const char *name, struct ww_error *error)
{
    *settings = (struct ww_settings){0};
    size_t size = 0;
    enum ww_status status = read_whole(stream, name, &settings->text, &size, error);
    if (status != WW_OK)
        goto done;
    settings->file = strdup(name);
    if (settings->file == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory to read it");
        goto done;
    }
    status = check_characters(settings->text, size, name, error);
    if (status == WW_OK)
        status = split_text(settings, error);
done:
    if (status != WW_OK)
        ww_settings_clear(settings);
    return status;
}

enum ww_status ww_settings_load(struct ww_settings *settings, const char *path, struct ww_error *error)
{
    *settings = (struct ww_settings){0};
    struct stat there;
    if (stat(path, &there) != 0)
        return ww_error_set(error, WW_IO, path, 0, "could not be opened: %s", strerror(errno));
    if (S_ISDIR(there.st_mode))
        return ww_error_set(error, WW_IO, path, 0, "is a folder; give the file in it");
    FILE *stream = fopen(path, "rb");
    if (stream == NULL)
        return ww_error_set(error, WW_IO, path, 0, "could not be opened: %s", strerror(errno));
    enum ww_status status = ww_settings_read(settings, stream, path, error);
    fclose(stream); /* only read: nothing to lose */
    return status;
}

void ww_settings_clear(struct ww_settings *settings)
{
    for (size_t i = 0; i < settings->count; i++)
        clear_item(&settings->item[i]);
    for (size_t i = 0; i < settings->headings; i++)
        free(settings->heading[i].section);
    free(settings->item);
    free(settings->heading);
    free(settings->text);
    free(settings->file);
    *settings = (struct ww_settings){0};
}

/* --- changes from the command line ------------------------------------------------------------------------ */

static const char assignment_source[] = "--set";

static char *copy_trimmed(const char *start, size_t length)
{
    while (length > 0 && is_blank(start[0])) {
        start++;
        length--;
    }
    while (length > 0 && is_blank(start[length - 1]))
        length--;
    return strndup(start, length);
}

/* A setting that was not there, in a section that may not have been. */
static bool append_setting(struct ww_settings *settings, const char *section, const char *key, const char *value)
{
    size_t room = settings->headings;
    struct ww_setting *larger = realloc(settings->item, (settings->count + 1) * sizeof *larger);
    if (larger == NULL)
        return false;
    settings->item = larger;
    if (!ww_settings_has_section(settings, section) &&
        !add_heading(settings, &room, (struct span){section, strlen(section)}, 0))
        return false;
    if (!fill_item(&larger[settings->count], section, key, value, 0))
        return false;
    settings->count++;
    return true;
}

/* How many settings of a key the section has; *item: the one of that number, from 1. */
static size_t count_settings(const struct ww_settings *settings, const char *section, const char *key,
                             unsigned long number, struct ww_setting **item)
{
    size_t count = 0;
    for (size_t i = 0; i < settings->count; i++)
        if (strcmp(settings->item[i].section, section) == 0 && strcmp(settings->item[i].key, key) == 0 &&
            ++count == number)
            *item = &settings->item[i];
    return count;
}

static enum ww_status replace_value(struct ww_setting *item, const char *value, struct ww_error *error)
{
    char *copy = strdup(value);
    if (copy == NULL)
        return ww_error_set(error, WW_NO_MEMORY, assignment_source, 0, "no memory for the value");
    free(item->value);
    item->value = copy;
    item->line = 0;
    return WW_OK;
}

/* "layer.2": where the number begins; NULL: there is none. */
static char *number_of(char *key)
{
    char *dot = strrchr(key, '.');
    return dot != NULL && dot != key && dot[1] != '\0' && strspn(dot + 1, "0123456789") == strlen(dot + 1) ? dot + 1
                                                                                                           : NULL;
}

/* Of a key that may be repeated, the one of that number. */
static enum ww_status put_numbered(struct ww_settings *settings, const char *section, const char *key,
                                   const char *number, const char *value, struct ww_error *error)
{
    struct ww_setting *item = NULL;
    size_t count = count_settings(settings, section, key, strtoul(number, NULL, 10), &item);
    if (item != NULL)
        return replace_value(item, value, error);
    return ww_error_set(error, WW_INVALID, assignment_source, 0,
                        "[%s] has %zu of \"%s\", none of number %.20s; give %s.%s.1 to %s.%s.%zu", section, count,
                        key, number, section, key, section, key, count);
}

/* The key may lose its number. */
static enum ww_status put_setting(struct ww_settings *settings, const char *section, char *key, const char *value,
                                  struct ww_error *error)
{
    struct ww_setting *item = NULL;
    size_t count = count_settings(settings, section, key, 1, &item);
    char *number = count == 0 ? number_of(key) : NULL;
    if (number != NULL) {
        number[-1] = '\0';
        if (count_settings(settings, section, key, 1, &item) > 0)
            return put_numbered(settings, section, key, number, value, error);
        number[-1] = '.';
    }
    if (count > 1)
        return ww_error_set(error, WW_INVALID, assignment_source, 0,
                            "[%s] has several \"%s\"; say which one, from the top, with %s.%s.1 to %s.%s.%zu",
                            section, key, section, key, section, key, count);
    if (count == 1)
        return replace_value(item, value, error);
    return append_setting(settings, section, key, value)
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, assignment_source, 0, "no memory for one more setting");
}

/* The dot between section and key: names and keys may have dots too ("resin v2.1", "count_tolerance.warp"). The last behind a
 * section that there is, else the first; `assignment` where there is none. */
static const char *find_dot(const struct ww_settings *settings, const char *assignment, const char *equals)
{
    const char *first = assignment;
    for (const char *dot = equals; dot > assignment; dot--) {
        if (*dot != '.')
            continue;
        first = dot;
        char *section = copy_trimmed(assignment, (size_t)(dot - assignment));
        bool is_there = section != NULL && ww_settings_has_section(settings, section);
        free(section);
        if (is_there)
            return dot;
    }
    return first;
}

enum ww_status ww_settings_set(struct ww_settings *settings, const char *assignment, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    size_t size = strlen(assignment);
    const char *equals = strchr(assignment, '=');
    const char *dot = equals != NULL ? find_dot(settings, assignment, equals) : NULL;
    if (size > LONGEST_LINE)
        return ww_error_set(error, WW_MALFORMED, assignment_source, 0, "is %zu bytes long; give at most %d", size,
                            LONGEST_LINE);
    if (check_characters(assignment, size, assignment_source, NULL) != WW_OK || strchr(assignment, '\n') != NULL)
        return ww_error_set(
            error, WW_MALFORMED, assignment_source, 0,
            "\"%.60s\" is not UTF-8 text or holds characters that cannot be seen; give one line of plain text",
            assignment);
    if (equals == NULL || *dot != '.')
        return ww_error_set(error, WW_MALFORMED, assignment_source, 0,
                            "\"%.60s\" names no setting; write section.key=value, as in trace.width=\"90 um\"",
                            assignment);
    char *section = copy_trimmed(assignment, (size_t)(dot - assignment));
    char *key = copy_trimmed(dot + 1, (size_t)(equals - dot) - 1);
    char *value = copy_trimmed(equals + 1, strlen(equals + 1));
    if (section == NULL || key == NULL || value == NULL)
        status = ww_error_set(error, WW_NO_MEMORY, assignment_source, 0, "no memory for the setting");
    else if (section[0] == '\0' || key[0] == '\0' || strlen(section) > LONGEST_SECTION)
        status = ww_error_set(error, WW_MALFORMED, assignment_source, 0,
                              "\"%.60s\" names no setting; write section.key=value, as in trace.width=\"90 um\"",
                              assignment);
    else
        status = put_setting(settings, section, key, value, error);
    free(value);
    free(key);
    free(section);
    return status;
}

/* --- looking up -------------------------------------------------------------------------------------------- */

const struct ww_setting *ww_settings_find(const struct ww_settings *settings, const char *section, const char *key)
{
    for (size_t i = 0; i < settings->count; i++)
        if (strcmp(settings->item[i].section, section) == 0 && strcmp(settings->item[i].key, key) == 0)
            return &settings->item[i];
    return NULL;
}

bool ww_settings_has_section(const struct ww_settings *settings, const char *section)
{
    for (size_t i = 0; i < settings->headings; i++)
        if (strcmp(settings->heading[i].section, section) == 0)
            return true;
    return false;
}

enum { LONGEST_WORD = 64 };

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* How many slips make a of b: a letter left out, put in or changed (V. I. Levenshtein, Sov. Phys. Dokl. 10, 707, 1966), or two
 * neighbours exchanged (F. J. Damerau, Commun. ACM 7, 171, 1964), no letter touched twice. Upper and lower case are the same
 * letter. Words to LONGEST_WORD. */
static size_t edit_distance(const char *a, const char *b)
{
    size_t na = strlen(a);
    size_t nb = strlen(b);
    size_t row[3][LONGEST_WORD + 1]; /* of i - 2, i - 1 and i letters of a, by i modulo 3 */
    for (size_t j = 0; j <= nb; j++)
        row[0][j] = j;
    for (size_t i = 1; i <= na; i++) {
        size_t *here = row[i % 3];
        const size_t *above = row[(i + 2) % 3];
        const size_t *two_above = row[(i + 1) % 3];
        here[0] = i;
        for (size_t j = 1; j <= nb; j++) {
            here[j] = least(above[j - 1] + (lower(a[i - 1]) != lower(b[j - 1])), least(above[j], here[j - 1]) + 1);
            if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]))
                here[j] = least(here[j], two_above[j - 2] + 1);
        }
    }
    return row[na % 3][nb];
}

const char *ww_nearest_word(const char *word, const char *const *candidate, size_t count)
{
    size_t length = strlen(word);
    if (length == 0 || length > LONGEST_WORD)
        return NULL;
    const char *nearest = NULL;
    size_t limit = (length + 2) / 3; /* about one slip in three letters */
    for (size_t i = 0; i < count; i++) {
        if (strlen(candidate[i]) > LONGEST_WORD)
            continue;
        size_t distance = edit_distance(word, candidate[i]);
        if (distance <= limit && (nearest == NULL || distance < limit)) {
            nearest = candidate[i];
            limit = distance;
        }
    }
    return nearest;
}
