import { describe, expect, test } from 'vitest';
import { MODELS } from '../../ingest/wire/sunspec/models.ts';
import { decodePoint, type PointTypeName } from '../../ingest/wire/sunspec/point-types.ts';

const JSON_SOURCE = 'github.com/sunspec/models at 7abdf8982d5364f8ae916deee18aac86c11be36d';
const MB_SOURCE = 'github.com/sunspec/pysunspec2, sunspec2/mb.py, unimplemented values';

/** Offsets count from the id register of the model. */
const OFFSETS = [
  { source: `${JSON_SOURCE}, model_1.json`, model: 1, point: 'Vr', offset: 42, length: 66 },
  { source: `${JSON_SOURCE}, model_1.json`, model: 1, point: 'SN', offset: 50, length: 66 },
  { source: `${JSON_SOURCE}, model_103.json`, model: 103, point: 'W', offset: 14, length: 50 },
  { source: `${JSON_SOURCE}, model_103.json`, model: 103, point: 'WH', offset: 24, length: 50 },
  { source: `${JSON_SOURCE}, model_103.json`, model: 103, point: 'St', offset: 38, length: 50 },
  { source: `${JSON_SOURCE}, model_113.json`, model: 113, point: 'W', offset: 22, length: 60 },
  { source: `${JSON_SOURCE}, model_113.json`, model: 113, point: 'St', offset: 48, length: 60 },
  { source: `${JSON_SOURCE}, model_701.json`, model: 701, point: 'DERMode', offset: 8, length: 153 },
  { source: `${JSON_SOURCE}, model_701.json`, model: 701, point: 'TotWhInj', offset: 19, length: 153 },
  { source: `${JSON_SOURCE}, model_701.json`, model: 701, point: 'VL1', offset: 47, length: 153 },
  { source: `${JSON_SOURCE}, model_701.json`, model: 701, point: 'Tmp_SF', offset: 122, length: 153 },
  { source: `${JSON_SOURCE}, model_713.json`, model: 713, point: 'SoC', offset: 4, length: 7 },
  { source: `${JSON_SOURCE}, model_802.json`, model: 802, point: 'SoC', offset: 11, length: 62 },
  { source: `${JSON_SOURCE}, model_802.json`, model: 802, point: 'A', offset: 44, length: 62 },
  { source: `${JSON_SOURCE}, model_802.json`, model: 802, point: 'A_SF', offset: 61, length: 62 },
  { source: `${JSON_SOURCE}, model_803.json`, model: 803, point: 'ModTmpMin', offset: 7, length: 26 },
  { source: `${JSON_SOURCE}, model_803.json`, model: 803, point: 'SoC_SF', offset: 26, length: 26 },
] as const;

describe('MODELS', () => {
  test.each(OFFSETS)('$model $point stands at $offset ($source)', ({ model, point, offset, length }) => {
    expect(MODELS.get(model)?.fixed.points.get(point)?.offset).toBe(offset);
    expect(MODELS.get(model)?.fixed.size).toBe(length + 2);
  });
});

const SENTINELS: readonly { source: string; type: PointTypeName; words: readonly number[]; value?: unknown }[] = [
  { source: MB_SOURCE, type: 'int16', words: [0x8000] },
  { source: MB_SOURCE, type: 'uint16', words: [0xffff] },
  { source: MB_SOURCE, type: 'acc16', words: [0] },
  { source: MB_SOURCE, type: 'enum16', words: [0xffff] },
  { source: MB_SOURCE, type: 'bitfield16', words: [0xffff] },
  { source: MB_SOURCE, type: 'sunssf', words: [0x8000] },
  { source: MB_SOURCE, type: 'int32', words: [0x8000, 0] },
  { source: MB_SOURCE, type: 'uint32', words: [0xffff, 0xffff] },
  { source: MB_SOURCE, type: 'acc32', words: [0, 0] },
  { source: MB_SOURCE, type: 'enum32', words: [0xffff, 0xffff] },
  { source: MB_SOURCE, type: 'bitfield32', words: [0xffff, 0xffff] },
  { source: MB_SOURCE, type: 'ipaddr', words: [0, 0] },
  { source: MB_SOURCE, type: 'int64', words: [0x8000, 0, 0, 0] },
  { source: MB_SOURCE, type: 'uint64', words: [0xffff, 0xffff, 0xffff, 0xffff] },
  { source: MB_SOURCE, type: 'acc64', words: [0, 0, 0, 0] },
  { source: MB_SOURCE, type: 'ipv6addr', words: [0, 0, 0, 0, 0, 0, 0, 0] },
  { source: MB_SOURCE, type: 'float32', words: [0x7fc0, 0] },
  { source: 'IEEE 754: any other NaN', type: 'float32', words: [0xffc0, 1] },
  { source: MB_SOURCE, type: 'float64', words: [0x7ff8, 0, 0, 0] },
  { source: MB_SOURCE, type: 'string', words: [0, 0x4142] },
  { source: MB_SOURCE, type: 'eui48', words: [0, 0xffff, 0xffff, 0xffff] },
  { source: 'derived: a pad holds nothing', type: 'pad', words: [7] },
  // One step beside the pattern is a value.
  { source: 'derived: one beside the pattern', type: 'int16', words: [0x8001], value: -32767 },
  { source: 'derived: one beside the pattern', type: 'uint16', words: [0xfffe], value: 65534 },
  { source: 'derived: one beside the pattern', type: 'acc32', words: [0, 1], value: 1 },
  { source: 'derived: registers high word first', type: 'int32', words: [0xffff, 0xfffe], value: -2 },
  { source: 'derived: registers high word first', type: 'uint64', words: [0, 0, 1, 2], value: 65538n },
  { source: 'IEEE 754: 1.0 is 3F800000', type: 'float32', words: [0x3f80, 0], value: 1 },
  { source: 'ASCII', type: 'string', words: [0x5375, 0x6e53], value: 'SunS' },
];

describe('decodePoint', () => {
  test.each(SENTINELS)('$type $words ($source)', ({ type, words, value = null }) => {
    expect(decodePoint(type, Uint16Array.from(words))).toEqual(value);
  });
});
