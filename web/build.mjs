// SPDX-License-Identifier: MIT
// Builds the page into dist/: one script, the texts of each language, one style sheet, the page, the worker with its list of files,
// and licences.txt, which says whose code that is; each also as .gz.

import { build } from 'esbuild';
import { createHash } from 'node:crypto';
import { mkdir, readFile, readdir, rm, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { readPages } from './help/parse.js';
import { licences } from './licences.mjs';
import english from './shared/strings/en.js';
import { LANGUAGES } from './shared/strings/languages.js';

const here = dirname(fileURLToPath(import.meta.url));
const out = join(here, 'dist');
await mkdir(join(out, 'assets'), { recursive: true });

/** A text that a language lacks is English there, and is told; web/unit fails until it is written. @type {import('esbuild').Plugin} */
const filled = {
  name: 'filled',
  setup(build) {
    build.onLoad({ filter: /\/strings\/(de|fr|nl)\.js$/ }, async ({ path }) => {
      const { default: own, SENTENCES } = await import(path);
      const lacking = Object.keys(english).filter((key) => !(key in own));
      if (lacking.length > 0) console.log(`${path.slice(-5, -3)} lacks ${lacking.length} texts: ${lacking.join(' ')}`);
      const said = `export const SENTENCES = ${JSON.stringify(SENTENCES)};`;
      return { contents: `${said}export default ${JSON.stringify({ ...english, ...own })}` };
    });
    // One language's sentences only: the rows have all four.
    build.onLoad({ filter: /\/strings\/\w\w\.why\.\w+\.js$/ }, async ({ path }) => {
      const { SENTENCES } = await import(path);
      return { contents: `export const SENTENCES = ${JSON.stringify(SENTENCES)};` };
    });
  },
};

/** The help, with what the README says in its place. @type {import('esbuild').Plugin} */
const help = {
  name: 'help',
  setup(build) {
    build.onLoad({ filter: /\/help\/pages(\.\w\w)?\.md$/ }, async ({ path }) => {
      const pages = readPages(await readFile(path, 'utf8'), await readFile(join(here, '..', 'README.md'), 'utf8'));
      return { contents: `export default ${JSON.stringify(pages)}`, loader: 'js' };
    });
  },
};

const bundle = await build({
  entryPoints: [join(here, 'main.jsx')],
  bundle: true,
  minify: true,
  format: 'esm',
  target: ['chrome109', 'firefox115', 'safari16.4'],
  jsx: 'automatic',
  jsxImportSource: 'preact',
  legalComments: 'none',
  outdir: join(out, 'assets'),
  entryNames: '[name]-[hash]',
  chunkNames: '[name]-[hash]',
  splitting: true,
  plugins: [filled, help],
  write: false,
  metafile: true,
});

/** @type {{name: string, data: Buffer}[]} */
const assets = bundle.outputFiles.map((f) => ({
  name: `/assets/${f.path.split('/').pop()}`,
  data: Buffer.from(f.contents),
}));

/** @param {string} file @param {string} ending */
async function hashed(file, ending) {
  const data = await readFile(join(here, file));
  const name = `/assets/${file.split('.')[0]}-${digest(data)}${ending}`;
  assets.push({ name, data });
  return name;
}

/** @param {Buffer | string} data */
function digest(data) {
  return createHash('sha256').update(data).digest('hex').slice(0, 8);
}

const named = {
  script: assets.find((a) => /^\/assets\/main-.*\.js$/.test(a.name))?.name ?? '',
  style: assets.find((a) => a.name.endsWith('.css'))?.name ?? '',
  icon: await hashed('icon.svg', '.svg'),
  manifest: await hashed('manifest.json', '.json'),
};
let page = await readFile(join(here, 'index.html'), 'utf8');
for (const [name, value] of Object.entries(named)) page = page.replaceAll(`{{${name}}}`, value);
const files = ['/', ...assets.map((a) => a.name)];
const worker = (await readFile(join(here, 'worker.js'), 'utf8'))
  .replace("/*version*/ 'dev'", JSON.stringify(digest(page + files.join())))
  .replace("/*files*/ ['/']", JSON.stringify(files));
const notices = await licences(
  Object.keys(bundle.metafile.inputs),
  join(here, 'node_modules'),
  await readFile(join(here, '..', 'README.md'), 'utf8'),
);
const plain = [
  { name: '/index.html', data: Buffer.from(page) },
  { name: '/worker.js', data: Buffer.from(worker) },
  { name: '/licences.txt', data: Buffer.from(notices) },
];

// The folders stay and stale files go last, so that a running server never finds the page half there.
const fresh = new Set();
for (const { name, data } of [...assets, ...plain]) {
  await writeFile(join(out, name), data);
  await writeFile(join(out, `${name}.gz`), gzipSync(data, { level: 9 }));
  fresh.add(join(out, name)).add(join(out, `${name}.gz`));
}
for (const folder of [out, join(out, 'assets')]) {
  for (const entry of await readdir(folder, { withFileTypes: true })) {
    const file = join(folder, entry.name);
    if (entry.isFile() && !fresh.has(file)) await rm(file);
  }
}

// What is fetched to open a desk may weigh this much together, compressed: script and style, the largest of the desks, the texts of one
// language, the longest, and what the server says at that desk in it. The help is fetched when it is asked for.
const LIMIT_KB = 140;
let weight = 0;
let helped = 0;
/** @type {number[]} */
const desks = [];
/** @type {number[]} */
const whys = [];
/** @type {[string, number][]} */
const languages = [];
for (const file of await readdir(join(out, 'assets'))) {
  if (!/\.(js|css)\.gz$/.test(file)) continue;
  const size = (await readFile(join(out, 'assets', file))).length;
  const of = file.split('-')[0] ?? '';
  if (of in LANGUAGES) languages.push([of, size]);
  else if (of.includes('.why.')) whys.push(size);
  else if (of.startsWith('pages')) helped = Math.max(helped, size);
  else if (of === 'desk') desks.push(size);
  else weight += size;
}
weight += Math.max(...languages.map(([, size]) => size)) + Math.max(...desks) + Math.max(...whys);
const each = languages.map(([of, size]) => `${of} ${(size / 1000).toFixed(1)}`).join(', ');
console.log(
  `web/dist: script, style, one desk and one language ${(weight / 1000).toFixed(1)} kB compressed (limit ${LIMIT_KB}); ` +
    `${each}; help ${(helped / 1000).toFixed(1)}`,
);
if (weight > LIMIT_KB * 1000) process.exit(1);
