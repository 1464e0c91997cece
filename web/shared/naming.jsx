// SPDX-License-Identifier: MIT
// A wrong name put right: what it would reach is shown before anything is changed.

import { useState } from 'preact/hooks';
import { newKey, send } from './net/api.js';
import { touch } from './net/use.js';
import { Dialog, Field, Form, say } from './dialog.jsx';
import { PlainTable } from './grid/plain.jsx';
import { t } from './strings/text.js';
import { useSeason } from './season.jsx';

/** @typedef {{part: string, quantity: number, note: string | null}} Reach */

/**
 * @param {object} props
 * @param {string} props.path where the name is changed
 * @param {string} props.title
 * @param {string} props.label of the new name
 * @param {string} props.about
 * @param {() => void} props.onClose
 * @param {(to: string) => void} props.onDone
 */
export function NamingDialog({ path, title, label, about, onClose, onDone }) {
  const { format } = useSeason();
  const [to, setTo] = useState('');
  const [why, setWhy] = useState('');
  const [seen, setSeen] = useState(/** @type {{to: string, rows: Reach[]} | null} */ (null));
  const name = to.trim();
  const looked = seen?.to === name;
  const save = async () => {
    const body = { to: name, why: why.trim(), commit: looked };
    const rows = /** @type {Reach[]} */ (await send('POST', path, body, { key: newKey() }));
    if (!looked) {
      setSeen({ to: name, rows });
      return;
    }
    touch();
    say(t('naming.done', { name }));
    onDone(name);
    onClose();
  };
  return (
    <Dialog title={title} onClose={onClose}>
      <Form save={looked ? t('naming.do') : t('naming.look')} onCancel={onClose} onSave={save}>
        <p>{about}</p>
        <Field label={label}>
          <input class="code" required maxLength={32} value={to} onInput={(e) => setTo(e.currentTarget.value)} />
        </Field>
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
        {looked && (
          <PlainTable label={title}>
            <tbody>
              {seen.rows.map((r) => (
                <tr key={r.part}>
                  <th scope="row">{r.part}</th>
                  <td class="number">{format.whole(r.quantity)}</td>
                  <td>{r.note}</td>
                </tr>
              ))}
            </tbody>
          </PlainTable>
        )}
      </Form>
    </Dialog>
  );
}
