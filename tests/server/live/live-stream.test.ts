import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { liveChangeSchema, liveWorkerSchema } from '../../../server/contract/live.ts';
import { createApp } from '../../../server/http/app.ts';
import { type Changes, followChanges } from '../../../server/live/follow-changes.ts';
import { liveStream } from '../../../server/live/live-stream.ts';

let version = { change: 7, people: 0 };
let answered: { site: string; stamp: string; asOf: number }[] = [];
let read: string[] = [];
let changes: Changes;
let workerAt: number | null = null;
beforeEach(() => {
  version = { change: 7, people: 0 };
  answered = [{ site: 'millpond', stamp: 'a', asOf: 0 }];
  read = [];
  const reads = { answered: () => answered, changedSites: () => read };
  changes = followChanges({ version: () => version, reads, nowMs: () => 1000 }, () => undefined);
});
afterEach(() => changes.close());

/** The stream's blocks as they come. */
async function* blocks(response: Response): AsyncGenerator<string> {
  const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader();
  let text = '';
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    text += value;
    for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
      yield text.slice(0, end);
      text = text.slice(end + 2);
    }
  }
}

function open(headers: Record<string, string> = {}, heartbeatMs = 60_000) {
  const app = createApp();
  app.get('/api/live', (c) => liveStream(c, changes, { nowMs: () => 1000, workerAt: () => workerAt, heartbeatMs }));
  return app.request('/api/live', { headers });
}
const dataOf = (block: string) => liveChangeSchema.parse(JSON.parse(/^data: (.*)$/m.exec(block)![1]!));

describe('the live stream', () => {
  test('says hello with an id, then each change with the sites that it touches', async () => {
    const response = await open();
    expect(response.headers.get('Content-Type')).toContain('text/event-stream');
    const stream = blocks(response);
    expect((await stream.next()).value).toContain('id: 7.0');
    expect((await stream.next()).value).toContain('event: worker');
    version = { change: 8, people: 0 };
    read = ['sawpit'];
    answered = [{ site: 'millpond', stamp: 'b', asOf: 0 }];
    changes.look();
    const block = (await stream.next()).value as string;
    expect(block).toContain('event: change');
    expect(block).toContain('id: 8.0');
    expect(dataOf(block)).toEqual({ change: 8, people: 0, at: 1000, sites: ['millpond', 'sawpit'] });
  });

  test('a mark may touch any site, so all are asked for again', async () => {
    const stream = blocks(await open());
    await stream.next();
    await stream.next();
    version = { change: 7, people: 1 };
    changes.look();
    expect(dataOf((await stream.next()).value as string)).toMatchObject({ people: 1, sites: null });
  });

  test('who comes back is told at once where anything changed, and not where nothing did', async () => {
    const behind = blocks(await open({ 'Last-Event-ID': '5.0' }));
    await behind.next();
    expect(dataOf((await behind.next()).value as string)).toMatchObject({ change: 7, sites: null });
    const even = blocks(await open({ 'Last-Event-ID': '7.0' }, 20));
    await even.next();
    await even.next();
    expect((await even.next()).value).toBe(': still here');
  });

  test('says when the worker last listened, and again when it did once more', async () => {
    workerAt = null;
    const stream = blocks(await open({}, 20));
    await stream.next();
    const workerOf = (block: unknown) => liveWorkerSchema.parse(JSON.parse(/^data: (.*)$/m.exec(String(block))![1]!));
    expect(workerOf((await stream.next()).value)).toEqual({ heartbeatAt: null, now: 1000 });
    workerAt = 900;
    let next = await stream.next();
    while (next.value === ': still here') next = await stream.next();
    expect(workerOf(next.value)).toEqual({ heartbeatAt: 900, now: 1000 });
    workerAt = null;
  });

  test('a change that comes before the first words are out is not lost', async () => {
    const opening = open();
    version = { change: 8, people: 0 };
    const response = await opening;
    changes.look();
    const said: string[] = [];
    for await (const block of blocks(response)) {
      said.push(block);
      if (block.includes('event: change')) break;
    }
    expect(said.at(-1)).toContain('id: 8.0');
  });

  test('ends when the server closes', async () => {
    const stream = blocks(await open());
    await stream.next();
    await stream.next();
    changes.close();
    expect((await stream.next()).done).toBe(true);
  });
});
