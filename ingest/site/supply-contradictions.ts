/** Contradictions about the supply point, the battery, the earth and the bands. */
import { formatDay } from '../vocabulary/time.ts';
import { nominalCellV } from './cell-voltage.ts';
import { type Contradiction, type ContradictionId, contradiction, listed } from './contradiction.ts';
import type { PackRecord, Phase, SiteRecord } from './record.ts';
import { hasPhase } from './unit-contradictions.ts';

function roleOf(record: SiteRecord, id: string): 'lead' | 'follower' | null {
  return record.units.find((unit) => unit.id === id)?.role ?? null;
}

export function batteryLink(record: SiteRecord): Contradiction[] {
  const link = record.battery_link;
  if (link === null || roleOf(record, link.unit) !== 'follower') return [];
  const what = `the battery's data cable goes to ${link.unit}, a follower`;
  return [
    contradiction(record, 'battery_link_to_follower', {
      path: 'battery_link.unit',
      about: 'battery_link',
      what,
      remedy: 'run it to the lead, which passes the battery on to the others',
    }),
  ];
}

/** Packs in parallel share one voltage, so they must be built alike; capacities may differ. */
export function packs(record: SiteRecord): Contradiction[] {
  const first = record.packs[0];
  const keys = ['cells_in_series', 'nominal_voltage_v', 'chemistry'] as const satisfies readonly (keyof PackRecord)[];
  return record.packs.flatMap((pack, i) => {
    const unlike = first === undefined ? [] : keys.filter((key) => pack[key] !== first[key]);
    const key = unlike[0];
    if (key === undefined || first === undefined) return cellVoltage(record, pack, i);
    const what = `${pack.id} differs from ${first.id} in ${listed(unlike.map((k) => `${k} (${pack[k]}, not ${first[k]})`))}`;
    return [
      contradiction(record, 'packs_unlike', {
        path: `packs[${i}].${key}`,
        about: `pack ${pack.id}`,
        what,
        remedy: 'only packs of one voltage and chemistry go on one bank; read the name plates',
      }),
    ];
  });
}

/** More than this from the chemistry's nominal is a miscounted cell or another label. */
const CELL_TOLERANCE = 0.05;

function cellVoltage(record: SiteRecord, pack: PackRecord, i: number): Contradiction[] {
  const nominalV = nominalCellV(pack.chemistry);
  const cellV = pack.nominal_voltage_v / pack.cells_in_series;
  if (nominalV === null || Math.abs(cellV / nominalV - 1) <= CELL_TOLERANCE) return [];
  const what = `${pack.nominal_voltage_v} V over ${pack.cells_in_series} cells is ${Math.round(cellV * 100) / 100} V a cell; ${pack.chemistry} has ${nominalV} V`;
  return [
    contradiction(record, 'cell_voltage_unlikely', {
      path: `packs[${i}].nominal_voltage_v`,
      about: `pack ${pack.id}`,
      what,
      remedy: 'check the voltage and the number of cells on the name plate',
    }),
  ];
}

const COVERED: Readonly<Record<Phase, readonly Phase[]>> = {
  L1: ['L1'],
  L2: ['L2'],
  L3: ['L3'],
  split: ['L1', 'L2'],
  three: ['L1', 'L2', 'L3'],
};

export function currentTransformers(record: SiteRecord): Contradiction[] {
  const seen = new Map<Phase, string>();
  return record.ct.flatMap(({ unit, phase }, i) => {
    const words = { path: `ct[${i}]`, about: `ct of ${unit}` };
    const found: Contradiction[] = [];
    if (phase !== null && !hasPhase(record.supply.phases, phase)) {
      const what = `the CT of ${unit} is on phase ${phase} of a supply with phases: ${record.supply.phases}`;
      found.push(
        contradiction(record, 'ct_phase_not_supplied', {
          ...words,
          what,
          remedy: 'correct its phase, or supply.phases',
        }),
      );
    }
    // A CT without a phase stands for the whole supply point.
    const covered = phase === null ? COVERED.three : COVERED[phase];
    const taken = covered.find((one) => seen.has(one));
    if (taken !== undefined) {
      const what = `${taken} has a CT of ${seen.get(taken)} and one of ${unit}`;
      found.push(
        contradiction(record, 'ct_repeated', {
          ...words,
          what,
          remedy: 'record one CT a phase: the one at the supply point',
        }),
      );
    }
    for (const one of covered) if (!seen.has(one)) seen.set(one, unit);
    if (record.supply.phases === 1 && roleOf(record, unit) === 'follower') {
      found.push(
        contradiction(record, 'ct_not_on_lead', {
          ...words,
          what: `the CT belongs to ${unit}, a follower`,
          remedy: 'connect it to the lead',
        }),
      );
    }
    return found;
  });
}

export function earthBond(record: SiteRecord): Contradiction[] {
  const by = record.neutral_earth_bond;
  const about = 'neutral_earth_bond';
  const found = (id: ContradictionId, what: string, remedy: string) => [
    contradiction(record, id, { path: by === null ? '' : about, about, what, remedy }),
  ];
  const licensed = 'a licensed person proves bond and RCD on the grid and in backup';
  if (by === null)
    return found(
      'bond_unsaid',
      'the record does not say what bonds neutral to earth in backup',
      `name a unit, external or none; ${licensed}`,
    );
  if (by !== 'external' && by !== 'none') return [];
  if (record.units.some(({ id }) => id === by)) {
    return found(
      'bond_ambiguous',
      `${by} is a unit's id here and a word of neutral_earth_bond`,
      'give the unit another id',
    );
  }
  if (by === 'external') return [];
  return found(
    'bond_none',
    'nothing bonds neutral to earth in backup, which defeats fault protection',
    `${licensed}; the bond must exist exactly once, where the local code says`,
  );
}

export function bands(record: SiteRecord): Contradiction[] {
  const found: Contradiction[] = [];
  const nominalHz = record.supply.nominal_frequency_hz;
  const [lowHz, highHz] = record.island_frequency_band_hz;
  // Written so that a NaN fails.
  if (!(lowHz < highHz && lowHz <= nominalHz && nominalHz <= highHz)) {
    const what = `the band ${lowHz} to ${highHz} Hz does not hold the nominal ${nominalHz} Hz`;
    found.push(
      contradiction(record, 'frequency_band', {
        path: 'island_frequency_band_hz',
        about: 'island_frequency_band_hz',
        what,
        remedy: 'write the low end, then the high end, around the nominal frequency',
      }),
    );
  }
  const [lowPct, highPct] = record.island_voltage_band_pct;
  if (!(lowPct < highPct && lowPct <= 0 && highPct >= 0)) {
    const what = `the band ${lowPct} to ${highPct} % does not hold the nominal voltage (0 %)`;
    found.push(
      contradiction(record, 'voltage_band', {
        path: 'island_voltage_band_pct',
        about: 'island_voltage_band_pct',
        what,
        remedy: 'write how far below and above nominal is normal, as [-10, 10]',
      }),
    );
  }
  const reserve = record.reserve_soc_pct;
  if (reserve !== null && !(reserve >= 0 && reserve <= 100)) {
    found.push(
      contradiction(record, 'reserve_out_of_range', {
        path: 'reserve_soc_pct',
        about: 'reserve_soc_pct',
        what: `the reserve is ${reserve} %`,
        remedy: 'write a share from 0 to 100',
      }),
    );
  }
  // The default reaches 2 % above nominal, which an island that holds PV back commonly exceeds.
  if (record.ac_coupled_pv && highHz <= nominalHz * 1.02) {
    const what = `with ac_coupled_pv an island raises its frequency on purpose, but the band ends at ${highHz} Hz`;
    found.push(
      contradiction(record, 'ac_pv_band', {
        path: 'ac_coupled_pv',
        about: 'island_frequency_band_hz',
        what,
        remedy: `write what is normal here, often up to ${Math.round(nominalHz * 104) / 100} Hz`,
      }),
    );
  }
  return found;
}

export function dates(record: SiteRecord): Contradiction[] {
  const { validFrom, commissioned } = record;
  if (validFrom === null || commissioned === null || commissioned <= validFrom) return [];
  const what = `commissioned on ${formatDay(commissioned)}, after this document's valid_from, ${formatDay(validFrom)}`;
  return [
    contradiction(record, 'commissioned_late', {
      path: 'commissioned',
      about: 'commissioned',
      what,
      remedy: 'check both days; the baseline begins on the day of commissioning',
    }),
  ];
}
