/* SPDX-License-Identifier: MIT */
#include "base/day.h"
#include "desk/intake/intake.h"
#include "desk/nursery/kinds.h"
#include "desk/nursery/nursery_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What a file of each kind looks like. All names are invented. In braces stands what moves with the season: {-150} the day so many days
 * before shipping (today if that is earlier), {w2} the week so many after shipping's, {s-1} the year so many before the season's. */
static const char *const samples[CW_KINDS] = {
    [CW_VARIETIES] = "code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order\n"
                     "EMBER,Early Ember,ball,small,orange,110,6.50,4,2,10\n"
                     "MILKY,Milky Lane,decorative,large,white,130,8.00,3,1,\n"
                     "PLUMB,Plumb Line,cactus,medium,purple,120,7.25,,,\n",
    [CW_PLACES] = "place,room,walk_order\nA-01,cellar,10\nA-02,cellar,20\nB-01,shed,30\n",
    [CW_ZONES] = "zone,first_week\nsouth,{w0}\nnorth,{w3}\n",
    [CW_DESTINATIONS] = "country,region,rule,note\nUS,,allow,\n"
                        "CA,,warn,\"a certificate may be needed, ask the plant-health authority\"\n",
    [CW_ZONE_RANGES] = "country,postcode_from,postcode_to,zone\nUS,00,49,south\nUS,50,99,north\nCA,,,north\n",
    [CW_HISTORY] =
        "season,variety,clumps,divisions\n{s-2},EMBER,24,101\n{s-1},EMBER,30,118\n{s-2},MILKY,12,38\n"
        "{s-1},MILKY,15,52\n{s-1},PLUMB,9,41\n",
    [CW_PAST_CHECKS] = "season,variety,stage,weeks,inspected,rotten,shrivelled\n{s-1},EMBER,clump,8,30,1,0\n"
                       "{s-1},MILKY,division,6,50,2,1\n",
    [CW_PAST_SALES] = "season,variety,sold,sold_out_on\n{s-1},EMBER,96,{s0}-02-20\n{s-1},MILKY,38,\n",
    [CW_PAST_ORDERS] = "season,variety,ordered_on,quantity\n{s-1},EMBER,{s0}-01-10,22\n"
                       "{s-1},EMBER,{s0}-02-20,31\n{s-1},MILKY,{s0}-01-15,12\n",
    [CW_PAST_PLANTINGS] = "season,variety,plants,clumps\n{s-1},EMBER,34,30\n{s-1},MILKY,18,15\n",
    [CW_PLANTINGS] =
        "row,variety,plants,planted_on,spacing_cm\nR1,EMBER,32,{-340},50\nR2,MILKY,16,{-340},60\n"
        "R3,PLUMB,12,{-339},60\n",
    [CW_LOTS] = "lot,variety,dug_on,clumps,row,culled,place\nE1,EMBER,{-180},28,R1,2,A-01\n"
                "M1,MILKY,{-179},14,R2,,A-02\nP1,PLUMB,{-178},10,R3,1,B-01\n",
    [CW_FIELD_ROUNDS] =
        "row,seen_on,alive,rogued,reason,variety\nR1,{-270},31,0,,EMBER\nR3,{-270},12,1,mosaic,PLUMB\n",
    [CW_WEIGHINGS] = "sample,lot,weighed_on,kg\nK1,E1,{-150},4.210\nK1,E1,{-120},4.155\n",
    [CW_AIR] = "room,at,temp_c,rh\ncellar,{-150}T06:00:00Z,6.5,88\nshed,{-150}T06:00:00Z,5.0,84\n",
    [CW_DIVISIONS] = "lot,divided_on,clumps,saleable,blind,rotten,place\nE1,{-130},10,43,6,1,A-01\n",
    [CW_CHECKS] = "lot,checked_on,stage,inspected,rotten,shrivelled,why\nM1,{-110},clump,14,1,0,round\n",
    [CW_COUNTS] = "lot,counted_on,stage,count,place\nP1,{-100},clump,10,B-01\n",
    [CW_ORDERS] =
        "order,received_at,line,variety,quantity,unit_price,tier,customer,email,street,town,postcode,"
        "country,consent\n"
        "1001,{-90}T10:00:00Z,1,EMBER,3,6.50,retail,Fern Amber,fern@example.org,1 Mill "
        "Lane,Oddham,47001,US,same\n"
        "1001,{-90}T10:00:00Z,2,MILKY,1,8.00,retail,Fern Amber,fern@example.org,1 Mill "
        "Lane,Oddham,47001,US,none\n"
        "1002,{-89}T15:30:00Z,1,PLUMB,2,7.25,wholesale,The Far Garden,office@example.org,Station "
        "Road 9,Upwell,61550,US,any\n",
    [CW_HOLDS] = "zone,country,region,postcode_from,postcode_to,carrier,first_week,last_week,why\n"
                 "north,,,,,,{w3},{w4},frost in the forecast\n,US,,50,52,,{w2},{w2},flood\n"
                 ",,,,,The Red Van,{w1},{w1},strike\n",
};

static void put(const cw_season *season, cw_day today, const char *what, cw_text *out)
{
    char text[16];
    long by = strtol(what[0] == '-' ? what : what + 1, NULL, 10);
    cw_day day = season->ship + (cw_day)by < today ? season->ship + (cw_day)by : today;
    if (what[0] == 's')
        cw_text_addf(out, "%ld", season->season + by);
    else if (what[0] == 'w')
        cw_week_format(cw_week_of(season->ship + 7 * (cw_day)by), text);
    else
        cw_day_format(day, text);
    if (what[0] != 's')
        cw_text_add(out, text);
}

cw_code cw_intake_sample(cw_nursery *n, const cw_asker *who, const char *kind, cw_text *out, cw_error *err)
{
    int k = cw_kind_named(kind);
    char shown[80];
    if (k < 0 || samples[k] == NULL)
        return cw_error_set(err, CW_NOT_FOUND, "there is no sample of this kind of file: %s",
                            cw_shown(kind, strlen(kind), shown));
    cw_code code = cw_season_look(n, err);
    if (code != CW_OK)
        return code;
    for (const char *s = samples[k]; *s;) {
        size_t plain = strcspn(s, "{");
        cw_text_addn(out, s, plain);
        s += plain;
        if (*s == '{') {
            put(&n->season, who->today, s + 1, out);
            s = strchr(s, '}') + 1;
        }
    }
    return cw_text_check(out, err);
}
