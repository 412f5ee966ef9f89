import { describe, expect, test } from 'vitest';
import { keepSources } from '../../../ingest/sources/keep-sources.ts';
import type { LiveSource } from '../../../ingest/sources/live-source.ts';
import { createSourceGauge } from '../../../ingest/sources/source-gauge.ts';
import { BatchBuilder } from '../../../ingest/wire/batch-builder.ts';

interface Config {
  readonly name: string;
  readonly path: string;
}

function rig() {
  const did: string[] = [];
  const said: string[] = [];
  let nowMs = 0;
  const gauges = new Map<string, ReturnType<typeof createSourceGauge>>();
  const make = ({ name, path }: Config): LiveSource => {
    if (path === 'broken') throw new RangeError('it can not be made');
    const gauge = createSourceGauge(name, 'folder', () => nowMs);
    gauges.set(name, gauge);
    return {
      name,
      start: () => did.push(`start ${name} ${path}`),
      status: () => gauge.status(),
      async stop() {
        did.push(`stop ${name} ${path}`);
        if (path === 'hangs') await new Promise(() => undefined);
      },
    };
  };
  const kept = keepSources(make, { nowMs: () => nowMs, say: (line) => said.push(line) });
  const bring = (name: string, readings: number): void => {
    const builder = new BatchBuilder();
    const source = builder.placeOf({ site: 'millpond', kind: 'unit', id: 'u1' });
    for (let k = 0; k < readings; k++) {
      builder.beginRow();
      builder.endRow(source, nowMs);
      builder.countLine();
    }
    gauges.get(name)!.stored(builder.finish());
  };
  return { kept, did, said, bring, pass: (ms: number) => (nowMs += ms) };
}

describe('keepSources', () => {
  test('starts what is new, stops what is gone or changed, and leaves the others alone', async () => {
    const { kept, did } = rig();
    await kept.set([
      { name: 'a', path: '1' },
      { name: 'b', path: '1' },
    ]);
    did.length = 0;
    await kept.set([
      { name: 'b', path: '1' },
      { name: 'a', path: '2' },
      { name: 'c', path: '1' },
    ]);
    expect(did).toEqual(['stop a 1', 'start a 2', 'start c 1']);
    did.length = 0;
    await kept.set([{ name: 'b', path: '1' }]);
    expect(did.sort()).toEqual(['stop a 2', 'stop c 1']);
    expect(kept.statuses().map(({ name }) => name)).toEqual(['b']);
    await kept.stop();
    expect(did).toContain('stop b 1');
  });

  test('one that can not be made is said, and the others run', async () => {
    const { kept, did, said } = rig();
    await kept.set([
      { name: 'a', path: 'broken' },
      { name: 'b', path: '1' },
    ]);
    expect(did).toEqual(['start b 1']);
    expect(said).toEqual([expect.stringContaining('a: this source could not be started: it can not be made')]);
  });

  test('one that does not stop is left behind in time', async () => {
    const { kept, said } = rig();
    await kept.set([
      { name: 'a', path: 'hangs' },
      { name: 'b', path: '1' },
    ]);
    await kept.stop();
    expect(said).toEqual(['a: this source did not stop in time and is left']);
  });

  test('the rate is that of the last minute, and unknown before there was one', async () => {
    const { kept, bring, pass } = rig();
    await kept.set([{ name: 'a', path: '1' }]);
    const rate = (): number | null => kept.statuses()[0]!.perMinute;
    expect(rate()).toBeNull();
    for (let k = 0; k < 12; k++) {
      bring('a', 5);
      pass(5000);
      rate();
    }
    expect(rate()).toBe(60);
    for (let k = 0; k < 24; k++) {
      pass(5000);
      rate();
    }
    expect(rate()).toBe(0);
  });
});
