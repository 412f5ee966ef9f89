/** Where a simulated site stands, as bytes: another process goes on from there, and so does the next start. */
import { deserialize, serialize } from 'node:v8';
import { z } from 'zod';
import { dayOf } from '../../vocabulary/time.ts';
import type { Outage } from '../grid.ts';
import { fillLoads, type SiteRun } from '../simulate-site.ts';
import { type SiteState, setOutages } from '../site-state.ts';

const VERSION = 1;
/** Parts that have a past; what an instant is worked out anew from is not among them. */
const NESTED = ['bank', 'grid', 'weather', 'trip'] as const;
const PLAIN = ['acPvWh', 'dcCommandW', 'isFull', 'pvFactor', 'acPvFactor', 'outagePlace'] as const;

type Fields = Record<string, unknown>;
const isArray = (value: unknown): value is Float64Array | Uint8Array =>
  value instanceof Float64Array || value instanceof Uint8Array;

const numbers = z.array(z.number()).readonly();
const savedSchema = z.object({
  version: z.literal(VERSION),
  atMs: z.int(),
  ticks: z.int(),
  state: z.record(z.string(), z.unknown()),
  nested: z.record(z.string(), z.record(z.string(), z.unknown())),
  outages: z.array(z.custom<Outage>((value) => typeof value === 'object' && value !== null)),
  noise: z.number(),
  slow: numbers,
  luck: numbers,
  loadSeeds: z.array(numbers).readonly(),
  jitters: z.array(numbers),
});

/** What has been lived is in it; the plan and what a day's loads are made from are not. @param atMs the next tick */
export function saveRun(run: SiteRun, atMs: number): Uint8Array {
  const { state } = run;
  return serialize({
    version: VERSION,
    atMs,
    ticks: run.ticks,
    state: { ...arraysOf(state), ...Object.fromEntries(PLAIN.map((key) => [key, state[key]])) },
    nested: Object.fromEntries(NESTED.map((key) => [key, fieldsOf(state[key])])),
    outages: state.outages,
    noise: state.noise.at[0]!,
    slow: state.slowPrng.save(),
    luck: run.luck.save(),
    loadSeeds: run.loadSeeds,
    jitters: run.sources.map(({ jitter }) => jitter.save()),
  } satisfies z.input<typeof savedSchema>);
}

/**
 * Puts a run that was just made where the saved one stood.
 *
 * @returns when its next tick begins; null where the bytes are of another version or another plan
 */
export function restoreRun(run: SiteRun, bytes: Uint8Array): number | null {
  const saved = readSaved(bytes);
  const { state } = run;
  if (saved === null || saved.jitters.length !== run.sources.length) return null;
  if (saved.loadSeeds.length !== state.loadPrngs.length) return null;
  putFields(state, saved.state);
  for (const key of NESTED) putFields(state[key], saved.nested[key] ?? {});
  setOutages(state, saved.outages);
  state.noise.at[0] = saved.noise;
  state.slowPrng.restore(saved.slow);
  run.luck.restore(saved.luck);
  for (const [i, { jitter }] of run.sources.entries()) jitter.restore(saved.jitters[i] ?? []);
  run.ticks = saved.ticks;
  run.loadSeeds = saved.loadSeeds;
  const day = dayOf(saved.atMs);
  // A run that stands at midnight begins its day itself.
  if (saved.atMs > day) fillLoads(run, day);
  run.settingsDue = run.settingsDue.filter(({ t }) => t >= saved.atMs);
  run.isStale = true;
  return saved.atMs;
}

function readSaved(bytes: Uint8Array): z.infer<typeof savedSchema> | null {
  try {
    return savedSchema.parse(deserialize(bytes));
  } catch {
    // Written by another version, or cut off: the site is lived anew from its beginning.
    return null;
  }
}

function arraysOf(state: SiteState): Fields {
  return Object.fromEntries(Object.entries(state).filter(([, value]) => isArray(value)));
}

function fieldsOf(part: object): Fields {
  return Object.fromEntries(
    Object.entries(part).filter(([, v]) => isArray(v) || ['number', 'boolean'].includes(typeof v)),
  );
}

function putFields(target: object, saved: Fields): void {
  for (const [key, value] of Object.entries(saved)) {
    const own: unknown = Reflect.get(target, key);
    if (isArray(own) && isArray(value)) own.set(value);
    else if (typeof own === typeof value) Reflect.set(target, key, value);
  }
}
