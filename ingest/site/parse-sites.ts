import { LFP_CELL_V, nominalCellV } from './cell-voltage.ts';
import { idRoster } from './id-roster.ts';
import type { PackRecord, Phase, SiteRecord, UnitRecord } from './record.ts';
import { mistakeAt, type Place, type SiteMistake } from './site-mistake.ts';
import { type OpenRecord, siteShape } from './site-schema.ts';
import { type At, openDocuments, type Reading, rootOf, sortMistakes, tooDeep, warn } from './yaml-reading.ts';

/** Where each value of each record stands: by path, as 'units[1].terminated'; the record itself is ''. */
export type Places = ReadonlyMap<SiteRecord, ReadonlyMap<string, Place>>;

export interface ParsedSites {
  /** The documents without a mistake, in the order of the file. */
  readonly documents: readonly SiteRecord[];
  readonly refusals: readonly SiteMistake[];
  /** What was taken, but read as a default or left out. */
  readonly warnings: readonly SiteMistake[];
  readonly places: Places;
}

/** The pack that is read where a record gives neither volts nor cells: sixteen LFP cells. */
const USUAL_CELLS = 16;

type OpenUnit = OpenRecord['units'][number];
type OpenPack = OpenRecord['packs'][number];

/** A value that is not there, for a warning at the map that lacks it. */
function lacking(root: At, path: string, place: Place | undefined): At {
  const offset =
    place === undefined ? root.offset : (root.reading.lines.lineStarts[place.line - 1] ?? 0) + place.column - 1;
  return { ...root, path, offset };
}

/** Where no unit leads, the first that does not say otherwise does; what then lacks a role follows. */
function withRoles(units: readonly OpenUnit[], root: At): UnitRecord[] {
  const isLed = units.some(({ role }) => role === 'lead');
  const leadIndex = isLed ? -1 : units.findIndex(({ role }) => role === null);
  return units.map((unit, i) => {
    const role = unit.role ?? (i === leadIndex ? 'lead' : 'follower');
    if (unit.role === null && units.length > 1) {
      const path = `units[${i}]`;
      warn(
        lacking(root, path, root.reading.places.get(path)),
        `this unit has no role; ${unit.id} is read as the ${role}`,
        `add role: ${role}`,
      );
    }
    return { ...unit, role };
  });
}

/** Volts and cells say the same of a pack; where one is missing it follows from the other. */
function withCells(packs: readonly OpenPack[], root: At): PackRecord[] {
  return packs.map((pack, i) => {
    const chemistry = pack.chemistry.toLowerCase();
    const cellV = nominalCellV(chemistry) ?? LFP_CELL_V;
    const cellsGiven = pack.cells_in_series;
    const voltageGiven = pack.nominal_voltage_v;
    const nominal_voltage_v = voltageGiven ?? Math.round((cellsGiven ?? USUAL_CELLS) * cellV * 100) / 100;
    const cells_in_series = cellsGiven ?? Math.max(1, Math.round(nominal_voltage_v / cellV));
    const path = `packs[${i}]`;
    const value = lacking(root, path, root.reading.places.get(path));
    if (voltageGiven === null)
      warn(value, `this pack has no nominal_voltage_v; it is read as ${nominal_voltage_v} V`, 'add nominal_voltage_v');
    if (cellsGiven === null)
      warn(value, `this pack has no cells_in_series; it is read as ${cells_in_series}`, 'add cells_in_series');
    return { ...pack, nominal_voltage_v, cells_in_series, chemistry };
  });
}

/** The least supply that has the phases of every unit. */
function phasesOf(units: readonly OpenUnit[]): 1 | 2 | 3 {
  const has = (...phases: readonly Phase[]): boolean => units.some(({ phase }) => phases.includes(phase));
  if (has('L3', 'three')) return 3;
  return has('L2', 'split') ? 2 : 1;
}

/** `{ unit: u1 }`: on a single-phase supply, or at a unit of several phases, the phase is the unit's own. */
function ctPhase(unit: OpenUnit | undefined, phases: 1 | 2 | 3): Phase | null {
  if (unit === undefined) return null;
  return phases === 1 || unit.phase === 'split' || unit.phase === 'three' ? unit.phase : null;
}

/** Nominal ± 2 % (EN 50160, islanded, 95 % of a week), free of the last bit of a product. */
function defaultBand(nominalHz: number): readonly [number, number] {
  return [Math.round(nominalHz * 98) / 100, Math.round(nominalHz * 102) / 100];
}

function closed(open: OpenRecord, root: At): SiteRecord {
  const { valid_from, name, supply, units, packs, ct, ...same } = open;
  if (name === null) warn(root, `this site has no name; it is shown as ${open.site}`, 'add name');
  const phases = supply.phases ?? phasesOf(units);
  if (supply.phases === null) {
    const value = lacking(root, 'supply', root.reading.places.get('supply'));
    warn(
      value,
      `this supply has no phases; it is read as ${phases}, from the phases of the units`,
      `add phases: ${phases}`,
    );
  }
  return {
    ...same,
    validFrom: valid_from,
    name: name ?? open.site,
    supply: { ...supply, phases },
    units: withRoles(units, root),
    packs: withCells(packs, root),
    ct: ct.map(({ unit, phase }) => ({
      unit,
      phase:
        phase ??
        ctPhase(
          units.find(({ id }) => id === unit),
          phases,
        ),
    })),
    island_frequency_band_hz: open.island_frequency_band_hz ?? defaultBand(supply.nominal_frequency_hz),
  };
}

function readDocument(reading: Reading): SiteRecord | null {
  const roster = idRoster();
  const root = rootOf(reading, 'the document');
  const open = siteShape(roster)(root);
  roster.settle();
  return open === undefined || reading.refusals.length > 0 ? null : closed(open, root);
}

/**
 * Reads the site records of one YAML text: one document a site, or several with `valid_from`.
 *
 * Every mistake is found in one go, at the line and column of the value that is wrong. A document with
 * a mistake is not among `documents`; the others are. Contradictions within and between records are
 * another question: `contradictionsOf`, `assembleHistories`.
 *
 * @param file what messages call the text: 'sites.yaml'
 */
export function parseSites(text: string, file: string): ParsedSites {
  const deep = tooDeep(text, file);
  if (deep !== null) return { documents: [], refusals: [deep], warnings: [], places: new Map() };
  const readings = openDocuments(text, file);
  const documents: SiteRecord[] = [];
  const places = new Map<SiteRecord, ReadonlyMap<string, Place>>();
  for (const reading of readings) {
    const record = readDocument(reading);
    if (record === null) continue;
    documents.push(record);
    places.set(record, reading.places);
  }
  const warnings = readings.flatMap((reading) => reading.warnings);
  if (readings.length === 0) {
    warnings.push(
      mistakeAt(
        { file, line: 1, column: 1 },
        'there is no site in here',
        'write one document a site, beginning with site: and its id',
      ),
    );
  }
  return {
    documents,
    refusals: sortMistakes(readings.flatMap((reading) => reading.refusals)),
    warnings: sortMistakes(warnings),
    places,
  };
}
