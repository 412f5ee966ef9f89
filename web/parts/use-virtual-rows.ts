/** Draws only the rows of a long list that are in view; the page itself scrolls, and paper gets all of them. */
import type { Virtualizer } from '@tanstack/virtual-core';
import { useEffect, useLayoutEffect, useReducer, useRef, useState } from 'preact/hooks';

type Engine = typeof import('@tanstack/virtual-core');
type Rows = Virtualizer<Window, HTMLElement>;

export interface VirtualRows {
  readonly items: readonly { readonly index: number; readonly topPx: number }[];
  readonly heightPx: number;
  readonly isAll: boolean;
  readonly scrollTo: (index: number) => void;
  /** For the `ref` of each drawn row, which carries its place as `data-index`: rows are as high as their words need. */
  readonly measure: (element: HTMLElement | null) => void;
}

interface Wanted {
  readonly count: number;
  readonly heightOf: (index: number) => number;
  /** Height of what stays over the rows, px. */
  readonly headPx: number;
  /** A word that changes whenever heights do. */
  readonly layout: string;
}

/** Fewer rows than this are drawn at once, and the engine is not even loaded. */
const ALL_BELOW = 80;
/** Drawn until the engine is here: more than a screen holds. */
const FIRST_ROWS = 40;
const OVERSCAN = 8;

function useOnPaper(): boolean {
  const [onPaper, setOnPaper] = useState(false);
  useEffect(() => {
    const before = () => setOnPaper(true);
    const after = () => setOnPaper(false);
    addEventListener('beforeprint', before);
    addEventListener('afterprint', after);
    return () => {
      removeEventListener('beforeprint', before);
      removeEventListener('afterprint', after);
    };
  }, []);
  return onPaper;
}

function optionsOf(engine: Engine, wanted: Wanted, scrollMargin: number, redraw: () => void) {
  return {
    count: wanted.count,
    estimateSize: wanted.heightOf,
    overscan: OVERSCAN,
    scrollMargin,
    scrollPaddingStart: wanted.headPx,
    scrollPaddingEnd: 8,
    getScrollElement: (): Window => window,
    observeElementRect: engine.observeWindowRect,
    observeElementOffset: engine.observeWindowOffset,
    scrollToFn: engine.windowScroll,
    onChange: redraw,
  };
}

/** The first rows at the heights they are expected to have. */
function firstRows({ count, heightOf }: Wanted): Pick<VirtualRows, 'items' | 'heightPx'> {
  const items: { index: number; topPx: number }[] = [];
  let topPx = 0;
  for (let index = 0; index < count; index += 1) {
    if (index < FIRST_ROWS) items.push({ index, topPx });
    topPx += heightOf(index);
  }
  return { items, heightPx: topPx };
}

/** The engine, fetched once a list is long enough to need it. */
function useEngine(isNeeded: boolean): Engine | null {
  const [engine, setEngine] = useState<Engine | null>(null);
  useEffect(() => {
    if (!isNeeded || engine !== null) return;
    import('@tanstack/virtual-core').then(setEngine, () => {
      // Without it the first rows stay; the filter still reaches every site.
    });
  }, [isNeeded, engine]);
  return engine;
}

/** @param list the element that holds the rows; its place on the page is measured */
export function useVirtualRows(list: { readonly current: HTMLElement | null }, wanted: Wanted): VirtualRows {
  const [, step] = useReducer((round: number, _: null) => round + 1, 0);
  const redraw = () => step(null);
  const onPaper = useOnPaper();
  const isAll = onPaper || wanted.count < ALL_BELOW;
  const engine = useEngine(!isAll);
  const margin = useRef(0);
  const made = useRef<Rows | null>(null);
  if (engine !== null && made.current === null)
    made.current = new engine.Virtualizer(optionsOf(engine, wanted, 0, redraw));
  const rows = isAll ? null : made.current;
  if (engine !== null) rows?.setOptions(optionsOf(engine, wanted, margin.current, redraw));
  useLayoutEffect(() => made.current?._didMount(), [engine]);
  useLayoutEffect(() => rows?._willUpdate());
  // Not at each drawing: asking where the list stands makes the browser lay out the page in mid scroll.
  useLayoutEffect(() => {
    const top = (list.current?.getBoundingClientRect().top ?? 0) + scrollY;
    if (Math.abs(top - margin.current) > 0.5) {
      margin.current = top;
      redraw();
    }
  }, [wanted.layout, wanted.count, engine]);
  useLayoutEffect(() => rows?.measure(), [wanted.layout, wanted.count, engine]);
  if (rows === null) return { ...firstRows(wanted), isAll, scrollTo: () => {}, measure: () => {} };
  return {
    items: rows.getVirtualItems().map(({ index, start }) => ({ index, topPx: start - margin.current })),
    heightPx: rows.getTotalSize(),
    isAll,
    measure: rows.measureElement,
    scrollTo: (index) => rows.scrollToIndex(index, { align: 'auto' }),
  };
}
