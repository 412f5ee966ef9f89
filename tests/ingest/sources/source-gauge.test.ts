import { expect, test } from 'vitest';
import { createSourceGauge } from '../../../ingest/sources/source-gauge.ts';

test('refusals are counted each, and sampled once for each thing that is wrong, the newest first', () => {
  let nowMs = 0;
  const gauge = createSourceGauge('push', 'push', () => nowMs);
  gauge.refused({ where: 'a', what: 'rare', remedy: 'mend it' });
  for (nowMs = 1; nowMs <= 100; nowMs++) gauge.refused({ where: 'b', what: 'again and again', remedy: 'mend it' });
  const { refused, samples } = gauge.status();
  expect(refused).toBe(101);
  expect(samples.map(({ at, what }) => [at, what])).toEqual([
    [100, 'again and again'],
    [0, 'rare'],
  ]);
});
