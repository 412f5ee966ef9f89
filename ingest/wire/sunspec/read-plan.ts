/** Which models of a chain are read, which of their points, and for which sources. */
import type { Fault } from '../line-meaning.ts';
import type { Span } from '../modbus/block-plan.ts';
import { type DeviceConfig, packsOf } from '../modbus/device-config.ts';
import type { Chain, ChainModel } from './discover.ts';
import { type ModelRole, PHASE_POWERS, PHASE_VOLTAGES, POINTS, type PointOverrides, roleOf } from './mapping.ts';
import { type PlacedModel, spansOf } from './model-view.ts';
import { MODELS } from './models.ts';

export interface ReadModel {
  readonly placed: PlacedModel;
  readonly role: Exclude<ModelRole, 'common'>;
  /** Places in `packsOf` whose values the model's own points are; empty of an inverter's. */
  readonly packs: readonly number[];
  /** Whether the packs are strings of the battery: of its own points only the voltage is that of each pack. */
  readonly isShared: boolean;
  /** Of model 803 with `strings`: which repeated group is which pack. */
  readonly strings: readonly { readonly pack: number; readonly number: number }[];
  readonly spans: readonly Span[];
}

export interface ReadPlan {
  /** In the order of preference: 701 before the older inverter models, else as they stand in the chain. */
  readonly models: readonly ReadModel[];
  /** Model 1, where a unit is there whose firmware and serial number it tells. */
  readonly common: PlacedModel | null;
  readonly commonSpans: readonly Span[];
  readonly notes: readonly Fault[];
}

const HEADER_POINTS = ['ID', 'L'] as const;
const INVERTER_NAMES: readonly string[] = [
  ...POINTS.inverter.map(([point]) => point),
  ...PHASE_VOLTAGES.flatMap(({ ids }) => ids),
  ...PHASE_POWERS.map(([point]) => point),
  ...['LNV', 'ACType', 'St', 'InvSt', 'DERMode'],
];
const PACK_NAMES: readonly string[] = [...POINTS.pack.map(([point]) => point), 'A', 'ChaSt', 'State'];
const BANK_NAMES: readonly string[] = [...POINTS.bank.map(([point]) => point), 'A'];
const STRING_NAMES: readonly string[] = [...POINTS.string.map(([point]) => point), 'StrA'];
/** Points of model 1 that are settings. */
export const COMMON_SETTINGS = [
  ['Vr', 'firmware'],
  ['SN', 'serial'],
] as const;

function placed(found: ChainModel): PlacedModel | null {
  const table = MODELS.get(found.model);
  return table === undefined ? null : { ...found, table, group: `${found.model}@${found.address}` };
}

/** The fixed points that are read of a model by default. */
function defaultNames(role: ModelRole, { unit, bank, ...packs }: DeviceConfig): readonly string[] {
  if (role === 'inverter') return unit === undefined ? [] : INVERTER_NAMES;
  if (role === 'storage') return unit === undefined ? [] : POINTS.storage.map(([point]) => point);
  if (role !== 'battery') return [];
  const hasPacks = packsOf(packs).length > 0;
  const ofPacks = packs.strings === undefined ? PACK_NAMES : POINTS.stringBase.map(([point]) => point);
  return [...(hasPacks ? ofPacks : []), ...(bank === undefined ? [] : BANK_NAMES)];
}

function planModel(
  model: PlacedModel,
  role: ReadModel['role'],
  config: DeviceConfig,
  overrides: PointOverrides,
  battery: number,
): ReadModel | null {
  const { fixed, repeated } = model.table;
  const packs = packsOf(config);
  const { strings = null } = config;
  // With strings the battery models tell of all packs; without, each battery of the chain is one pack.
  const own = strings !== null ? packs.map((_, k) => k) : battery < packs.length ? [battery] : [];
  const isSpare = role === 'battery' && strings === null && own.length === 0 && config.bank === undefined;
  const names = new Set([
    ...(isSpare ? [] : defaultNames(role, config)),
    ...overrides.pointsOf(model.model, fixed.points.keys()),
  ]);
  const groups =
    role === 'battery' && repeated !== null ? (strings ?? []).map((number, pack) => ({ pack, number })) : [];
  const repeatedNames = [
    ...STRING_NAMES,
    ...(repeated === null ? [] : overrides.pointsOf(model.model, repeated.group.points.keys())),
  ];
  if (![...names].some((name) => fixed.points.has(name)) && groups.length === 0) return null;
  const count = groups.length > 0 && repeated !== null ? [repeated.count] : [];
  return {
    placed: model,
    role,
    packs: role === 'battery' ? own : packs.length === 1 ? [0] : [],
    isShared: strings !== null,
    strings: groups,
    spans: [
      ...spansOf(model, [...HEADER_POINTS, ...names, ...count]),
      ...groups.flatMap(({ number }) => spansOf(model, repeatedNames, number)),
    ],
  };
}

/** @param chain  as it was found */
export function planReads(
  { models, end, base }: Extract<Chain, { readonly state: 'found' }>,
  config: DeviceConfig,
  overrides: PointOverrides,
): ReadPlan {
  const read: ReadModel[] = [];
  let common: PlacedModel | null = null;
  let batteries = 0;
  for (const found of models) {
    const model = placed(found);
    const role = roleOf(found.model);
    if (model === null || role === null) continue;
    if (role === 'common') {
      common ??= model;
      continue;
    }
    if (found.model === 802) batteries += 1;
    const planned = planModel(model, role, config, overrides, Math.max(batteries - 1, 0));
    if (planned !== null) read.push(planned);
  }
  // A stable sort: of two models of one generation the first of the chain is preferred.
  read.sort((a, b) => Number(b.placed.model === 701) - Number(a.placed.model === 701));
  const ownCommon = config.unit === undefined ? null : common;
  return {
    models: read,
    common: ownCommon,
    commonSpans:
      ownCommon === null
        ? []
        : spansOf(
            ownCommon,
            COMMON_SETTINGS.map(([point]) => point),
          ),
    notes: [...notesOnChain(models, end, base), ...notesOnSources(read, config, batteries)],
  };
}

function notesOnChain(models: readonly ChainModel[], end: string, base: number): Fault[] {
  const notes: Fault[] = [];
  if (models[0]?.model !== 1) {
    const what = `the chain at ${base} begins with ${models[0] === undefined ? 'nothing' : `model ${models[0].model}`}, not with model 1`;
    notes.push({
      what,
      remedy: 'nothing needs to be done where the values are right; the standard wants model 1 first',
    });
  }
  if (end === 'too long')
    notes.push({
      what: `the chain at ${base} does not end`,
      remedy: 'check that the device is not answering with made-up registers',
    });
  return notes;
}

function notesOnSources(read: readonly ReadModel[], config: DeviceConfig, batteries: number): Fault[] {
  const { unit, strings, current_sign } = config;
  const packs = packsOf(config);
  const notes: Fault[] = [];
  const hasStrings = read.some((model) => model.strings.length > 0);
  if (unit !== undefined && !read.some(({ role }) => role === 'inverter'))
    notes.push({
      what: `the device has no model of an inverter (101 to 103, 111 to 113, 701) for unit ${unit}`,
      remedy: 'check the address, or read it with a profile',
    });
  if (packs.length > 0 && batteries === 0 && !hasStrings)
    notes.push({
      what: `the device has no model of a battery (802, 803) for ${packs.join(', ')}`,
      remedy: 'check the address, or read it with a profile',
    });
  if (strings !== undefined && !hasStrings)
    notes.push({
      what: 'the device has no model 803, which holds the strings',
      remedy: 'take strings out, or read it with a profile',
    });
  if (strings === undefined && packs.length > 1 && batteries > 0 && batteries < packs.length)
    notes.push({
      what: `${packs.length} packs are named, and the device has ${batteries} of model 802`,
      remedy: 'say which string of model 803 each pack is: strings: [1, 2]',
    });
  if ((packs.length > 0 || config.bank !== undefined) && current_sign === undefined)
    notes.push({
      what: 'the sign of the battery current is not known: it is kept beside the readings, and the current is absent',
      remedy: 'let kilter probe propose one, then give current_sign: discharge_positive or charge_positive',
    });
  return notes;
}
