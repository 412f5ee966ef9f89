/**
 * Every view as an address, and back. The address is the only view state: what stands in it can be sent to a colleague,
 * and nothing that a reader sees depends on anything else.
 */
import { eventKey } from '../../server/contract/paths.ts';

/** A stretch of time on a page's charts, epoch ms, half-open. */
export interface TimeWindow {
  readonly from: number;
  readonly to: number;
}

/** One line of the readings explorer, as the series route takes it: `unit/u1/output_power_w`. */
export type AskedReading = string;

export type View =
  | { readonly page: 'fleet'; readonly filter?: string; readonly group?: string }
  | { readonly page: 'alerts'; readonly filter?: string; readonly group?: string; readonly state?: 'open' | 'ended' }
  | { readonly page: 'events'; readonly filter?: string; readonly group?: string; readonly site?: string }
  | {
      readonly page: 'site';
      readonly site: string;
      readonly window?: TimeWindow;
      readonly unit?: string;
      readonly readings?: readonly AskedReading[];
    }
  | { readonly page: 'event'; readonly site: string; readonly start: number; readonly window?: TimeWindow }
  | { readonly page: 'finding'; readonly id: string; readonly window?: TimeWindow }
  | { readonly page: 'trust'; readonly site: string }
  | { readonly page: 'sources' }
  | { readonly page: 'demo' }
  | { readonly page: 'nowhere' };

const ONE_READING = /^(unit|pack|bank|meter)\/[a-z0-9-]+\/[a-z0-9_]+$/;

/** How times are shown: in the zone of the site, or as UTC. It goes with the reader from page to page. */
export interface Clock {
  readonly utc: boolean;
}

/** The time of `2026-04-12T18:52:00Z`, with milliseconds or without; null where the text is none. */
function timeOfText(text: string | null): number | null {
  if (text === null || !/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z$/.test(text)) return null;
  const ms = Date.parse(text);
  return Number.isNaN(ms) ? null : ms;
}

function windowOf(query: URLSearchParams): { window?: TimeWindow } {
  const from = timeOfText(query.get('from'));
  const to = timeOfText(query.get('to'));
  return from === null || to === null || to <= from ? {} : { window: { from, to } };
}

function readingsOf(text: string | null): { readings?: readonly AskedReading[] } {
  const readings = (text ?? '').split(',').filter((one) => ONE_READING.test(one));
  return readings.length === 0 ? {} : { readings };
}

function word<Name extends string>(query: URLSearchParams, name: string, as: Name): { [Key in Name]?: string } {
  const value = query.get(name);
  return (value === null || value === '' ? {} : { [as]: value }) as { [Key in Name]?: string };
}

function siteViewOf(parts: readonly string[], query: URLSearchParams): View {
  const [, site = '', below, start] = parts;
  if (below === undefined) {
    return {
      page: 'site',
      site,
      ...windowOf(query),
      ...word(query, 'unit', 'unit'),
      ...readingsOf(query.get('readings')),
    };
  }
  if (below === 'data' && start === undefined) return { page: 'trust', site };
  const startMs = below === 'events' ? timeOfText(start ?? null) : null;
  return startMs === null ? { page: 'nowhere' } : { page: 'event', site, start: startMs, ...windowOf(query) };
}

/** The decoded parts of a path; null where it is no text. */
function partsOf(pathname: string): readonly string[] | null {
  try {
    return pathname
      .split('/')
      .filter((part) => part !== '')
      .map(decodeURIComponent);
  } catch {
    return null;
  }
}

/** The view of an address: path and query, `/sites/millpond?from=…`. */
export function viewOf(url: string): View {
  const { pathname, searchParams: query } = new URL(url, 'http://board.invalid');
  const parts = partsOf(pathname);
  if (parts === null) return { page: 'nowhere' };
  const filters = { ...word(query, 'q', 'filter'), ...word(query, 'group', 'group') };
  switch (parts[0]) {
    case undefined:
      return { page: 'fleet', ...filters };
    case 'alerts':
      return { page: 'alerts', ...filters, ...(query.get('state') === 'ended' ? { state: 'ended' as const } : {}) };
    case 'events':
      return { page: 'events', ...filters, ...word(query, 'site', 'site') };
    case 'sources':
      return { page: parts.length === 1 ? 'sources' : 'nowhere' };
    case 'demo':
      return { page: parts.length === 1 ? 'demo' : 'nowhere' };
    case 'findings':
      return findingViewOf(parts, query);
    case 'sites':
      return parts[1] === undefined ? { page: 'nowhere' } : siteViewOf(parts, query);
    default:
      return { page: 'nowhere' };
  }
}

/** Without a dot: an address that ends as a file does is taken for one. */
function findingPath(id: string): string {
  return `/findings/${id
    .replace(/\.(\d{3}Z)$/, '$1')
    .split('.')
    .map(encodeURIComponent)
    .join('/')}`;
}

/** `/findings/millpond/share_drift/u2/20260330T162000000Z`, or the id as it is. */
function findingViewOf([, ...parts]: readonly string[], query: URLSearchParams): View {
  const id = parts.join('.').replace(/(T\d{6})(\d{3}Z)$/, '$1.$2');
  return id === '' ? { page: 'nowhere' } : { page: 'finding', id, ...windowOf(query) };
}

function pathnameOf(view: View): string {
  const encode = encodeURIComponent;
  switch (view.page) {
    case 'fleet':
    case 'nowhere':
      return '/';
    case 'alerts':
    case 'events':
    case 'sources':
    case 'demo':
      return `/${view.page}`;
    case 'site':
      return `/sites/${encode(view.site)}`;
    case 'trust':
      return `/sites/${encode(view.site)}/data`;
    case 'event':
      return `/sites/${encode(view.site)}/events/${eventKey(view.start)}`;
    case 'finding':
      return findingPath(view.id);
  }
}

/** The one path builder. */
export function pathOf(view: View, clock: Clock = { utc: false }): string {
  const query = new URLSearchParams();
  if ('filter' in view && view.filter) query.set('q', view.filter);
  if ('group' in view && view.group) query.set('group', view.group);
  if (view.page === 'alerts' && view.state === 'ended') query.set('state', 'ended');
  if (view.page === 'events' && view.site) query.set('site', view.site);
  if (view.page === 'site' && view.unit) query.set('unit', view.unit);
  if (view.page === 'site' && view.readings && view.readings.length > 0) {
    query.set('readings', view.readings.join(','));
  }
  if ('window' in view && view.window) {
    query.set('from', eventKey(view.window.from));
    query.set('to', eventKey(view.window.to));
  }
  if (clock.utc) query.set('time', 'utc');
  const asked = query.toString().replaceAll(/%(2C|2F|3A)/g, (sign) => decodeURIComponent(sign));
  return asked === '' ? pathnameOf(view) : `${pathnameOf(view)}?${asked}`;
}

export function clockOf(url: string): Clock {
  return { utc: new URL(url, 'http://board.invalid').searchParams.get('time') === 'utc' };
}
