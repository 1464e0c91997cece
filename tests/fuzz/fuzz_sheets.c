/* SPDX-License-Identifier: MIT */
#include "nursery.h"
#include "support/order_desk.h"
#include "support/xlsx.h"

#include "base/sheet.h"
#include "base/typed.h"
#include "desk/sheets/sheets.h"
#include <string.h>

/* Any bytes as somebody's spreadsheet: the first byte says whether they are the file itself, or a part of a workbook whose other parts are
 * sound, so that the fuzzer need not learn to pack. What comes is cells within the caps and a document, or a sentence; and what is taken
 * leaves a nursery in which everything holds. */

static test_nursery t;

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n");
    load_text(&t, "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,40\n");
    nursery_to_memory(&t);
    return 0;
}

static char *as_part(unsigned which, const uint8_t *bytes, size_t n, size_t *length)
{
    char *text = calloc(n + 1, 1);
    must(text != NULL);
    memcpy(text, bytes, n);
    const char *book = "<workbook><sheets><sheet name='a' r:id='r1'/></sheets></workbook>";
    const char *strings = "<sst><si><t>Variety</t></si><si><t>AMB</t></si></sst>";
    const char *sheet =
        "<worksheet><row><c t='s'><v>0</v></c></row><row><c t='s'><v>1</v></c></row></worksheet>";
    char *packed = xlsx_book(which == 2 ? text : book, which == 3 ? text : strings, which == 1 ? text : sheet,
                             NULL, length);
    free(text);
    return packed;
}

static void check_cells(const char *bytes, size_t n)
{
    cw_workbook b;
    cw_error err = CW_ERROR_NONE;
    cw_code code = cw_workbook_read("fuzz", bytes, n, CW_CHARSET_UNKNOWN, (cw_go_on){ NULL, NULL }, &b, &err);
    must(code == CW_OK || (code == CW_REFUSED && err.text[0]));
    for (size_t i = 0; code == CW_OK && i < b.count; i++)
        for (size_t r = 0; r < b.sheets[i].row_count; r++)
            for (unsigned c = 0; c < b.sheets[i].rows[r].width; c++) {
                cw_typed_number number;
                cw_typed_day day;
                cw_field f = cw_sheet_at(&b.sheets[i], r, c, NULL);
                must(f.n <= CW_MAX_FIELD_BYTES && cw_utf8_valid(f.s, f.n, NULL));
                if (cw_typed_number_read(f.s, f.n, CW_MARK_OPEN, &number))
                    must(number.text[0] && strspn(number.text, "-.0123456789") == strlen(number.text));
                if (cw_typed_day_read(f.s, f.n, CW_ORDER_DMY, &day))
                    must(day.day >= cw_day_from_ymd(1900, 1, 1) && day.day <= cw_day_from_ymd(2199, 12, 31));
            }
    cw_workbook_free(&b);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_error err = CW_ERROR_NONE;
    cw_table taken = { 0 };
    json_t *document = NULL;
    size_t length = n ? n - 1 : 0;
    if (n == 0)
        return 0;
    unsigned which = bytes[0] % 8;
    char *packed = which >= 1 && which <= 3 ? as_part(which, bytes + 1, n - 1, &length) : NULL;
    const cw_sheets_file f = { .name = packed ? "fuzz.xlsx" : "fuzz.txt",
                               .bytes = packed ? packed : (const char *)bytes + 1,
                               .length = length,
                               .kind = which == 4   ? "lots"
                                       : which == 5 ? "orders"
                                                    : NULL };
    check_cells(f.bytes, f.length);
    must(cw_nursery_batch_begin(t.n, &err) == CW_OK);
    cw_code code = cw_sheets_take(t.n, &t.who, &f, NULL, &(cw_sheets_options){ 0 }, &taken, &document, &err);
    must(code != CW_MACHINE && (code == CW_OK || err.text[0]));
    if (code == CW_OK)
        everything_holds(t.n);
    cw_nursery_batch_drop(t.n);
    cw_table_free(&taken);
    json_decref(document);
    free(packed);
    return 0;
}
