import { describe, expect, test } from 'vitest';
import {
  appendReading,
  appendText,
  createLayout,
  createSink,
  csvHeader,
  csvQuantities,
} from '../../../ingest/demo/log-lines.ts';
import { COLUMNS, columnOf, MODES } from '../../../ingest/vocabulary/quantities.ts';

const T = Date.UTC(2026, 2, 2, 6, 0, 3, 125);
const text = (sink: { bytes: Uint8Array; length: number }) =>
  new TextDecoder().decode(sink.bytes.subarray(0, sink.length));

function unitValues(values: Readonly<Record<string, number>>): Float64Array {
  const array = new Float64Array(COLUMNS.unit.length).fill(Number.NaN);
  for (const [id, value] of Object.entries(values)) array[columnOf('unit', id)!.index] = value;
  return array;
}

describe('appendReading', () => {
  test('a reading is one JSON line; what is absent is left out', () => {
    const sink = createSink(16);
    const layout = createLayout('unit', 'mill', 'u1', csvQuantities('unit'), 'ndjson', 'rfc3339');
    appendReading(
      sink,
      layout,
      T,
      unitValues({
        grid_voltage_v: 229.84,
        output_power_w: -12.6,
        output_energy_wh: 12_345_678,
        grid_power_w: -0.2,
        mode: MODES.indexOf('backup'),
      }),
    );
    expect(JSON.parse(text(sink))).toEqual({
      t: '2026-03-02T06:00:03.125Z',
      site: 'mill',
      unit: 'u1',
      grid_voltage_v: 229.8,
      grid_power_w: 0,
      output_power_w: -13,
      output_energy_wh: 12_345_678,
      mode: 'backup',
    });
    expect(text(sink).endsWith('}\n')).toBe(true);
  });

  test('every number of decimals is written as it is rounded, across the table of ready texts', () => {
    const layout = createLayout('pack', 'mill', 'p1', csvQuantities('pack'), 'ndjson', 'epoch_ms');
    for (const value of [0, 0.004, 3.3285, 9.9996, 53.24, 99.995, 100.005, 12_345.678]) {
      const sink = createSink();
      const values = new Float64Array(COLUMNS.pack.length).fill(value);
      values[columnOf('pack', 'pack_state')!.index] = 3;
      appendReading(sink, layout, T, values);
      const line = JSON.parse(text(sink));
      for (const column of COLUMNS.pack) {
        if (column.words === null)
          expect(line[column.id]).toBe(Math.round(value * 10 ** column.decimals) / 10 ** column.decimals);
      }
      expect(line.t).toBe(T);
      expect(line.pack_state).toBe('discharging');
    }
  });

  test('in CSV every column of the kind has its place', () => {
    const sink = createSink(16);
    appendText(sink, csvHeader('unit'));
    const layout = createLayout('unit', 'mill', 'u2', csvQuantities('unit'), 'csv', 'rfc3339');
    appendReading(sink, layout, T, unitValues({ output_power_w: 1215, mode: MODES.indexOf('grid') }));
    const [head, row] = text(sink)
      .trimEnd()
      .split('\n')
      .map((line) => line.split(','));
    expect(row).toHaveLength(head!.length);
    expect(row!.slice(0, 3)).toEqual(['2026-03-02T06:00:03.125Z', 'mill', 'u2']);
    expect(row![head!.indexOf('output_power_w')]).toBe('1215');
    expect(row![head!.indexOf('mode')]).toBe('grid');
    expect(row![head!.indexOf('grid_voltage_v')]).toBe('');
  });

  test('a quantity that the kind does not have is refused', () => {
    expect(() => createLayout('pack', 'mill', 'p1', ['output_power_w'], 'ndjson', 'rfc3339')).toThrow(
      'a pack has no such quantity',
    );
  });
});
