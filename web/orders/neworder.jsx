// SPDX-License-Identifier: MIT
// An order taken by phone: who, which varieties with what is left of each, what it comes to. Refused, it loses nothing.

import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { useDraft } from '../shared/net/draft.js';
import { go } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { KnownBuyers } from './buyers.jsx';
import { LanguageSelect } from './languagefield.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { NO_LINE, NO_ORDER, nextNumber, orderBody, totalOf, varietyOf, wrongLine } from './neworder.js';
import { WeekSelect } from './weekfield.jsx';

/** @typedef {import('./neworder.js').Typed} Typed */
/** @typedef {import('./neworder.js').TypedLine} TypedLine */

export function NewOrderPage() {
  const varieties = useResource('/api/varieties');
  return (
    <>
      <h1 class="page-title">{t('new.title')}</h1>
      <Loaded of={varieties}>{(data) => <NewOrder varieties={data.filter((v) => !v.retired)} />}</Loaded>
    </>
  );
}

/** @param {{varieties: import('./neworder.js').Variety[]}} props */
function NewOrder({ varieties }) {
  const { format, session } = useSeason();
  const [typed, change, drop] = useDraft('order', session.name, NO_ORDER);
  const [key] = useState(newKey);
  const [fresh, setFresh] = useState(-1);
  const [chosen, setChosen] = useState('');
  const left = leftOf(useResource('/api/availability').data);
  const series = useResource(withQuery('/api/orders', { q: 'T-' })).data;
  const number = typed.number.trim() || (series ? nextNumber(series.items.map((/** @type {any} */ o) => o.order)) : '');
  useWarning(typed !== NO_ORDER);
  /** @param {Partial<Typed>} part */
  const set = (part) => change(() => part);
  /** @param {number} at @param {Partial<TypedLine>} part */
  const setLine = (at, part) =>
    change((was) => ({ lines: was.lines.map((l, i) => (i === at ? { ...l, ...part } : l)) }));
  const save = async () => {
    const wrong = wrongLine(typed, varieties);
    if (wrong) throw new Error(t('new.line_wrong', { line: wrong.line, what: t(wrong.key, { what: wrong.what }) }));
    const [taken] = await send('POST', '/api/orders', orderBody(typed, varieties, number), { key: `${key}.${number}` });
    if (taken?.blocked) say(t('new.blocked', { order: number, what: sentence(taken.blocked) }), { loud: true });
    else say(t('new.done', { order: number, value: format.money((totalOf(typed.lines) / 100).toFixed(2)) }));
    // It came after the shares were made firm: some of it is promised, some waits.
    if (taken?.firm) say(t('new.firm', { n: taken.firm }));
    for (const waits of taken?.waits ?? []) say(waits);
    drop();
    touch();
    go(['orders', 'order', number]);
  };
  return (
    <div class="sheet new-order">
      <Form
        class="form-wide"
        save={t('new.save')}
        onSave={save}
        disabled={!number}
        onCancel={typed === NO_ORDER ? undefined : drop}
        cancel={t('new.drop')}
      >
        <div class="new-who">
          <Text name="customer" label={t('new.customer')} typed={typed} set={set} required />
          {typed.customer !== chosen && (
            <KnownBuyers
              typed={typed.customer}
              onChosen={(known) => {
                set(known);
                setChosen(known.customer ?? '');
                // What is asked next: what they want.
                /** @type {HTMLElement | null} */ (document.querySelector('.new-line input'))?.focus();
              }}
            />
          )}
          <Text name="name2" label={t('new.name2')} typed={typed} set={set} />
          <Text name="email" label={t('new.email')} typed={typed} set={set} type="email" />
          <Text name="phone" label={t('new.phone')} typed={typed} set={set} />
        </div>
        <div class="new-who">
          <Text name="street" label={t('new.street')} typed={typed} set={set} />
          <Text name="postcode" label={t('new.postcode')} typed={typed} set={set} />
          <Text name="town" label={t('new.town')} typed={typed} set={set} />
          <Text name="region" label={t('new.region')} typed={typed} set={set} />
          <Text name="country" label={t('new.country')} typed={typed} set={set} placeholder="US" />
          <Text name="zone" label={t('new.zone')} typed={typed} set={set} hint={t('new.zone.hint')} />
        </div>
        <div class="new-who">
          <Field label={t('order.tier')}>
            <select value={typed.tier} onChange={(e) => set({ tier: e.currentTarget.value })}>
              {
                /** @satisfies {import('../contract').Some<'tiers'>} */ (['retail', 'wholesale']).map((tier) => (
                  <option key={tier} value={tier}>
                    {word('tier', tier)}
                  </option>
                ))
              }
            </select>
          </Field>
          <Field label={t('new.language')}>
            <LanguageSelect value={typed.language ?? ''} onLanguage={(language) => set({ language })} />
          </Field>
          <Field label={t('new.week')}>
            <WeekSelect value={typed.week} onWeek={(week) => set({ week })} none={t('order.no_wish')} />
          </Field>
          <Field label={t('new.number')}>
            <input
              maxLength={32}
              value={typed.number}
              placeholder={number}
              onInput={(e) => set({ number: e.currentTarget.value })}
            />
          </Field>
        </div>
        <fieldset class="new-lines">
          <legend>{t('new.lines')}</legend>
          <datalist id="new-codes">
            {varieties.map((v) => (
              <option key={v.code} value={v.code}>
                {v.name}
              </option>
            ))}
          </datalist>
          {typed.lines.map((l, i) => (
            <Line
              key={i}
              at={i}
              focus={i === fresh}
              line={l}
              varieties={varieties}
              left={left}
              onLine={(part) => setLine(i, part)}
              onDrop={
                typed.lines.length > 1
                  ? () => change((was) => ({ lines: was.lines.filter((_, j) => j !== i) }))
                  : undefined
              }
            />
          ))}
          <button
            type="button"
            class="new-more"
            onClick={() => (setFresh(typed.lines.length), change((was) => ({ lines: [...was.lines, NO_LINE] })))}
          >
            {t('new.more')}
          </button>
        </fieldset>
        <div class="new-who">
          <Field label={t('new.consent')}>
            <select value={typed.consent} onChange={(e) => set({ consent: e.currentTarget.value })}>
              {
                /** @satisfies {import('../contract').Some<'consents'>} */ (['none', 'same', 'any', 'named']).map(
                  (c) => (
                    <option key={c} value={c}>
                      {word('consent', c)}
                    </option>
                  ),
                )
              }
            </select>
          </Field>
          {typed.consent === 'named' && (
            <Text name="named" label={t('new.named')} typed={typed} set={set} required placeholder="ABCDE FGHIJ" />
          )}
        </div>
        <p>
          {t('new.sum')} <b class="figure">{format.money((totalOf(typed.lines) / 100).toFixed(2))}</b>
        </p>
      </Form>
    </div>
  );
}

/**
 * @param {object} props
 * @param {Exclude<keyof Typed, 'lines' | 'number' | 'tier' | 'week' | 'consent' | 'language'>} props.name
 * @param {string} props.label
 * @param {Typed} props.typed
 * @param {(part: Partial<Typed>) => void} props.set
 * @param {string} [props.hint]
 * @param {boolean} [props.required]
 * @param {string} [props.placeholder]
 * @param {string} [props.pattern]
 * @param {'email'} [props.type]
 */
function Text({ name, label, typed, set, type, hint, ...rest }) {
  return (
    <Field label={label} hint={hint}>
      <input
        type={/** @type {any} */ (type ?? 'text')}
        autoComplete="off"
        maxLength={200}
        {...rest}
        value={typed[name] ?? ''}
        onInput={(e) => set({ [name]: e.currentTarget.value })}
      />
    </Field>
  );
}

/**
 * @param {object} props
 * @param {number} props.at
 * @param {boolean} props.focus it was just added: the cursor goes there
 * @param {TypedLine} props.line
 * @param {import('./neworder.js').Variety[]} props.varieties
 * @param {Map<string, number> | null} props.left
 * @param {(part: Partial<TypedLine>) => void} props.onLine
 * @param {() => void} [props.onDrop]
 */
function Line({ at, focus, line, varieties, left, onLine, onDrop }) {
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  // Before anything is painted: whoever types on at once types into the new line.
  useLayoutEffect(() => {
    if (focus) input.current?.focus();
  }, []);
  const meant = varietyOf(varieties, line.variety);
  const rest = meant && left ? (left.get(meant.code) ?? null) : undefined;
  /** @param {string} variety the price follows the catalogue until it is typed over */
  const choose = (variety) => {
    const now = varietyOf(varieties, variety);
    const own = line.price !== '' && line.price !== (meant?.price ?? '');
    onLine(own ? { variety } : { variety, price: now?.price ?? '' });
  };
  const over = typeof rest === 'number' && Number(line.quantity) > rest;
  return (
    <div class="new-line" role="group" aria-label={t('new.line', { line: at + 1 })}>
      <Field label={t('new.variety')}>
        <input
          ref={input}
          list="new-codes"
          required
          autoComplete="off"
          value={line.variety}
          onInput={(e) => choose(e.currentTarget.value)}
        />
      </Field>
      <Field label={t('action.quantity')}>
        <input
          type="number"
          min={1}
          required
          value={line.quantity}
          aria-invalid={over}
          onInput={(e) => onLine({ quantity: e.currentTarget.value })}
        />
      </Field>
      <Field label={t('new.price')}>
        <input
          inputMode="decimal"
          autoComplete="off"
          value={line.price}
          onInput={(e) => onLine({ price: e.currentTarget.value })}
        />
      </Field>
      <p class={`new-left ${over || rest === null ? 'new-over' : 'quiet'}`} aria-live="polite">
        {meant ? meant.name : ''}
        {rest === null ? ` · ${t('new.not_offered')}` : rest !== undefined ? ` · ${t('new.left', { n: rest })}` : ''}
      </p>
      {onDrop && (
        <button type="button" class="link-button" aria-label={t('new.out.of', { line: at + 1 })} onClick={onDrop}>
          {t('new.out')}
        </button>
      )}
    </div>
  );
}

/** @param {any[] | undefined} rows */
function leftOf(rows) {
  return rows ? new Map(rows.map((r) => [r.variety, r.left])) : null;
}

/** Closing or reloading the tab asks first. @param {boolean} begun */
function useWarning(begun) {
  useEffect(() => {
    if (!begun) return undefined;
    /** @param {BeforeUnloadEvent} e */
    const ask = (e) => e.preventDefault();
    window.addEventListener('beforeunload', ask);
    return () => window.removeEventListener('beforeunload', ask);
  }, [begun]);
}
