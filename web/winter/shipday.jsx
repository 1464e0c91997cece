// SPDX-License-Identifier: MIT
// The shipping day of the season: what another one would move, and moving it, on record.

import { useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {{variety: string, offered: number, sold: number, quantity: number, quantity_then: number}} Moved */

/** @param {{ship: string}} props */
export function ShipDay({ ship }) {
  const { format } = useSeason();
  const [open, setOpen] = useState(false);
  return (
    <p class="ship-day">
      {t('ship.is', { day: format.day(ship) })}{' '}
      <button type="button" onClick={() => setOpen(true)}>
        {t('ship.move')}
      </button>
      {open && <Move ship={ship} onClose={() => setOpen(false)} />}
    </p>
  );
}

/** @param {{ship: string, onClose: () => void}} props */
function Move({ ship: now, onClose }) {
  const [ship] = useState(now); // as it was when this was begun, whatever is read anew meanwhile
  const [day, setDay] = useState(ship);
  const [why, setWhy] = useState('');
  const other = day !== '' && day !== ship;
  return (
    <Dialog title={t('ship.move')} onClose={onClose}>
      <Form
        save={t('ship.save')}
        disabled={!other}
        onCancel={onClose}
        onSave={async () => {
          await send('POST', '/api/season/ship', { day, why: why.trim() }, { of: t('ship.one'), base: { day: ship } });
          say(t('ship.moved'));
          touch();
          onClose();
        }}
      >
        <Field label={t('ship.day')}>
          <input type="date" required value={day} onInput={(e) => setDay(e.currentTarget.value)} />
        </Field>
        {other && <Preview day={day} />}
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** @param {{day: string}} props */
function Preview({ day }) {
  const { format } = useSeason();
  const { data, error } = useResource(`/api/season/ship?day=${day}`);
  if (error) return <p role="status">{error.message}</p>;
  if (!data) return <p role="status">{t('ship.counting')}</p>;
  const rows = /** @type {Moved[]} */ (data);
  const sum = (/** @type {(r: Moved) => number} */ of) => rows.reduce((all, r) => all + of(r), 0);
  const short = rows.filter((r) => r.sold > r.quantity_then && r.sold <= r.quantity).map((r) => r.variety);
  return (
    <div role="status">
      <p>
        {t('ship.preview', {
          now: format.whole(sum((r) => r.quantity)),
          then: format.whole(sum((r) => r.quantity_then)),
        })}
      </p>
      {short.length > 0 && <p>{t('ship.too_far', { n: short.length, codes: short.slice(0, 12).join(', ') })}</p>}
      <p>{t('ship.stays')}</p>
    </div>
  );
}
