import { describe, expect, test } from 'vitest';
import { createMessageHearing } from '../../../../ingest/sources/mqtt/heard-message.ts';
import { configFor } from './_rig.ts';

const NOW = Date.UTC(2026, 2, 2);
const delivery = (topic: string, payload: string | Uint8Array) => ({
  topic,
  payload: typeof payload === 'string' ? new TextEncoder().encode(payload) : payload,
  isRetained: false,
  isAgain: false,
  messageId: 1,
});
const hearing = () =>
  createMessageHearing(
    configFor('mqtt://h', {
      wills: [{ topic: 'gateways/{site}/state', silent: 'site' }],
      topics: [
        { reads: 'kilter' },
        {
          reads: 'sparkplug',
          group: 'valley',
          nodes: { 'gw-7': { site: 'millpond', own: null, devices: { a: { kind: 'unit', id: 'u1' } } } },
          metrics: {},
          mayAskForBirth: true,
        },
      ],
    }),
  );

describe('createMessageHearing', () => {
  test('a backfill gives a reading or a refusal for each element, with its place', () => {
    const heard = hearing().hear(
      delivery(
        'kilter/v1/millpond/unit/u1',
        '[{"t":1000,"alarm":"hot","state":"raised"},{"output_power_w":1},{"t":2000,"replaces":true,"revision":3,"mode":"grid"}]',
      ),
      NOW,
    );
    expect(heard.readings).toMatchObject([
      { t: 1000, values: {}, alarm: { alarm: 'hot', state: 'raised' }, replacesBy: null },
      { t: 2000, values: { mode: 'grid' }, alarm: null, replacesBy: 3 },
    ]);
    expect(heard.refused).toEqual([{ what: 'the line has no "t"', remedy: expect.any(String), place: 'element 2' }]);
  });

  test('a last will is an entry too, and says who would be silent', () => {
    const { hear, entries, filters } = hearing();
    expect(entries.at(-1)).toBe('last will on gateways/{site}/state');
    expect(filters).toContain('gateways/+/state');
    const gone = hear(delivery('gateways/millpond/state', 'offline'), NOW);
    expect(gone).toMatchObject({ entries: ['last will on gateways/{site}/state'], readings: [], refused: [] });
    expect(gone.notes).toEqual([expect.stringContaining('millpond is silent')]);
    const back = hear(delivery('gateways/millpond/state', 'online'), NOW);
    expect(back.notes).toEqual(['the gateway says that it is there']);
  });

  test('a node that would be asked to be born again is named, and a clock of a courier', () => {
    const { hear } = hearing();
    const heard = hear(
      delivery(
        'spBv1.0/valley/DDATA/gw-7/a',
        new Uint8Array([0x08, 0x80, 0x08, 0x12, 6, 0x10, 9, 0x20, 3, 0x50, 1, 0x18, 1]),
      ),
      NOW,
    );
    expect(heard.entries).toEqual(['spBv1.0/valley/#']);
    expect(heard.refused).toMatchObject([{ what: expect.stringContaining('alias') }]);
    expect(heard.readings).toEqual([]);
    expect(heard.notes).toContain('node gw-7 of group valley would be asked to be born again; it is not asked now');
    const clock = hear(delivery('kilter/v1/millpond/courier/c1', '{"t":1000,"offset_ms":7000}'), NOW);
    expect(clock.notes).toEqual(['courier c1 of millpond says its clock is off by 7000 ms']);
  });

  test('of bytes that are no text only their number is shown, and a long text is cut', () => {
    const { hear } = hearing();
    expect(hear(delivery('x', new Uint8Array([0, 255, 7])), NOW)).toMatchObject({
      entries: [],
      refused: [],
      payload: '3 bytes that are no text',
    });
    expect(hear(delivery('x', 'é'.repeat(9000)), NOW).payload.length).toBeLessThan(70);
    expect(hear(delivery('x', ''), NOW).payload).toBe('empty');
  });

  test('a payload beyond the limit is refused, not taken for a topic that nothing matches', () => {
    const heard = hearing().hear(delivery('kilter/v1/millpond/unit/u1', new Uint8Array(1024 * 1024 + 1)), NOW);
    expect(heard).toMatchObject({ entries: [], refused: [{ what: 'the payload is 1.0 MiB', place: null }] });
  });
});
