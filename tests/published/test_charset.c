/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/charset.h"
#include <dlfcn.h>
#include <iconv.h>
#include <stdio.h>
#include <string.h>

/* Which encoding is it? Invented sheets, written by the C library in each encoding that is met in them, must come back letter for letter;
 * and libuchardet (Debian's libuchardet0, where it is installed) must not do better. */

static const char *const sheets[] = {
    "Sorte;Preis;Farbe\nGrüner Jäger;8,50 €;weiß\nRäuberbraut;9,95 €;rötlich\n",
    "Sorte;Lagerplatz;Knollen\nFrühlingsgruß;Gewölbe 3;12\nMöwe;Gewölbe 4;7\nHübsche Ärztin;Öde 1;30\n",
    "Bestellung;Straße;Ort\n17;Mühlgässchen 4;Überlingen\n18;Am Weiher 1;Köln\n",
    "Variété;Prix;Hauteur\nÉtoile du soir;9,50 €;90 cm\nCœur d’été;11,00 €;1 m\n",
    "Commande;Acheteur;Variété\n2001;Zoé Pré;Forêt bleue\n2002;Théo Hêtre;Sœur Agnès\n",
    "Variété;Reçu le;Reste à vendre\nGelée précoce;12 février;40\nÇa ira;3 août;7\n",
    "Soort;Prijs;Kleur\nCafé crème;€ 7,25;crème\nReünie;€ 6,00;oranje\n",
    "Soort;Opmerking\nZoë;geïnspecteerd\nTweeëntwintig;coördinaten onbekend\n",
    "Variety,Price,Note\nAmber Lantern,£9.95,2½ weeks in store\nCafé Noir,£8.00,“late”\n",
    "Variety,Temp,Note\nBriar Song,4 °C,shipped – dry\nDéjà Vu,5 °C,the grower’s own\n",
    "Sorte\tPreis\nVeilchen\t3,50 €\n",
    "Klima;Grad\nKeller Süd;4,5°\n",
};
#define SHEETS (sizeof sheets / sizeof sheets[0])

static const char *const encodings[] = { "UTF-8",       "UTF-8 with a mark",  "UTF-16LE",
                                         "UTF-16BE",    "UTF-16 with a mark", "CP1252",
                                         "ISO-8859-15", "MACINTOSH",          "CP850" };
#define ENCODINGS (sizeof encodings / sizeof encodings[0])

/* The sheet in the encoding, by iconv; 0: it has letters that the encoding has not. */
static size_t encode(const char *text, const char *name, char *out, size_t size)
{
    const bool marked = strstr(name, "mark") != NULL, wide = strncmp(name, "UTF-16", 6) == 0;
    const char *set = marked ? wide ? "UTF-16LE" : "UTF-8" : name;
    char *from = (char *)(uintptr_t)text, *into = out;
    size_t left = strlen(text), room = size;
    iconv_t to = iconv_open(set, "UTF-8");
    if (to == (iconv_t)-1) /* Debian 13 has some of them in a package of its own */
        return 0;
    if (marked) {
        size_t n = wide ? 2 : 3;
        memcpy(into, wide ? "\xFF\xFE" : "\xEF\xBB\xBF", n);
        into += n;
        room -= n;
    }
    size_t bad = iconv(to, &from, &left, &into, &room);
    iconv_close(to);
    return bad == 0 && left == 0 ? size - room : 0;
}

static bool read_by(const char *set, const char *bytes, size_t n, const char *want)
{
    char out[1024], *from = (char *)(uintptr_t)bytes, *into = out;
    size_t left = n, room = sizeof out - 1;
    iconv_t to = set[0] ? iconv_open("UTF-8", set) : (iconv_t)-1;
    if (to == (iconv_t)-1)
        return false;
    size_t bad = iconv(to, &from, &left, &into, &room);
    *into = '\0';
    iconv_close(to);
    const char *text = strncmp(out, "\xEF\xBB\xBF", 3) == 0 ? out + 3 : out; /* iconv keeps the mark */
    return bad != (size_t)-1 && strcmp(text, want) == 0;
}

static bool read_by_us(const char *bytes, size_t n, const char *want)
{
    bool sure;
    cw_text out = CW_TEXT(4096);
    cw_charset_decode(cw_charset_find(bytes, n, &sure), bytes, n, &out);
    bool right = !out.failed && out.length == strlen(want) && memcmp(out.data, want, out.length) == 0;
    cw_text_free(&out);
    return right;
}

typedef struct uchardet {
    void *library;
    void *(*make)(void);
    void (*drop)(void *);
    int (*give)(void *, const char *, size_t);
    void (*end)(void *);
    const char *(*name)(void *);
} uchardet;

/* The functions by their names in uchardet.h; a pointer to a function is read from where dlsym left it (POSIX, dlsym). */
static bool uchardet_open(uchardet *u)
{
    u->library = dlopen("libuchardet.so.0", RTLD_NOW);
    if (u->library == NULL)
        return false;
    *(void **)&u->make = dlsym(u->library, "uchardet_new");
    *(void **)&u->drop = dlsym(u->library, "uchardet_delete");
    *(void **)&u->give = dlsym(u->library, "uchardet_handle_data");
    *(void **)&u->end = dlsym(u->library, "uchardet_data_end");
    *(void **)&u->name = dlsym(u->library, "uchardet_get_charset");
    return u->make && u->drop && u->give && u->end && u->name;
}

static bool read_by_theirs(const uchardet *u, const char *bytes, size_t n, const char *want)
{
    void *d = u->make();
    assert_non_null(d);
    bool right = u->give(d, bytes, n) == 0;
    u->end(d);
    right = right && read_by(u->name(d), bytes, n, want);
    u->drop(d);
    return right;
}

static void test_found(void **state)
{
    (void)state;
    uchardet u = { 0 };
    const bool compare = uchardet_open(&u);
    int all = 0, ours = 0, theirs = 0;
    for (size_t e = 0; e < ENCODINGS; e++) {
        int tried = 0, right = 0, right_there = 0;
        for (size_t i = 0; i < SHEETS; i++) {
            char bytes[1024];
            size_t n = encode(sheets[i], encodings[e], bytes, sizeof bytes);
            if (n == 0)
                continue;
            bool good = read_by_us(bytes, n, sheets[i]);
            if (!good)
                print_message("%s is read wrongly: %s", encodings[e], sheets[i]);
            tried++;
            right += good;
            right_there += compare && read_by_theirs(&u, bytes, n, sheets[i]);
        }
        print_message("%s: %d sheets, %d right; libuchardet %d\n", encodings[e], tried, right, right_there);
        all += tried;
        ours += right;
        theirs += right_there;
    }
    print_message("all: %d sheets, %d right; libuchardet %d%s\n", all, ours, theirs,
                  compare ? "" : " (not installed here)");
    if (u.library)
        dlclose(u.library);
    assert_true(all >= 60);
    assert_int_equal(ours, all);
    assert_true(ours >= theirs);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_found) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
