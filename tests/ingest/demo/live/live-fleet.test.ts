/** The living fleet read as anything is read: through sources of a configuration, by sockets. */
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import type { LiveDoor } from '../../../../ingest/intake/live-door.ts';
import { makeSource, type RunConfig } from '../../../../ingest/sources/make-source.ts';
import type { ReadingBatch } from '../../../../ingest/vocabulary/reading.ts';
import { encodeLines } from '../../../../ingest/wire/encode-lines.ts';
import { isRunBy, readSources } from '../../../../server/process/source-kinds.ts';
import { openTestFleet, type TestFleet, until } from './_fleet.ts';

type Fields = Readonly<Record<string, unknown>>;

let own: TestFleet | null = null;
const toStop: { stop(): Promise<void> }[] = [];
afterEach(async () => {
  for (const one of toStop.splice(0)) await one.stop();
  await own?.close();
  own = null;
});

/** Everything that comes, as lines. */
function listen(fleet: TestFleet) {
  const lines: Fields[] = [];
  const refused: unknown[] = [];
  const door: LiveDoor = {
    async store(batch: ReadingBatch) {
      for (const { text } of encodeLines(batch)) lines.push(JSON.parse(text) as Fields);
      refused.push(...batch.refused);
      return { stored: batch.lines, alreadyThere: 0 };
    },
  };
  const said: string[] = [];
  const house = {
    door,
    nowMs: Date.now,
    say: (line: string) => said.push(line),
    followHouse: () => {
      throw new Error('no folder is followed here');
    },
    hearOffset: () => undefined,
    memoryFolder: join(fleet.folder, 'memory'),
  };
  const { sources, faults } = readSources(fleet.fleet.sources(), { folder: fleet.folder, env: {} });
  expect(faults).toEqual([]);
  const live = sources.filter(isRunBy.worker).filter(({ kind }) => kind !== 'folder');
  // Polled more often than a demo is, so that nobody waits.
  const quick = live.map((one): RunConfig => (one.kind === 'modbus' ? { ...one, everyMs: 1000 } : one));
  const made = quick.map((config) => makeSource(config, house));
  for (const source of made) source.start();
  toStop.push(...made);
  const timer = setInterval(() => fleet.fleet.advance(), 100);
  toStop.push({ stop: async () => clearInterval(timer) });
  return { lines, refused, said, sources: made };
}

const of = (lines: readonly Fields[], site: string, kind: string): readonly Fields[] =>
  lines.filter((line) => line.site === site && line[kind] !== undefined && line.settings === undefined);

describe('openLiveFleet', () => {
  test('units and packs answer SunSpec and register profiles, and what they say is what stands in their site', {
    timeout: 60_000,
  }, async () => {
    own = await openTestFleet([0, 6]);
    const { lines, sources } = listen(own);
    for (const site of ['oxholm-clinic', 'upper-tessel-inn']) {
      await until(() => of(lines, site, 'unit').length > 3 && of(lines, site, 'pack').length > 3, site);
      for (const unit of of(lines, site, 'unit')) {
        expect(unit.mode).toBe('grid');
        expect(unit.output_voltage_v).toBeGreaterThan(215);
        expect(unit.output_voltage_v).toBeLessThan(245);
        expect(unit.output_frequency_hz).toBeCloseTo(50, 0);
        expect(unit.battery_soc_pct).toBeGreaterThan(50);
        expect(unit.dc_current_a ?? 0).toBeTypeOf('number');
      }
      for (const pack of of(lines, site, 'pack')) {
        expect(pack.pack_voltage_v).toBeGreaterThan(48);
        expect(pack.pack_voltage_v).toBeLessThan(58);
        expect(pack.pack_state).toMatch(/idle|charging|discharging/);
        expect(pack.cell_voltage_max_v).toBeGreaterThan(Number(pack.cell_voltage_min_v) - 0.01);
        expect(pack.cell_temperature_max_c).toBeGreaterThan(5);
        // Taken the right way round: what discharges is positive.
        if (pack.pack_state === 'charging') expect(pack.pack_current_a).toBeLessThan(0);
        if (pack.pack_state === 'discharging') expect(pack.pack_current_a).toBeGreaterThan(0);
      }
    }
    expect(lines.some(({ site, settings }) => site === 'upper-tessel-inn' && settings !== undefined)).toBe(true);
    expect(sources.map((source) => source.status().refused)).toEqual(sources.map(() => 0));
  });

  test('native topics, a JSON layout and Sparkplug B bring whole readings, none of which is refused or of the future', {
    timeout: 60_000,
  }, async () => {
    own = await openTestFleet([1, 2, 4, 5]);
    const { lines, refused, sources } = listen(own);
    for (const site of ['hazelrow-school', 'linnet-ford-farm', 'upper-tessel-dairy']) {
      await until(() => of(lines, site, 'unit').length > 1 && of(lines, site, 'pack').length > 1, site);
      const unit = of(lines, site, 'unit')[0]!;
      expect(unit.mode).toBe('grid');
      expect(unit.grid_voltage_v).toBeGreaterThan(215);
      expect(unit.output_power_w).toBeTypeOf('number');
      expect(unit.t).toBeLessThanOrEqual(Date.now());
      expect(of(lines, site, 'pack')[0]!.soc_pct).toBeGreaterThan(50);
    }
    await until(() => of(lines, 'linnet-ford-farm', 'meter').length > 0, 'the meter');
    expect(refused).toEqual([]);
    expect(sources.map((source) => source.status().refused)).toEqual(sources.map(() => 0));
    // One site leaves log files.
    const logs = join(own.folder, 'incoming', 'brackwater-bakery');
    await until(() => existsSync(logs) && readdirSync(logs).length > 0, 'log files');
  });

  test('a grid loss that somebody starts is seen by mode, and ends when it is cleared; a silent router stops all', {
    timeout: 90_000,
  }, async () => {
    own = await openTestFleet([0]);
    const { lines } = listen(own);
    const { fleet } = own;
    const modes = () => of(lines, 'oxholm-clinic', 'unit').map(({ mode }) => mode);
    await until(() => modes().includes('grid'), 'the grid');
    expect(fleet.start('oxholm-clinic', 'grid_loss', 30)).toMatchObject({ subject: 'site' });
    expect(fleet.start('oxholm-clinic', 'grid_loss', 30)).toBeNull();
    await until(() => modes().at(-1) === 'backup', 'backup');
    expect(fleet.clear('oxholm-clinic')).toBe(1);
    expect(fleet.started()[0]!.end).toBeLessThanOrEqual(Date.now() + 1000);
    expect(fleet.start('oxholm-clinic', 'router_down', null)).not.toBeNull();
    await until(() => fleet.started().length === 2, 'both are listed');
    const silentFrom = Math.ceil(Date.now() / 10_000) * 10_000 + 1500;
    await until(() => Date.now() > silentFrom + 3000, 'the next tick');
    expect(of(lines, 'oxholm-clinic', 'unit').filter(({ t }) => Number(t) > silentFrom)).toEqual([]);
  });
});
