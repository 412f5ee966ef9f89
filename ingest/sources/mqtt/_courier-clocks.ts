/**
 * How far the clocks of couriers are off, of which a broker tells nothing: a courier says when it sent its word, and we
 * know when we heard it. The way takes time, so the word that took least tells most.
 */
import type { CourierOffset, MqttMessage } from '../../wire/mqtt/message.ts';

/** Words that are compared, one a minute: beyond it a clock may have drifted. */
const WORDS = 10;
/** No way takes longer while the link stands; below it a clock is as good as ours. */
const WAY_MS = 2000;
/** A site has a courier or two; a name that anybody may publish must not grow without end. */
const MOST_COURIERS = 1000;

export function createCourierClocks(): (
  offset: CourierOffset,
  message: Pick<MqttMessage, 'arrivedAt' | 'isRetained'>,
) => CourierOffset {
  const known = new Map<string, { said: number; apart: number[] }>();
  return (offset, { arrivedAt, isRetained }) => {
    const { site, name, t, offsetMs, isMeasured } = offset;
    const key = `${site}/${name}`;
    // What was measured is the better word. A retained one was sent at any time before.
    if (isMeasured || isRetained || (!known.has(key) && known.size >= MOST_COURIERS)) return offset;
    const own = known.get(key) ?? { said: offsetMs, apart: [] };
    known.set(key, own);
    // It says another offset: its clock was set, and what was heard before is of the clock as it stood.
    if (Math.abs(own.said - offsetMs) > WAY_MS) own.apart = [];
    own.said = offsetMs;
    own.apart = [...own.apart.slice(1 - WORDS), t - arrivedAt];
    const apartMs = Math.max(...own.apart);
    return { ...offset, offsetMs: Math.abs(apartMs) > WAY_MS ? apartMs : 0 };
  };
}
