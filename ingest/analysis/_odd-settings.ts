/** Which unit's setting is the odd one. */
import type { SiteRecord, UnitRecord } from '../site/record.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import { settingKey } from './_setting-values.ts';

export interface Held {
  readonly value: SettingValue;
  /** When it last changed from another value; null where it has been so from the first. */
  readonly changedT: number | null;
}
/** By unit, then key; a setting that is undecided is not there. */
export type HeldSettings = Readonly<Record<string, Readonly<Record<string, Held>>>>;

export interface Odd {
  /** null where it cannot be told which of `candidates`. */
  readonly subject: string | null;
  readonly candidates: readonly string[];
  readonly value: SettingValue | null;
  /** What the record or the other units say. */
  readonly expected: SettingValue | null;
  readonly by: 'record' | 'majority' | 'last_change' | 'undecided';
}

interface Known extends Held {
  readonly id: string;
}

/** `1`, `l1` and `L1` are the same phase; null where it is no word for a phase. */
function phaseKey(value: SettingValue): string | null {
  const text = settingKey(value).toUpperCase();
  if (/^L?[123]$/.test(text)) return `L${text.at(-1)}`;
  return text === 'SPLIT' || text === 'THREE' ? text : null;
}

function ownDiffers(key: string, unit: UnitRecord, value: SettingValue): SettingValue | null {
  if (key === 'serial')
    return unit.serial !== null && settingKey(unit.serial) !== settingKey(value) ? unit.serial : null;
  const phase = phaseKey(value);
  return phase !== null && phase !== unit.phase.toUpperCase() ? unit.phase : null;
}

/** Units whose own serial or phase is not the record's. */
export function oddOwn(key: 'serial' | 'phase', record: SiteRecord, settings: HeldSettings): Odd[] {
  return record.units.flatMap((unit) => {
    const held = settings[unit.id]?.[key];
    if (held === undefined) return [];
    const expected = ownDiffers(key, unit, held.value);
    if (expected === null) return [];
    return [{ subject: unit.id, candidates: [], value: held.value, expected, by: 'record' as const }];
  });
}

function knownUnits(key: string, record: SiteRecord, settings: HeldSettings): Known[] {
  return record.units.flatMap(({ id }) => {
    const held = settings[id]?.[key];
    return held === undefined ? [] : [{ id, ...held }];
  });
}

/** Whether the units that say this setting say the same; null where fewer than two do. */
export function areEqual(key: string, record: SiteRecord, settings: HeldSettings): boolean | null {
  const known = knownUnits(key, record, settings);
  return known.length < 2 ? null : new Set(known.map(({ value }) => settingKey(value))).size === 1;
}

/** Units whose setting is not the one the record expects. */
export function oddByRecord(key: string, expected: SettingValue, record: SiteRecord, settings: HeldSettings): Odd[] {
  return knownUnits(key, record, settings)
    .filter(({ value }) => settingKey(value) !== settingKey(expected))
    .map(({ id, value }) => ({ subject: id, candidates: [], value, expected, by: 'record' as const }));
}

/**
 * Units whose setting differs from the others': the minority where there is one, else those that changed
 * last, else nobody by name.
 */
export function oddAmong(key: string, record: SiteRecord, settings: HeldSettings): Odd[] {
  const known = knownUnits(key, record, settings);
  const groups = new Map<string, Known[]>();
  for (const unit of known) groups.set(settingKey(unit.value), [...(groups.get(settingKey(unit.value)) ?? []), unit]);
  if (groups.size < 2) return [];
  const bySize = [...groups.values()].sort((a, b) => b.length - a.length);
  const [largest, second] = [bySize[0]!, bySize[1]!];
  const oddFrom = (odd: readonly Known[], expected: SettingValue, by: Odd['by']): Odd[] =>
    odd.map(({ id, value }) => ({ subject: id, candidates: [], value, expected, by }));
  if (largest.length > second.length) return oddFrom(bySize.slice(1).flat(), largest[0]!.value, 'majority');
  const lastT = Math.max(...known.map(({ changedT }) => changedT ?? Number.NEGATIVE_INFINITY));
  const changed = known.filter(({ changedT }) => changedT === lastT);
  const others = known.filter(({ changedT }) => changedT !== lastT);
  if (new Set(changed.map(({ value }) => settingKey(value))).size === 1 && others.length > 0) {
    const rest = others.find(({ value }) => settingKey(value) !== settingKey(changed[0]!.value));
    if (rest !== undefined) return oddFrom(changed, rest.value, 'last_change');
  }
  return [{ subject: null, candidates: known.map(({ id }) => id), value: null, expected: null, by: 'undecided' }];
}
