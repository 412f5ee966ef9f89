import { describe, expect, test } from 'vitest';
import { beginTick, type Delivery, deliver, heldSink, planDelivery, windowOf } from '../../../ingest/demo/delivery.ts';
import { planOutages } from '../../../ingest/demo/grid.ts';
import { appendText, createSink } from '../../../ingest/demo/log-lines.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import { MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM, periodOf, sampleSite } from './_sample-site.ts';

const text = (sink: { bytes: Uint8Array; length: number }) =>
  new TextDecoder().decode(sink.bytes.subarray(0, sink.length));

describe('planDelivery', () => {
  test('gaps stay under ten minutes and clear of outages, so that nothing true is hidden by them', () => {
    const plan = sampleSite();
    for (let seed = 0; seed < 10; seed++) {
      const outages = planOutages(createPrng(seed, 'outages'), plan, periodOf(60));
      const { windows } = planDelivery(createPrng(seed, 'delivery'), plan, periodOf(60), outages, 6);
      const gaps = windows.filter((w) => w.fate === 'lost');
      expect(gaps.length).toBeGreaterThan(5);
      expect(new Set(windows.map((w) => w.fate))).toEqual(new Set(['lost', 'late', 'resent']));
      for (const gap of gaps) {
        expect(gap.to - gap.from).toBeLessThanOrEqual(7 * MINUTE_MS);
        expect(outages.every((o) => gap.to < o.start || gap.from > o.end)).toBe(true);
      }
    }
  });

  test('where an outage is to arrive late, all of it does, more than a day after', () => {
    const plan = sampleSite({ lateOutage: true });
    const outages = planOutages(createPrng(1, 'outages'), plan, periodOf(60));
    const { windows } = planDelivery(createPrng(1, 'delivery'), plan, periodOf(60), outages, 6);
    const [first] = outages;
    const late = windows.find((w) => w.fate === 'late' && w.from < first!.start && w.to > first!.end);
    expect(late!.deliverAt - first!.end).toBeGreaterThan(24 * 60 * MINUTE_MS);
  });
});

describe('deliver', () => {
  test('what is kept back comes out once, when it is due', () => {
    const window = { fate: 'late', from: FROM, to: FROM + 1000, deliverAt: FROM + 5000, source: 2 } as const;
    const delivery: Delivery = { windows: [window], active: [], held: [] };
    beginTick(delivery, FROM, FROM + 1000);
    expect(windowOf(delivery, 1, FROM + 500)).toBeNull();
    expect(windowOf(delivery, 2, FROM + 500)).toBe(window);
    expect(windowOf(delivery, 2, FROM + 1000)).toBeNull();
    appendText(heldSink(delivery, window, 0, 1), 'late\n');
    const file = createSink();
    deliver(delivery, FROM + 4999, [file]);
    expect(text(file)).toBe('');
    deliver(delivery, FROM + 5000, [file]);
    deliver(delivery, FROM + 9000, [file]);
    expect(text(file)).toBe('late\n');
  });
});
