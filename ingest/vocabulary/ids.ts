declare const brand: unique symbol;
export type Branded<Base, Name extends string> = Base & { readonly [brand]: Name };

export type SiteId = Branded<string, 'SiteId'>;

const ID_FORM = /^[a-z0-9-]{1,40}$/;
/** Words that a unit, pack or meter may not take: they are subjects of their own. */
export const RESERVED_IDS: readonly string[] = ['site', 'bank'];

/** Whether a text can be a site's id: lower-case letters, digits and hyphens, 1 to 40 of them. */
export function isSiteId(text: string): text is SiteId {
  return ID_FORM.test(text);
}

const SOURCE_ID_FORM = /^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/;

/** Whether a text can be the id of a unit, pack or meter: gateways name them, so more is allowed than for a site. */
export function isSourceId(text: string): boolean {
  return SOURCE_ID_FORM.test(text);
}

/** What the id of a unit, pack or meter may look like, for error messages. */
export const SOURCE_ID_RULE =
  'letters, digits, hyphens, underscores and dots, 1 to 40 of them, a letter or digit first';

/** What a site's id may look like, for error messages. */
export const ID_RULE = 'lower-case letters, digits and hyphens, 1 to 40 of them';
