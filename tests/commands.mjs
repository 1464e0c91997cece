// SPDX-License-Identifier: MIT
// The README's commands one after the other: after the demo, which builds no tests, a build makes them, and ctest finds them. The real
// scripts and the real cmake, in a folder whose sources are links; only what compiles is played, and what sets up and runs.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { chmodSync, mkdtempSync, mkdirSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, test } from 'node:test';
import { fileURLToPath } from 'node:url';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const place = mkdtempSync(join(tmpdir(), 'cw-commands-'));
after(() => rmSync(place, { recursive: true, force: true }));

/** @param {string} file @param {string} text */
function program(file, text) {
  writeFileSync(join(place, file), `#!/bin/sh\n${text}\n`);
  chmodSync(join(place, file), 0o755);
}

/** @param {string} command @param {string[]} words */
const say = (command, ...words) =>
  execFileSync(command, words, {
    cwd: place,
    encoding: 'utf8',
    env: { ...process.env, PATH: `${join(place, 'played')}:${process.env.PATH}` },
  });

/** How many tests ctest finds, of a label or in all. @param {string[]} words */
const found = (...words) => Number(/Total Tests: (\d+)/.exec(say('ctest', '--test-dir', 'build', '-N', ...words))?.[1]);

test('after scripts/demo, scripts/build and ctest find the tests, and the quick tier among them', () => {
  for (const what of ['CMakeLists.txt', 'README.md', 'core', 'server', 'sql', 'tests'])
    symlinkSync(join(root, what), join(place, what));
  for (const folder of ['scripts', 'played', 'web']) mkdirSync(join(place, folder));
  for (const script of ['demo', 'build', 'demo-season', 'embed-sql.cmake', 'package'])
    symlinkSync(join(root, 'scripts', script), join(place, 'scripts', script));
  program('scripts/setup', 'exit 0');
  const ninja = execFileSync('sh', ['-c', 'command -v ninja'], { encoding: 'utf8' }).trim();
  program(
    'played/ninja',
    `[ "$1 $2" = "-C build" ] || exec ${ninja} "$@"\nprintf '#!/bin/sh\\n' >build/clumpwise && chmod +x build/clumpwise`,
  );
  say('scripts/demo', '--once');
  assert.equal(found(), 0, 'the demo makes no tests');
  say('scripts/build');
  assert.ok(found() > 150, `${found()} tests`);
  assert.ok(found('-L', 'quick') > 50, `${found('-L', 'quick')} quick tests`);
  say('scripts/demo', '--once');
  say('scripts/build');
  assert.ok(found() > 150, 'and again');
});
