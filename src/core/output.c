/* output.c - a file is there whole or not at all: written under a temporary name in the target's own folder
 * (renaming does not cross file systems), flushed to the disk, closed with the result checked, then renamed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The temporary is opened with mode 0666, so that the umask decides as for any file; mkstemp would make it
 * private. A file that is there keeps its own mode: what was private stays so. A symbolic link to a file is replaced, not
 * followed: what it points to may be anyone's. A target that is there and no regular file (a pipe, a terminal, /dev/full) is
 * written straight: renaming over it would replace the device. A pipe that nobody reads is refused.
 *
 * A program that is killed cannot remove its temporaries. Each is locked (flock) for as long as it is written, and the system
 * gives the lock back when the program ends in whatever way: ww_folder_tidy removes those that nobody holds.
 *
 * A program that is stopped by a signal has to remove its temporaries too, and a handler may neither allocate nor walk
 * what another thread is freeing. So the names in use stand in a table of fixed size as well: a row is claimed before its
 * file is opened and given back after it is renamed or removed, and whatever a handler finds there it may unlink. A signal
 * for the program reaches its main thread unless that one blocks it, so whoever opens outputs there meets no handler
 * half way.
 */
#include "weftwise/core.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define TEMPORARY ".weftwise-" /* begins the name of a temporary: then the process and a number */

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
        snprintf(name, size, "%.*s" TEMPORARY "%ld-%u", (int)folder, path, (long)getpid(),
                 atomic_fetch_add(&serial, 1u));
    return name;
}

/* Marks a temporary as in use. False where it was taken for a leftover and removed in between. A file system without locks
 * has none to give, and nothing on it is tidied. */
static bool lock(int file)
{
    struct stat there;
    while (flock(file, LOCK_EX) != 0)
        if (errno != EINTR)
            return true;
    return fstat(file, &there) != 0 || there.st_nlink > 0;
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
        if (file >= 0 && lock(file))
            return file;
        int code = file >= 0 ? EEXIST : errno;
        if (file >= 0)
            close(file);
        forget(output->temporary);
        errno = code;
        if (code != EEXIST)
            return -1;
    }
    return -1;
}

/* A pipe or a device; without waiting for a reader. */
static int open_device(const char *path)
{
    int file = open(path, O_WRONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    int flags = file >= 0 ? fcntl(file, F_GETFL) : -1;
    if (flags >= 0)
        (void)fcntl(file, F_SETFL, flags & ~O_NONBLOCK);
    return file;
}

enum ww_status ww_output_open(struct ww_output *output, const char *path, struct ww_error *error)
{
    *output = (struct ww_output){0};
    struct ww_output made = {0};
    struct stat there;
    enum ww_status status = WW_OK;
    int file = -1;
    bool exists = lstat(path, &there) == 0, link = exists && S_ISLNK(there.st_mode);
    if (link)
        exists = stat(path, &there) == 0;
    bool straight = exists && !S_ISREG(there.st_mode) && !S_ISDIR(there.st_mode);
    if (path[0] == '\0')
        return ww_error_set(error, WW_INVALID, NULL, 0, "the name of the file to write is empty; give one");
    if (strlen(path) > 4096)
        return ww_error_set(error, WW_INVALID, path, 0, "the path is over 4096 bytes long; give a shorter one");
    if (exists && S_ISDIR(there.st_mode))
        return ww_error_set(error, WW_IO, path, 0, "is a folder; give the name of a file to write");

    made.path = strdup(path);
    if (made.path == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to open it");
        goto done;
    }
    file = straight ? open_device(path) : open_temporary(&made);
    if (file >= 0 && exists && !link && !straight)
        (void)fchmod(file, there.st_mode & 0777);
    if (file < 0) {
        status = refuse(error, path,
                        errno == ENXIO ? "is a pipe that nobody reads" : "could not be opened for writing", errno);
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

/* A renamed file whose bytes are still to be written is an empty file after a power cut. */
static bool to_disk(int file)
{
    while (fsync(file) != 0)
        if (errno != EINTR)
            return errno == EINVAL || errno == ENOTSUP; /* this file system has no such thing */
    return true;
}

/* The new name, too; where that fails the old file is still there. */
static void folder_to_disk(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *name = slash == NULL ? strdup(".") : strndup(path, slash == path ? 1 : (size_t)(slash - path));
    int folder = name != NULL ? open(name, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    if (folder >= 0) {
        (void)to_disk(folder);
        close(folder);
    }
    free(name);
}

enum ww_status ww_output_commit(struct ww_output *output, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    if (output->stream == NULL)
        return ww_error_set(error, WW_INVALID, NULL, 0, "no output is open; open one before committing it");
    errno = 0;
    bool failed = fflush(output->stream) != 0 || ferror(output->stream) != 0;
    failed = failed || (output->temporary != NULL && !to_disk(fileno(output->stream)));
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
    if (output->temporary != NULL) {
        forget(output->temporary);
        folder_to_disk(output->path);
    }
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

/* Removes one leftover, unless somebody holds it. */
static void remove_leftover(int folder, const char *name)
{
    int file = openat(folder, name, O_WRONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    struct stat there;
    if (file < 0)
        return;
    if (fstat(file, &there) == 0 && S_ISREG(there.st_mode) && flock(file, LOCK_EX | LOCK_NB) == 0)
        (void)unlinkat(folder, name, 0);
    close(file);
}

void ww_folder_tidy(const char *path)
{
    DIR *listing = opendir(path);
    if (listing == NULL)
        return;
    for (const struct dirent *entry = readdir(listing); entry != NULL; entry = readdir(listing)) {
        long process;
        unsigned number;
        char end;
        if (sscanf(entry->d_name, TEMPORARY "%ld-%u%c", &process, &number, &end) == 2)
            remove_leftover(dirfd(listing), entry->d_name);
    }
    closedir(listing);
}
