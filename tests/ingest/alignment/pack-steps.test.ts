import { describe, expect, test } from 'vitest';
import type { SourceDay } from '../../../ingest/alignment/day-block.ts';
import { packSteps } from '../../../ingest/alignment/pack-steps.ts';
import type { QuantityId } from '../../../ingest/vocabulary/quantities.ts';

/** An hour of readings a minute: the bank steps between two currents every 10 minutes, each pack takes its part. */
function pack(id: string, part: number, soc: number): SourceDay {
  const tMs = Float64Array.from({ length: 60 }, (_, i) => i * 60_000);
  const amps = tMs.map((t) => part * (Math.floor(t / 600_000) % 2 === 0 ? 10 : 40));
  const columns = new Map<QuantityId, Float64Array>([
    ['pack_current_a', amps],
    ['soc_pct', tMs.map(() => soc)],
  ]);
  return { id, tMs, columns };
}

const OPTIONS = { day: 0, sampleIntervalS: 60 };

describe('packSteps', () => {
  test('gives each pack its part of the changes over its part of the capacity', () => {
    const [hour, ...others] = packSteps([pack('p1', 0.75, 60), pack('p2', 0.25, 60)], [100, 100], OPTIONS);
    expect(others).toEqual([]);
    expect(hour!.parts).toEqual([1.5, 0.5]);
  });

  test('says nothing near full, nor where a pack sends no current', () => {
    expect(packSteps([pack('p1', 0.5, 99), pack('p2', 0.5, 60)], [100, 100], OPTIONS)).toEqual([]);
    expect(packSteps([pack('p1', 0.5, 60), undefined], [100, 100], OPTIONS)).toEqual([]);
  });
});
