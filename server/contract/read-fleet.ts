/** The fleet's columns → rows, in a browser too: no schema is imported here. */
import { MEASURES, type Measure } from '../../ingest/vocabulary/figure.ts';
import type { Cause, Severity } from '../../ingest/vocabulary/finding.ts';
import type { Occasion } from './event.ts';
import type { SayableFinding } from './finding.ts';
import type { FleetAnswer, FleetFinding } from './fleet.ts';

/** The figure that is furthest from what was proven, of those that can be told. */
export interface Deviation {
  readonly measure: Measure;
  readonly mode: 'grid' | 'backup' | null;
  /** Unit or pack. */
  readonly subject: string;
  /** In the measure's own unit, as `ApiFigure`. */
  readonly then: number;
  readonly now: number;
  readonly limit: number;
}

/** A backup event on the ribbon. Its page is `/api/sites/:site/events/:start`. */
export interface RibbonEvent {
  /** Epoch ms, to the second: the events route finds it by the second. */
  readonly start: number;
  /** null while it lasts. */
  readonly lengthMs: number | null;
  readonly held: boolean;
  readonly outputLostS: number;
  readonly occasion: Occasion;
}

export interface RibbonSilence {
  readonly start: number;
  /** null while it lasts. */
  readonly lengthMs: number | null;
}

export interface FleetRow {
  readonly site: string;
  readonly name: string;
  readonly group: string | null;
  /** IANA time zone. */
  readonly zone: string;
  /** Rating of each unit, W, in record order. */
  readonly ratingsW: readonly number[];
  /** How often it is expected to send, ms. */
  readonly everyMs: number;
  /** Open findings by severity. */
  readonly open: Readonly<Record<Severity, number>>;
  /** The open finding that matters most (severity, then oldest); null where none is open. Evidence only as its sentence needs. */
  readonly worst: SayableFinding | null;
  /** null: `because` says why the beam can't be drawn. */
  readonly deviation: Deviation | null;
  readonly because: string | null;
  /** Whether anything of it is proven: then `because` says why nothing can be told now, else why it is not proven yet. */
  readonly isProven: boolean;
  /** State of charge of each pack, whole %, in record order; null where a pack sends none. */
  readonly chargePct: readonly (number | null)[];
  /** Newest instant of these; null: never. */
  readonly chargeAt: number | null;
  readonly reservePct: number | null;
  /** Newest reading of any of its sources; null: never heard. */
  readonly heardAt: number | null;
  /** Oldest first; of the 30 days from `Fleet.from`. */
  readonly events: readonly RibbonEvent[];
  readonly silences: readonly RibbonSilence[];
}

export interface Fleet {
  readonly change: number;
  readonly people: number;
  readonly now: number;
  /** Start of the ribbons' 30 days. */
  readonly from: number;
  /** By site id. */
  readonly rows: readonly FleetRow[];
}

const SECOND_MS = 1000;
const OCCASION_CODES: readonly Occasion[] = ['unknown', 'grid_loss', 'test'];
const MODE_CODES = ['grid', 'backup', null] as const;
/** Lists of the wire, in the order in which both sides write and read them. */
export const FLEET_CODES = { occasions: OCCASION_CODES, modes: MODE_CODES } as const;

export function readFleet(answer: FleetAnswer): Fleet {
  const { change, people, now, from } = answer;
  return { change, people, now, from, rows: answer.site.map((_, place) => rowAt(answer, place)) };
}

function rowAt(answer: FleetAnswer, i: number): FleetRow {
  const site = answer.site[i]!;
  const deviation = answer.deviation[i]!;
  const worst = answer.worst[i] ?? null;
  const [urgent = 0, soon = 0, plan = 0, info = 0] = answer.open[i]!;
  return {
    site,
    name: answer.name[i]!,
    group: answer.groups[answer.group[i]!] ?? null,
    zone: answer.zones[answer.zone[i]!]!,
    ratingsW: answer.ratings[answer.units[i]!]!,
    everyMs: answer.everyS[i]! * SECOND_MS,
    open: { urgent, soon, plan, info },
    worst: worst === null ? null : findingOf(site, worst, answer.from),
    deviation: typeof deviation === 'number' ? null : deviationOf(deviation),
    because: typeof deviation === 'number' ? answer.reasons[deviation]![0] : null,
    isProven: typeof deviation === 'number' ? answer.reasons[deviation]![1] : true,
    chargePct: answer.charge[i]!,
    chargeAt: before(answer.now, answer.chargeAgeS[i]!),
    reservePct: answer.reserve[i]!,
    heardAt: before(answer.now, answer.heardAgeS[i]!),
    events: eventsOf(answer.events[i]!, answer.from),
    silences: silencesOf(answer.silences[i]!, answer.from),
  };
}

/** The whole second in which it was. */
const before = (now: number, ageS: number): number | null =>
  ageS < 0 ? null : (Math.floor(now / SECOND_MS) - ageS) * SECOND_MS;
const lengthOf = (lengthS: number): number | null => (lengthS < 0 ? null : lengthS * SECOND_MS);

function deviationOf([measure, mode, subject, then, now, limit]: Exclude<
  FleetAnswer['deviation'][number],
  number
>): Deviation {
  return { measure: MEASURES[measure]!, mode: MODE_CODES[mode] ?? null, subject, then, now, limit };
}

function findingOf(site: string, wire: FleetFinding, from: number): SayableFinding {
  const start = from + wire.start * SECOND_MS;
  return {
    site,
    kind: wire.kind,
    subject: wire.subject ?? null,
    ...(wire.candidates === undefined ? {} : { candidates: wire.candidates }),
    start,
    detectedAt: start + wire.detected * SECOND_MS,
    end: null,
    severity: wire.severity,
    measure: wire.measure ?? '',
    value: wire.value ?? null,
    baseline: wire.baseline ?? null,
    limit: wire.limit ?? null,
    causes: (wire.causes ?? []).map(([cause, weight]) => ({ cause: cause as Cause, weight })),
    evidence: wire.evidence ?? {},
  };
}

function eventsOf(flat: readonly number[], from: number): RibbonEvent[] {
  const events: RibbonEvent[] = [];
  for (let i = 0; i + 3 < flat.length; i += 4) {
    const lost = flat[i + 2]!;
    events.push({
      start: from + flat[i]! * SECOND_MS,
      lengthMs: lengthOf(flat[i + 1]!),
      held: lost === 0,
      outputLostS: Math.max(0, lost),
      occasion: OCCASION_CODES[flat[i + 3]!] ?? 'unknown',
    });
  }
  return events;
}

function silencesOf(flat: readonly number[], from: number): RibbonSilence[] {
  const silences: RibbonSilence[] = [];
  for (let i = 0; i + 1 < flat.length; i += 2) {
    silences.push({ start: from + flat[i]! * SECOND_MS, lengthMs: lengthOf(flat[i + 1]!) });
  }
  return silences;
}
