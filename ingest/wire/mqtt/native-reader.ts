/** Kilter's own topics: kilter/v1/{site}/unit|pack|bank|meter/{id}, and the clock of a courier beside them. */

import { isSiteId, isSourceId } from '../../vocabulary/ids.ts';
import { SOURCE_KINDS } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import { type Fault, type Fields, isFault, readLine, readSource, readTime } from '../line-meaning.ts';
import { quoteText, quoteValue } from '../quote-value.ts';
import { jsonOf } from './json-payload.ts';
import type { EntryReader, MessageSink, MqttMessage } from './message.ts';

const PREFIX = 'kilter/v1/';
const FILTER = `${PREFIX}+/+/+`;
const LAYOUT = 'kilter/v1/{site}/unit/{unit}, …/pack/{pack}, …/bank/bank or …/meter/{meter}';

const isFields = (value: unknown): value is Fields =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** The source that a topic below the prefix names. */
function sourceOf(site: string, kindText: string, id: string): SourceKey | Fault {
  const kind = SOURCE_KINDS.find((each) => each === kindText);
  if (kind === undefined)
    return { what: `${quoteText(kindText)} is no kind of source`, remedy: `publish to ${LAYOUT}` };
  return readSource(site, kind, id);
}

function readElement(value: unknown, source: SourceKey, sink: MessageSink, place?: string): void {
  if (!isFields(value)) {
    sink.refuse(
      { what: `the line is ${quoteValue(value)}`, remedy: 'send a JSON object with "t", or a list of them' },
      place,
    );
    return;
  }
  const meaning = readLine(value, source);
  if (isFault(meaning)) sink.refuse(meaning, place);
  else sink.take(meaning);
}

function readOffset(site: string, name: string, value: unknown, sink: MessageSink): void {
  const remedy = 'send {"t":…,"offset_ms":…}';
  if (!isSiteId(site) || !isSourceId(name)) {
    sink.refuse({ what: `${quoteText(`${site}/courier/${name}`)} names no courier`, remedy: 'correct the topic' });
    return;
  }
  const t = isFields(value) ? readTime(value.t) : null;
  const offsetMs = isFields(value) ? value.offset_ms : null;
  const isMeasured = !isFields(value) || value.measured !== false;
  if (typeof t === 'number' && typeof offsetMs === 'number') sink.offset({ site, name, t, offsetMs, isMeasured });
  else sink.refuse({ what: `offset_ms is ${quoteValue(offsetMs)}`, remedy });
}

/** Reads native topics. Each element of a list is taken or refused by itself. */
export function createNativeReader(): EntryReader {
  return {
    name: FILTER,
    filters: [FILTER],
    read({ topic, payload }: MqttMessage, sink) {
      if (!topic.startsWith(PREFIX)) return false;
      const levels = topic.slice(PREFIX.length).split('/');
      const [site, kind, id] = levels;
      if (site === undefined || kind === undefined || id === undefined || levels.length !== 3) return false;
      // An empty payload deletes a retained message (MQTT 3.1.1, 3.3.1.3): it says nothing.
      if (payload.length === 0) return true;
      const parsed = jsonOf(payload);
      if ('fault' in parsed) {
        sink.refuse(parsed.fault);
        return true;
      }
      if (kind === 'courier') {
        readOffset(site, id, parsed.value, sink);
        return true;
      }
      const source = sourceOf(site, kind, id);
      if (isFault(source)) sink.refuse(source);
      else if (!Array.isArray(parsed.value)) readElement(parsed.value, source, sink);
      else for (const [k, one] of parsed.value.entries()) readElement(one, source, sink, `element ${k + 1}`);
      return true;
    },
    parts: () => [],
  };
}
