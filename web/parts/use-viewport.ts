import { useEffect, useState } from 'preact/hooks';

/** Width of the browser's window, px. */
export function useViewportWidth(): number {
  const [width, setWidth] = useState(innerWidth);
  useEffect(() => {
    const onResize = () => setWidth(innerWidth);
    addEventListener('resize', onResize);
    return () => removeEventListener('resize', onResize);
  }, []);
  return width;
}
