/** The demo's own page: faults are put into invented sites, and the board finds them as it would anywhere. */

import { useEffect, useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { DemoAnswer, DemoFault, StartedFault, StartFault } from '../../../server/contract/demo.ts';
import { apiPath } from '../../../server/contract/paths.ts';
import { demoWords } from '../../../server/views/demo-words.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { type Fault, type Got, sendJson } from '../../api/get-json.ts';
import { askAgain } from '../../api/live.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { Sideways, Table } from '../../parts/table.tsx';
import { When } from '../../parts/time.tsx';
import { clockOf, pathOf } from '../../url/view.ts';
import { BOARD, WORDS } from '../../words.ts';

const SAYS = demoWords(WORDS);
const FAULTS = Object.keys(SAYS.faults) as readonly DemoFault[];
const ASK_EVERY_MS = 5000;
const PLAIN_MINUTES = 30;
const MOST_MINUTES = 240;

interface PartProps {
  readonly answer: DemoAnswer;
}

/** Sends what was asked; what is wrong is said where it was asked. */
function useSending(): { fault: Fault | null; isSending: boolean; send(path: string, body: unknown): Promise<void> } {
  const [fault, setFault] = useState<Fault | null>(null);
  const [isSending, setSending] = useState(false);
  return {
    fault,
    isSending,
    async send(path, body) {
      setSending(true);
      const got: Got<DemoAnswer> = await sendJson('POST', path, body);
      setSending(false);
      setFault('fault' in got ? got.fault : null);
      askAgain();
    },
  };
}

function Wrong({ fault }: { fault: Fault | null }) {
  if (fault === null) return null;
  return (
    <p class="wrong" role="alert">
      {fault.what} {fault.remedy}
    </p>
  );
}

function Starting({ answer }: PartProps) {
  const [site, setSite] = useState(answer.sites[0]?.site ?? '');
  const [fault, setFault] = useState<DemoFault>('grid_loss');
  const [minutes, setMinutes] = useState(PLAIN_MINUTES);
  const { fault: wrong, isSending, send } = useSending();
  const begin = (submit: SubmitEvent) => {
    submit.preventDefault();
    const body: StartFault = { site, fault, minutes: fault === 'grid_loss' ? minutes : null };
    void send(apiPath('demoStart', {}), body);
  };
  return (
    <form onSubmit={begin}>
      <h2>{SAYS.startHead}</h2>
      <label class="field">
        <span>{SAYS.site}</span>
        <select value={site} onChange={(change) => setSite(change.currentTarget.value)}>
          {answer.sites.map((one) => (
            <option key={one.site} value={one.site}>
              {one.name}
            </option>
          ))}
        </select>
      </label>
      <fieldset class="choices">
        <legend>{SAYS.faultHead}</legend>
        {FAULTS.map((one) => (
          <label key={one}>
            <input type="radio" name="fault" value={one} checked={fault === one} onChange={() => setFault(one)} />
            {SAYS.faults[one]} <span class="second">({SAYS.shows[one]})</span>
          </label>
        ))}
      </fieldset>
      {fault === 'grid_loss' ? (
        <label class="field">
          <span>{SAYS.minutes}</span>
          <input
            type="number"
            min={1}
            max={MOST_MINUTES}
            required
            value={minutes}
            onInput={(input) => setMinutes(input.currentTarget.valueAsNumber)}
          />
        </label>
      ) : null}
      <Wrong fault={wrong} />
      <div class="actions">
        <button type="submit" disabled={isSending || site === ''}>
          {SAYS.start}
        </button>
      </div>
    </form>
  );
}

const lasts = ({ end }: StartedFault, now: number): boolean => end === null || end > now;

function Started({ answer, saying }: PartProps & { saying: Saying }) {
  const { url } = useLocation();
  const { fault, isSending, send } = useSending();
  if (answer.started.length === 0) return <p class="second">{SAYS.none}</p>;
  const nameOf = (site: string) => answer.sites.find((one) => one.site === site)?.name ?? site;
  const open = [...new Set(answer.started.filter((one) => lasts(one, answer.now)).map(({ site }) => site))];
  return (
    <>
      <Sideways label={SAYS.started}>
        <Table
          caption={SAYS.started}
          isCaptionUnseen
          columns={[
            { head: SAYS.site },
            { head: SAYS.faultHead, isWords: true },
            { head: SAYS.subject, isWords: true },
            { head: SAYS.from },
            { head: SAYS.to },
          ]}
          rows={answer.started.map((one) => [
            <a href={pathOf({ page: 'site', site: one.site }, clockOf(url))}>{nameOf(one.site)}</a>,
            SAYS.faults[one.fault],
            one.subject,
            <When at={one.start} saying={saying} />,
            one.end === null ? SAYS.lasts : <When at={one.end} saying={saying} />,
          ])}
        />
      </Sideways>
      <Wrong fault={fault} />
      <div class="actions">
        {open.map((site) => (
          <button
            key={site}
            type="button"
            disabled={isSending}
            onClick={() => void send(apiPath('demoEnd', {}), { site })}
          >
            {SAYS.end(nameOf(site))}
          </button>
        ))}
      </div>
    </>
  );
}

function Sites({ answer }: PartProps) {
  const { url } = useLocation();
  return (
    <>
      <h2>{SAYS.sitesHead}</h2>
      <Table
        caption={SAYS.sitesHead}
        isCaptionUnseen
        columns={[{ head: SAYS.site }, { head: SAYS.wayHead, isWords: true }]}
        rows={answer.sites.map(({ site, name, way }) => [
          <a href={pathOf({ page: 'site', site }, clockOf(url))}>{name}</a>,
          SAYS.ways[way],
        ])}
      />
    </>
  );
}

function DemoBody({ answer, saying }: PartProps & { saying: Saying }) {
  const { words } = saying;
  if (!answer.isRunning)
    return (
      <>
        <h1 tabIndex={-1}>{SAYS.notRunning}</h1>
        <p class="qualifies">{SAYS.notRunningWhat}</p>
      </>
    );
  const count = answer.sites.length;
  return (
    <>
      <h1 tabIndex={-1}>{SAYS.head(words.sentence(words.count(count)), count === 1)}</h1>
      <p class="qualifies">{count === 0 ? SAYS.waits : SAYS.what}</p>
      {count === 0 ? null : (
        <>
          <Starting answer={answer} />
          <h2>{SAYS.started}</h2>
          <Started answer={answer} saying={saying} />
          <Sites answer={answer} />
        </>
      )}
    </>
  );
}

export function DemoPage() {
  const known = useAnswer({ route: 'demo', names: {} });
  const saying = useSaying(READERS_ZONE, useNow(known));
  useEffect(() => {
    const timer = setInterval(askAgain, ASK_EVERY_MS);
    return () => clearInterval(timer);
  }, []);
  return (
    <Frame here="demo" title={BOARD.demoName} zone={null}>
      <WhenKnown of={known}>{(answer) => <DemoBody answer={answer} saying={saying} />}</WhenKnown>
    </Frame>
  );
}
