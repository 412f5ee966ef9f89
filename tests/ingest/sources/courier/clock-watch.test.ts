import { describe, expect, test } from 'vitest';
import { createClockWatch } from '../../../../ingest/sources/courier/clock-watch.ts';

function rig() {
  let [wallMs, elapsedMs] = [1_700_000_000_000, 5000];
  const said: string[] = [];
  const clock = createClockWatch({ nowMs: () => wallMs, elapsedMs: () => elapsedMs, say: (line) => said.push(line) });
  return {
    clock,
    said,
    now: () => wallMs,
    pass(ms: number) {
      wallMs += ms;
      elapsedMs += ms;
      clock.look();
    },
    step(ms: number) {
      wallMs += ms;
      clock.look();
    },
  };
}

describe('createClockWatch', () => {
  test('a step of an hour either way is told apart from time that passes', () => {
    const { clock, said, pass, step } = rig();
    for (let k = 0; k < 100; k++) pass(60_000);
    expect(clock.state()).toEqual({ offsetMs: null, steppedMs: 0, steps: 0 });
    step(3_600_000);
    pass(1000);
    expect(clock.state()).toMatchObject({ steppedMs: 3_600_000, steps: 1 });
    step(-7_200_000);
    expect(clock.state()).toMatchObject({ steppedMs: -3_600_000, steps: 2 });
    expect(said).toEqual([
      expect.stringContaining('stepped forward by 3600.0 s'),
      expect.stringContaining('stepped back by 7200.0 s'),
    ]);
  });

  test('the offset is measured in the middle of the answer’s time, and the quickest answer is believed', () => {
    const { clock, now, pass } = rig();
    const ask = (tookMs: number, serverAheadMs: number): void => {
      const sentMs = now();
      pass(tookMs);
      clock.measured(sentMs, tookMs, sentMs + tookMs / 2 + serverAheadMs);
    };
    ask(200, -3000);
    expect(clock.state().offsetMs).toBe(3000);
    ask(2000, -3900);
    expect(clock.state().offsetMs).toBe(3000);
    ask(100, -3010);
    expect(clock.state().offsetMs).toBe(3010);
    pass(200_000);
    ask(2000, -3500);
    expect(clock.state().offsetMs).toBe(3500);
  });

  test('after a step the offset is not known until it is measured anew; one that was under way during it says nothing', () => {
    const { clock, now, pass, step } = rig();
    clock.measured(now(), 0, now());
    expect(clock.state().offsetMs).toBe(0);
    const sentMs = now();
    pass(50);
    step(3_600_000);
    clock.measured(sentMs, 50, sentMs + 25);
    expect(clock.state().offsetMs).toBeNull();
    clock.measured(now(), 0, now() - 3_600_000);
    expect(clock.state().offsetMs).toBe(3_600_000);
  });
});
