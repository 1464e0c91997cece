// SPDX-License-Identifier: MIT
// The tree of a lot's lineage: where the arrow keys go in it, what is asked for from a node, and what is said of one.

/** @typedef {import('../contract').Answers['GET /api/lineage']['nodes'][number]} Node */
/** @typedef {import('../shared/strings/text.js').Key} Key */

/** What the page is asked for from here; null where there is no file to ask. @param {Node} n */
export function askFor(n) {
  if (!n.file) return null;
  if (n.kind === 'lot' && n.code) return { lot: n.code, season: String(n.season) };
  return n.kind === 'planting' && n.row ? { row: n.row, season: String(n.season) } : null;
}

/**
 * Down and up go line by line, right to what came of it, left to what it came from; null: nowhere.
 * @param {Node[]} nodes in the order drawn
 * @param {number} at
 * @param {string} key
 * @returns {number | null}
 */
export function neighbour(nodes, at, key) {
  const here = nodes[at];
  if (!here) return null;
  const to =
    key === 'ArrowDown'
      ? at + 1
      : key === 'ArrowUp'
        ? at - 1
        : key === 'Home'
          ? 0
          : key === 'End'
            ? nodes.length - 1
            : key === 'ArrowRight'
              ? nodes.findIndex((n) => n.under === here.node)
              : key === 'ArrowLeft'
                ? nodes.findIndex((n) => n.node === here.under)
                : -1;
  return to >= 0 && to < nodes.length && to !== at ? to : null;
}

/**
 * What is said of a node beside its name: a text and its count, or its values.
 * @param {Node} n
 * @returns {[Key, number | Record<string, string>][]}
 */
export function partsOf(n) {
  /** @type {[Key, number | Record<string, string>][]} */
  const parts = [];
  if (n.was) parts.push(['lineage.was', { code: n.was }]);
  if (n.quantity !== null) parts.push([n.kind === 'lot' ? 'lineage.dug' : 'lineage.planted', n.quantity]);
  if (n.sent) parts.push(['lineage.sent', n.sent]);
  if (n.held) parts.push(['lineage.held', { why: n.held }]);
  if (!n.sure) parts.push(['lineage.unsure', {}]);
  if (!n.file) parts.push(['lineage.no_file', {}]);
  return parts;
}
