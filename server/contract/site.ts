/** The page of one site: the record, then / now / limit, findings, events, settings, sources. */
import { z } from 'zod';
import { coverSchema } from './cover.ts';
import { eventSchema } from './event.ts';
import { provenFigureSchema } from './figure.ts';
import { cannotTellSchema, findingSchema } from './finding.ts';
import { figureSchema, sourceKindSchema, timeSchema, versionSchema } from './scalars.ts';
import { siteRecordSchema } from './site-record.ts';

export const settingValueSchema = z.union([z.string(), z.number(), z.boolean()]).nullable();

/** A setting in force. value null: lines contradict each other about it. */
export const settingSchema = z.object({
  unit: z.string(),
  key: z.string(),
  value: settingValueSchema,
  since: timeSchema.describe('First line of this value since another one held'),
  heardAt: timeSchema.describe('Newest line that carries it'),
});
export type ApiSetting = z.infer<typeof settingSchema>;

export const settingChangeSchema = z.object({
  unit: z.string(),
  key: z.string(),
  t: timeSchema,
  from: settingValueSchema,
  to: settingValueSchema,
});
export type ApiSettingChange = z.infer<typeof settingChangeSchema>;

export const sourceSchema = z.object({
  kind: sourceKindSchema,
  id: z.string(),
  isRecorded: z.boolean().describe('false: no record names it; stored, not judged'),
  newestAt: timeSchema.nullable(),
  quantities: z.array(z.string()).readonly().describe('What it sent on its newest day: for the readings explorer'),
});
export type ApiSource = z.infer<typeof sourceSchema>;

/** Newest figure of a pack. */
export const packNowSchema = z.object({
  pack: z.string(),
  socPct: figureSchema,
  at: timeSchema.nullable(),
});

export const siteAnswerSchema = versionSchema.extend({
  now: timeSchema,
  record: siteRecordSchema.describe('The document that holds now'),
  recordsFrom: z.array(timeSchema.nullable()).readonly().describe('validFrom of each document, oldest first'),
  firstAt: timeSchema.nullable().describe('First stored reading'),
  newestAt: timeSchema.nullable().describe('Newest stored reading'),
  figures: z.array(provenFigureSchema).readonly(),
  cannotTell: z.array(cannotTellSchema).readonly(),
  findings: z.array(findingSchema).readonly().describe('Open first by severity, then ended, newest first'),
  events: z.array(eventSchema).readonly().describe('Oldest first'),
  settings: z.array(settingSchema).readonly(),
  settingChanges: z.array(settingChangeSchema).readonly().describe('Oldest first'),
  sources: z.array(sourceSchema).readonly(),
  packs: z.array(packNowSchema).readonly(),
  cover: coverSchema.describe('How long it carries itself; grid and output over the last year'),
});
export type SiteAnswer = z.infer<typeof siteAnswerSchema>;

/** One finding with what its page needs. Share charts come from the share route. */
export const findingAnswerSchema = versionSchema.extend({
  now: timeSchema,
  record: siteRecordSchema.describe('As it stood when the finding was first raised'),
  finding: findingSchema,
  figures: z.array(provenFigureSchema).readonly().describe('Of the subject'),
  events: z.array(eventSchema).readonly().describe('That touch the finding'),
  settingChanges: z.array(settingChangeSchema).readonly().describe('Within a week of its start'),
  window: z.object({ from: timeSchema, to: timeSchema }).describe('For the chart: a while before the start to its end'),
});
export type FindingAnswer = z.infer<typeof findingAnswerSchema>;
