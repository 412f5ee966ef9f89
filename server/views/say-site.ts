/** The first lines of a site's page. */
import type { SiteAnswer } from '../contract/site.ts';
import { figureRows } from './figure-rows.ts';
import { dayText, withUnit } from './figures.ts';
import { sayFinding } from './say-finding.ts';
import type { Saying } from './saying.ts';
import { compareFindings } from './severity.ts';

/** The worst open finding; else that it is as proven, or beyond a limit; else why that cannot be said. */
export function saySite({ findings, figures, cannotTell }: SiteAnswer, saying: Saying): string {
  const { words } = saying;
  const worst = [...findings]
    .filter(({ end, severity }) => end === null && severity !== 'info')
    .sort(compareFindings)[0];
  if (worst !== undefined) return sayFinding(worst, saying);
  const rows = figureRows(figures, saying);
  const first = rows[0];
  if (first?.beam.says === 'deviation') {
    if (!first.isBeyond) return words.site.level;
    return words.site.toWatch(first.label, first.beam.figure, first.limit);
  }
  const proven = figures.filter(({ then }) => then !== null);
  if (proven.length > 0)
    return words.site.unclear(proven.find(({ because }) => because !== null)?.because ?? words.beam.old);
  return words.site.toProve(
    figures.find(({ because }) => because !== null)?.because ?? cannotTell[0]?.because ?? words.site.notYet,
  );
}

/** 'Millpond Clinic · two units of 8 kW · four packs of 100 Ah · proven from 3 November 2025' */
export function sayAbout({ record }: Pick<SiteAnswer, 'record'>, saying: Saying): string {
  const { words, zone, now } = saying;
  const ratings = [...new Set(record.units.map(({ rated_power_w: w }) => w))];
  const sizes = [...new Set(record.packs.map(({ capacity_ah: ah }) => ah))];
  const units = ratings.map((w) => {
    const count = record.units.filter((unit) => unit.rated_power_w === w).length;
    return words.site.units(words.count(count), withUnit(w / 1000, w % 1000 === 0 ? 0 : 1, 'kW'));
  });
  const packs = sizes.map((ah) => {
    const count = record.packs.filter((pack) => pack.capacity_ah === ah).length;
    return words.site.packs(words.count(count), withUnit(ah, 0, 'Ah'));
  });
  const proven =
    record.commissioned === null ? [] : [words.site.proven(dayText(record.commissioned, words.locale, zone, now))];
  return words.site.about([record.name, ...units, ...packs, ...proven]);
}

/** 'Of ten proven figures three are beyond the limit, six within it, and one cannot be told now.' Empty without figures. */
export function sayFigures({ figures }: Pick<SiteAnswer, 'figures'>, saying: Saying): string {
  if (figures.length === 0) return '';
  const rows = figureRows(figures, saying);
  const told = rows.filter(({ beam }) => beam.says === 'deviation');
  const beyond = told.filter(({ isBeyond }) => isBeyond).length;
  const unproven = figures.filter(({ then }) => then === null).length;
  return saying.words.site.figures({
    all: rows.length,
    beyond,
    within: told.length - beyond,
    untold: rows.length - told.length - unproven,
    unproven,
  });
}

/** '−5.1 of ± 3.0': beside the beam in a site's head; null where nothing can be told. */
export function sayHeadFigure(answer: Pick<SiteAnswer, 'figures'>, saying: Saying): string | null {
  const first = figureRows(answer.figures, saying)[0];
  return first === undefined || first.beam.says === 'untold'
    ? null
    : saying.words.beam.of(first.beam.figure, first.limit);
}
