import { describe, expect, test } from 'vitest';
import { createNode, OPEN_OHM, solveNode } from '../../../ingest/demo/sharing.ts';

function nodeOf(emfV: number[], ohm: number[], limitA: number[] = emfV.map(() => Infinity)) {
  const node = createNode(emfV.length);
  node.emfV.set(emfV);
  node.pathOhm.set(ohm);
  node.limitA.set(limitA);
  return node;
}
const all = [0, 1, 2];

describe('solveNode', () => {
  test('on equal voltages shares go as conductances', () => {
    const node = nodeOf([230, 230, 230], [0.03, 0.03, 0.06]);
    solveNode(node, all, 50);
    [20, 20, 10].forEach((a, i) => {
      expect(node.currentA[i]).toBeCloseTo(a, 9);
    });
  });

  test('a unit at its limit gives just that and the others take the rest', () => {
    const node = nodeOf([230, 230, 230], [0.1, 0.1, 0.1], [5, Infinity, Infinity]);
    solveNode(node, all, 45);
    [5, 20, 20].forEach((a, i) => {
      expect(node.currentA[i]).toBeCloseTo(a, 9);
    });
  });

  test('where all are at their limit the load is carried all the same', () => {
    const node = nodeOf([230, 230, 230], [0.1, 0.1, 0.1], [5, 5, 5]);
    solveNode(node, all, 45);
    expect(node.currentA.reduce((sum, a) => sum + a, 0)).toBeCloseTo(45, 9);
  });

  test('an open path carries nothing to speak of', () => {
    const node = nodeOf([230, 230, 230], [0.1, OPEN_OHM, 0.1]);
    solveNode(node, all, 40);
    expect(Math.abs(node.currentA[1]!)).toBeLessThan(1e-6);
  });

  test('units of another phase are left alone', () => {
    const node = nodeOf([230, 230, 230], [0.1, 0.1, 0.1]);
    solveNode(node, [0, 2], 40);
    expect(node.currentA[1]).toBe(0);
  });
});
