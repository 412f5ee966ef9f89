/** Lives one site: physics at every tick, each source asked at its own instants, readings as batches. */

import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import { Bank } from './battery.ts';
import { Emitter } from './emit.ts';
import { loadSteps, type StepFunction, spanAt, sunShare } from './load.ts';
import { type Fault, type FaultWhat, levelOf, type SimSite, type SimUnit } from './plan.ts';
import { Random } from './random.ts';
import { type Shared, share } from './sharing.ts';

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;

const NO_FAULTS: readonly Fault[] = [];

export interface TrueEvent {
  readonly start: number;
  end: number;
  held: boolean;
  lostMs: number;
}

export interface Lived {
  readonly events: readonly TrueEvent[];
  readonly readings: number;
}

interface Group {
  readonly phase: string;
  readonly places: number[];
  readonly units: SimUnit[];
  readonly load: StepFunction;
  readonly ratedW: number;
}

/** What the AC side is at an instant. */
export interface Instant {
  readonly isIsland: boolean;
  readonly isDead: boolean;
  readonly gridV: number;
  readonly gridHz: number;
  readonly busHz: number;
  readonly watts: Float64Array;
  readonly volts: Float64Array;
  readonly alone: readonly boolean[];
}

/** @param take called with a batch about once a simulated day */
export function liveSite(site: SimSite, take: (batch: ReadingBatch) => void): Lived {
  return new Living(site, take).run();
}

class Living {
  readonly #site: SimSite;
  readonly #take: (batch: ReadingBatch) => void;
  readonly #random: Random;
  readonly #groups: Group[];
  readonly #bank: Bank;
  readonly #emit: Emitter;
  readonly #faultsBy = new Map<FaultWhat, Fault[]>();
  readonly #events: TrueEvent[] = [];
  #charging = false;
  #deadUntil = 0;
  #event: TrueEvent | null = null;
  #gridWalk = 0;
  #hzWalk = 0;
  readonly #unitDcA: Float64Array;
  /** AC power of each unit that comes from its battery and PV, on the grid. */
  readonly #unitOwnW: Float64Array;
  #chargeW = 0;
  #pvW = 0;
  readonly #heat: Float64Array;
  readonly #other: StepFunction;

  constructor(site: SimSite, take: (batch: ReadingBatch) => void) {
    this.#site = site;
    this.#take = take;
    this.#random = new Random(site.seed, 1);
    this.#bank = new Bank(site.packs, site.faults);
    this.#emit = new Emitter(site);
    for (const fault of site.faults) this.#faultsBy.set(fault.what, [...(this.#faultsBy.get(fault.what) ?? []), fault]);
    this.#unitDcA = new Float64Array(site.units.length);
    this.#unitOwnW = new Float64Array(site.units.length);
    this.#heat = new Float64Array(site.units.length).fill(30);
    this.#other = loadSteps(site, 99, site.units[0]!.ratedW * 0.5, 0.2);
    const phases = [...new Set(site.units.map((u) => u.phase))];
    this.#groups = phases.map((phase, g) => {
      const places = site.units.flatMap((u, i) => (u.phase === phase ? [i] : []));
      const units = places.map((i) => site.units[i]!);
      const ratedW = units.reduce((sum, u) => sum + u.ratedW, 0);
      return { phase, places, units, ratedW, load: loadSteps(site, g, ratedW, site.loadShare) };
    });
  }

  #faults(what: FaultWhat): readonly Fault[] {
    return this.#faultsBy.get(what) ?? NO_FAULTS;
  }

  run(): Lived {
    const { from, days, stepMs } = this.#site;
    const ticksADay = Math.round(DAY_MS / stepMs);
    let readings = 0;
    for (let day = 0; day < days; day++) {
      this.#emit.beginDay(from + day * DAY_MS);
      for (let i = 0; i < ticksADay; i++) this.#tick(from + day * DAY_MS + i * stepMs);
      const batch = this.#emit.finish();
      readings += batch.readings;
      this.#take(batch);
    }
    return { events: this.#events, readings };
  }

  #tick(base: number): void {
    const { stepMs, units, packs } = this.#site;
    this.#gridWalk = 0.97 * this.#gridWalk + 0.25 * this.#random.normal();
    this.#hzWalk = 0.95 * this.#hzWalk + 0.006 * this.#random.normal();
    const middle = this.#instant(base + stepMs / 2);
    this.#mark(base + stepMs / 2, middle);
    this.#moveBattery(base, middle);
    units.forEach((unit, i) => {
      const t = this.#emit.when(base + unit.offsetMs);
      const now = this.#instant(t);
      this.#settle(t, now);
      this.#heat[i]! += 0.004 * (stepMs / 10_000) * (this.#hotter(i, now, t) - this.#heat[i]!);
      this.#emit.unit(i, t, now, {
        dcV: this.#bank.volts,
        dcA: this.#unitDcA[i]!,
        ownW: this.#unitOwnW,
        meanSoc: this.#meanTold(t),
        heat: this.#heat[i]!,
        chargeW: this.#chargeW / units.length,
        pvW: this.#pvW / units.length,
        otherW: this.#other.at(t),
      });
    });
    packs.forEach((pack, k) => {
      const t = this.#emit.when(base + pack.offsetMs);
      this.#settle(t, this.#instant(t));
      this.#emit.pack(k, t, {
        volts: this.#bank.volts,
        amps: this.#bank.amps[k]!,
        soc: this.#bank.toldSoc(k, t),
        trueSoc: this.#bank.soc[k]!,
      });
    });
    if (!this.#site.hasBank) return;
    const t = this.#emit.when(base + 900);
    this.#settle(t, this.#instant(t));
    const amps = this.#bank.amps.reduce((a, b) => a + b, 0);
    this.#emit.bank(t, { volts: this.#bank.volts, amps, soc: this.#meanTold(base) });
  }

  #meanTold(t: number): number {
    const { packs } = this.#site;
    const ah = packs.reduce((sum, p) => sum + p.capacityAh, 0);
    return packs.reduce((sum, p, k) => sum + (p.capacityAh * this.#bank.toldSoc(k, t)) / ah, 0);
  }

  #hotter(i: number, now: Instant, t: number): number {
    const unit = this.#site.units[i]!;
    const hour = this.#hourAt(t);
    const ambient = (this.#site.isHot ? 31 : 22) + 5 * Math.sin(((hour - 9) / 12) * Math.PI);
    const isCapped = this.#faults('ceiling').some((f) => f.place === i && levelOf(f, t) > 0);
    return ambient + 8 + 35 * (Math.abs(now.watts[i]!) / unit.ratedW) ** 1.5 + (isCapped ? 25 : 0);
  }

  /** Power of each unit and voltage of the bus; pure in t but for the slow walks of the grid. */
  #instant(t: number): Instant {
    const { units, law, outages, brownouts, faults } = this.#site;
    const outage = outages.find(({ start, end, reconnectMs }) => t >= start && t < end + reconnectMs) ?? null;
    const isIsland = outage !== null;
    const isGridGone = outage !== null && t < outage.end;
    const isDead = isIsland && (t < this.#deadUntil || this.#isTripped(outage, t));
    const gridV = isGridGone ? 0 : (spanAt(brownouts, t) !== null ? 188 : 231) + this.#gridWalk;
    const gridHz = isGridGone ? 0 : 50 + this.#hzWalk;
    const watts = new Float64Array(units.length);
    const volts = new Float64Array(units.length);
    let busHz = isIsland ? 50 + 0.004 * Math.sin(t / 7000) : gridHz;
    const alone = units.map((u, i) => !isIsland && this.#isAlone(u, i, t));
    for (const group of this.#groups) {
      let loadW = group.load.at(t) * (1 + 0.003 * this.#random.normal());
      const added = isIsland ? this.#sags(t, outage) : NO_FAULTS;
      if (added.length > 0) loadW = Math.max(loadW, (added[0]!.what === 'overload_sag' ? 1.08 : 0.3) * group.ratedW);
      // PV on the output: what the load does not take flows back through the units, unless it is held back.
      if (group === this.#groups[0]) loadW -= this.#acPvNow(t, isIsland, loadW);
      const shared = share({
        units: group.units,
        law: isIsland ? law.backup : law.grid,
        loadW,
        t,
        faults,
        contactOhm: (i) => this.#contactOhm(i, t),
        gridV: isIsland ? 230 : gridV,
        places: group.places,
      });
      this.#swing(shared, group, t, isIsland);
      group.places.forEach((i, j) => {
        watts[i] = shared.watts[j]!;
        volts[i] = shared.volts[j]!;
      });
      for (const fault of added) busHz = this.#sag(fault, busHz, volts);
    }
    if (isIsland) busHz += this.#islandHz(t, loadOf(watts));
    if (isDead) {
      watts.fill(0);
      volts.fill(0);
      busHz = 0;
    }
    return { isIsland, isDead, gridV, gridHz, busHz, watts, volts, alone };
  }

  /** Too much load in the middle of an outage: frequency or voltage gives way for some minutes. */
  #sags(t: number, outage: { start: number; end: number } | null): readonly Fault[] {
    if (outage === null || t < outage.start + 120_000) return NO_FAULTS;
    if (t > outage.start + 120_000 + 0.4 * (outage.end - outage.start)) return NO_FAULTS;
    return [...this.#faults('overload_sag'), ...this.#faults('voltage_sag')].filter((f) => levelOf(f, t) > 0);
  }

  #sag(fault: Fault, busHz: number, volts: Float64Array): number {
    if (fault.what === 'overload_sag') return 50 - fault.size;
    for (let i = 0; i < volts.length; i++) volts[i] = 230 * (1 - fault.size);
    return busHz;
  }

  /** W of PV on the output; a full bank on its own holds most of it back by frequency. */
  #acPvNow(t: number, isIsland: boolean, loadW: number): number {
    const { acPvW } = this.#site;
    if (acPvW === 0) return 0;
    const sunW = acPvW * sunShare(this.#site, t);
    return isIsland && this.#bank.meanSoc() > 96 ? Math.min(sunW, 0.97 * loadW + 40) : sunW;
  }

  #islandHz(t: number, watts: number): number {
    let hz = 0;
    for (const f of this.#faults('hunting')) if (levelOf(f, t) > 0) hz += f.size * Math.sin((2 * Math.PI * t) / 37_000);
    const isFull = this.#bank.meanSoc() > 96;
    const sunW = this.#site.acPvW * sunShare(this.#site, t);
    // Little goes through the units while PV carries the load: what is left over is held back.
    if (sunW > 0.2 * this.#site.acPvW && isFull && watts < 0.3 * sunW)
      hz += this.#faults('surplus').some((f) => levelOf(f, t) > 0) ? 1.6 : 0.8;
    return hz;
  }

  /** Two controllers that fight push power from one to the other. */
  #swing(shared: Shared, group: Group, t: number, isIsland: boolean): void {
    if (!isIsland || group.units.length < 2) return;
    for (const f of this.#faults('hunting')) {
      if (levelOf(f, t) === 0) continue;
      const swing = 0.07 * group.units[0]!.ratedW * Math.sin((2 * Math.PI * t) / 37_000 + 0.6);
      shared.watts[0]! += swing;
      shared.watts[1]! -= swing;
    }
  }

  #isTripped(outage: { start: number; end: number }, t: number): boolean {
    return this.#faults('overload_trip').some(
      (f) =>
        levelOf(f, outage.start) > 0 && t > outage.start + 180_000 && t < Math.min(outage.end, outage.start + 480_000),
    );
  }

  #isAlone(unit: SimUnit, i: number, t: number): boolean {
    return this.#site.faults.some(
      (f) =>
        levelOf(f, t) > 0 &&
        ((f.what === 'input_breaker' && f.place === i) || (f.what === 'phase_lost' && f.value === unit.phase)),
    );
  }

  #contactOhm(i: number, t: number): number {
    const { replaced } = this.#site;
    return replaced !== null && replaced.place === i && t >= replaced.at
      ? replaced.contactOhm
      : this.#site.units[i]!.contactOhm;
  }

  /** Decides charging, and moves charge by what flows in the middle of the tick. */
  #moveBattery(t: number, now: Instant): void {
    const { duty, outages, stepMs } = this.#site;
    const hour = this.#hourAt(t);
    const soc = this.#bank.meanSoc();
    if (soc < 93 && !now.isIsland && (hour < 7 || duty === 'standby')) this.#charging = true;
    if (soc >= 99.7 || (duty === 'evening' && hour >= 17)) this.#charging = false;
    this.#settle(t, now);
    this.#bank.move(stepMs, t);
    if (now.isIsland && soc < 6 && this.#deadUntil < t) {
      const outage = outages.find((o) => t >= o.start && t < o.end + o.reconnectMs)!;
      this.#deadUntil = outage.end + outage.reconnectMs;
    }
  }

  #hourAt(t: number): number {
    return ((t - this.#site.from) / HOUR_MS) % 24;
  }

  /** What battery, PV and charger do at an instant. */
  #settle(t: number, now: Instant): void {
    const { units, packs, duty, pvW } = this.#site;
    const hour = this.#hourAt(t);
    const soc = this.#bank.meanSoc();
    const loadW = loadOf(now.watts);
    const ah = packs.reduce((sum, p) => sum + p.capacityAh, 0);
    let dischargeW = 0;
    if (now.isIsland) dischargeW = loadW > 0 ? loadW / 0.95 : loadW * 0.95;
    else if (duty === 'evening' && hour >= 17 && hour < 23.5 && soc > 45)
      dischargeW = (0.92 * Math.max(0, loadW)) / 0.95;
    const limitA = Math.max(0, Math.min(0.2 * ah, (55.8 - this.#bank.volts) * ah * 0.35));
    const volts = this.#bank.volts;
    this.#chargeW = this.#charging && !now.isIsland && dischargeW === 0 ? limitA * volts : 0;
    this.#pvW = Math.min(pvW * sunShare(this.#site, t), Math.max(0, dischargeW) + (soc < 99.5 ? limitA * volts : 0));
    const isIdle = dischargeW === 0 && this.#chargeW === 0 && this.#pvW === 0;
    const amps = isIdle ? 0.15 : (dischargeW - this.#chargeW * 0.95 - this.#pvW + 30) / volts;
    this.#bank.settle(amps, t);
    units.forEach((_, i) => {
      const part = loadW > 1 && dischargeW > 0 ? now.watts[i]! / loadW : 1 / units.length;
      this.#unitDcA[i] = amps * part;
      this.#unitOwnW[i] = now.isIsland ? 0 : dischargeW * 0.95 * part;
    });
  }

  #mark(t: number, now: Instant): void {
    if (!now.isIsland) {
      this.#event = null;
      return;
    }
    if (this.#event === null) {
      const outage = this.#site.outages.find((o) => t >= o.start && t < o.end + o.reconnectMs)!;
      // Without a mode the end is told by the grid's voltage.
      const end = outage.end + (this.#site.hasMode ? outage.reconnectMs : 0);
      this.#event = { start: outage.start, end, held: true, lostMs: 0 };
      this.#events.push(this.#event);
    }
    const [low, high] = this.#site.acPvW > 0 && this.#faults('surplus').length === 0 ? [49, 52] : [49, 51];
    const isOut = now.busHz < low - 0.02 || now.busHz > high + 0.02 || now.volts.some((v) => v < 206 || v > 254);
    if (isOut) this.#event.held = false;
    if (now.isDead) this.#event.lostMs += this.#site.stepMs;
  }
}

const loadOf = (watts: Float64Array): number => watts.reduce((a, b) => a + b, 0);
