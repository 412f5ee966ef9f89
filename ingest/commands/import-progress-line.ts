/** One line that says how far an import is, at what rate, and how long it will still take. */
interface ImportState {
  readonly bytes: number;
  readonly bytesTotal: number;
  readonly lines: number;
  readonly path: string;
  readonly elapsedMs: number;
}

/** 'import 42 %, 1,203,000 lines, 310,000 a second, 12 s left (logs/march.ndjson)' */
export function importProgressLine({ bytes, bytesTotal, lines, path, elapsedMs }: ImportState): string {
  const part = bytesTotal > 0 ? Math.min(1, bytes / bytesTotal) : 1;
  const rate = elapsedMs > 0 ? lines / (elapsedMs / 1000) : 0;
  const left = part > 0.01 ? `, ${duration((elapsedMs * (1 - part)) / part)} left` : '';
  return `import ${Math.floor(part * 100)} %, ${lines.toLocaleString('en-GB')} lines, ${Math.round(rate).toLocaleString('en-GB')} a second${left} (${path})`;
}

function duration(ms: number): string {
  const seconds = Math.ceil(ms / 1000);
  if (seconds < 100) return `${seconds} s`;
  const minutes = Math.ceil(seconds / 60);
  return minutes < 100 ? `${minutes} min` : `${Math.ceil(minutes / 60)} h`;
}
