/** How long does it carry itself, was that right so far, and would tonight be covered? */

import { useState } from 'preact/hooks';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { listWords } from '../../../server/views/list-words.ts';
import {
  clockMinutes,
  sayBackupNow,
  sayCovered,
  sayCoverGround,
  saySupplyPeriod,
  supplyRows,
} from '../../../server/views/say-cover.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { Table } from '../../parts/table.tsx';

interface CoverProps {
  readonly answer: SiteAnswer;
  readonly saying: Saying;
}

const EVENING = ['18:00', '22:30'] as const;

export function CoverPart({ answer, saying }: CoverProps) {
  const { cover } = answer;
  const words = listWords(saying.words).cover;
  return (
    <section class="cover" aria-labelledby="cover-head">
      <h2 id="cover-head">{words.head}</h2>
      {cover.autonomy === null ? (
        <p class="notice">{words.untold(words.notYet)}</p>
      ) : (
        <Carries autonomy={cover.autonomy} zone={answer.record.timezone} saying={saying} />
      )}
      {cover.reliability === null ? null : <Supply reliability={cover.reliability} saying={saying} />}
    </section>
  );
}

type Autonomy = NonNullable<SiteAnswer['cover']['autonomy']>;

function Carries({ autonomy, zone, saying }: { autonomy: Autonomy; zone: string; saying: Saying }) {
  const words = listWords(saying.words).cover;
  const [from, setFrom] = useState<string>(EVENING[0]);
  const [to, setTo] = useState<string>(EVENING[1]);
  const minutes = [clockMinutes(from), clockMinutes(to)] as const;
  const told =
    minutes[0] === null || minutes[1] === null
      ? null
      : sayCovered(autonomy, zone, { from: minutes[0], to: minutes[1], text: [from, to] }, saying);
  const field = (label: string, value: string, set: (text: string) => void) => (
    <label>
      {label} <input type="time" value={value} onInput={(event) => set(event.currentTarget.value)} />
    </label>
  );
  return (
    <>
      <p class="says">{sayBackupNow(autonomy, zone, saying)}</p>
      <ul class="ground">
        {sayCoverGround(autonomy, saying).map((line) => (
          <li key={line}>{line}</li>
        ))}
      </ul>
      <div class="tonight">
        <p class="asks">
          {words.ask} {field(words.from, from, setFrom)} {field(words.to, to, setTo)}
        </p>
        <p role="status" class={told?.isCovered === false ? 'answers act' : 'answers'}>
          {told?.text ?? words.windowUntold}
        </p>
      </div>
    </>
  );
}

type Reliability = NonNullable<SiteAnswer['cover']['reliability']>;

function Supply({ reliability, saying }: { reliability: Reliability; saying: Saying }) {
  const words = listWords(saying.words).cover;
  return (
    <>
      <p class="second">{saySupplyPeriod(reliability, saying)}</p>
      <Table
        caption={words.supplyCaption}
        isCaptionUnseen
        columns={[{ head: words.supply }, ...words.columns.map((head) => ({ head }))]}
        rows={supplyRows(reliability, saying).map(({ head, cells }) => [head, ...cells])}
      />
    </>
  );
}
