/** What the app carries from request to request, and the types of a route. */
import { Hono } from 'hono';

export interface Served {
  readonly Variables: Record<never, never>;
}
export type App = Hono<Served>;

export const createApp = (): App => new Hono<Served>();
