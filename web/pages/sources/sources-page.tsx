/** Where readings come from, and whether each source works: what is connected, what comes, what was not taken, and why. */

import { useEffect } from 'preact/hooks';
import type { ListedSource, SourcesAnswer } from '../../../server/contract/sources.ts';
import { countText, NO_FIGURE } from '../../../server/views/figures.ts';
import {
  lagText,
  listedSources,
  rateText,
  sayCourierClock,
  saySources,
  saySourcesMore,
  staleSince,
} from '../../../server/views/say-sources.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { sourcesWords } from '../../../server/views/sources-words.ts';
import { askAgain } from '../../api/live.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { type MarkShape, StateMark } from '../../parts/state-mark.tsx';
import { Sideways, Table } from '../../parts/table.tsx';
import { When } from '../../parts/time.tsx';
import { BOARD, WORDS } from '../../words.ts';
import '../../styles/sources.css';

const SAYS = sourcesWords(WORDS);
/** The stream tells of readings; that nothing comes it does not tell. */
const ASK_EVERY_MS = 5000;

const SHAPES: { readonly [State in ListedSource['state']]: MarkShape } = {
  working: 'level',
  waiting: 'prove',
  trouble: 'soon',
  broken: 'urgent',
  stale: 'unclear',
};

interface PartProps {
  readonly saying: Saying;
}

const at = (t: number | null, saying: Saying) => (t === null ? NO_FIGURE : <When at={t} saying={saying} />);

function Sources({ sources, saying }: PartProps & { sources: readonly ListedSource[] }) {
  return (
    <section class="sources">
      <Sideways label={SAYS.caption}>
        <Table
          caption={SAYS.caption}
          isCaptionUnseen
          columns={[
            { head: SAYS.source },
            { head: SAYS.stateHead, isWords: true },
            { head: SAYS.since },
            { head: SAYS.last },
            { head: SAYS.perMinute },
            { head: SAYS.lag },
            { head: SAYS.refused },
          ]}
          rows={sources.map((source) => [
            source.name,
            <StateMark
              shape={SHAPES[source.state]}
              word={SAYS.state[source.state]}
              asked={source.state === 'broken'}
            />,
            at(source.since, saying),
            at(source.lastReadingAt, saying),
            rateText(source.perMinute),
            lagText(source.lagMs),
            countText(source.refused),
          ])}
        />
      </Sideways>
    </section>
  );
}

/** Devices, nodes or gateways of a source, where it has any. */
function Parts({ source, saying }: PartProps & { source: ListedSource }) {
  if (source.parts.length === 0) return null;
  return (
    <Sideways label={SAYS.partsOf(source.name)}>
      <Table
        caption={SAYS.partsOf(source.name)}
        isCaptionUnseen
        columns={[
          { head: SAYS.part },
          { head: SAYS.stateHead, isWords: true },
          { head: SAYS.last },
          { head: SAYS.trouble, isWords: true },
        ]}
        rows={source.parts.map(({ name, isAnswering, lastReadingAt, trouble }) => [
          name,
          isAnswering ? SAYS.answers : <b>{SAYS.silent}</b>,
          at(lastReadingAt, saying),
          trouble === null ? '' : saying.words.sentence(trouble),
        ])}
      />
    </Sideways>
  );
}

function Refused({ source, saying }: PartProps & { source: ListedSource }) {
  if (source.samples.length === 0) return null;
  return (
    <Sideways label={SAYS.refusedOf(source.name)}>
      <Table
        caption={SAYS.refusedOf(source.name)}
        columns={[
          { head: SAYS.at, isWords: true },
          { head: SAYS.from, isWords: true },
          { head: BOARD.what, isWords: true },
          { head: BOARD.remedy, isWords: true },
        ]}
        rows={source.samples.map((sample) => [at(sample.at, saying), sample.where, sample.what, sample.remedy])}
      />
    </Sideways>
  );
}

/** What there is to say of one source beyond its row; nothing where it works and has no parts. */
function Source({ source, saying }: PartProps & { source: ListedSource }) {
  if (source.trouble === null && source.parts.length === 0 && source.samples.length === 0) return null;
  return (
    <section class="source">
      <h2>
        {source.name} <span>{SAYS.state[source.state]}</span>
      </h2>
      {source.trouble === null ? null : <p class="notice">{`${saying.words.sentence(source.trouble)}.`}</p>}
      <Parts source={source} saying={saying} />
      <Refused source={source} saying={saying} />
    </section>
  );
}

function Couriers({ answer, saying }: PartProps & { answer: SourcesAnswer }) {
  if (answer.couriers.length === 0) return null;
  return (
    <>
      <h2>
        {SAYS.couriers} <span>{SAYS.couriersWhat}</span>
      </h2>
      <Table
        caption={SAYS.couriers}
        isCaptionUnseen
        columns={[{ head: SAYS.courier }, { head: SAYS.heard }, { head: SAYS.clock }]}
        rows={answer.couriers.map(({ name, heardAt, offsetMs }) => [
          name,
          at(heardAt, saying),
          sayCourierClock(offsetMs, saying),
        ])}
      />
    </>
  );
}

function SourcesBody({ answer, saying }: PartProps & { answer: SourcesAnswer }) {
  const sources = listedSources(answer);
  const more = saySourcesMore(answer, saying);
  return (
    <>
      <h1 tabIndex={-1}>{saySources(answer, saying)}</h1>
      {sources.length === 0 ? <p class="qualifies">{SAYS.noneWhat}</p> : null}
      {staleSince(answer) === null ? null : <p class="qualifies">{SAYS.staleWhat}</p>}
      {more === '' ? null : <p class="qualifies">{more}</p>}
      {sources.length === 0 ? null : <Sources sources={sources} saying={saying} />}
      {sources.map((source) => (
        <Source key={source.name} source={source} saying={saying} />
      ))}
      <Couriers answer={answer} saying={saying} />
    </>
  );
}

export function SourcesPage() {
  const known = useAnswer({ route: 'sources', names: {} });
  const saying = useSaying(READERS_ZONE, useNow(known));
  useEffect(() => {
    const timer = setInterval(askAgain, ASK_EVERY_MS);
    return () => clearInterval(timer);
  }, []);
  return (
    <Frame here="sources" title={SAYS.name} zone={null}>
      <WhenKnown of={known}>{(answer) => <SourcesBody answer={answer} saying={saying} />}</WhenKnown>
    </Frame>
  );
}
