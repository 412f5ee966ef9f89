/** Whose token it is that a request brings: compared by hash, in the same time for right and wrong. */
import { createHash, timingSafeEqual } from 'node:crypto';
import type { PushToken } from './push-config.ts';

/** Who pushes: a gateway with its token, or whoever may use the board where no tokens are configured. */
export interface Pusher {
  readonly name: string;
  /** null: any site. */
  readonly sites: ReadonlySet<string> | null;
}

export type FindPusher = (token: string) => Pusher | null;

const digest = (text: string): Buffer => createHash('sha256').update(text).digest();

/** The tokens themselves are not kept. */
export function createPushTokens(tokens: readonly PushToken[]): FindPusher {
  const known = tokens.map(({ name, token, sites }) => ({
    hash: digest(token),
    pusher: { name, sites: new Set(sites) },
  }));
  return (token) => {
    const asked = digest(token);
    let found: Pusher | null = null;
    // To the end, whichever it is: how long it takes tells nothing.
    for (const { hash, pusher } of known) if (timingSafeEqual(hash, asked)) found = pusher;
    return found;
  };
}
