import { describe, expect, test } from 'vitest';
import { listener } from '../mqtt/_heard.ts';
import { AT, ENTRY, ForeignNode, UNIT_BIRTH } from './_node.ts';

const begun = () => ({ node: new ForeignNode(), ...listener([ENTRY]) });
const born = () => {
  const all = begun();
  all.hear(all.node.birth(), all.node.say('DBIRTH', 'inv-a', UNIT_BIRTH));
  return all;
};
const power = (value: number, timestamp = AT + 10_000) => ({ alias: 1, type: 'Int32', value, timestamp });
const at = (ms: number): string => new Date(AT + ms).toISOString();

describe('createSparkplugReader', () => {
  test('a birth is a reading, and data by alias is read as the birth named it', () => {
    const { node, hear } = begun();
    const heard = hear(
      node.birth(),
      node.say('DBIRTH', 'inv-a', UNIT_BIRTH),
      node.say('DDATA', 'inv-a', [power(-5), { alias: 2, type: 'UInt16', value: 2301, timestamp: AT + 10_000 }]),
    );
    expect(heard.refused).toEqual([]);
    expect(heard.readings).toEqual([
      { source: 'millpond/unit/u1', t: at(0), values: { output_power_w: 1215, grid_voltage_v: 229.8, mode: 'grid' } },
      { source: 'millpond/unit/u1', t: at(10_000), values: { output_power_w: -5, grid_voltage_v: 230.1 } },
    ]);
  });

  test('each time that the metrics carry is a reading of its own; without one that of the payload counts', () => {
    const { node, hear } = born();
    const { readings } = hear(
      node.say('DDATA', 'inv-a', [
        power(1, AT + 1000),
        { alias: 3, type: 'UInt8', value: 3, timestamp: AT + 2000 },
        { alias: 2, type: 'UInt16', value: 2300 },
      ]),
    );
    expect(readings.map(({ t, values }) => [t, values])).toEqual([
      [at(1000), { output_power_w: 1 }],
      [at(2000), { mode: 'backup' }],
      [at(0), { grid_voltage_v: 230 }],
    ]);
  });

  test('two values of one metric and time are two claims, for the intake to decide', () => {
    const { node, hear } = born();
    const { readings } = hear(node.say('DDATA', 'inv-a', [power(1), power(2)]));
    expect(readings.map(({ values }) => values)).toEqual([{ output_power_w: 1 }, { output_power_w: 2 }]);
  });

  test('null is absent, historical metrics are readings, and nothing is carried forward', () => {
    const { node, hear } = born();
    const heard = hear(
      node.say('DDATA', 'inv-a', [{ alias: 1, type: 'Int32', value: null, isNull: true, timestamp: AT + 5000 }]),
      node.say('DDATA', 'inv-a', [{ ...power(800, AT - 60_000), isHistorical: true }]),
    );
    expect(heard.readings).toEqual([
      { source: 'millpond/unit/u1', t: at(5000), values: {} },
      { source: 'millpond/unit/u1', t: at(-60_000), values: { output_power_w: 800 } },
    ]);
  });

  test('metrics in no map are kept beside the quantities; those of the protocol are not', () => {
    const { node, hear } = begun();
    const { readings } = hear(
      node.birth(),
      node.say('DBIRTH', 'bat-1', [
        { name: 'SoC', type: 'Float', value: 71.3, timestamp: AT },
        { name: 'Door', type: 'String', value: 'open', timestamp: AT },
        { name: 'Total', type: 'UInt64', value: 4_294_967_296_123, timestamp: AT },
        { name: 'Device Control/Reboot', type: 'Boolean', value: false, timestamp: AT },
        { name: 'Output/Power', type: 'Int32', value: -1, timestamp: AT },
        { name: 'cycles', type: 'UInt16', value: 12, timestamp: AT },
      ]),
    );
    expect(readings).toEqual([
      {
        source: 'millpond/pack/p1',
        t: at(0),
        values: { soc_pct: 71.3, cycles: 12 },
        extras: { Door: 'open', Total: 4_294_967_296_123, 'Output/Power': -1 },
      },
    ]);
  });

  test('data after lost messages is stored while the aliases hold, and the loss is counted', () => {
    const { node, hear, reader } = born();
    node.lose(3);
    expect(hear(node.say('DDATA', 'inv-a', [power(7)])).readings).toHaveLength(1);
    expect(reader.entries[0]?.parts()[0]).toMatchObject({
      isAnswering: true,
      trouble: '3 messages were lost on the way',
    });
  });

  test('messages that overtook one another are not lost', () => {
    const { node, hear, reader } = born();
    const [a, b, c] = [1, 2, 3].map((n) => node.say('DDATA', 'inv-a', [power(n, AT + n)]));
    expect(hear(c!, a!, b!).readings).toHaveLength(3);
    expect(reader.entries[0]?.parts()[0]?.trouble).toBeNull();
  });

  test('after a death that matches the birth data is refused until the next birth', () => {
    const { node, hear, reader } = born();
    hear(node.death());
    expect(hear(node.say('DDATA', 'inv-a', [power(1)]))).toMatchObject({
      readings: [],
      refused: ['inv-a was said to be dead and has not been born again'],
    });
    expect(reader.entries[0]?.parts()[0]).toMatchObject({
      isAnswering: false,
      trouble: 'the broker published its death',
    });
    hear(node.birth());
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).refused).toHaveLength(1);
    expect(hear(node.say('DBIRTH', 'inv-a', UNIT_BIRTH), node.say('DDATA', 'inv-a', [power(1)])).readings).toHaveLength(
      2,
    );
  });

  test('a death of an earlier connection is ignored', () => {
    const { node, hear } = begun();
    node.birth();
    hear(node.birth(), node.say('DBIRTH', 'inv-a', UNIT_BIRTH), node.death(0));
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).readings).toHaveLength(1);
    hear(node.death(1));
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).readings).toHaveLength(0);
  });

  test('the death of a device concerns that device alone', () => {
    const { node, hear, reader } = born();
    hear(
      node.say('DBIRTH', 'bat-1', [{ name: 'SoC', alias: 9, type: 'Float', value: 50, timestamp: AT }]),
      node.say('DDEATH', 'inv-a'),
    );
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).refused).toHaveLength(1);
    expect(
      hear(node.say('DDATA', 'bat-1', [{ alias: 9, type: 'Float', value: 51, timestamp: AT + 1 }])).readings,
    ).toHaveLength(1);
    expect(reader.entries[0]?.parts()[0]?.trouble).toBe('dead: inv-a');
  });

  test('a rebirth on the same connection gives new aliases and ends the old ones', () => {
    const { node, hear } = born();
    hear(node.birth('same'));
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).refused).toEqual([
      'a metric comes by an alias that no birth named',
    ]);
    hear(node.say('DBIRTH', 'inv-a', [{ name: 'Grid/Voltage', alias: 1, type: 'UInt16', value: 2300, timestamp: AT }]));
    const { readings } = hear(
      node.say('DDATA', 'inv-a', [{ alias: 1, type: 'UInt16', value: 2311, timestamp: AT + 9 }]),
    );
    expect(readings[0]?.values).toEqual({ grid_voltage_v: 231.1 });
  });

  test('before a birth was heard only metrics that say all of themselves are read', () => {
    const { node, hear, reader } = begun();
    const named = { name: 'Output/Power', type: 'Int32', value: -3, timestamp: AT };
    expect(hear(node.say('DDATA', 'inv-a', [named])).readings[0]?.values).toEqual({ output_power_w: -3 });
    expect(hear(node.say('DDATA', 'inv-a', [power(1)])).refused).toHaveLength(1);
    expect(reader.entries[0]?.parts()[0]?.trouble).toContain('birth was not heard yet');
  });

  test('what no map names is refused by name; commands go by unread', () => {
    const { node, hear } = begun();
    const stranger = new ForeignNode('gw-9');
    const heard = hear(
      stranger.birth(),
      node.say('DDATA', 'inv-z', [power(1)]),
      { topic: 'spBv1.0/valley/NCMD/gw-7', payload: Uint8Array.of(1, 2, 3) },
      { topic: 'spBv1.0/valley/NOISE/gw-7', payload: Uint8Array.of() },
      { topic: 'spBv1.0/valley/DDATA/gw-7/inv-a', payload: Uint8Array.of(0x12, 0x7f, 0) },
    );
    expect(heard.readings).toEqual([]);
    expect(heard.refused.map((what) => what.slice(0, 48))).toEqual([
      'node "gw-9" of group valley is in no map',
      'device "inv-z" of node gw-7 is in no map',
      '"NOISE" is no message of Sparkplug B',
      'the payload is no Sparkplug B payload: a metric ',
    ]);
  });

  test('metrics of the node itself are read where the map says what it is', () => {
    const node = new ForeignNode();
    const own = { site: 'millpond', own: { kind: 'meter' as const, id: 'm1' }, devices: {} };
    const { hear } = listener([{ ...ENTRY, nodes: { 'gw-7': own } }]);
    const { readings } = hear(node.birth('new', [{ name: 'meter_power_w', type: 'Int16', value: -40, timestamp: AT }]));
    expect(readings).toEqual([{ source: 'millpond/meter/m1', t: at(0), values: { meter_power_w: -40 } }]);
  });

  test('a value that can not be refuses its reading; NaN and data sets are left out and counted', () => {
    const { node, hear, reader } = born();
    const heard = hear(
      node.say('DDATA', 'inv-a', [{ alias: 1, type: 'Boolean', value: true, timestamp: AT + 1 }]),
      node.say('DDATA', 'inv-a', [{ alias: 1, type: 'Float', value: Number.NaN, timestamp: AT + 2 }]),
      node.say('DDATA', 'inv-a', [
        {
          name: 'Table',
          type: 'DataSet',
          value: { numOfColumns: 1, columns: ['a'], types: ['Int32'], rows: [[1]] },
          timestamp: AT + 3,
        },
      ]),
      node.say('DDATA', 'inv-a', [power(1)], { timestamp: undefined as never }),
    );
    expect(heard.refused).toEqual(['metric Output/Power: output_power_w is true']);
    expect(heard.readings.map(({ values }) => values)).toEqual([{}, { output_power_w: 1 }]);
    expect(reader.entries[0]?.parts().at(-1)?.trouble).toBe(
      'output_power_w is NaN, taken as absent (1 ×); data sets, templates, bytes and files are not read (1 ×)',
    );
  });
});
