/** Loads that step: appliances that come and go by the hour of the day, as one step function for each phase. */
import type { SimSite, Span } from './plan.ts';
import { Random } from './random.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

export interface StepFunction {
  at(t: number): number;
}

const APPLIANCES = [
  { share: 0.02, minutes: 14, aDay: 30, hours: [0, 24] },
  { share: 0.05, minutes: 25, aDay: 20, hours: [6, 23] },
  { share: 0.12, minutes: 18, aDay: 9, hours: [6, 22] },
  { share: 0.2, minutes: 40, aDay: 4, hours: [8, 21] },
  { share: 0.3, minutes: 9, aDay: 5, hours: [11, 20] },
] as const;

/** @param unitW what a share of 1 means, W */
export function loadSteps(site: SimSite, phaseSeed: number, unitW: number, meanShare: number): StepFunction {
  const random = new Random(site.seed, phaseSeed, 77);
  const usual = APPLIANCES.reduce((sum, a) => sum + (a.share * a.aDay * a.minutes) / 1440, 0);
  const scale = Math.max(0.15, (meanShare - 0.06) / usual);
  const changes: [number, number][] = [[site.from - DAY_MS, 0.06 * unitW * Math.min(1, scale)]];
  for (let day = -1; day < site.days; day++) {
    const weekend = (Math.floor(site.from / DAY_MS) + day) % 7 < 2 ? 1.2 : 1;
    for (const { share, minutes, aDay, hours } of APPLIANCES) {
      const count = Math.round(aDay * scale * weekend * random.between(0.8, 1.2));
      for (let i = 0; i < count; i++) {
        const start = site.from + day * DAY_MS + random.between(hours[0], hours[1]) * HOUR_MS;
        const watts = share * unitW * random.between(0.7, 1.3);
        changes.push([start, watts], [start + random.exponential(minutes * 60_000), -watts]);
      }
    }
  }
  return stepFunction(changes);
}

function stepFunction(changes: [number, number][]): StepFunction {
  changes.sort((a, b) => a[0] - b[0]);
  const times = Float64Array.from(changes, ([t]) => t);
  const values = new Float64Array(times.length);
  let sum = 0;
  changes.forEach(([, by], i) => {
    sum += by;
    values[i] = Math.max(0, sum);
  });
  return {
    at(t) {
      let low = 0;
      let high = times.length - 1;
      if (t < times[0]!) return 0;
      while (low < high) {
        const middle = (low + high + 1) >> 1;
        if (times[middle]! <= t) low = middle;
        else high = middle - 1;
      }
      return values[low]!;
    },
  };
}

let clouds = { seed: -1, slot: -1, share: 1 };

/** Asked many times of one slot. */
function cloudAt(seed: number, slot: number): number {
  if (clouds.seed !== seed || clouds.slot !== slot)
    clouds = { seed, slot, share: new Random(seed, slot & 0xffffff, 5).between(0.45, 1) };
  return clouds.share;
}

/** Sun as a share of the peak, by a cosine day and cloudiness that changes by the hour. */
export function sunShare(site: SimSite, t: number): number {
  const hour = ((t - site.from) / HOUR_MS) % 24;
  if (hour < 6 || hour > 18) return 0;
  const slot = Math.floor(t / (HOUR_MS / 3));
  const cloud = cloudAt(site.seed, slot);
  return Math.sin(((hour - 6) / 12) * Math.PI) * cloud;
}

export const spanAt = <S extends Span>(spans: readonly S[], t: number): S | null =>
  spans.find(({ start, end }) => t >= start && t < end) ?? null;
