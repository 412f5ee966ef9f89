/** Findings and events as tables for `kilter sql`: the keys of their JSON as columns, times as epoch milliseconds. */
import type { SqlTable, SqlValue } from '../store/sql-view.ts';
import type { BackupEvent, Finding } from '../vocabulary/finding.ts';
import { eventJson } from './event-json.ts';
import { findingJson } from './finding-json.ts';

const FINDING_COLUMNS = [
  'site TEXT',
  'kind TEXT',
  'subject TEXT',
  'candidates TEXT',
  'start INTEGER',
  'detected_at INTEGER',
  '"end" INTEGER',
  'severity TEXT',
  'measure TEXT',
  'value REAL',
  'baseline REAL',
  '"limit" REAL',
  'causes TEXT',
  'evidence TEXT',
] as const;

const EVENT_COLUMNS = [
  'site TEXT',
  'start INTEGER',
  '"end" INTEGER',
  'duration_s REAL',
  'start_uncertainty_s REAL',
  'held INTEGER',
  'output_lost_s REAL',
  'occasion TEXT',
  'energy_wh REAL',
  'peak_w REAL',
  'soc_start_pct REAL',
  'soc_end_pct REAL',
  'frequency_min_hz REAL',
  'frequency_max_hz REAL',
  'voltage_min_v REAL',
  'voltage_max_v REAL',
  'units TEXT',
] as const;

const nameOf = (column: string): string => column.split(' ')[0]!.replaceAll('"', '');

/** Lists and maps as JSON, true as 1. */
function sqlValue(value: unknown): SqlValue {
  if (value === undefined || value === null) return null;
  if (typeof value === 'boolean') return value ? 1 : 0;
  return typeof value === 'number' || typeof value === 'string' ? value : JSON.stringify(value);
}

function tableOf(name: string, columns: readonly string[], rows: Iterable<Record<string, unknown>>): SqlTable {
  return {
    name,
    columns,
    *rows() {
      for (const row of rows) yield columns.map((column) => sqlValue(row[nameOf(column)]));
    },
  };
}

export function findingsTable(findings: readonly Finding[]): SqlTable {
  const rows = findings.map((f) => ({ ...findingJson(f), start: f.start, detected_at: f.detectedAt, end: f.end }));
  return tableOf('findings', FINDING_COLUMNS, rows);
}

/** `held` is 1 or 0. */
export function eventsTable(events: readonly BackupEvent[]): SqlTable {
  return tableOf(
    'events',
    EVENT_COLUMNS,
    events.map((e) => ({ ...eventJson(e), start: e.start, end: e.end })),
  );
}
