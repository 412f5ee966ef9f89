import type { Span } from '../modbus/block-plan.ts';
import { scaleByTen } from '../modbus/raw-value.ts';
import type { RegisterImage } from '../modbus/register-image.ts';
import type { ChainModel } from './discover.ts';
import { HEADER, type Model, type Point, type PointGroup } from './models.ts';
import { decodePoint, type PointValue } from './point-types.ts';

/** Scale factors are exponents from −10 to 10 (SunSpec Device Information Model Specification). */
const MOST_SCALE = 10;

/** A model as it stands in a device: which table of points, where, how long. */
export interface PlacedModel extends ChainModel {
  readonly table: Model;
  /** Values of one model come together or not at all. */
  readonly group: string;
}

/** Where a point stands; null where it lies beyond the length that the device gives the model. */
export function spanOf(placed: PlacedModel, point: Point, groupStart = 0): Span | null {
  const { address, length, group } = placed;
  const offset = groupStart + point.offset;
  if (offset + point.size > HEADER + length) return null;
  return { table: 'holding', address: address + offset, count: point.size, group };
}

/** Registers from the start of a model to its repeated group `number`, counted from 1. */
export function repeatedStart({ table }: PlacedModel, number: number): number {
  return table.fixed.size + (number - 1) * (table.repeated?.group.size ?? 0);
}

/** Spans of the named points and of their scale factors; names that the model does not have are passed over. */
export function spansOf(placed: PlacedModel, names: Iterable<string>, repeated: number | null = null): readonly Span[] {
  const { fixed, repeated: group } = placed.table;
  const spans: (Span | null)[] = [];
  const take = (point: Point | undefined, start: number): void => {
    if (point !== undefined) spans.push(spanOf(placed, point, start));
  };
  for (const name of names) {
    const point = repeated === null ? fixed.points.get(name) : group?.group.points.get(name);
    take(point, repeated === null ? 0 : repeatedStart(placed, repeated));
    take(fixed.points.get(point?.scale ?? ''), 0);
  }
  return spans.filter((span) => span !== null);
}

/** The values of one model, or of one of its repeated groups, as one poll has read them. */
export class ModelView {
  readonly #placed: PlacedModel;
  readonly #image: RegisterImage;
  readonly #points: PointGroup;
  readonly #start: number;
  readonly #refuse: (point: string, why: string) => void;

  /**
   * @param repeated  number of a repeated group, from 1; null for the fixed points
   * @param refuse    told of a value that was read and cannot be taken
   */
  constructor(
    placed: PlacedModel,
    image: RegisterImage,
    refuse: (point: string, why: string) => void,
    repeated: number | null = null,
  ) {
    this.#placed = placed;
    this.#image = image;
    this.#refuse = refuse;
    const group = placed.table.repeated?.group;
    this.#points = repeated === null || group === undefined ? placed.table.fixed : group;
    this.#start = repeated === null ? 0 : repeatedStart(placed, repeated);
  }

  get model(): number {
    return this.#placed.model;
  }

  names(): Iterable<string> {
    return this.#points.points.keys();
  }

  has(name: string): boolean {
    return this.#points.points.has(name);
  }

  /** As it stands in the registers; null: not implemented, not read, or beyond the model. */
  raw(name: string): PointValue | null {
    const point = this.#points.points.get(name);
    return point === undefined ? null : this.#decode(point, this.#start);
  }

  /** In its unit, scaled; null as `raw`, and where the scale factor is not implemented. */
  value(name: string): number | null {
    const point = this.#points.points.get(name);
    const raw = this.raw(name);
    if (point === undefined || raw === null || typeof raw === 'string') return null;
    // A counter of 64 bits beyond 2^53 loses its last digits here; whoever stores it refuses it for its size.
    if (point.scale === null) return Number(raw);
    const scalePoint = this.#placed.table.fixed.points.get(point.scale);
    const scale = scalePoint === undefined ? null : this.#decode(scalePoint, 0);
    if (typeof scale !== 'number') return null;
    if (Math.abs(scale) > MOST_SCALE) {
      this.#refuse(name, `its scale factor ${point.scale} is ${scale}`);
      return null;
    }
    return scaleByTen(Number(raw), scale);
  }

  #decode(point: Point, start: number): PointValue | null {
    const span = spanOf(this.#placed, point, start);
    const words = span === null ? null : this.#image.at(span);
    return words === null ? null : decodePoint(point.type, words);
  }
}
