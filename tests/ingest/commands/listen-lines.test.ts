import { describe, expect, test } from 'vitest';
import { messageJson, messageLines, summaryJson, summaryLines } from '../../../ingest/commands/listen-lines.ts';
import { createListenTally } from '../../../ingest/commands/listen-tally.ts';
import type { HeardMessage, HeardReading } from '../../../ingest/sources/mqtt/heard-message.ts';

const READING: HeardReading = {
  source: { site: 'millpond', kind: 'pack', id: 'p1' },
  t: Date.UTC(2026, 2, 2, 6),
  values: { soc_pct: 71.5, pack_state: 'idle' },
  extras: {},
  settings: {},
  alarm: null,
  replacesBy: null,
};
const heard = (more: Partial<HeardMessage>): HeardMessage => ({
  source: 'mqtt h:1883',
  topic: 'a/b',
  isRetained: false,
  entries: [],
  readings: [],
  refused: [],
  notes: [],
  payload: 'empty',
  ...more,
});
const refusal = (what: string) => ({ what, remedy: 'give a number', place: null });

describe('messageLines', () => {
  test('values stand with their units, and a reading without any is said to be one', () => {
    const lines = messageLines(
      heard({ entries: ['a/{pack}'], readings: [READING, { ...READING, values: {} }], isRetained: true }),
      true,
    );
    expect(lines).toEqual([
      'a/b (retained) from mqtt h:1883',
      '  matches a/{pack}',
      '  would store millpond pack p1 at 2026-03-02T06:00:00.000Z: soc_pct 71.5 %, pack_state idle',
      '  would store millpond pack p1 at 2026-03-02T06:00:00.000Z: a reading without values',
    ]);
  });

  test('a message that matches and says nothing would store nothing', () => {
    expect(messageLines(heard({ entries: ['a/b'] }), false)).toEqual([
      'a/b',
      '  matches a/b',
      '  would store nothing',
      '  payload: empty',
    ]);
  });

  test('of a long backfill the first readings are shown and the others counted; JSON has all', () => {
    const message = heard({ entries: ['a/b'], readings: Array.from({ length: 500 }, () => READING) });
    expect(messageLines(message, false)).toHaveLength(2 + 10 + 1);
    expect(messageLines(message, false).at(-1)).toBe('  would store 490 more');
    expect(JSON.parse(messageJson(message)).would_store).toHaveLength(500);
  });

  test('signs that would steer a terminal are written out', () => {
    expect(messageLines(heard({ topic: 'a\u001b[2J\nb' }), false)[0]).toBe('a\\u001b[2J\\u000ab');
  });
});

describe('the summary', () => {
  test('counts refusals of one reason together, whatever the value was, and shows the first', () => {
    const tally = createListenTally();
    tally.expect('mqtt h:1883', ['a/b', 'c/d']);
    for (const value of ['"x"', '"y z"', 'true']) {
      tally.hear(heard({ entries: ['a/b'], refused: [refusal(`/l1: output_power_l1_w is ${value}`)] }));
    }
    tally.hear(heard({ entries: ['a/b'], refused: [refusal('/l2: output_power_l2_w is "x"')] }));
    tally.hear(heard({ entries: ['a/b'], refused: [refusal('t is 12'), refusal('t is 13.5')], readings: [READING] }));
    const { reasons, entries, matched, refused } = tally.tally();
    expect(reasons.map(({ what, count }) => [what, count])).toEqual([
      ['/l1: output_power_l1_w is "x"', 2],
      ['t is 12', 2],
      ['/l1: output_power_l1_w is true', 1],
      ['/l2: output_power_l2_w is "x"', 1],
    ]);
    expect([matched, refused]).toEqual([5, 6]);
    expect(entries).toMatchObject([
      { entry: 'a/b', messages: 5, readings: 1, refused: 6 },
      { entry: 'c/d', messages: 0 },
    ]);
  });

  test('of endless topics only so many are kept apart, and none is lost from the count', () => {
    const tally = createListenTally();
    for (let k = 0; k < 1500; k += 1) tally.hear(heard({ topic: `t/${k}` }));
    tally.hear(heard({ topic: 't/7' }));
    const summed = tally.tally();
    expect([summed.unmatched, summed.unmatchedTopics.length, summed.otherUnmatched]).toEqual([1501, 1000, 500]);
    expect(summed.unmatchedTopics[0]).toMatchObject({ topic: 't/7', count: 2 });
    const listened = { tally: summed, seconds: 30, leftOut: ['a/b: 2 × odd'], isAll: true, isOneOfMany: false };
    const lines = summaryLines(listened);
    expect(lines[0]).toBe('1501 messages in 30 s: 0 matched, 1501 not');
    expect(lines).toContain('  2 × t/7');
    expect(lines).toContain('  1460 × other topics');
    expect(lines.at(-1)).toBe('left out: a/b: 2 × odd');
    expect(JSON.parse(summaryJson(listened))).toMatchObject({ kind: 'summary', unmatched: 1501, other_unmatched: 500 });
  });
});
