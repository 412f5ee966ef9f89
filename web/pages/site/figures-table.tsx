/** Then, now, limit: every proven figure with its beam, the furthest first. */

import type { FigureRow } from '../../../server/views/figure-rows.ts';
import { BeamMark } from '../../parts/beam.tsx';
import { BOARD } from '../../words.ts';

export function FiguresTable({ rows, asked }: { rows: readonly FigureRow[]; asked: boolean }) {
  return (
    <table class="table then-now">
      <caption class="unseen">{BOARD.thenNow}</caption>
      <thead>
        <tr>
          <th scope="col">{BOARD.wasProven}</th>
          <th scope="col">{BOARD.then}</th>
          <th scope="col">{BOARD.now}</th>
          <th scope="col">
            <span class="unseen">{BOARD.unitOfMeasure}</span>
          </th>
          <th scope="col">{BOARD.limit}</th>
          <th scope="col">
            <span class="unseen">{BOARD.deviation}</span>
          </th>
        </tr>
      </thead>
      <tbody>
        {rows.map(({ figure, label, proven, now, symbol, limit, beam, isBeyond }) => (
          <tr key={`${figure.measure} ${figure.subject} ${figure.mode}`}>
            <th scope="row">{label}</th>
            <td class="second">{proven}</td>
            <td class={isBeyond && asked ? 'act' : undefined}>
              <b>{now}</b>
            </td>
            <td class="left second symbol">{symbol}</td>
            <td class="second">{limit}</td>
            <td class="left hangs">
              <BeamMark beam={beam} asked={asked} />
              {beam.says === 'untold' ? (
                <span class="small third" title={beam.because}>
                  {beam.reason}
                </span>
              ) : null}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
