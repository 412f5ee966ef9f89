import type { SettingValue } from '../../vocabulary/reading.ts';
import { type DeviceConfig, sourcesOf } from '../modbus/device-config.ts';
import type { DeviceReader, OpenResult } from '../modbus/device-talk.ts';
import type { Dialogue } from '../modbus/dialogue.ts';
import { FaultMemory } from '../modbus/fault-memory.ts';
import type { PollResult } from '../modbus/poll-result.ts';
import { ReadingDraft } from '../modbus/reading-draft.ts';
import { type ReadRound, RegisterReader } from '../modbus/register-reader.ts';
import { SettingsMemory } from '../modbus/settings-memory.ts';
import { Discovery } from './discover.ts';
import { PointOverrides } from './mapping.ts';
import { ModelView } from './model-view.ts';
import { type Drafts, PollValues } from './poll-values.ts';
import { COMMON_SETTINGS, planReads, type ReadModel, type ReadPlan } from './read-plan.ts';

/** Everything between the points of one model may be read along: the model has it. */
const WHOLE_MODEL = 125;

interface Opened {
  readonly plan: ReadPlan;
  readonly values: RegisterReader;
  readonly common: RegisterReader;
}

/** Reads a device by the SunSpec models that it says it has. */
export class SunspecReader implements DeviceReader {
  readonly #config: DeviceConfig;
  readonly #overrides: PointOverrides;
  readonly #discovery: Discovery;
  readonly #memory = new SettingsMemory();
  readonly #faults = new FaultMemory();
  readonly #values: PollValues;
  #opened: Opened | null = null;

  constructor(config: DeviceConfig) {
    const { base = [] } = config;
    this.#config = config;
    this.#overrides = new PointOverrides(config);
    this.#discovery = new Discovery(typeof base === 'number' ? [base] : base);
    this.#values = new PollValues(config, this.#overrides, this.#faults);
  }

  *open(): Dialogue<OpenResult> {
    this.#opened = null;
    const chain = yield* this.#discovery.find();
    if (chain.state === 'silent') return { state: 'silent' };
    if (chain.state === 'none') {
      const what = `the device answers, but has no SunSpec mark at ${chain.bases.join(', ')}`;
      const remedy = 'give where its chain begins as base, or read it with a register profile';
      return { state: 'refused', fault: { what, remedy } };
    }
    const plan = planReads(chain, this.#config, this.#overrides);
    const isRead = new Set(plan.models.map(({ placed }) => placed.address));
    if (plan.models.length === 0) {
      const found = chain.models.map(({ model }) => model).join(', ');
      const what = `the device has nothing for ${sourcesOf(this.#config)
        .map(({ id }) => id)
        .join(', ')}: its models are ${found === '' ? 'none' : found}`;
      return { state: 'refused', fault: { what, remedy: 'check the address, or read it with a register profile' } };
    }
    this.#opened = {
      plan,
      values: new RegisterReader(
        plan.models.flatMap(({ spans }) => spans),
        WHOLE_MODEL,
      ),
      common: new RegisterReader(plan.commonSpans, WHOLE_MODEL),
    };
    const models = chain.models.map((found) => ({
      ...found,
      isRead: isRead.has(found.address) || found.address === plan.common?.address,
    }));
    return { state: 'open', models, notes: plan.notes };
  }

  *poll(tMs: number): Dialogue<PollResult> {
    const opened = this.#opened;
    if (opened === null) throw new RangeError('Cannot poll a device that is not open: open it first');
    const isDue = opened.plan.common !== null && this.#memory.isDue(tMs);
    const round = yield* opened.values.read();
    this.#faults.begin(round.notes);
    const all = sourcesOf(this.#config).map((source) => new ReadingDraft(source));
    const mustOpen = this.#putModels(opened.plan, round, draftsOf(all));
    let { isWhole, isAnswering } = round;
    if (isDue && isWhole && !mustOpen) {
      opened.values.retry();
      const settings = yield* opened.common.read();
      this.#faults.note(settings.notes);
      this.#putSettings(opened.plan, settings, draftsOf(all), tMs);
      isWhole &&= settings.isWhole;
      isAnswering ||= settings.isAnswering;
    }
    const readings = all.map((draft) => draft.finish()).filter((reading) => reading !== null);
    return { readings, isAnswering, isWhole, mustOpen, ...this.#faults.finish() };
  }

  /** @returns whether a model is no longer what it was */
  #putModels({ models }: ReadPlan, { image, brokenGroups }: ReadRound, drafts: Drafts): boolean {
    let hasChanged = false;
    for (const [rank, read] of models.entries()) {
      const { placed } = read;
      if (brokenGroups.has(placed.group)) continue;
      const refuse = (point: string, why: string): void =>
        this.#faults.add(
          `${placed.model} ${point}`,
          why,
          'the device says so itself: ask its maker; it is read as absent',
        );
      const view = new ModelView(placed, image, refuse);
      // A device that was replaced or updated may hold other values in the same registers.
      if (view.raw('ID') !== placed.model || view.raw('L') !== placed.length) {
        this.#faults.add(
          `model ${placed.model} at ${placed.address}`,
          `it reads as model ${String(view.raw('ID'))} of length ${String(view.raw('L'))} now`,
          'nothing: the device is looked through again',
        );
        hasChanged = true;
        continue;
      }
      hear(read, drafts);
      this.#values.putModel(read, view, drafts, rank);
      this.#putStrings(read, { image, view, refuse }, drafts);
    }
    return hasChanged;
  }

  #putStrings(
    { placed, strings }: ReadModel,
    {
      image,
      view,
      refuse,
    }: { image: ReadRound['image']; view: ModelView; refuse: (point: string, why: string) => void },
    drafts: Drafts,
  ): void {
    const count = view.raw('NStr');
    for (const { pack, number } of strings) {
      const draft = drafts.packs[pack]!;
      if (typeof count !== 'number' || number > count) {
        const what = `string ${number} of ${draft.source.id} is not there: model 803 has ${String(count ?? 'no number of')} strings`;
        this.#faults.note([{ what, remedy: 'correct strings: they are counted from 1' }]);
        continue;
      }
      draft.hear();
      this.#values.putString(new ModelView(placed, image, refuse, number), draft, drafts);
    }
  }

  #putSettings({ common }: ReadPlan, { image, isWhole }: ReadRound, { unit }: Drafts, tMs: number): void {
    if (common === null || unit === null) return;
    const view = new ModelView(common, image, () => {});
    const read = new Map<string, SettingValue>();
    for (const [point, key] of COMMON_SETTINGS) {
      const text = view.raw(point);
      if (typeof text === 'string') read.set(key, text);
    }
    unit.putSettings(this.#memory.take(read, tMs, isWhole));
  }
}

function draftsOf(all: readonly ReadingDraft[]): Drafts {
  const one = (kind: string): ReadingDraft | null => all.find(({ source }) => source.kind === kind) ?? null;
  return {
    unit: one('unit'),
    bank: one('bank'),
    meter: one('meter'),
    packs: all.filter(({ source }) => source.kind === 'pack'),
  };
}

/** The sources whose values this model tells are heard, whatever it says of them. */
function hear({ role, packs, isShared }: ReadModel, { unit, bank, meter, packs: drafts }: Drafts): void {
  if (role === 'battery') {
    bank?.hear();
    // A pack that is a string is heard in model 803, where the string is.
    if (!isShared) for (const k of packs) drafts[k]?.hear();
  } else {
    unit?.hear();
    meter?.hear();
  }
}
