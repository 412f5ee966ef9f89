// Who may import whom. What is not in this table is forbidden; adding an arrow is a change of
// architecture and needs a sentence in the commit. Checked by `npm run arrows` and tests/house/arrows.test.ts.
const MAY_IMPORT = {
  'ingest/vocabulary': [],
  'ingest/math': [],
  'ingest/site': ['ingest/vocabulary'],
  'ingest/wire': ['ingest/vocabulary'],
  'ingest/electrical': ['ingest/math', 'ingest/vocabulary'],
  'ingest/alignment': ['ingest/math', 'ingest/site', 'ingest/vocabulary'],
  'ingest/analysis': ['ingest/alignment', 'ingest/electrical', 'ingest/math', 'ingest/site', 'ingest/vocabulary'],
  'ingest/demo': ['ingest/site', 'ingest/vocabulary'],
  'ingest/store': ['ingest/site', 'ingest/vocabulary'],
  'ingest/intake': ['ingest/store', 'ingest/site', 'ingest/vocabulary'],
  'ingest/sources': ['ingest/intake', 'ingest/wire', 'ingest/site', 'ingest/vocabulary'],
  'ingest/runner': ['ingest/analysis', 'ingest/alignment', 'ingest/store', 'ingest/site', 'ingest/vocabulary'],
  'ingest/commands': [
    'ingest/runner',
    'ingest/sources',
    'ingest/intake',
    'ingest/store',
    'ingest/site',
    'ingest/vocabulary',
  ],
  'server/contract': ['ingest/site', 'ingest/vocabulary'],
  'server/views': ['server/contract', 'ingest/site', 'ingest/vocabulary'],
  'server/store': ['server/contract', 'ingest/store', 'ingest/vocabulary'],
  'server/live': ['server/contract', 'ingest/store', 'ingest/vocabulary'],
  'server/http': ['server/contract', 'ingest/vocabulary'],
  // Answers are made of stored answers and views; the CSV of a window is the command's own, so that the two agree;
  // the indices of supply are the trade's own formulas.
  'server/answers': ['server/contract', 'server/views', 'server/store', 'ingest/commands', 'ingest/electrical', 'ingest/store', 'ingest/site', 'ingest/vocabulary'],
  // What is pushed goes from its route straight to the source that stores it.
  'server/routes': ['server/answers', 'server/contract', 'server/http', 'server/live', 'ingest/sources', 'ingest/store', 'ingest/site', 'ingest/vocabulary'],
  web: ['server/contract', 'server/views', 'ingest/site', 'ingest/vocabulary'],
};
const inside = (folder) => `^${folder}/`;
const PURE = 'wire|math|electrical|alignment|analysis|capture';
const PURE_LIBRARIES = 'csv-parse|luxon|@types/luxon|protobufjs|yaml|zod';

module.exports = {
  forbidden: [
    ...Object.entries(MAY_IMPORT).map(([from, to]) => ({
      name: `${from} may import only ${[...to, 'itself'].join(', ')}`,
      severity: 'error',
      from: { path: inside(from) },
      to: { path: '^(ingest|server|web)/', pathNot: [from, ...to].map(inside) },
    })),
    {
      name: 'ingest never imports server or web',
      severity: 'error',
      from: { path: '^ingest/' },
      to: { path: '^(server|web)/' },
    },
    { name: 'server never imports web', severity: 'error', from: { path: '^server/' }, to: { path: '^web/' } },
    {
      name: 'the demo is a peer: only the command that starts it imports it',
      severity: 'error',
      from: { path: '^(ingest|server|web)/', pathNot: '^(ingest/demo/|server/(kilter|commands|demo-feed|demo-sites)\\.ts$)' },
      to: { path: '^ingest/demo/' },
    },
    {
      name: 'source never imports tests',
      severity: 'error',
      from: { path: '^(ingest|server|web)/' },
      to: { path: '^tests/' },
    },
    { name: 'no cycles', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'every import resolves',
      severity: 'error',
      from: { path: '^(ingest|server|web)/' },
      to: { couldNotResolve: true },
    },
    {
      name: 'browser-safe folders use no Node module',
      severity: 'error',
      from: { path: '^(web|server/contract|server/views|ingest/(site|vocabulary))/' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'the vocabulary imports no package',
      severity: 'error',
      from: { path: '^ingest/vocabulary/' },
      to: { path: '^node_modules/' },
    },
    {
      name: 'pure folders use no Node module and no driver',
      severity: 'error',
      from: { path: `^ingest/(${PURE})/` },
      to: {
        path: [
          '^node_modules/',
          '^(node:)?(fs|net|http|https|path|os|child_process|worker_threads|timers|zlib|crypto)',
        ],
        pathNot: `^node_modules/(${PURE_LIBRARIES})/`,
      },
    },
    {
      name: 'only the store knows the database',
      severity: 'error',
      from: { path: '^(ingest|server|web)/', pathNot: '^(ingest|server)/store/' },
      to: { path: '^node_modules/(@types/)?better-sqlite3/' },
    },
    {
      name: 'files that begin with _ stay in their folder',
      severity: 'error',
      from: { path: '^(.+)/[^/]+$' },
      to: { path: '/_[^/]+$', pathNot: '^$1/' },
    },
  ],
  options: {
    tsPreCompilationDeps: true,
    preserveSymlinks: true,
    doNotFollow: { path: 'node_modules' },
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default', 'types'],
    },
  },
};
