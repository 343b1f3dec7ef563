/* Makes the n-th operation on the files under one prefix fail, in a process that has this library
 * in LD_PRELOAD. Only the C library's calls are seen: what is written through a mapping is not.
 *
 * BAYSTART_FAULT_PREFIX   files whose path begins so are watched
 * BAYSTART_FAULT_CONTROL  a file of eight 64-bit numbers (the machine's byte order), shared with
 *                         whoever started the process, so that it can be read and set meanwhile:
 *   0  count    operations seen so far
 *   1  at       the operation that fails, from 1; 0 for none
 *   2  kind     1 ENOSPC, 2 EIO, 3 half of a write and then ENOSPC (other operations: ENOSPC)
 *   3  lasting  1: so does each later one, while this is 1. With ENOSPC or a half write only what needs
 *               space: writes, ftruncate, and opening a file that is not there
 *   4  failed   how many failed
 *   5  call     which call the first one that failed was, as in the list below
 *
 * Operations are write, pwrite, pwritev (and their 64-bit and vector kinds), fsync, fdatasync,
 * ftruncate, posix_fallocate, and open for writing (open, open64, openat, openat64, creat).
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

enum call { CALL_WRITE = 1, CALL_SYNC = 2, CALL_TRUNCATE = 3, CALL_OPEN = 4 };
enum kind { KIND_FULL = 1, KIND_IO = 2, KIND_HALF = 3 };

struct control {
  _Atomic uint64_t count, at, kind, lasting, failed, call, spare[2];
};

#define FILES_MAX 65536
static _Atomic unsigned char watched[FILES_MAX];
/* A half write was answered: what follows finds no space. */
static _Atomic int half_written;
static struct control *control;
static const char *prefix;
static size_t prefix_length;

/* The C library's own function; looked up once. */
#define REAL(name) \
  static __typeof__(&name) real; \
  if (!real) *(void **)(&real) = dlsym(RTLD_NEXT, #name)

__attribute__((constructor)) static void begin(void) {
  const char *path = getenv("BAYSTART_FAULT_CONTROL");
  const char *wanted = getenv("BAYSTART_FAULT_PREFIX");
  if (!path || !wanted || !*wanted) return;
  int file = open(path, O_RDWR | O_CLOEXEC);
  if (file < 0) abort();
  void *map = mmap(NULL, sizeof(struct control), PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
  if (map == MAP_FAILED) abort();
  close(file);
  prefix_length = strlen(wanted);
  prefix = wanted;
  control = map;
}

/* What becomes of one operation: 0 nothing, KIND_HALF half of it, or -1 with errno set. `needs_space` is
 * false where a full disk would not hinder it. */
static int verdict(enum call call, int needs_space) {
  if (call == CALL_WRITE && atomic_exchange(&half_written, 0)) {
    errno = ENOSPC;
    return -1;
  }
  uint64_t number = atomic_fetch_add(&control->count, 1) + 1;
  uint64_t at = atomic_load(&control->at);
  uint64_t kind = atomic_load(&control->kind);
  if (at == 0 || number < at) return 0;
  if (number > at && !(atomic_load(&control->lasting) && (needs_space || kind == KIND_IO))) return 0;
  if (atomic_fetch_add(&control->failed, 1) == 0) atomic_store(&control->call, call);
  if (kind == KIND_HALF && call == CALL_WRITE) return KIND_HALF;
  errno = kind == KIND_IO ? EIO : ENOSPC;
  return -1;
}

static int is_watched(int file) {
  return control && file >= 0 && file < FILES_MAX && atomic_load(&watched[file]);
}

static int opening(const char *path, int flags, mode_t mode, int directory, int (*real)(int, const char *, int, mode_t)) {
  int mine = control && path && strncmp(path, prefix, prefix_length) == 0;
  if (mine && (flags & (O_WRONLY | O_RDWR))) {
    struct stat there;
    int is_new = stat(path, &there) != 0;
    if (verdict(CALL_OPEN, is_new) != 0) return -1;
  }
  int file = real(directory, path, flags, mode);
  if (file >= 0 && file < FILES_MAX) atomic_store(&watched[file], mine != 0);
  return file;
}

#define MODE(flags) \
  mode_t mode = 0; \
  if ((flags) & (O_CREAT | __O_TMPFILE)) { \
    va_list rest; \
    va_start(rest, flags); \
    mode = va_arg(rest, mode_t); \
    va_end(rest); \
  }

static int real_openat(int directory, const char *path, int flags, mode_t mode) {
  REAL(openat);
  return real(directory, path, flags, mode);
}

int open(const char *path, int flags, ...) {
  MODE(flags)
  return opening(path, flags, mode, AT_FDCWD, real_openat);
}

int openat(int directory, const char *path, int flags, ...) {
  MODE(flags)
  return opening(path, flags, mode, directory, real_openat);
}

int open64(const char *path, int flags, ...) {
  MODE(flags)
  return opening(path, flags | O_LARGEFILE, mode, AT_FDCWD, real_openat);
}

int openat64(int directory, const char *path, int flags, ...) {
  MODE(flags)
  return opening(path, flags | O_LARGEFILE, mode, directory, real_openat);
}

int creat(const char *path, mode_t mode) {
  return opening(path, O_CREAT | O_WRONLY | O_TRUNC, mode, AT_FDCWD, real_openat);
}

int close(int file) {
  REAL(close);
  if (file >= 0 && file < FILES_MAX) atomic_store(&watched[file], 0);
  return real(file);
}

/* Bytes of a write that go out when half of it does. */
static size_t half_of(size_t bytes) {
  atomic_store(&half_written, 1);
  return bytes > 1 ? bytes / 2 : bytes;
}

ssize_t write(int file, const void *bytes, size_t count) {
  REAL(write);
  if (is_watched(file)) {
    int said = verdict(CALL_WRITE, 1);
    if (said < 0) return -1;
    if (said == KIND_HALF) count = half_of(count);
  }
  return real(file, bytes, count);
}

ssize_t pwrite(int file, const void *bytes, size_t count, off_t offset) {
  REAL(pwrite);
  if (is_watched(file)) {
    int said = verdict(CALL_WRITE, 1);
    if (said < 0) return -1;
    if (said == KIND_HALF) count = half_of(count);
  }
  return real(file, bytes, count, offset);
}

ssize_t pwrite64(int file, const void *bytes, size_t count, off64_t offset) {
  REAL(pwrite64);
  if (is_watched(file)) {
    int said = verdict(CALL_WRITE, 1);
    if (said < 0) return -1;
    if (said == KIND_HALF) count = half_of(count);
  }
  return real(file, bytes, count, offset);
}

/* Of several pieces, half is the first piece's half. */
#define VECTOR(name, offset_type, ...) \
  REAL(name); \
  if (is_watched(file)) { \
    int said = verdict(CALL_WRITE, 1); \
    if (said < 0) return -1; \
    if (said == KIND_HALF && count > 0) { \
      struct iovec first = {pieces[0].iov_base, half_of(pieces[0].iov_len)}; \
      return real(file, &first, 1 __VA_ARGS__); \
    } \
  } \
  return real(file, pieces, count __VA_ARGS__)

ssize_t writev(int file, const struct iovec *pieces, int count) { VECTOR(writev, ); }
ssize_t pwritev(int file, const struct iovec *pieces, int count, off_t offset) { VECTOR(pwritev, off_t, , offset); }
ssize_t pwritev64(int file, const struct iovec *pieces, int count, off64_t offset) { VECTOR(pwritev64, off64_t, , offset); }

int fsync(int file) {
  REAL(fsync);
  if (is_watched(file) && verdict(CALL_SYNC, 0) != 0) return -1;
  return real(file);
}

int fdatasync(int file) {
  REAL(fdatasync);
  if (is_watched(file) && verdict(CALL_SYNC, 0) != 0) return -1;
  return real(file);
}

int ftruncate(int file, off_t length) {
  REAL(ftruncate);
  if (is_watched(file) && verdict(CALL_TRUNCATE, 1) != 0) return -1;
  return real(file, length);
}

int ftruncate64(int file, off64_t length) {
  REAL(ftruncate64);
  if (is_watched(file) && verdict(CALL_TRUNCATE, 1) != 0) return -1;
  return real(file, length);
}

/* These return the fault instead of setting errno. */
int posix_fallocate(int file, off_t offset, off_t length) {
  REAL(posix_fallocate);
  if (is_watched(file) && verdict(CALL_WRITE, 1) != 0) return errno;
  return real(file, offset, length);
}

int posix_fallocate64(int file, off64_t offset, off64_t length) {
  REAL(posix_fallocate64);
  if (is_watched(file) && verdict(CALL_WRITE, 1) != 0) return errno;
  return real(file, offset, length);
}
