/** What each part of the bench is given. */

export interface FleetSize {
  readonly sites: number;
  readonly days: number;
  readonly everyS: number;
}

export interface BenchRun {
  readonly sizes: { readonly store: FleetSize; readonly findings: FleetSize; readonly memory: FleetSize };
  readonly say: (line: string) => void;
}
