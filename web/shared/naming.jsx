// SPDX-License-Identifier: MIT
// A wrong name put right: what it would reach is shown before anything is changed.

import { useState } from 'preact/hooks';
import { newKey, send } from './net/api.js';
import { touch } from './net/use.js';
import { Dialog, Field, Form, say, sayError } from './dialog.jsx';
import { PlainTable } from './grid/plain.jsx';
import { t } from './strings/text.js';
import { useSeason } from './season.jsx';

/** @typedef {{part: string, quantity: number, note: string | null}} Reach */

/** The same call the other way round. @param {{path: string, to?: string}} undo */
async function putBack({ path, to }) {
  const body = { ...(to && { to }), why: t('naming.undone'), commit: true };
  await send('POST', path, body, { key: newKey() });
  touch();
}

/**
 * @param {object} props
 * @param {string} props.path where the name is changed
 * @param {string} props.title
 * @param {string} [props.label] of the new name; without one there is none to give
 * @param {string} props.about
 * @param {() => void} props.onClose
 * @param {(to: string) => void} props.onDone
 * @param {(to: string) => {path: string, to?: string}} [props.back] what puts it back, where there is such a thing
 * @param {() => void} [props.onBack]
 */
export function NamingDialog({ path, title, label, about, onClose, onDone, back, onBack }) {
  const [to, setTo] = useState('');
  const [why, setWhy] = useState('');
  const [seen, setSeen] = useState(/** @type {{to: string, rows: Reach[]} | null} */ (null));
  const name = to.trim();
  const looked = seen?.to === name;
  const save = async () => {
    const body = { ...(label && { to: name }), why: why.trim(), commit: looked };
    const rows = /** @type {Reach[]} */ (await send('POST', path, body, { key: newKey() }));
    if (!looked) {
      setSeen({ to: name, rows });
      return;
    }
    touch();
    const undo = back?.(name);
    say(label ? t('naming.done', { name }) : t('naming.parted'), {
      action: undo && { label: t('action.undo'), run: () => void putBack(undo).then(onBack, sayError) },
    });
    onDone(name);
    onClose();
  };
  return (
    <Dialog title={title} onClose={onClose}>
      <Form save={looked ? t('naming.do') : t('naming.look')} onCancel={onClose} onSave={save}>
        <p>{about}</p>
        {label && (
          <Field label={label}>
            <input class="code" required maxLength={32} value={to} onInput={(e) => setTo(e.currentTarget.value)} />
          </Field>
        )}
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
        {looked && <Reached label={title} rows={seen.rows} />}
      </Form>
    </Dialog>
  );
}

/** What bears the name, or rests on it. @param {{label: string, rows: Reach[]}} props */
export function Reached({ label, rows }) {
  const { format } = useSeason();
  return (
    <PlainTable label={label}>
      <tbody>
        {rows.map((r) => (
          <tr key={r.part}>
            <th scope="row">{r.part}</th>
            <td class="number">{format.whole(r.quantity)}</td>
            <td>{r.note}</td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
