/** Every page of the board once, as the small demo fleet has it. */
import type { Answer } from '../../server/contract/api-types.ts';
import { API_ROUTES } from '../../server/contract/paths.ts';
import { pathOf } from '../../web/url/view.ts';

export interface NamedPage {
  readonly name: string;
  readonly path: string;
}

export async function everyPage(url: string): Promise<readonly NamedPage[]> {
  const get = async <Name extends 'findings' | 'events'>(name: Name): Promise<Answer<Name>> =>
    (await (await fetch(`${url}${API_ROUTES[name].path}`)).json()) as Answer<Name>;
  const { findings } = await get('findings');
  const { events } = await get('events');
  const drift = findings.find(({ kind }) => kind === 'share_drift');
  const settings = findings.find(({ kind }) => kind === 'settings_mismatch');
  const event = events[0];
  if (drift === undefined || settings === undefined || event === undefined) {
    throw new Error('Cannot look at the demo fleet: it has no drift, no setting that differs, or no backup event');
  }
  const { site } = drift;
  const readings = ['unit/u1/output_power_w', 'unit/u2/output_power_w', 'pack/p1/soc_pct'];
  return [
    { name: 'fleet', path: pathOf({ page: 'fleet' }) },
    { name: 'alerts', path: pathOf({ page: 'alerts' }) },
    { name: 'ended', path: pathOf({ page: 'alerts', state: 'ended' }) },
    { name: 'events', path: pathOf({ page: 'events' }) },
    { name: 'event', path: pathOf({ page: 'event', site: event.site, start: event.start }) },
    { name: 'site', path: pathOf({ page: 'site', site }) },
    { name: 'readings', path: pathOf({ page: 'site', site, readings }) },
    { name: 'finding', path: pathOf({ page: 'finding', id: drift.id }) },
    { name: 'setting', path: pathOf({ page: 'finding', id: settings.id }) },
    { name: 'trust', path: pathOf({ page: 'trust', site }) },
    { name: 'nowhere', path: '/nothing-here' },
  ];
}
