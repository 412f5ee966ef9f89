/** What the server holds of the living fleet: as it was last told, and a way to ask something of it. */
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { DemoHold } from '../routes/demo-routes.ts';
import type { FleetNow, SitesOrder } from './demo-plan.ts';

export interface HeldFleet extends DemoHold {
  hear(now: FleetNow, answer: { readonly answered: number; readonly done: boolean } | null): void;
  /** Its process has ended. */
  lose(): void;
}

const ANSWER_WITHIN_MS = 5 * SECOND_MS;

export function createFleetHold(send: (order: SitesOrder) => void): HeldFleet {
  let known: FleetNow | null = null;
  let asks = 0;
  const waiting = new Map<number, (done: boolean | null) => void>();
  const ask = (order: (ask: number) => SitesOrder): Promise<boolean | null> =>
    new Promise((resolve) => {
      const own = ++asks;
      const timer = setTimeout(() => answer(own, null), ANSWER_WITHIN_MS);
      waiting.set(own, (done) => {
        clearTimeout(timer);
        resolve(done);
      });
      send(order(own));
    });
  const answer = (own: number, done: boolean | null): void => {
    waiting.get(own)?.(done);
    waiting.delete(own);
  };
  return {
    now: () => known,
    start: (start) => ask((own) => ({ ask: own, start })),
    clear: (site) => ask((own) => ({ ask: own, clear: { site } })),
    hear(now, answered) {
      known = now;
      if (answered !== null) answer(answered.answered, answered.done);
    },
    lose() {
      known = null;
      for (const own of [...waiting.keys()]) answer(own, null);
    },
  };
}
