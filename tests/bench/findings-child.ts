/** Analyses all sites of a data folder as `kilter findings` does, in a process of its own. */
import { analyseEach, openAnalysed } from '../../ingest/commands/analysed-store.ts';
import type { Io } from '../../ingest/commands/command.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';

const { data, lateDayMs } = JSON.parse(process.argv[2]!) as { data: string; lateDayMs: number | null };
const analysed = openAnalysed(data, null);
const { store } = analysed;
const derived = createDerivedStore(store.db);
const sites = store.recordSites();
const changeOf = (site: string): number | null => derived.analysed(site)?.change ?? null;
const before = new Map(sites.map((site) => [site, changeOf(site)]));
const from =
  lateDayMs === null ? null : new Map(sites.map((site) => [site, derived.stateBefore(site, lateDayMs)?.day]));
const started = performance.now();
let findings = 0;
const io = { out: () => undefined, err: () => undefined, drained: async () => undefined } as unknown as Io;
await analyseEach(analysed, sites, io, ({ answer }) => {
  findings += answer.findings.length;
});
const seconds = (performance.now() - started) / 1000;
const folded = sites.filter((site) => changeOf(site) !== before.get(site));
const days = folded.map((site) =>
  store.siteDays(site).filter((day) => day > (from?.get(site) ?? Number.NEGATIVE_INFINITY)),
);
analysed.close();
const { maxRSS } = process.resourceUsage();
const daysFolded = days.reduce((sum, one) => sum + one.length, 0);
process.stdout.write(`${JSON.stringify({ seconds, findings, folded, daysFolded, maxRssMb: maxRSS / 1024 })}\n`);
