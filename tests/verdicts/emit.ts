/** What the sources of a site say of what is: meters with their gain, noise and steps, gaps, clocks that are off. */
import { columnOf, MODES, type SourceKind, toStored } from '../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch, SettingValue } from '../../ingest/vocabulary/reading.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { BatchBuilder } from '../../ingest/wire/batch-builder.ts';
import { type Fault, type FaultWhat, levelOf, type SimSite } from './plan.ts';
import { Random } from './random.ts';
import type { Instant } from './simulate.ts';

const DAY_MS = 86_400_000;
const LEAN = new Set(['output_apparent_va', 'load_pct', 'output_current_a', 'heatsink_temperature_c', 'fault_code']);

interface UnitTruth {
  readonly dcV: number;
  readonly dcA: number;
  readonly ownW: Float64Array;
  readonly meanSoc: number;
  readonly heat: number;
  readonly chargeW: number;
  readonly pvW: number;
  readonly otherW: number;
}

type Values = Record<string, number | null>;

export class Emitter {
  readonly #site: SimSite;
  readonly #random: Random;
  readonly #builder = new BatchBuilder();
  readonly #columns = new Map<string, { readonly index: number; readonly decimals: number }>();
  readonly #last = new Map<string, number>();
  readonly #frozen = new Map<Fault, number>();
  readonly #hasStuck: boolean;
  readonly #hasSilence: boolean;

  constructor(site: SimSite) {
    this.#site = site;
    this.#random = new Random(site.seed, 2);
    this.#hasStuck = site.faults.some((f) => f.what === 'stuck');
    this.#hasSilence = site.faults.some((f) => f.what.endsWith('_silent'));
  }

  when(t: number): number {
    return Math.round(t + (this.#random.next() - 0.5) * this.#site.jitterMs);
  }

  finish(): ReadingBatch {
    return this.#builder.finish();
  }

  /** Settings are sent once a day, and when they change. */
  beginDay(dayMs: number): void {
    const { units, updates, faults } = this.#site;
    units.forEach((unit, i) => {
      const values: Record<string, SettingValue> = {
        battery_type: 'lithium',
        battery_protocol: 'can-3',
        parallel_mode: 'single',
        battery_shared: true,
        output_voltage_setpoint_v: 230,
        output_frequency_setpoint_hz: 50,
        low_soc_cutoff_pct: 15,
        firmware: updates[i] !== undefined && dayMs >= updates[i]! ? '4.2.0' : '4.1.7',
      };
      for (const f of faults)
        if (f.what === 'setting' && f.place === i && levelOf(f, dayMs) > 0) values[f.key!] = f.value!;
      this.#setting(unit.id, dayMs + 60_000, values);
      const at = updates[i];
      if (at !== undefined && at >= dayMs && at < dayMs + DAY_MS) this.#setting(unit.id, at, { firmware: '4.2.0' });
      for (const f of faults)
        if (f.what === 'setting' && f.place === i && f.start >= dayMs && f.start < dayMs + DAY_MS)
          this.#setting(unit.id, f.start, { [f.key!]: f.value! });
    });
  }

  #setting(unit: string, t: number, values: Readonly<Record<string, SettingValue>>): void {
    this.#builder.countLine();
    this.#builder.take({
      source: { site: this.#site.id, kind: 'unit', id: unit },
      t: epochMs(Math.round(t)),
      values: [],
      extras: null,
      replaces: false,
      revision: 0,
      settings: values,
      alarm: null,
    });
  }

  unit(i: number, t: number, now: Instant, truth: UnitTruth): void {
    const unit = this.#site.units[i]!;
    if (this.#isMissing('unit_silent', i, t)) return;
    const on = (what: FaultWhat): Fault | undefined =>
      this.#site.faults.find((f) => f.what === what && (f.place === i || f.place < 0) && levelOf(f, t) > 0);
    const gain = unit.gain * (on('meter_gain')?.size ?? 1);
    const { watts, volts, alone, isIsland, isDead, gridV, gridHz, busHz } = now;
    const trueW = watts[i]!;
    const w = trueW * gain * (1 + 0.002 * this.#random.normal()) + 3 * this.#random.normal();
    const isAlone = alone[i]!;
    const breaker = on('battery_breaker') !== undefined;
    const gridW = isIsland || isAlone ? 0 : trueW - truth.ownW[i]! + truth.chargeW;
    const mode = isDead ? 'fault' : isIsland || isAlone ? 'backup' : 'grid';
    const values: Values = {
      grid_voltage_v: isAlone ? 0.6 : gridV + (gridV > 10 ? 0.1 * this.#random.normal() : 0),
      grid_frequency_hz: isAlone || gridHz === 0 ? null : gridHz + 0.004 * this.#random.normal(),
      grid_power_w: gridW * (1 + 0.003 * this.#random.normal()),
      output_voltage_v: isDead ? 0 : volts[i]! + unit.voltOffset + 0.12 * this.#random.normal(),
      output_frequency_hz: isDead ? 0 : busHz + (on('frequency_meter')?.size ?? 0) + 0.004 * this.#random.normal(),
      output_current_a: isDead ? 0 : Math.abs(w / 0.97 / Math.max(100, volts[i]!)),
      output_power_w: isDead ? 0 : step(w, this.#site.powerStepW),
      output_apparent_va: isDead ? 0 : Math.abs(w) / 0.97,
      load_pct: isDead ? 0 : (100 * Math.max(0, w)) / unit.ratedW,
      pv_power_w: this.#site.pvW > 0 ? truth.pvW : null,
      dc_voltage_v: breaker ? 3.2 : truth.dcV - truth.dcA * 0.002 + 0.04 * this.#random.normal(),
      dc_current_a: breaker ? 0 : truth.dcA + 0.1 * this.#random.normal(),
      battery_soc_pct:
        (on('soc_unseen') ?? on('soc_unseen_all') ?? on('battery_breaker'))
          ? null
          : step(truth.meanSoc, this.#site.socStep),
      heatsink_temperature_c: truth.heat + 0.3 * this.#random.normal(),
      mode: this.#site.hasMode ? MODES.indexOf(mode) : null,
      fault_code: isDead ? 21 : 0,
    };
    if (i === 0 && this.#site.hasCt && !isIsland) {
      const supply =
        watts.reduce((a, b) => a + b, 0) +
        truth.chargeW * this.#site.units.length +
        truth.otherW -
        truth.ownW.reduce((a, b) => a + b, 0);
      values.ct_power_w = (on('ct_turned') === undefined ? 1 : -1) * supply * (1 + 0.004 * this.#random.normal());
    } else if (i === 0 && this.#site.hasCt) values.ct_power_w = 0;
    if (this.#site.isLean) for (const quantity of LEAN) values[quantity] = null;
    this.#put('unit', unit.id, t, values);
  }

  pack(
    k: number,
    t: number,
    truth: { readonly volts: number; readonly amps: number; readonly soc: number; readonly trueSoc: number },
  ): void {
    const pack = this.#site.packs[k]!;
    if (this.#isMissing('pack_silent', k, t)) return;
    const cell = this.#site.faults.find((f) => f.what === 'cell' && f.place === k);
    const spread =
      pack.cellSpreadV *
      (1 + (truth.trueSoc > 97 ? (truth.trueSoc - 97) * 2.5 : 0) + Math.abs(truth.amps) / pack.capacityAh);
    const odd =
      cell === undefined ? 0 : cell.size * levelOf(cell, t) * (0.6 + Math.abs(truth.amps) / (0.25 * pack.capacityAh));
    const mean = truth.volts / 16;
    this.#put('pack', pack.id, t, {
      pack_voltage_v: truth.volts + 0.01 * this.#random.normal(),
      pack_current_a: truth.amps + 0.08 * this.#random.normal(),
      soc_pct: step(truth.soc, this.#site.socStep),
      soh_pct: 99,
      cell_voltage_min_v: mean - spread / 2 - odd + 0.001 * this.#random.normal(),
      cell_voltage_max_v: mean + spread / 2 + 0.001 * this.#random.normal(),
      cell_temperature_min_c: 22 + 0.2 * this.#random.normal(),
      cell_temperature_max_c: 24 + (3 * Math.abs(truth.amps)) / pack.capacityAh + 0.2 * this.#random.normal(),
    });
  }

  bank(t: number, truth: { readonly volts: number; readonly amps: number; readonly soc: number }): void {
    if (this.#isMissing('site_silent', -1, t)) return;
    this.#put('bank', 'bank', t, {
      bank_voltage_v: truth.volts,
      bank_current_a: truth.amps,
      bank_soc_pct: step(truth.soc, this.#site.socStep),
    });
  }

  #isMissing(what: 'unit_silent' | 'pack_silent' | 'site_silent', place: number, t: number): boolean {
    if (this.#random.next() < this.#site.dropShare) return true;
    if (!this.#hasSilence) return false;
    return this.#site.faults.some(
      (f) => levelOf(f, t) > 0 && (f.what === 'site_silent' || (f.what === what && f.place === place)),
    );
  }

  #put(kind: SourceKind, id: string, t: number, values: Values): void {
    const clock = this.#site.faults.find(
      (f) => f.what === 'clock' && levelOf(f, t) > 0 && (f.subject === id || f.place < 0),
    );
    const stamp = Math.round(clock === undefined ? t : t + clock.size * 1000);
    const source = `${kind}/${id}`;
    if (stamp <= (this.#last.get(source) ?? Number.NEGATIVE_INFINITY)) return;
    this.#last.set(source, stamp);
    this.#builder.beginRow();
    for (const quantity in values) {
      const value = values[quantity]!;
      if (value === null) continue;
      const column = this.#column(kind, quantity);
      this.#builder.put(column.index, toStored(column.decimals, this.#held(id, quantity, value, t)));
    }
    this.#builder.endRow(this.#builder.placeOf({ site: this.#site.id, kind, id }), stamp);
    this.#builder.countLine();
  }

  /** A reading that is stuck says what it said when it stuck. */
  #held(id: string, quantity: string, value: number, t: number): number {
    if (!this.#hasStuck) return value;
    const stuck = this.#site.faults.find(
      (f) => f.what === 'stuck' && f.subject === id && f.quantity === quantity && levelOf(f, t) > 0,
    );
    if (stuck === undefined) return value;
    const held = this.#frozen.get(stuck);
    if (held !== undefined) return held;
    this.#frozen.set(stuck, value);
    return value;
  }

  #column(kind: SourceKind, quantity: string): { readonly index: number; readonly decimals: number } {
    const known = this.#columns.get(quantity);
    if (known !== undefined) return known;
    const column = columnOf(kind, quantity);
    if (column === undefined) throw new RangeError(`No quantity ${quantity} of a ${kind}`);
    this.#columns.set(quantity, column);
    return column;
  }
}

const step = (value: number, size: number): number => (size > 0 ? Math.round(value / size) * size : value);
