/** Bytes that break things: quotes, brackets, ends of lines, NUL, the first bytes of long UTF-8 letters. */
const HOSTILE = [
  0, 9, 10, 13, 32, 34, 34, 44, 45, 46, 48, 57, 58, 59, 69, 91, 92, 93, 101, 123, 125, 127, 0x80, 0xc3, 0xe2, 0xef,
  0xf0, 0xff,
];

/** A copy of `good` with one to eight changes, insertions, cuts and repeats; the same for the same seed. */
export function mutated(good: Uint8Array, seed: number): Uint8Array {
  let state = Math.imul(seed, 0x9e3779b1) >>> 0;
  const next = (below: number): number => {
    // xorshift32 (G. Marsaglia, "Xorshift RNGs", 2003)
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % below;
  };
  let bytes = [...good];
  for (let changes = 1 + next(8); changes > 0; changes -= 1) {
    const at = next(bytes.length + 1);
    const kind = next(5);
    if (kind <= 1) bytes[Math.min(at, bytes.length)] = HOSTILE[next(HOSTILE.length)]!;
    else if (kind === 2) bytes.splice(at, 0, HOSTILE[next(HOSTILE.length)]!);
    else if (kind === 3) bytes.splice(at, 1 + next(12));
    else bytes = [...bytes.slice(0, at), ...bytes.slice(Math.max(0, at - next(40)))];
  }
  return Uint8Array.from(bytes);
}
