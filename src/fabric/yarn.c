/* yarn.c - yarn codes of the trade, and what a yarn weighs.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The US code of a glass yarn, ECD 450 1/0: E glass, continuous filament, D for the filament's diameter, a yield of
 * 450 hundred yards per pound, one strand that is not plied. Yards and pounds are exact (0.9144 m, 0.45359237 kg), so
 *   tex = 496055 / (yards per pound),
 * the rule that composites handbooks give. The codes listed are those of circuit-board cloth (from memory).
 */
#include "fabric/yarn.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

static const char *const yarn_code[] = {"BC1500", "BC3000", "C1200", "D450", "D900", "D1800", "DE150",
                                        "DE300",  "E110",   "E225",  "G37",  "G50",  "G75",   "G150"};
enum { YARN_CODES = sizeof yarn_code / sizeof *yarn_code };

/* Linear density of a code [kg/m]: its digits are hundreds of yards per pound. */
static double linear_density(const char *code)
{
    double hundreds = (double)strtol(code + strcspn(code, "0123456789"), NULL, 10);
    return 0.45359237 / (hundreds * 100.0 * 0.9144);
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* The text without blanks, in capitals, and without the strands "1/0" if they are set apart by a blank. */
static void reduce(char *out, size_t size, const char *text)
{
    size_t used = 0, length = strlen(text);
    if (length > 4 && strcmp(text + length - 3, "1/0") == 0 && text[length - 4] == ' ')
        length -= 4;
    for (size_t n = 0; n < length && used + 1 < size; n++)
        if (text[n] != ' ')
            out[used++] = (char)toupper((unsigned char)text[n]);
    out[used] = '\0';
}

static const char *find_code(const char *word)
{
    for (size_t n = 0; n < YARN_CODES; n++)
        if (strcmp(word, yarn_code[n]) == 0)
            return yarn_code[n];
    return NULL;
}

enum ww_status ww_yarn_read(struct ww_yarn *yarn, const char *text, struct ww_error *error)
{
    char word[32];
    const char *code;
    reduce(word, sizeof word, text);
    if (!word[0] || is_digit(word[0]) || strchr("+-.", word[0])) {
        yarn->code[0] = '\0';
        yarn->tex.origin = WW_USER;
        return ww_number_parse(text, WW_LINEAR_DENSITY, &yarn->tex.value, error);
    }
    code = find_code(word);
    if (!code && strncmp(word, "EC", 2) == 0)
        code = find_code(word + 2);
    if (!code) {
        const char *nearest = ww_nearest_word(word, yarn_code, YARN_CODES);
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "\"%.40s\" is not a yarn code known here; %s%s%sgive its linear density, as in 11.2 tex",
                            text, nearest ? "did you mean " : "", nearest ? nearest : "", nearest ? "? Or " : "");
    }
    strcpy(yarn->code, code);
    yarn->tex.value = linear_density(code);
    yarn->tex.origin = WW_DERIVED;
    return WW_OK;
}
