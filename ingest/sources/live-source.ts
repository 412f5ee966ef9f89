/** What every live source is to the worker and to the courier: started, asked how it fares, stopped in order. */
import type { SourceStatus } from '../vocabulary/source-status.ts';

export interface LiveSource {
  /** As in its status. */
  readonly name: string;
  /** Begins to connect and returns at once; what fails is tried again and shown in the status. */
  start(): void;
  status(): SourceStatus;
  /** Takes nothing new, waits for what is being stored, closes. Resolves within 4 s, whatever the peer does. */
  stop(): Promise<void>;
}
