/* mutate.c - texts of the corpus, and a few thousand small changes of them, the same in every run.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     mutate TARGET CASES TESTS/FUZZ [FIRST]
 *
 * Every file of TESTS/FUZZ/corpus/TARGET is judged as it is: what once broke is kept there. Then each case changes one of
 * them. The generator is splitmix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
 * generators", OOPSLA 2014), seeded by the number of the case: a case that breaks can be run again alone, as
 * `mutate TARGET 1 TESTS/FUZZ NUMBER`. The target aborts the program; the case is printed before, under WW_FUZZ_VERBOSE.
 */
#include "targets.h"

#include <dirent.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "weftwise/study.h"

enum { LARGEST = 16384, CHANGES = 4, SEEDS_MOST = 64, WORDS_MOST = 128, PATH_LENGTH = 1024 };

struct text {
    char data[LARGEST];
    size_t size;
};

/* Segments that parsers are known to trip over: words.dict. */
struct word {
    char data[64];
    size_t size;
};
static struct word word[WORDS_MOST];
static size_t words;

/* One line of the dictionary, "\x0a" and all; none where it is a comment. */
static bool read_word(const char *line, struct word *out)
{
    if (line[0] != '"')
        return false;
    out->size = 0;
    for (const char *c = line + 1; *c != '"' && *c != '\0' && out->size < sizeof out->data; out->size++)
        if (c[0] == '\\' && c[1] == 'x') {
            char hex[3] = {c[2], c[3], '\0'};
            out->data[out->size] = (char)strtoul(hex, NULL, 16);
            c += 4;
        } else {
            out->data[out->size] = *c++;
        }
    return true;
}

static bool load_words(const char *folder)
{
    char path[PATH_LENGTH], line[128];
    snprintf(path, sizeof path, "%s/words.dict", folder);
    FILE *stream = fopen(path, "r");
    if (stream == NULL)
        return false;
    while (words < WORDS_MOST && fgets(line, sizeof line, stream) != NULL)
        words += read_word(line, &word[words]);
    fclose(stream);
    return words > 0;
}

static uint64_t next(uint64_t *state)
{
    *state += 0x9E3779B97F4A7C15u;
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static size_t below(uint64_t *state, size_t limit)
{
    return limit == 0 ? 0 : (size_t)(next(state) % limit);
}

static void splice(struct text *text, size_t at, size_t drop, const char *add, size_t length)
{
    if (text->size - drop + length > LARGEST)
        return;
    memmove(text->data + at + length, text->data + at + drop, text->size - at - drop);
    memcpy(text->data + at, add, length);
    text->size += length - drop;
}

/* Start of the line that holds the byte at. */
static size_t line_start(const struct text *text, size_t at)
{
    while (at > 0 && text->data[at - 1] != '\n')
        at--;
    return at;
}

static size_t line_end(const struct text *text, size_t at)
{
    while (at < text->size && text->data[at] != '\n')
        at++;
    return at < text->size ? at + 1 : at;
}

static void repeat_byte(struct text *text, size_t at, size_t times)
{
    char run[8192];
    memset(run, at < text->size ? text->data[at] : 'x', sizeof run);
    splice(text, at, 0, run, times < sizeof run ? times : sizeof run);
}

static void move_line(struct text *text, size_t from, size_t to, bool keep)
{
    char line[512];
    size_t start = line_start(text, from);
    size_t length = line_end(text, from) - start;
    if (length == 0 || length > sizeof line)
        return;
    memcpy(line, text->data + start, length);
    if (!keep)
        splice(text, start, length, "", 0);
    to = line_start(text, to < text->size ? to : text->size);
    splice(text, to, 0, line, length);
}

static void change(struct text *text, uint64_t *state)
{
    size_t at = below(state, text->size + 1);
    size_t rest = text->size - at;
    const struct word *add = &word[below(state, words)];
    char byte = (char)(unsigned char)next(state);
    switch (next(state) % 9) {
    case 0: /* one byte for another */
        splice(text, at, rest > 0, &byte, 1);
        break;
    case 1: /* a known trap put in */
        splice(text, at, 0, add->data, add->size);
        break;
    case 2: /* or in place of something */
        splice(text, at, below(state, rest < 12 ? rest + 1 : 12), add->data, add->size);
        break;
    case 3: /* a segment taken out */
        splice(text, at, below(state, rest < 12 ? rest + 1 : 12), "", 0);
        break;
    case 4: /* a line taken out */
        splice(text, line_start(text, at), line_end(text, at) - line_start(text, at), "", 0);
        break;
    case 5: /* a line repeated elsewhere */
        move_line(text, at, below(state, text->size + 1), true);
        break;
    case 6: /* a line moved */
        move_line(text, at, below(state, text->size + 1), false);
        break;
    case 7: /* a digit changed, so that the text stays well formed and the value goes astray */
        for (size_t i = at; i < text->size; i++)
            if (text->data[i] >= '0' && text->data[i] <= '9') {
                text->data[i] = (char)('0' + below(state, 10));
                break;
            }
        break;
    default: /* a run, sometimes longer than a line may be */
        repeat_byte(text, at, next(state) % 8 == 0 ? below(state, 8192) : below(state, 40));
        break;
    }
}

/* The commented study that `weftwise new` writes. */
static bool seed_start(struct text *text)
{
    FILE *stream = tmpfile();
    if (stream == NULL)
        return false;
    bool written = ww_study_write_start(stream, NULL) == WW_OK;
    rewind(stream);
    text->size = fread(text->data, 1, sizeof text->data, stream);
    fclose(stream);
    return written && text->size > 0 && text->size < sizeof text->data;
}

static bool load_file(const char *path, struct text *text)
{
    FILE *stream = fopen(path, "rb");
    if (stream == NULL)
        return false;
    text->size = fread(text->data, 1, sizeof text->data, stream);
    bool whole = ferror(stream) == 0 && text->size < sizeof text->data;
    fclose(stream);
    return whole;
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name); /* in no locale's order */
}

static int is_seed(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

/* How many texts of the target there are; 0: none, or one that cannot be read. */
static size_t load_corpus(const char *folder, const char *target, struct text *seed)
{
    char path[PATH_LENGTH];
    struct dirent **entry = NULL;
    size_t seeds = 0;
    bool sound = true;
    snprintf(path, sizeof path, "%s/corpus/%s", folder, target);
    int count = scandir(path, &entry, is_seed, by_name);
    for (int i = 0; i < count; i++) {
        snprintf(path, sizeof path, "%s/corpus/%s/%s", folder, target, entry[i]->d_name);
        sound = sound && seeds < SEEDS_MOST && load_file(path, &seed[seeds++]);
        if (!sound)
            fprintf(stderr, "%s: could not be read, is over %d bytes large, or over %d are there\n", path,
                    LARGEST - 1, SEEDS_MOST);
        free(entry[i]);
    }
    free(entry);
    return sound ? seeds : 0;
}

typedef void target(const char *data, size_t size);

static target *find_target(const char *name)
{
    static const struct {
        const char *name;
        target *target;
    } all[] = {{"number", target_number},   {"settings", target_settings}, {"study", target_study},
               {"layer", target_layer},     {"route", target_route},       {"style", target_style},
               {"set", target_set},         {"skew", target_skew},         {"figure", target_figure},
               {"picture", target_picture}, {"paths", target_paths}};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        if (strcmp(all[i].name, name) == 0)
            return all[i].target;
    return NULL;
}

int main(int count, char **argument)
{
    static struct text seed[SEEDS_MOST + 1];
    static struct text text;
    if (count < 4) {
        fprintf(stderr, "usage: mutate TARGET CASES TESTS/FUZZ [FIRST]\n");
        return 2;
    }
    target *const judge = find_target(argument[1]);
    if (judge == NULL) {
        fprintf(stderr, "no target is called %s\n", argument[1]);
        return 2;
    }
    uint64_t cases = strtoul(argument[2], NULL, 10);
    uint64_t first = count > 4 ? strtoul(argument[4], NULL, 10) : 0;
    bool verbose = getenv("WW_FUZZ_VERBOSE") != NULL;
    size_t seeds = load_corpus(argument[3], argument[1], seed);
    if (seeds == 0 || !load_words(argument[3]) || !seed_start(&seed[seeds])) {
        fprintf(stderr, "no texts to start from\n");
        return 1;
    }
    if (judge == target_settings || judge == target_study)
        seeds++; /* the commented study, too */
    for (size_t i = 0; i < seeds && first == 0; i++)
        judge(seed[i].data, seed[i].size);
    for (uint64_t number = first; number < first + cases; number++) {
        uint64_t state = number;
        text = seed[number % seeds];
        size_t changes = 1 + below(&state, CHANGES);
        for (size_t i = 0; i < changes; i++)
            change(&text, &state);
        if (verbose)
            fprintf(stderr, "case %llu: %.*s\n", (unsigned long long)number, (int)text.size, text.data);
        judge(text.data, text.size);
    }
    printf("%zu texts and %llu changes of them held\n", seeds, (unsigned long long)cases);
    return 0;
}
