/** Seeded chance of the verdict fleets; nothing of it is shared with the demo's simulator. */

/** Marsaglia's xorwow-like mixing of a 32-bit counter (splitmix32); good enough for weather and appliances. */
export class Random {
  #state: number;
  #spare: number | null = null;

  constructor(...seeds: readonly number[]) {
    this.#state = seeds.reduce((a, b) => Math.imul(a ^ (b + 0x9e3779b9), 0x85ebca6b) >>> 0, 0x2545f491);
  }

  /** 0 ≤ x < 1. */
  next(): number {
    this.#state = (this.#state + 0x9e3779b9) >>> 0;
    let z = this.#state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return ((z ^ (z >>> 15)) >>> 0) / 2 ** 32;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  whole(low: number, high: number): number {
    return Math.floor(this.between(low, high + 1));
  }

  chance(p: number): boolean {
    return this.next() < p;
  }

  pick<T>(list: readonly T[]): T {
    return list[Math.floor(this.next() * list.length)]!;
  }

  exponential(mean: number): number {
    return -mean * Math.log(1 - this.next());
  }

  normal(): number {
    if (this.#spare !== null) {
      const spare = this.#spare;
      this.#spare = null;
      return spare;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - this.next()));
    const angle = 2 * Math.PI * this.next();
    this.#spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  }
}
