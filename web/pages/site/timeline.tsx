/** Findings, backup events and settings of a site over the same time axis as the charts above. */

import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { lengthText } from '../../../server/views/figures.ts';
import { barHeight } from '../../../server/views/ribbon.ts';
import { sayEvent } from '../../../server/views/say-event.ts';
import { nameFinding, sayFinding } from '../../../server/views/say-finding.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { sayChange } from '../../parts/say-change.ts';
import { clockOf, pathOf, type TimeWindow } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import { layMarks } from './lanes.ts';

interface TimelineProps {
  readonly answer: SiteAnswer;
  readonly saying: Saying;
  readonly window: TimeWindow;
}

const LANE_PX = 24;
const EVENTS_PX = 34;

/** Width of the element, px; 1 until it is known. */
function useWidth() {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(1);
  useLayoutEffect(() => {
    const element = place.current;
    if (element === null) return;
    const fit = new ResizeObserver(() => setWidth(Math.max(1, element.clientWidth)));
    fit.observe(element);
    return () => fit.disconnect();
  }, []);
  return { place, width };
}

const percent = (part: number) => `${(part * 100).toFixed(3)}%`;

function Findings({ answer, saying, window }: TimelineProps) {
  const clock = clockOf(useLocation().url);
  const { place, width } = useWidth();
  const marks = answer.findings.map((finding) => ({
    from: finding.start,
    to: finding.end ?? answer.now,
    text: nameFinding(finding, saying),
    finding,
  }));
  const { laid, lanes } = layMarks(marks, window, width);
  return (
    <div ref={place} class="lanes" style={{ height: `${Math.max(1, lanes) * LANE_PX}px` }}>
      {laid.length === 0 ? <p class="small third">{BOARD.noFindings}</p> : null}
      {laid.map(({ mark, left, width: wide, lane, isTextLeft }) => {
        const { finding, text } = mark;
        const isAsked = finding.end === null && (finding.severity === 'urgent' || finding.severity === 'soon');
        return (
          <a
            key={finding.id}
            class={`lane-mark${isAsked ? ' act' : ''}${isTextLeft ? ' text-left' : ''}`}
            href={pathOf({ page: 'finding', id: finding.id }, clock)}
            style={{
              left: percent(left),
              top: `${lane * LANE_PX}px`,
              '--wide': percent(wide),
              width: percent(Math.max(wide, 0.003)),
            }}
            title={sayFinding(finding, saying)}
          >
            <i />
            <span>{text}</span>
          </a>
        );
      })}
    </div>
  );
}

function Events({ answer, saying, window }: TimelineProps) {
  const clock = clockOf(useLocation().url);
  const length = window.to - window.from;
  const shown = answer.events.filter(({ start, end }) => start < window.to && (end ?? answer.now) > window.from);
  return (
    <div class="lanes events-lane" style={{ height: `${EVENTS_PX}px` }}>
      {shown.map((event) => {
        const ms = (event.end ?? answer.now) - event.start;
        const say = `${lengthText(ms)}. ${sayEvent(event, [], saying)}`;
        return (
          <a
            key={event.start}
            class="lane-event"
            href={pathOf({ page: 'event', site: event.site, start: event.start }, clock)}
            tabIndex={-1}
            style={{ left: percent((event.start - window.from) / length) }}
            title={say}
            aria-label={say}
          >
            <i style={{ height: `${barHeight(ms) * 1.6}px` }} class={event.outputLostS > 0 ? 'lost' : undefined} />
          </a>
        );
      })}
    </div>
  );
}

function Settings({ answer, saying, window }: TimelineProps) {
  const { place, width } = useWidth();
  const marks = answer.settingChanges.map((change) => ({
    from: change.t,
    to: change.t + 1,
    text: sayChange(change),
    change,
  }));
  const { laid, lanes } = layMarks(marks, window, width);
  return (
    <div ref={place} class="lanes" style={{ height: `${Math.max(1, lanes) * LANE_PX}px` }}>
      {laid.length === 0 ? <p class="small third">{BOARD.noSettingChanges}</p> : null}
      {laid.map(({ mark, left, lane, isTextLeft }) => (
        <span
          key={`${mark.change.unit} ${mark.change.key} ${mark.change.t}`}
          class={`lane-tick${isTextLeft ? ' text-left' : ''}`}
          style={{ left: percent(left), top: `${lane * LANE_PX}px` }}
          title={saying.words.sentence(mark.text)}
        >
          {mark.text}
        </span>
      ))}
    </div>
  );
}

export function Timeline(props: TimelineProps) {
  const clock = clockOf(useLocation().url);
  const { site } = props.answer.record;
  return (
    <div class="timeline">
      <h2 class="lane-name">{BOARD.findings}</h2>
      <Findings {...props} />
      <h2 class="lane-name">
        {BOARD.events} <a href={pathOf({ page: 'events', site }, clock)}>{BOARD.asList}</a>
      </h2>
      <Events {...props} />
      <h2 class="lane-name">{BOARD.settings}</h2>
      <Settings {...props} />
    </div>
  );
}
