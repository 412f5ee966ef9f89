import { columnOf } from '../../vocabulary/quantities.ts';
import type { SettingValue } from '../../vocabulary/reading.ts';
import type { Fault } from '../line-meaning.ts';
import { type CurrentSign, type DeviceConfig, packsOf, sourcesOf } from './device-config.ts';
import type { DeviceReader, OpenResult } from './device-talk.ts';
import type { Dialogue } from './dialogue.ts';
import { FaultMemory } from './fault-memory.ts';
import type { PollResult } from './poll-result.ts';
import type { Profile, ProfileRegister } from './profile.ts';
import { type EntryPlan, planRegister, planSetting } from './profile-values.ts';
import { ReadingDraft } from './reading-draft.ts';
import { type ReadRound, RegisterReader } from './register-reader.ts';
import { SettingsMemory } from './settings-memory.ts';

interface Planned {
  readonly name: string;
  /** Empty: none. */
  readonly group: string;
  readonly plan: EntryPlan;
}

/** Battery currents whose sign `current_sign` tells. */
const BATTERY_CURRENTS: ReadonlySet<string> = new Set(['pack_current_a', 'bank_current_a']);

function flippedCurrents(config: DeviceConfig): (quantity: string) => boolean {
  const sign: CurrentSign | undefined = config.current_sign;
  // At a unit that carries no pack the sign can only be that of its own battery current.
  const hasPack = packsOf(config).length > 0 || config.bank !== undefined;
  return (quantity) =>
    sign === 'charge_positive' && (BATTERY_CURRENTS.has(quantity) || (quantity === 'dc_current_a' && !hasPack));
}

/** Reads a device by a register profile. */
export class ProfileReader implements DeviceReader {
  readonly #drafts: () => ReadingDraft[];
  readonly #registers: readonly Planned[];
  readonly #settings: readonly Planned[];
  readonly #values: RegisterReader;
  readonly #settingValues: RegisterReader;
  readonly #memory = new SettingsMemory();
  readonly #faults = new FaultMemory();
  readonly #isFlipped: (quantity: string) => boolean;
  readonly #unread: readonly ProfileRegister[];
  readonly #hasUnit: boolean;

  constructor(config: DeviceConfig, profile: Profile) {
    const sources = sourcesOf(config);
    const isCarried = ({ quantity }: ProfileRegister): boolean =>
      sources.some(({ kind }) => columnOf(kind, quantity) !== undefined);
    this.#drafts = () => sources.map((source) => new ReadingDraft(source));
    this.#registers = profile.registers.filter(isCarried).map((register) => ({
      name: register.quantity,
      group: register.poll_group ?? '',
      plan: planRegister(register, profile),
    }));
    this.#unread = profile.registers.filter((register) => !isCarried(register));
    this.#hasUnit = config.unit !== undefined;
    this.#settings = this.#hasUnit
      ? profile.settings.map((setting) => ({ name: setting.key, group: '', plan: planSetting(setting, profile) }))
      : [];
    this.#values = new RegisterReader(this.#registers.flatMap(({ plan }) => plan.spans));
    this.#settingValues = new RegisterReader(this.#settings.flatMap(({ plan }) => plan.spans));
    this.#isFlipped = flippedCurrents(config);
  }

  *open(): Dialogue<OpenResult> {
    // Which registers are there shows when they are read: nothing needs to be asked before.
    yield* [];
    this.#values.reset();
    this.#settingValues.reset();
    const names = this.#unread.map(({ quantity }) => quantity);
    const notes: Fault[] =
      names.length === 0
        ? []
        : [
            {
              what: `${names.join(', ')} of the profile ${names.length === 1 ? 'is' : 'are'} not read: the device carries no source of that kind`,
              remedy: 'add the unit, pack, bank or meter to the device if it should be read',
            },
          ];
    return { state: 'open', models: [], notes };
  }

  *poll(tMs: number): Dialogue<PollResult> {
    const isDue = this.#settings.length > 0 && this.#memory.isDue(tMs);
    const round = yield* this.#values.read();
    const drafts = this.#drafts();
    this.#faults.begin(round.notes);
    this.#putValues(round, drafts);
    let { isWhole, isAnswering } = round;
    // A silence in the values is one time-out already; settings can wait for the next poll.
    if (isDue && isWhole) {
      this.#values.retry();
      this.#settingValues.retry();
      const settings = yield* this.#settingValues.read();
      this.#faults.note(settings.notes);
      this.#putSettings(settings, drafts, tMs);
      isWhole &&= settings.isWhole;
      isAnswering ||= settings.isAnswering;
    }
    const readings = drafts.map((draft) => draft.finish()).filter((reading) => reading !== null);
    return { readings, isAnswering, isWhole, mustOpen: false, ...this.#faults.finish() };
  }

  #putValues({ image, brokenGroups }: ReadRound, drafts: readonly ReadingDraft[]): void {
    for (const { name, group, plan } of this.#registers) {
      if (group !== '' && brokenGroups.has(group)) continue;
      const draft = drafts.find((each) => each.column(name) !== undefined);
      const { raw, value, fault } = plan.decode(image);
      if (raw !== null) draft?.hear();
      if (fault !== null) this.#faults.add(name, fault);
      if (value === null || typeof value === 'boolean' || draft === undefined) continue;
      const refused = draft.put(name, typeof value === 'number' && this.#isFlipped(name) ? -value : value);
      if (refused !== null) this.#faults.add(name, refused);
    }
  }

  #putSettings({ image, isWhole }: ReadRound, drafts: readonly ReadingDraft[], tMs: number): void {
    const read = new Map<string, SettingValue>();
    for (const { name, plan } of this.#settings) {
      const { value, fault } = plan.decode(image);
      if (fault !== null) this.#faults.add(name, fault);
      if (value !== null) read.set(name, value);
    }
    const news = this.#memory.take(read, tMs, isWhole);
    drafts.find(({ source }) => source.kind === 'unit')?.putSettings(news);
  }
}
