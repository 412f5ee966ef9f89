/** Smallest number of letters changed, added, left out or swapped with their neighbour. */
function lettersApart(a: string, b: string): number {
  let before: number[] = [];
  let above = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let least = Math.min(above[j]! + 1, row[j - 1]! + 1, above[j - 1]! + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) least = Math.min(least, before[j - 2]! + 1);
      row.push(least);
    }
    before = above;
    above = row;
  }
  return above[b.length]!;
}

/**
 * The known word that somebody most likely meant, or null where none is near.
 *
 * Near: at most a third of the letters differ, or one word begins with the other ('rated_power' for 'rated_power_w').
 */
export function nearestWord(word: string, known: Iterable<string>): string | null {
  // Nobody's key is this long, and the comparison takes the product of both lengths.
  if (word.length > 60) return null;
  const given = word.toLowerCase().replaceAll(/[\s-]/g, '_');
  let nearest: string | null = null;
  let nearestApart = Number.POSITIVE_INFINITY;
  for (const candidate of known) {
    const plain = candidate.toLowerCase().replaceAll(/[\s-]/g, '_');
    const begins = given.length >= 3 && (plain.startsWith(given) || given.startsWith(plain));
    const apart = lettersApart(given, plain);
    const isNear = begins || apart <= Math.max(1, Math.floor(plain.length / 3));
    if (isNear && apart < nearestApart && apart < plain.length) {
      nearest = candidate;
      nearestApart = apart;
    }
  }
  return nearest;
}
