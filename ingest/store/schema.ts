/**
 * The readings database, one migration after the other; the number of the last is `user_version`.
 * Ground tables hold what arrived and what people decided; derived tables may be emptied at any time
 * and come back the same (DEVELOPERS.md, invariants).
 */
export const MIGRATIONS: readonly string[] = [
  `
  -- Ground.
  CREATE TABLE sources (
    id INTEGER PRIMARY KEY,
    site TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('unit', 'pack', 'bank', 'meter')),
    name TEXT NOT NULL,
    UNIQUE (site, kind, name)
  ) STRICT;

  -- One block a source and UTC day. day: days since 1970; t_first, t_last: epoch ms.
  CREATE TABLE blocks (
    source INTEGER NOT NULL REFERENCES sources,
    day INTEGER NOT NULL,
    readings INTEGER NOT NULL,
    t_first INTEGER NOT NULL,
    t_last INTEGER NOT NULL,
    summary BLOB NOT NULL,
    data BLOB NOT NULL,
    PRIMARY KEY (source, day)
  ) STRICT;

  -- Every value claimed for a cell that more than one line spoke of differently, or that a line replaces.
  CREATE TABLE claims (
    source INTEGER NOT NULL REFERENCES sources,
    t INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    value TEXT NOT NULL,
    replaces INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    PRIMARY KEY (source, t, quantity, value, replaces, revision)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE settings (
    source INTEGER NOT NULL REFERENCES sources,
    t INTEGER NOT NULL,
    key TEXT NOT NULL,
    value TEXT NOT NULL,
    replaces INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    PRIMARY KEY (source, t, key, value, replaces, revision)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE alarms (
    source INTEGER NOT NULL REFERENCES sources,
    t INTEGER NOT NULL,
    alarm TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('raised', 'cleared')),
    PRIMARY KEY (source, t, alarm, state)
  ) STRICT, WITHOUT ROWID;

  -- A site's documents as they stood; the highest seq holds, the others are history.
  CREATE TABLE site_records (
    site TEXT NOT NULL,
    seq INTEGER NOT NULL,
    added_at INTEGER NOT NULL,
    documents TEXT NOT NULL,
    PRIMARY KEY (site, seq)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE heartbeats (t INTEGER PRIMARY KEY) STRICT;

  CREATE TABLE refusals (
    file TEXT NOT NULL,
    line INTEGER NOT NULL,
    what TEXT NOT NULL,
    remedy TEXT NOT NULL,
    PRIMARY KEY (file, line, what)
  ) STRICT, WITHOUT ROWID;

  -- Which days of a site changed, and with which change number: the analysis starts at the first newer than its own.
  CREATE TABLE site_days (
    site TEXT NOT NULL,
    day INTEGER NOT NULL,
    change INTEGER NOT NULL,
    PRIMARY KEY (site, day)
  ) STRICT, WITHOUT ROWID;
  CREATE INDEX site_days_by_change ON site_days (change);

  CREATE TABLE counters (name TEXT PRIMARY KEY, value INTEGER NOT NULL) STRICT, WITHOUT ROWID;
  INSERT INTO counters VALUES ('change', 0);

  -- How far an import that has not ended yet came, a row a file; emptied when it ends.
  CREATE TABLE import_progress (
    run TEXT NOT NULL,
    file TEXT NOT NULL,
    identity TEXT NOT NULL,
    line INTEGER NOT NULL,
    counts TEXT NOT NULL,
    done INTEGER NOT NULL,
    PRIMARY KEY (run, file)
  ) STRICT, WITHOUT ROWID;

  -- Derived.
  CREATE TABLE kept_states (
    site TEXT NOT NULL,
    day INTEGER NOT NULL,
    states TEXT NOT NULL,
    PRIMARY KEY (site, day)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE analysed (
    site TEXT PRIMARY KEY,
    change INTEGER NOT NULL,
    record_seq INTEGER NOT NULL,
    program TEXT NOT NULL,
    as_of INTEGER NOT NULL,
    set_aside TEXT NOT NULL
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE findings (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE events (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE cannot_tell (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE figures (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE share_charts (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;
  `,
  `
  -- Ground: readings that came live and stand in no block yet, one row a transaction, named by its change number.
  CREATE TABLE journal (
    change INTEGER PRIMARY KEY,
    readings INTEGER NOT NULL,
    data BLOB NOT NULL
  ) STRICT;

  -- Raised whenever a block is written, so that a process knows when what it keeps of blocks is old.
  INSERT INTO counters VALUES ('block_writes', 0);
  `,
  `
  -- How sources fare, as whoever runs them last said; by: 'worker' or 'server', which writes its own rows only.
  CREATE TABLE source_status (
    name TEXT PRIMARY KEY,
    by TEXT NOT NULL,
    place INTEGER NOT NULL,
    at INTEGER NOT NULL,
    body TEXT NOT NULL
  ) STRICT, WITHOUT ROWID;

  -- What couriers said of their clocks last. offset_ms: how far ahead of the server's; NULL: not measured.
  CREATE TABLE courier_clocks (
    name TEXT PRIMARY KEY,
    at INTEGER NOT NULL,
    offset_ms INTEGER
  ) STRICT, WITHOUT ROWID;
  `,
  `
  -- Derived: usual use, what a point of charge gives, and how right that was.
  CREATE TABLE autonomy (
    site TEXT NOT NULL,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site, place)
  ) STRICT, WITHOUT ROWID;
  `,
];

/** What may be emptied at any time; the next analysis brings it back byte for byte. */
export const DERIVED_TABLES = [
  'kept_states',
  'analysed',
  'findings',
  'events',
  'cannot_tell',
  'figures',
  'share_charts',
  'autonomy',
] as const;
