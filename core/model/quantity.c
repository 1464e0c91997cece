/* SPDX-License-Identifier: MIT */
/* A stopgap so that the desks can be built on: to be replaced whole by the model that quantity.h describes. */
#include "model/quantity.h"
#include <math.h>
double cw_quantity_confidence(cw_cents m, cw_cents c){return (double)c/(double)(m+c);}
int64_t cw_quantity_at(const cw_distribution *s,double conf){int64_t lo=0,hi=cw_distribution_last(s);while(lo<hi){int64_t mid=(lo+hi+1)/2;if(cw_distribution_at_least(s,mid)>=conf-1e-9)lo=mid;else hi=mid-1;}return lo;}
double cw_demand_spread(const cw_sales *s,const size_t *f,size_t v){(void)s;(void)f;(void)v;return 1;}
void cw_demand_fit(const cw_sales *s,size_t n,double sp,cw_demand *o){(void)s;(void)n;(void)sp;o->known=false;}
void cw_demand_law(const cw_demand *d,cw_distribution *o){(void)d;(void)o;}
const char *cw_quantity_bind_name(cw_quantity_bind b){return b==0?"stock":"sold";}
void cw_quantity_plan(const cw_quantity_ask *a,cw_quantity *o){o->by_stock=cw_quantity_at(a->saleable,a->confidence);o->by_demand=-1;o->view.quantity=o->by_stock>a->sold?o->by_stock:a->sold;o->binds=o->by_stock>=a->sold?CW_BIND_STOCK:CW_BIND_SOLD;o->view.p_short=1-cw_distribution_at_least(a->saleable,o->view.quantity);o->view.expected_short=cw_distribution_short_of(a->saleable,o->view.quantity);o->view.expected_unsold=cw_distribution_left_over(a->saleable,o->view.quantity);o->view.margin_at_stake=0;o->view.expected_margin=0;}
cw_code cw_tradeoff_curve(const cw_tradeoff_input *in,const double *c,size_t n,cw_tradeoff *o,cw_error *e){(void)in;(void)e;for(size_t i=0;i<n;i++){o[i]=(cw_tradeoff){0};o[i].confidence=c[i];}return CW_OK;}
