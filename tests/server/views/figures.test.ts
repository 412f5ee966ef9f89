import { describe, expect, test } from 'vitest';
import {
  calendarDaysAgo,
  dayText,
  energyText,
  figureText,
  lengthText,
  powerText,
  quantityText,
  signedText,
} from '../../../server/views/figures.ts';

const plain = (text: string): string => text.replaceAll('\u00a0', ' ').replaceAll('\u2212', '-');

describe('figures', () => {
  test('are said with the decimals of their quantity; nothing is said of what is missing', () => {
    expect(plain(quantityText('output_frequency_hz', 48.7))).toBe('48.70 Hz');
    expect(plain(quantityText('soc_pct', 71))).toBe('71.0 %');
    expect(quantityText('soc_pct', null)).toBe('–');
    expect(figureText(Number.NaN, 1)).toBe('–');
  });

  test('no minus stands before a zero, and no plus', () => {
    expect(figureText(-0.04, 1)).toBe('0.0');
    expect(signedText(0.04, 1)).toBe('0.0');
    expect(plain(signedText(-5.1, 1))).toBe('-5.1');
    expect(signedText(1.8, 1)).toBe('+1.8');
  });

  test('power and energy change to thousands from a thousand on', () => {
    expect([powerText(460), powerText(8540), powerText(-1500), energyText(999), energyText(7050)].map(plain)).toEqual([
      '460 W',
      '8.54 kW',
      '-1.50 kW',
      '999 Wh',
      '7.05 kWh',
    ]);
  });

  test('lengths of time are the two greatest units', () => {
    const said = [70, 99, 100, 250, 3600, 7260, 124_920, 273_600].map((s) => plain(lengthText(s * 1000)));
    expect(said).toEqual(['70 s', '99 s', '1 min 40 s', '4 min 10 s', '1 h', '2 h 1 min', '34 h 42 min', '3 d 4 h']);
  });

  test('days are those of the zone, over a change of the clocks too', () => {
    // Lisbon moves to summer time on 29 March 2026 at 01:00 UTC.
    expect(
      calendarDaysAgo(Date.parse('2026-03-28T23:30:00Z'), Date.parse('2026-03-29T23:30:00Z'), 'Europe/Lisbon'),
    ).toBe(2);
    expect(calendarDaysAgo(Date.parse('2026-03-28T23:30:00Z'), Date.parse('2026-03-29T12:00:00Z'), 'UTC')).toBe(1);
    const now = Date.parse('2026-04-14T06:40:00Z');
    expect(dayText(Date.parse('2025-11-03T12:00:00Z'), 'en-GB', 'UTC', now)).toBe('3 November 2025');
    expect(dayText(Date.parse('2026-03-28T12:00:00Z'), 'en-GB', 'UTC', now)).toBe('28 March');
  });
});
