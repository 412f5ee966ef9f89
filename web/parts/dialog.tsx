/** A sheet over the page: the browser's own dialog, so that Escape, focus and the reading order are right by themselves. */
import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';

interface DialogProps {
  readonly title: string;
  readonly onClose: () => void;
  readonly children: ComponentChildren;
}

/** Open as long as it is drawn. */
export function Dialog({ title, onClose, children }: DialogProps) {
  const sheet = useRef<HTMLDialogElement>(null);
  const titleId = useId();
  useEffect(() => {
    sheet.current?.showModal();
  }, []);
  return (
    // biome-ignore lint/a11y/useKeyWithClickEvents: Escape closes a dialog by itself; a click beside it is one more way
    <dialog
      ref={sheet}
      aria-labelledby={titleId}
      onClose={onClose}
      onClick={(event) => event.target === sheet.current && sheet.current?.close()}
    >
      <h2 id={titleId}>{title}</h2>
      {children}
    </dialog>
  );
}
