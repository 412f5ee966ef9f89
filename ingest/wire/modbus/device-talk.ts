/** What a reader of a device is to whoever has the wire. */
import type { Fault } from '../line-meaning.ts';
import type { Dialogue } from './dialogue.ts';
import type { PollResult } from './poll-result.ts';

/** A SunSpec model that a device was found to have. */
export interface FoundModel {
  readonly model: number;
  /** Of its id register, 0-based. */
  readonly address: number;
  /** Registers after id and length, as the device says. */
  readonly length: number;
  /** Whether anything of it is read. */
  readonly isRead: boolean;
}

export type OpenResult =
  /** It can be polled. `models` of a profile is empty. `notes` is what people should know, said at each opening. */
  | { readonly state: 'open'; readonly models: readonly FoundModel[]; readonly notes: readonly Fault[] }
  /** No answer that can be trusted: open it again later. */
  | { readonly state: 'silent' }
  /** It answers, and is not what the configuration says. Trying again is of use only once that has changed. */
  | { readonly state: 'refused'; readonly fault: Fault };

export interface DeviceReader {
  /** Finds out what the device has. Of a profile nothing is asked. */
  open(): Dialogue<OpenResult>;
  /**
   * Reads everything once; it asks for at least one thing, unless the device refused all of it before.
   *
   * One silence ends the poll: what was read until then is kept, but values of one `poll_group` (of SunSpec, one model)
   * come together or not at all.
   *
   * @param tMs  epoch ms now: it only says whether settings are due. The time of the readings is when the first
   *             request was sent, and is given to `addPoll`.
   * @throws RangeError  before `open` has said 'open'
   */
  poll(tMs: number): Dialogue<PollResult>;
}
