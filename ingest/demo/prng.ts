/** A stream of pseudo-random numbers: the same seed and name give the same stream on every machine. */
export interface Prng {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Uniform in [low, high). */
  between(low: number, high: number): number;
  /** Whole number in [low, high], both included. */
  whole(low: number, high: number): number;
  /** Normal with mean 0 and standard deviation 1, from a table: never beyond ± 4.3. */
  normal(): number;
  /** true with the probability given. */
  chance(probability: number): boolean;
  /** Where the stream is: `restore` goes on from there. */
  save(): readonly number[];
  restore(saved: readonly number[]): void;
}

/** FNV-1a over the characters, so that streams of different names do not resemble each other. */
function hashOf(text: string): number {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  return hash >>> 0;
}

/** Next word of splitmix32, used only to fill the state of the generator proper. */
function splitmix32(state: number): () => number {
  return () => {
    state = (state + 0x9e3779b9) | 0;
    let z = state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return (z ^ (z >>> 15)) | 0;
  };
}

interface Generator {
  step(): number;
  save(): readonly number[];
  restore(saved: readonly number[]): void;
}

/** sfc32 (C. Doty-Humphrey, PractRand): 128 bits of state, 32 bits a step, as a signed integer. */
function sfc32(seed: number, name: string): Generator {
  const fill = splitmix32(seed ^ hashOf(name));
  let [a, b, c, counter] = [fill(), fill(), fill(), 1];
  const step = () => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + t) | 0;
    return t;
  };
  for (let i = 0; i < 12; i++) step();
  return {
    step,
    save: () => [a, b, c, counter],
    restore(saved) {
      [a = 0, b = 0, c = 0, counter = 0] = saved;
    },
  };
}

const NORMAL_COUNT = 1 << 16;
let normals: Float64Array | null = null;

/** Box–Muller once into a table: noise is drawn a hundred million times, logarithms are not. */
function normalTable(): Float64Array {
  if (normals !== null) return normals;
  const { step } = sfc32(1, 'normal table');
  const table = new Float64Array(NORMAL_COUNT);
  for (let i = 0; i < NORMAL_COUNT; i += 2) {
    const radius = Math.sqrt(-2 * Math.log(((step() >>> 0) + 1) / 2 ** 32));
    const angle = (2 * Math.PI * (step() >>> 0)) / 2 ** 32;
    table[i] = radius * Math.cos(angle);
    table[i + 1] = radius * Math.sin(angle);
  }
  normals = table;
  return table;
}

/** A quick walk through the table of normals, for noise on every reading: plain data, so that drawing from it is inlined. */
export interface NoiseWalk {
  readonly at: Int32Array;
  readonly table: Float64Array;
}

export function createNoise(seed: number, name: string): NoiseWalk {
  return { at: new Int32Array([sfc32(seed | 0, name).step()]), table: normalTable() };
}

/** Normal with mean 0 and standard deviation 1; a plain congruential walk is random enough for noise. */
export function drawNoise({ at, table }: NoiseWalk): number {
  const next = (Math.imul(at[0]!, 1664525) + 1013904223) | 0;
  at[0] = next;
  return table[next >>> 16]!;
}

/** @param name  tells apart the streams of one seed: 'grid of hillside-clinic' */
export function createPrng(seed: number, name: string): Prng {
  const { step, save, restore } = sfc32(seed | 0, name);
  const uniform = () => (step() >>> 0) / 2 ** 32;
  const noise: NoiseWalk = { at: new Int32Array([step()]), table: normalTable() };
  return {
    uniform,
    between: (low, high) => low + (high - low) * uniform(),
    whole: (low, high) => low + Math.floor((high - low + 1) * uniform()),
    normal: () => drawNoise(noise),
    chance: (probability) => uniform() < probability,
    save: () => [...save(), noise.at[0]!],
    restore(saved) {
      restore(saved);
      noise.at[0] = saved[4] ?? 0;
    },
  };
}
