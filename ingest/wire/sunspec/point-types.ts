/**
 * The types of SunSpec points: how many registers, and which pattern says "not implemented".
 *
 * @see SunSpec Device Information Model Specification, point types; the patterns as in github.com/sunspec/pysunspec2,
 *      sunspec2/mb.py
 */

export type PointValue = number | bigint | string;

interface PointType {
  /** Registers; null: as many as the point says. */
  readonly size: number | null;
  /** Null: not implemented. 64-bit integers come as bigint. */
  readonly decode: (view: DataView) => PointValue | null;
}

const unlessEqual = <T extends number | bigint>(value: T, sentinel: T): T | null => (value === sentinel ? null : value);
const signed16 = (view: DataView) => unlessEqual(view.getInt16(0), -0x8000);
const unsigned16 = (view: DataView) => unlessEqual(view.getUint16(0), 0xffff);
const unsigned32 = (view: DataView) => unlessEqual(view.getUint32(0), 0xffff_ffff);
const unsigned64 = (view: DataView) => unlessEqual(view.getBigUint64(0), 0xffff_ffff_ffff_ffffn);
/** NaN says "not implemented", and an infinity is no measurement. */
const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** Bytes up to the first zero; none: not implemented. */
function text(view: DataView): string | null {
  let read = '';
  for (let k = 0; k < view.byteLength && view.getUint8(k) !== 0; k += 1) {
    const byte = view.getUint8(k);
    read += byte >= 32 && byte < 127 ? String.fromCharCode(byte) : '?';
  }
  return read.trim() === '' ? null : read.trim();
}

/** Bytes as hexadecimal pairs, or null where all of them are `empty`. */
function pairs(view: DataView, from: number, empty: number): string | null {
  const bytes = Array.from({ length: view.byteLength - from }, (_, k) => view.getUint8(from + k));
  if (bytes.every((byte) => byte === empty)) return null;
  return bytes.map((byte) => byte.toString(16).padStart(2, '0')).join(':');
}

const POINT_TYPES = {
  int16: { size: 1, decode: signed16 },
  uint16: { size: 1, decode: unsigned16 },
  /** A bare register: every pattern is a value. */
  raw16: { size: 1, decode: (view) => view.getUint16(0) },
  acc16: { size: 1, decode: (view) => unlessEqual(view.getUint16(0), 0) },
  enum16: { size: 1, decode: unsigned16 },
  bitfield16: { size: 1, decode: unsigned16 },
  count: { size: 1, decode: unsigned16 },
  sunssf: { size: 1, decode: signed16 },
  pad: { size: 1, decode: () => null },
  int32: { size: 2, decode: (view) => unlessEqual(view.getInt32(0), -0x8000_0000) },
  uint32: { size: 2, decode: unsigned32 },
  acc32: { size: 2, decode: (view) => unlessEqual(view.getUint32(0), 0) },
  enum32: { size: 2, decode: unsigned32 },
  bitfield32: { size: 2, decode: unsigned32 },
  float32: { size: 2, decode: (view) => finite(view.getFloat32(0)) },
  ipaddr: { size: 2, decode: (view) => pairs(view, 0, 0) },
  int64: { size: 4, decode: (view) => unlessEqual(view.getBigInt64(0), -0x8000_0000_0000_0000n) },
  uint64: { size: 4, decode: unsigned64 },
  acc64: { size: 4, decode: (view) => unlessEqual(view.getBigUint64(0), 0n) },
  bitfield64: { size: 4, decode: unsigned64 },
  float64: { size: 4, decode: (view) => finite(view.getFloat64(0)) },
  /** Six bytes in four registers: the first two bytes are padding. */
  eui48: { size: 4, decode: (view) => pairs(view, 2, 0xff) },
  ipv6addr: { size: 8, decode: (view) => pairs(view, 0, 0) },
  string: { size: null, decode: text },
} as const satisfies Readonly<Record<string, PointType>>;
export type PointTypeName = keyof typeof POINT_TYPES;

export function isPointType(name: string): name is PointTypeName {
  return Object.hasOwn(POINT_TYPES, name);
}

/** Registers of a type; null of a string, which says itself how long it is. */
export function sizeOf(type: PointTypeName): number | null {
  return POINT_TYPES[type].size;
}

/** What the registers of a point say; null: not implemented. Registers are big-endian, high word first. */
export function decodePoint(type: PointTypeName, words: Uint16Array): PointValue | null {
  const view = new DataView(new ArrayBuffer(words.length * 2));
  for (let k = 0; k < words.length; k += 1) view.setUint16(2 * k, words[k]!);
  return POINT_TYPES[type].decode(view);
}
