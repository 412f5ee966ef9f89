/** What was read, value by value: raw and decoded, for a person who writes a profile. */
import type { SettingValue } from '../../vocabulary/reading.ts';
import { ModelView, type PlacedModel, repeatedStart, spanOf } from '../sunspec/model-view.ts';
import { HEADER, MODELS } from '../sunspec/models.ts';
import type { FoundModel } from './device-talk.ts';
import type { RegisterTable } from './dialogue.ts';
import type { Profile } from './profile.ts';
import { planRegister, planSetting } from './profile-values.ts';
import type { WordSample } from './propose-word-order.ts';
import { rawTypeOf } from './raw-value.ts';
import type { RegisterImage } from './register-image.ts';

export interface ValueRow {
  /** Quantity, key of a setting, or model and point. */
  readonly name: string;
  readonly table: RegisterTable;
  readonly address: number;
  /** The registers as they came; null: not read. */
  readonly words: readonly number[] | null;
  /** As a number or text, before states, factor and scale; null: not read, or not implemented. 64-bit as text. */
  readonly raw: number | string | null;
  /** Null: absent. */
  readonly value: SettingValue | null;
  /** Why there is no value, where there is a reason beyond "absent". */
  readonly why: string | null;
}

const listOf = (words: Uint16Array | null | undefined): readonly number[] | null =>
  words === null || words === undefined ? null : [...words];
/** JSON has no NaN. */
const shown = (raw: number | string | null): number | string | null =>
  typeof raw === 'number' && !Number.isFinite(raw) ? String(raw) : raw;

export function profileRows(profile: Profile, image: RegisterImage): readonly ValueRow[] {
  const entries = [
    ...profile.registers.map((register) => ({
      name: register.quantity,
      place: register,
      plan: planRegister(register, profile),
    })),
    ...profile.settings.map((setting) => ({ name: setting.key, place: setting, plan: planSetting(setting, profile) })),
  ];
  return entries.map(({ name, place, plan }) => {
    const { raw, value, fault } = plan.decode(image);
    const words = listOf(image.at(plan.spans[0]!));
    return { name, table: place.table, address: place.address, words, raw: shown(raw), value, why: fault };
  });
}

/** Values of several registers, for a proposal of their order. */
export function wordSamples(profile: Profile, images: readonly RegisterImage[]): readonly WordSample[] {
  return profile.registers.flatMap((register): WordSample[] => {
    const type = register.type === undefined ? null : rawTypeOf(register.type);
    if (type === null || type.number === null || type.registers < 2) return [];
    const { quantity: name, table, address, byte_order: bytes = profile.byte_order } = register;
    const reads = images.map((image) => image.at({ table, address, count: type.registers }));
    return [{ name, type: type.number, bytes, reads: reads.filter((read) => read !== null) }];
  });
}

/** Every point that was read of the models that are known, in the order of the chain. */
export function pointRows(models: readonly FoundModel[], image: RegisterImage): readonly ValueRow[] {
  return models.flatMap((found): ValueRow[] => {
    const table = MODELS.get(found.model);
    if (table === undefined) return [];
    const placed: PlacedModel = { ...found, table, group: '' };
    const room = found.length + HEADER - table.fixed.size;
    const groups = table.repeated === null ? 0 : Math.max(0, Math.floor(room / table.repeated.group.size));
    return [null, ...Array.from({ length: groups }, (_, k) => k + 1)].flatMap((number) =>
      groupRows(placed, image, number),
    );
  });
}

function groupRows(placed: PlacedModel, image: RegisterImage, number: number | null): ValueRow[] {
  const { model, table } = placed;
  const points = number === null ? table.fixed.points : (table.repeated?.group.points ?? new Map());
  const start = number === null ? 0 : repeatedStart(placed, number);
  let why: string | null = null;
  const refuse = (_: string, said: string): void => {
    why = said;
  };
  const view = new ModelView(placed, image, refuse, number);
  const rows: ValueRow[] = [];
  for (const point of points.values()) {
    const span = spanOf(placed, point, start);
    const words = span === null ? null : image.at(span);
    if (words === null || span === null || point.type === 'pad') continue;
    why = null;
    const raw = view.raw(point.name);
    const value = typeof raw === 'string' ? raw : view.value(point.name);
    const name = number === null ? `${model} ${point.name}` : `${model} string ${number} ${point.name}`;
    const isBig = typeof raw === 'bigint';
    rows.push({
      name,
      table: 'holding',
      address: span.address,
      words: [...words],
      raw: isBig ? String(raw) : raw,
      value,
      why,
    });
  }
  return rows;
}
