/** What is shown, as a file. */

function save(content: Blob, name: string): void {
  const address = URL.createObjectURL(content);
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  URL.revokeObjectURL(address);
}

export function saveText(text: string, name: string): void {
  save(new Blob([text], { type: 'text/csv;charset=utf-8' }), name);
}

export function saveCanvas(canvas: HTMLCanvasElement, name: string): void {
  canvas.toBlob((content) => content !== null && save(content, name), 'image/png');
}

/** RFC 4180: quoted where a cell holds a comma, a quote or a line break. */
export function csvOf(rows: readonly (readonly string[])[]): string {
  const cell = (text: string) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return `${rows.map((row) => row.map(cell).join(',')).join('\r\n')}\r\n`;
}
