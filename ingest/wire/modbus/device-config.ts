/** What the configuration says of one device behind a Modbus link: plain data, which crosses a process. */
import { z } from 'zod';
import { isSourceId, RESERVED_IDS, SOURCE_ID_RULE } from '../../vocabulary/ids.ts';
import { columnOf, SOURCE_KINDS, type SourceKind } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import type { Fault } from '../line-meaning.ts';
import { isPointName } from '../sunspec/models.ts';
import type { PathFault } from '../yaml-mistakes.ts';
import type { Profile } from './profile.ts';

export const CURRENT_SIGNS = ['discharge_positive', 'charge_positive'] as const;
export type CurrentSign = (typeof CURRENT_SIGNS)[number];

/** Where a SunSpec point goes; null: nowhere. */
export type MappedPoint = string | { readonly quantity: string; readonly factor?: number | undefined } | null;

/** Which sources a device carries, and how its registers become their values. */
export interface DeviceConfig {
  readonly site: string;
  readonly unit?: string | undefined;
  /** One pack; several are `packs`. */
  readonly pack?: string | undefined;
  readonly packs?: readonly string[] | undefined;
  /** Of SunSpec model 803: the string, from 1, that each of `packs` (or `pack`) is. */
  readonly strings?: readonly number[] | undefined;
  readonly bank?: 'bank' | undefined;
  readonly meter?: string | undefined;
  readonly reads: 'sunspec' | { readonly profile: Profile };
  /** What a positive battery current means at this device. */
  readonly current_sign?: CurrentSign | undefined;
  /** SunSpec: quantity by name of the point (`W`), or by model and point (`701.W`). */
  readonly map?: Readonly<Record<string, MappedPoint>> | undefined;
  /** SunSpec: where the chain may begin besides 40000, 50000 and 0; 0-based. */
  readonly base?: number | readonly number[] | undefined;
}

const own = z
  .string({ error: `give an id: ${SOURCE_ID_RULE}` })
  .refine(isSourceId, { error: `give an id: ${SOURCE_ID_RULE}` })
  .refine((id) => !RESERVED_IDS.includes(id), { error: `give another id: ${RESERVED_IDS.join(' and ')} are reserved` });
const ADDRESS = 'give a 0-based register address, 0 to 65535';
const address = z.int({ error: ADDRESS }).min(0, { error: ADDRESS }).max(65_535, { error: ADDRESS });
const FACTOR = 'give a number other than 0';
const mapped = z.union(
  [
    z.string(),
    z.null(),
    z.strictObject({
      quantity: z.string(),
      factor: z
        .number({ error: FACTOR })
        .refine((factor) => factor !== 0, { error: FACTOR })
        .optional(),
    }),
  ],
  {
    error: 'give a quantity, for example grid_power_w, { quantity: grid_power_w, factor: -1 }, or null to leave it out',
  },
);

/** The keys of a device in the configuration besides `address` and `reads`, for the schema of a source. */
export const DEVICE_KEYS = {
  unit: own.optional(),
  pack: own.optional(),
  packs: z
    .array(own, { error: 'give a list of ids, for example [p1, p2]' })
    .min(1, { error: 'name one pack at least' })
    .optional(),
  strings: z
    .array(
      z.int({ error: 'give the number of a string, from 1' }).min(1, { error: 'give the number of a string, from 1' }),
      {
        error: 'give the string of each pack, for example [1, 2]',
      },
    )
    .optional(),
  bank: z.literal('bank', { error: 'write bank: bank' }).optional(),
  meter: own.optional(),
  current_sign: z.enum(CURRENT_SIGNS, { error: `give ${CURRENT_SIGNS.join(' or ')}` }).optional(),
  map: z.record(z.string(), mapped, { error: 'give a quantity for each point: { W: grid_power_w }' }).optional(),
  base: z.union([address, z.array(address)], { error: ADDRESS }).optional(),
} as const;

/** Packs in order, whether one is given or a list. */
export function packsOf({ pack, packs }: Pick<DeviceConfig, 'pack' | 'packs'>): readonly string[] {
  return packs ?? (pack === undefined ? [] : [pack]);
}

/** Every source that a device carries: one poll is one reading of each. */
export function sourcesOf(config: DeviceConfig): readonly SourceKey[] {
  const { site, unit, bank, meter } = config;
  return [
    ...(unit === undefined ? [] : [{ site, kind: 'unit', id: unit } as const]),
    ...packsOf(config).map((id) => ({ site, kind: 'pack', id }) as const),
    ...(bank === undefined ? [] : [{ site, kind: 'bank', id: bank } as const]),
    ...(meter === undefined ? [] : [{ site, kind: 'meter', id: meter } as const]),
  ];
}

/**
 * What no single key of a device can tell. Paths begin at the device.
 *
 * @param device  keys that have passed `DEVICE_KEYS`; a profile that could not be read is left out by the caller
 */
export function deviceFaults(device: Omit<DeviceConfig, 'site'>): readonly PathFault[] {
  const faults: PathFault[] = [];
  const report = (path: readonly PropertyKey[], what: string, remedy: string): void => {
    faults.push({ path, fault: { what, remedy } });
  };
  const { pack, packs, strings, reads } = device;
  if (pack !== undefined && packs !== undefined)
    report(['packs'], 'both pack and packs are given', 'name one pack as pack, several as packs');
  const names = packsOf(device);
  if (new Set(names).size < names.length) report(['packs'], 'a pack is named twice', 'name each pack once');
  if (sourcesOf({ site: '', ...device }).length === 0)
    report([], 'the device carries no source', 'add unit, pack, packs, bank or meter with its id');
  if (strings !== undefined && strings.length !== names.length)
    report(
      ['strings'],
      `${strings.length} strings stand for ${names.length} packs`,
      'give one string for each pack, in the same order',
    );
  if (reads === 'sunspec') faults.push(...mapFaults(device));
  else faults.push(...profileFaults(device, reads.profile));
  return faults;
}

function mapFaults(device: Omit<DeviceConfig, 'site'>): PathFault[] {
  const kinds = new Set(sourcesOf({ site: '', ...device }).map(({ kind }) => kind));
  return Object.entries(device.map ?? {}).flatMap(([point, mapped]): PathFault[] => {
    const fault = mappedFault(point, mapped, kinds);
    return fault === null ? [] : [{ path: ['map', point], fault }];
  });
}

function mappedFault(point: string, mapped: MappedPoint, kinds: ReadonlySet<SourceKind>): Fault | null {
  if (!isPointName(point)) {
    const what = `${point} is no point of a model that is read`;
    return { what, remedy: 'give the name as the standard writes it, for example W, or 701.W for one model' };
  }
  if (mapped === null) return null;
  const id = typeof mapped === 'string' ? mapped : mapped.quantity;
  const kind = SOURCE_KINDS.find((each) => columnOf(each, id) !== undefined);
  if (kind === undefined)
    return { what: `${id} is no quantity`, remedy: 'use an id of the vocabulary, for example grid_power_w' };
  if (columnOf(kind, id)?.words != null)
    return { what: `${id} is a word, no number`, remedy: 'leave it out: states are read as the standard has them' };
  if (kinds.size === 0 || kinds.has(kind)) return null;
  const what = `${id} is a quantity of a ${kind}, and the device carries none`;
  return { what, remedy: `add ${kind} with its id, or take this out` };
}

function profileFaults(device: Omit<DeviceConfig, 'site'>, profile: Profile): PathFault[] {
  const faults: PathFault[] = [];
  for (const key of ['map', 'base', 'strings'] as const) {
    if (device[key] !== undefined)
      faults.push({
        path: [key],
        fault: { what: `${key} says nothing beside a profile`, remedy: 'take it out: it belongs to reads: sunspec' },
      });
  }
  if (packsOf(device).length > 1)
    faults.push({
      path: ['packs'],
      fault: {
        what: 'a profile tells the values of one pack',
        remedy: 'give one device for each pack, at the same address, each with a profile of its own',
      },
    });
  const kinds = new Set(sourcesOf({ site: '', ...device }).map(({ kind }) => kind));
  const isRead = profile.registers.some(({ quantity }) =>
    [...kinds].some((kind) => columnOf(kind, quantity) !== undefined),
  );
  if (kinds.size > 0 && !isRead)
    faults.push({
      path: ['reads'],
      fault: {
        what: `profile ${profile.profile} has no quantity of a ${[...kinds].join(' or ')}`,
        remedy: 'name another profile, or another source',
      },
    });
  return faults;
}
