import { describe, expect, test } from 'vitest';
import { matches } from '../../../web/parts/matches.ts';

describe('matches', () => {
  test.each([
    ['', 'Millpond Clinic', true],
    ['CLINIC mill', 'Millpond Clinic', true],
    ['mill  silent', 'Millpond Clinic silent', true],
    ['mill silent', 'Millpond Clinic level', false],
  ])('%j in %j: %s', (filter, text, isThere) => {
    expect(matches(filter, text)).toBe(isThere);
  });
});
