/** Contradictions among the units: who leads, the chain of the parallel link, phases, the law of sharing. */
import { type Contradiction, contradiction, listed, repeats } from './contradiction.ts';
import { phaseGroups } from './history.ts';
import type { Phase, SiteRecord } from './record.ts';

export function leads(record: SiteRecord): Contradiction[] {
  const at = record.units.flatMap(({ role }, i) => (role === 'lead' ? [i] : []));
  if (at.length === 1) return [];
  const names = listed(at.map((i) => record.units[i]!.id));
  const what = at.length === 0 ? 'no unit is the lead' : `${names} are all the lead`;
  const path = at.length === 0 ? 'units' : `units[${at[1]!}].role`;
  return [
    contradiction(record, 'lead_count', {
      path,
      about: 'units',
      what,
      remedy: 'give exactly one unit role: lead, the others role: follower',
    }),
  ];
}

export function serials(record: SiteRecord): Contradiction[] {
  return (['units', 'packs'] as const).flatMap((kind) => {
    const parts: readonly { readonly id: string; readonly serial: string | null }[] = record[kind];
    return repeats(parts, ({ serial }) => serial).map(([serial, at]) => {
      const names = listed(at.map((i) => parts[i]!.id));
      const what = `${names} have the same serial ${serial}`;
      const words = {
        path: `${kind}[${at[1]!}].serial`,
        about: kind,
        what,
        remedy: 'read the serials off the name plates',
      };
      return contradiction(record, 'serial_repeated', words);
    });
  });
}

/** Whether every unit has a place on the link, 1 to n, each once. */
function isWholeChain(record: SiteRecord): boolean {
  const positions = new Set(record.units.map((unit) => unit.chain_position));
  return record.units.every((_, i) => positions.has(i + 1));
}

export function chain(record: SiteRecord): Contradiction[] {
  const unsaid = record.units.flatMap((unit, i) => (unit.chain_position === null ? [i] : []));
  if (unsaid.length === record.units.length || isWholeChain(record)) return [];
  const count = record.units.length;
  const remedy = `number the units along the link, 1 to ${count}`;
  const repeated = repeats(record.units, (unit) => unit.chain_position).map(([position, at]) => {
    const what = `${listed(at.map((i) => record.units[i]!.id))} both stand at position ${position} of the parallel link`;
    return contradiction(record, 'chain_repeated', {
      path: `units[${at[1]!}].chain_position`,
      about: 'chain_position',
      what,
      remedy,
    });
  });
  const gaps = record.units.flatMap(({ id, chain_position: position }, i) => {
    if (position === null || (Number.isInteger(position) && position >= 1 && position <= count)) return [];
    const what = `${id} stands at position ${position} of a parallel link of ${count}`;
    return [
      contradiction(record, 'chain_gap', {
        path: `units[${i}].chain_position`,
        about: `unit ${id}, chain_position`,
        what,
        remedy,
      }),
    ];
  });
  const incomplete = unsaid.slice(0, 1).map((i) => {
    const names = listed(unsaid.map((k) => record.units[k]!.id));
    return contradiction(record, 'chain_incomplete', {
      path: `units[${i}]`,
      about: 'chain_position',
      what: `the place of ${names} on the parallel link is not recorded`,
      remedy,
    });
  });
  return [...repeated, ...gaps, ...incomplete];
}

/** Both ends of the link, and nothing between. */
export function terminations(record: SiteRecord): Contradiction[] {
  const count = record.units.length;
  if (count < 2) return [];
  if (!isWholeChain(record)) return terminationCount(record);
  return record.units.flatMap(({ id, chain_position, terminated }, i) => {
    const isEnd = chain_position === 1 || chain_position === count;
    if (terminated === null || terminated === isEnd) return [];
    const words = { path: `units[${i}].terminated`, about: `unit ${id}, terminated` };
    return isEnd
      ? [
          contradiction(record, 'termination_missing', {
            ...words,
            what: `${id} is an end of the parallel link and has no termination`,
            remedy: 'terminate both ends of the link',
          }),
        ]
      : [
          contradiction(record, 'termination_between', {
            ...words,
            what: `${id} has a termination in the middle of the parallel link`,
            remedy: 'terminate the two ends only',
          }),
        ];
  });
}

/** Without the places on the link: two terminations, whichever they are. */
function terminationCount(record: SiteRecord): Contradiction[] {
  if (record.units.some(({ terminated }) => terminated === null)) return [];
  const count = record.units.filter(({ terminated }) => terminated === true).length;
  if (count === 2) return [];
  const what = `${count} of ${record.units.length} units have a termination of the parallel link`;
  return [
    contradiction(record, 'termination_count', {
      path: 'units',
      about: 'terminated',
      what,
      remedy: 'terminate the two ends of the link and nothing between',
    }),
  ];
}

const PHASES_NEEDED: Readonly<Record<Phase, readonly number[]>> = {
  L1: [1, 2, 3],
  L2: [2, 3],
  L3: [3],
  split: [1, 2],
  three: [3],
};

/** Whether a supply of so many phases has this one. */
export function hasPhase(phases: number, phase: Phase): boolean {
  return PHASES_NEEDED[phase].includes(phases);
}

export function phases(record: SiteRecord): Contradiction[] {
  const supplied = record.supply.phases;
  return record.units.flatMap(({ id, phase }, i) => {
    const words = { path: `units[${i}].phase`, about: `unit ${id}, phase` };
    if (!hasPhase(supplied, phase)) {
      const what = `${id} is on phase ${phase} of a supply with phases: ${supplied}`;
      const remedy = `correct the phase of ${id}, or write supply.phases: ${PHASES_NEEDED[phase].join(' or ')}`;
      return [contradiction(record, 'phase_not_supplied', { ...words, what, remedy })];
    }
    if (phase !== 'split' || supplied !== 1) return [];
    const what = `${id} is split-phase on a supply with phases: 1`;
    return [
      contradiction(record, 'split_supply', {
        ...words,
        what,
        remedy: 'write supply.phases: 2 for a split-phase supply',
      }),
    ];
  });
}

export function sharing(record: SiteRecord): Contradiction[] {
  const { grid, backup } = record.sharing;
  const found: Contradiction[] = [];
  const isAlone = [...phaseGroups(record).values()].every((units) => units.length < 2);
  if (isAlone && (grid !== null || backup !== null)) {
    const what = 'the record names a law of sharing, but no two units are on one phase';
    found.push(
      contradiction(record, 'sharing_alone', {
        path: 'sharing',
        about: 'sharing',
        what,
        remedy: 'leave sharing out, or correct the phases of the units',
      }),
    );
  }
  if (backup === 'wired') {
    const what = 'sharing in backup is wired, but wired sharing needs the grid behind the closed relays';
    found.push(
      contradiction(record, 'sharing_backup_wired', {
        path: 'sharing.backup',
        about: 'sharing, backup',
        what,
        remedy: 'write droop or link, or leave it out: it is learnt',
      }),
    );
  }
  return found;
}
