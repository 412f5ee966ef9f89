/** The tokens of the theme that is on, as the colours that a canvas takes. */
import { useMemo } from 'preact/hooks';
import type { ChartInk } from '../../server/views/chart.ts';
import { theme } from '../parts/theme.ts';

function readInk(): ChartInk {
  const probe = document.createElement('span');
  document.body.append(probe);
  const token = (name: string) => {
    probe.style.color = `var(--${name})`;
    return getComputedStyle(probe).color;
  };
  const ink: ChartInk = {
    ground: token('ground'),
    ink: token('ink'),
    ink2: token('ink-2'),
    ink3: token('ink-3'),
    rule: token('rule'),
    rule2: token('rule-2'),
    beyond: token('beyond'),
    act: token('act'),
    units: [token('u1'), token('u2'), token('u3')],
    unitTexts: [token('u1-text'), token('u2-text'), token('u3-text')],
    font: getComputedStyle(document.body).fontFamily,
  };
  probe.remove();
  return ink;
}

export function useInk(): ChartInk {
  const now = theme.value;
  return useMemo(readInk, [now]);
}
