import { describe, expect, test } from 'vitest';
import { createProcessIo } from '../../server/process-io.ts';

/** An outlet that keeps what is written; it takes no more after `limit` writes until it is drained. */
function outlet(limit = Number.POSITIVE_INFINITY, isTTY = false) {
  const written: string[] = [];
  const waiting: (() => void)[] = [];
  return {
    written,
    isTTY,
    columns: 12,
    write: (text: string) => written.push(text) < limit,
    once: (_: 'drain', listener: () => void) => waiting.push(listener),
    drain: () => {
      for (const listener of waiting.splice(0)) listener();
    },
  };
}

const noSignals = { once: () => undefined };

describe('createProcessIo', () => {
  test('gathers lines and writes them at the end, or before a line beside them', async () => {
    const out = outlet();
    const io = createProcessIo(out, outlet(), noSignals, () => 5.4);
    io.out('a');
    io.out('b');
    expect(out.written).toEqual([]);
    io.err('note');
    expect(out.written).toEqual(['a\nb\n']);
    io.out('c');
    await io.flush();
    expect(out.written).toEqual(['a\nb\n', 'c\n']);
    expect(io.now()).toBe(5);
  });

  test('waits where the output takes no more', async () => {
    const out = outlet(1);
    const io = createProcessIo(out, outlet(), noSignals, () => 0);
    io.out('x'.repeat(70_000));
    let isDone = false;
    const waiting = io.drained().then(() => {
      isDone = true;
    });
    await new Promise((resolve) => setImmediate(resolve));
    expect(isDone).toBe(false);
    out.drain();
    await waiting;
    expect(isDone).toBe(true);
  });

  test('draws progress on a terminal only, no wider than it, and wipes it before a line', () => {
    const terminal = outlet(undefined, true);
    const io = createProcessIo(outlet(), terminal, noSignals, () => 0);
    io.draw('import 42 % and more');
    io.err('note');
    expect(terminal.written).toEqual(['\r\u001b[2Kimport 42 %', '\r\u001b[2K', 'note\n']);
    const pipe = outlet();
    createProcessIo(outlet(), pipe, noSignals, () => 0).draw('import 42 %');
    expect(pipe.written).toEqual([]);
  });

  test('calls back once, whichever signal comes first', () => {
    const listeners: (() => void)[] = [];
    const io = createProcessIo(outlet(), outlet(), { once: (_, listener) => listeners.push(listener) }, () => 0);
    let stops = 0;
    io.onStop(() => {
      stops++;
    });
    for (const listener of listeners) listener();
    expect([listeners.length, stops]).toEqual([2, 1]);
  });
});
