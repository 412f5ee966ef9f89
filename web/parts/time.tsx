/** Times in a page: near ones as people say them, the whole one on hover and on paper. */

import { fullTimeText, lengthText } from '../../server/views/figures.ts';
import type { Saying } from '../../server/views/saying.ts';
import { sayTime } from '../../server/views/when.ts';
import { instant } from '../api/live.ts';
import { BOARD, WORDS } from '../words.ts';
import { READERS_ZONE } from './saying.ts';

/** '28 March, 13:00', with the whole time on hover. */
export function When({ at, saying, text }: { at: number; saying: Saying; text?: string }) {
  const whole = fullTimeText(at, saying.words.locale, saying.zone);
  return (
    <time dateTime={new Date(at).toISOString()} title={whole}>
      {text ?? sayTime(at, saying)}
    </time>
  );
}

/** '4 min ago' by the clock of this device, with the whole time on hover. */
export function Ago({ at }: { at: number }) {
  const ago = Math.max(0, instant.value - at);
  return (
    <span class="age">
      <time dateTime={new Date(at).toISOString()} title={fullTimeText(at, WORDS.locale, READERS_ZONE)}>
        {lengthText(ago)} {BOARD.ago}
      </time>
    </span>
  );
}
