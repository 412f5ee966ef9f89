/** The filter of a list: filters as it is typed in; / goes to it, Esc leaves it. */

import { useRef } from 'preact/hooks';
import { BOARD } from '../words.ts';
import { useKeys } from './use-keys.ts';

interface FilterBoxProps {
  readonly label: string;
  readonly hint: string;
  readonly value: string;
  readonly onFilter: (text: string) => void;
}

export function FilterBox({ label, hint, value, onFilter }: FilterBoxProps) {
  const box = useRef<HTMLInputElement>(null);
  useKeys({ '/': () => box.current?.focus() });
  return (
    <label class="filter">
      <span>{BOARD.filter}</span> <kbd>/</kbd>
      <input
        ref={box}
        type="search"
        aria-label={label}
        placeholder={hint}
        value={value}
        onInput={(event) => onFilter(event.currentTarget.value)}
        onKeyDown={(event) => {
          if (event.key !== 'Escape') return;
          if (event.currentTarget.value === '') event.currentTarget.blur();
          onFilter('');
        }}
      />
    </label>
  );
}
