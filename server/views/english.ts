/** Kilter in English. */
import { ENGLISH_BOARD } from './english-board.ts';
import { settingHeld, settingName } from './setting-name.ts';
import type { FindingFacts, Words } from './words.ts';

const STATES = {
  urgent: 'urgent',
  soon: 'soon',
  plan: 'plan',
  watch: 'watch',
  prove: 'to prove',
  unclear: 'unclear',
  level: 'level',
} as const;
const STATE_COUNTS: Readonly<Partial<Record<keyof typeof STATES, string>>> = { plan: 'to plan', watch: 'to watch' };
const watching = (label: string, figure: string, limit: string): string =>
  `${label} stands ${figure} from what was proven (limit ${limit}), not yet for long enough to be sure.`;
const proving = (because: string): string => `Not proven yet: ${because}.`;
const untelling = (because: string): string => `Proven, but nothing can be told now: ${because}.`;
const SPOKEN = [
  'no',
  'one',
  'two',
  'three',
  'four',
  'five',
  'six',
  'seven',
  'eight',
  'nine',
  'ten',
  'eleven',
  'twelve',
];
const has = ({ isOpen }: FindingFacts, open: string, ended: string): string => (isOpen ? open : ended);
const then = (tail: string | null | undefined): string =>
  tail === null || tail === undefined || tail === '' ? '' : `; ${tail}`;
const instead = ({ baseline }: FindingFacts): string => (baseline === null ? '' : ` instead of ${baseline}`);
const listed = (items: readonly string[], last: string): string =>
  items.length < 2 ? (items[0] ?? '') : `${items.slice(0, -1).join(', ')} ${last} ${items.at(-1)}`;
const times = (n: number): string => (n === 1 ? 'once' : n === 2 ? 'twice' : `${n <= 12 ? SPOKEN[n] : n} times`);
const figures = ({ value, baseline, limit }: FindingFacts): string => {
  const parts = [
    ...(value === null ? [] : [value]),
    ...(baseline === null ? [] : [`${baseline} when proven`]),
    ...(limit === null ? [] : [`limit ${limit}`]),
  ];
  return parts.length === 0 ? '' : ` (${parts.join(', ')})`;
};
const extreme = (what: string, f: FindingFacts): string =>
  `on its own the ${what} ${f.value === null ? 'left its band' : `${f.isLess ? 'fell' : 'rose'} to ${f.value}`} ${f.when}` +
  `${f.evidence.outside_s === undefined ? '' : `, outside its band for ${f.evidence.outside_s}`}` +
  `${f.limit === null ? '' : ` (limit ${f.limit})`}${then(f.cause)}`;
/** What took the output away, where the readings bear a reason out. */
const LOSS_REASONS: Readonly<Record<string, string>> = {
  charge: 'the battery was probably empty',
  overload: 'the load was probably too great for the set',
  temperature: 'the set was probably too hot',
  fault: 'the units reported a fault',
};
const lossReason = ({ evidence }: FindingFacts): string => then(LOSS_REASONS[evidence.reason ?? '']);
const heard = (f: FindingFacts): string => `${f.who} ${has(f, 'has sent', 'sent')} nothing ${f.when}`;

export const ENGLISH: Words = {
  locale: 'en-GB',
  board: ENGLISH_BOARD,
  when: {
    today: 'today',
    yesterday: 'yesterday',
    lastNight: 'last night',
    todayAt: (clock) => `today at ${clock}`,
    onDay: (day) => `on ${day}`,
    since: (time) => `since ${time}`,
    between: (from, to) => `from ${from} to ${to}`,
  },
  count: (n) => SPOKEN[n] ?? String(n),
  times,
  sentence: (text) => text.charAt(0).toUpperCase() + text.slice(1),
  list: listed,
  theSite: 'the site',
  points: (figure) => `${figure}\u00a0points`,
  pointsFrom: (points, isBelow) => `${points} points ${isBelow ? 'below' : 'above'}`,
  setting: (key, values) =>
    `${settingName(key)}${values.length === 0 ? '' : ` (${values.map((held) => settingHeld(key, held)).join(', ')})`}`,
  sharesBehind: (unit, value, baseline) => `${unit} carries ${value} instead of ${baseline}`,
  state: STATES,
  severity: { urgent: 'urgent', soon: 'soon', plan: 'plan', info: 'worth knowing' },
  kind: {
    share_drift: 'share drifts',
    soc_divergence: 'charges apart',
    frequency_excursion: 'frequency outside its band',
    voltage_excursion: 'voltage outside its band',
    frequency_disagreement: 'frequencies differ',
    hunting: 'load swings',
    circulating_power: 'power circulates',
    output_lost: 'output lost',
    single_unit_grid_loss: 'one unit without grid',
    battery_unseen: 'battery not seen',
    settings_mismatch: 'settings differ',
    ct_reversed: 'CT turned round',
    pack_not_carrying: 'pack not carrying',
    cell_spread: 'cells apart',
    pack_capacity_loss: 'pack holds less',
    unit_silent: 'unit silent',
    pack_silent: 'pack silent',
    site_silent: 'site silent',
    stuck_reading: 'reading repeats',
    clock_offset: 'clock off',
    slow_changeover: 'slow changeover',
  },
  finding: {
    share_drift: (f) =>
      `${f.who} ${has(f, 'has carried', 'carried')} ${f.value ?? 'another share'}${instead(f)} ${f.when}${then(f.cause)}`,
    soc_divergence: (f) =>
      f.value === null
        ? `${f.who} ${has(f, 'has shown', 'showed')} another charge than the other packs ${f.when}${then(f.cause)}`
        : `the charge of ${f.who} ${has(f, 'has stood', 'stood')} ${f.value} the bank's${instead(f)} ${f.when}${then(f.cause)}`,
    frequency_excursion: (f) => extreme('frequency', f),
    voltage_excursion: (f) => extreme('voltage', f),
    frequency_disagreement: (f) =>
      `${f.who} ${has(f, 'has reported', 'reported')} another frequency than the others${figures(f)} ${f.when}`,
    hunting: (f) => `the units ${has(f, 'have swung', 'swung')} load to and fro${figures(f)} ${f.when}`,
    circulating_power: (f) =>
      `power ${has(f, 'has circulated', 'circulated')} between the units${figures(f)} ${f.when}`,
    output_lost: (f) =>
      f.length === null
        ? `the output has been lost ${f.when}${lossReason(f)}`
        : `output was lost for ${f.length} ${f.when}${lossReason(f)}${f.evidence.soc_pct === undefined ? '' : `; the charge was ${f.evidence.soc_pct}`}`,
    single_unit_grid_loss: (f) => `${f.who} alone ${has(f, 'has had', 'had')} no grid ${f.when}${then(f.cause)}`,
    battery_unseen: (f) => `${f.who} ${has(f, 'has not seen', 'did not see')} the battery ${f.when}${then(f.cause)}`,
    settings_mismatch: (f) =>
      `${f.who} ${has(f, 'has been set', 'was set')} otherwise than it should be ${f.when}${f.evidence.settings === undefined ? '' : `: ${f.evidence.settings}`}${f.evidence.shares === undefined ? '' : `; ${f.evidence.shares}`}`,
    ct_reversed: (f) =>
      `the current transformer of ${f.who} ${has(f, 'has read', 'read')} the wrong way round ${f.when}`,
    pack_not_carrying: (f) =>
      `${f.who} ${has(f, 'has carried', 'carried')} ${f.value === null ? 'less than its part' : `${f.value} of its part`} of the current${instead(f)} ${f.when}`,
    cell_spread: (f) => `the cells of ${f.who} ${has(f, 'have been', 'were')} apart${figures(f)} ${f.when}`,
    pack_capacity_loss: (f) =>
      `${f.who} ${has(f, 'has held', 'held')} ${f.value ?? 'less than before'}${instead(f)} ${f.when}`,
    unit_silent: heard,
    pack_silent: heard,
    site_silent: (f) =>
      (f.isOpen ? `nothing heard ${f.when}` : `nothing was heard for ${f.length ?? 'a while'} ${f.when}`) +
      then(f.evidence.probably === undefined ? null : 'the grid was gone, so its router probably has no backup'),
    stuck_reading: (f) => `${f.who} ${has(f, 'has repeated', 'repeated')} one reading${figures(f)} ${f.when}`,
    clock_offset: (f) => `the clock of ${f.who} ${has(f, 'has been', 'was')} off${figures(f)} ${f.when}`,
    slow_changeover: (f) =>
      `${f.who} took ${f.value ?? 'too long'} to change over${f.limit === null ? '' : ` (limit ${f.limit})`} ${f.when}`,
  },
  cause: {
    feeder_resistance: 'resistance in the feeder',
    setpoint_offset: 'setpoint moved',
    unit_limited: 'the unit limits itself',
    unit_not_carrying: 'the unit does not carry',
    measurement_scale: 'its reading is off',
    gauge_error: 'gauge drifted',
    pack_not_carrying: 'the pack does not carry',
    capacity_loss: 'capacity lost',
    overload: 'overload',
    surplus_generation: 'surplus of PV',
    hunting: 'load swinging between units',
    unexplained: 'not explained',
    data_cable: 'data cable',
    parallel_link: 'parallel link',
    setting: 'a setting',
    battery_breaker: 'battery breaker',
    input_breaker: 'input breaker',
    supply_phase: 'a phase of the supply',
  },
  follows: {
    feeder_resistance: ({ resistance_added_mohm: added, heat_at_peak_w: heat }) =>
      `${added === undefined ? 'its path probably has more resistance' : `its path probably has ${added} more`}${heat === undefined ? '' : `, ${heat} of heat at the peak`}`,
    setpoint_offset: () => 'its voltage setpoint has probably moved',
    unit_limited: ({ ceiling_w: ceiling }) =>
      `it probably limits itself${ceiling === undefined ? '' : ` to ${ceiling}`}`,
    unit_not_carrying: () => 'it probably carries nothing',
    measurement_scale: () => 'its power is probably read wrongly',
    gauge_error: () => 'its gauge has probably drifted, and a full charge should close the gap',
    pack_not_carrying: () => 'it probably carries less than its part of the current',
    capacity_loss: () => 'it probably holds less than before',
    overload: () => 'the load was probably too great for the set',
    surplus_generation: () => 'PV probably had nowhere to go',
    hunting: () => 'load probably swung between the units',
    unexplained: () => 'nothing in the readings explains it',
    data_cable: () => 'its data cable is probably loose',
    parallel_link: () => 'the parallel link to it is probably loose',
    setting: () => 'a setting is probably wrong',
    battery_breaker: () => 'its battery breaker is probably open',
    input_breaker: () => 'its input breaker is probably open',
    supply_phase: () => 'a phase of the supply is probably gone',
  },
  measure: {
    share: (subject, mode) => `${subject}, share of output${mode === 'backup' ? ' on its own' : ''}`,
    charge_apart: (subject) => `${subject}, charge against the bank`,
  },
  beam: {
    silent: 'silent',
    unproven: 'unproven',
    untold: 'not told now',
    old: 'old figure',
    limit: (subject, limit) => `${subject}, limit ${limit}`,
    of: (figure, limit) => `${figure} of ${limit}`,
  },
  fleet: {
    none: 'No site is recorded yet.',
    needs: (count, needing, all) =>
      `${count} of ${all} ${all === 1 ? 'site' : 'sites'} ${needing === 1 ? 'needs' : 'need'} somebody before the next grid loss.`,
    needsNobody: 'No site needs anybody before the next grid loss.',
    tally: (parts) => `${parts.join(', ')}.`,
    stateCount: (state, count) => `${count} ${STATE_COUNTS[state] ?? STATES[state]}`,
    section: (section, count, isOne) =>
      ({
        needs: `${count} ${isOne ? 'needs' : 'need'} somebody`,
        watch: `${count} to plan, to watch or to prove`,
        level: `${count} level`,
      })[section],
    toWatch: watching,
    toProve: proving,
    unclear: untelling,
    ribbon: (losses, sites, notHeld) =>
      losses === 0
        ? 'In 30 days the grid did not fail.'
        : `In 30 days the grid failed ${times(losses)} at ${sites === 1 ? 'one site' : `${sites} sites`}; power stayed on ${notHeld === 0 ? 'every time' : `all but ${times(notHeld)}`}.`,
    neverHeard: 'never',
    ribbonEvent: (time, length, lost, held) =>
      `${time}: ${length === null ? 'without the grid still' : `${length} without the grid`}; ${lost !== null ? `output lost for ${lost}` : held ? 'it held' : 'it left its band'}`,
    silence: (time, length) => `${time}: nothing heard ${length === null ? 'since' : `for ${length}`}`,
  },
  site: {
    level: 'It carries its load as it was proven.',
    toWatch: watching,
    toProve: proving,
    unclear: untelling,
    figures: ({ all, beyond, within, untold, unproven }) => {
      const none = (n: number): string => (n === 0 ? 'none' : (SPOKEN[n] ?? String(n)));
      const rest = [
        ...(untold === 0 ? [] : [`${none(untold)} cannot be told now`]),
        ...(unproven === 0 ? [] : [`${none(unproven)} ${unproven === 1 ? 'is' : 'are'} not proven yet`]),
      ];
      const told = `${none(beyond)} ${beyond === 1 || all === 1 ? 'is' : 'are'} beyond the limit, ${none(within)} within it`;
      return `Of ${none(all)} ${all === 1 ? 'figure' : 'figures'} ${listed([told, ...rest], 'and')}.`;
    },
    lines: ({ unit, load, now, proven, off, isLess, isWithin, moved, slopes, offsets }) => {
      const at = `At ${load} ${unit} carries ${now}`;
      if (isWithin) return `${at}; as proven it would be ${proven}: within its limit.`;
      const what =
        moved === 'offset'
          ? `The offset went from ${offsets[0]} to ${offsets[1]} and the slope stayed: what changed is fixed, as a setpoint is.`
          : `The slope went from ${slopes[0]} to ${slopes[1]}\u00a0% and the offset stayed: what changed grows with the load, as a resistance does.`;
      return `${at}, ${off} ${isLess ? 'less' : 'more'} than as proven (${proven}). ${what}`;
    },
    about: (parts) => parts.join(' · '),
    units: (count, rating) => `${count} ${count === 'one' ? 'unit' : 'units'} of ${rating}`,
    packs: (count, capacity) => `${count} ${count === 'one' ? 'pack' : 'packs'} of ${capacity}`,
    proven: (day) => `proven from ${day}`,
    notYet: 'nothing can be said yet',
  },
  event: {
    heldFor: (length) => `Power stayed on for ${length} without the grid.`,
    holdingSince: (time) => `The site has been on its own since ${time}, and power is on.`,
    lostFor: (length, when) => `Output was lost for ${length} ${when}.`,
    leftBand: (length, excursions) =>
      `Power stayed on for ${length}, but left its band${excursions.length === 0 ? '' : ` ${times(excursions.length)}: ${listed(excursions, 'and')}`}.`,
    extreme: (what, way, value, at, isOverload) =>
      `at ${at} the ${what} ${way} to ${value}${isOverload === null ? '' : ` while ${isOverload}`}`,
    overloaded: 'the set was overloaded',
    margin: {
      timeLeft: 'Time left at that load',
      frequencyLow: 'Lowest frequency',
      frequencyHigh: 'Highest frequency',
      setPeak: 'Peak of the set',
      charge: 'Charge',
      voltageLow: 'Lowest voltage',
      voltageHigh: 'Highest voltage',
    },
    peakOf: (unit) => `Peak of ${unit}`,
    fromTo: (from, to) => `${from} to ${to}`,
    toReserve: (load, hasReserve) =>
      `down to ${hasReserve ? 'the reserve' : 'empty: no reserve is recorded'}, at ${load}`,
    noTimeLeft: 'the charge moved too little to tell',
    limit: (limit, outside) => `limit ${limit}${outside === null ? '' : `; beyond it for ${outside}`}`,
    rating: (rating, past) => `rating ${rating}${past === null ? '' : `; past it for ${past}`}`,
    ratingShare: (rating, share) => `rating ${rating}; ${share} of it`,
    reserve: (reserve, delivered) =>
      `${reserve === null ? 'no reserve recorded' : `reserve ${reserve}`}; ${delivered} delivered`,
    gridLost: (uncertainty, charge) =>
      `The grid was lost (±${uncertainty})${charge === null ? '' : `; charge ${charge}`}.`,
    gridBack: (delivered, units, charge) =>
      `The set was back on the grid. ${delivered} delivered${units.length === 0 ? '' : `: ${units.join(', ')}`}.${charge === null ? '' : ` Charge ${charge}.`}`,
    outputLost: (length) => (length === null ? 'The output is lost.' : `The output was lost for ${length}.`),
    pastRating: (unit, peak, share, length) =>
      `${unit} carried ${peak}, ${share} of its rating; past it for ${length}.`,
    occasion: { grid_loss: 'grid loss', test: 'test', unknown: 'not said yet' },
    marked: (occasion, by, day) => `${occasion}, said ${by} ${day}`,
  },
  chart: {
    proven: 'proven',
    now: 'now',
    limit: 'limit',
    reserve: 'reserve',
    rating: 'rating',
    noReadings: 'no readings',
    tooLittle: 'too little load',
    noGridFor: (length) => `no grid for ${length}`,
    gridLost: (clock) => `${clock} grid lost`,
    unitsBack: (clock) => `${clock} last unit back`,
    notJudged: 'too little load: not judged',
    began: 'began',
    threshold: 'threshold',
    total: 'total of the set',
    least: 'least',
    median: 'median',
    greatest: 'greatest',
    time: 'time',
    day: 'day',
    noGrid: 'no grid',
    nominal: 'nominal',
    shareOf: (unit) => `Share of ${unit}`,
    powerOf: (unit) => `Power of ${unit}`,
    statisticOf: (unit) => `Test on the share of ${unit}`,
    chargeOfPacks: 'Charge of the packs',
    currentOfPacks: 'Current of the packs',
    loadByUnit: 'Load by unit',
    chargeOfBank: 'Charge of the bank',
  },
};
