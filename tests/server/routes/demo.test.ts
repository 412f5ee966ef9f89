import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { DEMO_FAULTS as SIMULATED } from '../../../ingest/demo/live/started-faults.ts';
import { WAYS } from '../../../ingest/demo/live/ways.ts';
import { DEMO_FAULTS, DEMO_WAYS, demoAnswerSchema } from '../../../server/contract/demo.ts';
import { problemSchema } from '../../../server/contract/problem.ts';
import { createFleetHold } from '../../../server/process/fleet-hold.ts';
import type { DemoHold } from '../../../server/routes/demo-routes.ts';
import { demoWords } from '../../../server/views/demo-words.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { at, dropFolder, millpondLines, storeLines } from '../../ingest/commands/_stored.ts';
import { openBoard, openHouse } from '../_board.ts';

const NOW = at('10T09:00:00');
const STARTED = { id: 'a', site: 'millpond', fault: 'grid_loss', subject: 'site', start: NOW, end: NOW + 60_000 };
let folder = '';
let house: ReturnType<typeof openHouse>;
let board: ReturnType<typeof openBoard>;
let orders: unknown[] = [];

function open(demo: (() => DemoHold | null) | null): void {
  board?.close();
  board = openBoard(house, { demo });
}
beforeEach(() => {
  folder = storeLines(millpondLines());
  house = openHouse(folder, () => NOW);
  orders = [];
  const hold = createFleetHold((order) => {
    orders.push(order);
    if ('ask' in order)
      hold.hear(
        { ...NOW_IS, started: [STARTED] },
        { answered: order.ask, done: 'clear' in order || order.start.fault !== 'router_down' },
      );
  });
  hold.hear(NOW_IS, null);
  open(() => hold);
});
afterEach(() => {
  board.close();
  house.close();
  dropFolder(folder);
});
const NOW_IS = { sites: [{ site: 'millpond', name: 'Millpond Clinic', way: 'sunspec' }], started: [] };

const post = (path: string, body: unknown, headers: Record<string, string> = {}) =>
  board.ask(path, {
    method: 'POST',
    headers: { host: 'localhost:8090', 'content-type': 'application/json', ...headers },
    body: JSON.stringify(body),
  });
const problem = async (answer: Response) => problemSchema.parse(await answer.json());
const START = { site: 'millpond', fault: 'grid_loss', minutes: 5 };

describe('the routes of the demo', () => {
  test('a board without a demo says so, and starts nothing', async () => {
    open(null);
    const answer = demoAnswerSchema.parse(await (await board.ask('/api/demo')).json());
    expect(answer).toEqual({ now: NOW, isRunning: false, sites: [], started: [] });
    const refused = await post('/api/demo/faults', START);
    expect([refused.status, (await problem(refused)).what]).toEqual([404, 'this board shows no demo']);
  });

  test('a fault is started and ended by its process, and the answer tells what lasts', async () => {
    const answer = demoAnswerSchema.parse(await (await post('/api/demo/faults', START)).json());
    expect(answer.started).toEqual([STARTED]);
    expect(answer.sites).toEqual(NOW_IS.sites);
    expect((await post('/api/demo/end', { site: 'millpond' })).status).toBe(200);
    expect(orders).toEqual([
      { ask: 1, start: START },
      { ask: 2, clear: { site: 'millpond' } },
    ]);
  });

  test('only our own page may do so, with a fault and a site that there are', async () => {
    const foreign = await post('/api/demo/faults', START, { origin: 'http://elsewhere.example' });
    expect([foreign.status, (await problem(foreign)).id]).toEqual([403, 'wrong_origin']);
    const form = await post('/api/demo/faults', START, { 'content-type': 'text/plain' });
    expect(form.status).toBe(403);
    expect((await post('/api/demo/faults', { ...START, site: 'nowhere' })).status).toBe(404);
    expect((await post('/api/demo/faults', { ...START, fault: 'flood' })).status).toBe(400);
    expect((await problem(await post('/api/demo/faults', { ...START, minutes: null }))).what).toContain('no end');
    expect(orders).toEqual([]);
    const twice = await post('/api/demo/faults', { ...START, fault: 'router_down' });
    expect([twice.status, (await problem(twice)).what]).toEqual([400, 'router_down lasts at millpond already']);
  });

  test('a fleet that has died is not asked', async () => {
    const hold = createFleetHold((order) => orders.push(order));
    open(() => hold);
    expect((await post('/api/demo/faults', START)).status).toBe(503);
    hold.hear(NOW_IS, null);
    const asked = hold.start({ site: 'millpond', fault: 'gauge_drift', minutes: null });
    hold.lose();
    expect([await asked, hold.now()]).toEqual([null, null]);
  });

  test('faults and ways are those of the simulation, and each has its words', () => {
    expect(DEMO_FAULTS).toEqual(SIMULATED);
    expect([...DEMO_WAYS].sort()).toEqual([...WAYS].sort());
    const words = demoWords(ENGLISH);
    expect(Object.keys(words.faults)).toEqual(DEMO_FAULTS);
    expect(Object.keys(words.shows)).toEqual(DEMO_FAULTS);
    expect(Object.keys(words.ways).sort()).toEqual([...DEMO_WAYS].sort());
  });
});
