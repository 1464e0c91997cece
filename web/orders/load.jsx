// SPDX-License-Identifier: MIT
// CSV files in: dropped or chosen, looked through first, then taken whole or not at all.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Wrong, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { useSeason } from '../shared/season.jsx';
import { wasGivenUp } from '../shared/net/task.js';
import { t, word } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { Work } from '../shared/net/work.jsx';

/** @typedef {{name: string, text: string}} Dropped */

/** The server takes no more in one call. */
const MOST_BYTES = 32 * 1024 * 1024;

export function LoadPage() {
  const { format } = useSeason();
  const [files, setFiles] = useState(/** @type {Dropped[]} */ ([]));
  const [preview, setPreview] = useState(/** @type {import('../contract').Answers['POST /api/load'] | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const [busy, setBusy] = useState(false);
  const [ignoreExtra, setIgnoreExtra] = useState(false);
  const [over, setOver] = useState(false);

  /** @param {Dropped[]} list @param {boolean} dryRun @param {boolean} extra */
  const run = async (list, dryRun, extra) => {
    setBusy(true);
    setError(null);
    try {
      const answer = await send('POST', '/api/load', { files: list, dry_run: dryRun, ignore_extra: extra }, { key: newKey() });
      setPreview(answer);
      if (!dryRun) {
        say(t('load.done'));
        setFiles([]);
        touch();
      }
    } catch (e) {
      if (wasGivenUp(e)) {
        say(t('work.given_up'));
        return;
      }
      setPreview(null);
      setError(e instanceof Error ? e : new Error(String(e)));
    } finally {
      setBusy(false);
    }
  };
  /** @param {{files: FileList | null} | null | undefined} from */
  const take = async (from) => {
    const list = [...(from?.files ?? [])];
    // The same file, mended, may be chosen again.
    if (from instanceof HTMLInputElement) from.value = '';
    if (list.length === 0) return;
    if (list.reduce((sum, f) => sum + f.size, 0) > MOST_BYTES) {
      setError(new Error(t('load.too_large')));
      return;
    }
    const read = await Promise.all(list.map(async (f) => ({ name: f.name, text: await f.text() })));
    // A spreadsheet's own file or a picture, not text.
    const other = read.find((f) => /[\0\uFFFD]/.test(f.text));
    if (other) {
      setPreview(null);
      setError(new Error(t('load.not_text', { name: other.name })));
      return;
    }
    setFiles(read);
    await run(read, true, ignoreExtra);
  };
  return (
    <>
      <h1 class="page-title">{t('load.title')}</h1>
      <label
        class={`drop ${over ? 'drop-over' : ''}`}
        onDragOver={(e) => (e.preventDefault(), setOver(true))}
        onDragLeave={() => setOver(false)}
        onDrop={(e) => {
          e.preventDefault();
          setOver(false);
          void take(e.dataTransfer);
        }}
      >
        <span>{t('load.drop')}</span>
        <input type="file" multiple accept=".csv,text/csv" onChange={(e) => void take(e.currentTarget)} />
        <span class="quiet">{t('load.kinds')}</span>
      </label>
      <label class="check">
        <input
          type="checkbox"
          checked={ignoreExtra}
          onChange={(e) => {
            setIgnoreExtra(e.currentTarget.checked);
            if (files.length > 0) void run(files, true, e.currentTarget.checked);
          }}
        />{' '}
        {t('load.ignore_extra')}
      </label>
      {busy && (
        <>
          <p class="loading">{t('load.busy')}</p>
          <Work />
        </>
      )}
      <Wrong error={error} />
      {preview && (
        <section class="sheet" role="status">
          <h2>{preview.committed ? t('load.taken') : t('load.preview')}</h2>
          <PlainTable label={preview.committed ? t('load.taken') : t('load.preview')}>
            <thead>
              <tr>
                <th scope="col">{t('load.file')}</th>
                <th scope="col">{t('load.kind')}</th>
                {['rows', 'new', 'changed', 'unchanged'].map((c) => (
                  <th key={c} scope="col" class="right">
                    {word('load', c)}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {preview.files.map((/** @type {any} */ f) => (
                <tr key={f.file}>
                  <td>
                    {f.file} {f.note && <span class="quiet">{f.note}</span>}
                  </td>
                  <td>{word('kind', f.kind)}</td>
                  {['rows', 'new', 'changed', 'unchanged'].map((c) => (
                    <td key={c} class="right">
                      {format.whole(f[c])}
                    </td>
                  ))}
                </tr>
              ))}
            </tbody>
          </PlainTable>
          {!preview.committed && (
            <div class="form-actions">
              <button type="button" class="main-button" disabled={busy} onClick={() => run(files, false, ignoreExtra)}>
                {t('load.commit', { n: files.length })}
              </button>
              <button
                type="button"
                onClick={() => {
                  setFiles([]);
                  setPreview(null);
                }}
              >
                {t('action.cancel')}
              </button>
            </div>
          )}
        </section>
      )}
    </>
  );
}
