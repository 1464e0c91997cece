// SPDX-License-Identifier: MIT
// Paper: every page is rendered to PDF on both usual sizes; the right words stand on it, nothing is cut, and other people's
// decoder reads every code (poppler and zbar, which share no code with the program). All names are invented.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, openPage, run, startNursery, TODAY } from './support.mjs';

const LONG = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ012345'; // the longest code there may be: 32
const HOSTILE = 'Amber <b>"Lantern"</b> & Söhne';
const VERY_LONG = 'Quillwort Moonrise Over The Long Meadow Behind The Old Pump House '.repeat(3).trim().slice(0, 180);
const FILES = {
  varieties: `code,name,form,size,colour,price\nAMB,"${HOSTILE.replaceAll('"', '""')}",ball,small,orange,6.50\nBRI,Briar Song,cactus,large,pink,8.00\n${LONG},${VERY_LONG},stellar,giant,purple,9.00\n`,
  places: `place,room,walk_order\nC1,north cellar,10\nC2,south cellar,20\n${'P' + LONG.slice(1)},north cellar,30\n`,
  lots: `lot,variety,dug_on,clumps,place,row\nL1,AMB,2031-10-20,0,C2,A7\nL2,BRI,2031-10-21,0,C1,\n${'L' + LONG.slice(1)},${LONG},2031-10-22,0,${'P' + LONG.slice(1)},Z9\n`,
  counts: `lot,counted_on,stage,count\nL1,2032-01-20,division,5\nL2,2032-01-20,division,6\n${'L' + LONG.slice(1)},2032-01-20,division,4\n`,
  zones: 'zone,first_week\nz7,2032-W16\n',
  orders:
    'order,received_at,line,variety,quantity,unit_price,tier,customer,postcode,country,zone\n' +
    '1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,retail,"Ada <script>alert(1)</script> & Co",00501,US,z7\n' +
    '1001,2032-01-05T10:00:00Z,2,BRI,1,8.00,retail,"Ada <script>alert(1)</script> & Co",00501,US,z7\n' +
    '1002,2032-01-05T11:00:00Z,1,BRI,7,8.00,retail,Bo Merrifold,00502,US,z7\n' +
    `1003,2032-01-05T12:00:00Z,1,${LONG},3,9.00,retail,Cy Tarnbeck,00503,US,z7\n`,
};
const TAGS = ['L1 C2', 'L2 C1', `L${LONG.slice(1)} P${LONG.slice(1)}`];
const SIZES = /** @type {const} */ (['A4', 'Letter']);

const folder = mkdtempSync(join(tmpdir(), 'clumpwise-print-'));

begin({
  prepare: (db) => {
    run(['allocate', db, '--rule', 'first-come', '--supply', 'counted', '--commit', '--today', TODAY]);
    run(['pick', db, '--week', '2032-W16', '--today', TODAY]);
  },
  files: FILES,
});
after(() => {
  rmSync(folder, { recursive: true, force: true });
});

/**
 * Renders a page as it would be printed. What is laid out must fit its box and its sheet.
 * @param {string} path
 * @param {'A4' | 'Letter'} format
 * @param {string} boxes selector of what must hold its content
 */
async function print(path, format, boxes) {
  const { page, errors, violations, close } = await openPage(browser);
  await page.emulateMedia({ media: 'print' });
  await page.setViewportSize(format === 'A4' ? { width: 718, height: 1047 } : { width: 740, height: 980 }); // less 10 mm on each side
  const answer = await page.goto(nursery.url + path);
  assert.equal(answer?.status(), 200);
  const cut = await page.evaluate((selector) => {
    const wide = document.documentElement.scrollWidth > document.documentElement.clientWidth ? ['the page itself'] : [];
    const all = [...document.querySelectorAll(selector)];
    if (all.length === 0) return ['nothing is there'];
    return wide.concat(
      all
        .filter((e) => e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight)
        .map((e) => e.textContent ?? ''),
    );
  }, boxes);
  assert.deepEqual(cut, [], `${path} on ${format}`);
  assert.deepEqual(await violations(), []);
  assert.deepEqual(errors, []);
  const pdf = join(folder, 'page.pdf');
  writeFileSync(
    pdf,
    await page.pdf({
      format,
      preferCSSPageSize: false,
      margin: { top: '10mm', bottom: '10mm', left: '10mm', right: '10mm' },
    }),
  );
  await close();
  return pdf;
}

/** Words by page, with one blank between them and none before a comma. @param {string} pdf */
function words(pdf) {
  return execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' })
    .split('\f')
    .filter((p) => p.trim() !== '')
    .map((p) => p.replace(/\s+/g, ' ').replaceAll(' ,', ','));
}

/**
 * All that a decoder reads, sorted. Of a whole page of codes it passes one over now and then, at one resolution and not at the next;
 * a label is scanned by itself. So it looks again, at other resolutions, while it has read fewer than are meant.
 * @param {string} pdf
 * @param {number} meant
 */
function codes(pdf, meant) {
  /** @type {string[]} */
  let most = [];
  for (const dots of [300, 350, 290]) {
    const found = look(pdf, dots);
    if (found.length > most.length) most = found;
    if (most.length >= meant) break;
  }
  return most;
}

/** @param {string} pdf @param {number} dots an inch */
function look(pdf, dots) {
  const stem = join(folder, 'sheet');
  execFileSync('pdftoppm', ['-r', String(dots), '-gray', '-png', pdf, stem]);
  const found = readdirSync(folder)
    .filter((f) => f.startsWith('sheet') && f.endsWith('.png'))
    .flatMap((f) => {
      try {
        return execFileSync(
          'zbarimg',
          ['--quiet', '--raw', '-Sdisable', '-Sqrcode.enable', '-Scode128.enable', join(folder, f)],
          { encoding: 'utf8' },
        )
          .split('\n')
          .filter(Boolean);
      } catch {
        return []; // a page without any code
      } finally {
        rmSync(join(folder, f));
      }
    });
  return found.sort();
}

for (const format of SIZES) {
  test(`crate tags on ${format}`, async () => {
    const pdf = await print('/print/tags', format, '.tag');
    const text = words(pdf).join(' ');
    for (const wanted of [
      'AMB',
      HOSTILE,
      'small, ball, orange',
      'L1',
      'A7',
      'south cellar',
      'C2',
      'BRI',
      'Briar Song',
      'L2',
      'Z9',
    ]) {
      // Word by word: how lines break, and so in which order they are read out, is the font's affair.
      for (const word of wanted.split(' ')) assert.ok(text.includes(word), `${word} of ${wanted} in ${text}`);
    }
    // A QR code on each; bars where they fit.
    const wanted = [...TAGS, 'L1 C2', 'L2 C1'];
    assert.deepEqual(codes(pdf, wanted.length), wanted.sort());
  });

  test(`division labels on ${format}`, async () => {
    const pdf = await print('/print/labels?wave=1', format, '.label');
    const text = words(pdf).join(' ');
    for (const wanted of ['AMB', 'Briar Song', 'lot L2']) assert.ok(text.includes(wanted), wanted);
    // Each says its slot and order, in walking order: C1 before C2.
    for (const wanted of ['1 1001', '2 1002', '3 1003']) assert.ok(text.includes(wanted), `${wanted} in ${text}`);
    assert.ok(text.indexOf('lot L2') < text.indexOf('lot L1'), text);
    // One for each division: of BRI there are only six.
    const wanted = [
      ...Array(2).fill('L1 AMB'),
      ...Array(6).fill('L2 BRI'),
      ...Array(3).fill(`L${LONG.slice(1)} ${LONG}`),
    ];
    assert.deepEqual(codes(pdf, wanted.length), wanted.sort());
  });

  test(`pick sheet on ${format}`, async () => {
    const pdf = await print('/print/walk?wave=1', format, 'main, table');
    const text = words(pdf).join(' ');
    for (const wanted of [
      'Wave 1, 2032-W16, printed',
      '3 stops, 4 picks, 11 divisions, 3 parcels',
      'Stop 1: north cellar C1, 6 in all',
      'Stop 2: south cellar C2, 2 in all',
      'Briar Song',
      '1001 / 2',
      '1002 / 1',
      'Take care',
      'wet floors',
      'rules of your place',
    ])
      assert.ok(text.includes(wanted), `${wanted} in ${text}`);
    assert.ok(text.indexOf('Stop 1') < text.indexOf('Stop 2'));
  });

  test(`packing slips on ${format}`, async () => {
    const pdf = await print('/print/slips?wave=1&by=slot', format, '.slip');
    const pages = words(pdf);
    assert.equal(pages.length, 3, 'a page for each parcel');
    // Each can be scanned, so that its tracking number goes to it and to no other.
    assert.deepEqual(codes(pdf, 3), ['P1', 'P2', 'P3']);
    // As the walk goes: the second slot is complete at the first stop, the first one at the second.
    const walked = words(await print('/print/slips?wave=1', format, '.slip'));
    assert.deepEqual(
      walked.map((p) => p.match(/Order (\d+)/)?.[1]),
      ['1002', '1001', '1003'],
    );
    const [ada, bo, cy] = pages;
    for (const wanted of [
      'Ada <script>alert(1)</script> & Co',
      '00501',
      'US',
      'Order 1001',
      'AMB',
      'BRI',
      'L1',
      'L2',
      '3 divisions in this parcel',
    ])
      assert.ok(ada?.includes(wanted), `${wanted} in ${ada}`);
    assert.ok(!ada?.includes('Bo Merrifold') && !/Follows|Not certain|Will not come/.test(ada ?? ''));
    assert.ok(
      bo?.includes('Bo Merrifold') &&
        bo.includes('5 divisions in this parcel') &&
        /(Follows in another parcel|Not certain yet, follows if enough becomes ready|Will not come; what you paid for it goes back to you): 2 × /.test(
          bo,
        ),
    );
    assert.ok(cy?.includes('Cy Tarnbeck') && cy.includes('3 divisions in this parcel'));
  });
}

/** The words of a PDF's first page with where they stand. @param {string} pdf */
function places(pdf) {
  const text = execFileSync('pdftotext', ['-bbox', '-l', '1', pdf, '-'], { encoding: 'utf8' });
  const [, width] = text.match(/<page width="([\d.]+)"/) ?? [];
  return {
    width: Number(width),
    words: [...text.matchAll(/<word xMin="([\d.-]+)" yMin="[\d.-]+" xMax="([\d.-]+)" yMax="[\d.-]+">([^<]*)</g)].map(
      ([, from, to, word]) => ({ from: Number(from), to: Number(to), word }),
    ),
  };
}

for (const format of SIZES) {
  test(`a variety's sheet drawn for a wide screen is whole on ${format}`, async () => {
    const { page, errors, close } = await openPage(browser);
    await page.setViewportSize({ width: 1700, height: 900 });
    await page.goto(`${nursery.url}/#/winter/variety/BRI`);
    const slider = page.getByRole('slider');
    await slider.press('End'); // the knife at the far end of its axis
    const most = await slider.getAttribute('aria-valuenow');
    const pdf = join(folder, 'sheet.pdf');
    writeFileSync(
      pdf,
      await page.pdf({ format, margin: { top: '10mm', bottom: '10mm', left: '10mm', right: '10mm' } }),
    );
    const { width, words: all } = places(pdf);
    const knife = all.findIndex((w, i) => w.word === 'offer' && all[i + 1]?.word === most);
    assert.ok(knife >= 0, all.map((w) => w.word).join(' '));
    const [offer, number] = [all[knife], all[knife + 1]];
    assert.ok(
      offer && number && offer.from > width / 2 && number.to < width - 25,
      `offer ${most} stands from ${offer?.from} to ${number?.to} of ${width}`,
    );
    assert.deepEqual(errors, []);
    await close();
  });
}

/** The lines of each page. @param {string} pdf */
function pages(pdf) {
  return execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' })
    .split('\f')
    .filter((p) => p.trim() !== '')
    .map((p) => p.split('\n'));
}

/** As a browser prints it: with the paper that the style sheet asks for. @param {string} url @param {'A4' | 'Letter'} format */
async function asPrinted(url, format) {
  const { page, close } = await openPage(browser);
  assert.equal((await page.goto(url))?.status(), 200);
  const pdf = join(folder, 'printed.pdf');
  writeFileSync(pdf, await page.pdf({ format, preferCSSPageSize: true }));
  await close();
  return pages(pdf);
}

for (const format of SIZES)
  test(`codes, lots and places of 32 letters stand in one line on ${format}`, async () => {
    for (const path of ['walk?wave=1', 'slips?wave=1', 'labels?wave=1', 'tags', 'bench', 'rota']) {
      const lines = (await asPrinted(`${nursery.url}/print/${path}`, format)).flat();
      for (const whole of path === 'tags'
        ? [LONG, `L${LONG.slice(1)}`, `P${LONG.slice(1)}`]
        : [LONG, `L${LONG.slice(1)}`])
        if (!['bench', 'rota'].includes(path) || lines.some((l) => l.includes(whole.slice(0, 8))))
          assert.ok(
            lines.some((l) => l.includes(whole)),
            `${whole} in ${path}: ${lines.join('|')}`,
          );
    }
  });

test('a pick sheet of a whole week: every page says whose, of what and which of how many; few pages', async () => {
  const big = await startNursery({
    prepare: (db) => {
      run(['schedule', db, '--commit', '--today', TODAY]);
      run(['allocate', db, '--rule', 'first-come', '--supply', 'counted', '--commit', '--today', TODAY]);
      run(['pick', db, '--week', '2032-W18', '--commit', '--today', TODAY]);
    },
  });
  const wave = await fetchJson(big.url, '/api/waves/1');
  const picks = wave.stops.flatMap((/** @type {any} */ s) =>
    s.picks.map((/** @type {any} */ k) => ({ ...k, stop: s })),
  );
  const divisions = picks.reduce((/** @type {number} */ sum, /** @type {any} */ k) => sum + k.quantity, 0);
  const parcels = new Set(picks.map((/** @type {any} */ k) => k.parcel)).size;
  const about = `${wave.stops.length} stops, ${picks.length} picks, ${divisions} divisions, ${parcels} parcels`;
  const sheet = await asPrinted(`${big.url}/print/walk?wave=1`, 'A4');
  assert.ok(picks.length > 100, `${picks.length} picks`);
  assert.ok(
    sheet.length * 35 <= picks.length + wave.stops.length + 35,
    `${sheet.length} pages for ${picks.length} picks`,
  );
  sheet.forEach((lines, i) => {
    const text = lines.join(' ').replace(/\s+/g, ' ');
    for (const wanted of [`Wave 1, 2032-W18, printed`, about, `Page ${i + 1} of ${sheet.length}`])
      assert.ok(text.includes(wanted), `${wanted} on page ${i + 1}: ${text.slice(0, 300)}`);
  });
  // Every pick with its lot, code and order in one line.
  const lines = sheet.flat().map((l) => ` ${l.replace(/\s+/g, ' ')} `);
  for (const k of picks)
    assert.ok(
      lines.some(
        (l) =>
          l.includes(` ${k.variety} `) &&
          l.includes(` ${k.stop.lot ?? k.lot} `) &&
          l.includes(`${k.order} / ${k.line}`),
      ),
      JSON.stringify(k),
    );
  const rooms = [...new Set(wave.stops.map((/** @type {any} */ s) => s.room))];
  const byRoom = await asPrinted(`${big.url}/print/walk?wave=1&by=room`, 'A4');
  assert.ok(rooms.length > 1 && byRoom.length >= rooms.length);
  for (const page of byRoom)
    assert.equal(
      rooms.filter((r) => page.join(' ').replace(/\s+/g, ' ').includes(`2032-W18, ${r}, printed`)).length,
      1,
    );
  const byPerson = await asPrinted(`${big.url}/print/walk?wave=1&by=person`, 'A4');
  assert.ok(byPerson.every((p) => p.join(' ').includes('nobody yet')));
  await big.stop();
});

test('what is not there is said', async () => {
  for (const [path, status] of [
    ['/print/walk?wave=9', 404],
    ['/print/tags?lots=NONE', 404],
    ['/print/slips', 400],
    ['/print/other', 404],
  ]) {
    assert.equal((await fetch(nursery.url + path)).status, status, String(path));
  }
  const chosen = await (await fetch(`${nursery.url}/print/tags?lots=L1`)).text();
  assert.ok(chosen.includes('L1') && !chosen.includes('L2'));
});

for (const format of SIZES)
  test(`the help of a screen stands on ${format} without the list of pages and the desks`, async () => {
    const { page, close } = await openPage(browser);
    await page.goto(`${nursery.url}/#/help/winter`);
    await page.locator('.help-page h1').waitFor();
    const said = (await page.locator('.help-page li').first().innerText()).replace(/\s+/g, ' ').trim();
    const pdf = join(folder, 'help.pdf');
    writeFileSync(pdf, await page.pdf({ format }));
    await close();
    const printed = execFileSync('pdftotext', [pdf, '-'], { encoding: 'utf8' }).replace(/\s+/g, ' ');
    assert.ok(printed.includes(said), `${said} in ${printed}`);
    for (const gone of ['Find in the help', 'Order desk Cellar', 'English'])
      assert.ok(!printed.includes(gone), printed);
    assert.ok(pages(pdf).length <= 2, `${pages(pdf).length} pages`);
  });

test("the season's letter stands on paper in the reader's language, without the desks", async () => {
  const { page, close } = await openPage(browser, { locale: 'de-DE' });
  await page.goto(`${nursery.url}/#/winter/letter`);
  await page.locator('.letter section p').first().waitFor();
  const flat = (/** @type {string} */ text) => text.replace(/\s+/g, ' ').trim();
  const said = (await page.locator('.letter section p').allInnerTexts()).map(flat);
  const pdf = join(folder, 'letter.pdf');
  writeFileSync(pdf, await page.pdf({ format: 'A4' }));
  await close();
  const printed = flat(execFileSync('pdftotext', [pdf, '-'], { encoding: 'utf8' }));
  assert.match(printed, /^Die Saison 2031 in einem Brief/);
  for (const sentence of said) assert.ok(printed.includes(sentence), `${sentence} in ${printed}`);
  assert.doesNotMatch(printed, /Drucken|Keller|English/);
});
