import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { isPointName, MODELS } from '../../../../ingest/wire/sunspec/models.ts';

interface JsonPoint {
  readonly name: string;
  readonly type: string;
  readonly size: number;
  readonly sf?: string;
}
interface JsonGroup {
  readonly points: readonly JsonPoint[];
  readonly groups?: readonly (JsonGroup & { readonly count?: string })[];
}

// The published models, outside the project: looked at where they are.
const FOLDER = '../shared/sunspec';

function placedPoints(points: readonly JsonPoint[]): unknown[] {
  let offset = 0;
  return points.flatMap(({ name, type, size, sf = null }) => {
    offset += size;
    return type === 'pad' ? [] : [{ name, type, size, offset: offset - size, scale: sf }];
  });
}

describe.skipIf(!existsSync(FOLDER))('MODELS against the published JSON', () => {
  test.each([...MODELS.keys()])('model %i has every point at its place, with its type and scale factor', (id) => {
    const json: { id: number; group: JsonGroup } = JSON.parse(readFileSync(`${FOLDER}/model_${id}.json`, 'utf8'));
    const model = MODELS.get(id)!;
    const own = (points: Iterable<{ type: string }>): unknown[] => [...points].filter(({ type }) => type !== 'pad');
    expect(json.id).toBe(id);
    expect(own(model.fixed.points.values())).toEqual(placedPoints(json.group.points));
    expect(model.fixed.size).toBe(json.group.points.reduce((sum, { size }) => sum + size, 0));
    const [repeated] = json.group.groups ?? [];
    expect(model.repeated === null).toBe(repeated === undefined);
    if (repeated === undefined || model.repeated === null) return;
    expect(model.repeated.count).toBe(repeated.count);
    expect(own(model.repeated.group.points.values())).toEqual(placedPoints(repeated.points));
    expect(model.repeated.group.size).toBe(repeated.points.reduce((sum, { size }) => sum + size, 0));
  });
});

describe('isPointName', () => {
  test('knows points of any model, of one model, and of repeated groups', () => {
    expect(['W', '701.W', 'StrA', '803.StrA', 'TotWhInj'].map(isPointName)).toEqual([true, true, true, true, true]);
    expect(['w', '103.TotWhInj', '999.W', 'W.701', ''].map(isPointName)).toEqual([false, false, false, false, false]);
  });
});
