import { describe, expect, test } from 'vitest';
import { decodePayload } from '../../../../ingest/wire/sparkplug/payload.ts';
import { rebirthRequest } from '../../../../ingest/wire/sparkplug/rebirth-request.ts';
import { listener, type Said } from '../mqtt/_heard.ts';
import { AT, ENTRY, ForeignNode, UNIT_BIRTH } from './_node.ts';

const power = (value: number, timestamp = AT + 10_000) => ({ alias: 1, type: 'Int32', value, timestamp });
/** As a broker delivers what it holds for us: each message until it is acknowledged. */
const held = (said: Said): Said => ({ ...said, canComeAgain: true });
const once = (said: Said): Said => ({ ...said, canComeAgain: false });
const again = (said: Said): Said => ({ ...said, canComeAgain: true, isAgain: true });

/** What another process makes of what this one has kept, after a way through JSON. */
function heir({ reader }: ReturnType<typeof listener>) {
  const next = listener([ENTRY]);
  next.reader.recall(JSON.parse(JSON.stringify(reader.kept())));
  return next;
}

describe('births for another process', () => {
  test('aliases hold on where births come by a session that misses nothing', () => {
    const node = new ForeignNode();
    const first = listener([ENTRY]);
    first.hear(held(node.birth()), held(node.say('DBIRTH', 'inv-a', UNIT_BIRTH)));
    const next = heir(first);
    const { readings, refused } = next.hear(held(node.say('DDATA', 'inv-a', [power(-5)])));
    expect([readings.map(({ values }) => values), refused]).toEqual([[{ output_power_w: -5 }], []]);
  });

  test('they do not where a birth may have been missed meanwhile: nothing is read by an alias that may be another', () => {
    const node = new ForeignNode();
    const first = listener([ENTRY]);
    first.hear(once(node.birth()), held(node.say('DBIRTH', 'inv-a', UNIT_BIRTH)));
    expect(first.reader.kept()).toEqual({});
    expect(heir(first).hear(node.say('DDATA', 'inv-a', [power(1)])).readings).toEqual([]);
    first.hear(held(node.birth()), once(node.say('DBIRTH', 'inv-a', UNIT_BIRTH)));
    expect(first.reader.kept()).toEqual({});
  });

  test('a death is kept as a birth is, with the count that the next death must have', () => {
    const node = new ForeignNode();
    const first = listener([ENTRY]);
    first.hear(held(node.birth()), held(node.say('DBIRTH', 'inv-a', UNIT_BIRTH)));
    const second = heir(first);
    second.hear(held(node.death()));
    const third = heir(second);
    expect(third.hear(held(node.say('DDATA', 'inv-a', [power(1)]))).refused).toEqual([
      'inv-a was said to be dead and has not been born again',
    ]);
  });

  test('what was kept by another version, or damaged, is as if nothing was kept', () => {
    const next = listener([ENTRY]);
    for (const kept of [null, 1, 'x', {}, { 'gw-7': { bdSeq: 'x' } }]) next.reader.recall({ 'spBv1.0/valley/#': kept });
    const node = new ForeignNode();
    expect(next.hear(held(node.say('DDATA', 'inv-a', [power(1)]))).refused).toHaveLength(1);
  });

  test('a message that comes again after a newer birth is not read by its aliases', () => {
    const node = new ForeignNode();
    const { hear } = listener([ENTRY]);
    const old = node.say('DDATA', 'inv-a', [power(7)], { timestamp: AT - 1000 });
    const other = [{ name: 'Grid/Voltage', alias: 1, type: 'UInt16', value: 2300, timestamp: AT }];
    hear(held(node.birth()), held(node.say('DBIRTH', 'inv-a', other)));
    expect(hear(again(old))).toMatchObject({ readings: [], refused: [] });
    // A backfill that comes for the first time is data like any other.
    expect(hear(held(old)).readings.map(({ values }) => values)).toEqual([{ grid_voltage_v: 0.7 }]);
  });

  test('messages that come again are no gap in the count', () => {
    const node = new ForeignNode();
    const { hear, reader } = listener([ENTRY]);
    hear(held(node.birth()), held(node.say('DBIRTH', 'inv-a', UNIT_BIRTH)));
    const sent = Array.from({ length: 200 }, (_, n) => node.say('DDATA', 'inv-a', [power(n, AT + n)]));
    hear(...sent.map(held));
    hear(...sent.map(again), held(node.say('DDATA', 'inv-a', [power(0)])));
    expect(reader.entries[0]?.parts()[0]?.trouble).toBeNull();
  });
});

describe('the request to be born again', () => {
  const ASKING = { ...ENTRY, mayAskForBirth: true };

  test('is off unless the configuration says so', () => {
    const node = new ForeignNode();
    expect(listener([ENTRY]).hear(node.say('DDATA', 'inv-a', [power(1)])).asked).toEqual([]);
  });

  test.each([
    ['an alias that no birth named', (node: ForeignNode) => [node.say('DDATA', 'inv-a', [power(1)])]],
    ['data after a death', (node: ForeignNode) => [node.birth(), node.death(), node.say('NDATA', null, [power(1)])]],
  ])('is made for %s', (_, messages) => {
    const { asked } = listener([ASKING]).hear(...messages(new ForeignNode()));
    expect(asked).toEqual(['valley/gw-7']);
  });

  test('is made for messages that are lost for good, and not while they may still come', () => {
    const node = new ForeignNode();
    const { hear } = listener([ASKING]);
    hear(node.birth(), node.say('DBIRTH', 'inv-a', UNIT_BIRTH));
    node.lose();
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).asked).toEqual([]);
    const later = Array.from({ length: 40 }, (_, n) => node.say('DDATA', 'inv-a', [power(n, AT + n)]));
    expect(hear(...later).asked).toEqual(['valley/gw-7']);
  });

  test('is the command of the standard, and no other', () => {
    const { topic, payload } = rebirthRequest({ group: 'valley', node: 'gw-7' }, AT);
    expect(topic).toBe('spBv1.0/valley/NCMD/gw-7');
    expect(decodePayload(payload)).toMatchObject({
      timestamp: AT,
      metrics: [{ name: 'Node Control/Rebirth', datatype: 11, raw: { form: 'flag', value: true } }],
    });
  });
});
