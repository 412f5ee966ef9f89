/** What of this can be trusted: where it comes from, what is missing, what contradicts, what was not taken. */
import { useLocation } from 'preact-iso';
import type { TrustAnswer, TrustSource } from '../../../server/contract/trust.ts';
import { figureText, lengthText, NO_FIGURE, withUnit } from '../../../server/views/figures.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { sayLongestGap, sayTrust } from '../../parts/answers.ts';
import { FindingList } from '../../parts/finding-list.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { PAGE_LABELS } from '../../parts/page-labels.ts';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { Sideways, Table } from '../../parts/table.tsx';
import { When } from '../../parts/time.tsx';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import '../../styles/site.css';

export type TrustView = View & { readonly page: 'trust' };

interface PartProps {
  readonly answer: TrustAnswer;
  readonly saying: Saying;
}

function partHeard({ expected, heard }: TrustSource): string {
  return expected === null || expected === 0
    ? NO_FIGURE
    : withUnit((100 * Math.min(heard, expected)) / expected, 1, '%');
}

function Sources({ answer, saying }: PartProps) {
  const columns = [
    { head: PAGE_LABELS.source },
    { head: PAGE_LABELS.recorded, isWords: true },
    { head: PAGE_LABELS.firstHeard },
    { head: PAGE_LABELS.lastHeard },
    { head: PAGE_LABELS.readings },
    { head: PAGE_LABELS.heardOf30 },
    { head: PAGE_LABELS.gaps },
    { head: PAGE_LABELS.longestGap },
    { head: PAGE_LABELS.contradictions },
  ];
  const at = (t: number | null) => (t === null ? NO_FIGURE : <When at={t} saying={saying} />);
  const rows = answer.sources.map((source) => [
    source.id,
    source.isRecorded ? PAGE_LABELS.yes : <b>{PAGE_LABELS.notRecorded}</b>,
    at(source.firstAt),
    at(source.newestAt),
    figureText(source.readings, 0),
    partHeard(source),
    figureText(source.gapCount, 0),
    sayLongestGap(source.gaps, answer.now),
    figureText(source.conflicts, 0),
  ]);
  return (
    <Sideways label={PAGE_LABELS.sourcesCaption}>
      <Table caption={PAGE_LABELS.sourcesCaption} columns={columns} rows={rows} />
    </Sideways>
  );
}

function Gaps({ answer, saying }: PartProps) {
  const gaps = answer.sources
    .flatMap(({ id, gaps: own }) => own.map((gap) => ({ id, ...gap })))
    .sort((a, b) => (b.to ?? answer.now) - b.from - ((a.to ?? answer.now) - a.from))
    .slice(0, 20);
  if (gaps.length === 0) return <p class="notice">{PAGE_LABELS.noGaps}</p>;
  return (
    <Table
      caption={PAGE_LABELS.gapsCaption}
      columns={[
        { head: PAGE_LABELS.source },
        { head: PAGE_LABELS.from },
        { head: PAGE_LABELS.until },
        { head: PAGE_LABELS.lasted },
      ]}
      rows={gaps.map(({ id, from, to }) => [
        id,
        <When at={from} saying={saying} />,
        to === null ? PAGE_LABELS.still : <When at={to} saying={saying} />,
        lengthText((to ?? answer.now) - from),
      ])}
    />
  );
}

function Conflicts({ answer, saying }: PartProps) {
  if (answer.conflicts.length === 0) return <p class="notice">{PAGE_LABELS.noConflicts}</p>;
  return (
    <>
      <Table
        caption={PAGE_LABELS.conflictsCaption}
        columns={[
          { head: PAGE_LABELS.source },
          { head: PAGE_LABELS.at },
          { head: PAGE_LABELS.quantity, isWords: true },
          { head: PAGE_LABELS.claims, isWords: true },
          { head: PAGE_LABELS.holds, isWords: true },
        ]}
        rows={answer.conflicts.map(({ id, t, quantity, claims, decided }) => [
          id,
          <When at={t} saying={saying} />,
          quantity.replaceAll('_', ' '),
          claims.map(({ value }) => value).join(', '),
          decided ?? PAGE_LABELS.undecided,
        ])}
      />
      {answer.conflictCount > answer.conflicts.length ? (
        <p class="small second">{PAGE_LABELS.firstOf(answer.conflicts.length, answer.conflictCount)}</p>
      ) : null}
    </>
  );
}

function Refusals({ answer }: { answer: TrustAnswer }) {
  return (
    <>
      {answer.refusals.length === 0 ? (
        <p class="notice">{PAGE_LABELS.noRefusals}</p>
      ) : (
        <Table
          caption={PAGE_LABELS.refusalsCaption}
          columns={[
            { head: PAGE_LABELS.file },
            { head: PAGE_LABELS.line },
            { head: PAGE_LABELS.what, isWords: true },
            { head: PAGE_LABELS.remedy, isWords: true },
          ]}
          rows={answer.refusals.map(({ file, line, what, remedy }) => [file, String(line), what, remedy])}
        />
      )}
      {answer.refusalsElsewhere === 0 ? null : (
        <p class="small second">{PAGE_LABELS.refusedElsewhere(answer.refusalsElsewhere)}</p>
      )}
    </>
  );
}

function CannotTell({ answer, saying }: PartProps) {
  if (answer.cannotTell.length === 0) return <p class="notice">{PAGE_LABELS.allJudged}</p>;
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
        <a href={pathOf({ page: 'site', site: answer.site }, clock)}>{answer.name}</a>, {PAGE_LABELS.aboutThisData}
      </p>
      <h1 tabIndex={-1}>{sayTrust(answer, saying)}</h1>
      <h2>{PAGE_LABELS.sources}</h2>
      <Sources answer={answer} saying={saying} />
      <h2>
        {PAGE_LABELS.gapsHead} <span>{PAGE_LABELS.gapsWhat}</span>
      </h2>
      <Gaps answer={answer} saying={saying} />
      {answer.silences.length === 0 ? null : (
        <>
          <h2>{PAGE_LABELS.silences}</h2>
          <FindingList findings={answer.silences} saying={saying} />
        </>
      )}
      <h2>
        {PAGE_LABELS.conflictsHead} <span>{PAGE_LABELS.conflictsWhat}</span>
      </h2>
      <Conflicts answer={answer} saying={saying} />
      <h2>
        {PAGE_LABELS.refusalsHead} <span>{PAGE_LABELS.refusalsWhat}</span>
      </h2>
      <Refusals answer={answer} />
      <h2>
        {PAGE_LABELS.setAsideHead} <span>{PAGE_LABELS.setAsideWhat}</span>
      </h2>
      {answer.setAside.length === 0 ? (
        <p class="notice">{PAGE_LABELS.noneSetAside}</p>
      ) : (
        <Table
          caption={PAGE_LABELS.setAsideHead}
          isCaptionUnseen
          columns={[{ head: PAGE_LABELS.source }, { head: PAGE_LABELS.at }]}
          rows={answer.setAside.map(({ id, t }) => [id, <When at={t} saying={saying} />])}
        />
      )}
      <h2>{PAGE_LABELS.cannotTell}</h2>
      <CannotTell answer={answer} saying={saying} />
    </>
  );
}

export function TrustPage({ view }: { view: TrustView }) {
  const known = useAnswer({ route: 'trust', names: { site: view.site } });
  const here = known.state === 'here' ? known.data : null;
  const saying = useSaying(here?.zone ?? READERS_ZONE, here?.now ?? 0);
  return (
    <Frame
      here="fleet"
      title={here === null ? view.site : `${here.name}, ${PAGE_LABELS.aboutThisData}`}
      zone={here?.zone ?? null}
    >
      <WhenKnown of={known}>{(answer) => <TrustBody answer={answer} saying={saying} />}</WhenKnown>
    </Frame>
  );
}
