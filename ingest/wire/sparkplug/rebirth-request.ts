/**
 * The one thing that Kilter ever publishes to a node: the request to be born again, and no other command.
 *
 * @see Sparkplug 3.0, 6.4.23 (NCMD, "Node Control/Rebirth") and 5.9: QoS 0, not retained
 */
import protobuf from 'protobufjs/minimal.js';
import type { SparkplugNodeName } from '../mqtt/message.ts';
import { DATATYPE } from './metric-value.ts';

const VARINT = 0;
const BYTES = 2;
const tag = (field: number, wireType: number): number => field * 8 + wireType;

export function rebirthRequest(
  { group, node }: SparkplugNodeName,
  nowMs: number,
): { topic: string; payload: Uint8Array } {
  const writer = protobuf.Writer.create();
  writer.uint32(tag(1, VARINT)).uint64(nowMs);
  writer.uint32(tag(2, BYTES)).fork();
  writer.uint32(tag(1, BYTES)).string('Node Control/Rebirth');
  writer.uint32(tag(3, VARINT)).uint64(nowMs);
  writer.uint32(tag(4, VARINT)).uint32(DATATYPE.Boolean);
  writer.uint32(tag(14, VARINT)).bool(true);
  writer.ldelim();
  return { topic: `spBv1.0/${group}/NCMD/${node}`, payload: writer.finish() };
}
