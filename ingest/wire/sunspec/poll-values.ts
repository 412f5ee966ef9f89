/** From the models that one poll has read to the values of its sources. */
import { columnOf, SOURCE_KINDS } from '../../vocabulary/quantities.ts';
import type { DeviceConfig } from '../modbus/device-config.ts';
import { packsOf } from '../modbus/device-config.ts';
import type { FaultMemory } from '../modbus/fault-memory.ts';
import type { ReadingDraft } from '../modbus/reading-draft.ts';
import { MEAN_VOLTAGE, PHASE_POWERS, PHASE_VOLTAGES, POINTS, type PointMap, type PointOverrides } from './mapping.ts';
import type { ModelView } from './model-view.ts';
import type { ReadModel } from './read-plan.ts';
import { modeOfDer, modeOfInverter, packStateOf } from './states.ts';

const REMEDY = 'nothing is stored of it; check what the device says with kilter probe';
const SINGLE_PHASE_MODELS: ReadonlySet<number> = new Set([101, 111]);

/** The drafts of one poll by what they are. */
export interface Drafts {
  readonly unit: ReadingDraft | null;
  readonly bank: ReadingDraft | null;
  readonly meter: ReadingDraft | null;
  readonly packs: readonly ReadingDraft[];
}

/**
 * Puts values by the default mapping and by what the device says differently.
 *
 * Where several points can give a quantity, the best that has ever had a value keeps it: a counter or a temperature
 * that jumped to another point and back would read as a fault.
 */
export class PollValues {
  readonly #overrides: PointOverrides;
  readonly #faults: FaultMemory;
  /** +1, −1, or null: not known. */
  readonly #sign: 1 | -1 | null;
  readonly #hasBattery: boolean;
  readonly #best = new Map<string, number>();
  readonly #phasesSeen = new Map<string, Set<string>>();

  constructor(config: DeviceConfig, overrides: PointOverrides, faults: FaultMemory) {
    this.#overrides = overrides;
    this.#faults = faults;
    this.#hasBattery = packsOf(config).length > 0 || config.bank !== undefined;
    const { current_sign: sign } = config;
    this.#sign = sign === undefined ? null : sign === 'charge_positive' ? -1 : 1;
  }

  /** @param rank  place of the model in the order of preference */
  putModel(read: ReadModel, view: ModelView, drafts: Drafts, rank: number): void {
    this.#putMapped(
      view,
      read.packs.map((k) => drafts.packs[k]!),
      drafts,
    );
    const { unit, bank } = drafts;
    if (read.role === 'battery') {
      for (const k of read.packs) this.#putPack(view, drafts.packs[k]!, rank, read.isShared);
      if (bank !== null) {
        this.#putAll(view, bank, POINTS.bank, rank);
        this.#putCurrent(view, 'A', bank, 'bank_current_a');
      }
    } else if (unit !== null && read.role === 'storage') this.#putAll(view, unit, POINTS.storage, rank);
    else if (unit !== null) this.#putInverter(view, unit, rank);
  }

  /** One string of model 803. */
  putString(view: ModelView, pack: ReadingDraft, drafts: Drafts): void {
    this.#putMapped(view, [pack], { ...drafts, unit: null, bank: null, meter: null });
    this.#putAll(view, pack, POINTS.string, 0);
    this.#putCurrent(view, 'StrA', pack, 'pack_current_a');
  }

  /** @param isShared  whether the model tells of several packs together: then only its voltage is that of each */
  #putPack(view: ModelView, pack: ReadingDraft, rank: number, isShared: boolean): void {
    if (isShared) {
      this.#putAll(view, pack, POINTS.stringBase, rank);
      return;
    }
    this.#putAll(view, pack, POINTS.pack, rank);
    this.#putCurrent(view, 'A', pack, 'pack_current_a');
    if (!view.has('ChaSt') || this.#isOverridden(view, 'ChaSt')) return;
    const chaSt = numberOf(view.raw('ChaSt'));
    const state = packStateOf(chaSt, numberOf(view.raw('State')));
    if (state === undefined) this.#refuse(`${view.model} ChaSt`, `the standard has no state ${chaSt}`);
    else if (state !== null) this.#offer(pack, 'pack_state', state, rank);
  }

  #putInverter(view: ModelView, unit: ReadingDraft, rank: number): void {
    this.#putAll(view, unit, POINTS.inverter, rank);
    this.#putPhases(view, unit, rank);
    this.#putMode(view, unit, rank);
  }

  #putMode(view: ModelView, unit: ReadingDraft, rank: number): void {
    const st = numberOf(view.raw('St'));
    const invSt = numberOf(view.raw('InvSt'));
    const isDer = view.has('InvSt');
    if ((!isDer && st === null) || this.#isOverridden(view, 'St') || this.#isOverridden(view, 'InvSt')) return;
    const mode = isDer
      ? modeOfDer({ invSt, st, derMode: numberOf(view.raw('DERMode')) })
      : modeOfInverter(st ?? Number.NaN);
    if (mode === undefined) {
      this.#refuse(`${view.model} ${isDer ? 'InvSt' : 'St'}`, `the standard has no state ${isDer ? invSt : st}`);
    } else if (mode !== null) this.#offer(unit, 'mode', mode, rank);
  }

  #putPhases(view: ModelView, unit: ReadingDraft, rank: number): void {
    const phases = PHASE_VOLTAGES.map(({ ids, quantity }) => {
      const point = ids.find((id) => view.has(id));
      return { quantity, volts: point === undefined || this.#isOverridden(view, point) ? null : view.value(point) };
    });
    const name = `${unit.source.id}/${view.model}/${rank}`;
    const seen = this.#phasesSeen.get(name) ?? new Set<string>();
    this.#phasesSeen.set(name, seen);
    for (const { quantity, volts } of phases) if (volts !== null) seen.add(quantity);
    const isSingle = SINGLE_PHASE_MODELS.has(view.model) || view.raw('ACType') === 0;
    if (!isSingle && seen.size > 1) {
      for (const { quantity, volts } of phases) if (volts !== null) this.#offer(unit, quantity, volts, rank);
      if (!this.#isOverridden(view, 'W')) this.#putAll(view, unit, PHASE_POWERS, rank);
    }
    const { point, quantity } = MEAN_VOLTAGE;
    const mean = this.#isOverridden(view, point) ? null : view.value(point);
    if (mean !== null) {
      this.#offer(unit, quantity, mean, rank);
      return;
    }
    // The mean of some phases only would be another quantity.
    const counted = phases.filter((phase) => (isSingle ? phase === phases[0] : seen.has(phase.quantity)));
    const volts = counted.map((phase) => phase.volts).filter((each) => each !== null);
    if (volts.length > 0 && volts.length === counted.length)
      this.#offer(unit, quantity, volts.reduce((sum, each) => sum + each, 0) / volts.length, rank);
  }

  /** A battery current: the standard gives it no sign. */
  #putCurrent(view: ModelView, point: string, draft: ReadingDraft, quantity: string): void {
    if (!view.has(point) || this.#isOverridden(view, point)) return;
    const amps = view.value(point);
    if (amps === null) return;
    if (this.#sign === null) draft.putExtra(point, amps);
    else this.#offer(draft, quantity, amps * this.#sign, 0);
  }

  #putAll(view: ModelView, draft: ReadingDraft, points: PointMap, rank: number): void {
    for (const [k, [point, quantity]] of points.entries()) {
      if (!view.has(point) || this.#isOverridden(view, point)) continue;
      const value = view.value(point);
      if (value === null) continue;
      // DC current of an inverter counts positive into the inverter; a device without packs may say it is otherwise.
      const isFlipped = quantity === 'dc_current_a' && !this.#hasBattery && this.#sign === -1;
      this.#offer(draft, quantity, isFlipped ? -value : value, rank * points.length + k);
    }
  }

  #putMapped(view: ModelView, packs: readonly ReadingDraft[], { unit, bank, meter }: Drafts): void {
    for (const point of this.#overrides.pointsOf(view.model, view.names())) {
      const target = this.#overrides.of(view.model, point);
      const value = view.value(point);
      if (target == null || value === null) continue;
      const { quantity, factor } = target;
      const kind = SOURCE_KINDS.find((each) => columnOf(each, quantity) !== undefined);
      const drafts = kind === 'pack' ? packs : [kind === 'unit' ? unit : kind === 'bank' ? bank : meter];
      const isFlipped = (quantity === 'pack_current_a' || quantity === 'bank_current_a') && this.#sign === -1;
      for (const draft of drafts) {
        if (draft !== null && !draft.has(quantity)) this.#put(draft, quantity, value * factor * (isFlipped ? -1 : 1));
      }
    }
  }

  #isOverridden(view: ModelView, point: string): boolean {
    return this.#overrides.of(view.model, point) !== undefined;
  }

  #offer(draft: ReadingDraft, quantity: string, value: number | string, rank: number): void {
    if (this.#overrides.isClaimed(quantity) || draft.has(quantity)) return;
    const name = `${draft.source.id}/${quantity}`;
    const best = this.#best.get(name) ?? Number.POSITIVE_INFINITY;
    if (rank > best) return;
    this.#best.set(name, rank);
    this.#put(draft, quantity, value);
  }

  #put(draft: ReadingDraft, quantity: string, value: number | string): void {
    const refused = draft.put(quantity, value);
    if (refused !== null) this.#refuse(quantity, refused);
  }

  #refuse(name: string, why: string): void {
    this.#faults.add(name, why, REMEDY);
  }
}

function numberOf(value: number | bigint | string | null): number | null {
  return typeof value === 'number' ? value : null;
}
