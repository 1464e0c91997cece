// SPDX-License-Identifier: MIT
// Writes and reads CSV (RFC 4180, LF line ends). Writing streams in chunks: a season of a million lines fits in little
// memory.
import fs from 'node:fs';

const CHUNK = 1 << 20;
const NEEDS_QUOTES = /[",\r\n]/;

function field(value) {
  if (value === undefined || value === null) return '';
  const text = String(value);
  return NEEDS_QUOTES.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

export class CsvWriter {
  constructor(path, columns) {
    this.fd = fs.openSync(path, 'w');
    this.width = columns.length;
    this.rows = -1;
    this.bytes = 0;
    this.pending = '';
    this.row(columns);
  }

  row(values) {
    if (values.length !== this.width) throw new Error(`a row of ${values.length} fields, not ${this.width}: ${values}`);
    let line = field(values[0]);
    for (let i = 1; i < values.length; i++) line += ',' + field(values[i]);
    this.pending += line + '\n';
    this.rows++;
    if (this.pending.length > CHUNK) this.flush();
  }

  flush() {
    this.bytes += fs.writeSync(this.fd, this.pending);
    this.pending = '';
  }

  close() {
    this.flush();
    fs.closeSync(this.fd);
  }
}

function splitRecord(line) {
  if (!line.includes('"')) return line.split(',');
  const fields = [];
  const pattern = /(?:"((?:[^"]|"")*)"|([^,"]*))(,|$)/gy;
  for (let m; (m = pattern.exec(line));) {
    fields.push(m[1] === undefined ? m[2] : m[1].replaceAll('""', '"'));
    if (m[3] === '') return fields;
  }
  throw new Error(`cannot read the record: ${line}`);
}

// Calls each(record, line number) with records as objects by column name. No field of a season holds a line break.
export function readCsv(path, each) {
  const text = fs.readFileSync(path, 'utf8');
  let names = null;
  for (let at = 0, number = 1; at < text.length; number++) {
    let end = text.indexOf('\n', at);
    if (end < 0) end = text.length;
    const fields = splitRecord(text.slice(at, end));
    at = end + 1;
    if (!names) {
      names = fields;
      continue;
    }
    if (fields.length !== names.length)
      throw new Error(`${path}:${number}: ${fields.length} fields, not ${names.length}`);
    const record = {};
    for (let i = 0; i < names.length; i++) record[names[i]] = fields[i];
    each(record, number);
  }
  return names;
}
