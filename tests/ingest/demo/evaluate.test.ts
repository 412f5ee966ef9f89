import { describe, expect, test } from 'vitest';
import { busCurrentA, evaluate, islandFrequencyHz } from '../../../ingest/demo/evaluate.ts';
import { cableOhm } from '../../../ingest/demo/sharing.ts';
import type { SitePlan } from '../../../ingest/demo/site-plan.ts';
import { createSiteState, type SiteState } from '../../../ingest/demo/site-state.ts';
import { FROM, periodOf, sampleSite } from './_sample-site.ts';

/** A site at rest: cables at 20 °C, no calibration error, 230 V from the grid. */
function stateOf(wish: Partial<SitePlan>): SiteState {
  const state = createSiteState(sampleSite(wish), periodOf(30), 1);
  state.plan.units.forEach((unit, i) => {
    state.inputOhm[i] = cableOhm(unit.inputCable, 20);
    state.outputOhm[i] = cableOhm(unit.outputCable, 20);
  });
  state.calibrationV.fill(0);
  state.grid.voltageV = 230;
  return state;
}

function at(state: SiteState, tMs: number, loadW: number, loadVar = 0) {
  evaluate(state, tMs, Float64Array.of(loadW), Float64Array.of(loadVar));
  return state.instant;
}
const sum = (values: Float64Array) => values.reduce((total, v) => total + v, 0);
const inOutage = (state: SiteState) => state.outages[0]!.start + 30_000;

describe('evaluate', () => {
  test.each(['wired', 'droop', 'link'] as const)(
    'under %s sharing the units together carry the load and no more than a loss of 2 %',
    (law) => {
      const state = stateOf({ sharing: { grid: law, backup: law } });
      for (const loadW of [1500, 6000, 12_000]) {
        // Twice: the second works with the node voltage of the first.
        at(state, FROM, loadW, 2000);
        const { activeW, reactiveVar } = at(state, FROM, loadW, 2000);
        expect(sum(activeW) / loadW).toBeGreaterThan(0.99);
        expect(sum(activeW) / loadW).toBeLessThan(1.02);
        expect(sum(reactiveVar)).toBeCloseTo(2000, 6);
      }
    },
  );

  test('wired on the grid, shares go as the conductance of cables and contacts', () => {
    const state = stateOf({});
    const { activeW } = at(state, FROM, 9000);
    const conductance = state.plan.units.map(
      (u) => 1 / (cableOhm(u.inputCable, 20) + cableOhm(u.outputCable, 20) + u.contactOhm),
    );
    const total = conductance.reduce((a, b) => a + b, 0);
    conductance.forEach((g, i) => {
      expect(activeW[i]! / sum(activeW)).toBeCloseTo(g / total, 3);
    });
  });

  test('droop of two units follows I1 = (R2·I + (E1 − E2))/(R1 + R2)', () => {
    const units = sampleSite().units.slice(0, 2);
    const state = stateOf({ units, sharing: { grid: 'droop', backup: 'droop' } });
    state.effects.emfShiftV[1] = 1;
    for (let i = 0; i < 4; i++) at(state, FROM, 5000);
    const { voltageV, activeW, nodeV } = at(state, FROM, 5000);
    const [r1, r2] = [state.droopOhm[0]! + state.outputOhm[0]!, state.droopOhm[1]! + state.outputOhm[1]!];
    const loadA = 5000 / nodeV[0]!;
    expect(activeW[0]! / voltageV[0]!).toBeCloseTo((r2 * loadA - 1) / (r1 + r2), 3);
  });

  test('shared over the link, units go by their ratings and a bad terminal lifts its own output voltage', () => {
    const state = stateOf({ sharing: { grid: 'wired', backup: 'link' } });
    const tMs = inOutage(state);
    at(state, tMs, 9000);
    const before = at(state, tMs, 9000).voltageV[1]!;
    state.outputOhm[1]! += 0.02;
    const { activeW, voltageV } = at(state, tMs, 9000);
    expect(activeW[1]! / sum(activeW)).toBeCloseTo(1 / 3, 2);
    expect(voltageV[1]! - before).toBeCloseTo(0.02 * (3000 / 230), 2);
  });

  test('on the grid each unit takes what it gives, less PV and battery, plus its losses', () => {
    const state = stateOf({ pvShare: 0.5 });
    state.weather.sunShare = 0.6;
    state.dcCommandW = 1200;
    const { activeW, gridW, pvW, dcW } = at(state, FROM, 9000);
    const lossW = sum(gridW) + sum(pvW) + sum(dcW) - sum(activeW);
    expect(lossW).toBeGreaterThan(0);
    expect(lossW).toBeLessThan(0.06 * (sum(pvW) + sum(dcW)) + 100);
  });

  test('on its own the battery gives what the load takes beyond PV, and the grid nothing', () => {
    const state = stateOf({});
    const { activeW, gridW, dcW } = at(state, inOutage(state), 9000);
    expect(sum(gridW)).toBe(0);
    expect(sum(dcW)).toBeGreaterThan(sum(activeW));
    expect(busCurrentA(state)).toBeCloseTo(sum(dcW) / state.bank.busV, 9);
  });

  test('units of different phases do not share', () => {
    const units = sampleSite().units.map((unit, i) => ({ ...unit, phase: (['L1', 'L2', 'L3'] as const)[i]! }));
    const state = stateOf({ units });
    evaluate(state, FROM, Float64Array.of(1000, 2000, 3000), new Float64Array(3));
    [1000, 2000, 3000].forEach((watts, i) => {
      expect(state.instant.activeW[i]! / watts).toBeCloseTo(1, 2);
    });
  });
});

describe('islandFrequencyHz', () => {
  test('stays within 0.1 Hz up to the rating and leaves 49 Hz beyond 111 %', () => {
    expect(islandFrequencyHz(0)).toBe(50);
    expect(islandFrequencyHz(1)).toBeCloseTo(49.9, 9);
    expect(islandFrequencyHz(1.12)).toBeLessThan(49);
  });
});
