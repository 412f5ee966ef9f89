/** What stands round every page: the datum with the pages' names, the ruled margin, the keys that work everywhere. */

import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import { clockText, dayText, fullTimeText, shortDayText, weekdayText } from '../../server/views/figures.ts';
import { deafSince, instant, link } from '../api/live.ts';
import { clockOf, pathOf, type View, viewOf } from '../url/view.ts';
import { BOARD, WORDS } from '../words.ts';
import { DemoLink } from './demo-link.tsx';
import { Dialog } from './dialog.tsx';
import { READERS_ZONE } from './saying.ts';
import { Table } from './table.tsx';
import { chooseTheme, theme } from './theme.ts';
import { Ago, When } from './time.tsx';
import { useKeys } from './use-keys.ts';

const PAGES = [
  { here: 'fleet', view: { page: 'fleet' }, name: BOARD.fleet },
  { here: 'alerts', view: { page: 'alerts' }, name: BOARD.alerts },
  { here: 'events', view: { page: 'events' }, name: BOARD.events },
  { here: 'sources', view: { page: 'sources' }, name: BOARD.sourcesName },
] as const satisfies readonly { here: string; view: View; name: string }[];
export type Here = (typeof PAGES)[number]['here'] | 'demo';

interface FrameProps {
  readonly here: Here;
  /** Of the browser's tab and of paper. */
  readonly title: string;
  /** The site's zone; null on pages over several sites, which speak in the reader's. */
  readonly zone: string | null;
  readonly children: ComponentChildren;
}

const dateText = (t: number, locale: string, zone: string) => dayText(t, locale, zone, 0);

/** The zone a page's times are in, and the way to the other one. */
function ZoneToggle({ zone }: { zone: string | null }) {
  const { url, route } = useLocation();
  const { utc } = clockOf(url);
  const own = zone === null ? BOARD.yourTime : BOARD.siteTime;
  const other = utc ? (zone === null ? BOARD.showYourTime : BOARD.showSiteTime) : BOARD.showUtc;
  const inZone = utc ? 'UTC' : (zone ?? READERS_ZONE);
  const say = (text: (t: number, locale: string, zone: string) => string) => text(instant.value, WORDS.locale, inZone);
  return (
    <span>
      <time dateTime={new Date(instant.value).toISOString()}>
        <span class="roomy">
          {say(weekdayText)} {say(dateText)}
        </span>
        <span class="tight">{say(shortDayText)}</span>, {say(clockText)}
      </time>{' '}
      <span class={utc ? undefined : 'roomy'}>{utc ? BOARD.utc : own}</span>{' '}
      <button type="button" class="quiet" onClick={() => route(pathOf(viewOf(url), { utc: !utc }), true)}>
        {other}
      </button>
    </span>
  );
}

function Link() {
  const now = link.value;
  if (now.state !== 'lost') return null;
  return (
    <span role="status">
      <b>
        {BOARD.noNewsSince} <Ago at={now.since} />
      </b>
    </span>
  );
}

/** Nobody listens: what stands here is not what is. */
function Deaf({ zone }: { zone: string }) {
  const since = deafSince();
  if (since === null) return null;
  const saying = { words: WORDS, zone, now: instant.value };
  return (
    <p class="notice" role="status">
      <b>
        {BOARD.notListening} <When at={since} saying={saying} />.
      </b>{' '}
      {BOARD.notListeningWhat}
    </p>
  );
}

function KeysSheet({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={BOARD.keysTitle} onClose={onClose}>
      <Table
        caption={BOARD.keysTitle}
        isCaptionUnseen
        columns={[{ head: 'Key' }, { head: 'Does', isWords: true }]}
        rows={BOARD.keyWords.map(([keys, does]) => [<kbd>{keys}</kbd>, does])}
      />
      <form method="dialog" class="actions">
        <button type="submit">{BOARD.close}</button>
      </form>
    </Dialog>
  );
}

export function Frame({ here, title, zone, children }: FrameProps) {
  const { url, route } = useLocation();
  const [areKeysOpen, setKeysOpen] = useState(false);
  const clock = clockOf(url);
  useEffect(() => {
    document.title = title === '' ? BOARD.board : `${BOARD.board}: ${title}`;
  }, [title]);
  useKeys({
    'g f': () => route(pathOf({ page: 'fleet' }, clock)),
    'g a': () => route(pathOf({ page: 'alerts' }, clock)),
    'g e': () => route(pathOf({ page: 'events' }, clock)),
    'g s': () => route(pathOf({ page: 'sources' }, clock)),
    '?': () => setKeysOpen(true),
  });
  const otherTheme = theme.value === 'dark' ? 'light' : 'dark';
  return (
    <>
      <header class="top">
        <a class="skip" href="#answer">
          {BOARD.skip}
        </a>
        <a class="name" href={pathOf({ page: 'fleet' }, clock)}>
          {BOARD.board}
        </a>
        <nav aria-label={BOARD.pages}>
          {PAGES.map(({ here: one, view, name }) => (
            <a key={one} href={pathOf(view, clock)} aria-current={one === here ? 'page' : undefined}>
              {name}
            </a>
          ))}
          <DemoLink isHere={here === 'demo'} />
        </nav>
        <div class="when">
          <Link />
          <ZoneToggle zone={zone} />
          <span class="tools">
            <button type="button" class="quiet" onClick={() => chooseTheme(otherTheme)}>
              {BOARD[otherTheme]}
            </button>
            <button type="button" class="quiet" onClick={() => setKeysOpen(true)}>
              {BOARD.keys}
            </button>
          </span>
        </div>
      </header>
      <main class="page" id="answer" tabIndex={-1}>
        <Deaf zone={clock.utc ? 'UTC' : (zone ?? READERS_ZONE)} />
        {children}
        <p class="foot printed">
          {location.href} · {fullTimeText(instant.value, WORDS.locale, clock.utc ? 'UTC' : (zone ?? READERS_ZONE))}
        </p>
      </main>
      {areKeysOpen ? <KeysSheet onClose={() => setKeysOpen(false)} /> : null}
    </>
  );
}
