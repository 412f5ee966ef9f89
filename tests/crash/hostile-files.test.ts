import {
  chmodSync,
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  rmSync,
  statSync,
  symlinkSync,
  truncateSync,
  unlinkSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type ImportSummary, importLogs } from '../../ingest/commands/import-logs.ts';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { runChild } from './_start-child.ts';
import { zstdRepeated, zstdStored } from './_zstd-stored.ts';

const T0 = Date.UTC(2026, 2, 2, 6);
const line = (n: number, fields: object = {}): string =>
  `${JSON.stringify({ t: T0 + n * 60_000, site: 'millpond', unit: 'u1', output_power_w: 1000 + n, ...fields })}\n`;
const lines = (count: number): string => Array.from({ length: count }, (_, n) => line(n)).join('');

let folder = '';
let cases = 0;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-hostile-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Outcome {
  readonly summary: ImportSummary;
  readonly exitCode: number;
  /** What was said on stderr, places shortened, without what is said of the missing record. */
  readonly said: readonly string[];
  /** Time and output power of each stored reading. */
  readonly readings: readonly (readonly [t: number, powerW: number | null])[];
}

async function imported(paths: readonly string[]): Promise<Outcome> {
  const data = join(folder, `data-${cases++}`);
  const said: string[] = [];
  const voice = { err: (text: string) => said.push(text), draw: null, nowMs: () => 0 };
  const { summary, exitCode } = await importLogs({ data, sites: [], columns: null, paths }, voice);
  const { lines: all, stored, already_there, refused } = summary;
  expect(stored + already_there + refused).toBe(all);
  return {
    summary,
    exitCode,
    said: said
      .map((text) => text.replaceAll(`${folder}/`, ''))
      .filter((text) => !text.includes('no record names this site')),
    readings: storedReadings(data),
  };
}

function storedReadings(data: string): [number, number | null][] {
  const db = openStoreToRead(data);
  const store = createReadingStore(db);
  const readings = store.sources().flatMap(({ source }) =>
    store.siteDays('millpond').flatMap((day): [number, number | null][] => {
      const block = store.readBlock(source, day);
      const watts = block?.columns.find((column) => column !== undefined);
      return [...(block?.tMs ?? [])].map((t, i) => [t, watts?.[i] ?? null]);
    }),
  );
  db.close();
  return readings;
}

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

describe('a packed file', () => {
  test('that holds several gzip members is read to its end', async () => {
    const path = file('members.ndjson.gz', Buffer.concat([gzipSync(line(0)), gzipSync(line(1)), gzipSync(line(2))]));
    const { exitCode, summary } = await imported([path]);
    expect(exitCode).toBe(0);
    expect(summary).toMatchObject({ files: 1, lines: 3, stored: 3, refused: 0 });
  });

  test('that holds several zstd frames is read to its end', async () => {
    const path = file(
      'frames.ndjson.zst',
      Buffer.concat([zstdStored(Buffer.from(line(0))), zstdStored(Buffer.from(line(1)))]),
    );
    expect((await imported([path])).summary).toMatchObject({ lines: 2, stored: 2 });
  });

  /** Lines that do not pack well, so that a file that is cut anywhere has lost some. */
  const text = Array.from({ length: 3000 }, (_, n) => line(n, { heatsink_temperature_c: (n * 7919) % 97 })).join('');
  const packed = { gz: gzipSync(text), zst: zstdStored(Buffer.from(text)) };

  test.each(['gz', 'zst'] as const)(
    '(.%s) that ends too early gives its whole lines, none cut, and says so',
    async (ending) => {
      const bytes = packed[ending];
      for (const share of [0.001, 0.3, 0.7, 0.999]) {
        const path = file(`cut-${share}.ndjson.${ending}`, bytes.subarray(0, Math.floor(bytes.length * share)));
        const first = await imported([path]);
        const taken = first.readings.length;
        expect(first.readings).toEqual(Array.from({ length: taken }, (_, n) => [T0 + n * 60_000, 1000 + n]));
        expect(first.said).toHaveLength(1);
        expect(first.said[0]).toMatch(
          ending === 'gz' ? /its gzip data end too early/ : /its zstd data are damaged or end too early/,
        );
        if (taken === 0) {
          expect(first.exitCode).toBe(1);
        } else {
          expect(first.exitCode).toBe(2);
          expect(first.said[0]).toContain(`line ${taken + 1}: `);
          expect(first.said[0]).toContain(`the ${taken} lines before it were taken`);
        }
        // How much comes of it depends on the file alone, not on who was faster.
        expect((await imported([path])).readings).toEqual(first.readings);
        if (share > 0.5) expect(taken).toBeGreaterThan(0);
      }
    },
  );

  test('with garbage after its gzip data gives its lines and says so', async () => {
    const path = file('garbage.ndjson.gz', Buffer.concat([packed.gz, Buffer.from('and this is no gzip')]));
    const { exitCode, said, readings } = await imported([path]);
    expect(exitCode).toBe(2);
    expect(said[0]).toMatch(/garbage.ndjson.gz, line \d+: its gzip data are damaged/);
    expect(readings.length).toBeGreaterThan(0);
  });

  test.each([10, 100_000])(
    'filled up with %i NUL bytes after its gzip data, as tapes and some loggers do, is whole',
    async (count) => {
      const path = file(`filled-${count}.ndjson.gz`, Buffer.concat([packed.gz, Buffer.alloc(count)]));
      expect(await imported([path])).toMatchObject({ exitCode: 0, said: [], summary: { lines: 3000, stored: 3000 } });
    },
  );

  test('whose gzip data are damaged but still unpack is refused whole: no wrong value is stored', async () => {
    // Stored as they are, so that a damaged digit unpacks to another digit, and only the check sum tells.
    const bytes = gzipSync(text, { level: 0 });
    const at = bytes.indexOf('"output_power_w":1') + '"output_power_w":'.length;
    bytes[at] = '7'.charCodeAt(0);
    const { exitCode, said, readings } = await imported([file('digit.ndjson.gz', bytes)]);
    expect([exitCode, readings]).toEqual([1, []]);
    expect(said.at(-1)).toContain('its gzip data are damaged');
  });

  test('with a damaged middle is named, and gives less than all', async () => {
    const bytes = Uint8Array.from(packed.gz);
    bytes.fill(0xa5, bytes.length / 2, bytes.length / 2 + 20);
    const { exitCode, said, readings } = await imported([file('damaged.ndjson.gz', bytes)]);
    expect([1, 2]).toContain(exitCode);
    expect(said.at(-1)).toContain('its gzip data are damaged');
    expect(readings.length).toBeLessThan(3000);
  });

  test.each(['gz', 'zst'])('(.%s) that is none is named and could not be read at all', async (ending) => {
    const { exitCode, summary, said } = await imported([file(`plain.ndjson.${ending}`, line(0))]);
    expect(exitCode).toBe(1);
    expect(summary).toMatchObject({ files: 0, lines: 0 });
    expect(said[0]).toMatch(/damaged/);
  });

  test.each(['gz', 'zst'])('(.%s) of no bytes is named', async (ending) => {
    const { exitCode, said } = await imported([file(`none.ndjson.${ending}`, '')]);
    expect(exitCode).toBe(1);
    expect(said[0]).toMatch(/end too early/);
  });
});

describe('a file that is not what its name says', () => {
  test('lines with NUL bytes are refused one by one, the others stored', async () => {
    const nuls = `${'\0'.repeat(500)}\n`;
    const { exitCode, summary, said } = await imported([file('nul.ndjson', line(0) + nuls + line(1) + nuls + line(2))]);
    expect(exitCode).toBe(2);
    expect(summary).toMatchObject({ lines: 5, stored: 3, refused: 2 });
    expect(said.map((text) => text.slice(0, 40))).toEqual([
      'nul.ndjson, line 2: the line holds NUL b',
      'nul.ndjson, line 4: the line holds NUL b',
    ]);
  });

  test('a latin1 file: lines with its letters are refused and the encoding is named', async () => {
    const bytes = Buffer.concat([Buffer.from(line(0)), Buffer.from(line(1, { Gerät: 'ä' }), 'latin1')]);
    const { exitCode, summary, said } = await imported([file('latin1.ndjson', bytes)]);
    expect(exitCode).toBe(2);
    expect(summary).toMatchObject({ stored: 1, refused: 1 });
    expect(said[0]).toMatch(/latin1.ndjson, line 2: .* not UTF-8; .*another encoding/);
  });

  test.each(['ndjson', 'csv'])('a UTF-16 file (.%s) stores nothing and is told to be saved as UTF-8', async (form) => {
    const text = form === 'csv' ? `t,site,unit,output_power_w\n${T0},millpond,u1,5\n` : lines(3);
    const { exitCode, summary, said } = await imported([
      file(`utf16.${form}`, Buffer.from(`\ufeff${text}`, 'utf16le')),
    ]);
    expect(exitCode).toBe(form === 'csv' ? 1 : 2);
    expect(summary.stored).toBe(0);
    expect(said[0]).toMatch(/save the file as UTF-8/);
  });

  test('an empty NDJSON file is read and holds nothing; an empty CSV lacks its header', async () => {
    expect(await imported([file('empty.ndjson', '')])).toMatchObject({
      exitCode: 0,
      summary: { files: 1, lines: 0 },
      said: [],
    });
    const { exitCode, said } = await imported([file('empty.csv', '')]);
    expect(exitCode).toBe(1);
    expect(said[0]).toMatch(/empty.csv, line 1: it is empty: there is no header/);
  });

  test('a CSV whose header names a column twice could not be read at all, and the other files are', async () => {
    const csv = file('twice.csv', `t,site,unit,output_power_w,output_power_w\n${T0},millpond,u1,5,6\n`);
    const { exitCode, summary, said } = await imported([csv, file('good.ndjson', lines(2))]);
    expect(exitCode).toBe(1);
    expect(summary).toMatchObject({ files: 1, stored: 2 });
    expect(said[0]).toMatch(/twice.csv, line 1: columns 4 and 5 are both named "output_power_w"/);
  });

  test('two lines that are too long, among others, are refused by number, in the compiled program too', async () => {
    const long = `${'x'.repeat(1_100_000)}\n`;
    const path = file('long.ndjson', line(0) + long + long + line(1));
    const { exitCode, summary, said } = await imported([path]);
    expect(exitCode).toBe(2);
    expect(summary).toMatchObject({ lines: 4, stored: 2, refused: 2 });
    expect(said.map((text) => text.slice(0, 44))).toEqual([
      'long.ndjson, line 2: line of 1,100,001 bytes',
      'long.ndjson, line 3: line of 1,100,001 bytes',
    ]);
    const end = await runChild({ work: 'import', data: join(folder, 'long'), paths: [path] });
    expect(end.err).not.toContain('unexpected');
    expect(end.summary).toMatchObject({ lines: 4, stored: 2, refused: 2 });
  });

  test('2 GiB without a newline take seconds and little memory, packed or not', { timeout: 150_000 }, async () => {
    const plain = file('huge.ndjson', '');
    truncateSync(plain, 2 ** 31);
    const written = openSync(plain, 'r+');
    writeSync(written, line(0), 0);
    closeSync(written);
    const packed = file('huge.ndjson.zst', zstdRepeated(0, 2 ** 14));
    expect(statSync(packed).size).toBeLessThan(100_000);
    const bare = await runChild({ work: 'import', data: join(folder, 'huge-none'), paths: [] });
    for (const [path, stored] of [
      [plain, 1],
      [packed, 0],
    ] as const) {
      const startedMs = performance.now();
      const end = await runChild({ work: 'import', data: join(folder, `huge-${stored}`), paths: [path] });
      expect(end.err).toMatch(/line of 2,147,4\d\d,\d\d\d bytes; a log line has at most/);
      expect(end.exitCode).toBe(2);
      expect(end.summary).toMatchObject({ lines: stored + 1, stored, refused: 1 });
      expect(end.summary!.peakKb! - bare.summary!.peakKb!, path).toBeLessThan(300_000);
      expect(performance.now() - startedMs).toBeLessThan(40_000);
    }
  });
});

describe('a path that can not be read', () => {
  test('is named, and the others are read', async () => {
    const paths = [join(folder, 'nowhere.ndjson'), file('notes.txt', 'no log'), file('here.ndjson', lines(2))];
    const { exitCode, summary, said } = await imported(paths);
    expect(exitCode).toBe(1);
    expect(summary).toMatchObject({ files: 1, stored: 2 });
    expect(said).toEqual([
      'nowhere.ndjson: there is no such file or folder; check the path',
      'notes.txt: this is no log by its name; name it .ndjson or .csv, each also with .gz or .zst behind it',
    ]);
  });

  test.each(['.ndjson', '.ndjson.gz', '.ndjson.zst', '.csv'])(
    'a file (%s) that vanishes after it was found is named',
    async (ending) => {
      const into = join(folder, `vanish${ending}`);
      mkdirSync(into);
      const gone = file(`vanish${ending}/b${ending}`, line(0));
      file(`vanish${ending}/a.ndjson`, line(0) + line(1));
      file(`vanish${ending}/c.ndjson`, line(2));
      const voice = {
        err: () => undefined,
        draw: null,
        // The clock is asked first when the files have been found and the first is being read.
        nowMs: () => 0,
      };
      const said: string[] = [];
      const { findLogFiles } = await import('../../ingest/sources/log-files.ts');
      const { importFiles } = await import('../../ingest/sources/import-files.ts');
      const { openStore } = await import('../../ingest/store/open-store.ts');
      const found = findLogFiles([into]);
      unlinkSync(gone);
      const db = openStore(join(folder, `vanished${ending}`));
      const result = await importFiles(
        createReadingStore(db),
        { files: found.files, columns: null },
        { refused: (r) => said.push(`${r.where}: ${r.what}`), note: voice.err, progress: voice.err },
      );
      db.close();
      expect(said).toEqual([`${gone}: there is no such file or folder`]);
      expect(result).toMatchObject({ files: 2, lines: 3, stored: 3, unread: 1 });
    },
  );

  test('a folder that holds itself by a link is searched once', async () => {
    const into = join(folder, 'loop');
    mkdirSync(into);
    file('loop/a.ndjson', lines(2));
    symlinkSync(into, join(into, 'again'));
    expect(await imported([into])).toMatchObject({ exitCode: 0, summary: { files: 1, lines: 2 }, said: [] });
  });

  test.skipIf(process.getuid?.() === 0)('a folder without rights is named', async () => {
    const into = join(folder, 'locked');
    mkdirSync(into);
    file('locked/a.ndjson', line(0));
    chmodSync(into, 0);
    const { exitCode, said } = await imported([into]);
    chmodSync(into, 0o700);
    expect(exitCode).toBe(1);
    expect(said[0]).toBe('locked: it may not be read; change its rights, or run as a user who may read it');
  });
});

describe('times that can not be right', () => {
  test('are stored, set aside and named', async () => {
    const seconds = Math.round(T0 / 1000);
    const future = Date.UTC(2031, 5, 1);
    const late = Date.UTC(2106, 1, 7, 6, 28, 15);
    const odd = [0, seconds, future, late].map((t) => line(0, { t })).join('');
    const { exitCode, summary, said } = await imported([file('times.ndjson', lines(10) + odd)]);
    expect(exitCode).toBe(0);
    expect(summary).toMatchObject({ lines: 14, stored: 14 });
    const why = 'set aside: no other reading of the site lies within 48 h';
    expect(said).toEqual(
      [
        `millpond, unit u1, 1970-01-01T00:00:00.000Z: ${why}; check the clock of the gateway`,
        `millpond, unit u1, 1970-01-21T12:20:31.200Z: ${why}; t looks like epoch seconds: give milliseconds, or RFC 3339`,
        `millpond, unit u1, 2031-06-01T00:00:00.000Z: ${why}; check the clock of the gateway`,
        `millpond, unit u1, 2106-02-07T06:28:15.000Z: ${why}; check the clock of the gateway`,
      ].map((text) => text.replace('1970-01-21T12:20:31.200Z', new Date(seconds).toISOString())),
    );
  });

  test('twenty are named, the rest counted', async () => {
    const odd = Array.from({ length: 25 }, (_, n) => line(0, { t: Date.UTC(2031, 0, 1 + 7 * n) })).join('');
    const { said } = await imported([file('many.ndjson', lines(3) + odd)]);
    expect(said).toHaveLength(21);
    expect(said[20]).toBe('… and 5 more readings that are set aside');
  });

  test('a log that gives seconds throughout is named once a source, though its readings are not alone', async () => {
    const odd = Array.from({ length: 50 }, (_, n) => line(0, { t: Math.round(T0 / 1000) + 60 * n })).join('');
    const { exitCode, said } = await imported([file('seconds.ndjson', odd)]);
    expect(exitCode).toBe(0);
    expect(said).toHaveLength(1);
    expect(said[0]).toMatch(
      /^millpond, unit u1, 1970-01-21T.* to 1970-01-21T.*: 50 readings in 1970; t looks like epoch seconds/,
    );
  });
});
