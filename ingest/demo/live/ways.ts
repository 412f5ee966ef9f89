/** How each site of the living fleet can be heard: one after the other, so that a small fleet has several ways too. */

export const WAYS = ['sunspec', 'folder', 'native', 'courier', 'json', 'sparkplug', 'profile'] as const;
export type Way = (typeof WAYS)[number];

/** In the order of the fleet, over and over; one courier only, because each is a process. */
const ORDER: readonly Way[] = [
  'sunspec',
  'folder',
  'native',
  'courier',
  'json',
  'sparkplug',
  'profile',
  'native',
  'sunspec',
  'profile',
  'native',
  'json',
];

/** @param isFast the clock runs ahead of the world's, which no process at a site would know */
export function wayOf(place: number, isFast: boolean): Way {
  const way = ORDER[place % ORDER.length]!;
  return way === 'courier' && (isFast || place >= ORDER.length) ? 'profile' : way;
}

/** Address of a unit or pack behind its site's gateway. */
export const addressOf = (kind: 'unit' | 'pack', index: number): number => (kind === 'unit' ? 1 : 11) + index;

export const isPolled = (way: Way): boolean => way === 'sunspec' || way === 'profile' || way === 'courier';
