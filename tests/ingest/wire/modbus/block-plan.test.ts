import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { planBlocks, type Span, splitBlock } from '../../../../ingest/wire/modbus/block-plan.ts';

const span = (address: number, count = 1, rest: Partial<Span> = {}): Span => ({
  table: 'holding',
  address,
  count,
  group: '',
  ...rest,
});
const asked = (spans: readonly Span[], gap?: number): string[] =>
  planBlocks(spans, gap).map(({ table, address, count }) => `${table} ${address}+${count}`);

describe('planBlocks', () => {
  test('reads neighbours and small gaps with one request', () => {
    expect(asked([span(30), span(32, 2), span(40)])).toEqual(['holding 30+11']);
  });
  test('leaves a gap above the stated size to two requests', () => {
    expect(asked([span(30), span(30 + 17 + 1)], 16)).toEqual(['holding 30+1', 'holding 48+1']);
    expect(asked([span(30), span(30 + 16 + 1)], 16)).toEqual(['holding 30+18']);
  });
  test('asks for 125 registers at most', () => {
    expect(asked([span(0, 100), span(100, 25)])).toEqual(['holding 0+125']);
    expect(asked([span(0, 100), span(100, 26)])).toEqual(['holding 0+100', 'holding 100+26']);
  });
  test('asks for 2,000 coils at most', () => {
    const coils = [0, 250, 500, 750, 1000, 1250, 1500, 1750, 1999, 2000].map((a) => span(a, 1, { table: 'coil' }));
    expect(asked(coils, 125)).toEqual(['coil 0+2000', 'coil 2000+1']);
  });
  test('keeps tables and groups apart', () => {
    expect(asked([span(1), span(2, 1, { table: 'input' }), span(3, 1, { group: 'b' }), span(4)])).toEqual([
      'holding 1+4',
      'input 2+1',
      'holding 3+1',
    ]);
  });
  test('refuses to plan a value that no request can hold', () => {
    expect(() => planBlocks([span(0, 126)])).toThrow('Cannot ask for 126 registers at once');
  });
  test('covers every span whole, within the limits, whatever is asked', () => {
    const anySpan = fc.record({
      table: fc.constantFrom('holding', 'input', 'coil', 'discrete' as const),
      address: fc.integer({ min: 0, max: 600 }),
      count: fc.constantFrom(1, 1, 1, 2, 4, 16),
      group: fc.constantFrom('', 'a', 'b'),
    });
    fc.assert(
      fc.property(fc.array(anySpan, { maxLength: 60 }), fc.integer({ min: 0, max: 40 }), (spans, gap) => {
        const blocks = planBlocks(spans as Span[], gap);
        for (const one of spans) {
          const holders = blocks.filter(
            (b) =>
              b.table === one.table &&
              b.group === one.group &&
              b.address <= one.address &&
              b.address + b.count >= one.address + one.count &&
              b.spans.some((s) => s.address === one.address && s.count === one.count),
          );
          expect(holders).toHaveLength(1);
        }
        for (const b of blocks)
          expect(b.count).toBeLessThanOrEqual(b.table === 'coil' || b.table === 'discrete' ? 2000 : 125);
      }),
    );
  });
});

describe('splitBlock', () => {
  test('splits at the gaps first, then in halves, and ends at single values', () => {
    const [block] = planBlocks([span(0), span(1, 2), span(10), span(11)]);
    const runs = splitBlock(block!);
    expect(runs.map(({ address, count }) => [address, count])).toEqual([
      [0, 3],
      [10, 2],
    ]);
    const halves = splitBlock(runs[0]!);
    expect(halves.map(({ address, count }) => [address, count])).toEqual([
      [0, 1],
      [1, 2],
    ]);
    expect(splitBlock(halves[1]!)).toEqual([]);
  });
  test('halves what was too long, gaps and all', () => {
    const [block] = planBlocks([span(0), span(10), span(20), span(30)]);
    expect(splitBlock(block!, true).map(({ address, count }) => [address, count])).toEqual([
      [0, 11],
      [20, 11],
    ]);
  });
});
