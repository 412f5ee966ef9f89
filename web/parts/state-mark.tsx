/** The marks of state: a shape, always with its word beside it. Drawn in the colour of the text round them. */
import type { JSX } from 'preact';

export const MARK_SHAPES = ['urgent', 'soon', 'plan', 'watch', 'prove', 'unclear', 'level', 'closed'] as const;
export type MarkShape = (typeof MARK_SHAPES)[number];

const DRAWN: { readonly [Shape in MarkShape]: JSX.Element } = {
  urgent: <rect x=".5" y=".5" width="11" height="11" fill="currentColor" />,
  soon: <path d="M6 .5 12 11.5H0z" fill="currentColor" />,
  plan: <circle cx="6" cy="6" r="4.6" fill="none" stroke="currentColor" stroke-width="1.6" />,
  watch: (
    <>
      <circle cx="6" cy="6" r="4.6" fill="none" stroke="currentColor" stroke-width="1.2" />
      <circle cx="6" cy="6" r="1.6" fill="currentColor" />
    </>
  ),
  unclear: <path d="M6 2 11 10.5H1z" fill="none" stroke="currentColor" stroke-width="1.2" />,
  prove: (
    <rect
      x="1.2"
      y="1.2"
      width="9.6"
      height="9.6"
      fill="none"
      stroke="currentColor"
      stroke-width="1.5"
      stroke-dasharray="2.4 2.4"
      stroke-dashoffset="1.2"
    />
  ),
  level: <path d="M1 6h10" stroke="currentColor" stroke-width="1.5" />,
  closed: <path d="M1 6.5 4.5 10 11 2" fill="none" stroke="currentColor" stroke-width="1.8" />,
};

export function StateShape({ shape, size = 14 }: { shape: MarkShape; size?: number }) {
  return (
    <svg width={size} height={size} viewBox="0 0 12 12" aria-hidden="true">
      {DRAWN[shape]}
    </svg>
  );
}

/** Shape and word, for the margin. `asked`: it is a request that nobody has answered, so it has colour. */
export function StateMark({ shape, word, asked = false }: { shape: MarkShape; word: string; asked?: boolean }) {
  return (
    <span class={asked ? 'mark act' : 'mark'}>
      <StateShape shape={shape} />
      <i>{word}</i>
    </span>
  );
}
