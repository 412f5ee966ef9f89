import { describe, expect, test } from 'vitest';
import { createPrng } from '../../../ingest/demo/prng.ts';
import { beginDay, createWeather, stepWeather } from '../../../ingest/demo/weather.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM } from './_sample-site.ts';

describe('stepWeather', () => {
  test('the sun shines by day only, and a heat wave warms by as much as it says', () => {
    const prng = createPrng(2, 'weather');
    const weather = createWeather();
    beginDay(weather, prng);
    const at = (hourUtc: number, heatC = 0) => {
      stepWeather(weather, prng, FROM + hourUtc * HOUR_MS, 60, heatC);
      return { ...weather };
    };
    expect(at(2).sunShare).toBe(0);
    expect(at(22).sunShare).toBe(0);
    expect(at(12).sunShare).toBeGreaterThan(0.02);
    expect(at(14, 9).ambientC - at(14).ambientC).toBeCloseTo(9, 9);
  });
});
