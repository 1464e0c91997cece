// SPDX-License-Identifier: MIT
// The help's own small text: "# Title {screen}", paragraphs, "- " lists, **strong**, `code`. "{{README: beginning}}" stands
// for what the README says there, so that a fact is written once.

/** @typedef {{list: boolean, lines: string[]}} Block */
/** screen: a desk and a step, or a word @typedef {{screen: string, title: string, blocks: Block[]}} Page */

/** The paragraph that begins so, or what stands below a heading. @param {string} readme @param {string} start */
function ofReadme(readme, start) {
  const from = readme.indexOf(`\n${start}`);
  if (from < 0) throw new Error(`the README has nothing that begins “${start}”`);
  const rest = readme.slice(from + 1);
  if (!start.startsWith('#')) return rest.split('\n\n')[0] ?? '';
  return rest.slice(rest.indexOf('\n') + 1).split(/\n#+ /)[0] ?? '';
}

/** @param {string} text @returns {Block[]} */
function blocksOf(text) {
  return text
    .split(/\n\s*\n/)
    .map((part) => part.trim())
    .filter(Boolean)
    .map((part) => {
      const list = part.startsWith('- ');
      const lines = list ? part.slice(2).split(/\n- /) : [part];
      return {
        list,
        lines: lines.map((line) => line.replace(/\s*\n\s*/g, ' ').replace(/\[([^\]]+)\]\([^)]+\)/g, '$1')),
      };
    });
}

/** @param {string} text @param {string} readme @returns {Page[]} */
export function readPages(text, readme) {
  const whole = text.replace(/\{\{README: ([^}]+)\}\}/g, (_, start) => ofReadme(readme, start));
  return whole
    .split(/^# /m)
    .slice(1)
    .map((part) => {
      const [head = '', ...body] = part.split('\n');
      const found = head.match(/^(.*) \{([\w/]+)\}$/);
      if (!found) throw new Error(`a page of the help is headed “Title {screen}”, not “${head}”`);
      return { title: found[1] ?? '', screen: found[2] ?? '', blocks: blocksOf(body.join('\n')) };
    });
}

/** The page of a screen: its own, else its desk's. @param {Page[]} pages @param {string} screen */
export const pageOf = (pages, screen) =>
  pages.find((p) => p.screen === screen) ?? pages.find((p) => p.screen === screen.split('/')[0]);

const DESKS = ['winter', 'orders', 'cellar'];
/** Screens of one thing: their address is none without its code. */
const OF_ONE = ['winter/variety', 'orders/order'];

/**
 * Where the reader came from, to the code; the desk, where a screen of one thing was chosen from the list of pages. Null for
 * a page about no screen.
 * @param {Page[]} pages
 * @param {string[]} steps the address that is asked about
 * @returns {{steps: string[], title: string} | null}
 */
export function backFrom(pages, steps) {
  const [desk = 'winter'] = steps;
  if (!DESKS.includes(desk)) return null;
  const whole = steps.length === 0 || (steps.length === 2 && OF_ONE.includes(steps.join('/'))) ? [desk] : steps;
  const page = pageOf(pages, whole.slice(0, 2).join('/'));
  return page ? { steps: whole, title: page.title } : null;
}

/** Those that hold every word, in their title first. @param {Page[]} pages @param {string} query */
export function search(pages, query) {
  const words = query.toLowerCase().split(/\s+/).filter(Boolean);
  const has = (/** @type {string} */ text) => words.every((w) => text.toLowerCase().includes(w));
  const all = (/** @type {Page} */ p) => `${p.title} ${p.blocks.flatMap((b) => b.lines).join(' ')}`;
  return [...pages.filter((p) => has(p.title)), ...pages.filter((p) => !has(p.title) && has(all(p)))];
}

/** "**strong** and `code`" as pieces. @param {string} line */
export function pieces(line) {
  /** @type {{as: '' | 'b' | 'code', text: string}[]} */
  const out = [];
  for (const text of line.split(/(\*\*[^*]+\*\*|`[^`]+`)/)) {
    if (text.startsWith('**')) out.push({ as: 'b', text: text.slice(2, -2) });
    else if (text.startsWith('`')) out.push({ as: 'code', text: text.slice(1, -1) });
    else if (text !== '') out.push({ as: '', text });
  }
  return out;
}
