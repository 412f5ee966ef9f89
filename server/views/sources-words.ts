/** The words of the page of sources, by language: apart, because only that page needs them. */
const ENGLISH_SOURCES = {
  name: 'Sources',
  none: 'No source is configured, so nothing new is read.',
  noneWhat:
    'Name folders, devices, brokers or gateways under sources: in kilter.yaml; they are taken up as soon as the file is saved.',
  all: (count: string, isOne: boolean) => (isOne ? 'The one source works.' : `All ${count} sources work.`),
  needs: (count: string, isOne: boolean, of: string, first: string) =>
    `${count} of ${of} ${of === 'one' ? 'source' : 'sources'} ${isOne ? 'needs' : 'need'} somebody; the first is ${first}.`,
  stale: (length: string) => `Nobody has said for ${length} how the sources fare.`,
  staleWhat:
    'What stands here is from before that. The worker has stopped, or cannot write: see what it printed, and whether the disk is full.',
  waiting: (count: string, isOne: boolean) => `${count} ${isOne ? 'has' : 'have'} brought nothing yet.`,
  rate: (perMinute: string) => `Together they bring ${perMinute} readings a minute.`,
  state: {
    working: 'works',
    waiting: 'nothing yet',
    trouble: 'trouble',
    broken: 'not connected',
    stale: 'not known',
  },
  caption: 'Where readings come from',
  source: 'Source',
  stateHead: 'State',
  since: 'Since',
  last: 'Newest reading',
  perMinute: 'Readings a minute',
  lag: 'Lag',
  refused: 'Refused',
  part: 'Device, node or gateway',
  partsOf: (source: string) => `Behind ${source}`,
  answers: 'answers',
  silent: 'does not answer',
  trouble: 'What is wrong',
  refusedOf: (source: string) => `Not taken from ${source}, the newest`,
  at: 'At',
  from: 'From',
  couriers: 'Couriers',
  couriersWhat: 'what they say of their clocks',
  courier: 'Courier',
  heard: 'Heard',
  clock: 'Its clock',
  ahead: (length: string) => `${length} ahead`,
  behind: (length: string) => `${length} behind`,
  right: 'right',
  notMeasured: 'not measured',
};

export type SourcesWords = typeof ENGLISH_SOURCES;

const BY_LOCALE: Readonly<Record<string, SourcesWords>> = { 'en-GB': ENGLISH_SOURCES };

export const sourcesWords = ({ locale }: { readonly locale: string }): SourcesWords =>
  BY_LOCALE[locale] ?? ENGLISH_SOURCES;
