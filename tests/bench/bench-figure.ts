/** One figure beside what it is measured against, and how figures are printed. */
import { loadavg } from 'node:os';

export interface BenchFigure {
  readonly part: string;
  readonly what: string;
  readonly value: number;
  readonly unit: string;
  /** The alternative measured in the same run, in the same unit. */
  readonly against: { readonly name: string; readonly value: number } | null;
  /** What is asked: of the ratio to the alternative, or of the value itself. Null: for information. */
  readonly asked: { readonly of: 'ratio' | 'value'; readonly is: 'least' | 'most'; readonly limit: number } | null;
  readonly note: string;
  /** Load of the machine over the last minute, as it was then. */
  readonly load: number;
}

export function figure(
  part: string,
  what: string,
  value: number,
  unit: string,
  more: Partial<Pick<BenchFigure, 'against' | 'asked' | 'note'>> = {},
): BenchFigure {
  return { part, what, value, unit, against: null, asked: null, note: '', load: loadavg()[0]!, ...more };
}

/** How often the alternative's value fits into ours; null without an alternative. */
export function ratioOf({ value, against }: BenchFigure): number | null {
  return against === null ? null : value / against.value;
}

/** Whether what is asked is met; null where nothing is asked. */
export function isMet(one: BenchFigure): boolean | null {
  if (one.asked === null) return null;
  const measured = one.asked.of === 'value' ? one.value : ratioOf(one);
  if (measured === null || Number.isNaN(measured)) return false;
  return one.asked.is === 'least' ? measured >= one.asked.limit : measured <= one.asked.limit;
}

export function sayFigure(one: BenchFigure): string {
  const ratio = ratioOf(one);
  const met = isMet(one);
  const parts = [`${one.what}: ${short(one.value)} ${one.unit}`];
  if (one.against !== null && ratio !== null) {
    parts.push(`${one.against.name}: ${short(one.against.value)}`, `ratio ${short(ratio)}`);
  }
  if (one.asked !== null) {
    const { of, is, limit } = one.asked;
    parts.push(`asked: ${of === 'ratio' ? 'ratio ' : ''}${is === 'least' ? '≥' : '≤'} ${limit}`);
  }
  if (one.note !== '') parts.push(one.note);
  parts.push(`load ${one.load.toFixed(1)}`);
  return `${met === null ? '    ' : met ? 'ok  ' : 'MISS'} ${parts.join(' · ')}`;
}

function short(value: number): string {
  if (Math.abs(value) >= 1000) return Math.round(value).toLocaleString('en');
  return String(Number(value.toPrecision(3)));
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
