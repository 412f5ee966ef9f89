/** One document of a site record as it leaves the server: the keys of formats.md, section 2. */
import { z } from 'zod';
import { siteIdSchema, timeSchema } from './scalars.ts';

const phaseSchema = z.enum(['L1', 'L2', 'L3', 'split', 'three']);
const lawSchema = z.enum(['wired', 'droop', 'link']);
const cableSchema = z.object({
  length_m: z.number(),
  area_mm2: z.number(),
  material: z.enum(['copper', 'aluminium']),
});
const band = z.tuple([z.number(), z.number()]).readonly();

const unitRecordSchema = z.object({
  id: z.string(),
  role: z.enum(['lead', 'follower']),
  rated_power_w: z.number(),
  phase: phaseSchema,
  serial: z.string().nullable(),
  chain_position: z.number().nullable(),
  terminated: z.boolean().nullable(),
  output_cable: cableSchema.nullable(),
  input_cable: cableSchema.nullable(),
});

const packRecordSchema = z.object({
  id: z.string(),
  capacity_ah: z.number(),
  nominal_voltage_v: z.number(),
  cells_in_series: z.number(),
  chemistry: z.string(),
  serial: z.string().nullable(),
});

/** Structurally a `SiteRecord` of ingest/site; the server sends the parsed record, defaults filled in. */
export const siteRecordSchema = z.object({
  site: siteIdSchema,
  validFrom: timeSchema.nullable(),
  name: z.string(),
  timezone: z.string(),
  supply: z.object({
    nominal_voltage_v: z.number(),
    nominal_frequency_hz: z.number(),
    phases: z.union([z.literal(1), z.literal(2), z.literal(3)]),
  }),
  sample_interval_s: z.number(),
  units: z.array(unitRecordSchema).readonly(),
  packs: z.array(packRecordSchema).readonly(),
  battery_link: z.object({ pack: z.string(), unit: z.string() }).nullable(),
  ct: z.array(z.object({ unit: z.string(), phase: phaseSchema.nullable() })).readonly(),
  meters: z.array(z.object({ id: z.string(), role: z.enum(['supply', 'generator', 'ac_pv', 'load']) })).readonly(),
  neutral_earth_bond: z.string().nullable(),
  sharing: z.object({ grid: lawSchema.nullable(), backup: lawSchema.nullable() }),
  reserve_soc_pct: z.number().nullable(),
  ac_coupled_pv: z.boolean(),
  island_frequency_band_hz: band,
  island_voltage_band_pct: band,
  commissioned: timeSchema.nullable(),
  group: z.string().nullable(),
  limits: z.object({ share_points: z.number(), heat_w: z.number(), changeover_ms: z.number() }),
  expected_settings: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])).readonly(),
});
export type ApiSiteRecord = z.infer<typeof siteRecordSchema>;
