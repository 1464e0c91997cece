// SPDX-License-Identifier: MIT
// One's own second factor: set up with a telephone's app, turned on by its first code, turned off by a code. The secret and the
// recovery codes are shown once and live in this component only.

import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { send } from '../net/api.js';
import { Field, Form, Loaded, say } from '../dialog.jsx';
import { OwnPassword, proven } from './password.jsx';
import { useSeason } from '../season.jsx';
import { t } from '../strings/text.js';
import { useResource } from '../net/use.js';

/** @typedef {{secret: string, uri: string, qr: {side: number, path: string}}} Begun */
/** @typedef {{person: boolean, on: boolean, since: string | null, left: number}} Factor */

const FEW = 3;

/** @param {{value: string, hint: string, onInput: (value: string) => void, focus?: boolean}} props */
export function CodeField({ value, hint, onInput, focus }) {
  const field = useRef(/** @type {HTMLInputElement | null} */ (null));
  useLayoutEffect(() => {
    if (focus) field.current?.focus();
  }, [focus]);
  return (
    <Field label={t('factor.code')} hint={hint}>
      <input
        ref={field}
        required
        autoComplete="one-time-code"
        autoCapitalize="characters"
        spellcheck={false}
        maxLength={40}
        value={value}
        onInput={(e) => onInput(e.currentTarget.value)}
      />
    </Field>
  );
}

export function SecondFactor() {
  const factor = useResource('/api/factor');
  const [begun, setBegun] = useState(/** @type {Begun | null} */ (null));
  const [codes, setCodes] = useState(/** @type {string[] | null} */ (null));
  if (codes) return <Recovery codes={codes} onDone={() => setCodes(null)} />;
  if (begun)
    return (
      <TurnOn
        begun={begun}
        onCancel={() => setBegun(null)}
        onDone={(list) => {
          setBegun(null);
          setCodes(list);
          factor.reload();
        }}
      />
    );
  return (
    <Loaded of={factor}>
      {(/** @type {Factor} */ f) =>
        f.on ? (
          <TurnOff factor={f} onDone={factor.reload} />
        ) : (
          <>
            <p>{t('factor.about')}</p>
            <Form save={t('factor.begin')} onSave={async () => setBegun(await send('POST', '/api/factor'))}>
              {null}
            </Form>
          </>
        )
      }
    </Loaded>
  );
}

/** @param {{begun: Begun, onDone: (codes: string[]) => void, onCancel: () => void}} props */
function TurnOn({ begun, onDone, onCancel }) {
  const [code, setCode] = useState('');
  const [current, setCurrent] = useState('');
  const first = useRef(/** @type {HTMLParagraphElement | null} */ (null));
  useLayoutEffect(() => first.current?.focus(), []);
  const { side, path } = begun.qr;
  return (
    <>
      <p ref={first} tabIndex={-1}>
        {t('factor.scan')}
      </p>
      <svg
        class="qr"
        viewBox={`0 0 ${side} ${side}`}
        role="img"
        aria-label={t('factor.qr')}
        shape-rendering="crispEdges"
      >
        <rect width={side} height={side} fill="#fff" />
        <path d={path} fill="#000" />
      </svg>
      <p>
        {t('factor.or_type')} <code class="secret">{begun.secret.replace(/(.{4})(?=.)/g, '$1 ')}</code>
      </p>
      <Form
        save={t('factor.turn_on')}
        onCancel={onCancel}
        onSave={async () => {
          const answer = await send('POST', '/api/factor/on', proven({ code }, current));
          onDone(answer.recovery);
        }}
      >
        <CodeField value={code} hint={t('factor.first_code')} onInput={setCode} />
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </>
  );
}

/** @param {{codes: string[], onDone: () => void}} props */
function Recovery({ codes, onDone }) {
  const first = useRef(/** @type {HTMLParagraphElement | null} */ (null));
  useLayoutEffect(() => first.current?.focus(), []);
  return (
    <>
      <p class="note" ref={first} tabIndex={-1}>
        {t('factor.codes')}
      </p>
      <ol class="recovery" aria-label={t('factor.codes.label')}>
        {codes.map((code) => (
          <li key={code}>
            <code class="secret">{code}</code>
          </li>
        ))}
      </ol>
      <div class="form-actions">
        <button type="button" class="main-button" onClick={onDone}>
          {t('factor.codes.done')}
        </button>
      </div>
    </>
  );
}

/** @param {{factor: Factor, onDone: () => void}} props */
function TurnOff({ factor, onDone }) {
  const { format } = useSeason();
  const [code, setCode] = useState('');
  const [current, setCurrent] = useState('');
  return (
    <>
      <p>
        {t('factor.on', { since: factor.since ? format.instant(factor.since) : '' })}{' '}
        {t('factor.left', { n: factor.left })} {factor.left < FEW && <b>{t('factor.few')}</b>}
      </p>
      <Form
        save={t('factor.turn_off')}
        onSave={async () => {
          await send('POST', '/api/factor/off', proven({ code }, current));
          say(t('factor.is_off'));
          onDone();
        }}
      >
        <CodeField value={code} hint={t('factor.code_hint')} onInput={setCode} />
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </>
  );
}
