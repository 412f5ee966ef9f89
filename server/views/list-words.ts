/** The first lines of lists and of what can be trusted, by language: apart, because the first page needs none of them. */
const ENGLISH_LISTS = {
  trust: {
    nothingHeard: 'Nothing has been heard in 30 days',
    heard: (part: string) => `Of the readings that 30 days should hold, ${part} are here`,
    neverHeard: (who: string) => `${who} never sent any`,
    contradict: (count: string, isOne: boolean) =>
      `${count} ${isOne ? 'value contradicts itself' : 'values contradict each other'}`,
    refused: (count: string, isOne: boolean) => `${count} ${isOne ? 'line was' : 'lines were'} refused`,
    setAside: (count: string, isOne: boolean) => `${count} ${isOne ? 'reading was' : 'readings were'} set aside`,
    nothingWrong: (heard: string) => `${heard}; nothing contradicts and nothing was refused.`,
    wrong: (heard: string, faults: string) => `${heard}; ${faults}.`,
  },
  lists: {
    nothingOpen: 'Nothing is open at any site.',
    nothingUrgent: 'Nothing is open that could not wait for the next visit.',
    oneCannotWait: (site: string) => `One finding cannot wait: at ${site}.`,
    cannotWait: (count: string, site: string) => `${count} findings cannot wait. The first is at ${site}.`,
    toPlan: 'to plan',
    tally: (parts: readonly string[]) => `${parts.join(', ')}. Each rests on stored figures.`,
    noneEnded: 'No finding has ended yet.',
    ended: (count: string, isOne: boolean) => `${count} ${isOne ? 'finding has' : 'findings have'} ended.`,
    noEvents: 'No site has been without the grid yet.',
    someEvents: (shown: number, all: number) => `In the newest ${shown} of ${all} backup events`,
    allEvents: (count: string, isOne: boolean) => `In ${count} backup ${isOne ? 'event' : 'events'}`,
    neverLost: (of: string) => `${of} the output was never lost.`,
    lost: (of: string, times: string) => `${of} the output was lost ${times}.`,
  },
  cover: {
    head: 'How long it carries itself',
    now: (charge: string, usual: string, high: string) =>
      `With ${charge} in the battery it carries itself for about ${usual} at usual use, ${high} at high use.`,
    longer: (charge: string, hours: string) =>
      `With ${charge} in the battery it carries itself for more than ${hours} at usual use.`,
    untold: (because: string) => `How long it carries itself can’t be told: ${because}.`,
    notYet: 'it is not judged yet',
    chargeOld: 'the charge of the battery is older than two hours',
    usualUnknown: 'usual use is not known for every hour of the day yet',
    learnt: (energy: string) => `A point of charge gives about ${energy} at the output, by its own outages.`,
    reckoned: (energy: string) =>
      `A point of charge is reckoned to give ${energy} at the output: capacity, health and a usual loss of conversion.`,
    reserve: (percent: number) => `Reckoned down to the reserve of ${percent} %.`,
    reserveAssumed: (percent: number) => `The record names no reserve: reckoned down to ${percent} %.`,
    untested: 'No outage of its own yet to hold this against.',
    tested: (count: string, n: number, median: string, worst: string) =>
      n === 1
        ? `Held against its one outage of some length the estimate was off by ${worst}.`
        : `Held against its last ${count} outages the estimate was off by ${median} in the median, ${worst} at most.`,
    ask: 'Would an outage today be covered,',
    from: 'from',
    to: 'to',
    covered: (from: string, to: string, needs: string, there: string) =>
      `Yes. From ${from} to ${to} even high use takes ${needs}, and ${there} are there on nine days of ten.`,
    usuallyCovered: (from: string, to: string, needs: string, there: string, high: string, low: string) =>
      `Usually. From ${from} to ${to} usual use takes ${needs} of the usual ${there}; high use would take ${high}, and on one day of ten no more than ${low} are there.`,
    notCovered: (from: string, to: string, needs: string, there: string) =>
      `No. From ${from} to ${to} usual use takes ${needs}, and usually ${there} are there.`,
    windowUntold: 'That can’t be told yet.',
    supply: 'Supply',
    supplyCaption: 'Interruptions of the grid as supplied and of the output as felt',
    grid: 'Grid, as supplied',
    output: 'Output, as felt',
    columns: ['Longer than 5 min', 'Together', 'Shorter', 'There'],
    period: (from: string, to: string) => `Interruptions from ${from} to ${to}.`,
    tests: (count: string, n: number) => (n === 1 ? 'One test is left out.' : `${count} tests are left out.`),
    silent: (length: string) => `For ${length} the whole site was silent, and what happened then is not known.`,
  },
};

export type ListWords = typeof ENGLISH_LISTS;

const BY_LOCALE: Readonly<Record<string, ListWords>> = { 'en-GB': ENGLISH_LISTS };

export const listWords = ({ locale }: { readonly locale: string }): ListWords => BY_LOCALE[locale] ?? ENGLISH_LISTS;
