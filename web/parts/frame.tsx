/** What stands round every page: the datum with the pages' names, the ruled margin, the keys that work everywhere. */
import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import { clockText, dayText, fullTimeText, shortDayText, weekdayText } from '../../server/views/figures.ts';
import { instant, link } from '../api/live.ts';
import { clockOf, pathOf, type View, viewOf } from '../url/view.ts';
import { Dialog } from './dialog.tsx';
import { KEY_WORDS, LABELS } from './labels.ts';
import { READERS_ZONE, WORDS } from './saying.ts';
import { Table } from './table.tsx';
import { chooseTheme, theme } from './theme.ts';
import { Ago } from './time.tsx';
import { useKeys } from './use-keys.ts';

const PAGES = [
  { here: 'fleet', view: { page: 'fleet' }, name: LABELS.fleet },
  { here: 'alerts', view: { page: 'alerts' }, name: LABELS.alerts },
  { here: 'events', view: { page: 'events' }, name: LABELS.events },
] as const satisfies readonly { here: string; view: View; name: string }[];
export type Here = (typeof PAGES)[number]['here'];

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
  const own = zone === null ? LABELS.yourTime : LABELS.siteTime;
  const other = utc ? (zone === null ? LABELS.showYourTime : LABELS.showSiteTime) : LABELS.showUtc;
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
      <span class={utc ? undefined : 'roomy'}>{utc ? LABELS.utc : own}</span>{' '}
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
        {LABELS.noNewsSince} <Ago at={now.since} />
      </b>
    </span>
  );
}

function KeysSheet({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={LABELS.keysTitle} onClose={onClose}>
      <Table
        caption={LABELS.keysTitle}
        isCaptionUnseen
        columns={[{ head: 'Key' }, { head: 'Does', isWords: true }]}
        rows={KEY_WORDS.map(([keys, does]) => [<kbd>{keys}</kbd>, does])}
      />
      <form method="dialog" class="actions">
        <button type="submit">{LABELS.close}</button>
      </form>
    </Dialog>
  );
}

export function Frame({ here, title, zone, children }: FrameProps) {
  const { url, route } = useLocation();
  const [areKeysOpen, setKeysOpen] = useState(false);
  const clock = clockOf(url);
  useEffect(() => {
    document.title = title === '' ? LABELS.board : `${LABELS.board}: ${title}`;
  }, [title]);
  useKeys({
    'g f': () => route(pathOf({ page: 'fleet' }, clock)),
    'g a': () => route(pathOf({ page: 'alerts' }, clock)),
    'g e': () => route(pathOf({ page: 'events' }, clock)),
    '?': () => setKeysOpen(true),
  });
  const otherTheme = theme.value === 'dark' ? 'light' : 'dark';
  return (
    <>
      <header class="top">
        <a class="skip" href="#answer">
          {LABELS.skip}
        </a>
        <a class="name" href={pathOf({ page: 'fleet' }, clock)}>
          {LABELS.board}
        </a>
        <nav aria-label={LABELS.pages}>
          {PAGES.map(({ here: one, view, name }) => (
            <a key={one} href={pathOf(view, clock)} aria-current={one === here ? 'page' : undefined}>
              {name}
            </a>
          ))}
        </nav>
        <div class="when">
          <Link />
          <ZoneToggle zone={zone} />
          <span class="tools">
            <button type="button" class="quiet" onClick={() => chooseTheme(otherTheme)}>
              {LABELS[otherTheme]}
            </button>
            <button type="button" class="quiet" onClick={() => setKeysOpen(true)}>
              {LABELS.keys}
            </button>
          </span>
        </div>
      </header>
      <main class="page" id="answer" tabIndex={-1}>
        {children}
        <p class="foot printed">
          {location.href} · {fullTimeText(instant.value, WORDS.locale, clock.utc ? 'UTC' : (zone ?? READERS_ZONE))}
        </p>
      </main>
      {areKeysOpen ? <KeysSheet onClose={() => setKeysOpen(false)} /> : null}
    </>
  );
}
