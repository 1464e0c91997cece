// SPDX-License-Identifier: MIT
// A plain table. Where there is no room for columns (a phone), each row stands as a small sheet, every figure beside its head.

import { useLayoutEffect, useRef } from 'preact/hooks';

/**
 * @param {object} props
 * @param {string} props.label
 * @param {string} [props.class] of the table
 * @param {string} [props.frame] class of what it scrolls in
 * @param {import('preact').ComponentChildren} props.children
 */
export function PlainTable({ label, class: extra = '', frame = '', children }) {
  const table = useRef(/** @type {HTMLTableElement | null} */ (null));
  useLayoutEffect(() => {
    const heads = [...(table.current?.tHead?.rows[0]?.cells ?? [])].map((th) => (th.textContent ?? '').trim());
    for (const body of table.current?.tBodies ?? [])
      for (const row of body.rows)
        [...row.cells].forEach((cell, i) => cell.colSpan === 1 && (cell.dataset.head = heads[i] ?? ''));
  });
  return (
    <div class={`scroll-x ${frame}`} tabIndex={0} role="region" aria-label={label}>
      <table class={`plain ${extra}`} ref={table}>
        {children}
      </table>
    </div>
  );
}
