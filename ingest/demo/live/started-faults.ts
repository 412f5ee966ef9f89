/** Faults that somebody puts into a living site from the demo's page, and takes out again. */
import { epochMs, MINUTE_MS, SECOND_MS } from '../../vocabulary/time.ts';
import type { FaultPlan } from '../faults.ts';
import type { Outage } from '../grid.ts';
import type { SitePlan } from '../site-plan.ts';
import { addOutage, outageNear, type SiteState, setOutages } from '../site-state.ts';

export const DEMO_FAULTS = [
  'grid_loss',
  'loose_terminal',
  'gauge_drift',
  'link_broken',
  'wrong_setting',
  'router_down',
] as const;
export type DemoFault = (typeof DEMO_FAULTS)[number];

/** One fault as the page shows it; the part it is in is a unit, a pack, or the site. */
export interface StartedFault {
  readonly id: string;
  readonly site: string;
  readonly fault: DemoFault;
  readonly subject: string;
  /** Epoch ms by the demo's clock. */
  readonly start: number;
  /** null: until somebody clears it. */
  readonly end: number | null;
}

/** A fault as it is put into the simulation; a grid loss is none, it is an outage. */
type Planned = Exclude<DemoFault, 'grid_loss'>;

/** What is still to come when the grid is back: the set looks at it for a minute before it trusts it. */
const TRUST_MS = MINUTE_MS;

/** Which part of a site a fault is put into: the last of its kind, because the first leads. */
export function subjectOf(plan: SitePlan, fault: DemoFault): string {
  if (fault === 'grid_loss' || fault === 'router_down') return 'site';
  if (fault === 'gauge_drift') return plan.packs.at(-1)!.id;
  return plan.units.at(-1)!.id;
}

/** The fault with the figures that it has in the demo: large, so that it is seen in minutes or hours. */
function planOf(what: Planned, subject: string, start: number, end: number | null): FaultPlan {
  const span = { start: epochMs(start), end: end === null ? null : epochMs(end) };
  switch (what) {
    case 'loose_terminal':
      return { ...span, what, unit: subject, addedOhm: 0.03, rampDays: 0 };
    case 'gauge_drift':
      return { ...span, what, pack: subject, pctPerDay: 40 };
    case 'wrong_setting':
      return {
        ...span,
        what,
        unit: subject,
        key: 'output_voltage_setpoint_v',
        value: 231,
        emfShiftV: 1,
        after: 'somebody was there',
      };
    case 'link_broken':
      return { ...span, what, unit: subject };
    case 'router_down':
      return { ...span, what };
  }
}

const isSettled = ({ end }: StartedFault, nowMs: number): boolean => end !== null && end <= nowMs;

/** The faults that were started at one site, kept in step with its simulation. */
export class StartedFaults {
  readonly #state: SiteState;
  readonly #plan: FaultPlan[];
  readonly #planned: readonly FaultPlan[];
  #started: readonly StartedFault[] = [];

  /** @param faults  the very list that the state's plan holds */
  constructor(state: SiteState, faults: FaultPlan[]) {
    this.#state = state;
    this.#plan = faults;
    this.#planned = [...faults];
  }

  get list(): readonly StartedFault[] {
    return this.#started;
  }

  /** Puts back what an earlier process had started; the outages are in the state already. */
  restore(started: readonly StartedFault[]): void {
    this.#started = started;
    this.#apply();
  }

  /** @returns null where it lasts already, or the site is without its grid */
  start(fault: DemoFault, nowMs: number, forMs: number | null): StartedFault | null {
    const { plan } = this.#state;
    const subject = subjectOf(plan, fault);
    const lasts = this.#started.some((one) => one.fault === fault && !isSettled(one, nowMs));
    if (lasts || (fault === 'grid_loss' && this.#isAlone(nowMs))) return null;
    const start = Math.ceil(nowMs / SECOND_MS) * SECOND_MS;
    const end = forMs === null ? null : start + forMs;
    const started = { id: `${plan.id}.${fault}.${start}`, site: plan.id, fault, subject, start, end };
    if (fault === 'grid_loss') addOutage(this.#state, outageOf(plan, start, end ?? start + 30 * MINUTE_MS));
    this.#started = [...this.#started, started];
    this.#apply();
    return started;
  }

  /** Ends what lasts. @returns how many ended */
  clear(nowMs: number): number {
    const now = Math.ceil(nowMs / SECOND_MS) * SECOND_MS;
    const lasting = this.#started.filter((one) => !isSettled(one, now));
    this.#started = this.#started.map((one) => (lasting.includes(one) ? { ...one, end: now } : one));
    const outage = outageNear(this.#state);
    if (lasting.some(({ fault }) => fault === 'grid_loss') && outage !== null && this.#isAlone(now)) {
      const ended = { ...outage, gridBack: epochMs(now), end: epochMs(Math.min(outage.end, now + TRUST_MS)) };
      setOutages(
        this.#state,
        this.#state.outages.map((one) => (one === outage ? ended : one)),
      );
    }
    this.#apply();
    return lasting.length;
  }

  #isAlone(nowMs: number): boolean {
    const outage = outageNear(this.#state);
    return outage !== null && nowMs >= outage.start && nowMs < outage.end;
  }

  #apply(): void {
    const own = this.#started.flatMap(({ fault, subject, start, end }) =>
      fault === 'grid_loss' ? [] : [planOf(fault, subject, start, end)],
    );
    this.#plan.splice(0, this.#plan.length, ...this.#planned, ...own);
  }
}

function outageOf(plan: SitePlan, start: number, gridBack: number): Outage {
  return {
    start: epochMs(start),
    gridBack: epochMs(gridBack),
    end: epochMs(gridBack + TRUST_MS),
    occasion: 'grid_loss',
    offsetsMs: plan.units.map((_, i) => 140 * i),
  };
}
