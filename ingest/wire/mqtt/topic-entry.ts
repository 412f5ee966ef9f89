/** What a source listens to on a broker, as plain data: the entries of `topics` in a configuration. */
import type { SourceKind } from '../../vocabulary/quantities.ts';

/** Where a quantity comes from: stored value = foreign value × factor, or the word that `states` gives it. */
export interface MappedQuantity {
  readonly quantity: string;
  readonly factor: number;
  /** Of an enumeration: the word for each foreign text or number; null where the words themselves are sent. */
  readonly states: Readonly<Record<string, string>> | null;
}

/** One unit, pack, bank or meter of a site that is said elsewhere. */
export interface NamedSource {
  readonly kind: SourceKind;
  readonly id: string;
}

/** Topics of our own: kilter/v1/{site}/… */
export interface KilterEntry {
  readonly reads: 'kilter';
}

/** A Sparkplug edge node; its own metrics are read only where it is said to be a source itself. */
export interface SparkplugNode {
  readonly site: string;
  readonly own: NamedSource | null;
  readonly devices: Readonly<Record<string, NamedSource>>;
}

export interface SparkplugEntry {
  readonly reads: 'sparkplug';
  readonly group: string;
  readonly nodes: Readonly<Record<string, SparkplugNode>>;
  /** By the name of the metric. */
  readonly metrics: Readonly<Record<string, MappedQuantity>>;
  /** Whether a node may be asked to be born again: the only thing that is ever published to one. */
  readonly mayAskForBirth: boolean;
}

export type JsonTimeFormat = 'rfc3339' | 'epoch_s' | 'epoch_ms';

/** A topic layout of somebody else's, with one JSON value a message. */
export interface JsonEntry {
  readonly reads: 'json';
  /** Levels may be named: {site}, {unit}, {pack}, {meter}. */
  readonly topic: string;
  /** Where no level names it. */
  readonly site: string | null;
  readonly source: NamedSource | null;
  readonly time: { readonly pointer: string; readonly format: JsonTimeFormat } | null;
  readonly values: readonly (MappedQuantity & { readonly pointer: string })[];
}

export type TopicEntry = KilterEntry | SparkplugEntry | JsonEntry;
