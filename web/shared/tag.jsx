// SPDX-License-Identifier: MIT
// A variety as its crate tag: the code large on manila with a punched hole, then name, form, colour in words.

import { petals } from './chart/colour.js';

/** @param {{word: string | null | undefined}} props */
export function Swatch({ word }) {
  const colours = petals(word);
  if (!word) return <span class="quiet">–</span>;
  return (
    <span class="swatch">
      {colours.length > 0 && (
        <svg viewBox="0 0 12 12" aria-hidden="true" focusable="false">
          <path d="M6 .7C9.6 2.2 10.6 6.3 6 11.3 1.4 6.3 2.4 2.2 6 .7Z" style={{ fill: colours[0] }} />
          {colours[1] && <path d="M6 .7C9.6 2.2 10.6 6.3 6 11.3Z" style={{ fill: colours[1] }} />}
        </svg>
      )}
      {word}
    </span>
  );
}

/** The code alone, for rows and sentences. @param {{code: string}} props */
export function Code({ code }) {
  return <span class="code">{code}</span>;
}

/**
 * @param {object} props
 * @param {object} props.variety
 * @param {string} [props.variety.code]
 * @param {string} [props.variety.variety]
 * @param {string | null} [props.variety.name]
 * @param {string | null} [props.variety.form]
 * @param {string | null} [props.variety.size]
 * @param {string | null} [props.variety.colour]
 * @param {string} [props.extra]
 * @param {boolean} [props.huge]
 * @param {boolean} [props.head] it is the page's heading
 */
export function CrateTag({ variety, extra, huge, head }) {
  const Name = head ? 'h1' : 'span';
  const kind = [variety.size, variety.form].filter(Boolean).join(', ');
  return (
    <div class={`tag ${huge ? 'tag-huge' : ''}`}>
      <span class="tag-hole" aria-hidden="true" />
      <Name class="tag-code">{variety.code ?? variety.variety}</Name>
      <span class="tag-words">
        <span class="tag-name">{variety.name}</span>
        <span class="tag-kind">
          {kind}
          {variety.colour && <Swatch word={variety.colour} />}
        </span>
        {extra && <span class="tag-kind">{extra}</span>}
      </span>
    </div>
  );
}
