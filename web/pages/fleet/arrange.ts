/** Which sites are shown, in which order, with their sentences said once. Pure. */
import type { Fleet, FleetRow } from '../../../server/contract/read-fleet.ts';
import { nameOrder } from '../../../server/views/figures.ts';
import { sayRow, sectionOf } from '../../../server/views/say-fleet.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { compareRows, siteState } from '../../../server/views/severity.ts';
import type { SiteState } from '../../../server/views/words.ts';
import { matches } from '../../parts/matches.ts';

export interface ShownRow {
  readonly row: FleetRow;
  readonly state: SiteState;
  readonly sentence: string;
  readonly saying: Saying;
  /** What the filter looks in. */
  readonly text: string;
}

/** Every row with its sentence, what needs doing first. `sayingOf` gives the words in a site's own zone. */
export function arrangeRows({ rows }: Fleet, sayingOf: (zone: string) => Saying): ShownRow[] {
  return [...rows].sort(compareRows(sayingOf('UTC'))).map((row) => {
    const saying = sayingOf(row.zone);
    const state = siteState(row, saying.now);
    const sentence = sayRow(row, saying);
    const text = [row.name, row.site, row.group ?? '', saying.words.state[state], sentence].join(' ');
    return { row, state, sentence, saying, text };
  });
}

export function filterRows(rows: readonly ShownRow[], filter: string, group: string): readonly ShownRow[] {
  if (filter === '' && group === '') return rows;
  return rows.filter(({ row, text }) => (group === '' || row.group === group) && matches(filter, text));
}

/** The groups there are, by name. */
export function groupsOf({ rows }: Pick<Fleet, 'rows'>, locale: string): string[] {
  return [...new Set(rows.flatMap(({ group }) => (group === null ? [] : [group])))].sort(nameOrder(locale));
}

/** The heads of the narrow list, each at the place of its first row. */
export function sectionHeads(rows: readonly ShownRow[]): ReadonlyMap<number, string> {
  const heads = new Map<number, string>();
  rows.forEach(({ state, saying: { words } }, place) => {
    const own = sectionOf(state);
    const before = rows[place - 1];
    if (before !== undefined && sectionOf(before.state) === own) return;
    const count = rows.filter((row) => sectionOf(row.state) === own).length;
    heads.set(place, words.fleet.section(own, words.sentence(words.count(count)), count === 1));
  });
  return heads;
}
