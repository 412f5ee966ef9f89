/** Ids of one document: each given once, each reference to one that is there. */
import { ID_RULE, isSiteId, isSourceId, RESERVED_IDS, SOURCE_ID_RULE } from '../vocabulary/ids.ts';
import { nearestWord } from './nearest-word.ts';
import type { Reader } from './yaml-readers.ts';
import { type At, placeOf, refuse, refuseMissing, show, textOf } from './yaml-reading.ts';

export type IdKind = 'unit' | 'pack' | 'meter';

export interface IdRoster {
  /** Reads the id that a unit, pack or meter goes by. */
  readonly own: (kind: IdKind) => Reader<string>;
  /** Reads the id of a unit or pack of this document; `orWords` are taken as well. */
  readonly reference: (kind: IdKind, orWords?: readonly string[]) => Reader<string>;
  /** Refuses references to what is not there; called once, when the whole document is read. */
  readonly settle: () => void;
}

/** 'mill-pond' for 'Mill Pond'; null where nothing is left. */
function asId(text: string): string | null {
  const plain = text
    .normalize('NFD')
    .toLowerCase()
    .replaceAll(/[^a-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, 40);
  return isSiteId(plain) ? plain : null;
}

const idOf =
  (isRight: (text: string) => boolean, rule: string): Reader<string> =>
  (value) => {
    const found = textOf(value.node) ?? '';
    if (isRight(found)) return found;
    const plain = asId(found);
    return refuse(
      value,
      `${value.name} is ${show(value.node)}`,
      `write ${rule}${plain === null ? '' : `, for example ${plain}`}`,
    );
  };

/** The id of a site: any of the right form. */
export const siteId = idOf(isSiteId, ID_RULE);
const sourceId = idOf(isSourceId, SOURCE_ID_RULE);

export function idRoster(): IdRoster {
  const given = new Map<string, { readonly kind: IdKind; readonly line: number }>();
  /** What misspelt ids probably stand for: a reference to one of them is no second mistake. */
  const misspelt = new Set<string | null>();
  const references: {
    readonly value: At;
    readonly kind: IdKind;
    readonly id: string;
    readonly orWords: readonly string[];
  }[] = [];

  const own =
    (kind: IdKind): Reader<string> =>
    (value) => {
      const id = textOf(value.node) ?? '';
      const earlier = given.get(id);
      if (earlier === undefined) given.set(id, { kind, line: placeOf(value.reading, value.offset).line });
      if (RESERVED_IDS.includes(id))
        return refuse(value, `${id} is reserved`, `give the ${kind} another id, for example ${kind[0]}1`);
      if (sourceId(value) === undefined) {
        misspelt.add(asId(id));
        return undefined;
      }
      if (earlier === undefined) return id;
      return refuse(
        value,
        `the id ${id} is taken by a ${earlier.kind} on line ${earlier.line}`,
        'give each unit, pack and meter of a site an id of its own',
      );
    };

  const reference =
    (kind: IdKind, orWords: readonly string[] = []): Reader<string> =>
    (value) => {
      const id = textOf(value.node);
      if (id === null)
        return refuse(
          value,
          `${value.name} is ${show(value.node)}`,
          `write the id of one ${kind}${orWords.map((word) => ` or ${word}`).join('')}`,
        );
      references.push({ value, kind, id, orWords });
      return id;
    };

  const settle = (): void => {
    for (const { value, kind, id, orWords } of references) {
      if (given.get(id)?.kind === kind || orWords.includes(id) || misspelt.has(id)) continue;
      const recorded = [...given].filter(([, other]) => other.kind === kind).map(([name]) => name);
      // A record without units is refused as such; every reference would only repeat it.
      if (kind === 'unit' && recorded.length === 0) continue;
      const known = [...recorded, ...orWords];
      const nearest = nearestWord(id, known);
      const list = known.length === 0 ? `record the ${kind} first` : `name one of ${known.join(', ')}`;
      refuseMissing(
        value,
        `there is no ${kind} ${JSON.stringify(id)}`,
        nearest === null ? list : `did you mean ${nearest}? ${list}`,
      );
    }
  };
  return { own, reference, settle };
}
