/* A disk that holds only what was synced, put before the C library with LD_PRELOAD.
 *
 * CUT_ROOT is the folder on that disk, CUT_PLATTER the folder that stands for the disk itself:
 *   files/<identity>    bytes of a file as of its last fsync or fdatasync
 *   folders/<identity>  names in a folder as of its last fsync: "f|d <identity> <name>", a line each
 *   root                identity of CUT_ROOT
 * Everything there at the start counts as synced. Nothing is really synced: after a kill only the
 * platter is looked at. A way of syncing that is not seen here shows as a loss, never as a pass.
 *
 * The identity is inode and time of birth: an inode number is soon used again. */
#define _GNU_SOURCE
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char root[PATH_MAX];
static char platter[PATH_MAX];
static pthread_mutex_t one_at_a_time = PTHREAD_MUTEX_INITIALIZER;

struct thing {
    char identity[64];
    int is_folder;
};

static int identify(int folder, const char *name, int flags, struct thing *found) {
    struct statx about;
    if (statx(folder, name, flags, STATX_TYPE | STATX_INO | STATX_BTIME, &about) != 0)
        return -1;
    snprintf(found->identity, sizeof found->identity, "%llx-%llx.%x",
             (unsigned long long)about.stx_ino, (unsigned long long)about.stx_btime.tv_sec,
             about.stx_btime.tv_nsec);
    found->is_folder = S_ISDIR(about.stx_mode);
    return 0;
}

/* The platter takes a file or a folder whole or not at all: written beside, then renamed. */
static int put(const char *kind, const char *identity, const char *bytes, int from) {
    char place[PATH_MAX + 128], beside[PATH_MAX + 128];
    snprintf(place, sizeof place, "%s/%s/%s", platter, kind, identity);
    snprintf(beside, sizeof beside, "%s/beside", platter);
    int to = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (to < 0)
        return -1;
    int failed = 0;
    if (bytes != NULL) {
        size_t length = strlen(bytes);
        failed = write(to, bytes, length) != (ssize_t)length;
    } else {
        /* Read through the descriptor at hand: opening and closing the file once more would drop
         * the process's locks on it. */
        static char part[1 << 16];
        off_t at = 0;
        ssize_t got;
        while ((got = pread(from, part, sizeof part, at)) > 0 && !failed) {
            failed = write(to, part, got) != got;
            at += got;
        }
        failed |= got < 0;
    }
    close(to);
    return failed ? -1 : rename(beside, place);
}

static int keep_file(int file, const struct thing *it) {
    return put("files", it->identity, NULL, file);
}

/* Lists an open folder; at the start also takes in all that it holds. */
static int keep_folder(int folder, const struct thing *it, int with_all) {
    int again = openat(folder, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *open_folder = again < 0 ? NULL : fdopendir(again);
    if (open_folder == NULL)
        return -1;
    size_t room = 1 << 16, used = 0;
    char *lines = malloc(room);
    int failed = lines == NULL;
    struct dirent *entry;
    while (!failed && (entry = readdir(open_folder)) != NULL) {
        const char *name = entry->d_name;
        struct thing child;
        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
            continue;
        if (identify(again, name, AT_SYMLINK_NOFOLLOW, &child) != 0)
            continue; /* gone meanwhile */
        int wrote = snprintf(lines + used, room - used, "%c %s %s\n", child.is_folder ? 'd' : 'f',
                             child.identity, name);
        failed = wrote < 0 || (size_t)wrote >= room - used;
        used += failed ? 0 : (size_t)wrote;
        if (with_all && !failed) {
            int inner = openat(again, name, O_RDONLY | O_CLOEXEC);
            failed = inner < 0 || (child.is_folder ? keep_folder(inner, &child, 1)
                                                   : keep_file(inner, &child)) != 0;
            if (inner >= 0)
                close(inner);
        }
    }
    closedir(open_folder);
    if (!failed) {
        lines[used] = '\0';
        failed = put("folders", it->identity, lines, -1) != 0;
    }
    free(lines);
    return failed ? -1 : 0;
}

static int is_on_the_disk(int descriptor) {
    char link[64], path[PATH_MAX];
    snprintf(link, sizeof link, "/proc/self/fd/%d", descriptor);
    ssize_t length = readlink(link, path, sizeof path - 1);
    size_t start = strlen(root);
    if (length < 0 || (size_t)length < start)
        return 0;
    path[length] = '\0';
    return strncmp(path, root, start) == 0 && (path[start] == '/' || path[start] == '\0');
}

static int synced(int descriptor) {
    struct thing it;
    if (root[0] == '\0' || !is_on_the_disk(descriptor))
        return 0;
    pthread_mutex_lock(&one_at_a_time);
    int failed = identify(descriptor, "", AT_EMPTY_PATH, &it) != 0 ||
                 (it.is_folder ? keep_folder(descriptor, &it, 0) : keep_file(descriptor, &it)) != 0;
    pthread_mutex_unlock(&one_at_a_time);
    if (failed)
        errno = EIO;
    return failed ? -1 : 0;
}

int fsync(int descriptor) { return synced(descriptor); }

int fdatasync(int descriptor) { return synced(descriptor); }

__attribute__((constructor)) static void start(void) {
    const char *from = getenv("CUT_ROOT"), *to = getenv("CUT_PLATTER");
    struct thing it;
    int folder;
    if (from == NULL || to == NULL || realpath(from, root) == NULL || realpath(to, platter) == NULL ||
        (folder = open(root, O_RDONLY | O_DIRECTORY | O_CLOEXEC)) < 0 ||
        identify(folder, "", AT_EMPTY_PATH, &it) != 0 || keep_folder(folder, &it, 1) != 0 ||
        put(".", "root", it.identity, -1) != 0) {
        fprintf(stderr, "power_cut: CUT_ROOT and CUT_PLATTER are not usable\n");
        _exit(70);
    }
    close(folder);
}
