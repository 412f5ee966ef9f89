/** The way to the demo's page, where the board shows a demo. */

import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { DemoAnswer } from '../../server/contract/demo.ts';
import { apiPath } from '../../server/contract/paths.ts';
import { getJson } from '../api/get-json.ts';
import { clockOf, pathOf } from '../url/view.ts';
import { BOARD } from '../words.ts';

/** null: not asked yet. It does not change while the server runs. */
const isDemo = signal<boolean | null>(null);

export function DemoLink({ isHere }: { isHere: boolean }) {
  const { url } = useLocation();
  useEffect(() => {
    if (isDemo.value !== null) return;
    const ended = new AbortController();
    getJson<DemoAnswer>(apiPath('demo', {}), ended.signal)
      .then((got) => {
        if ('data' in got) isDemo.value = got.data.isRunning;
      })
      .catch((error: unknown) => {
        if (!ended.signal.aborted) throw error;
      });
    return () => ended.abort();
  }, []);
  if (isDemo.value !== true) return null;
  return (
    <a href={pathOf({ page: 'demo' }, clockOf(url))} aria-current={isHere ? 'page' : undefined}>
      {BOARD.demoName}
    </a>
  );
}
