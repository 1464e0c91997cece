/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "base/banned.h"

/* The one style sheet of the pages to print. It is part of the program, so that paper comes out without the built web
 * pages. Millimetres throughout: what is scanned must not be scaled. Nothing with a code in it is cut by a page's end. */
static const char style[] =
    "@page{margin:10mm}\n"
    "*{box-sizing:border-box}\n"
    "body{margin:0;font:11pt/1.3 'Liberation Sans',Arial,Helvetica,sans-serif;color:#000;background:#fff}\n"
    "h1{font-size:15pt;margin:0 0 2mm}\n"
    "p,dl,dd,dt,ul{margin:0}\n"
    "svg{display:block;flex:none}\n"
    ".num{text-align:right}\n"
    ".code,.whole{white-space:nowrap;overflow-wrap:normal}\n"
    "td.num,td.slot,th{white-space:nowrap}\n"
    "tr.stop th{white-space:normal}\n"
    ".code{font:700 11pt/1.1 'Liberation Mono','Courier New',monospace;letter-spacing:.04em}\n"
    ".quiet{color:#333;font-size:9pt}\n"
    /* Crate tags: two a row on A4 and on letter paper, with a mark where the hole is punched. */
    ".tags{display:flex;flex-wrap:wrap;gap:4mm}\n"
    ".tag{width:91mm;min-height:60mm;border:.3mm solid #000;border-radius:3mm;padding:3mm 4mm;"
    "break-inside:avoid;overflow-wrap:anywhere}\n"
    ".tag .hole{width:5mm;height:5mm;border:.3mm dashed #000;border-radius:50%;margin:0 auto 1mm}\n"
    ".tag .code{font-size:34pt;line-height:1}\n"
    ".tag .code.long{font-size:20pt}\n"
    ".tag .code.longer{font-size:10.5pt;letter-spacing:0}\n"
    ".tag .name{font-size:13pt;font-weight:700}\n"
    ".tag .both{display:flex;justify-content:space-between;gap:3mm;align-items:flex-start}\n"
    ".tag .both dl{flex:1 1 0;min-width:0}\n"
    ".tag dl div{display:flex;gap:2mm}\n"
    ".tag dt{flex:0 0 12mm;font-size:9pt}\n"
    ".tag dd{font-weight:700;min-width:0}\n"
    ".tag dd.long{font-size:8pt}\n"
    ".tag dd.longer{font:700 5pt/2.6 'Liberation Mono','Courier New',monospace}\n"
    ".held{border:.5mm solid #000;padding:1mm 2mm;font-weight:700}\n"
    /* Pick sheet. */
    "table{border-collapse:collapse;width:100%}\n"
    "th,td{text-align:left;padding:1mm 2mm;border-bottom:.2mm solid "
    "#777;vertical-align:top;overflow-wrap:anywhere}\n"
    "thead{display:table-header-group}\n"
    "tr{break-inside:avoid}\n"
    "tbody.stop{break-inside:auto}\n"
    "tr.stop{break-after:avoid}\n"
    "tr.stop th{border-top:.5mm solid #000;background:#eee;font-size:12pt;"
    "-webkit-print-color-adjust:exact;print-color-adjust:exact}\n"
    ".slot{font-weight:700;font-size:13pt}\n"
    "td.code.long,td .code.long{font-size:8pt}\n"
    "td.code.longer,td .code.longer{font-size:6.5pt;letter-spacing:0}\n"
    /* Which page of how many: in the margin, where the browser writes there. */
    "@page walk{margin:13mm 10mm 9mm;@top-right{content:'Page ' counter(page) ' of ' counter(pages);"
    "font:9pt 'Liberation Sans',Arial,sans-serif}}\n"
    "main.picks{page:walk}\n"
    ".picks section+section{break-before:page}\n"
    ".picks table{font-size:9pt;line-height:1.15}\n"
    ".picks th,.picks td{padding:.35mm 1.2mm}\n"
    ".picks tr.about th{font-size:10pt;border:0;white-space:normal}\n"
    ".picks tr.stop th{font-size:10pt;border-top-width:.3mm}\n"
    ".picks .code{font-size:9pt}\n"
    ".picks .slot{font-size:10pt}\n"
    ".picks .quiet{font-size:7.5pt}\n"
    ".picks .box{width:3mm;height:3mm}\n"
    ".picks .care{margin-top:2mm;font-size:7pt}\n"
    ".box{display:inline-block;width:4mm;height:4mm;border:.3mm solid #000}\n"
    ".care{margin-top:4mm;font-size:8pt;break-inside:avoid}\n"
    /* Packing slips: a page each. */
    ".slip{break-after:page}\n"
    ".slip:last-child{break-after:auto}\n"
    ".slip header{display:flex;justify-content:space-between;gap:6mm;margin-bottom:4mm}\n"
    ".slip .big{font-size:30pt;font-weight:700;line-height:1}\n"
    ".slip .big.many{font-size:18pt}\n"
    ".slip .joined{font-weight:700}\n"
    ".slip .to{font-size:13pt;overflow-wrap:anywhere}\n"
    ".slip header div{min-width:0}\n"
    ".slip .later{margin-top:3mm;font-weight:700}\n"
    /* Division labels: three a row, all of a size unless a name needs more. */
    ".labels{display:flex;flex-wrap:wrap;gap:2mm}\n"
    ".label{width:60mm;min-height:25mm;border:.2mm solid #777;padding:1.5mm;display:flex;gap:1.5mm;"
    "break-inside:avoid}\n"
    ".label div{min-width:0;overflow-wrap:anywhere}\n"
    ".label .name{font-size:9pt;line-height:1.15;font-weight:700}\n"
    ".label .name.long{font-size:6pt;line-height:1.1}\n"
    ".label .code.long{font-size:7pt;letter-spacing:0}\n"
    ".label .code.longer{font-size:5pt;letter-spacing:0}\n"
    ".label .whole.long{font:6pt/1.2 'Liberation Mono','Courier New',monospace}\n"
    ".label .whole.longer{font:4.5pt/1.4 'Liberation Mono','Courier New',monospace}\n"
    ".label .goes{font-size:8pt;line-height:1.15}\n"
    ".label .quiet{font-size:8pt;line-height:1.15}\n";

static const cw_contract contract_print_style = {
    .says = "The style sheet of the pages to print.",
    .type = "text/css; charset=utf-8",
};

static cw_code route_print_style(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_text text = CW_TEXT(sizeof style);
    (void)n;
    cw_text_add(&text, style);
    return cw_reply_text_take(q, 200, "text/css; charset=utf-8", &text, err);
}

const cw_route cw_routes_print_style[] = {
    CW_ROUTE(GET, "/print/print.css", LOOK, ANYBODY, CW_NO_BODY, print_style),
    { 0 },
};
