/** What a metric says: its raw value by its datatype. */
import type { RawValue } from './payload.ts';

/** Sparkplug 3.0, 6.4.16: the datatypes whose value is one number, text or truth. */
export const DATATYPE = {
  Int8: 1,
  Int16: 2,
  Int32: 3,
  Int64: 4,
  UInt8: 5,
  UInt16: 6,
  UInt32: 7,
  UInt64: 8,
  Float: 9,
  Double: 10,
  Boolean: 11,
  String: 12,
  DateTime: 13,
  Text: 14,
  UUID: 15,
} as const;

/** Bits and sign of the integer datatypes; a date counts its milliseconds. */
const INTEGERS: ReadonlyMap<number, { readonly bits: number; readonly isSigned: boolean }> = new Map([
  [DATATYPE.Int8, { bits: 8, isSigned: true }],
  [DATATYPE.Int16, { bits: 16, isSigned: true }],
  [DATATYPE.Int32, { bits: 32, isSigned: true }],
  [DATATYPE.Int64, { bits: 64, isSigned: true }],
  [DATATYPE.UInt8, { bits: 8, isSigned: false }],
  [DATATYPE.UInt16, { bits: 16, isSigned: false }],
  [DATATYPE.UInt32, { bits: 32, isSigned: false }],
  [DATATYPE.UInt64, { bits: 64, isSigned: false }],
  [DATATYPE.DateTime, { bits: 64, isSigned: false }],
]);

/** `unread`: a form Kilter stores nothing of. `untyped`: an integer whose datatype, and so whose sign, nobody said. */
export type MetricValue =
  | { readonly is: 'value'; readonly value: number | string | boolean }
  | { readonly is: 'absent' }
  | { readonly is: 'unread' }
  | { readonly is: 'untyped' };

/**
 * Signed integers travel as two's complement in an unsigned field, of 8 or 16 bits by some encoders and of 32 by
 * others: the low bits of the datatype are the number in both.
 *
 * @param datatype of the metric, else of its birth; 0 where neither names one
 * @see Sparkplug 3.0, 6.4.16 (int_value and long_value)
 */
export function metricValue(raw: RawValue, datatype: number): MetricValue {
  switch (raw.form) {
    case 'none':
      return { is: 'absent' };
    case 'other':
      return { is: 'unread' };
    case 'int':
    case 'long': {
      if (datatype === DATATYPE.Boolean) return { is: 'value', value: raw.value !== 0 && raw.value !== 0n };
      const integer = INTEGERS.get(datatype);
      if (integer === undefined) return { is: 'untyped' };
      const { bits, isSigned } = integer;
      const wide = BigInt(raw.value);
      return { is: 'value', value: Number(isSigned ? BigInt.asIntN(bits, wide) : BigInt.asUintN(bits, wide)) };
    }
    default:
      return { is: 'value', value: raw.value };
  }
}
