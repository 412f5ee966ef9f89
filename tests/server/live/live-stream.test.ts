import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { liveChangeSchema } from '../../../server/contract/live.ts';
import { createApp } from '../../../server/http/app.ts';
import { type Changes, followChanges } from '../../../server/live/follow-changes.ts';
import { liveStream } from '../../../server/live/live-stream.ts';

let version = { change: 7, people: 0 };
let answered: { site: string; stamp: string; asOf: number }[] = [];
let read: string[] = [];
let changes: Changes;
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
  app.get('/api/live', (c) => liveStream(c, changes, () => 1000, heartbeatMs));
  return app.request('/api/live', { headers });
}
const dataOf = (block: string) => liveChangeSchema.parse(JSON.parse(/^data: (.*)$/m.exec(block)![1]!));

describe('the live stream', () => {
  test('says hello with an id, then each change with the sites that it touches', async () => {
    const response = await open();
    expect(response.headers.get('Content-Type')).toContain('text/event-stream');
    const stream = blocks(response);
    expect((await stream.next()).value).toContain('id: 7.0');
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
    expect((await even.next()).value).toBe(': still here');
  });

  test('ends when the server closes', async () => {
    const stream = blocks(await open());
    await stream.next();
    changes.close();
    expect((await stream.next()).done).toBe(true);
  });
});
