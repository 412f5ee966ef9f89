/** The invented company, valley and sites of the demo fleet. */
import type { SiteKind } from './site-plan.ts';

export const COMPANY = 'Larkfold Standby Power';
export const VALLEY = 'Tesselvale';

/** Words for the sites beyond the twelve with a story: streets of the valley's villages. */
const STREETS = [
  { slug: 'weir-street', name: 'Weir Street' },
  { slug: 'tanner-row', name: 'Tanner Row' },
  { slug: 'long-meadow', name: 'Long Meadow' },
  { slug: 'saddler-hill', name: 'Saddler Hill' },
  { slug: 'fuller-bridge', name: 'Fuller Bridge' },
  { slug: 'north-terrace', name: 'North Terrace' },
] as const;

const KIND_NAMES: Readonly<Record<SiteKind, { readonly slug: string; readonly name: string }>> = {
  clinic: { slug: 'surgery', name: 'surgery' },
  bakery: { slug: 'bakery', name: 'bakery' },
  school: { slug: 'school', name: 'school' },
  farm: { slug: 'farm', name: 'farm' },
  shop: { slug: 'shop', name: 'shop' },
  workshop: { slug: 'workshop', name: 'workshop' },
};

const GROUPS = ['tesselvale-upper', 'tesselvale-lower', 'oxholm'] as const;

/** Name of the nth site beyond the twelve, counted from 0: 'Tanner Row 7 bakery'. */
export function streetSite(n: number, kind: SiteKind): { id: string; name: string; group: string } {
  const street = STREETS[n % STREETS.length]!;
  const number = 1 + 2 * Math.floor(n / STREETS.length) + (n % 2);
  const { slug, name } = KIND_NAMES[kind];
  return {
    id: `${street.slug}-${number}-${slug}`,
    name: `${street.name} ${number} ${name}`,
    group: GROUPS[n % GROUPS.length]!,
  };
}
