/** Where a courier sends to: the same to the loop, whether it speaks HTTP or MQTT. */
import type { RefusedLine } from '../../vocabulary/reading.ts';

export type SendOutcome =
  /** The server, or the broker for it, has them. Lines it refused it will never take. */
  | { readonly kind: 'taken'; readonly refusedCount: number; readonly refused: readonly RefusedLine[] }
  /** Not now; the link or the other side is at fault. @see atLeastMs what it asked to wait */
  | { readonly kind: 'later'; readonly trouble: string; readonly atLeastMs: number }
  /** Not so many at once. */
  | { readonly kind: 'smaller'; readonly trouble: string };

export interface Forwarder {
  /** For people: where to. */
  readonly name: string;
  start(): void;
  /** Resolves in time, whatever the link does. */
  send(lines: readonly string[], signal: AbortSignal): Promise<SendOutcome>;
  stop(): Promise<void>;
}
