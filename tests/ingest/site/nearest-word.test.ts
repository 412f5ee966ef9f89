import { describe, expect, test } from 'vitest';
import { nearestWord } from '../../../ingest/site/nearest-word.ts';

describe('nearestWord', () => {
  const keys = ['rated_power_w', 'role', 'phase', 'input_cable', 'output_cable', 'terminated'];
  test.each([
    ['rated_power', 'rated_power_w'],
    ['Rated-Power-W', 'rated_power_w'],
    ['phse', 'phase'],
    ['pahse', 'phase'],
    ['outputcable', 'output_cable'],
    ['terminator', 'terminated'],
    ['colour', null],
    ['', null],
    ['x'.repeat(5000), null],
  ])('%j most likely means %j', (word, meant) => {
    expect(nearestWord(word, keys)).toBe(meant);
  });
});
