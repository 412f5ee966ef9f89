import { describe, expect, test } from 'vitest';
import { createSilences } from '../../../../ingest/sources/mqtt/_silences.ts';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const AT = Date.UTC(2026, 2, 2, 6);

describe('createSilences', () => {
  test('whatever is published on the topic of a will says that it is gone, unless it says that it is there', () => {
    const silences = createSilences([{ topic: 'gw/state', silent: 'millpond' }]);
    const isSilent = (payload: string): boolean => {
      silences.hear('gw/state', bytes(payload), AT);
      return silences.parts()[0]?.isAnswering === false;
    };
    for (const there of [
      'online',
      ' ONLINE ',
      '1',
      'true',
      '"online"',
      '{"state":"online"}',
      '{"online":true,"t":5}',
      '',
    ])
      expect([there, isSilent('gone'), isSilent(there)]).toEqual([there, true, false]);
    for (const gone of ['offline', '0', '{"online":false,"name":"gw"}', '{', '[]', '{"t":1}'])
      expect([gone, isSilent('online'), isSilent(gone)]).toEqual([gone, false, true]);
  });

  test('levels of the topic name who is silent, and only a later reading of it ends that', () => {
    const silences = createSilences([{ topic: '{site}/{unit}/lwt', silent: 'unit' }]);
    expect(silences.filters).toEqual(['+/+/lwt']);
    silences.hear('millpond/u1/lwt', bytes('gone'), AT);
    const isSilent = (): boolean => silences.parts()[0]?.isAnswering === false;
    expect(silences.parts()).toEqual([
      {
        name: 'last will on millpond/u1/lwt',
        isAnswering: false,
        lastReadingAt: null,
        trouble: 'the broker has published it at 2026-03-02T06:00:00.000Z: millpond, unit u1 is silent',
      },
    ]);
    silences.heard({ site: 'millpond', kind: 'unit', id: 'u2' }, AT + 1);
    silences.heard({ site: 'millpond', kind: 'unit', id: 'u1' }, AT - 1);
    expect(isSilent()).toBe(true);
    silences.heard({ site: 'millpond', kind: 'unit', id: 'u1' }, AT + 1);
    expect(isSilent()).toBe(false);
  });
});
