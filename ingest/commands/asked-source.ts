/** Which source and which of its quantities a command line asks for. */
import { nearestWord } from '../site/nearest-word.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { COLUMNS, type Column, columnOf, type SourceKind } from '../vocabulary/quantities.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { unknownSite } from './analysed-store.ts';

export interface SourceOptions {
  readonly site: string;
  readonly unit: string | undefined;
  readonly pack: string | undefined;
  readonly bank: boolean;
  readonly meter: string | undefined;
}

/** @throws NeedsOperator where not exactly one source is asked for, or none of that name has sent anything */
export function askedSource(store: ReadingStore, command: string, asked: SourceOptions): StoredSource {
  const where = `kilter ${command}`;
  const named: [SourceKind, string][] = [];
  if (asked.unit !== undefined) named.push(['unit', asked.unit]);
  if (asked.pack !== undefined) named.push(['pack', asked.pack]);
  if (asked.bank) named.push(['bank', 'bank']);
  if (asked.meter !== undefined) named.push(['meter', asked.meter]);
  const [kind, id] = named[0] ?? [null, null];
  if (kind === null || named.length > 1) {
    const what = kind === null ? 'no source is asked for' : `${named.length} sources are asked for`;
    throw new NeedsOperator({ where, what, remedy: 'give one of --unit U, --pack P, --bank, --meter M' });
  }
  const sources = store.sources(asked.site);
  if (sources.length === 0 && !store.recordSites().includes(asked.site)) {
    throw unknownSite(command, asked.site, [...new Set([...store.heardSites(), ...store.recordSites()])].sort());
  }
  const source = sources.find((one) => one.kind === kind && one.id === id);
  if (source !== undefined) return source;
  const ids = sources.filter((one) => one.kind === kind).map((one) => one.id);
  const near = nearestWord(id, ids);
  const there = ids.length === 0 ? `nothing came from any ${kind} of this site` : `there are ${ids.join(', ')}`;
  throw new NeedsOperator({
    where,
    what:
      kind === 'bank'
        ? `no bank of ${asked.site} has sent anything`
        : `no ${kind} "${id}" of ${asked.site} has sent anything`,
    remedy: near === null ? there : `did you mean ${near}?`,
  });
}

/**
 * The columns of `--quantity a,b`, in the order given, each once.
 *
 * @throws NeedsOperator for a quantity that the kind does not have, naming the nearest
 */
export function askedColumns(command: string, kind: SourceKind, list: string): readonly Column[] {
  const ids = [...new Set(list.split(',').map((id) => id.trim()))].filter((id) => id !== '');
  if (ids.length === 0) {
    throw new NeedsOperator({
      where: `kilter ${command}`,
      what: '--quantity names nothing',
      remedy: `give quantities of a ${kind}, for example ${COLUMNS[kind][0]!.id}`,
    });
  }
  return ids.map((id) => {
    const column = columnOf(kind, id);
    if (column !== undefined) return column;
    const known = COLUMNS[kind].map((one) => one.id);
    const near = nearestWord(id, known);
    throw new NeedsOperator({
      where: `kilter ${command}`,
      what: `a ${kind} has no quantity "${id}"`,
      remedy: near === null ? `its quantities are ${known.join(', ')}` : `did you mean ${near}?`,
    });
  });
}
