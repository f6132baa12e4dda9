/* allocations.c - makes the n-th allocation of a program fail; loaded in front of the C library (LD_PRELOAD).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * By the environment:
 *   FAULT_AT=N        the N-th allocation, from 1, has no memory; 0: none
 *   FAULT_ON=1        nor has any after it
 *   FAULT_ANY=1       those of libraries count too; else only calls from the program itself
 *   FAULT_COUNT=FILE  at the end the number of allocations is written there
 */
#define _GNU_SOURCE
#include <errno.h>
#include <link.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

static atomic_ulong counted;
static unsigned long fault_at;
static bool ready, and_on, any;
static uintptr_t from, to; /* of the program */

static int find_program(struct dl_phdr_info *info, size_t size, void *unused)
{
    (void)size;
    (void)unused;
    from = UINTPTR_MAX;
    for (int i = 0; i < info->dlpi_phnum; i++)
        if (info->dlpi_phdr[i].p_type == PT_LOAD) {
            uintptr_t start = info->dlpi_addr + info->dlpi_phdr[i].p_vaddr;
            from = start < from ? start : from;
            to = start + info->dlpi_phdr[i].p_memsz > to ? start + info->dlpi_phdr[i].p_memsz : to;
        }
    return 1; /* the program comes first */
}

__attribute__((constructor)) static void begin(void)
{
    const char *at = getenv("FAULT_AT");
    fault_at = at ? strtoul(at, NULL, 10) : 0;
    and_on = getenv("FAULT_ON") != NULL;
    any = getenv("FAULT_ANY") != NULL;
    dl_iterate_phdr(find_program, NULL);
    ready = true;
}

__attribute__((destructor)) static void end(void)
{
    const char *name = getenv("FAULT_COUNT");
    ready = false;
    FILE *file = name ? fopen(name, "w") : NULL;
    if (!file)
        return;
    fprintf(file, "%lu\n", atomic_load(&counted));
    fclose(file);
}

static bool fails(const void *caller)
{
    uintptr_t at = (uintptr_t)caller;
    if (!ready || !(any || (at >= from && at < to)))
        return false;
    unsigned long n = atomic_fetch_add(&counted, 1) + 1;
    if (fault_at == 0 || !(n == fault_at || (and_on && n > fault_at)))
        return false;
    errno = ENOMEM;
    return true;
}

#define CALLER __builtin_return_address(0)

void *malloc(size_t size)
{
    return fails(CALLER) ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return fails(CALLER) ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    return fails(CALLER) ? NULL : __libc_realloc(old, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
    return fails(CALLER) ? NULL : __libc_memalign(alignment, size);
}

extern void *memalign(size_t alignment, size_t size);

void *memalign(size_t alignment, size_t size)
{
    return fails(CALLER) ? NULL : __libc_memalign(alignment, size);
}

int posix_memalign(void **made, size_t alignment, size_t size)
{
    void *block = fails(CALLER) ? NULL : __libc_memalign(alignment, size);
    if (!block)
        return ENOMEM;
    *made = block;
    return 0;
}

char *strndup(const char *text, size_t most)
{
    size_t size = strnlen(text, most);
    char *copy = fails(CALLER) ? NULL : __libc_malloc(size + 1);
    if (!copy)
        return NULL;
    memcpy(copy, text, size);
    copy[size] = '\0';
    return copy;
}

char *strdup(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = fails(CALLER) ? NULL : __libc_malloc(size);
    return copy ? memcpy(copy, text, size) : NULL;
}
