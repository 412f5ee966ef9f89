/** Which requests read a set of registers: few, within the limits of the protocol, nothing torn in two. */
import type { RegisterRead, RegisterTable } from './dialogue.ts';

/** Modbus application protocol V1.1b3, 6.1 to 6.4: so much one request may ask for. */
export const MOST_REGISTERS = 125;
export const MOST_BITS = 2000;

/**
 * Gaps up to this many registers are read along. On a serial line at 9,600 baud a request and the head of its answer
 * take about as long as 16 registers do.
 */
export const REGISTER_GAP = 16;
const BITS_OF_A_REGISTER = 16;

/** Registers of one value: they come with one answer, or not at all. */
export interface Span extends RegisterRead {
  /** Values of one group are planned by themselves, so that no other value tears them apart; empty: no group. */
  readonly group: string;
}

/** One request, and what it is made for. */
export interface Block extends RegisterRead {
  readonly group: string;
  /** In the order of addresses, each once. */
  readonly spans: readonly Span[];
}

const isBits = (table: RegisterTable): boolean => table === 'coil' || table === 'discrete';
const endOf = ({ address, count }: RegisterRead): number => address + count;

function bySeries(a: Span, b: Span): number {
  if (a.group !== b.group) return a.group < b.group ? -1 : 1;
  if (a.table !== b.table) return a.table < b.table ? -1 : 1;
  return a.address - b.address || a.count - b.count;
}

function isSame(a: Span, b: Span | undefined): boolean {
  return b !== undefined && bySeries(a, b) === 0;
}

function blockOf(spans: readonly Span[]): Block {
  const { table, address, group } = spans[0]!;
  return { table, address, count: Math.max(...spans.map(endOf)) - address, group, spans };
}

/**
 * Plans the requests for `spans`, in the order of groups, tables and addresses.
 *
 * @param gap  so many registers that nobody asked for may be read along between two spans; of bits 16 times as many
 * @throws RangeError  where one span alone is longer than a request may be
 */
export function planBlocks(spans: readonly Span[], gap: number = REGISTER_GAP): readonly Block[] {
  const sorted = [...spans].sort(bySeries).filter((span, i, all) => !isSame(span, all[i - 1]));
  const blocks: Block[] = [];
  let open: Span[] = [];
  let end = 0;
  for (const span of sorted) {
    const { table, address, count, group } = span;
    const most = isBits(table) ? MOST_BITS : MOST_REGISTERS;
    if (count < 1 || count > most)
      throw new RangeError(`Cannot ask for ${count} registers at once: 1 to ${most} can be`);
    const first = open[0];
    const reach = isBits(table) ? gap * BITS_OF_A_REGISTER : gap;
    const joins =
      first !== undefined &&
      first.group === group &&
      first.table === table &&
      address - end <= reach &&
      Math.max(end, endOf(span)) - first.address <= most;
    if (joins) open.push(span);
    else {
      if (first !== undefined) blocks.push(blockOf(open));
      open = [span];
      end = 0;
    }
    end = Math.max(end, endOf(span));
  }
  if (open.length > 0) blocks.push(blockOf(open));
  return blocks;
}

/**
 * A refused request in parts. Empty where it is one span, which then is what the device does not have.
 *
 * @param keepsGaps  whether it was too long rather than at a wrong address: then it is halved, else it is split at its
 *                   gaps, and halved where it has none
 */
export function splitBlock({ spans }: Block, keepsGaps = false): readonly Block[] {
  const runs: Span[][] = [];
  let end = -1;
  for (const span of spans) {
    if (span.address > end) runs.push([span]);
    else runs.at(-1)?.push(span);
    end = Math.max(end, endOf(span));
  }
  if (runs.length > 1 && !keepsGaps) return runs.map(blockOf);
  if (spans.length < 2) return [];
  const middle = spans.length >> 1;
  return [blockOf(spans.slice(0, middle)), blockOf(spans.slice(middle))];
}
