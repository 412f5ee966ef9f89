import { HEADER, MODELS } from '../../../../ingest/wire/sunspec/models.ts';
import { createMemoryDevice, type MemoryDevice } from '../modbus/_device.ts';

/** Points by name; names of a repeated group as `2.StrA`. Numbers are raw; a string fills its registers. */
export interface ModelPlan {
  readonly model: number;
  readonly points?: Readonly<Record<string, number | bigint | string>>;
  /** Registers after the header, where they differ from the standard. */
  readonly length?: number;
  readonly groups?: number;
}

const NOT_IMPLEMENTED: Readonly<Record<string, readonly number[]>> = {
  int16: [0x8000],
  sunssf: [0x8000],
  acc32: [0, 0],
  string: [0],
  pad: [0x8000],
  float32: [0x7fc0, 0],
};

export function floatWords(value: number): number[] {
  const view = new DataView(new ArrayBuffer(4));
  view.setFloat32(0, value);
  return [view.getUint16(0), view.getUint16(2)];
}

function wordsOf(type: string, size: number, value: number | bigint | string | undefined): number[] {
  if (value === undefined) {
    const pattern = NOT_IMPLEMENTED[type] ?? [0xffff];
    return Array.from({ length: size }, (_, k) => pattern[Math.min(k, pattern.length - 1)]!);
  }
  if (typeof value === 'string')
    return Array.from(
      { length: size },
      (_, k) => ((value.charCodeAt(2 * k) || 0) << 8) | value.charCodeAt(2 * k + 1) || 0,
    );
  if (type === 'float32') return floatWords(Number(value));
  const bits = BigInt.asUintN(16 * size, BigInt(value));
  return Array.from({ length: size }, (_, k) => Number((bits >> BigInt(16 * (size - 1 - k))) & 0xffffn));
}

function modelWords({ model, points = {}, length, groups = 0 }: ModelPlan): number[] {
  const table = MODELS.get(model);
  if (table === undefined) return [model, length ?? 4, ...new Array<number>(length ?? 4).fill(7)];
  const words: number[] = [];
  for (const point of table.fixed.points.values()) words.push(...wordsOf(point.type, point.size, points[point.name]));
  while (words.length < table.fixed.size) words.push(0x8000);
  for (let k = 1; k <= groups; k += 1) {
    const start = words.length;
    for (const point of table.repeated?.group.points.values() ?? [])
      words.push(...wordsOf(point.type, point.size, points[`${k}.${point.name}`]));
    while (words.length < start + (table.repeated?.group.size ?? 0)) words.push(0x8000);
  }
  const registers = length ?? words.length - HEADER;
  words[0] = model;
  words[1] = registers;
  return words.slice(0, HEADER + registers);
}

/** A device with these models in a chain, everything else not implemented. */
export function createSunspecDevice(
  models: readonly ModelPlan[],
  { base = 40_000, hasEnd = true }: { base?: number; hasEnd?: boolean } = {},
): MemoryDevice {
  const words = [0x5375, 0x6e53, ...models.flatMap(modelWords), ...(hasEnd ? [0xffff, 0] : [])];
  return createMemoryDevice({ [base]: words });
}
