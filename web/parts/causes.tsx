/** Causes with their weights, most likely first. The bar repeats the figure beside it. */

export interface CauseLine {
  readonly words: string;
  readonly weight: number;
  readonly weightText: string;
}

const BAR_PX = 46;

export function Causes({ causes }: { causes: readonly CauseLine[] }) {
  return (
    <ul class="causes">
      {causes.map(({ words, weight, weightText }) => (
        <li key={words}>
          <svg width={BAR_PX} height="8" aria-hidden="true">
            <path d={`M0 4H${BAR_PX}`} stroke="var(--rule)" />
            <path d={`M0 4H${BAR_PX * weight}`} stroke="var(--ink)" stroke-width="3.5" />
          </svg>
          <b>{weightText}</b>
          <span>{words}</span>
        </li>
      ))}
    </ul>
  );
}
