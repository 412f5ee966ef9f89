/** Somebody says what a backup event was. There are no accounts yet, so the name is typed. */

import { useState } from 'preact/hooks';
import type { ApiEvent, ListedEvent, MarkBody, Occasion } from '../../../server/contract/event.ts';
import { apiPath, eventKey } from '../../../server/contract/paths.ts';
import { type Fault, sendJson } from '../../api/get-json.ts';
import { askAgain } from '../../api/live.ts';
import { Dialog } from '../../parts/dialog.tsx';
import { BOARD, WORDS } from '../../words.ts';

const NAME_KEY = 'kilter-name';
const CHOICES: readonly Occasion[] = ['grid_loss', 'test', 'unknown'];

function nameBefore(): string {
  try {
    return localStorage.getItem(NAME_KEY) ?? '';
  } catch {
    return '';
  }
}

function keepName(name: string): void {
  try {
    localStorage.setItem(NAME_KEY, name);
  } catch {
    // Storage is closed to us: the name is typed again next time.
  }
}

export function MarkSheet({ event, onClose }: { event: ApiEvent; onClose: () => void }) {
  const [occasion, setOccasion] = useState<Occasion | null>(event.mark?.occasion ?? null);
  const [by, setBy] = useState(nameBefore);
  const [fault, setFault] = useState<Fault | null>(null);
  const [isSending, setSending] = useState(false);
  const send = async (submit: SubmitEvent) => {
    submit.preventDefault();
    if (occasion === null) return;
    setSending(true);
    const body: MarkBody = { occasion, by: by.trim() };
    const path = apiPath('mark', { site: event.site, start: eventKey(event.start) });
    const got = await sendJson<ListedEvent>('PUT', path, body);
    setSending(false);
    if ('fault' in got) return setFault(got.fault);
    keepName(body.by);
    askAgain();
    onClose();
  };
  return (
    <Dialog title={BOARD.markTitle} onClose={onClose}>
      <p class="second">{BOARD.markWhy}</p>
      <form onSubmit={send}>
        <fieldset class="choices">
          <legend class="unseen">{BOARD.markTitle}</legend>
          {CHOICES.map((one) => (
            <label key={one}>
              <input
                type="radio"
                name="occasion"
                value={one}
                checked={occasion === one}
                onChange={() => setOccasion(one)}
              />
              {WORDS.event.occasion[one]}
            </label>
          ))}
        </fieldset>
        <label class="field">
          <span>{BOARD.yourName}</span>
          <input
            type="text"
            required
            maxLength={80}
            autocomplete="name"
            value={by}
            onInput={(input) => setBy(input.currentTarget.value)}
          />
        </label>
        {fault === null ? null : (
          <p class="wrong" role="alert">
            {fault.what} {fault.remedy}
          </p>
        )}
        <div class="actions">
          <button type="submit" disabled={isSending || occasion === null || by.trim() === ''}>
            {BOARD.saySo}
          </button>
          <button type="button" onClick={onClose}>
            {BOARD.notNow}
          </button>
        </div>
      </form>
    </Dialog>
  );
}
