/** The chart library on one element: loaded when first needed, drawn, resized with its place, disposed when it goes. */
import { useEffect, useLayoutEffect, useState } from 'preact/hooks';
import type { ChartOption } from '../../server/views/chart.ts';
import type { EChartsType } from './echarts.ts';

export type ChartState = 'loading' | 'drawn' | 'failed';
type Place = { readonly current: HTMLDivElement | null };

export interface DrawnChart {
  /** null until it is drawn. */
  readonly instance: EChartsType | null;
  readonly state: ChartState;
}

/** Width of an element, px, as it is laid out. */
export function useElementWidth(place: Place): number {
  const [widthPx, setWidthPx] = useState(0);
  useLayoutEffect(() => {
    const element = place.current;
    if (element === null) return;
    setWidthPx(element.clientWidth);
    const fit = new ResizeObserver(() => setWidthPx(element.clientWidth));
    fit.observe(element);
    return () => fit.disconnect();
  }, []);
  return widthPx;
}

export function useChart(place: Place, option: ChartOption): DrawnChart {
  const [instance, setInstance] = useState<EChartsType | null>(null);
  const [state, setState] = useState<ChartState>('loading');
  useEffect(() => {
    let isGone = false;
    let made: EChartsType | null = null;
    const fit = new ResizeObserver(() => made?.resize());
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
  return { instance, state };
}
