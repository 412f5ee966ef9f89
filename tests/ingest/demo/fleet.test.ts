import { describe, expect, test } from 'vitest';
import { planFleet } from '../../../ingest/demo/fleet.ts';
import { siteDocuments } from '../../../ingest/demo/site-documents.ts';
import { parseSites } from '../../../ingest/site/parse-sites.ts';
import { DAY_MS } from '../../../ingest/vocabulary/time.ts';
import { periodOf } from './_sample-site.ts';

const fleet = (sites: number, days = 28) => planFleet({ seed: 7, period: periodOf(days), sites });

describe('planFleet', () => {
  test.each([12, 24, 60])('of %i sites half are healthy and no id comes twice', (sites) => {
    const plans = fleet(sites);
    expect(plans.filter((plan) => plan.faults.length === 0)).toHaveLength(sites / 2);
    expect(new Set(plans.map((plan) => plan.id)).size).toBe(sites);
  });

  test('24 sites hold every fault that the simulator knows', () => {
    const kinds = new Set(fleet(24).flatMap((plan) => plan.faults.map((fault) => fault.what)));
    expect([...kinds].sort()).toEqual(
      [
        'data_cable_broken',
        'dead_fan',
        'gauge_drift',
        'link_broken',
        'loose_terminal',
        'output_open',
        'overload',
        'pack_capacity',
        'pack_line_dead',
        'pack_open',
        'pack_resistance',
        'router_down',
        'unit_gateway_dead',
        'weak_voltage',
        'wrong_setting',
      ].sort(),
    );
  });

  test('every fault leaves eleven days for a baseline and twelve after it in four weeks', () => {
    const { from, to } = periodOf(28);
    for (const fault of fleet(24).flatMap((plan) => plan.faults)) {
      expect(fault.start - from).toBeGreaterThan(11 * DAY_MS);
      expect(to - fault.start).toBeGreaterThan(11.9 * DAY_MS);
    }
  });

  test('the records are taken by the site reader without a mistake, two documents where a unit was replaced', () => {
    const plans = fleet(24);
    const text = plans.flatMap((plan) => siteDocuments(plan, periodOf(28))).join('---\n');
    const { documents, refusals } = parseSites(text, 'sites.yaml');
    expect(refusals).toEqual([]);
    expect(documents).toHaveLength(24 + plans.filter((plan) => plan.replacement !== null).length);
    const library = documents.filter((document) => document.site === 'weir-house-library');
    expect(library.map((d) => d.units[1]!.serial)).toEqual(['T-1817', 'T-2291']);
    expect(documents.find((d) => d.site === 'linnet-ford-farm')!.island_frequency_band_hz).toEqual([49, 52]);
    expect(documents.find((d) => d.site === 'hazelrow-school')!.supply.phases).toBe(3);
  });
});
