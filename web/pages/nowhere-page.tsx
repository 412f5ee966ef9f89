import { Frame } from '../parts/frame.tsx';
import { BOARD } from '../words.ts';

/** An address that no page has. */
export function NowherePage() {
  return (
    <Frame here="fleet" title="" zone={null}>
      <h1>{BOARD.nowhere}</h1>
      <p class="notice">
        <a href="/">{BOARD.toFleet}</a>
      </p>
    </Frame>
  );
}
