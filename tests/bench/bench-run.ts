/** What each part of the bench is given. */

export interface FleetSize {
  readonly sites: number;
  readonly days: number;
  readonly everyS: number;
}

export interface BenchRun {
  readonly sizes: {
    readonly store: FleetSize;
    readonly findings: FleetSize;
    readonly memory: FleetSize;
    /** Readings that come live, and how many of them the table beside is given. */
    readonly journal: { readonly rows: number; readonly narrowRows: number };
  };
  readonly say: (line: string) => void;
}
