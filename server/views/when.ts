/** Times as people say them: near ones by the day's name, far ones by the date. The whole time is on hover. */
import { calendarDaysAgo, clockText, dayText, hourOfDay, weekdayText } from './figures.ts';
import type { Saying } from './saying.ts';

/** A week ahead of it names of days would be ambiguous. */
const NAMED_DAYS = 6;
const EVENING_FROM = 18;
const NIGHT_TO = 6;

/** 'today', 'yesterday', 'Sunday', '28 March' */
export function sayDay(t: number, { words, zone, now }: Saying): string {
  const ago = calendarDaysAgo(t, now, zone);
  if (ago === 0) return words.when.today;
  if (ago === 1) return words.when.yesterday;
  if (ago > 1 && ago <= NAMED_DAYS) return weekdayText(t, words.locale, zone);
  return dayText(t, words.locale, zone, now);
}

/** '19:34' today, 'Sunday 20:58', '28 March, 13:00' */
export function sayTime(t: number, saying: Saying): string {
  const { words, zone, now } = saying;
  const clock = clockText(t, words.locale, zone);
  const ago = calendarDaysAgo(t, now, zone);
  if (ago === 0) return clock;
  if (ago >= 1 && ago <= NAMED_DAYS) return `${sayDay(t, saying)} ${clock}`;
  return `${sayDay(t, saying)}, ${clock}`;
}

/** 'last night', 'today at 09:10', 'on Sunday', 'on 12 April': where a past event stands in a sentence. */
export function sayOccurrence(t: number, saying: Saying): string {
  const { words, zone, now } = saying;
  const ago = calendarDaysAgo(t, now, zone);
  const hour = hourOfDay(t, zone);
  if ((ago === 1 && hour >= EVENING_FROM) || (ago === 0 && hour < NIGHT_TO)) return words.when.lastNight;
  if (ago === 0) return words.when.todayAt(clockText(t, words.locale, zone));
  if (ago === 1) return words.when.yesterday;
  return words.when.onDay(sayDay(t, saying));
}
