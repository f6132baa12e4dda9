/* tolerance.c - a tolerance as text: how far, by which law, and between which circuits.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "study/tolerance.h"

#include <math.h>
#include <string.h>

static const char *const scope_name[] = {"board", "boards", "life"};
enum { SCOPES = sizeof scope_name / sizeof *scope_name };

const char *ww_scope_name(enum ww_scope scope)
{
    return (size_t)scope < SCOPES ? scope_name[scope] : "unknown";
}

static size_t find_scope(const char *word)
{
    size_t i = 0;
    while (i < SCOPES && strcmp(word, scope_name[i]) != 0)
        i++;
    return i;
}

enum ww_status ww_scope_read(enum ww_scope *scope, const char *text, struct ww_error *error)
{
    size_t found = find_scope(text);
    if (found == SCOPES)
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "the scope '%.60s' is not known; give board, boards or life", text);
    *scope = (enum ww_scope)found;
    return WW_OK;
}

/* What is etched differs within a board, what is pressed from board to board, the weather over life. */
static enum ww_scope usual_scope(const struct ww_study_key *key)
{
    if (key->kind == WW_STUDY_RANGE || strncmp(key->key, "moisture", 8) == 0)
        return WW_LIFE;
    return strncmp(key->key, "trace.", 6) == 0 ? WW_BOARD : WW_BOARDS;
}

/* --- words --------------------------------------------------------------------------------------------------------------- */

static enum ww_status refuse_word(const char *word, struct ww_error *error)
{
    const char *const known[] = {"uniform", "normal", "board", "boards", "life"};
    const char *nearest = ww_nearest_word(word, known, sizeof known / sizeof *known);
    return ww_error_set(error, WW_MALFORMED, NULL, 0,
                        "'%.60s' is neither a law (uniform, normal) nor a scope (board, boards, life)%s%s%s", word,
                        nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

/* Law and scope behind the number, each at most once. */
static enum ww_status take_words(struct ww_tolerance *tolerance, const char *text, struct ww_error *error)
{
    bool law = false, scope = false;
    for (text += strspn(text, " \t"); *text; text += strspn(text, " \t")) {
        char word[32];
        size_t length = strcspn(text, " \t");
        snprintf(word, sizeof word, "%.*s", length < sizeof word ? (int)length : (int)sizeof word - 1, text);
        bool is_normal = strcmp(word, ww_law_name(WW_NORMAL)) == 0;
        bool is_law = is_normal || strcmp(word, ww_law_name(WW_UNIFORM)) == 0;
        size_t found = find_scope(word);
        if (!is_law && found == SCOPES)
            return refuse_word(word, error);
        if (is_law ? law : scope)
            return ww_error_set(error, WW_MALFORMED, NULL, 0, "a second %s, '%s'; keep one", is_law ? "law" : "scope",
                                word);
        if (is_law)
            tolerance->law = is_normal ? WW_NORMAL : WW_UNIFORM;
        else
            tolerance->scope = (enum ww_scope)found;
        law = law || is_law;
        scope = scope || !is_law;
        text += length;
    }
    return WW_OK;
}

/* --- numbers ------------------------------------------------------------------------------------------------------------- */

static enum ww_status check_limits(const struct ww_study_key *key, double value, struct ww_error *error)
{
    char text[NUMBER_TEXT], low[NUMBER_TEXT], high[NUMBER_TEXT];
    const double rounding = 1e-12;
    if (value >= key->min - rounding * fabs(key->min) && value <= key->max + rounding * fabs(key->max))
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0, "%s is outside %s to %s; check the unit",
                        ww_number_format(text, sizeof text, value, key->dimension, 6),
                        ww_number_format(low, sizeof low, key->min, key->min != 0.0 ? key->dimension : WW_PURE, 6),
                        ww_number_format(high, sizeof high, key->max, key->dimension, 6));
}

/* "-40 degC to 125 degC ..."; *end behind it. */
static enum ww_status take_range(struct ww_tolerance *tolerance, const struct ww_study_key *key, const char *text,
                                 const char **end, struct ww_error *error)
{
    enum ww_status status = ww_number_parse_prefix(text, key->dimension, &tolerance->from, end, error);
    const char *to = *end + strspn(*end, " \t");
    if (status)
        return status;
    if (strncmp(to, "to", 2) != 0 || (to[2] != ' ' && to[2] != '\t'))
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "'%.60s' is no range; give both ends, as in '%s'", text,
                            key->example);
    status = ww_number_parse_prefix(to + 2, key->dimension, &tolerance->to, end, error);
    if (!status && !(tolerance->from < tolerance->to))
        status = ww_error_set(error, WW_INVALID, NULL, 0,
                              "the range '%.60s' is reversed or empty; give the lower end first", text);
    return status;
}

enum ww_status ww_tolerance_read(struct ww_tolerance *tolerance, const struct ww_study_key *key, const char *text,
                                 struct ww_error *error)
{
    struct ww_tolerance read = {.given = true, .scope = usual_scope(key)};
    const char *end = text;
    enum ww_status status = WW_OK;
    if (key->kind == WW_STUDY_RANGE) {
        status = take_range(&read, key, text, &end, error);
    } else {
        status = ww_number_parse_prefix(text, key->dimension, &read.to, &end, error);
        read.from = -read.to;
    }
    if (!status)
        status = take_words(&read, end, error);
    if (!status && key->kind == WW_STUDY_RANGE)
        status = check_limits(key, read.from, error);
    if (!status)
        status = check_limits(key, read.to, error);
    if (!status)
        *tolerance = read;
    return status;
}

char *ww_tolerance_text(char *out, size_t size, const struct ww_tolerance *tolerance, const struct ww_study_key *key)
{
    char from[NUMBER_TEXT], to[NUMBER_TEXT];
    bool range = key->kind == WW_STUDY_RANGE;
    ww_number_text(from, sizeof from, tolerance->from, key->dimension);
    ww_number_text(to, sizeof to, tolerance->to, key->dimension);
    snprintf(out, size, "%s%s%s %s %s", range ? from : "", range ? " to " : "", to, ww_law_name(tolerance->law),
             ww_scope_name(tolerance->scope));
    return out;
}
