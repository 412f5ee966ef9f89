import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { openStore } from '../../../ingest/store/open-store.ts';
import { takeWorkerLock } from '../../../ingest/store/worker-lock.ts';
import { FINDING_KINDS, SEVERITIES } from '../../../ingest/vocabulary/finding.ts';
import { addLines, at, dropFolder, millpondLines, parsed, run, storeLines } from './_stored.ts';

const KEYS = [
  'site',
  'kind',
  'subject',
  'start',
  'detected_at',
  'end',
  'severity',
  'measure',
  'value',
  'baseline',
  'limit',
  'causes',
  'evidence',
];
const TIME = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/;
const COMMANDS = [findingsCommand];
let folder = '';
const findings = (...args: string[]) => run(COMMANDS, ['findings', '--data', folder, ...args]);

beforeAll(() => {
  folder = storeLines(millpondLines());
});
afterAll(() => dropFolder(folder));

/** How many rows a derived table holds. */
function storedFindings(): number {
  const db = openStore(folder);
  const { count } = db.prepare<[], { count: number }>('SELECT count(*) AS count FROM findings').get()!;
  db.close();
  return count;
}

describe('kilter findings', () => {
  test('analyses in memory where another process holds the worker lock, and writes where none does', async () => {
    const lock = takeWorkerLock(folder)!;
    const inMemory = await findings('--json');
    expect(inMemory.out.length).toBeGreaterThan(0);
    expect(storedFindings()).toBe(0);
    lock.release();
    const written = await findings('--json');
    expect(written.out).toEqual(inMemory.out);
    expect(storedFindings()).toBe(written.out.length);
    expect((await findings('--json')).out).toEqual(inMemory.out);
  });

  test('prints each finding with the keys of the contract, in its order', async () => {
    const ran = await findings('--json');
    expect(ran.code).toBe(0);
    const all = parsed(ran);
    expect(all.map(({ kind }) => kind)).toEqual(expect.arrayContaining(['settings_mismatch', 'unit_silent']));
    for (const finding of all) {
      expect(Object.keys(finding).filter((key) => key !== 'candidates')).toEqual(KEYS);
      expect('candidates' in finding).toBe(finding.subject === null);
      expect(FINDING_KINDS).toContain(finding.kind);
      expect(SEVERITIES).toContain(finding.severity);
      expect(finding.start).toMatch(TIME);
      expect(finding.detected_at).toMatch(TIME);
      if (finding.end !== null) expect(finding.end).toMatch(TIME);
    }
    const silent = all.find(({ kind }) => kind === 'unit_silent');
    expect(silent).toMatchObject({
      site: 'millpond',
      subject: 'u2',
      start: '2026-03-10T04:59:00.000Z',
      end: '2026-03-10T06:00:00.000Z',
      severity: 'soon',
    });
  });

  test('puts everything but findings on standard error with --json', async () => {
    const { err } = await findings('--json');
    expect(err).toContain(
      'millpond: its record does not name unit u9; what they sent is stored and will be judged once they are recorded',
    );
    expect(err.filter((line) => line.startsWith('sawpit: no record names this site'))).toHaveLength(1);
    expect(err.some((line) => line.startsWith('Looked at 1 site:'))).toBe(true);
  });

  test('filters by site and kind, and knows a site that is only heard', async () => {
    expect(parsed(await findings('--json', '--kind', 'unit_silent')).map(({ kind }) => kind)).toEqual(['unit_silent']);
    const heard = await findings('--json', '--site', 'sawpit');
    expect(heard.code).toBe(0);
    expect(heard.out).toEqual([]);
    expect(heard.err.join('\n')).toContain('sawpit: no record names this site');
  });

  test('answers as of a time as if nothing later had arrived', async () => {
    const early = parsed(await findings('--json', '--as-of', '2026-03-10T05:30:00Z'));
    expect(early.find(({ kind }) => kind === 'unit_silent')).toMatchObject({ end: null });
    const silent = early.find(({ kind }) => kind === 'unit_silent')!;
    const before = new Date(Date.parse(String(silent.detected_at)) - 1).toISOString();
    expect(parsed(await findings('--json', '--as-of', before)).map(({ kind }) => kind)).not.toContain('unit_silent');
    const least = parsed(await findings('--json', '--as-of', String(silent.detected_at)));
    expect(least.map(({ kind }) => kind)).toContain('unit_silent');
  });

  test('says a finding in a sentence, in the time of the site, open ones first', async () => {
    const { out } = await findings();
    const text = out.join('\n');
    const mismatch = out.findIndex((line) => line.includes('u2 has been set otherwise than it should be'));
    const silence = out.findIndex((line) => line.includes('u2 sent nothing from 10 March 2026'));
    expect(out[0]).toMatch(/^Open \(\d+\)$/);
    expect(mismatch).toBeGreaterThan(0);
    expect(silence).toBeGreaterThan(mismatch);
    expect(text).toContain('+00:00');
    expect(text).toContain('Could not be told yet');
    expect(out.every((line) => line.length <= 100)).toBe(true);
  });

  test('says in words that nothing was found, and that nothing is known of a silent site', async () => {
    const quiet = storeLines([{ t: at('10T00:00:00'), site: 'millpond', unit: 'u1', output_power_w: 5 }]);
    addLines(quiet, [], ['site: sawpit\n'.concat(SAWPIT)]);
    const { out, err, code } = await run(COMMANDS, ['findings', '--data', quiet, '--kind', 'share_drift']);
    expect(code).toBe(0);
    expect(out[0]).toBe('Nothing found at the sites that were looked at.');
    expect(err).toContain('sawpit: nothing is stored of this site, so nothing can be told of it');
    dropFolder(quiet);
  });

  test.each([
    [['--site', 'milpond'], 'kilter findings: there is no site "milpond"; did you mean millpond?'],
    [['--site', 'zzz'], 'kilter findings: there is no site "zzz"; stored here: millpond, sawpit'],
    [['--kind', 'share_drfit'], 'kilter findings: --kind is "share_drfit"; did you mean share_drift?'],
    [['--sit', 'x'], 'kilter findings: there is no option --sit; did you mean --site?'],
    [['--as-of', 'noon'], /--as-of is "noon"; give a time with its offset/],
    [['extra'], /"extra" is not expected here/],
  ])('refuses %j in one line, with exit code 1', async (args, message) => {
    const { code, out, err } = await findings(...args);
    expect(code).toBe(1);
    expect(out).toEqual([]);
    expect(err).toHaveLength(1);
    expect(err[0]).toMatch(message);
  });

  test('does not make a folder that is not there', async () => {
    const { code, err } = await run(COMMANDS, ['findings', '--data', `${folder}/nowhere`]);
    expect(code).toBe(1);
    expect(err[0]).toContain('there are no stored readings in this folder');
  });
});

const SAWPIT = `name: Sawpit Farm
timezone: Europe/Lisbon
supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50, phases: 1 }
sample_interval_s: 60
units:
  - { id: u1, role: lead, rated_power_w: 5000, phase: L1 }
packs: []
`;
