/** Where everything is asked for. One table; nobody writes a path by hand. No schema is imported here. */

/** Routes with their methods. Names in braces of a type are filled by `apiPath`. */
export const API_ROUTES = {
  fleet: { method: 'GET', path: '/api/fleet' },
  site: { method: 'GET', path: '/api/sites/:site' },
  share: { method: 'GET', path: '/api/sites/:site/share' },
  series: { method: 'GET', path: '/api/sites/:site/series' },
  readingsCsv: { method: 'GET', path: '/api/sites/:site/readings.csv' },
  trust: { method: 'GET', path: '/api/sites/:site/trust' },
  events: { method: 'GET', path: '/api/events' },
  event: { method: 'GET', path: '/api/sites/:site/events/:start' },
  mark: { method: 'PUT', path: '/api/sites/:site/events/:start/mark' },
  findings: { method: 'GET', path: '/api/findings' },
  finding: { method: 'GET', path: '/api/findings/:id' },
  sources: { method: 'GET', path: '/api/sources' },
  demo: { method: 'GET', path: '/api/demo' },
  demoStart: { method: 'POST', path: '/api/demo/faults' },
  demoEnd: { method: 'POST', path: '/api/demo/end' },
  push: { method: 'POST', path: '/api/readings' },
  live: { method: 'GET', path: '/api/live' },
  openapi: { method: 'GET', path: '/api/openapi.json' },
} as const;
export type RouteName = keyof typeof API_ROUTES;

type NamesIn<Path extends string> = Path extends `${string}:${infer Name}/${infer Rest}`
  ? Name | NamesIn<`/${Rest}`>
  : Path extends `${string}:${infer Name}`
    ? Name
    : never;
export type PathNames<Name extends RouteName> = { readonly [N in NamesIn<(typeof API_ROUTES)[Name]['path']>]: string };

/**
 * `apiPath('series', { site: 'millpond' }, { of: 'unit/u1/output_power_w', from: 0, to: 1 })`.
 * Query values that are undefined are left out.
 */
export function apiPath<Name extends RouteName>(
  name: Name,
  names: PathNames<Name>,
  query: Readonly<Record<string, string | number | undefined>> = {},
): string {
  const filled = API_ROUTES[name].path.replaceAll(/:([a-z]+)/g, (_, key: string) =>
    encodeURIComponent((names as Readonly<Record<string, string>>)[key] ?? ''),
  );
  const asked = Object.entries(query).flatMap(([key, value]) =>
    value === undefined ? [] : [`${key}=${encodeURIComponent(String(value))}`],
  );
  return asked.length === 0 ? filled : `${filled}?${asked.join('&')}`;
}

/** The `start` of an event in a path: 2026-04-12T17:52:00Z. Read back to the second. */
export function eventKey(start: number): string {
  return new Date(Math.floor(start / 1000) * 1000).toISOString().replace('.000Z', 'Z');
}
