/** What every analyzer owes to the runner, whatever it looks for. */
import { describe, expect, test } from 'vitest';
import type { DayBlock, SourceDay } from '../../ingest/alignment/day-block.ts';
import { ANALYZERS } from '../../ingest/analysis/analyzers.ts';
import { backupEvents, backupEventsAnalyzer } from '../../ingest/analysis/backup-events.ts';
import type { SiteHistory } from '../../ingest/site/record.ts';
import type { Finding } from '../../ingest/vocabulary/finding.ts';
import { CAUSES, FINDING_KINDS } from '../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { at, blocksOf, clock, foldLog, type Line, lines, nowOf, siteOf } from '../ingest/analysis/_check.ts';

const FLEET = {
  units: [{ id: 'u1' }, { id: 'u2' }],
  packs: ['p1', 'p2'],
  intervalS: 120,
  more: { meters: [{ id: 'm1', role: 'ac_pv' as const }] },
};
const SITE: SiteHistory = siteOf(FLEET);
const within = (t: number, from: string, to: string): boolean => t >= at(from) && t < at(to);

/** A unit through six hours about midnight: a grid loss with a sag, a loss of the output, and a blind hour. */
function unit(id: string, second: number): Line[] {
  return lines('21:00', '+1 03:00', 120, (t) => {
    if (id === 'u2' && within(t, '+1 01:20', '+1 02:00')) return null;
    const isAway = within(t, '23:00', '+1 01:00');
    const isLost = within(t, '+1 00:20', '+1 00:30');
    const charge = id === 'u2' && within(t, '21:30', '22:10') ? {} : { battery_soc_pct: 70 };
    return {
      unit: id,
      mode: isLost ? 'fault' : isAway ? 'backup' : 'grid',
      grid_voltage_v: isAway ? 0 : 230,
      output_voltage_v: isLost ? 0 : 230,
      output_frequency_hz: within(t, '23:40', '23:50') ? 48.6 : 50,
      output_power_w: isLost ? 0 : 3000,
      dc_voltage_v: 52,
      ...charge,
    };
  }).map((line) => ({ ...line, t: line.t + second * 1000 }));
}

const LOG: Line[] = [
  ...unit('u1', 0),
  ...unit('u2', 7),
  ...['p1', 'p2'].flatMap((pack) =>
    lines('21:00', '+1 03:00', 120, (t) =>
      pack === 'p2' && within(t, '+1 02:10', '+1 02:40')
        ? null
        : { pack, soc_pct: 70, pack_current_a: 10, pack_voltage_v: 52 },
    ),
  ),
  ...lines('21:00', '+1 03:00', 120, () => ({ bank: 'bank', bank_soc_pct: 70 })),
  ...lines('21:00', '+1 03:00', 120, () => ({ meter: 'm1', meter_power_w: 100 })),
  { t: at('21:00'), unit: 'u1', settings: { battery_type: 'lithium', firmware: '1' } },
  { t: at('21:00'), unit: 'u2', settings: { battery_type: 'lithium', firmware: '1' } },
  { t: at('22:00'), unit: 'u2', settings: { battery_type: 'lead', firmware: '2' } },
  { t: at('+1 02:00'), unit: 'u2', settings: { battery_type: 'lithium' } },
  { t: at('23:02'), unit: 'u1', alarm: 'grid lost', state: 'raised' },
  { t: at('+1 01:02'), unit: 'u1', alarm: 'grid lost', state: 'cleared' },
];

/** Readings with nothing in them, and a day on which one unit says one thing. */
const GAPS: Line[] = [
  ...lines('09:00', '10:00', 120, () => ({ unit: 'u1', output_power_w: null })),
  ...lines('09:00', '10:00', 120, () => ({ unit: 'u2', mode: null, output_voltage_v: null, battery_soc_pct: null })),
  ...lines('09:00', '10:00', 120, () => ({ pack: 'p1', soc_pct: null })),
  ...lines('09:00', '10:00', 120, () => ({ pack: 'p2', pack_current_a: null })),
];

function deepFreeze<T>(value: T): T {
  if (value === null || typeof value !== 'object' || ArrayBuffer.isView(value)) return value;
  for (const inner of value instanceof Map ? value.values() : Object.values(value)) deepFreeze(inner);
  return Object.freeze(value);
}

/** Everything in a block, as text. */
function asText(blocks: readonly DayBlock[]): string {
  return JSON.stringify(blocks, (_, value: unknown) =>
    value instanceof Map ? [...value] : value instanceof Float64Array ? [...value].map(String) : value,
  );
}

function reversed<V>(map: ReadonlyMap<string, V>): ReadonlyMap<string, V> {
  return new Map([...map].reverse());
}

/** The same day, its sources in another order. */
function inOtherOrder(block: DayBlock): DayBlock {
  const turn = (source: SourceDay): SourceDay => ({ ...source, columns: new Map([...source.columns].reverse()) });
  const turnAll = (sources: ReadonlyMap<string, SourceDay>): ReadonlyMap<string, SourceDay> =>
    reversed(new Map([...sources].map(([id, source]) => [id, turn(source)])));
  return { ...block, units: turnAll(block.units), packs: turnAll(block.packs), meters: turnAll(block.meters) };
}

const nameOf = ({ kind, subject, start, detectedAt }: Finding): string =>
  `${kind} ${subject} ${clock(start)} seen ${clock(detectedAt)}`;

/** Names in order of every analyzer's findings over a log, the log's blocks built once. */
function printed(log: readonly Line[]): { name: string; detectedAt: number }[] {
  const blocks = blocksOf(log);
  const now = epochMs(nowOf(SITE, log));
  return ANALYZERS.flatMap((analyzer) => {
    const state = blocks.reduce((kept, block) => analyzer.fold(kept, block, SITE), analyzer.begin(SITE));
    return analyzer.answer(state, SITE, now).findings.map((f) => ({ name: nameOf(f), detectedAt: f.detectedAt }));
  }).sort((a, b) => (a.name < b.name ? -1 : 1));
}

describe.each(ANALYZERS.map((analyzer) => ({ name: analyzer.name, analyzer })))('$name', ({ analyzer }) => {
  const fold = (blocks: readonly DayBlock[]): unknown =>
    blocks.reduce((state, block) => analyzer.fold(state, block, SITE), analyzer.begin(SITE));

  test('finds nothing where there is nothing', () => {
    expect(analyzer.answer(analyzer.begin(SITE), SITE, epochMs(at('12:00'))).findings).toEqual([]);
    const empty = {
      day: epochMs(at('00:00')),
      units: new Map(),
      packs: new Map(),
      bank: null,
      meters: new Map(),
      settings: [],
      alarms: [],
    };
    expect(analyzer.answer(fold([empty]), SITE, epochMs(at('12:00'))).findings).toEqual([]);
  });

  test('finds nothing in readings that are all gaps', () => {
    expect(analyzer.answer(fold(blocksOf(GAPS)), SITE, epochMs(nowOf(SITE, GAPS))).findings).toEqual([]);
  });

  test('its state is plain JSON after every day, and goes on from there to the same answer', () => {
    const direct = fold(blocksOf(LOG));
    expect(JSON.parse(JSON.stringify(direct))).toEqual(direct);
    expect(foldLog(analyzer, SITE, LOG)).toEqual(direct);
  });

  test('writes to nothing that it is given', () => {
    const blocks = blocksOf(LOG);
    const before = asText(blocks);
    deepFreeze(blocks);
    const site = deepFreeze(siteOf(FLEET));
    blocks.reduce((state, block) => deepFreeze(analyzer.fold(state, block, site)), deepFreeze(analyzer.begin(site)));
    expect(asText(blocks)).toBe(before);
  });

  test('says the same, byte for byte, whatever order the sources stand in', () => {
    const straight = JSON.stringify(fold(blocksOf(LOG)));
    expect(JSON.stringify(fold(blocksOf(LOG).map(inOtherOrder)))).toBe(straight);
  });

  test('its findings keep to the vocabulary', () => {
    for (const finding of analyzer.answer(fold(blocksOf(LOG)), SITE, epochMs(nowOf(SITE, LOG))).findings) {
      expect(FINDING_KINDS).toContain(finding.kind);
      expect(finding.start).toBeLessThanOrEqual(finding.detectedAt);
      expect(finding.end ?? finding.start).toBeGreaterThanOrEqual(finding.start);
      const causes: readonly string[] = (CAUSES as Record<string, readonly string[]>)[finding.kind] ?? [];
      for (const { cause } of finding.causes) expect(causes).toContain(cause);
      if (finding.causes.length > 0)
        expect(finding.causes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 6);
      expect(finding.subject === null).toBe(finding.candidates !== undefined);
      expect(JSON.parse(JSON.stringify(finding))).toEqual(finding);
    }
  });
});

describe('ANALYZERS', () => {
  test('have names of their own', () => {
    expect(new Set(ANALYZERS.map(({ name }) => name)).size).toBe(ANALYZERS.length);
  });

  test('a log cut at any time prints exactly what the whole log says was seen by then', () => {
    const whole = printed(LOG);
    expect(new Set(whole.map(({ name }) => name.split(' ')[0]))).toEqual(
      new Set([
        'frequency_excursion',
        'output_lost',
        'unit_silent',
        'pack_silent',
        'battery_unseen',
        'settings_mismatch',
      ]),
    );
    for (const t of [...new Set(LOG.map((line) => line.t))].sort((a, b) => a - b)) {
      const due = whole.filter(({ detectedAt }) => detectedAt <= t).map(({ name }) => name);
      const cut = printed(LOG.filter((line) => line.t <= t)).map(({ name }) => name);
      expect(cut, `cut at ${clock(t)}`).toEqual(due);
    }
  }, 60_000);

  test('the log of this suite holds one grid loss, over midnight', () => {
    const events = backupEvents(foldLog(backupEventsAnalyzer, SITE, LOG), SITE);
    expect(events.map(({ start, end }) => `${clock(start)} to ${clock(end)}`)).toEqual(['23:00:00 to +1 01:00:07']);
  });
});
