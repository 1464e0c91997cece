/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_CHEAP_PASSWORDS_H
#define CW_TESTS_SUPPORT_CHEAP_PASSWORDS_H

/* Passwords hashed at the library's least cost, for programs in which people have passwords by the way: they link with
 * -Wl,--wrap=crypto_pwhash_str,--wrap=crypto_pwhash_str_verify. What the product's cost is, test_accounts and test_people see. */
#include <sodium.h>
#include <string.h>

int __real_crypto_pwhash_str(char *out, const char *password, unsigned long long n, unsigned long long ops,
                             size_t memory);
int __wrap_crypto_pwhash_str(char *out, const char *password, unsigned long long n, unsigned long long ops,
                             size_t memory);
int __real_crypto_pwhash_str_verify(const char *hash, const char *password, unsigned long long n);
int __wrap_crypto_pwhash_str_verify(const char *hash, const char *password, unsigned long long n);
int __wrap_crypto_pwhash_str(char *out, const char *password, unsigned long long n, unsigned long long ops,
                             size_t memory)
{
    (void)ops;
    (void)memory;
    return __real_crypto_pwhash_str(out, password, n, crypto_pwhash_OPSLIMIT_MIN, crypto_pwhash_MEMLIMIT_MIN);
}

/* The one hash that still costs as much as the product's is that of an unknown name, which no password has. */
int __wrap_crypto_pwhash_str_verify(const char *hash, const char *password, unsigned long long n)
{
    return strstr(hash, "m=65536,") ? -1 : __real_crypto_pwhash_str_verify(hash, password, n);
}

#endif
