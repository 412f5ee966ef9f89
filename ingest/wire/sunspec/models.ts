/**
 * The points of the SunSpec models that are read, in the order of their registers.
 *
 * @see github.com/sunspec/models, commit 7abdf8982d5364f8ae916deee18aac86c11be36d (22 Apr 2026), Apache-2.0
 */
import { isPointType, type PointTypeName, sizeOf } from './point-types.ts';

export interface Point {
  readonly name: string;
  readonly type: PointTypeName;
  /** Registers from the start of its model (the id is at 0), or of its group. */
  readonly offset: number;
  readonly size: number;
  /** Name of its scale factor, in the same group or in the model; null: none. */
  readonly scale: string | null;
}

export interface PointGroup {
  readonly points: ReadonlyMap<string, Point>;
  readonly size: number;
}

export interface Model {
  readonly fixed: PointGroup;
  /** The group that is repeated after the fixed points, and the point that says how often. */
  readonly repeated: { readonly group: PointGroup; readonly count: string } | null;
}

const COMMON = `
  ID:uint16 L:uint16 Mn:string(16) Md:string(16) Opt:string(8) Vr:string(8) SN:string(16) DA:uint16 Pad:pad`;
const INVERTER = `
  ID:uint16 L:uint16 A:uint16:A_SF AphA:uint16:A_SF AphB:uint16:A_SF AphC:uint16:A_SF A_SF:sunssf
  PPVphAB:uint16:V_SF PPVphBC:uint16:V_SF PPVphCA:uint16:V_SF PhVphA:uint16:V_SF PhVphB:uint16:V_SF
  PhVphC:uint16:V_SF V_SF:sunssf W:int16:W_SF W_SF:sunssf Hz:uint16:Hz_SF Hz_SF:sunssf VA:int16:VA_SF
  VA_SF:sunssf VAr:int16:VAr_SF VAr_SF:sunssf PF:int16:PF_SF PF_SF:sunssf WH:acc32:WH_SF WH_SF:sunssf
  DCA:uint16:DCA_SF DCA_SF:sunssf DCV:uint16:DCV_SF DCV_SF:sunssf DCW:int16:DCW_SF DCW_SF:sunssf
  TmpCab:int16:Tmp_SF TmpSnk:int16:Tmp_SF TmpTrns:int16:Tmp_SF TmpOt:int16:Tmp_SF Tmp_SF:sunssf St:enum16
  StVnd:enum16 Evt1:bitfield32 Evt2:bitfield32 EvtVnd1:bitfield32 EvtVnd2:bitfield32 EvtVnd3:bitfield32
  EvtVnd4:bitfield32`;
const INVERTER_FLOAT = `
  ID:uint16 L:uint16 A:float32 AphA:float32 AphB:float32 AphC:float32 PPVphAB:float32 PPVphBC:float32
  PPVphCA:float32 PhVphA:float32 PhVphB:float32 PhVphC:float32 W:float32 Hz:float32 VA:float32 VAr:float32
  PF:float32 WH:float32 DCA:float32 DCV:float32 DCW:float32 TmpCab:float32 TmpSnk:float32 TmpTrns:float32
  TmpOt:float32 St:enum16 StVnd:enum16 Evt1:bitfield32 Evt2:bitfield32 EvtVnd1:bitfield32 EvtVnd2:bitfield32
  EvtVnd3:bitfield32 EvtVnd4:bitfield32`;
const DER_AC = `
  ID:uint16 L:uint16 ACType:enum16 St:enum16 InvSt:enum16 ConnSt:enum16 Alrm:bitfield32 DERMode:bitfield32
  W:int16:W_SF VA:int16:VA_SF Var:int16:Var_SF PF:int16:PF_SF A:int16:A_SF LLV:uint16:V_SF LNV:uint16:V_SF
  Hz:uint32:Hz_SF TotWhInj:uint64:TotWh_SF TotWhAbs:uint64:TotWh_SF TotVarhInj:uint64:TotVarh_SF
  TotVarhAbs:uint64:TotVarh_SF TmpAmb:int16:Tmp_SF TmpCab:int16:Tmp_SF TmpSnk:int16:Tmp_SF TmpTrns:int16:Tmp_SF
  TmpSw:int16:Tmp_SF TmpOt:int16:Tmp_SF WL1:int16:W_SF VAL1:int16:VA_SF VarL1:int16:Var_SF PFL1:int16:PF_SF
  AL1:int16:A_SF VL1L2:uint16:V_SF VL1:uint16:V_SF TotWhInjL1:uint64:TotWh_SF TotWhAbsL1:uint64:TotWh_SF
  TotVarhInjL1:uint64:TotVarh_SF TotVarhAbsL1:uint64:TotVarh_SF WL2:int16:W_SF VAL2:int16:VA_SF
  VarL2:int16:Var_SF PFL2:int16:PF_SF AL2:int16:A_SF VL2L3:uint16:V_SF VL2:uint16:V_SF
  TotWhInjL2:uint64:TotWh_SF TotWhAbsL2:uint64:TotWh_SF TotVarhInjL2:uint64:TotVarh_SF
  TotVarhAbsL2:uint64:TotVarh_SF WL3:int16:W_SF VAL3:int16:VA_SF VarL3:int16:Var_SF PFL3:int16:PF_SF
  AL3:int16:A_SF VL3L1:uint16:V_SF VL3:uint16:V_SF TotWhInjL3:uint64:TotWh_SF TotWhAbsL3:uint64:TotWh_SF
  TotVarhInjL3:uint64:TotVarh_SF TotVarhAbsL3:uint64:TotVarh_SF ThrotPct:uint16 ThrotSrc:bitfield32 A_SF:sunssf
  V_SF:sunssf Hz_SF:sunssf W_SF:sunssf PF_SF:sunssf VA_SF:sunssf Var_SF:sunssf TotWh_SF:sunssf TotVarh_SF:sunssf
  Tmp_SF:sunssf MnAlrmInfo:string(32)`;
const DER_STORAGE = `
  ID:uint16 L:uint16 WHRtg:uint16:WH_SF WHAvail:uint16:WH_SF SoC:uint16:Pct_SF SoH:uint16:Pct_SF Sta:enum16
  WH_SF:sunssf Pct_SF:sunssf`;
const BATTERY = `
  ID:uint16 L:uint16 AHRtg:uint16:AHRtg_SF WHRtg:uint16:WHRtg_SF WChaRteMax:uint16:WChaDisChaMax_SF
  WDisChaRteMax:uint16:WChaDisChaMax_SF DisChaRte:uint16:DisChaRte_SF SoCMax:uint16:SoC_SF SoCMin:uint16:SoC_SF
  SocRsvMax:uint16:SoC_SF SoCRsvMin:uint16:SoC_SF SoC:uint16:SoC_SF DoD:uint16:DoD_SF SoH:uint16:SoH_SF
  NCyc:uint32 ChaSt:enum16 LocRemCtl:enum16 Hb:uint16 CtrlHb:uint16 AlmRst:uint16 Typ:enum16 State:enum16
  StateVnd:enum16 WarrDt:uint32 Evt1:bitfield32 Evt2:bitfield32 EvtVnd1:bitfield32 EvtVnd2:bitfield32
  V:uint16:V_SF VMax:uint16:V_SF VMin:uint16:V_SF CellVMax:uint16:CellV_SF CellVMaxStr:uint16 CellVMaxMod:uint16
  CellVMin:uint16:CellV_SF CellVMinStr:uint16 CellVMinMod:uint16 CellVAvg:uint16:CellV_SF A:int16:A_SF
  AChaMax:uint16:AMax_SF ADisChaMax:uint16:AMax_SF W:int16:W_SF ReqInvState:enum16 ReqW:int16:W_SF SetOp:enum16
  SetInvState:enum16 AHRtg_SF:sunssf WHRtg_SF:sunssf WChaDisChaMax_SF:sunssf DisChaRte_SF:sunssf SoC_SF:sunssf
  DoD_SF:sunssf SoH_SF:sunssf V_SF:sunssf CellV_SF:sunssf A_SF:sunssf AMax_SF:sunssf W_SF:sunssf`;
const LITHIUM_BANK = `
  ID:uint16 L:uint16 NStr:uint16 NStrCon:uint16 ModTmpMax:int16:ModTmp_SF ModTmpMaxStr:uint16
  ModTmpMaxMod:uint16 ModTmpMin:int16:ModTmp_SF ModTmpMinStr:uint16 ModTmpMinMod:uint16
  ModTmpAvg:int16:ModTmp_SF StrVMax:uint16:V_SF StrVMaxStr:uint16 StrVMin:uint16:V_SF StrVMinStr:uint16
  StrVAvg:uint16:V_SF StrAMax:int16:A_SF StrAMaxStr:uint16 StrAMin:int16:A_SF StrAMinStr:uint16
  StrAAvg:int16:A_SF NCellBal:uint16 CellV_SF:sunssf ModTmp_SF:sunssf A_SF:sunssf SoH_SF:sunssf SoC_SF:sunssf
  V_SF:sunssf`;
const LITHIUM_STRING = `
  StrNMod:uint16 StrSt:bitfield32 StrConFail:enum16 StrSoC:uint16:SoC_SF StrSoH:uint16:SoH_SF StrA:int16:A_SF
  StrCellVMax:uint16:CellV_SF StrCellVMaxMod:uint16 StrCellVMin:uint16:CellV_SF StrCellVMinMod:uint16
  StrCellVAvg:uint16:CellV_SF StrModTmpMax:int16:ModTmp_SF StrModTmpMaxMod:uint16 StrModTmpMin:int16:ModTmp_SF
  StrModTmpMinMod:uint16 StrModTmpAvg:int16:ModTmp_SF StrDisRsn:enum16 StrConSt:bitfield32 StrEvt1:bitfield32
  StrEvt2:bitfield32 StrEvtVnd1:bitfield32 StrEvtVnd2:bitfield32 StrSetEna:enum16 StrSetCon:enum16 Pad1:pad
  Pad2:pad`;

/** `NAME:TYPE:SCALE`, one after the other; a string carries its length in registers. */
function groupOf(text: string): PointGroup {
  const points = new Map<string, Point>();
  let offset = 0;
  for (const written of text.trim().split(/\s+/)) {
    const [name = '', typed = '', scale = null] = written.split(':');
    const [, type = '', length] = /^(\w+?)(?:\((\d+)\))?$/.exec(typed) ?? [];
    const size = isPointType(type) ? (sizeOf(type) ?? Number(length)) : 0;
    if (!isPointType(type) || !(size > 0)) throw new TypeError(`Cannot read the point ${written}`);
    // Pads share their name; nobody asks for one.
    points.set(name, { name, type, offset, size, scale });
    offset += size;
  }
  return { points, size: offset };
}

const plain = (text: string): Model => ({ fixed: groupOf(text), repeated: null });
const inverter = plain(INVERTER);
const inverterFloat = plain(INVERTER_FLOAT);

export const MODELS: ReadonlyMap<number, Model> = new Map([
  [1, plain(COMMON)],
  [101, inverter],
  [102, inverter],
  [103, inverter],
  [111, inverterFloat],
  [112, inverterFloat],
  [113, inverterFloat],
  [701, plain(DER_AC)],
  [713, plain(DER_STORAGE)],
  [802, plain(BATTERY)],
  [803, { fixed: groupOf(LITHIUM_BANK), repeated: { group: groupOf(LITHIUM_STRING), count: 'NStr' } }],
]);

/** Registers of id and length, which the length itself does not count. */
export const HEADER = 2;

/** Whether a name is that of a point in any model that is read: `W`, or in one model: `701.W`. */
export function isPointName(name: string): boolean {
  const [, model, point = ''] = /^(?:(\d+)\.)?(\w+)$/.exec(name) ?? [];
  const models = model === undefined ? [...MODELS.values()] : [MODELS.get(Number(model))];
  return models.some((each) => each?.fixed.points.has(point) || each?.repeated?.group.points.has(point));
}
