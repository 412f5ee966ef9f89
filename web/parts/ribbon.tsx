/** Thirty days of one site: the rule while it was heard, bars up for backup events, a bar down where output was lost. */
import { useLocation } from 'preact-iso';
import type { FleetRow } from '../../server/contract/read-fleet.ts';
import { type RibbonGap, ribbonMarks } from '../../server/views/ribbon.ts';
import { sayRibbonEvent, sayRibbonSilence } from '../../server/views/say-fleet.ts';
import type { Saying } from '../../server/views/saying.ts';
import { clockOf, pathOf } from '../url/view.ts';

const HEIGHT = 30;
const RULE_Y = 17;
const TICK = 3;

/** The rule with its gaps: drawn only where the site was heard. Pure. */
export function rulePath(
  gaps: readonly Pick<RibbonGap, 'x' | 'width'>[],
  width: number,
): { rule: string; ends: string } {
  let rule = '';
  let ends = '';
  let from = 0;
  const tick = (x: number) => `M${x.toFixed(1)} ${RULE_Y - TICK}v${2 * TICK}`;
  for (const gap of [...gaps].sort((a, b) => a.x - b.x)) {
    const to = gap.width === null ? width : gap.x + gap.width;
    if (gap.x > from) {
      rule += `M${from.toFixed(1)} ${RULE_Y}H${gap.x.toFixed(1)}`;
      ends += tick(gap.x);
    }
    if (gap.width !== null && to < width) ends += tick(to);
    from = Math.max(from, to);
  }
  if (from < width) rule += `M${from.toFixed(1)} ${RULE_Y}H${width}`;
  return { rule, ends };
}

interface RibbonProps {
  readonly row: FleetRow;
  readonly from: number;
  readonly saying: Saying;
  readonly width: number;
  readonly asked: boolean;
}

export function Ribbon({ row, from, saying, width, asked }: RibbonProps) {
  const clock = clockOf(useLocation().url);
  const { bars, gaps } = ribbonMarks(row, from, saying.now, width);
  const { rule, ends } = rulePath(gaps, width);
  return (
    <div class="ribbon" style={{ width: `${width}px` }}>
      <svg width={width} height={HEIGHT} aria-hidden="true">
        <path d={rule} stroke="var(--rule-2)" fill="none" />
        <path d={ends} stroke="var(--rule-2)" fill="none" />
        {bars.map(({ event, x, width: wide, height, isLost }) => (
          <g key={event.start}>
            <rect x={x - 1} y={RULE_Y - height} width={wide} height={height} fill="var(--ink)" />
            {isLost ? (
              <rect x={x - 2} y={RULE_Y + 1.5} width="4.5" height="9" fill={asked ? 'var(--act)' : 'var(--ink)'} />
            ) : null}
          </g>
        ))}
      </svg>
      {gaps.map(({ silence, x, width: wide }) => (
        <span
          key={silence.start}
          class="gap"
          style={{ left: `${x}px`, width: `${wide ?? width - x}px` }}
          title={sayRibbonSilence(silence, saying)}
        />
      ))}
      {/* For a pointer. Bars stand too close to be told apart by key; the site's page lists the same events. */}
      {bars.map(({ event, x, width: wide }) => {
        const sentence = sayRibbonEvent(event, saying);
        return (
          <a
            key={event.start}
            class="bar"
            href={pathOf({ page: 'event', site: row.site, start: event.start }, clock)}
            style={{ left: `${x + wide / 2}px` }}
            tabIndex={-1}
            title={sentence}
          >
            <span class="unseen">{sentence}</span>
          </a>
        );
      })}
    </div>
  );
}
