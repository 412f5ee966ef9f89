/** Sun and warmth over the valley, for PV, heatsinks and copper. */
import { DAY_MS, HOUR_MS } from '../vocabulary/time.ts';
import { LOCAL_AHEAD_MS } from './load.ts';
import type { Prng } from './prng.ts';

export interface Weather {
  /** Share of the clear sky that today lets through. */
  dayShare: number;
  /** Passing clouds, 0 to 1. */
  cloudShare: number;
  /** Share of the PV's peak power now. */
  sunShare: number;
  ambientC: number;
}

export function createWeather(): Weather {
  return { dayShare: 1, cloudShare: 1, sunShare: 0, ambientC: 20 };
}

export function beginDay(weather: Weather, prng: Prng): void {
  weather.dayShare = prng.between(0.25, 1);
}

/** Sun from half past six to half past seven in the evening; warmest in mid-afternoon. */
export function stepWeather(weather: Weather, prng: Prng, tMs: number, dtS: number, heatC: number): void {
  const hour = ((tMs + LOCAL_AHEAD_MS) % DAY_MS) / HOUR_MS;
  const height = Math.sin((Math.PI * (hour - 6.5)) / 13);
  const keep = Math.exp(-dtS / 240);
  const roughness = 0.5 * (1 - weather.dayShare);
  weather.cloudShare = 1 + (weather.cloudShare - 1) * keep + roughness * Math.sqrt(1 - keep * keep) * prng.normal();
  const clouds = Math.min(1.15, Math.max(0.1, weather.cloudShare));
  weather.sunShare = hour > 6.5 && hour < 19.5 ? weather.dayShare * clouds * height ** 1.3 : 0;
  weather.ambientC = 21 + heatC + 4 * Math.sin((Math.PI * (hour - 9)) / 12);
}
