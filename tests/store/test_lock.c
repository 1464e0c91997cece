/* SPDX-License-Identifier: MIT */
/* One nursery file has one writer, however it is spelled, moved or linked to, and whatever lies in the place of its lock. */
#include "support/check.h"

#include "store/db.h"
#include "store/season.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/banned.h"

/* ---- A disk that knows no locks (linked with --wrap=flock) ---- */
static int flock_says;
int __real_flock(int fd, int what);
int __wrap_flock(int fd, int what);
int __wrap_flock(int fd, int what)
{
    if (flock_says) {
        errno = flock_says;
        return -1;
    }
    return __real_flock(fd, what);
}

/* ---- A folder "a" with the file n.db, and ways to it ---- */
static char top[32], file[64];

static const char *in_top(const char *name)
{
    static char path[4][200];
    static int next;
    char *p = path[next++ % 4];
    snprintf(p, sizeof path[0], "%s/%s", top, name);
    return p;
}

static void empty_folder(const char *folder)
{
    char path[600];
    DIR *d = opendir(folder);
    for (struct dirent *e = d ? readdir(d) : NULL; e; e = readdir(d)) {
        if (strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0)
            continue;
        snprintf(path, sizeof path, "%.200s/%s", folder, e->d_name);
        if (unlink(path) != 0) {
            empty_folder(path);
            rmdir(path);
        }
    }
    if (d)
        closedir(d);
}

static int set_up(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_season_row row = { 2031, 22745, "USD", "UTC" };
    (void)state;
    snprintf(top, sizeof top, "/tmp/cw-lock-XXXXXX");
    assert_non_null(mkdtemp(top));
    snprintf(file, sizeof file, "%s/a/n.db", top);
    assert_int_equal(mkdir(in_top("a"), 0700), 0);
    assert_int_equal(mkdir(in_top("b"), 0700), 0);
    cw_check_ok(cw_db_open(file, CW_DB_NEW, "test", &db, &err), &err);
    cw_check_ok(cw_db_begin(db, &err), &err);
    cw_check_ok(cw_season_make(db, &row, 0, &err), &err);
    cw_check_ok(cw_db_commit(db, &err), &err);
    cw_check_ok(cw_db_backup(db, in_top("copy.db"), NULL, NULL, &err), &err);
    cw_db_close(db);
    return 0;
}

static int clean_up(void **state)
{
    (void)state;
    flock_says = 0;
    empty_folder(top);
    return rmdir(top);
}

static void is_refused(const char *path, cw_code want, const char *says)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_code code = cw_db_open(path, CW_DB_WRITE, "the second", &db, &err);
    if (code != want || strstr(err.text, says) == NULL)
        fail_msg("%s: code %d: %s", path, code, err.text);
}

static cw_db *opened(const char *path)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    cw_check_ok(cw_db_open(path, CW_DB_WRITE, "the first", &db, &err), &err);
    return db;
}

/* Each of two spellings keeps the other out, from writing and from being replaced. */
static void keep_each_other_out(const char *one, const char *other)
{
    const char *ways[2] = { one, other };
    for (int i = 0; i < 2; i++) {
        cw_error err = CW_ERROR_NONE;
        cw_db *db = opened(ways[i]);
        is_refused(ways[1 - i], CW_MACHINE, "is being written by the first (process ");
        assert_int_equal(cw_db_restore(in_top("copy.db"), ways[1 - i], &err), CW_MACHINE);
        assert_non_null(strstr(err.text, "is being written by the first"));
        cw_db_close(db);
    }
}

static void any_spelling_is_the_same_file(void **state)
{
    char spelled[200];
    (void)state;
    assert_int_equal(symlink(file, in_top("b/link.db")), 0);
    assert_int_equal(symlink("../a/n.db", in_top("b/relative.db")), 0);
    assert_int_equal(symlink("link.db", in_top("b/twice.db")), 0);
    assert_int_equal(symlink(in_top("a"), in_top("folder")), 0);
    keep_each_other_out(file, in_top("b/link.db"));
    keep_each_other_out(file, in_top("b/relative.db"));
    keep_each_other_out(in_top("b/relative.db"), in_top("b/twice.db"));
    keep_each_other_out(file, in_top("folder/n.db"));
    keep_each_other_out(file, in_top("a//n.db"));
    keep_each_other_out(file, in_top("a/./n.db"));
    keep_each_other_out(file, in_top("b/../a/n.db"));
    snprintf(spelled, sizeof spelled, "/%s", file);
    keep_each_other_out(file, spelled);
    char *here = getcwd(NULL, 0);
    assert_int_equal(chdir(in_top("a")), 0);
    keep_each_other_out(file, "n.db");
    keep_each_other_out("./n.db", "../a/n.db");
    assert_int_equal(chdir(here), 0);
    free(here);
}

/* In a process with mounts of its own; 77 where that is not allowed. */
static int with_mounts(void)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    if (unshare(CLONE_NEWNS) != 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0)
        return 77;
    if (mount(in_top("a"), in_top("b"), NULL, MS_BIND, NULL) != 0)
        return 77;
    keep_each_other_out(file, in_top("b/n.db"));
    umount(in_top("b"));
    int fd = open(in_top("b/alone.db"), O_CREAT | O_WRONLY, 0600);
    close(fd);
    if (mount(file, in_top("b/alone.db"), NULL, MS_BIND, NULL) != 0)
        return 77;
    is_refused(in_top("b/alone.db"), CW_REFUSED, "is mounted by itself");
    assert_int_equal(cw_db_open(in_top("b/alone.db"), CW_DB_READ, NULL, &db, &err), CW_REFUSED);
    umount(in_top("b/alone.db"));
    return 0;
}

static void a_mounted_folder_is_the_same_file(void **state)
{
    int status = 0;
    (void)state;
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0)
        _exit(with_mounts()); /* a failed assertion leaves another way: with 255 */
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == 77) {
        print_message("nothing may be mounted here\n");
        skip();
    }
    assert_int_equal(WEXITSTATUS(status), 0);
}

static void a_second_hard_link_is_refused(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = opened(file), *reader = NULL;
    (void)state;
    assert_int_equal(link(file, in_top("b/hard.db")), 0);
    is_refused(in_top("b/hard.db"), CW_REFUSED, "has 2 names (hard links)");
    assert_int_equal(cw_db_open(in_top("b/hard.db"), CW_DB_READ, NULL, &reader, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "has 2 names"));
    cw_db_close(db);
}

/* A copy has no log: it may be linked, read, and put back. */
static void a_linked_copy_is_good(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    (void)state;
    assert_int_equal(link(in_top("copy.db"), in_top("b/again.db")), 0);
    cw_check_ok(cw_db_open(in_top("b/again.db"), CW_DB_READ, NULL, &db, &err), &err);
    cw_db_close(db);
    cw_check_ok(cw_db_restore(in_top("b/again.db"), file, &err), &err);
    is_refused(in_top("copy.db"), CW_REFUSED, "has 2 names");
}

static void a_link_that_leads_nowhere_makes_no_file(void **state)
{
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    (void)state;
    assert_int_equal(symlink(in_top("b/gone.db"), in_top("dead.db")), 0);
    assert_int_equal(cw_db_open(in_top("dead.db"), CW_DB_NEW, "test", &db, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "leads to no file"));
    assert_int_equal(access(in_top("b/gone.db"), F_OK), -1);
}

static void the_lock_goes_with_the_file(void **state)
{
    cw_db *db = opened(file);
    char lock[80];
    (void)state;
    assert_int_equal(rename(file, in_top("b/moved.db")), 0);
    is_refused(in_top("b/moved.db"), CW_MACHINE,
               "is being written by another program, which knows it by another name");
    assert_int_equal(rename(in_top("b/moved.db"), file), 0);
    snprintf(lock, sizeof lock, "%s.lock", file);
    assert_int_equal(unlink(lock), 0);
    is_refused(file, CW_MACHINE, "is being written by another program");
    cw_db_close(db);
    cw_db_close(opened(file));
}

static void what_lies_in_the_place_of_the_lock(void **state)
{
    char lock[80];
    struct stat s;
    (void)state;
    snprintf(lock, sizeof lock, "%s.lock", file);
    assert_int_equal(unlink(lock), 0);
    int fd = open(in_top("b/precious"), O_CREAT | O_WRONLY, 0644);
    assert_int_equal(write(fd, "precious", 8), 8);
    close(fd);
    assert_int_equal(symlink(in_top("b/precious"), lock), 0);
    is_refused(file, CW_MACHINE, "is a link, and a lock must not be one");
    unlink(lock);
    assert_int_equal(link(in_top("b/precious"), lock), 0);
    is_refused(file, CW_MACHINE, "is no file of its own");
    assert_int_equal(stat(in_top("b/precious"), &s), 0);
    assert_int_equal(s.st_size, 8);
    assert_int_equal(s.st_mode & 0777, 0644);
    unlink(lock);
    assert_int_equal(mkfifo(lock, 0600), 0);
    is_refused(file, CW_MACHINE, "is no file of its own");
    unlink(lock);
    assert_int_equal(mkdir(lock, 0700), 0);
    is_refused(file, CW_MACHINE, "cannot be made, so nothing can be written here");
    rmdir(lock);
}

static void the_lock_is_its_owners_alone(void **state)
{
    char lock[80];
    struct stat s;
    (void)state;
    snprintf(lock, sizeof lock, "%s.lock", file);
    assert_int_equal(unlink(lock), 0);
    mode_t before = umask(0);
    cw_db_close(opened(file));
    umask(before);
    assert_int_equal(stat(lock, &s), 0);
    assert_int_equal(s.st_mode & 0777, 0600);
    assert_int_equal(chmod(lock, 0666), 0); /* as an older program left it */
    cw_db_close(opened(file));
    assert_int_equal(stat(lock, &s), 0);
    assert_int_equal(s.st_mode & 0777, 0600);
}

static void a_disk_without_locks_is_no_other_writer(void **state)
{
    (void)state;
    flock_says = ENOLCK;
    is_refused(file, CW_MACHINE, "cannot be locked here");
    flock_says = EOPNOTSUPP;
    is_refused(file, CW_MACHINE, "keep it on a disk of this machine");
    flock_says = 0;
    cw_db_close(opened(file));
}

/* Behind a link the file itself is replaced, and goes aside with its log; the link stays one. */
static void restoring_through_a_link(void **state)
{
    cw_error err = CW_ERROR_NONE;
    struct stat s;
    (void)state;
    assert_int_equal(symlink(file, in_top("b/link.db")), 0);
    cw_check_ok(cw_db_restore(in_top("copy.db"), in_top("b/link.db"), &err), &err);
    assert_int_equal(lstat(in_top("b/link.db"), &s), 0);
    assert_true(S_ISLNK(s.st_mode));
    assert_int_equal(access(in_top("a/n.db.before-restore"), F_OK), 0);
    cw_db_close(opened(in_top("b/link.db")));
    /* None of what would go out of the way is the copy. */
    assert_int_equal(cw_db_restore(in_top("b/link.db"), file, &err), CW_REFUSED);
    assert_int_equal(rename(in_top("copy.db"), in_top("a/n.db.part")), 0);
    assert_int_equal(cw_db_restore(in_top("a/n.db.part"), file, &err), CW_REFUSED);
    assert_int_equal(access(in_top("a/n.db.part"), F_OK), 0);
    /* What went aside is one. */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_db_restore(in_top("a/n.db.before-restore"), file, &err), &err);
    cw_db_close(opened(file));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(any_spelling_is_the_same_file, set_up, clean_up),
        cmocka_unit_test_setup_teardown(a_mounted_folder_is_the_same_file, set_up, clean_up),
        cmocka_unit_test_setup_teardown(a_second_hard_link_is_refused, set_up, clean_up),
        cmocka_unit_test_setup_teardown(a_linked_copy_is_good, set_up, clean_up),
        cmocka_unit_test_setup_teardown(a_link_that_leads_nowhere_makes_no_file, set_up, clean_up),
        cmocka_unit_test_setup_teardown(the_lock_goes_with_the_file, set_up, clean_up),
        cmocka_unit_test_setup_teardown(what_lies_in_the_place_of_the_lock, set_up, clean_up),
        cmocka_unit_test_setup_teardown(the_lock_is_its_owners_alone, set_up, clean_up),
        cmocka_unit_test_setup_teardown(a_disk_without_locks_is_no_other_writer, set_up, clean_up),
        cmocka_unit_test_setup_teardown(restoring_through_a_link, set_up, clean_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
