import { describe, expect, test } from 'vitest';
import {
  acceptableA,
  bankCharge,
  bankGaugePct,
  CHARGE_LIMIT_V,
  createBank,
  onlineAh,
  resyncGauges,
  splitCurrent,
  stepBank,
} from '../../../ingest/demo/battery.ts';

const THREE = [
  { capacityAh: 200, resistanceOhm: 0.008 },
  { capacityAh: 200, resistanceOhm: 0.008 },
  { capacityAh: 100, resistanceOhm: 0.016 },
];
const sum = (values: Float64Array) => values.reduce((total, v) => total + v, 0);

describe('splitCurrent', () => {
  test('currents sum to what is drawn and every pack has the bus voltage', () => {
    const bank = createBank(THREE, 0.6);
    splitCurrent(bank, 120, 0);
    expect(sum(bank.currentA)).toBeCloseTo(120, 9);
    bank.currentA.forEach((a, k) => {
      expect(bank.openCircuitV[k]! - a * bank.resistanceOhm[k]!).toBeCloseTo(bank.busV, 9);
    });
  });

  test('an open pack carries nothing', () => {
    const bank = createBank(THREE, 0.6);
    bank.isOpen[1] = 1;
    splitCurrent(bank, 90, 0);
    expect(bank.currentA[1]).toBe(0);
    expect(sum(bank.currentA)).toBeCloseTo(90, 9);
    expect(onlineAh(bank)).toBe(300);
  });
});

describe('stepBank', () => {
  test('the charge that leaves is the ampere-hours that were drawn', () => {
    const bank = createBank(THREE, 0.9);
    const before = bankCharge(bank) * 500;
    for (let i = 0; i < 120; i++) stepBank(bank, 100, 60);
    expect(before - bankCharge(bank) * 500).toBeCloseTo(200, 6);
  });

  test('charging at what the bank accepts holds the charge limit and dies away', () => {
    const bank = createBank(THREE, 0.9);
    let acceptedA = 0;
    for (let i = 0; i < 600; i++) {
      acceptedA = Math.min(80, acceptableA(bank, 60));
      stepBank(bank, -acceptedA, 60);
      expect(bank.busV).toBeLessThan(CHARGE_LIMIT_V + 0.05);
    }
    expect(acceptedA).toBeLessThan(2);
    expect(bankCharge(bank)).toBeCloseTo(0.9935, 3);
  });

  test('an offset of the current sensor runs a gauge off and a full charge brings it back, unless it ignores one', () => {
    const bank = createBank(THREE, 0.9);
    bank.offsetA[0] = 0.125;
    bank.offsetA[1] = 0.125;
    bank.ignoresFull[1] = 1;
    const before = bankGaugePct(bank);
    for (let i = 0; i < 24 * 60; i++) stepBank(bank, 0, 60);
    // 0.125 A on 200 Ah is 1.5 % a day of capacity, and the gauge's 100 % lies at 99.35 % of it.
    expect(before - bank.gaugePct[0]!).toBeCloseTo(1.5 / 0.9935, 3);
    resyncGauges(bank);
    expect(bank.gaugePct[0]).toBe(100);
    expect(bank.gaugePct[1]).toBeLessThan(90);
  });
});
