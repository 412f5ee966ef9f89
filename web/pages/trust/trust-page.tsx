/** What of this can be trusted: where it comes from, what is missing, what contradicts, what was not taken. */

import { useLocation } from 'preact-iso';
import type { TrustAnswer, TrustSource } from '../../../server/contract/trust.ts';
import { countText, lengthText, NO_FIGURE, partText } from '../../../server/views/figures.ts';
import { sayLongestGap, sayTrust } from '../../../server/views/say-trust.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { FindingList } from '../../parts/finding-list.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { Sideways, Table } from '../../parts/table.tsx';
import { When } from '../../parts/time.tsx';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import '../../styles/site.css';

export type TrustView = View & { readonly page: 'trust' };

interface PartProps {
  readonly answer: TrustAnswer;
  readonly saying: Saying;
}

function partHeard({ expected, heard }: TrustSource): string {
  return expected === null || expected === 0 ? NO_FIGURE : partText(Math.min(heard, expected) / expected);
}

function Sources({ answer, saying }: PartProps) {
  const columns = [
    { head: BOARD.source },
    { head: BOARD.recorded, isWords: true },
    { head: BOARD.firstHeard },
    { head: BOARD.lastHeard },
    { head: BOARD.readings },
    { head: BOARD.heardOf30 },
    { head: BOARD.gaps },
    { head: BOARD.longestGap },
    { head: BOARD.contradictions },
  ];
  const at = (t: number | null) => (t === null ? NO_FIGURE : <When at={t} saying={saying} />);
  const rows = answer.sources.map((source) => [
    source.id,
    source.isRecorded ? BOARD.yes : <b>{BOARD.notRecorded}</b>,
    at(source.firstAt),
    at(source.newestAt),
    countText(source.readings),
    partHeard(source),
    countText(source.gapCount),
    sayLongestGap(source.gaps, answer.now),
    countText(source.conflicts),
  ]);
  return (
    <Sideways label={BOARD.sourcesCaption}>
      <Table caption={BOARD.sourcesCaption} columns={columns} rows={rows} />
    </Sideways>
  );
}

function Gaps({ answer, saying }: PartProps) {
  const gaps = answer.sources
    .flatMap(({ id, gaps: own }) => own.map((gap) => ({ id, ...gap })))
    .sort((a, b) => (b.to ?? answer.now) - b.from - ((a.to ?? answer.now) - a.from))
    .slice(0, 20);
  if (gaps.length === 0) return <p class="notice">{BOARD.noGaps}</p>;
  return (
    <Table
      caption={BOARD.gapsCaption}
      columns={[{ head: BOARD.source }, { head: BOARD.from }, { head: BOARD.until }, { head: BOARD.lasted }]}
      rows={gaps.map(({ id, from, to }) => [
        id,
        <When at={from} saying={saying} />,
        to === null ? BOARD.still : <When at={to} saying={saying} />,
        lengthText((to ?? answer.now) - from),
      ])}
    />
  );
}

function Conflicts({ answer, saying }: PartProps) {
  if (answer.conflicts.length === 0) return <p class="notice">{BOARD.noConflicts}</p>;
  return (
    <>
      <Table
        caption={BOARD.conflictsCaption}
        columns={[
          { head: BOARD.source },
          { head: BOARD.at },
          { head: BOARD.quantity, isWords: true },
          { head: BOARD.claims, isWords: true },
          { head: BOARD.holds, isWords: true },
        ]}
        rows={answer.conflicts.map(({ id, t, quantity, claims, decided }) => [
          id,
          <When at={t} saying={saying} />,
          quantity.replaceAll('_', ' '),
          claims.map(({ value }) => value).join(', '),
          decided ?? BOARD.undecided,
        ])}
      />
      {answer.conflictCount > answer.conflicts.length ? (
        <p class="small second">{BOARD.firstOf(answer.conflicts.length, answer.conflictCount)}</p>
      ) : null}
    </>
  );
}

function Refusals({ answer }: { answer: TrustAnswer }) {
  return (
    <>
      {answer.refusals.length === 0 ? (
        <p class="notice">{BOARD.noRefusals}</p>
      ) : (
        <Table
          caption={BOARD.refusalsCaption}
          columns={[
            { head: BOARD.file },
            { head: BOARD.line },
            { head: BOARD.what, isWords: true },
            { head: BOARD.remedy, isWords: true },
          ]}
          rows={answer.refusals.map(({ file, line, what, remedy }) => [file, String(line), what, remedy])}
        />
      )}
      {answer.refusalsElsewhere === 0 ? null : (
        <p class="small second">{BOARD.refusedElsewhere(answer.refusalsElsewhere)}</p>
      )}
    </>
  );
}

function CannotTell({ answer, saying }: PartProps) {
  if (answer.cannotTell.length === 0) return <p class="notice">{BOARD.allJudged}</p>;
  return (
    <ul class="log">
      {answer.cannotTell.map(({ kind, subject, because }) => (
        <li key={`${kind} ${subject} ${because}`}>{`${subject}, ${saying.words.kind[kind]}: ${because}`}.</li>
      ))}
    </ul>
  );
}

function TrustBody({ answer, saying }: PartProps) {
  const clock = clockOf(useLocation().url);
  return (
    <>
      <p class="crumb">
        <a href={pathOf({ page: 'site', site: answer.site }, clock)}>{answer.name}</a>, {BOARD.aboutThisData}
      </p>
      <h1 tabIndex={-1}>{sayTrust(answer, saying)}</h1>
      <h2>{BOARD.sources}</h2>
      <Sources answer={answer} saying={saying} />
      <h2>
        {BOARD.gapsHead} <span>{BOARD.gapsWhat}</span>
      </h2>
      <Gaps answer={answer} saying={saying} />
      {answer.silences.length === 0 ? null : (
        <>
          <h2>{BOARD.silences}</h2>
          <FindingList findings={answer.silences} saying={saying} />
        </>
      )}
      <h2>
        {BOARD.conflictsHead} <span>{BOARD.conflictsWhat}</span>
      </h2>
      <Conflicts answer={answer} saying={saying} />
      <h2>
        {BOARD.refusalsHead} <span>{BOARD.refusalsWhat}</span>
      </h2>
      <Refusals answer={answer} />
      <h2>
        {BOARD.setAsideHead} <span>{BOARD.setAsideWhat}</span>
      </h2>
      {answer.setAside.length === 0 ? (
        <p class="notice">{BOARD.noneSetAside}</p>
      ) : (
        <Table
          caption={BOARD.setAsideHead}
          isCaptionUnseen
          columns={[{ head: BOARD.source }, { head: BOARD.at }]}
          rows={answer.setAside.map(({ id, t }) => [id, <When at={t} saying={saying} />])}
        />
      )}
      <h2>{BOARD.cannotTell}</h2>
      <CannotTell answer={answer} saying={saying} />
    </>
  );
}

export function TrustPage({ view }: { view: TrustView }) {
  const known = useAnswer({ route: 'trust', names: { site: view.site } });
  const here = known.state === 'here' ? known.data : null;
  const now = useNow(known);
  const saying = useSaying(here?.zone ?? READERS_ZONE, now);
  return (
    <Frame
      here="fleet"
      title={here === null ? view.site : `${here.name}, ${BOARD.aboutThisData}`}
      zone={here?.zone ?? null}
    >
      <WhenKnown of={known}>{(answer) => <TrustBody answer={answer} saying={saying} />}</WhenKnown>
    </Frame>
  );
}
