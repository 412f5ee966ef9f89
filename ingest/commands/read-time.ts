/** Times and durations as people write them on a command line. */
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { DAY_MS, type EpochMs, HOUR_MS, MINUTE_MS, parseTime, SECOND_MS } from '../vocabulary/time.ts';

const DAY = /^\d{4}-\d{2}-\d{2}$/;

/** RFC 3339, or a date, which is its midnight UTC. @throws NeedsOperator for anything else */
export function readTime(command: string, option: string, text: string): EpochMs {
  const t = parseTime(DAY.test(text) ? `${text}T00:00:00Z` : text);
  if (t !== null) return t;
  throw new NeedsOperator({
    where: `kilter ${command}`,
    what: `--${option} is "${text}"`,
    remedy: 'give a time with its offset, for example 2026-03-28T14:00:00Z, or a date, for example 2026-03-28',
  });
}

const UNIT_MS: Readonly<Record<string, number>> = { s: SECOND_MS, m: MINUTE_MS, h: HOUR_MS, d: DAY_MS };
const DURATION = /^(\d{1,6})([smhd])$/;

/** `15s`, `1m`, `1h`, `1d` in milliseconds. @throws NeedsOperator for anything else */
export function readDuration(command: string, option: string, text: string): number {
  const m = DURATION.exec(text);
  const ms = m === null ? 0 : Number(m[1]) * UNIT_MS[m[2]!]!;
  if (ms > 0) return ms;
  throw new NeedsOperator({
    where: `kilter ${command}`,
    what: `--${option} is "${text}"`,
    remedy: 'give a duration in seconds, minutes, hours or days, for example 15s, 1m, 1h, 1d',
  });
}
