export interface DipSeries {
  /** Times, ms, ascending: usually one a half cycle. */
  readonly tMs: ArrayLike<number>;
  /** RMS voltage of each phase, V, one array a phase, each as long as tMs; NaN marks a gap. */
  readonly phasesV: readonly ArrayLike<number>[];
  /** Declared or sliding reference voltage, V, above 0. */
  readonly referenceV: number;
}

export interface DipLimits {
  /** A dip begins below this, % of the reference. Usual: 90. */
  readonly thresholdPct: number;
  /** It ends at threshold plus this, % of the reference. Usual: 2. */
  readonly hysteresisPct: number;
  /** An interruption is a dip in which all phases are below this at once, % of the reference. Usual: 5 or 10. */
  readonly interruptionPct: number;
}

/** From memory, unverified, but for the 10 % of an interruption, which IEEE 1159 has. */
export const DIP_LIMITS: DipLimits = { thresholdPct: 90, hysteresisPct: 2, interruptionPct: 10 };

export interface Dip {
  readonly kind: 'dip' | 'interruption';
  readonly startMs: number;
  /** First instant at which every phase is back; null where the series ends before. */
  readonly endMs: number | null;
  /** Lowest RMS of any phase, V and % of the reference. */
  readonly residualV: number;
  readonly residualPct: number;
  /** Which phases were below the threshold, 0-based, ascending. */
  readonly phases: readonly number[];
  /** A value was missing meanwhile, so start, end or residual may be worse than said. */
  readonly hasGap: boolean;
}

/**
 * Voltage dips and interruptions in a series of RMS values, with hysteresis: begins with the first phase below the
 * threshold, ends when all are at or above threshold plus hysteresis. A missing value neither begins nor ends one.
 *
 * @param series  times, ms, RMS values, V, and reference, V
 * @param limits  % of the reference
 * @returns dips in order of time; a half-cycle RMS cannot resolve less than about 20 ms
 * @throws RangeError  if the lengths differ, there is no phase, or a reference or limit is out of its range
 * @see IEC 61000-4-30:2015, 5.4 and 5.5 (clauses from memory, unverified)
 */
export function findDips(series: DipSeries, limits: DipLimits = DIP_LIMITS): Dip[] {
  checkDipInput(series, limits);
  const { tMs, phasesV, referenceV } = series;
  const beginV = (referenceV * limits.thresholdPct) / 100;
  const endV = (referenceV * (limits.thresholdPct + limits.hysteresisPct)) / 100;
  const interruptionV = (referenceV * limits.interruptionPct) / 100;
  const isBelow = phasesV.map(() => false);
  const dips: Dip[] = [];
  let open: OpenDip | null = null;
  for (let i = 0; i < tMs.length; i++) {
    let highestV = Number.NEGATIVE_INFINITY;
    let isMissing = false;
    for (const [phase, volts] of phasesV.entries()) {
      const v = volts[i]!;
      if (Number.isNaN(v)) {
        isMissing = true;
        continue;
      }
      highestV = Math.max(highestV, v);
      if (v < beginV) isBelow[phase] = true;
      else if (v >= endV) isBelow[phase] = false;
      if (isBelow[phase]) open = widened(open, tMs[i]!, phase, v);
    }
    if (open === null) continue;
    open.hasGap ||= isMissing;
    open.isInterruption ||= !isMissing && highestV < interruptionV;
    if (!isBelow.includes(true)) {
      dips.push(closed(open, tMs[i]!, referenceV));
      open = null;
    }
  }
  if (open !== null) dips.push(closed(open, null, referenceV));
  return dips;
}

interface OpenDip {
  readonly startMs: number;
  residualV: number;
  readonly phases: Set<number>;
  hasGap: boolean;
  isInterruption: boolean;
}

function widened(open: OpenDip | null, tMs: number, phase: number, v: number): OpenDip {
  const dip = open ?? { startMs: tMs, residualV: v, phases: new Set<number>(), hasGap: false, isInterruption: false };
  dip.residualV = Math.min(dip.residualV, v);
  dip.phases.add(phase);
  return dip;
}

function closed(open: OpenDip, endMs: number | null, referenceV: number): Dip {
  return {
    kind: open.isInterruption ? 'interruption' : 'dip',
    startMs: open.startMs,
    endMs,
    residualV: open.residualV,
    residualPct: (100 * open.residualV) / referenceV,
    phases: [...open.phases].sort((a, b) => a - b),
    hasGap: open.hasGap,
  };
}

function checkDipInput({ tMs, phasesV, referenceV }: DipSeries, limits: DipLimits): void {
  if (phasesV.length === 0) throw new RangeError('Cannot look for dips: needs at least 1 phase');
  for (const volts of phasesV) {
    if (volts.length !== tMs.length)
      throw new RangeError(`Cannot look for dips: ${tMs.length} times but ${volts.length} voltages`);
  }
  if (!(referenceV > 0 && Number.isFinite(referenceV)))
    throw new RangeError(`Cannot look for dips: reference ${referenceV} V is not above 0`);
  const { thresholdPct, hysteresisPct, interruptionPct } = limits;
  if (!(thresholdPct > 0 && hysteresisPct >= 0 && interruptionPct > 0 && interruptionPct < thresholdPct)) {
    throw new RangeError(
      `Cannot look for dips: limits ${thresholdPct}, ${hysteresisPct}, ${interruptionPct} % are out of order`,
    );
  }
}
