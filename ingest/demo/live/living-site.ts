/** The present of one simulated site: moved on tick by tick as the clock goes, read or heard by its way. */
import type { SourceKind } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import { DAY_MS, dayOf } from '../../vocabulary/time.ts';
import { createSink } from '../log-lines.ts';
import { settingsOf } from '../settings-lines.ts';
import {
  beginSiteDay,
  beginSiteTick,
  instantOf,
  isSlowTick,
  measure,
  type SiteRun,
  type Source,
  sourceKeys,
} from '../simulate-site.ts';
import { outageNear } from '../site-state.ts';
import type { Said } from './say-reading.ts';

/** What a unit or pack shows whoever asks it. */
export interface Shown {
  readonly kind: SourceKind;
  /** In the order of the vocabulary's columns, with what changes slowly. */
  readonly values: Float64Array;
}

export interface SiteEars {
  /** A reading whose time has come. `values` holds until the next. */
  hear(said: Said): unknown;
  /** Settings and alarms, a line each. */
  hearLine(line: string): unknown;
}

interface Due {
  readonly place: number;
  readonly t: number;
}

export class LivingSite {
  readonly run: SiteRun;
  readonly #tickMs: number;
  readonly #ears: SiteEars;
  readonly #keys: readonly SourceKey[];
  readonly #words = createSink(1 << 10);
  readonly #decoder = new TextDecoder();
  /** When the next tick begins. */
  #nextMs: number;
  #isSlow = false;
  #due: Due[] = [];
  /** Of the tick that lasts: they are said when it is over, because none may tell of what is still to come. */
  #lines: readonly string[] = [];

  /** @param nextMs when the run's next tick begins, on a multiple of `tickMs` */
  constructor(run: SiteRun, nextMs: number, tickMs: number, ears: SiteEars) {
    this.run = run;
    this.#nextMs = nextMs;
    this.#tickMs = tickMs;
    this.#ears = ears;
    this.#keys = sourceKeys(run);
  }

  get nextMs(): number {
    return this.#nextMs;
  }

  /** Moves on to `nowMs` and says what came due. */
  advance(nowMs: number): void {
    this.#sayDue(nowMs);
    while (this.#nextMs <= nowMs) {
      this.#tick();
      this.#sayDue(nowMs);
    }
  }

  #tick(): void {
    const tickMs = this.#nextMs;
    const day = dayOf(tickMs);
    for (const line of this.#lines) this.#ears.hearLine(line);
    // To the next multiple, should the run come from a coarser or a finer one.
    const dtMs = this.#tickMs - (tickMs % this.#tickMs);
    if (tickMs === day) beginSiteDay(this.run, day);
    this.#words.length = 0;
    beginSiteTick(this.run, day, tickMs, dtMs, this.#words);
    this.#isSlow = isSlowTick(this.run);
    this.#due = this.run.sources.map((source, place) => ({ place, t: instantOf(source, tickMs, dtMs) }));
    this.#due.sort((a, b) => a.t - b.t);
    this.#nextMs = tickMs + dtMs;
    const text = this.#decoder.decode(this.#words.bytes.subarray(0, this.#words.length));
    this.#lines = text.split('\n').filter((line) => line !== '');
  }

  #sayDue(nowMs: number): void {
    let said = 0;
    for (const { place, t } of this.#due) {
      if (t > nowMs) break;
      said += 1;
      const source = this.run.sources[place]!;
      if (!this.#measure(source, t, this.#isSlow)) continue;
      this.#ears.hear({ source: this.#keys[place]!, t, values: this.run.values[source.kind] });
    }
    if (said > 0) this.#due.splice(0, said);
  }

  #measure(source: Source, t: number, withSlow: boolean): boolean {
    const second = Math.floor((t - dayOf(t)) / 1000) % (DAY_MS / 1000);
    return measure(this.run, source, t, second, withSlow);
  }

  /** What each source that answers shows at one instant, which must not be before the last. */
  show(nowMs: number): ReadonlyMap<string, Shown> {
    this.advance(nowMs);
    const shown = new Map<string, Shown>();
    for (const [place, source] of this.run.sources.entries()) {
      const { kind, id } = this.#keys[place]!;
      const isAsked = kind === 'unit' || kind === 'pack';
      if (!isAsked || !this.#measure(source, nowMs, true)) continue;
      shown.set(`${kind}/${id}`, { kind, values: this.run.values[kind].slice() });
    }
    return shown;
  }

  /** The settings of all units, as lines: after somebody changed one. */
  saySettings(nowMs: number): void {
    const { plan, effects } = this.run.state;
    for (const [i, { id }] of plan.units.entries()) {
      if (effects.siteSilent || effects.unitSilent[i] === 1) continue;
      this.#ears.hearLine(JSON.stringify({ t: nowMs, site: plan.id, unit: id, settings: settingsOf(plan, i, nowMs) }));
    }
  }

  isWithoutGrid(nowMs: number): boolean {
    const outage = outageNear(this.run.state);
    return outage !== null && nowMs >= outage.start && nowMs < outage.gridBack;
  }

  get isSilent(): boolean {
    return this.run.state.effects.siteSilent;
  }
}
