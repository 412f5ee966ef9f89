/** The board: starts the live stream, finds the page of the address, draws it. */

import { type FunctionComponent, render } from 'preact';
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { LocationProvider, useLocation } from 'preact-iso';
import { followNews } from './api/live.ts';
import { FleetPage } from './pages/fleet/fleet-page.tsx';
import { NowherePage } from './pages/nowhere-page.tsx';
import { Frame, type Here } from './parts/frame.tsx';
import { FailedPart, Waits } from './parts/known.tsx';
import { type View, viewOf } from './url/view.ts';
import { BOARD } from './words.ts';
import './styles/fonts.css';
import './styles/tokens.css';
import './styles/base.css';
import './styles/frame.css';
import './styles/parts.css';
import './styles/fleet.css';
import './styles/print.css';

type PageProps<Name extends View['page']> = { readonly view: View & { readonly page: Name } };

/** A page that is fetched when it is first opened; until it is here its place is drawn empty. */
function later<Props extends object>(
  here: Here,
  load: () => Promise<FunctionComponent<Props>>,
): FunctionComponent<Props> {
  let loaded: FunctionComponent<Props> | undefined;
  return function Later(props: Props) {
    const [state, setState] = useState<'waits' | 'here' | 'failed'>(loaded === undefined ? 'waits' : 'here');
    useEffect(() => {
      if (loaded !== undefined) return;
      load().then(
        (page) => {
          loaded = page;
          setState('here');
        },
        () => setState('failed'),
      );
    }, []);
    if (loaded !== undefined) {
      const Page = loaded;
      return <Page {...props} />;
    }
    return (
      <Frame here={here} title="" zone={null}>
        {state === 'failed' ? <FailedPart fault={{ id: 'not_reached', ...BOARD.pageNotLoaded }} /> : <Waits />}
      </Frame>
    );
  };
}

// The fleet is the first page of most visits, so it comes with the board; the others when they are opened.
const AlertsPage = later<PageProps<'alerts'>>('alerts', () =>
  import('./pages/alerts/alerts-page.tsx').then((page) => page.AlertsPage),
);
const EventsPage = later<PageProps<'events'>>('events', () =>
  import('./pages/events/events-page.tsx').then((page) => page.EventsPage),
);
const EventPage = later<PageProps<'event'>>('events', () =>
  import('./pages/event/event-page.tsx').then((page) => page.EventPage),
);
const FindingPage = later<PageProps<'finding'>>('alerts', () =>
  import('./pages/finding/finding-page.tsx').then((page) => page.FindingPage),
);
const SitePage = later<PageProps<'site'>>('fleet', () =>
  import('./pages/site/site-page.tsx').then((page) => page.SitePage),
);
const SourcesPage = later<object>('sources', () =>
  import('./pages/sources/sources-page.tsx').then((page) => page.SourcesPage),
);
const DemoPage = later<object>('demo', () => import('./pages/demo/demo-page.tsx').then((page) => page.DemoPage));
const TrustPage = later<PageProps<'trust'>>('fleet', () =>
  import('./pages/trust/trust-page.tsx').then((page) => page.TrustPage),
);

function pageOf(view: View) {
  switch (view.page) {
    case 'fleet':
      return <FleetPage view={view} />;
    case 'alerts':
      return <AlertsPage view={view} />;
    case 'events':
      return <EventsPage view={view} />;
    case 'event':
      return <EventPage key={`${view.site} ${view.start}`} view={view} />;
    case 'finding':
      return <FindingPage key={view.id} view={view} />;
    case 'site':
      return <SitePage key={view.site} view={view} />;
    case 'trust':
      return <TrustPage key={view.site} view={view} />;
    case 'sources':
      return <SourcesPage />;
    case 'demo':
      return <DemoPage />;
    case 'nowhere':
      return <NowherePage />;
  }
}

/** A new page begins at its top, and at its answer for who reads by ear or keyboard; going back stays where it was. */
function useBeginning(path: string): void {
  const isFirst = useRef(true);
  const isBack = useRef(false);
  useEffect(() => {
    const onBack = () => {
      isBack.current = true;
    };
    addEventListener('popstate', onBack);
    return () => removeEventListener('popstate', onBack);
  }, []);
  useLayoutEffect(() => {
    if (!isFirst.current) {
      if (!isBack.current) scrollTo(0, 0);
      document.getElementById('answer')?.focus({ preventScroll: true });
    }
    isFirst.current = false;
    isBack.current = false;
  }, [path]);
}

function Pages() {
  const { url, path } = useLocation();
  useBeginning(path);
  return pageOf(viewOf(url));
}

function Board() {
  useEffect(followNews, []);
  return (
    <LocationProvider>
      <Pages />
    </LocationProvider>
  );
}

const place = document.getElementById('board');
if (place !== null) render(<Board />, place);
