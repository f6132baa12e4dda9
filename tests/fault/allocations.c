/* allocations.c - makes the n-th allocation of a program fail; loaded in front of the C library (LD_PRELOAD).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * By the environment:
 *   FAULT_AT=N        the N-th allocation, from 1, has no memory; 0: none
 *   FAULT_ON=1        nor has any after it
 *   FAULT_ANY=1       those of libraries count too; else only calls from the program itself
 *   FAULT_COUNT=FILE  at the end the number of allocations is written there
 *   FAULT_FORK=T,A    at the first allocation of each call path, and at its 2nd, 8th, 64th, .., the program is split in two: the
 *                     one runs on, the other has no memory there. So the work before is shared, and done once. The other is
 *                     moved, with its open files, into a copy FOLDER-N of the folder FOLDER it runs in, N the number of the
 *                     allocation, and ended after 100 s. When it has ended, "N STATUS" is written to descriptor T, and a byte awaited from A. The
 *                     program may have one thread only.
 *   FAULT_EVERY=K     of these only every K-th
 *   FAULT_FROM=N      and only from the N-th allocation on
 */
#define _GNU_SOURCE
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <link.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

static atomic_ulong counted;
static unsigned long fault_at;
static bool ready, and_on, any;
static uintptr_t from, to; /* of the program */
static int tell = -1, await = -1;
static unsigned long every = 1, first = 1, met_so_far;
static bool other; /* of the two that the program was split into, the one that fails */

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
    const char *pipes = getenv("FAULT_FORK");
    const char *share = getenv("FAULT_EVERY");
    every = share ? strtoul(share, NULL, 10) : 1;
    const char *first_split = getenv("FAULT_FROM");
    first = first_split ? strtoul(first_split, NULL, 10) : 1;
    if (pipes && sscanf(pipes, "%d,%d", &tell, &await) == 2) {
        void *caller[1];
        backtrace(caller, 1); /* asks for memory, the first time */
    }
    dl_iterate_phdr(find_program, NULL);
    ready = true;
}

__attribute__((destructor)) static void end(void)
{
    const char *name = getenv("FAULT_COUNT");
    ready = false;
    FILE *file = name && !other ? fopen(name, "w") : NULL;
    if (!file)
        return;
    fprintf(file, "%lu\n", atomic_load(&counted));
    fclose(file);
}

/* --- splitting ------------------------------------------------------------------------------------------------------- */

enum { LONGEST = 100 }; /* [s] */
enum { DEPTH = 32, PATHS = 1 << 16, NAME = 4096, FILES = 256 };

static struct path {
    uint64_t hash;
    unsigned long met;
} path[PATHS];

/* Whether this call is to fail: of its path the first, 2nd, 8th, 64th, .. */
static bool chosen(void)
{
    void *caller[DEPTH];
    uint64_t hash = 14695981039346656037u; /* Fowler, Noll and Vo */
    int depth = backtrace(caller, DEPTH);
    for (int i = 0; i < depth; i++)
        hash = (hash ^ (uintptr_t)caller[i]) * 1099511628211u;
    size_t at = hash % PATHS;
    for (size_t tried = 0; path[at].met && path[at].hash != hash; at = (at + 1) % PATHS)
        if (++tried == PATHS)
            abort();
    path[at].hash = hash;
    unsigned long met = ++path[at].met, next = 1;
    for (unsigned long by = 2; next < met; by *= 2)
        next *= by;
    return met == next && met_so_far++ % every == 0;
}

/* The files that are open, those of a folder in its copy, opened anew at the same place: else the two would move each other's. */
static void move_files(const char *folder, const char *copy)
{
    size_t length = strlen(folder);
    for (int fd = 0; fd < FILES; fd++) {
        char link[64], name[NAME], moved[3 * NAME];
        snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
        ssize_t size = readlink(link, name, sizeof name - 1);
        if (size < 0)
            continue;
        name[size] = '\0';
        bool inside = strncmp(name, folder, length) == 0 && name[length] == '/';
        snprintf(moved, sizeof moved, "%s%s", inside ? copy : "", inside ? name + length : name);
        struct stat kind;
        if (fstat(fd, &kind) != 0 || !(S_ISREG(kind.st_mode) || S_ISDIR(kind.st_mode)))
            continue;
        int opened = open(moved, fcntl(fd, F_GETFL) & (O_ACCMODE | O_APPEND | O_DIRECTORY));
        if (opened < 0 || lseek(opened, lseek(fd, 0, SEEK_CUR), SEEK_SET) < 0 || dup2(opened, fd) < 0)
            abort();
        close(opened);
    }
}

static void move(unsigned long n)
{
    char folder[NAME], copy[NAME + 32];
    char *const nothing[] = {NULL};
    if (!getcwd(folder, sizeof folder))
        abort();
    snprintf(copy, sizeof copy, "%s-%lu", folder, n);
    pid_t copier = fork();
    if (copier == 0) {
        execle("/bin/cp", "cp", "-a", folder, copy, (char *)NULL, nothing);
        _exit(1);
    }
    int status;
    if (waitpid(copier, &status, 0) != copier || status != 0 || chdir(copy) != 0)
        abort();
    move_files(folder, copy);
}

/* true in the program that is to fail. */
static bool split(unsigned long n)
{
    int status;
    char line[64];
    pid_t child = fork();
    if (child == 0) {
        other = true;
        alarm(LONGEST); /* a library may hang */
        move(n);
        fault_at = n;
        return true;
    }
    if (child < 0 || waitpid(child, &status, 0) != child)
        abort();
    int size = snprintf(line, sizeof line, "%lu %d\n", n, status);
    if (write(tell, line, (size_t)size) != size || read(await, line, 1) != 1)
        abort();
    return false;
}

/* --- failing ----------------------------------------------------------------------------------------------------------- */

static bool fails(const void *caller)
{
    uintptr_t at = (uintptr_t)caller;
    if (!ready || !(any || (at >= from && at < to)))
        return false;
    unsigned long n = atomic_fetch_add(&counted, 1) + 1;
    bool here = tell >= 0 && !other ? chosen() && n >= first && split(n)
                                    : fault_at > 0 && (n == fault_at || (and_on && n > fault_at));
    ready = true;
    if (here)
        errno = ENOMEM;
    return here;
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
