/** A table as it is printed in a book: an ink line under the head, hairlines between rows, figures at the right. */
import type { ComponentChildren } from 'preact';

export interface TableColumn {
  readonly head: string;
  /** Words stand at the left, figures at the right. */
  readonly isWords?: boolean;
}

/** What is wider than a phone moves inside its own region, never the page. */
export function Sideways({ label, children }: { label: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by key
    <section class="sideways" tabIndex={0} aria-label={label}>
      {children}
    </section>
  );
}

interface TableProps {
  readonly caption: string;
  /** For readers who see the sentence above the table, the caption need not be drawn. */
  readonly isCaptionUnseen?: boolean;
  readonly columns: readonly TableColumn[];
  readonly rows: readonly (readonly ComponentChildren[])[];
  /** Long tables scroll inside their own region. */
  readonly scrolls?: boolean;
}

export function Table({ caption, isCaptionUnseen = false, columns, rows, scrolls = false }: TableProps) {
  const side = (index: number) => (columns[index]?.isWords ? 'left' : undefined);
  const table = (
    <table class="table">
      <caption class={isCaptionUnseen ? 'unseen' : undefined}>{caption}</caption>
      <thead>
        <tr>
          {columns.map((column, index) => (
            <th key={column.head} scope="col" class={side(index)}>
              {column.head}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row, at) => (
          <tr key={at}>
            {row.map((cell, index) =>
              index === 0 ? (
                <th key={index} scope="row">
                  {cell}
                </th>
              ) : (
                <td key={index} class={side(index)}>
                  {cell}
                </td>
              ),
            )}
          </tr>
        ))}
      </tbody>
    </table>
  );
  if (!scrolls) return table;
  return (
    <section
      class="scrolls"
      // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by key
      tabIndex={0}
      aria-label={caption}
    >
      {table}
    </section>
  );
}
