/** What is given up first where the disk is full: of each unit or pack every second plain reading. */
import type { QueueRecord } from './segment-codec.ts';

export interface ThinnedRecords {
  readonly records: readonly QueueRecord[];
  /** How many readings were given up. */
  readonly dropped: number;
}

/** Keys of lines that are no plain reading: settings, alarms, corrections are never given up here. */
const NOT_PLAIN = /"(?:settings|alarm|replaces)":/;
/** Lines are written by `encodeLines`, which puts the source right behind the time. */
const SOURCE = /"site":"[^"]*","(?:unit|pack|bank|meter)":"[^"]*"/;

export function thinRecords(records: readonly QueueRecord[]): ThinnedRecords {
  const seen = new Map<string, number>();
  let dropped = 0;
  const isKept = (line: string): boolean => {
    if (NOT_PLAIN.test(line)) return true;
    const source = SOURCE.exec(line)?.[0] ?? '';
    const count = seen.get(source) ?? 0;
    seen.set(source, count + 1);
    // The first of each stays, so that one that is rare is not lost.
    if (count % 2 === 0) return true;
    dropped++;
    return false;
  };
  const kept = records.map((lines) => lines.filter(isKept)).filter((lines) => lines.length > 0);
  return { records: kept, dropped };
}
