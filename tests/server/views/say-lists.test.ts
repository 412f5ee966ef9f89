import { describe, expect, test } from 'vitest';
import { ENGLISH } from '../../../server/views/english.ts';
import { sayAlerts, sayAlertsTally, sayEnded, sayEvents } from '../../../server/views/say-lists.ts';

const SAYING = { words: ENGLISH, zone: 'UTC', now: 0 };
const finding = (severity: 'urgent' | 'soon' | 'plan' | 'info', siteName = 'Millpond Clinic') => ({
  severity,
  siteName,
});

describe('the first line of the alerts', () => {
  test('says that nothing is open only where nothing is', () => {
    expect(sayAlerts([], SAYING)).toBe('Nothing is open at any site.');
    expect(sayAlerts([finding('plan'), finding('info')], SAYING)).toBe(
      'Nothing is open that could not wait for the next visit.',
    );
    expect(sayEnded(0, SAYING)).toBe('No finding has ended yet.');
    expect(sayEnded(1, SAYING)).toBe('One finding has ended.');
  });
  test('counts what cannot wait and names the first', () => {
    expect(sayAlerts([finding('soon')], SAYING)).toBe('One finding cannot wait: at Millpond Clinic.');
    expect(sayAlerts([finding('urgent', 'Sawpit'), finding('soon'), finding('info')], SAYING)).toBe(
      'Two findings cannot wait. The first is at Sawpit.',
    );
    expect(sayAlertsTally([finding('urgent'), finding('plan'), finding('plan')], SAYING)).toBe(
      'One urgent, two to plan. Each rests on stored figures.',
    );
  });
});

describe('the first line of the events', () => {
  const event = { occasion: 'unknown', outputLostS: 5 } as Parameters<typeof sayEvents>[0]['events'][number];
  test('says of how many it speaks', () => {
    expect(sayEvents({ total: 0, events: [] }, SAYING)).toBe('No site has been without the grid yet.');
    expect(sayEvents({ total: 300, events: [] }, SAYING)).toBe(
      'In the newest 0 of 300 backup events the output was never lost.',
    );
  });
  test('leaves tests out of what was lost', () => {
    const events = [event, { ...event, occasion: 'test' as const }];
    expect(sayEvents({ total: 2, events }, SAYING)).toBe('In two backup events the output was lost once.');
  });
});
