// SPDX-License-Identifier: MIT
// What a lot came from and what came of it over the years, as a tree and as a table, and everybody who received of it in one list.

import { useRef } from 'preact/hooks';
import { PlainTable } from '../shared/grid/plain.jsx';
import { go, hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { askFor, neighbour, partsOf } from './lineage.js';

/** @typedef {import('../contract').Answers['GET /api/lineage']} Lineage */
/** @typedef {Lineage['nodes'][number]} Node */

/** @param {{data: Lineage}} props */
export function LineageSheet({ data }) {
  return (
    <>
      <p class="quiet">
        {data.files.length > 1
          ? t('lineage.files', { files: data.files.map((f) => `${f.file} (${f.season})`).join(', ') })
          : t('lineage.alone')}
      </p>
      <div class="two">
        <section class="sheet">
          <h2>{t('lineage.tree')}</h2>
          <Tree nodes={data.nodes} />
        </section>
        <section class="sheet">
          <h2>{t('lineage.table')}</h2>
          <NodeTable nodes={data.nodes} />
        </section>
      </div>
      <section class="sheet">
        <h2>{t('lineage.buyers')}</h2>
        <Buyers rows={data.buyers} />
      </section>
    </>
  );
}

/** What a node is, in a few words. @param {Node} n */
function nameOf(n) {
  if (n.kind === 'lot') return t('lineage.lot', { lot: n.code ?? '' });
  if (n.kind === 'variety') return t('lineage.variety');
  return n.row ? t('lineage.planting', { row: n.row }) : t('lineage.planting_plain');
}

/** All of it: arrow keys go through it, Enter follows what is chosen. @param {{nodes: Node[]}} props */
function Tree({ nodes }) {
  const tree = useRef(/** @type {HTMLUListElement | null} */ (null));
  const first = nodes.findIndex((n) => n.way === 'asked');
  /** @param {KeyboardEvent} e */
  const move = (e) => {
    const items = [...(tree.current?.querySelectorAll('[role=treeitem]') ?? [])];
    const at = items.findIndex((i) => i === document.activeElement);
    const node = nodes[at];
    if (!node) return;
    const to = neighbour(nodes, at, e.key);
    const values = e.key === 'Enter' ? askFor(node) : null;
    if (to === null && !values) return;
    e.preventDefault();
    if (values) return go(['orders', 'trace'], values);
    items.forEach((i, k) => i.setAttribute('tabindex', k === to ? '0' : '-1'));
    /** @type {HTMLElement | undefined} */ (items[to ?? 0])?.focus();
  };
  /** @param {number | null} under @param {number} level */
  const below = (under, level) =>
    nodes
      .filter((n) => n.under === under)
      .map((n) => (
        <li
          key={n.node}
          role="treeitem"
          aria-level={level}
          aria-current={n.way === 'asked' ? 'true' : undefined}
          tabIndex={n === nodes[first] ? 0 : -1}
          class={`kin ${n.way === 'asked' ? 'kin-asked' : ''} ${n.sure ? '' : 'kin-unsure'}`}
        >
          <div class="kin-text">
            <NodeText node={n} />
          </div>
          {nodes.some((k) => k.under === n.node) && <ul role="group">{below(n.node, level + 1)}</ul>}
        </li>
      ));
  return (
    <ul role="tree" aria-label={t('lineage.tree')} class="lineage" ref={tree} onKeyDown={move}>
      {below(null, 1)}
    </ul>
  );
}

/** @param {{node: Node}} props */
function NodeText({ node }) {
  const { format } = useSeason();
  const values = askFor(node);
  const name = nameOf(node);
  return (
    <>
      <span class="figure">{String(node.season)}</span>{' '}
      {values && node.way !== 'asked' ? (
        <a href={hashOf(['orders', 'trace'], values)} tabIndex={-1}>
          {name}
        </a>
      ) : (
        <b>{name}</b>
      )}
      {', '}
      {node.variety} {node.name}
      {partsOf(node).map(([key, value]) => (
        <span key={key} class="quiet">
          {' · '}
          {t(key, typeof value === 'number' ? { n: value, day: format.day(node.day ?? '') } : value)}
        </span>
      ))}
    </>
  );
}

/** @param {{nodes: Node[]}} props */
function NodeTable({ nodes }) {
  const { format } = useSeason();
  return (
    <PlainTable label={t('lineage.table')}>
      <thead>
        <tr>
          <th scope="col">{t('lineage.season')}</th>
          <th scope="col">{t('lineage.what')}</th>
          <th scope="col">{t('field.variety')}</th>
          <th scope="col">{t('lineage.row')}</th>
          <th scope="col">{t('lineage.day')}</th>
          <th scope="col" class="right">
            {t('lineage.quantity')}
          </th>
          <th scope="col" class="right">
            {t('lineage.gone')}
          </th>
          <th scope="col">{t('lineage.recorded')}</th>
        </tr>
      </thead>
      <tbody>
        {nodes.map((n) => (
          <tr key={n.node}>
            <td>{String(n.season)}</td>
            <td>{nameOf(n)}</td>
            <td>{n.variety}</td>
            <td>{n.row ?? '–'}</td>
            <td>{n.day ? format.day(n.day) : '–'}</td>
            <td class="right">{n.quantity === null ? '–' : format.whole(n.quantity)}</td>
            <td class="right">{n.sent === null ? '–' : format.whole(n.sent)}</td>
            <td>{n.sure ? t('choice.yes') : t('choice.no')}</td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}

/** @param {{rows: Lineage['buyers']}} props */
function Buyers({ rows }) {
  const { format } = useSeason();
  const { found, field } = useSearch(
    rows,
    (r) => [r.season, r.lot, r.variety, r.order, r.customer, r.email, r.postcode, r.country],
    t('trace.filter'),
  );
  if (rows.length === 0) return <p class="quiet">{t('lineage.nobody')}</p>;
  return (
    <>
      {field}
      {rows.some((r) => !r.notice) && <p class="note">{t('lineage.how')}</p>}
      <PlainTable label={t('lineage.buyers')} class="many">
        <thead>
          <tr>
            <th scope="col">{t('lineage.season')}</th>
            <th scope="col">{t('lot.lot')}</th>
            <th scope="col">{t('field.variety')}</th>
            <th scope="col">{t('order.order')}</th>
            <th scope="col">{t('lineage.buyer')}</th>
            <th scope="col">{t('lineage.left_on')}</th>
            <th scope="col" class="right">
              {t('field.quantity')}
            </th>
            <th scope="col">{t('lineage.notice')}</th>
            <th scope="col">{t('lineage.recorded')}</th>
          </tr>
        </thead>
        <tbody>
          {found.map((r, i) => (
            <tr key={i}>
              <td>{String(r.season)}</td>
              <td>{r.lot}</td>
              <td>{r.variety}</td>
              <td>{r.order}</td>
              <td>{[r.customer, r.email, r.postcode, r.country].filter(Boolean).join(', ') || '–'}</td>
              <td>{r.shipped_on ? format.day(r.shipped_on) : word('state', r.state)}</td>
              <td class="right">{format.whole(r.quantity)}</td>
              <td>{r.notice ? word('state', r.notice) : t('lineage.no_notice')}</td>
              <td>{r.sure ? t('choice.yes') : t('choice.no')}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </>
  );
}
