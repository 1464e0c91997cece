/* SPDX-License-Identifier: MIT */
/* Preloaded into the test programs of scripts/mutate. A changed program need not survive a power cut, nor somebody who guesses
 * passwords, and both are most of the time that some tests take. */
#include <dlfcn.h>
#include <unistd.h>

int fsync(int file)
{
    (void)file;
    return 0;
}

int fdatasync(int file)
{
    (void)file;
    return 0;
}

/* libsodium's, as cheap as it allows: 1 pass over 8 KiB. */
int crypto_pwhash_str(char out[128], const char *password, unsigned long long length,
                      unsigned long long passes, size_t bytes)
{
    int (*real)(char *, const char *, unsigned long long, unsigned long long, size_t) = 0;
    (void)passes;
    (void)bytes;
    *(void **)&real = dlsym(RTLD_NEXT, "crypto_pwhash_str");
    return real ? real(out, password, length, 1, 8192) : -1;
}
