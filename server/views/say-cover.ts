/** How long a site carries itself, in sentences; whether a window of the day would be covered. */

import { energyOver, hourOfWeek, hoursOf, LONGEST_BACKUP_H } from '../../ingest/vocabulary/autonomy.ts';
import { DAY_MS, HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { Cover, Supplied } from '../contract/cover.ts';
import { countText, dayText, energyText, lengthText, partText, withUnit } from './figures.ts';
import { listWords } from './list-words.ts';
import type { Saying } from './saying.ts';

type Autonomy = NonNullable<Cover['autonomy']>;
type Reliability = NonNullable<Cover['reliability']>;

/** Of a zone at an instant, ms ahead of UTC. */
function zoneOffsetMs(t: number, zone: string): number {
  const parts = new Intl.DateTimeFormat('en-GB', {
    timeZone: zone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  }).formatToParts(t);
  const part = (type: string): number => Number(parts.find((one) => one.type === type)!.value);
  const local = Date.UTC(part('year'), part('month') - 1, part('day'), part('hour'), part('minute'), part('second'));
  return local - Math.floor(t / 1000) * 1000;
}

/** A charge older than this is not what is there now. */
const OLD_CHARGE_MS = 2 * HOUR_MS;

const hoursText = (hours: number): string =>
  hours >= LONGEST_BACKUP_H ? lengthText(LONGEST_BACKUP_H * HOUR_MS) : lengthText(Math.round(hours * 60) * 60_000);

/** 'With 82 % in the battery it carries itself for about 9 h at usual use, and 5 h 30 min at high use.' */
export function sayBackupNow(autonomy: Autonomy, recordZone: string, { words, now }: Saying): string {
  const { usableWh, socPct, because, loadP50W, loadP90W } = autonomy;
  const start = hourOfWeek(now, zoneOffsetMs(now, recordZone));
  const usual = usableWh === null ? null : hoursOf(usableWh, loadP50W, start);
  const high = usableWh === null ? null : hoursOf(usableWh, loadP90W, start);
  const { cover } = listWords(words);
  // The analysis told it as of then; a page that is read later must not pass an old charge off as now.
  if (because === null && autonomy.at !== null && now - autonomy.at > OLD_CHARGE_MS)
    return cover.untold(cover.chargeOld);
  if (because !== null || usual === null || high === null || socPct === null)
    return cover.untold(because ?? cover.usualUnknown);
  if (usual >= LONGEST_BACKUP_H) return cover.longer(withUnit(socPct, 0, '%'), hoursText(usual));
  return cover.now(withUnit(socPct, 0, '%'), hoursText(usual), hoursText(high));
}

/** On what the figure rests, and how right it was. */
export function sayCoverGround(autonomy: Autonomy, { words }: Saying): string[] {
  const { cover } = listWords(words);
  const { outputWhPerPoint, isEnergyLearnt, backTests, reservePct, isReserveAssumed } = autonomy;
  const lines: string[] = [];
  if (outputWhPerPoint !== null) {
    const each = energyText(outputWhPerPoint);
    lines.push(isEnergyLearnt ? cover.learnt(each) : cover.reckoned(each));
  }
  lines.push(isReserveAssumed ? cover.reserveAssumed(reservePct) : cover.reserve(reservePct));
  if (backTests.length === 0) lines.push(cover.untested);
  else {
    const errors = backTests.map(({ error }) => Math.abs(error)).sort((a, b) => a - b);
    const middle = errors.length >> 1;
    const median = errors.length % 2 === 1 ? errors[middle]! : (errors[middle - 1]! + errors[middle]!) / 2;
    const percent = (part: number): string => withUnit(100 * part, 0, '%');
    lines.push(cover.tested(words.count(errors.length), errors.length, percent(median), percent(errors.at(-1)!)));
  }
  return lines;
}

/** Minutes after midnight of '18:00'; null for anything else. */
export function clockMinutes(text: string): number | null {
  const [, hour, minute] = /^(\d{1,2}):(\d{2})$/.exec(text) ?? [];
  const minutes = Number(hour) * 60 + Number(minute);
  return hour === undefined || Number(hour) > 23 || Number(minute) > 59 ? null : minutes;
}

/**
 * Would an outage over a window of today be covered? From the charge that is usual at its start.
 *
 * @param from minutes after midnight of the site's own time; a window that ends at or before its start ends tomorrow
 */
export function sayCovered(
  autonomy: Autonomy,
  recordZone: string,
  window: { readonly from: number; readonly to: number; readonly text: readonly [string, string] },
  { words, now }: Saying,
): { readonly text: string; readonly isCovered: boolean | null } {
  const { cover } = listWords(words);
  const offset = zoneOffsetMs(now, recordZone);
  const midnight = Math.floor((now + offset) / DAY_MS) * DAY_MS - offset;
  const start = hourOfWeek(midnight + window.from * 60_000, offset);
  const hours = (((window.to - window.from + 1440 - 1) % 1440) + 1) / 60;
  const usual = energyOver(autonomy.loadP50W, start, hours);
  const high = energyOver(autonomy.loadP90W, start, hours);
  const hour = Math.floor(window.from / 60);
  const there = (pct: number | null | undefined): number | null =>
    pct === null || pct === undefined || autonomy.outputWhPerPoint === null
      ? null
      : Math.max(0, pct - autonomy.reservePct) * autonomy.outputWhPerPoint;
  const usualThere = there(autonomy.chargeP50Pct[hour]);
  const lowThere = there(autonomy.chargeP10Pct[hour]);
  if (usual === null || high === null || usualThere === null || lowThere === null)
    return { text: cover.windowUntold, isCovered: null };
  const [from, to] = window.text;
  if (high <= lowThere)
    return { text: cover.covered(from, to, energyText(high), energyText(lowThere)), isCovered: true };
  if (usual <= usualThere)
    return {
      text: cover.usuallyCovered(
        from,
        to,
        energyText(usual),
        energyText(usualThere),
        energyText(high),
        energyText(lowThere),
      ),
      isCovered: null,
    };
  return { text: cover.notCovered(from, to, energyText(usual), energyText(usualThere)), isCovered: false };
}

export interface SupplyRow {
  readonly head: string;
  readonly cells: readonly string[];
}

/** Rows of the table of supply: the grid as supplied, the output as felt. */
export function supplyRows({ grid, output }: Reliability, { words }: Saying): SupplyRow[] {
  const { cover } = listWords(words);
  const row = (head: string, { sustained, sustainedMin, momentary, available }: Supplied): SupplyRow => ({
    head,
    cells: [countText(sustained), lengthText(sustainedMin * 60_000), countText(momentary), partText(available)],
  });
  return [row(cover.grid, grid), row(cover.output, output)];
}

/** 'From 3 March to 12 May. Two tests are left out; for 3 h 20 min the site was silent.' */
export function saySupplyPeriod({ from, to, tests, silentMin }: Reliability, { words, zone, now }: Saying): string {
  const { cover } = listWords(words);
  const days = [from, to].map((t) => dayText(t, words.locale, zone, now));
  return [
    cover.period(days[0]!, days[1]!),
    ...(tests > 0 ? [cover.tests(words.sentence(words.count(tests)), tests)] : []),
    ...(silentMin > 0 ? [cover.silent(lengthText(silentMin * 60_000))] : []),
  ].join(' ');
}
