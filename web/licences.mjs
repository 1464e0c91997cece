// SPDX-License-Identifier: MIT
// Whose code is in the page, and under what licence? The packages are those that the bundle really holds; their words come from
// the packages themselves, the page's own from the README.

import { readFile, readdir } from 'node:fs/promises';
import { join } from 'node:path';

/** The packages that a bundle was made of, by name. @param {string[]} inputs the bundle's source files */
export function packages(inputs) {
  const names = inputs
    .map((file) => /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(file)?.[1])
    .filter((name) => name !== undefined);
  return [...new Set(names)].sort();
}

/** The licence as the README's section "Licence" gives it, indented there. @param {string} readme */
export function own(readme) {
  const text = /^## Licence\n[\s\S]*?^( {4}Copyright \(c\) .*\n(?:(?: {4}.*)?\n)*)/m.exec(readme)?.[1];
  if (!text) throw new Error('README.md has no section "Licence" with a copyright line');
  return text.replace(/^ {4}/gm, '').trim();
}

/** Name, version and licence of a package, whole; a package without a licence text may not be bundled. @param {string} folder */
async function notice(folder) {
  const about = JSON.parse(await readFile(join(folder, 'package.json'), 'utf8'));
  const file = (await readdir(folder)).find((name) => /^(licen[cs]e|copying)(\.(md|txt))?$/i.test(name));
  if (!file) throw new Error(`${about.name} has no licence text: it may not be bundled`);
  return `${about.name} ${about.version} (${about.license})\n\n${(await readFile(join(folder, file), 'utf8')).trim()}`;
}

/**
 * The text of licences.txt.
 * @param {string[]} inputs the bundle's source files
 * @param {string} modules the folder node_modules
 * @param {string} readme
 */
export async function licences(inputs, modules, readme) {
  const parts = [`Clumpwise (MIT)\n\n${own(readme)}`];
  for (const name of packages(inputs)) parts.push(await notice(join(modules, name)));
  return `This page is Clumpwise, and holds what is named after it.\n\n${parts.join(`\n\n${'-'.repeat(78)}\n\n`)}\n`;
}
