/** What the units and packs of a living site have in their registers. */
import type { SettingValue } from '../../vocabulary/reading.ts';
import { LOCKGATE_PROFILE, MILLRACE_PROFILE } from '../profiles.ts';
import { settingsOf } from '../settings-lines.ts';
import type { LivingSite, Shown } from './living-site.ts';
import { type DeviceWords, type ModbusSite, openModbusSite } from './modbus-site.ts';
import { profileRegisters, readLayout } from './profile-registers.ts';
import { packRegisters, SUNSPEC_BASE, unitRegisters } from './sunspec-registers.ts';
import { addressOf, type Way } from './ways.ts';

/** A device measures so often; what is asked in between is of one instant. */
const MEASURE_EVERY_MS = 900;

const NO_WORDS = new Uint16Array(0);
const layouts = { unit: readLayout(MILLRACE_PROFILE), pack: readLayout(LOCKGATE_PROFILE) };

/** @param elapsedMs never steps */
export function openSiteDevices(
  living: LivingSite,
  way: Way,
  port: number,
  { nowMs, elapsedMs }: { nowMs(): number; elapsedMs(): number },
): Promise<ModbusSite> {
  const { plan } = living.run.state;
  const byAddress = new Map<number, { readonly key: string; readonly index: number }>([
    ...plan.units.map(({ id }, index) => [addressOf('unit', index), { key: `unit/${id}`, index }] as const),
    ...plan.packs.map(({ id }, index) => [addressOf('pack', index), { key: `pack/${id}`, index }] as const),
  ]);
  let measuredMs = Number.NEGATIVE_INFINITY;
  let measuredAt = 0;
  let shown: ReadonlyMap<string, Shown> = new Map();
  return openModbusSite(port, (address) => {
    if (elapsedMs() - measuredMs > MEASURE_EVERY_MS) {
      measuredMs = elapsedMs();
      measuredAt = nowMs();
      shown = living.show(measuredAt);
    }
    const asked = byAddress.get(address);
    const values = asked === undefined ? undefined : shown.get(asked.key);
    if (asked === undefined || values === undefined) return null;
    const settings = values.kind === 'unit' ? settingsOf(plan, asked.index, measuredAt) : {};
    return way === 'sunspec' ? sunspecWords(values, asked.key, settings) : profileWords(values, settings);
  });
}

type Settings = Readonly<Record<string, SettingValue>>;

function sunspecWords({ kind, values }: Shown, key: string, { serial, firmware }: Settings): DeviceWords {
  const named = { serial: String(serial ?? key), firmware: String(firmware ?? '1.0') };
  const holding = kind === 'unit' ? unitRegisters(values, named) : packRegisters(values, named);
  return { holding, input: NO_WORDS, base: SUNSPEC_BASE };
}

function profileWords({ kind, values }: Shown, settings: Settings): DeviceWords {
  const layout = kind === 'unit' ? layouts.unit : layouts.pack;
  return { ...profileRegisters(layout, kind, values, settings), base: 0 };
}
