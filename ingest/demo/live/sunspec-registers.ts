/**
 * The registers of a simulated SunSpec device: model 1, then 701 and 713 of a unit, or 802 and 803 of a pack.
 *
 * @see github.com/sunspec/models, commit 7abdf8982d5364f8ae916deee18aac86c11be36d (22 Apr 2026), Apache-2.0
 */
import {
  columnOf,
  MODES,
  PACK_STATE_WORDS,
  type PackQuantity,
  type UnitQuantity,
} from '../../vocabulary/quantities.ts';
import { textWords } from './profile-registers.ts';

/** Where the chain begins. */
export const SUNSPEC_BASE = 40_000;

/** Points in the order of their registers; `*9` repeats one. What is given no value says "not implemented". */
const COMMON = 'Mn:s16 Md:s16 Opt:s8 Vr:s8 SN:s16 DA:u16 Pad:u16';
const PHASE = (n: number) =>
  `WL${n}:i16 VAL${n}:i16 VarL${n}:i16 PFL${n}:i16 AL${n}:i16 VLL${n}:u16 VL${n}:u16 a${n}:u64 b${n}:u64 c${n}:u64 d${n}:u64`;
const DER_AC = `ACType:u16 St:u16 InvSt:u16 ConnSt:u16 Alrm:u32 DERMode:u32 W:i16 VA:i16 Var:i16 PF:i16 A:i16 LLV:u16
  LNV:u16 Hz:u32 TotWhInj:u64 TotWhAbs:u64 TotVarhInj:u64 TotVarhAbs:u64 TmpAmb:i16 TmpCab:i16 TmpSnk:i16 TmpTrns:i16
  TmpSw:i16 TmpOt:i16 ${PHASE(1)} ${PHASE(2)} ${PHASE(3)} ThrotPct:u16 ThrotSrc:u32 A_SF:i16 V_SF:i16 Hz_SF:i16
  W_SF:i16 PF_SF:i16 VA_SF:i16 Var_SF:i16 TotWh_SF:i16 TotVarh_SF:i16 Tmp_SF:i16 MnAlrmInfo:s32`;
const DER_STORAGE = 'WHRtg:u16 WHAvail:u16 SoC:u16 SoH:u16 Sta:u16 WH_SF:i16 Pct_SF:i16';
const BATTERY = `AHRtg:u16 WHRtg:u16 WChaRteMax:u16 WDisChaRteMax:u16 DisChaRte:u16 SoCMax:u16 SoCMin:u16 SocRsvMax:u16
  SoCRsvMin:u16 SoC:u16 DoD:u16 SoH:u16 NCyc:u32 ChaSt:u16 LocRemCtl:u16 Hb:u16 CtrlHb:u16 AlmRst:u16 Typ:u16 State:u16
  StateVnd:u16 WarrDt:u32 Evt1:u32 Evt2:u32 EvtVnd1:u32 EvtVnd2:u32 V:u16 VMax:u16 VMin:u16 CellVMax:u16
  CellVMaxStr:u16 CellVMaxMod:u16 CellVMin:u16 CellVMinStr:u16 CellVMinMod:u16 CellVAvg:u16 A:i16 AChaMax:u16
  ADisChaMax:u16 W:i16 ReqInvState:u16 ReqW:i16 SetOp:u16 SetInvState:u16 AHRtg_SF:i16 WHRtg_SF:i16
  WChaDisChaMax_SF:i16 DisChaRte_SF:i16 SoC_SF:i16 DoD_SF:i16 SoH_SF:i16 V_SF:i16 CellV_SF:i16 A_SF:i16 AMax_SF:i16
  W_SF:i16`;
/** Of a bank without strings of its own. */
const LITHIUM_BANK = `NStr:u16 NStrCon:u16 ModTmpMax:i16 ModTmpMaxStr:u16 ModTmpMaxMod:u16 ModTmpMin:i16
  ModTmpMinStr:u16 ModTmpMinMod:u16 ModTmpAvg:i16 StrVMax:u16 StrVMaxStr:u16 StrVMin:u16 StrVMinStr:u16 StrVAvg:u16
  StrAMax:i16 StrAMaxStr:u16 StrAMin:i16 StrAMinStr:u16 StrAAvg:i16 NCellBal:u16 CellV_SF:i16 ModTmp_SF:i16 A_SF:i16
  SoH_SF:i16 SoC_SF:i16 V_SF:i16`;

type Points = Readonly<Record<string, number | string>>;
const NOT_IMPLEMENTED: Readonly<Record<string, readonly number[]>> = {
  u16: [0xffff],
  i16: [0x8000],
  u32: [0xffff, 0xffff],
  u64: [0xffff, 0xffff, 0xffff, 0xffff],
};
const MARK = [0x5375, 0x6e53];
const END = [0xffff, 0];

function pointWords(type: string, value: number | string | undefined): readonly number[] {
  if (type.startsWith('s')) return textWords(String(value ?? ''), Number(type.slice(1)));
  if (typeof value !== 'number' || Number.isNaN(value)) return NOT_IMPLEMENTED[type] ?? [];
  const view = new DataView(new ArrayBuffer(8));
  view.setBigInt64(0, BigInt(Math.round(value)));
  const words = [0, 2, 4, 6].map((offset) => view.getUint16(offset));
  return words.slice(4 - Number(type.slice(1)) / 16);
}

function model(id: number, layout: string, points: Points): readonly number[] {
  const body = layout.split(/\s+/).flatMap((point) => {
    const [name = '', type = ''] = point.split(':');
    return pointWords(type, points[name]);
  });
  return [id, body.length, ...body];
}

interface Named {
  readonly serial: string;
  readonly firmware: string;
}

const chain = (models: readonly (readonly number[])[]): Uint16Array =>
  Uint16Array.from([...MARK, ...models.flat(), ...END]);

/** `Mn` and `Md` are invented, as the fleet is. */
const common = (made: string, { serial, firmware }: Named): readonly number[] =>
  model(1, COMMON, { Mn: 'Invented', Md: made, Vr: firmware, SN: serial, DA: 1 });

const IN_STATE = { off: 0, starting: 2, running: 3, fault: 6, standby: 7 } as const;
const GRID_FOLLOWING = 1;
const GRID_FORMING = 2;

/** @param values in the order of the vocabulary's columns; NaN = absent */
export function unitRegisters(values: Float64Array, named: Named): Uint16Array {
  const of = (id: UnitQuantity): number => values[columnOf('unit', id)!.index]!;
  const mode = MODES[of('mode')] ?? 'off';
  const isRunning = mode === 'grid' || mode === 'backup' || mode === 'generator';
  const points: Points = {
    ACType: 0,
    St: mode === 'off' ? 0 : 1,
    InvSt: isRunning ? IN_STATE.running : IN_STATE[mode],
    ConnSt: mode === 'grid' ? 1 : 0,
    Alrm: 0,
    DERMode: mode === 'backup' ? GRID_FORMING : GRID_FOLLOWING,
    W: of('output_power_w'),
    VA: of('output_apparent_va'),
    Var: of('output_reactive_var'),
    A: of('output_current_a') * 10,
    LNV: of('output_voltage_v') * 10,
    Hz: of('output_frequency_hz') * 100,
    TotWhInj: of('output_energy_wh'),
    TmpSnk: of('heatsink_temperature_c') * 10,
    ...{ A_SF: -1, V_SF: -1, Hz_SF: -2, W_SF: 0, VA_SF: 0, Var_SF: 0, TotWh_SF: 0, Tmp_SF: -1 },
  };
  const storage: Points = { SoC: of('battery_soc_pct') * 10, Pct_SF: -1 };
  return chain([common('Pond hybrid', named), model(701, DER_AC, points), model(713, DER_STORAGE, storage)]);
}

const CHARGE_STATE: Readonly<Record<(typeof PACK_STATE_WORDS)[number], number>> = {
  off: 1,
  discharging: 3,
  charging: 4,
  idle: 6,
  fault: 1,
};

/** The battery's current is positive while it charges: the standard leaves that to the maker. */
export function packRegisters(values: Float64Array, named: Named): Uint16Array {
  const of = (id: PackQuantity): number => values[columnOf('pack', id)!.index]!;
  const battery: Points = {
    SoC: of('soc_pct') * 10,
    SoH: of('soh_pct') * 10,
    NCyc: of('cycles'),
    ChaSt: CHARGE_STATE[PACK_STATE_WORDS[of('pack_state')] ?? 'off'],
    V: of('pack_voltage_v') * 100,
    CellVMax: of('cell_voltage_max_v') * 1000,
    CellVMin: of('cell_voltage_min_v') * 1000,
    A: of('pack_current_a') * -10,
    ...{ SoC_SF: -1, SoH_SF: -1, V_SF: -2, CellV_SF: -3, A_SF: -1 },
  };
  const bank: Points = {
    NStr: 0,
    ModTmpMax: of('cell_temperature_max_c') * 10,
    ModTmpMin: of('cell_temperature_min_c') * 10,
    ModTmp_SF: -1,
  };
  return chain([common('Pond pack', named), model(802, BATTERY, battery), model(803, LITHIUM_BANK, bank)]);
}
