/** What happened at a site, laid out on lanes over one time axis so that no two marks lie on each other. Pure. */
import type { TimeWindow } from '../../url/view.ts';

export interface Mark {
  readonly from: number;
  readonly to: number;
  readonly text: string;
}

export interface LaidMark<One extends Mark> {
  readonly mark: One;
  /** Parts of the window, 0 to 1. */
  readonly left: number;
  readonly width: number;
  readonly lane: number;
  /** The text stands left of the mark, where there is no room at its right. */
  readonly isTextLeft: boolean;
}

/** Width of an average character of small text, as part of a plot `plotPx` wide. */
const CHARACTER_PX = 6.6;

/** Marks that touch the window, each on the first lane that is free where it and its text stand. */
export function layMarks<One extends Mark>(
  marks: readonly One[],
  window: TimeWindow,
  plotPx: number,
): { readonly laid: readonly LaidMark<One>[]; readonly lanes: number } {
  const length = window.to - window.from;
  const ends: number[][] = [];
  const laid = [...marks]
    .filter(({ from, to }) => to > window.from && from < window.to)
    .sort((a, b) => a.from - b.from || b.to - a.to)
    .map((mark) => {
      const left = Math.max(0, (mark.from - window.from) / length);
      const right = Math.min(1, (mark.to - window.from) / length);
      const text = (mark.text.length * CHARACTER_PX + 10) / plotPx;
      // A mark that is wide enough has its text over it.
      const isTextLeft = left + text > 1 && left - text >= 0;
      const span: readonly [number, number] = isTextLeft ? [left - text, right] : [left, Math.max(right, left + text)];
      const free = ends.findIndex((taken) =>
        taken.every((end, i) => i % 2 === 1 || span[1] < end || span[0] > taken[i + 1]!),
      );
      const lane = free === -1 ? ends.length : free;
      ends[lane] = [...(ends[lane] ?? []), span[0], span[1]];
      return { mark, left, width: right - left, lane, isTextLeft };
    });
  return { laid, lanes: ends.length };
}
