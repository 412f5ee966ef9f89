/**
 * Records of a queue on disk. A record is a few log lines that became durable together:
 *
 *     length of the text, uint32 little endian · CRC-32 of the text, uint32 little endian · the text, lines in UTF-8
 *
 * A growing segment is such records one after the other. A packed one is a head of 16 bytes and the same records,
 * deflated: `KQ1\n` · count of records · length of the deflated bytes · their CRC-32.
 */
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import { crc32 } from './crc-32.ts';

const RECORD_HEAD = 8;
export const PACKED_HEAD = 16;
const MAGIC = 'KQ1\n';
/** A length beyond it is no length: the longest line that is taken is 4 MB. */
const RECORD_MAX_BYTES = 16 * 1024 * 1024;

/** The lines of one record. */
export type QueueRecord = readonly string[];

export interface DecodedRecords {
  /** In the order in which they were written; null where the check fails: it keeps its place. */
  readonly records: readonly (QueueRecord | null)[];
  /** Up to where they reach: what lies beyond was being written when the process ended. */
  readonly bytes: number;
}

export function encodeRecords(records: readonly QueueRecord[]): Buffer {
  return Buffer.concat(
    records.flatMap((lines) => {
      const text = Buffer.from(lines.join('\n'));
      const head = Buffer.alloc(RECORD_HEAD);
      head.writeUInt32LE(text.length, 0);
      head.writeUInt32LE(crc32(text), 4);
      return [head, text];
    }),
  );
}

export function decodeRecords(bytes: Buffer): DecodedRecords {
  const records: (QueueRecord | null)[] = [];
  let at = 0;
  while (at + RECORD_HEAD <= bytes.length) {
    const length = bytes.readUInt32LE(at);
    const end = at + RECORD_HEAD + length;
    if (length === 0 || length > RECORD_MAX_BYTES || end > bytes.length) break;
    const text = bytes.subarray(at + RECORD_HEAD, end);
    records.push(crc32(text) === bytes.readUInt32LE(at + 4) ? text.toString('utf8').split('\n') : null);
    at = end;
  }
  // The last record may have been cut where the disk had room for its length, and not for its text.
  while (records.at(-1) === null) records.pop();
  return { records, bytes: at };
}

export function packRecords(records: readonly QueueRecord[]): Buffer {
  const packed = deflateRawSync(encodeRecords(records), { level: 6 });
  const head = Buffer.alloc(PACKED_HEAD);
  head.write(MAGIC, 0, 'latin1');
  head.writeUInt32LE(records.length, 4);
  head.writeUInt32LE(packed.length, 8);
  head.writeUInt32LE(crc32(packed), 12);
  return Buffer.concat([head, packed]);
}

/** How many records a packed segment holds, by its head; null where it is none. */
export function packedCount(head: Buffer): number | null {
  if (head.length < PACKED_HEAD || head.toString('latin1', 0, 4) !== MAGIC) return null;
  return head.readUInt32LE(4);
}

/** @returns null where the segment is damaged */
export function unpackRecords(bytes: Buffer): readonly (QueueRecord | null)[] | null {
  if (packedCount(bytes) === null) return null;
  const packed = bytes.subarray(PACKED_HEAD, PACKED_HEAD + bytes.readUInt32LE(8));
  if (packed.length !== bytes.readUInt32LE(8) || crc32(packed) !== bytes.readUInt32LE(12)) return null;
  return decodeRecords(inflateRawSync(packed)).records;
}
