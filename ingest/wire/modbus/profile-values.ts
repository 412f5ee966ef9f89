/** What the registers of a profile say, once they are read. */
import type { SettingValue } from '../../vocabulary/reading.ts';
import type { Span } from './block-plan.ts';
import type { Profile, ProfileRegister, ProfileSetting } from './profile.ts';
import { type NumberType, rawNumber, rawText, rawTypeOf, scaleBy, scaleByTen, type WordOrders } from './raw-value.ts';
import type { RegisterImage } from './register-image.ts';

type Entry = Omit<ProfileRegister, 'quantity' | 'states' | 'poll_group'> & {
  readonly states?: Readonly<Record<string, SettingValue>> | undefined;
};

/** One register entry, ready to be read and decoded. */
export interface EntryPlan {
  /** The value, and where there is one its scale register. */
  readonly spans: readonly Span[];
  decode(image: RegisterImage): EntryValue;
}

export interface EntryValue {
  /** After `bits`, before `states` and `factor`; null where it was not read. */
  readonly raw: number | string | null;
  /** Null: absent. */
  readonly value: SettingValue | null;
  /** Why a value that was read is not taken; null where it is, or says itself that it is absent. */
  readonly fault: string | null;
}

const NOT_READ: EntryValue = { raw: null, value: null, fault: null };
/** SunSpec's range for scale factors; beyond it a register is no exponent. */
const MOST_EXPONENT = 10;
/** A double as a number is shown: 15 digits are all that it holds of a decimal. */
const DIGITS = 15;

function spanOf(
  {
    table,
    address,
    type,
  }: { readonly table: Span['table']; readonly address: number; readonly type?: string | undefined },
  group: string,
): Span {
  const isBit = table === 'coil' || table === 'discrete';
  return { table, address, count: isBit ? 1 : (rawTypeOf(type ?? '')?.registers ?? 1), group };
}

function numberTypeOf(type: string | undefined): NumberType | null {
  // A coil or discrete input has no type: it is 0 or 1.
  return type === undefined ? 'uint16' : (rawTypeOf(type)?.number ?? null);
}

/** @param group  as in `Span` */
export function planEntry(entry: Entry, profile: Profile, group: string): EntryPlan {
  const orders: WordOrders = {
    words: entry.word_order ?? profile.word_order,
    bytes: entry.byte_order ?? profile.byte_order,
  };
  const span = spanOf(entry, group);
  const scale = entry.scale_register;
  const scaleSpan = scale === undefined ? null : spanOf(scale, group);
  const type = numberTypeOf(entry.type);
  return {
    spans: scaleSpan === null ? [span] : [span, scaleSpan],
    decode(image) {
      const words = image.at(span);
      if (words === null) return NOT_READ;
      if (type === null) {
        const text = rawText(words, orders.bytes);
        return { raw: text, value: text === '' ? null : text, fault: null };
      }
      const raw = rawNumber(type, words, orders, entry.bits);
      if (!Number.isFinite(raw) || isAbsent(raw, type, entry.absent)) return { raw, value: null, fault: null };
      if (entry.states !== undefined) return stateOf(raw, entry.states);
      const scaled = scaleBy(raw, entry.factor ?? 1);
      if (scaleSpan === null) return { raw, value: plain(scaled), fault: null };
      const scaleWords = image.at(scaleSpan);
      if (scaleWords === null) return { raw, value: null, fault: null };
      const exponent = rawNumber(numberTypeOf(scale?.type) ?? 'int16', scaleWords, orders);
      if (Math.abs(exponent) > MOST_EXPONENT)
        return { raw, value: null, fault: `the scale register says 10^${exponent}` };
      return { raw, value: plain(scaleByTen(scaled, exponent)), fault: null };
    },
  };
}

function isAbsent(raw: number, type: NumberType, absent: readonly number[] | undefined): boolean {
  if (absent === undefined) return false;
  // 0.1 in a profile is a double; in a register of 32 bits it is another number.
  return absent.some((value) => raw === (type === 'float32' ? Math.fround(value) : value));
}

function stateOf(raw: number, states: Readonly<Record<string, SettingValue>>): EntryValue {
  const key = String(raw);
  const value = Object.hasOwn(states, key) ? states[key] : undefined;
  return value === undefined
    ? { raw, value: null, fault: `its raw value ${key} is in no map` }
    : { raw, value, fault: null };
}

/** 3 × 0.15 as 0.45: settings are compared as they are sent. Whole numbers are exact as they are. */
function plain(value: number): number {
  return Number.isInteger(value) ? value : Number(value.toPrecision(DIGITS));
}

export function planRegister(register: ProfileRegister, profile: Profile): EntryPlan {
  return planEntry(register, profile, register.poll_group ?? '');
}

export function planSetting(setting: ProfileSetting, profile: Profile): EntryPlan {
  return planEntry(setting, profile, '');
}
