import { describe, expect, test } from 'vitest';
import { topicTemplate } from '../../../../ingest/wire/mqtt/topic-template.ts';

const made = (text: string) => {
  const template = topicTemplate(text);
  if (typeof template === 'string') throw new RangeError(template);
  return template;
};

describe('topicTemplate', () => {
  test('named levels become wildcards of the filter, and give their names', () => {
    const { filter, match } = made('plants/{site}/inverters/inv-{unit}/state');
    expect(filter).toBe('plants/+/inverters/+/state');
    expect(match('plants/millpond/inverters/inv-u1/state')).toEqual({ site: 'millpond', unit: 'u1' });
    expect(match('plants/millpond/inverters/u1/state')).toBeNull();
    expect(match('plants/millpond/inverters/inv-/state')).toBeNull();
    expect(match('plants/millpond/inverters/inv-u1/state/more')).toBeNull();
    expect(match('plants/millpond/inverters/inv-u1')).toBeNull();
  });

  test('# takes its parent level too, and no wildcard in front takes $SYS', () => {
    expect(made('a/{site}/#').match('a/millpond')).toEqual({ site: 'millpond' });
    expect(made('a/{site}/#').match('a/millpond/b/c')).toEqual({ site: 'millpond' });
    expect(made('#').match('$SYS/uptime')).toBeNull();
    expect(made('+/uptime').match('$SYS/uptime')).toBeNull();
    expect(made('+/uptime').match('house/uptime')).toEqual({});
  });

  test.each([
    ['', 'no topic'],
    ['a/#/b', 'last level'],
    ['a/b+', 'mixes a wildcard'],
    ['a/{door}', 'names no level'],
    ['a/{unit}/{unit}', 'named twice'],
    ['a/{unit', 'names no level'],
  ])('says what is wrong with "%s"', (text, words) => {
    expect(topicTemplate(text)).toContain(words);
  });
});
