import { describe, expect, test } from 'vitest';
import { type Unseen, unseenCauses } from '../../../ingest/analysis/_unseen-causes.ts';

const UNSEEN: Unseen = {
  subject: 'u1',
  byAll: false,
  isOwner: false,
  start: 0,
  detectedAt: 0,
  end: null,
  unseenBy: ['u1'],
  seenBy: ['u2'],
  lastSocPct: null,
  dcV: null,
  voltage: 'there',
  oddSettings: [],
};

describe('unseenCauses', () => {
  const cases = [true, false].flatMap((isOwner) =>
    [true, false].flatMap((byAll) =>
      (['there', 'gone', 'unknown'] as const).flatMap((voltage) =>
        [[], ['battery_type']].map((oddSettings) => ({ ...UNSEEN, isOwner, byAll, voltage, oddSettings })),
      ),
    ),
  );

  test.each(cases)(
    'weights sum to 1, the likeliest first: owner $isOwner, all $byAll, voltage $voltage, settings $oddSettings',
    (unseen) => {
      const weights = unseenCauses(unseen).map(({ weight }) => weight);
      expect(weights.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 9);
      expect(weights).toEqual([...weights].sort((a, b) => b - a));
    },
  );

  test('unseen by all is the data cable, by a follower the link, with the voltage gone the breaker, with an odd setting the setting', () => {
    const first = (over: Partial<Unseen>): string | undefined => unseenCauses({ ...UNSEEN, ...over })[0]?.cause;
    expect(first({ isOwner: true, byAll: true, seenBy: [] })).toBe('data_cable');
    expect(first({})).toBe('parallel_link');
    expect(first({ voltage: 'gone' })).toBe('battery_breaker');
    expect(first({ oddSettings: ['battery_type'] })).toBe('setting');
  });
});
