/** Lines as they come live in bad times: in order, late, backwards, repeated, filling, contradicting, replacing. */
import { createPrng, type Prng } from '../../ingest/demo/prng.ts';
import { DAY_MS } from '../../ingest/vocabulary/time.ts';

const FROM = Date.UTC(2026, 2, 2, 22, 0, 0);
const EVERY_MS = 60_000;
const SITES = ['millpond', 'quarry'];
const PLACES = [{ unit: 'u1' }, { unit: 'u2' }, { pack: 'p1' }] as const;

/** @param count about so many lines, of six sources; from the evening of one day into the next */
export function liveLines(seed: number, count: number): string[] {
  const prng = createPrng(seed, 'live lines');
  const lines: string[] = [];
  for (let n = 0; lines.length < count; n++) {
    for (const site of SITES)
      for (const place of PLACES) lines.push(...linesOf(prng, site, place, FROM + n * EVERY_MS));
  }
  return lines.slice(0, count);
}

function linesOf(prng: Prng, site: string, place: (typeof PLACES)[number], t: number): string[] {
  const own =
    'unit' in place
      ? { output_power_w: prng.whole(0, 3000), output_voltage_v: 229.5 + prng.whole(0, 9) / 10, mode: 'grid' }
      : { pack_current_a: prng.whole(-300, 300) / 10, soc_pct: prng.whole(200, 1000) / 10 };
  const fields = { t, site, ...place, ...own };
  const line = JSON.stringify(fields);
  const settings = { t, site, ...place, settings: { low_soc_cutoff_pct: 20 + (t % 3) } };
  switch (prng.whole(0, 30)) {
    case 0:
      return [JSON.stringify({ ...fields, output_power_w: 1, soc_pct: 50 }), line];
    case 1:
      return [JSON.stringify({ ...fields, soc_pct: 41, output_power_w: 4, replaces: true, revision: 2 }), line];
    case 2:
      return [JSON.stringify({ ...fields, 'door open': { b: [1], a: 'yes' } }), line];
    case 3:
      return [line, JSON.stringify({ t, site, ...place, alarm: 'fan', state: 'raised' })];
    case 4:
      return ['unit' in place ? JSON.stringify(settings) : line];
    case 5:
      return [line, line];
    case 6:
      return [JSON.stringify({ t, site, ...place, output_frequency_hz: 50.01 }), line];
    case 7:
    case 8:
      return [line, JSON.stringify({ ...fields, t: t - prng.whole(1, 90) * 61_000 })];
    case 9:
      return [line, JSON.stringify({ ...fields, t: t - DAY_MS + prng.whole(0, 9) * 7000 })];
    default:
      return [line];
  }
}
