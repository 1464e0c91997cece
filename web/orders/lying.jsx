// SPDX-License-Identifier: MIT
// Before an order is called off: what comes off whose list and out of which slot, and what has left and stays.

import { withQuery } from '../shared/net/api.js';
import { sentence } from '../shared/strings/prose.js';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @param {{order: string, line?: number}} props */
export function Lying({ order, line }) {
  const lying = useResource(withQuery(`/api/orders/${encodeURIComponent(order)}/lying`, { line }));
  const rows = /** @type {import('../contract').Answers['GET /api/orders/{order}/lying']} */ (lying.data ?? []);
  if (rows.length === 0) return null;
  return (
    <div class="note" role="status">
      <p>{t('lying.title')}</p>
      <ul class="rows">
        {rows.map((r, i) => (
          <li key={i}>{sentence(r.sentence)}</li>
        ))}
      </ul>
    </div>
  );
}
