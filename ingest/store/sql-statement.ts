/** What can be told of an SQL statement by its text alone. */
import { NeedsOperator } from '../vocabulary/refusal.ts';

const WHERE = 'kilter sql';
const OPENS: readonly string[] = ['select', 'with', 'values', 'explain'];

/** The text without comments and without what stands in single quotes. */
function bare(sql: string): string {
  return sql.replaceAll(/'(?:[^']|'')*'|--[^\n]*|\/\*[\s\S]*?(?:\*\/|$)/g, ' ');
}

/**
 * Refuses what is no question, before the database sees it.
 *
 * @throws NeedsOperator for an empty text, and for a statement that does not begin as a query does
 */
export function refuseNoQuery(sql: string): void {
  const first = /[a-z_]+/i.exec(bare(sql))?.[0].toLowerCase();
  if (first === undefined) {
    throw new NeedsOperator({
      where: WHERE,
      what: 'there is no statement',
      remedy: "give one, for example 'select * from sites'",
    });
  }
  if (!OPENS.includes(first)) throw noQuery(`"${first}" does not ask for anything`);
}

export function noQuery(what: string): NeedsOperator {
  return new NeedsOperator({
    where: WHERE,
    what,
    remedy: 'write a select; nothing can be changed from here, readings come in through kilter import',
  });
}

/**
 * Every word of the statement in lower case: names of tables and columns are among them. Quoted text counts, because
 * SQLite takes 'output_power_w' for a column's name in some places.
 */
export function wordsIn(sql: string): ReadonlySet<string> {
  return new Set([...sql.matchAll(/[a-z_][a-z0-9_]*/gi)].map(([word]) => word.toLowerCase()));
}

/** Whether columns may be meant that are not named: by a `*` outside `count(*)`, or a natural join. */
export function meansAllColumns(sql: string): boolean {
  const text = bare(sql);
  return text.replaceAll(/count\s*\(\s*\*\s*\)/gi, ' ').includes('*') || /\bnatural\b/i.test(text);
}
