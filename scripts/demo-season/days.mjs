// SPDX-License-Identifier: MIT
// Days as whole numbers (days since 1970-01-01) and back, and the fixed days of the demo's season.

export const day = (iso) => Math.round(Date.parse(`${iso}T00:00:00Z`) / 86400000);
export const isoDay = (n) => new Date(n * 86400000).toISOString().slice(0, 10);
export const isWorkday = (n) => (n + 3) % 7 < 5; // 1970-01-01 was a Thursday; 0 is Monday

export const SEASON = 2031;
export const DIG_FIRST = day('2031-10-20');
export const DIG_LAST = day('2031-11-20');
export const DIVIDE_FIRST = day('2031-12-08');
export const DIVIDE_LAST = day('2032-02-19');
export const ORDERS_FIRST = day('2032-01-05');
export const ORDERS_LAST = day('2032-02-19');
export const EARLY_PRICE_LAST = day('2032-01-16');
export const TODAY = day('2032-02-20');
export const SHIP = day('2032-04-19');
export const DIVIDED_BY = SHIP - 14; // the last clump is cut two weeks before shipping begins

const HOLIDAY_FIRST = day('2031-12-24');
const HOLIDAY_LAST = day('2032-01-02');
export const isSessionDay = (n) => isWorkday(n) && (n < HOLIDAY_FIRST || n > HOLIDAY_LAST);
