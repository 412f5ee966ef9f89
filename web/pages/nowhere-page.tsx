import { Frame } from '../parts/frame.tsx';
import { LABELS } from '../parts/labels.ts';

/** An address that no page has. */
export function NowherePage() {
  return (
    <Frame here="fleet" title="" zone={null}>
      <h1>{LABELS.nowhere}</h1>
      <p class="notice">
        <a href="/">{LABELS.toFleet}</a>
      </p>
    </Frame>
  );
}
