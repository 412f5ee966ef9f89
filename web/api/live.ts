/**
 * The live stream: one connection a browser tab. It carries no figures, only the word that there are newer ones;
 * pages then ask for theirs. What is known of the connection is said in the head of each page.
 */
import { signal } from '@preact/signals';
import type { LiveWorker } from '../../server/contract/live.ts';
import { API_ROUTES } from '../../server/contract/paths.ts';

/** Counts up whenever a page should ask again. */
export const news = signal(0);

/** After this device changed something: its own pages need not wait for the stream. */
export function askAgain(): void {
  news.value += 1;
}

export type Link =
  | { readonly state: 'opening' }
  | { readonly state: 'live' }
  /** Since when nothing comes: epoch ms. */
  | { readonly state: 'lost'; readonly since: number };

export const link = signal<Link>({ state: 'opening' });

/** Changes come at once when a log file is read; pages need not ask more often than this. */
const REST_MS = 4000;

/** The instant of the page: the minute hand of every "ago". */
export const instant = signal(Date.now());

/** When the worker last wrote that it listens, by the server's clock, and when we were told; null: it never did. */
export const worker = signal<(LiveWorker & { readonly at: number }) | null>(null);
/** The worker writes each minute; after three without it, nobody listens. */
const DEAF_AFTER_MS = 180_000;

/** Since when nothing is stored because no worker listens; null while one does, or where none ever did. */
export function deafSince(): number | null {
  const told = worker.value;
  if (told === null || told.heartbeatAt === null || link.value.state !== 'live') return null;
  const now = told.now + Math.max(0, instant.value - told.at);
  return now - told.heartbeatAt > DEAF_AFTER_MS ? told.heartbeatAt : null;
}

/** A stream that the server refused is opened anew after this. */
const REOPEN_MS = 10_000;

/** Opens the stream and keeps it. Called once, when the board starts; returns what ends it. */
export function followNews(): () => void {
  let stream: EventSource;
  let resting: ReturnType<typeof setTimeout> | undefined;
  let isMore = false;
  const tell = () => {
    if (document.hidden || resting !== undefined) {
      isMore = true;
      return;
    }
    isMore = false;
    news.value += 1;
    resting = setTimeout(() => {
      resting = undefined;
      if (isMore) tell();
    }, REST_MS);
  };
  let reopening: ReturnType<typeof setTimeout> | undefined;
  const open = () => {
    stream = new EventSource(API_ROUTES.live.path);
    stream.addEventListener('open', () => {
      const wasLost = link.value.state === 'lost';
      link.value = { state: 'live' };
      if (wasLost) tell();
    });
    stream.addEventListener('change', tell);
    stream.addEventListener('worker', ({ data }: MessageEvent<string>) => {
      worker.value = { ...(JSON.parse(data) as LiveWorker), at: Date.now() };
    });
    stream.addEventListener('error', () => {
      if (link.value.state !== 'lost') link.value = { state: 'lost', since: Date.now() };
      // The browser comes back by itself, but not after an answer that was no stream.
      if (stream.readyState === EventSource.CLOSED) reopening = setTimeout(open, REOPEN_MS);
    });
  };
  open();
  const onShown = () => {
    if (!document.hidden && isMore) tell();
  };
  document.addEventListener('visibilitychange', onShown);
  const clock = setInterval(() => {
    instant.value = Date.now();
  }, 10_000);
  // A page that could not reach the server asks again by itself, as it says.
  const retry = setInterval(() => link.value.state === 'lost' && tell(), 15_000);
  return () => {
    stream.close();
    clearTimeout(reopening);
    document.removeEventListener('visibilitychange', onShown);
    clearTimeout(resting);
    clearInterval(clock);
    clearInterval(retry);
  };
}
