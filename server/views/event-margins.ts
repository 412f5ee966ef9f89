/** How close it was: the margins of a backup event, the time left first, then the closest. */
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { EventAnswer, Extreme } from '../contract/event.ts';
import { beamAngle } from './beam.ts';
import { energyText, lengthText, NO_FIGURE, powerText, quantityText, withUnit } from './figures.ts';
import type { Saying } from './saying.ts';

/** Less charge than this used, and the rest of a division is noise. */
const LEAST_USED_POINTS = 3;

export interface Margin {
  readonly id: string;
  /** 'Lowest frequency' */
  readonly label: string;
  /** '48.71 Hz' */
  readonly figure: string;
  /** 'limit 49.00 Hz; beyond it for 50 s' */
  readonly note: string;
  /** Used ÷ allowed: its beam; null: no beam, only the figure. */
  readonly r: number | null;
  readonly angleDeg: number | null;
  readonly isBeyond: boolean;
}

function margin(id: string, label: string, figure: string, note: string, r: number | null): Margin {
  // A band that ends at its nominal leaves nothing to hang a beam by.
  const told = r !== null && Number.isFinite(r) ? r : null;
  return {
    id,
    label,
    figure,
    note,
    r: told,
    angleDeg: told === null ? null : beamAngle(told),
    isBeyond: told !== null && Math.abs(told) > 1,
  };
}

/**
 * How long the charge above the reserve (above nothing, where none is recorded) would have lasted at the load of the event: length · (end − reserve) ÷ (start − end).
 *
 * @returns ms; null where the charge moved too little, or one of the figures is not known
 */
export function timeLeftMs({ event, record }: Pick<EventAnswer, 'event' | 'record'>): number | null {
  const { start, end, socStartPct, socEndPct } = event;
  if (end === null || socStartPct === null || socEndPct === null) return null;
  const used = socStartPct - socEndPct;
  if (!(used >= LEAST_USED_POINTS)) return null;
  return Math.max(0, ((end - start) * (socEndPct - (record.reserve_soc_pct ?? 0))) / used);
}

function timeLeft(answer: EventAnswer, { words }: Saying): Margin {
  const left = timeLeftMs(answer);
  const { energyWh, start, end } = answer.event;
  const label = words.event.margin.timeLeft;
  if (left === null || energyWh === null || end === null)
    return margin('time_left', label, NO_FIGURE, words.event.noTimeLeft, null);
  const meanW = energyWh / ((end - start) / 3_600_000);
  return margin(
    'time_left',
    label,
    lengthText(left),
    words.event.toReserve(powerText(meanW), answer.record.reserve_soc_pct !== null),
    null,
  );
}

interface Side {
  readonly id: 'frequencyLow' | 'frequencyHigh' | 'voltageLow' | 'voltageHigh';
  readonly extreme: Extreme;
  readonly quantity: 'output_frequency_hz' | 'output_voltage_v';
  readonly nominal: number;
  readonly limit: number;
}

function side({ id, extreme, quantity, nominal, limit }: Side, { words }: Saying): Margin | null {
  if (extreme.value === null) return null;
  const outside = extreme.outsideS > 0 ? lengthText(extreme.outsideS * SECOND_MS) : null;
  const note = words.event.limit(quantityText(quantity, limit), outside);
  const r = (Math.sign(limit - nominal) * (extreme.value - nominal)) / (limit - nominal);
  return margin(id, words.event.margin[id], quantityText(quantity, extreme.value), note, r);
}

function sides(answer: EventAnswer, saying: Saying): Margin[] {
  const { record, frequencyLow, frequencyHigh, voltageLow, voltageHigh } = answer;
  const [lowHz, highHz] = record.island_frequency_band_hz;
  const { nominal_frequency_hz: hz, nominal_voltage_v: v } = record.supply;
  const [lowPct, highPct] = record.island_voltage_band_pct;
  const frequency = { quantity: 'output_frequency_hz', nominal: hz } as const;
  const voltage = { quantity: 'output_voltage_v', nominal: v } as const;
  return [
    side({ id: 'frequencyLow', extreme: frequencyLow, limit: lowHz, ...frequency }, saying),
    side({ id: 'frequencyHigh', extreme: frequencyHigh, limit: highHz, ...frequency }, saying),
    side({ id: 'voltageLow', extreme: voltageLow, limit: v * (1 + lowPct / 100), ...voltage }, saying),
    side({ id: 'voltageHigh', extreme: voltageHigh, limit: v * (1 + highPct / 100), ...voltage }, saying),
  ].filter((one): one is Margin => one !== null);
}

function peaks({ event, record, unitPeaks }: EventAnswer, { words }: Saying): Margin[] {
  const ratedW = record.units.reduce((sum, { rated_power_w: w }) => sum + w, 0);
  const share = (watts: number, rating: number): string => withUnit((100 * watts) / rating, 0, '%');
  const set =
    event.peakW === null
      ? []
      : [
          margin(
            'set_peak',
            words.event.margin.setPeak,
            powerText(event.peakW),
            words.event.ratingShare(powerText(ratedW), share(event.peakW, ratedW)),
            event.peakW / ratedW,
          ),
        ];
  const highest = [...unitPeaks]
    .filter((one): one is typeof one & { peakW: number } => one.peakW !== null)
    .sort((a, b) => b.peakW / b.ratedW - a.peakW / a.ratedW)[0];
  if (highest === undefined) return set;
  const past = highest.aboveRatingS > 0 ? lengthText(highest.aboveRatingS * SECOND_MS) : null;
  const note = words.event.rating(powerText(highest.ratedW), past);
  const r = highest.peakW / highest.ratedW;
  return [...set, margin('unit_peak', words.event.peakOf(highest.unit), powerText(highest.peakW), note, r)];
}

function charge({ event, record }: EventAnswer, { words }: Saying): Margin[] {
  const { socStartPct: from, socEndPct: to, energyWh } = event;
  if (from === null && to === null) return [];
  const reserve = record.reserve_soc_pct;
  const usable = from === null ? null : from - (reserve ?? 0);
  const r = from === null || to === null || usable === null || usable <= 0 ? null : -(from - to) / usable;
  const figure = words.event.fromTo(withUnit(from, 0, ''), withUnit(to, 0, '%'));
  const note = words.event.reserve(reserve === null ? null : withUnit(reserve, 0, '%'), energyText(energyWh));
  return [margin('charge', words.event.margin.charge, figure, note, r)];
}

/** Time left first, then by how much of the limit was used. */
export function eventMargins(answer: EventAnswer, saying: Saying): Margin[] {
  const rest = [...sides(answer, saying), ...peaks(answer, saying), ...charge(answer, saying)];
  return [timeLeft(answer, saying), ...rest.sort((a, b) => Math.abs(b.r ?? 0) - Math.abs(a.r ?? 0))];
}
