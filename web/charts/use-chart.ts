/** The chart library on one element: loaded when first needed, drawn, resized with its place, disposed when it goes. */
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { ChartOption } from '../../server/views/chart.ts';
import type { EChartsType } from './echarts.ts';

export type ChartState = 'loading' | 'drawn' | 'failed';

export interface DrawnChart {
  readonly place: { readonly current: HTMLDivElement | null };
  /** null until it is drawn. */
  readonly instance: EChartsType | null;
  readonly state: ChartState;
  readonly widthPx: number;
}

export function useChart(option: ChartOption): DrawnChart {
  const place = useRef<HTMLDivElement>(null);
  const [instance, setInstance] = useState<EChartsType | null>(null);
  const [state, setState] = useState<ChartState>('loading');
  const [widthPx, setWidthPx] = useState(0);
  useLayoutEffect(() => setWidthPx(place.current?.clientWidth ?? 0), []);
  useEffect(() => {
    let isGone = false;
    let made: EChartsType | null = null;
    const fit = new ResizeObserver(([entry]) => {
      setWidthPx(Math.round(entry?.contentRect.width ?? 0));
      made?.resize();
    });
    if (place.current !== null) fit.observe(place.current);
    Promise.all([import('./echarts.ts'), document.fonts.ready])
      .then(([{ init }]) => {
        if (isGone || place.current === null) return;
        made = init(place.current, null, { renderer: 'canvas' });
        setInstance(made);
      })
      .catch(() => setState('failed'));
    return () => {
      isGone = true;
      fit.disconnect();
      made?.dispose();
    };
  }, []);
  // In the same turn as the page's own drawing: paper does not wait for the next frame.
  useLayoutEffect(() => {
    if (instance === null) return;
    instance.setOption(option, { notMerge: true });
    setState('drawn');
  }, [instance, option]);
  return { place, instance, state, widthPx };
}
