/**
 * A talk with a Modbus device as pure code: it yields what it wants to read and is given the answer. Whoever has the
 * wire runs it, a recorded session can answer in its place, and no decoder ever holds a socket.
 */

export type RegisterTable = 'holding' | 'input' | 'coil' | 'discrete';

/** What one request asks: at most 125 registers, or 2,000 bits. */
export interface RegisterRead {
  readonly table: RegisterTable;
  /** 0-based protocol address. */
  readonly address: number;
  readonly count: number;
}

export type ReadAnswer =
  /** As many words as were asked, each 0 to 65,535; of coils and discrete inputs 0 or 1. */
  | { readonly ok: true; readonly words: Uint16Array }
  /** An exception of the device (2: it has no such address); null: it gave no answer that can be trusted in time. */
  | { readonly ok: false; readonly exception: number | null };

export type Dialogue<Result> = Generator<RegisterRead, Result, ReadAnswer>;
