// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { mkdtemp, mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { licences, packages } from './licences.mjs';

const here = fileURLToPath(new URL('.', import.meta.url));
const readme = await readFile(join(here, '../README.md'), 'utf8');

test('the packages are those that the bundle holds, each once', () => {
  assert.deepEqual(
    packages([
      'main.jsx',
      'node_modules/preact/src/a.js',
      'node_modules/@one/two/x.js',
      'node_modules/preact/hooks/b.js',
    ]),
    ['@one/two', 'preact'],
  );
});

test('the notices hold our licence and the whole of each package’s own', async () => {
  const text = await licences(['node_modules/preact/src/a.js'], join(here, 'node_modules'), readme);
  assert.match(text, /^Clumpwise \(MIT\)\n\nCopyright \(c\) \d{4} the Clumpwise authors$/m);
  assert.match(text, /OTHER DEALINGS IN THE SOFTWARE\.\n/);
  assert.match(text, /^preact \d+\.\d+\.\d+ \(MIT\)$/m);
  assert.ok(text.includes((await readFile(join(here, 'node_modules/preact/LICENSE'), 'utf8')).trim()));
});

test('a package without a licence text, and a README without ours, are refused by name', async () => {
  const modules = await mkdtemp(join(tmpdir(), 'clumpwise-licences-'));
  await mkdir(join(modules, 'bare'));
  await writeFile(join(modules, 'bare', 'package.json'), '{"name": "bare", "version": "1.0.0", "license": "MIT"}');
  await assert.rejects(licences(['node_modules/bare/x.js'], modules, readme), /bare has no licence text/);
  await assert.rejects(licences([], modules, '# Clumpwise\n'), /README\.md has no section/);
  await rm(modules, { recursive: true });
});
