// SPDX-License-Identifier: MIT
// Runs one browser test file; when it fails it is run once more, told loudly: node run.mjs FILE NOTE. A true fault fails twice. What passed
// only then is a fault all the same, of the test or of the page: its name goes into NOTE, which scripts/test shows at its end.

import { spawnSync } from 'node:child_process';
import { appendFileSync } from 'node:fs';
import { basename } from 'node:path';

const [file, note] = process.argv.slice(2);
if (!file || !note) throw new Error('node run.mjs FILE NOTE');

/** Its output as it comes. */
function passes() {
  const { status, error } = spawnSync(process.execPath, ['--test', String(file)], { stdio: 'inherit' });
  if (error) throw error;
  return status === 0;
}

if (!passes()) {
  const name = basename(file).replace(/\.test\.mjs$/, '');
  console.log(`\n${'='.repeat(100)}\n${name} FAILED (above). It is run once more.\n${'='.repeat(100)}\n`);
  if (!passes()) process.exit(1);
  console.log(`\nneeded a second run: ${name}`);
  appendFileSync(note, `${name}\n`);
}
