/** Settings and alarms as a site's gateway sends them: settings once a day and when they change. */
import type { SettingValue } from '../vocabulary/reading.ts';
import { DAY_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { timeValue } from './log-lines.ts';
import type { SitePlan } from './site-plan.ts';
import type { SiteState } from './site-state.ts';

const FIRMWARE = '4.12.1';

type Settings = Readonly<Record<string, SettingValue>>;

/** The settings of a unit at a time, faults and replacement included. */
export function settingsOf(plan: SitePlan, i: number, tMs: number): Settings {
  const unit = plan.units[i]!;
  const isSwapped = plan.replacement !== null && plan.replacement.unit === unit.id && tMs >= plan.replacement.at;
  const { firmware } = plan;
  const isUpdated = firmware !== null && tMs >= firmware.at + i * firmware.stepMs;
  const settings: Record<string, SettingValue> = {
    battery_type: 'lithium',
    battery_protocol: 'can-a',
    parallel_mode: new Set(plan.units.map((u) => u.phase)).size > 1 ? 'three_phase' : 'parallel',
    battery_shared: true,
    output_voltage_setpoint_v: 230,
    output_frequency_setpoint_hz: 50,
    low_soc_cutoff_pct: 10,
    firmware: isUpdated ? firmware.version : FIRMWARE,
    serial: isSwapped ? plan.replacement!.serial : unit.serial,
    phase: unit.phase,
  };
  for (const fault of plan.faults) {
    if (fault.what !== 'wrong_setting' || fault.unit !== unit.id || tMs < fault.start) continue;
    if (fault.end === null || tMs < fault.end) settings[fault.key] = fault.value;
  }
  return settings;
}

/** One line of settings that a day holds. */
export interface SettingsDue {
  readonly t: number;
  /** Place of the unit. */
  readonly unit: number;
}

/** When settings are sent on a UTC day: a few minutes after midnight, and at each change; in order of time. */
export function settingsDue(plan: SitePlan, day: number): SettingsDue[] {
  const due: SettingsDue[] = [];
  plan.units.forEach(({ id }, unit) => {
    due.push({ t: day + 4 * MINUTE_MS + unit * 2000, unit });
    if (plan.replacement?.unit === id) due.push({ t: plan.replacement.at + 8 * MINUTE_MS, unit });
    if (plan.firmware !== null) due.push({ t: plan.firmware.at + unit * plan.firmware.stepMs + 20_000, unit });
    for (const fault of plan.faults) {
      if (fault.what === 'wrong_setting' && fault.unit === id) due.push({ t: fault.start, unit });
    }
  });
  return due.filter(({ t }) => t >= day && t < day + DAY_MS).sort((a, b) => a.t - b.t || a.unit - b.unit);
}

/** The line, with its newline; empty where the unit or the site is silent. */
export function settingsLine(state: SiteState, { t, unit }: SettingsDue): string {
  const { plan, effects } = state;
  if (effects.siteSilent || effects.unitSilent[unit] === 1) return '';
  return `${JSON.stringify({ t: timeValue(plan.timeForm, t), site: plan.id, unit: state.unitIds[unit], settings: settingsOf(plan, unit, t) })}\n`;
}

/** Raised above and cleared below, so that a wavering heatsink does not ring. */
const HOT_C = 70;
const COOL_C = 61;

function alarmLine(state: SiteState, i: number, t: number, alarm: string, stands: 'raised' | 'cleared'): string {
  const { plan, effects } = state;
  if (effects.unitSilent[i] === 1 || effects.siteSilent) return '';
  return `${JSON.stringify({ t: timeValue(plan.timeForm, t), site: plan.id, unit: state.unitIds[i], alarm, state: stands })}\n`;
}

/** Alarms that begin or end with this tick, as lines. Remembers in the state what stands. */
export function alarmLines(state: SiteState, from: number, to: number): string {
  const { trip } = state;
  let text = '';
  for (let i = 0; i < state.unitIds.length; i++) {
    const heatC = state.heatsinkC[i]!;
    if (state.isHot[i] === 0 && heatC > HOT_C) {
      state.isHot[i] = 1;
      text += alarmLine(state, i, from + 500 + i, 'over temperature', 'raised');
    } else if (state.isHot[i] === 1 && heatC < COOL_C) {
      state.isHot[i] = 0;
      text += alarmLine(state, i, from + 500 + i, 'over temperature', 'cleared');
    }
    if (trip.from >= from && trip.from < to) text += alarmLine(state, i, trip.from + i, 'overload', 'raised');
    if (trip.to >= from && trip.to < to) text += alarmLine(state, i, trip.to + i, 'overload', 'cleared');
  }
  return text;
}
