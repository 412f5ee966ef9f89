/** Lines that meet each other: what is stored of them must not depend on their way. */
import fc from 'fast-check';
import type { Db } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';

export const T0 = Date.UTC(2026, 2, 2, 23, 59, 0);

/** Few keys and few values, so that lines meet, repeat, fill and contradict each other all the time. */
export const line = fc
  .record({
    step: fc.nat(11),
    source: fc.constantFrom({ unit: 'u1' }, { unit: 'u2' }, { pack: 'p1' }),
    power: fc.option(fc.constantFrom(100, 200.4, 200.3, 300), { nil: null }),
    volts: fc.option(fc.constantFrom(229.84, 229.8, 231), { nil: undefined }),
    mode: fc.option(fc.constantFrom('grid', 'backup'), { nil: undefined }),
    extra: fc.option(fc.constantFrom(1, 'text', { b: 1, a: [2] }, { a: [2], b: 1 }), { nil: undefined }),
    replaces: fc.option(fc.nat(2), { nil: undefined, freq: 4 }),
  })
  .map(({ step, source, power, volts, mode, extra, replaces }) =>
    JSON.stringify({
      t: T0 + step * 10_000,
      site: 'millpond',
      ...source,
      output_power_w: power,
      output_voltage_v: volts,
      mode: 'unit' in source ? mode : undefined,
      'door open': extra,
      ...(replaces === undefined ? {} : { replaces: true, revision: replaces }),
    }),
  );
export const settingsLine = fc
  .record({ step: fc.nat(3), value: fc.constantFrom('a', 'b'), replaces: fc.boolean() })
  .map(({ step, value, replaces }) =>
    JSON.stringify({
      t: T0 + step * 10_000,
      site: 'millpond',
      unit: 'u1',
      settings: { battery_type: value },
      replaces,
    }),
  );

/** Everything the ground tables hold, as text; ids of sources are resolved, because they follow the order of arrival. */
export function groundOf(db: Db, site: string): string {
  const store = createReadingStore(db);
  const sources = store.sources(site).map(({ source, kind, id }) => ({
    kind,
    id,
    days: store.siteDays(site).map((day) => {
      const block = store.readBlock(source, day);
      return (
        block && {
          t: [...block.tMs],
          columns: block.columns.map((c) => c && [...c].map((v) => (Number.isNaN(v) ? null : v))),
          extras: [...block.extras],
        }
      );
    }),
    claims: store.claims(source, 0, 2 ** 43),
    settings: store.settings(source, 0, 2 ** 43).map(({ source: _, ...rest }) => rest),
  }));
  return JSON.stringify(sources);
}
