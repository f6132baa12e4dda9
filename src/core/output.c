/* output.c - a file is there whole or not at all: written under a temporary name in the target's own folder
 * (renaming does not cross file systems), flushed, closed with the result checked, then renamed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The temporary is opened with mode 0666, so that the umask decides as for any file; mkstemp would make it
 * private. A target that is there and no regular file (a pipe, a terminal, /dev/full) is written straight:
 * renaming over it would replace the device. A symbolic link is followed, so that the link stays a link.
 *
 * A program that is stopped by a signal has to remove its temporaries too, and a handler may neither allocate nor walk
 * what another thread is freeing. So the names in use stand in a table of fixed size as well: a row is claimed before its
 * file is opened and given back after it is renamed or removed, and whatever a handler finds there it may unlink. A signal
 * for the program reaches its main thread unless that one blocks it, so whoever opens outputs there meets no handler
 * half way.
 */
#include "weftwise/core.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { ROWS = 64, NAME_SIZE = 4096 + 64 };
enum { FREE, CLAIMED, IN_USE };

static struct {
    atomic_int state;
    char name[NAME_SIZE];
} row[ROWS];

/* Keep the name where a handler finds it. More names at once than there are rows go without. */
static void remember(const char *name)
{
    size_t size = strlen(name) + 1;
    for (size_t i = 0; i < ROWS && size <= NAME_SIZE; i++) {
        int expected = FREE;
        if (!atomic_compare_exchange_strong(&row[i].state, &expected, CLAIMED))
            continue;
        memcpy(row[i].name, name, size);
        atomic_store(&row[i].state, IN_USE);
        return;
    }
}

static void forget(const char *name)
{
    for (size_t i = 0; i < ROWS; i++)
        if (atomic_load(&row[i].state) == IN_USE && strcmp(row[i].name, name) == 0)
            atomic_store(&row[i].state, FREE);
}

void ww_output_abandon(void)
{
    int code = errno;
    for (size_t i = 0; i < ROWS; i++)
        if (atomic_load(&row[i].state) == IN_USE)
            unlink(row[i].name);
    errno = code;
}

static enum ww_status refuse(struct ww_error *error, const char *path, const char *what, int code)
{
    return ww_error_set(error, WW_IO, path, 0, "%s: %s", what, strerror(code));
}

/* Name in the same folder as path; a short one, for path's own may be as long as the system allows. */
static char *name_beside(const char *path)
{
    static atomic_uint serial;
    const char *slash = strrchr(path, '/');
    size_t folder = slash != NULL ? (size_t)(slash - path) + 1 : 0;
    size_t size = folder + 64;
    char *name = malloc(size);
    if (name != NULL)
        snprintf(name, size, "%.*s.weftwise-%ld-%u", (int)folder, path, (long)getpid(),
                 atomic_fetch_add(&serial, 1u));
    return name;
}

/* Open a new temporary beside output->path. */
static int open_temporary(struct ww_output *output)
{
    for (int attempt = 0; attempt < 100; attempt++) {
        free(output->temporary);
        output->temporary = name_beside(output->path);
        if (output->temporary == NULL)
            return -1;
        remember(output->temporary);
        int file = open(output->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (file >= 0)
            return file;
        int code = errno;
        forget(output->temporary);
        errno = code;
        if (code != EEXIST)
            return file;
    }
    return -1;
}

enum ww_status ww_output_open(struct ww_output *output, const char *path, struct ww_error *error)
{
    *output = (struct ww_output){0};
    struct ww_output made = {0};
    struct stat there;
    enum ww_status status = WW_OK;
    int file = -1;
    bool exists = stat(path, &there) == 0;
    if (path[0] == '\0')
        return ww_error_set(error, WW_INVALID, NULL, 0, "the name of the file to write is empty; give one");
    if (strlen(path) > 4096)
        return ww_error_set(error, WW_INVALID, path, 0, "the path is over 4096 bytes long; give a shorter one");
    if (exists && S_ISDIR(there.st_mode))
        return ww_error_set(error, WW_IO, path, 0, "is a folder; give the name of a file to write");

    made.path = exists ? realpath(path, NULL) : NULL;
    if (made.path == NULL)
        made.path = strdup(path);
    if (made.path == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to open it");
        goto done;
    }
    if (exists && !S_ISREG(there.st_mode))
        file = open(path, O_WRONLY | O_CLOEXEC);
    else
        file = open_temporary(&made);
    if (file < 0) {
        status = refuse(error, path, "could not be opened for writing", errno);
        free(made.temporary);
        made.temporary = NULL; /* not ours to remove */
        goto done;
    }
    made.stream = fdopen(file, "wb");
    if (made.stream == NULL) {
        status = refuse(error, path, "could not be opened for writing", errno);
        close(file);
        goto done;
    }
    *output = made;
    made = (struct ww_output){0};
done:
    ww_output_discard(&made);
    return status;
}

enum ww_status ww_output_commit(struct ww_output *output, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    if (output->stream == NULL)
        return ww_error_set(error, WW_INVALID, NULL, 0, "no output is open; open one before committing it");
    errno = 0;
    bool failed = fflush(output->stream) != 0 || ferror(output->stream) != 0;
    int code = errno;
    if (fclose(output->stream) != 0 && !failed) {
        failed = true;
        code = errno;
    }
    output->stream = NULL;
    if (failed) {
        status = refuse(error, output->path, "could not be written", code != 0 ? code : EIO);
        goto done;
    }
    if (output->temporary != NULL && rename(output->temporary, output->path) != 0) {
        status = refuse(error, output->path, "could not be put in place", errno);
        goto done;
    }
    if (output->temporary != NULL)
        forget(output->temporary);
    free(output->temporary);
    output->temporary = NULL; /* nothing left to remove */
done:
    ww_output_discard(output);
    return status;
}

void ww_output_discard(struct ww_output *output)
{
    if (output->stream != NULL)
        fclose(output->stream);
    if (output->temporary != NULL) {
        unlink(output->temporary);
        forget(output->temporary);
    }
    free(output->temporary);
    free(output->path);
    *output = (struct ww_output){0};
}

enum ww_status ww_folder_make(const char *path, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    struct stat there;
    if (path[0] == '\0')
        return ww_error_set(error, WW_INVALID, NULL, 0, "the name of the folder is empty; give one");
    char *part = strdup(path);
    if (part == NULL)
        return ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to make the folder");
    for (char *p = part + 1;; p++) {
        if (*p != '/' && *p != '\0')
            continue;
        char held = *p;
        *p = '\0';
        if (mkdir(part, 0777) != 0) {
            int code = errno;
            if (stat(part, &there) != 0) {
                status = refuse(error, part, "the folder could not be made", code);
                break;
            }
            if (!S_ISDIR(there.st_mode)) {
                status =
                    ww_error_set(error, WW_IO, part, 0, "is a file where a folder is wanted; name another folder");
                break;
            }
        }
        *p = held;
        if (held == '\0')
            break;
    }
    free(part);
    return status;
}
