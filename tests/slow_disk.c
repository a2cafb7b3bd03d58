/* A disk that takes its time, for one program: every write or sync of a file under a folder waits as long as a gate is shut.
 *
 * Loaded before the system's library (LD_PRELOAD), it stands in for pwrite, fsync and fdatasync. SLOW_DISK_FOLDER names the
 * folder, SLOW_DISK_GATE another one: while a file 'sync' or 'write' is in it, those calls wait; one that waits makes the
 * file 'waits', so that a test need not guess by the clock.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

static int is_slow(int file)
{
    const char *folder = getenv("SLOW_DISK_FOLDER");
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (folder == NULL || length < 0)
        return 0;
    path[length] = 0;
    return strncmp(path, folder, strlen(folder)) == 0;
}

static void pass(int file, const char *which)
{
    const char *gate = getenv("SLOW_DISK_GATE");
    char shut[4096], waits[4096];
    if (gate == NULL || !is_slow(file))
        return;
    snprintf(shut, sizeof shut, "%s/%s", gate, which);
    snprintf(waits, sizeof waits, "%s/waits", gate);
    while (access(shut, F_OK) == 0) {
        int told = open(waits, O_CREAT | O_WRONLY, 0600);
        if (told >= 0)
            close(told);
        struct timespec turn = {0, 2000000};
        nanosleep(&turn, NULL);
    }
}

int fsync(int file)
{
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, "fsync");
    pass(file, "sync");
    return real(file);
}

int fdatasync(int file)
{
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, "fdatasync");
    pass(file, "sync");
    return real(file);
}

ssize_t pwrite(int file, const void *bytes, size_t count, off_t at)
{
    ssize_t (*real)(int, const void *, size_t, off_t) =
        (ssize_t (*)(int, const void *, size_t, off_t))dlsym(RTLD_NEXT, "pwrite");
    pass(file, "write");
    return real(file, bytes, count, at);
}

ssize_t pwrite64(int file, const void *bytes, size_t count, off64_t at)
{
    ssize_t (*real)(int, const void *, size_t, off64_t) =
        (ssize_t (*)(int, const void *, size_t, off64_t))dlsym(RTLD_NEXT, "pwrite64");
    pass(file, "write");
    return real(file, bytes, count, at);
}
