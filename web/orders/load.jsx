// SPDX-License-Identifier: MIT
// Files in: dropped, chosen or pasted, looked through first, then taken whole or not at all. CSV of our own goes as it
// is, several together; what another program wrote is fitted first (sheet.jsx), one after the other.

import { useMemo, useState } from 'preact/hooks';
import { Problem, newKey, send } from '../shared/net/api.js';
import { Wrong, say } from '../shared/dialog.jsx';
import { wasGivenUp } from '../shared/net/task.js';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { Work } from '../shared/net/work.jsx';
import { BroughtFiles } from './brought.jsx';
import { base64, mayBeOurs } from './fit.js';
import { AskSameName } from './samename.jsx';
import { KeptFits, SheetFit } from './sheet.jsx';
import { Taken } from './taken.jsx';

/** @typedef {{name: string, text: string}} Dropped */

/** The server takes no more in one call. */
const MOST_BYTES = 32 * 1024 * 1024;

/** Enough of a file to know by its headings whether it is one of ours. */
const HEAD_BYTES = 16 * 1024;

/** @param {File} file */
async function isOurs(file) {
  if (!mayBeOurs(file.name)) return false;
  const head = new Uint8Array(await file.slice(0, HEAD_BYTES).arrayBuffer());
  try {
    const answer = await send('POST', '/api/sheets/ours', { name: file.name, base64: base64(head) }, { key: newKey() });
    return answer.ours;
  } catch {
    return false; // what is wrong with it is said when it is looked at
  }
}

/** Is a variety among the faults that has another one's name? @param {Error | null} error */
function asksForName(error) {
  return error instanceof Problem && error.status === 409 && error.errors.some((f) => f.column === 'name');
}

export function LoadPage() {
  const [files, setFiles] = useState(/** @type {Dropped[]} */ ([]));
  const [preview, setPreview] = useState(/** @type {import('../contract').Answers['POST /api/load'] | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const [busy, setBusy] = useState(false);
  const [ignoreExtra, setIgnoreExtra] = useState(false);
  const [over, setOver] = useState(false);
  const [sameName, setSameName] = useState(/** @type {import('./samename.jsx').SameName | null} */ (null));
  const [others, setOthers] = useState(/** @type {import('./sheet.jsx').Upload[]} */ ([]));
  const [pasted, setPasted] = useState('');
  const upload = useMemo(() => others[0], [others]);

  /** @param {Dropped[]} list @param {boolean} dryRun @param {boolean} extra @param {import('./samename.jsx').SameName | null} [same] */
  const run = async (list, dryRun, extra, same = sameName) => {
    setBusy(true);
    setError(null);
    setSameName(same);
    try {
      const answer = await send(
        'POST',
        '/api/load',
        { files: list, dry_run: dryRun, ignore_extra: extra, ...(same && { same_name: same }) },
        { key: newKey() },
      );
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
    setPreview(null);
    setFiles([]);
    const ours = await Promise.all(list.map(isOurs));
    const fitted = list.filter((_, i) => !ours[i]);
    setOthers(
      await Promise.all(
        fitted.map(async (f) => ({ name: f.name, base64: base64(new Uint8Array(await f.arrayBuffer())) })),
      ),
    );
    const read = await Promise.all(
      list.filter((_, i) => ours[i]).map(async (f) => ({ name: f.name, text: await f.text() })),
    );
    if (read.length === 0) return;
    // Bytes that are no UTF-8, in a file that is one of ours otherwise.
    const broken = read.find((f) => /[\0\uFFFD]/.test(f.text));
    if (broken) {
      setError(new Error(t('load.not_text', { name: broken.name })));
      return;
    }
    setFiles(read);
    await run(read, true, ignoreExtra, null);
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
        <input
          type="file"
          multiple
          accept=".csv,.tsv,.txt,.xlsx,text/csv"
          onChange={(e) => void take(e.currentTarget)}
        />
        <span class="quiet">{t('load.kinds')}</span>
      </label>
      <details class="sheet paste">
        <summary>{t('fit.paste')}</summary>
        <form
          onSubmit={(e) => {
            e.preventDefault();
            if (!pasted.trim()) return;
            setFiles([]);
            setPreview(null);
            setOthers([{ name: t('fit.pasted_name'), text: pasted }]);
          }}
        >
          <label class="field">
            <span class="field-label">{t('fit.paste_label')}</span>
            <textarea rows={6} value={pasted} onInput={(e) => setPasted(e.currentTarget.value)} />
          </label>
          <button type="submit">{t('fit.look')}</button>
        </form>
      </details>
      {upload && <SheetFit upload={upload} onEnd={() => setOthers(others.slice(1))} />}
      <p class="spaced">
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
      </p>
      {busy && (
        <>
          <p class="loading">{t('load.busy')}</p>
          <Work />
        </>
      )}
      <Wrong error={error} />
      {asksForName(error) && files.length > 0 && (
        <AskSameName busy={busy} onAnswer={(same) => void run(files, true, ignoreExtra, same)} />
      )}
      {preview && (
        <section class="sheet" role="status">
          <h2>{preview.committed ? t('load.taken') : t('load.preview')}</h2>
          <Taken answer={preview} />
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
      <BroughtFiles />
      <KeptFits />
    </>
  );
}
