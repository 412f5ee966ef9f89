/**
 * A process that lives the present of the demo fleet: its devices answer Modbus, its gateways publish to a broker of its
 * own or write log files. It touches no store: the worker reads it as it reads anything.
 */
import { type LiveFleet, openLiveFleet } from '../ingest/demo/live/live-fleet.ts';
import { DEMO_FAULTS } from '../ingest/demo/live/started-faults.ts';
import { shownAt } from '../ingest/vocabulary/fast-clock.ts';
import { MINUTE_MS } from '../ingest/vocabulary/time.ts';
import {
  demoConfig,
  demoLogs,
  demoStates,
  type FleetNow,
  periodOf,
  type SitesMessage,
  type SitesOrder,
  type SitesTask,
} from './process/demo-plan.ts';

const ADVANCE_EVERY_MS = 250;
const KEEP_EVERY_MS = MINUTE_MS;

const tell = (message: SitesMessage): void => {
  if (process.connected) process.send?.(message);
};
const refuse = (error: unknown): void => {
  const what = error instanceof Error ? error.message : String(error);
  tell({ refusal: { where: 'the living demo fleet', what, remedy: 'start Kilter again; what is stored is kept' } });
};

const nowOf = (fleet: LiveFleet): FleetNow => ({ sites: fleet.sites(), started: fleet.started() });

async function obey(fleet: LiveFleet, order: SitesOrder): Promise<void> {
  if ('add' in order) {
    await fleet.add(order.add, order.isAgain);
    tell({ sources: fleet.sources(), courier: fleet.courier(), now: nowOf(fleet) });
    return;
  }
  tell({ answered: order.ask, done: doneBy(fleet, order), now: nowOf(fleet) });
}

function doneBy(fleet: LiveFleet, order: Exclude<SitesOrder, { readonly add: number }>): boolean {
  if ('clear' in order) return fleet.clear(order.clear.site) > 0;
  const { site, fault: asked, minutes } = order.start;
  const fault = DEMO_FAULTS.find((one) => one === asked);
  return fault !== undefined && fleet.start(site, fault, minutes) !== null;
}

async function live({ plan, data, clock }: SitesTask, onOrder: (obeys: (order: SitesOrder) => void) => void) {
  const fleet = await openLiveFleet({
    fleet: { seed: plan.seed, period: periodOf(plan), sites: plan.sites, folder: demoStates(data) },
    speed: clock.speed,
    logs: demoLogs(data),
    config: demoConfig(data),
    nowMs: () => shownAt(clock, Date.now()),
    elapsedMs: () => performance.now(),
  });
  // One after the other: a site is added whole before the next order is looked at.
  let turn: Promise<void> = Promise.resolve();
  onOrder((order) => {
    turn = turn.then(() => obey(fleet, order)).catch(refuse);
  });
  const guarded = (work: () => void) => (): void => {
    try {
      work();
    } catch (error) {
      refuse(error);
      end(1);
    }
  };
  const timers = [
    setInterval(guarded(fleet.advance.bind(fleet)), ADVANCE_EVERY_MS),
    setInterval(guarded(fleet.keep.bind(fleet)), KEEP_EVERY_MS),
  ];
  await stopped;
  for (const timer of timers) clearInterval(timer);
  await turn;
  await fleet.close();
}

let end: (code: number) => void = () => undefined;
const stopped = new Promise<void>((resolve) => {
  end = (code) => {
    process.exitCode = code;
    resolve();
  };
});
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => end(0));
process.on('disconnect', () => end(0));

process.once('message', async (task: SitesTask) => {
  let obeys: ((order: SitesOrder) => void) | null = null;
  const early: SitesOrder[] = [];
  process.on('message', (order: SitesOrder) => {
    if (obeys === null) early.push(order);
    else obeys(order);
  });
  try {
    await live(task, (listener) => {
      obeys = listener;
      for (const order of early) listener(order);
    });
  } catch (error) {
    refuse(error);
    process.exitCode = 1;
  }
  // Sockets of clients that do not let go must not keep it.
  if (process.connected) process.disconnect();
  process.exit();
});
