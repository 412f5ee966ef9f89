/** The states of a page's answer, each drawn: it is coming, it is here, it is here and old, it could not be had. */

import type { ComponentChildren } from 'preact';
import type { Fault } from '../api/get-json.ts';
import type { Known } from '../api/use-answer.ts';
import { BOARD } from '../words.ts';
import { Ago } from './time.tsx';

/** The page's rules at full size, empty: the shape of what comes. */
export function Waits({ rows = 8, label = BOARD.waits }: { rows?: number; label?: string }) {
  return (
    <div class="waits" role="status" aria-label={label}>
      <h1 class="third">&nbsp;</h1>
      {Array.from({ length: rows }, (_, row) => (
        <i key={row} />
      ))}
    </div>
  );
}

/** What failed, what is still true, what to do. */
export function Failed({ fault, stillTrue }: { fault: Fault; stillTrue?: string }) {
  return (
    <div role="alert">
      <h1 tabIndex={-1}>{fault.what}</h1>
      {stillTrue === undefined ? null : <p class="qualifies">{stillTrue}</p>}
      <p class="notice">{fault.remedy}</p>
    </div>
  );
}

/** A part of a page that could not be had, beside parts that are here. */
export function FailedPart({ fault }: { fault: Fault }) {
  return (
    <p class="notice" role="alert">
      {fault.what} {fault.remedy}
    </p>
  );
}

/** Why what stands here is not the newest, and how old it is. */
function Old({ at, fault }: { at: number; fault: Fault }) {
  return (
    <p class="notice" role="status">
      {fault.what} {BOARD.shownIsFrom} <Ago at={at} />.
    </p>
  );
}

interface KnownProps<Data> {
  readonly of: Known<Data>;
  readonly waits?: ComponentChildren;
  readonly children: (data: Data) => ComponentChildren;
}

/** Draws a page's answer in the state it is in. */
export function WhenKnown<Data>({ of, waits = <Waits />, children }: KnownProps<Data>) {
  if (of.state === 'waiting') return <>{waits}</>;
  if (of.state === 'failed') return <Failed fault={of.fault} />;
  return (
    <>
      {of.fault === null ? null : <Old at={of.at} fault={of.fault} />}
      {children(of.data)}
    </>
  );
}

/** The place of a chart that is still being read: its rules, empty. */
export function ChartWaits({ heightPx }: { heightPx: number }) {
  return <div class="chart-waits" role="status" aria-label={BOARD.chartLoads} style={{ height: `${heightPx}px` }} />;
}
