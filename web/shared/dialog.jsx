// SPDX-License-Identifier: MIT
// One dialog (the browser's own element keeps the focus inside), messages that come and go, and parts that many screens use.

import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { wasGivenUp } from './net/task.js';
import { makeStore, useStore } from './net/use.js';
import { t } from './strings/text.js';
import { toldColumn } from './strings/told.js';
import { Work } from './net/work.jsx';

/** @typedef {import('preact').ComponentChildren} Children */
/** @typedef {{id: number, text: string, action?: {label: string, run: () => void}, loud: boolean}} Message */

const messages = makeStore(/** @type {Message[]} */ ([]));
let counter = 0;

/**
 * Says something in passing. What went wrong stays until it is closed.
 * @param {string} text
 * @param {{action?: {label: string, run: () => void}, loud?: boolean}} [more]
 */
export function say(text, more = {}) {
  const message = { id: ++counter, text, action: more.action, loud: more.loud ?? false };
  messages.set([...messages.get().slice(-2), message]);
  if (!message.loud) setTimeout(() => unsay(message.id), message.action ? 12000 : 6000);
}

/** @param {unknown} error */
export function sayError(error) {
  if (wasGivenUp(error)) {
    say(t('work.given_up'));
    return;
  }
  say(error instanceof Error ? error.message : String(error), { loud: true });
}

/**
 * One act at a time, and what went wrong is said. Its buttons show with aria-disabled that they wait: disabled ones lose the focus.
 * @returns {[boolean, (act: () => Promise<void>) => Promise<void>]}
 */
export function useBusy() {
  const [busy, setBusy] = useState(false);
  const begun = useRef(false);
  /** @param {() => Promise<void>} act */
  const run = async (act) => {
    if (begun.current) return;
    begun.current = true;
    setBusy(true);
    try {
      await act();
    } catch (e) {
      sayError(e);
    } finally {
      begun.current = false;
      setBusy(false);
    }
  };
  return [busy, run];
}

/** @param {number} id */
function unsay(id) {
  messages.set(messages.get().filter((m) => m.id !== id));
}

/** What was said to one person is not for the next. */
export function unsayAll() {
  messages.set([]);
}

export function Messages() {
  const list = useStore(messages);
  return (
    <div class="messages" role="status" aria-live="polite">
      {list.map((m) => (
        <div key={m.id} class={`message ${m.loud ? 'message-loud' : ''}`}>
          <span>{m.text}</span>
          {m.action && (
            <button type="button" class="quiet-button" onClick={() => (m.action?.run(), unsay(m.id))}>
              {m.action.label}
            </button>
          )}
          <button type="button" class="quiet-button" aria-label={t('action.close')} onClick={() => unsay(m.id)}>
            ×
          </button>
        </div>
      ))}
    </div>
  );
}

/**
 * Escape closes it; once something was typed into its form, only at the second press.
 * @param {object} props
 * @param {string} props.title
 * @param {() => void} props.onClose
 * @param {Children} props.children
 * @param {boolean} [props.wide]
 */
export function Dialog({ title, onClose, children, wide }) {
  const element = useRef(/** @type {HTMLDialogElement | null} */ (null));
  const typed = useRef(false);
  const [warned, setWarned] = useState(false);
  /** @param {Event} event */
  const cancel = (event) => {
    event.preventDefault();
    // What can't be prevented closes by itself: a browser lets a page hold a dialog only once.
    if (typed.current && !warned && event.cancelable) setWarned(true);
    else onClose();
  };
  /** @param {Event} event */
  const input = (event) => {
    typed.current ||= event.target instanceof Element && event.target.closest('form') !== null;
    setWarned(false);
  };
  // Before anything is painted: the next key is for the dialog.
  useLayoutEffect(() => {
    const before = document.activeElement;
    element.current?.showModal();
    // The first field, not the button that closes: who opens a form is about to type.
    const first = element.current?.querySelector('form :is(input, select, textarea):not([type=hidden]):not(:disabled)');
    if (first instanceof HTMLElement) first.focus();
    return () => {
      // As soon as it is gone: while it is there nothing beside it takes the focus.
      if (before instanceof HTMLElement) queueMicrotask(() => before.focus());
    };
  }, []);
  return (
    <dialog
      ref={element}
      class={`dialog ${wide ? 'dialog-wide' : ''}`}
      aria-label={title}
      onCancel={cancel}
      onInput={input}
    >
      <header>
        <h2>{title}</h2>
        <button type="button" class="quiet-button" aria-label={t('action.close')} onClick={onClose}>
          ×
        </button>
      </header>
      {warned && (
        <p class="wrong" role="alert">
          {t('dialog.typed')}
        </p>
      )}
      {children}
      <Work />
    </dialog>
  );
}

/**
 * A form whose failed save loses nothing: the error stands beside the button, the fields keep what was typed.
 * @param {object} props
 * @param {() => Promise<void>} props.onSave
 * @param {string} props.save
 * @param {() => void} [props.onCancel]
 * @param {string} [props.cancel] what its button says
 * @param {boolean} [props.disabled]
 * @param {Children} props.children
 * @param {string} [props.class]
 */
export function Form({ onSave, save, onCancel, cancel, disabled, children, class: className }) {
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  /** @param {Event} event */
  const submit = async (event) => {
    event.preventDefault();
    if (busy) return;
    setBusy(true);
    setError(null);
    try {
      await onSave();
    } catch (e) {
      setError(e instanceof Error ? e : new Error(String(e)));
    } finally {
      setBusy(false);
    }
  };
  return (
    <form class={className ?? 'form'} onSubmit={submit}>
      {children}
      <Wrong error={error} />
      <div class="form-actions">
        <button type="submit" class="main-button" disabled={busy || disabled}>
          {busy ? t('action.working') : save}
        </button>
        {onCancel && (
          <button type="button" onClick={onCancel}>
            {cancel ?? t('action.cancel')}
          </button>
        )}
      </div>
    </form>
  );
}

/**
 * Something that only needs a reason, which goes on record.
 * @param {object} props
 * @param {string} props.title
 * @param {string} props.save
 * @param {string} [props.about] what will happen, in a sentence
 * @param {(why: string) => Promise<void>} props.onSave closes nothing itself
 * @param {() => void} props.onClose
 */
export function ReasonDialog({ title, save, about, onSave, onClose }) {
  const [why, setWhy] = useState('');
  return (
    <Dialog title={title} onClose={onClose}>
      <Form
        save={save}
        onCancel={onClose}
        onSave={async () => {
          await onSave(why.trim());
          onClose();
        }}
      >
        {about && <p>{about}</p>}
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** An error as a sentence, with the places it names. @param {{error: Error | null}} props */
export function Wrong({ error }) {
  if (!error) return null;
  const faults = /** @type {{errors?: import('./net/api.js').Fault[]}} */ (error).errors ?? [];
  // The message is often the first fault once more: a single one is said as the message, several as their number and the list.
  const first = faults[0];
  const same = first !== undefined && error.message.endsWith(first.detail);
  return (
    <div class="wrong" role="alert">
      <p>{same && faults.length > 1 ? t('error.faults', { n: faults.length }) : error.message}</p>
      {faults.length > (same ? 1 : 0) && (
        <ul>
          {faults.slice(0, 20).map((f, i) => (
            <li key={i}>
              {f.file !== undefined && <b>{[f.file, f.row].filter((p) => p !== undefined && p !== null).join(':')} </b>}
              {f.column !== undefined && f.column !== null && `${toldColumn(f.column)}: `}
              {f.detail}
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}

/**
 * @param {object} props
 * @param {string} props.label
 * @param {string} [props.hint]
 * @param {Children} props.children the field itself
 */
export function Field({ label, hint, children }) {
  return (
    <label class="field">
      <span class="field-label">{label}</span>
      {children}
      {hint && <span class="field-hint">{hint}</span>}
    </label>
  );
}

/**
 * What stands where a resource is not (yet) there: nothing for a moment, then a word; or what went wrong.
 * @template T
 * @param {{of: {data: T, error: Error | null, loading: boolean, reload: () => void}, children: (data: NonNullable<T>) => Children}} props
 */
export function Loaded({ of, children }) {
  if (of.data !== undefined && of.data !== null) return <>{children(of.data)}</>;
  if (of.error)
    return (
      <div class="sheet">
        <Wrong error={of.error} />
        <button type="button" onClick={of.reload}>
          {t('action.again')}
        </button>
      </div>
    );
  return (
    <p class="loading" role="status">
      {t('loading')}
    </p>
  );
}
